"""What enrolling does for a voice: each says the callouts of the basic facial twice, at two speeds, at 20 dB of noise; then the recordings of
recordings.py are heard without and with what was learned, and a third of the reading, for false alarms.

    enrol.py OUT --bin EARS --model FOLDER --library FOLDER [--split development] [--figures]
"""
import json
import os
import random
import subprocess

import numpy as np
import soundfile as sf

import hearing
from ears import CONDITIONS, Table, share
from hearing import false_in_talk, judged
from recordings import RATE, VOICES, read, rms, say, trim


SECTIONS = ("basic-facial",)


def session(voice, name, phrases, out):
    """Every phrase twice, with pauses: where each utterance is."""
    rng, parts, said, at = random.Random(name), [np.zeros(RATE, "f4")], [], RATE
    for phrase in phrases:
        places = []
        for speed in (0.9, 1.12):
            path = f"{out}/enrol/{name}__{phrase.replace(' ', '_')}__{speed}.wav"
            say(voice, phrase, path, speed)
            x = trim(read(path))
            x = x / rms(x) * 10 ** (-26 / 20)
            pause = np.zeros(int(RATE * rng.uniform(0.8, 1.2)), "f4")
            places.append([at / RATE, (at + len(x)) / RATE])
            parts += [x, pause]
            at += len(x) + len(pause)
        said.append([phrase, places])
    x = np.concatenate(parts)
    x = x + np.random.default_rng(1).standard_normal(len(x)) * 10 ** (-46 / 20)
    path = f"{out}/enrol/{name}.wav"
    sf.write(path, np.clip(x, -1, 1), RATE, subtype="PCM_16")
    return path, said


def main():
    ap = hearing.arguments()
    ap.add_argument("--split", default="test")
    ap.add_argument("--figures", action="store_true")
    a = ap.parse_args()
    os.makedirs(a.out + "/enrol", exist_ok=True)
    vocabulary = json.load(open(a.out + "/vocabulary.json"))
    jobs = [j for j in json.load(open(a.out + "/jobs.json")) if j["split"] == a.split]
    env = dict(os.environ, LD_LIBRARY_PATH=a.library)
    profiles, before, after, of = {}, 0, 0, 0
    for name, voice in VOICES[a.split].items():
        asked = []
        for section in SECTIONS:
            wav, said = session(voice, f"{a.split}_{name}_{section}", sorted(vocabulary[section]), a.out)
            asked.append(json.dumps(dict(wav=wav, phrases=sorted(vocabulary[section]), said=said)))
        done = subprocess.run([a.bin, "enrol", a.model], input="\n".join(asked), capture_output=True, text=True, env=env, check=True)
        for section, line in zip(SECTIONS, done.stdout.splitlines()):
            answer = json.loads(line)
            profiles[name, section] = answer["profile"]
            before += answer["before"]; after += answer["after"]; of += 2 * len(vocabulary[section])
    table = Table(a.figures)
    count = lambda key: sum(len(p.get(key, [])) for p in profiles.values())
    table.row("enrolling: utterances understood before, and with the profile", f"{before}, {after} of {of}; {count('word')} words, {count('callout')} lines")
    callouts = [j for j in jobs if j["kind"] == "callouts" and j["grammar"] in SECTIONS]
    talk = [dict(j, voice=v) for v in VOICES[a.split] for j in jobs if j["kind"] == "talk" and j["grammar"] == "basic-facial" and int(j["name"].split("_")[2]) % 3 == 0]
    with_profile = lambda js: [dict(j, profile=profiles[j["voice"], j["grammar"]]) for j in js]
    heard = {}
    for when, some in (("without", callouts + talk[:len(talk) // len(VOICES[a.split])]), ("with", with_profile(callouts + talk))):
        heard[when] = list(zip(some, hearing.ours(a.bin, a.model, a.library, some, vocabulary)))
    for condition in CONDITIONS:
        line = {}
        for when, all_ in heard.items():
            marks = [(j, judged(j, x["found"], vocabulary)) for j, x in all_ if j.get("condition") == condition]
            line[when] = (sum(len({m for m in ms if m is not None}) for _, ms in marks), sum(len(j["truth"]) for j, _ in marks), sum(ms.count(None) for _, ms in marks))
        table.row(f"enrolled voices, {condition}: heard without and with the profile",
                  f"{share(*line['without'][:2])}; {share(*line['with'][:2])}; {line['without'][2]}, {line['with'][2]} taken for another")
    rate = {when: (sum(false_in_talk(j, x["found"]) for j, x in all_ if j["kind"] == "talk"), sum(x["seconds"] for j, x in all_ if j["kind"] == "talk") / 3600)
            for when, all_ in heard.items()}
    table.row("enrolled voices: false alarms an hour of others' reading, without and with", ", ".join(f"{n / h:.1f}" for n, h in rate.values()))


if __name__ == "__main__":
    main()
