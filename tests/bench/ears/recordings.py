"""Make the recordings that the ears are measured on, from the held-out clips in tests/data/ears (or their whole set) and from synthetic
voices. Development and test share no speaker, no synthetic voice and no noise clip.

    recordings.py OUT --bin EARS --held DIR [--packs DIR] [--neural DIR] [--quick] [--split development]

OUT/jobs.json lists them. Voices: flite, espeak-ng and festival, of Debian; with --neural, two neural ones for each set, which no training clip
is spoken by (models/recipe/neural.py; models/recipe/neural.sh gets the folder). The flite voice slt is in the training list (CMU ARCTIC), so it is
a development voice. Of espeak-ng's accents and variants others are in it (models/recipe/synthetic.py), none of these.
"""
import argparse
import concurrent.futures
import io
import json
import os
import random
import subprocess
import sys
import threading

import numpy as np
import soundfile as sf
from scipy.signal import butter, sosfilt

import hearing

sys.path.insert(0, os.path.join(hearing.ROOT, "models", "recipe"))
import neural  # noqa: E402: found by the line above

RATE = 16000
FLITE, ESPEAK, FESTIVAL, NEURAL = "flite", "espeak-ng", "festival", "neural"
VOICES = {
    "development": {"slt": (FLITE, "slt"), "kal": (FESTIVAL, "voice_kal_diphone"),
                    "ked": (FESTIVAL, "voice_ked_diphone"), "us": (ESPEAK, "en-us", "150")},
    "test": {"rms": (FLITE, "rms"), "awb": (FLITE, "awb"), "gb": (ESPEAK, "en-gb", "150"), "us-f2": (ESPEAK, "en-us+f2", "140"),
             "rp-f3": (ESPEAK, "en-gb-x-rp+f3", "160")},
}
CONDITIONS = ("clean", "20 dB", "10 dB", "5 dB", "mask")
# Seconds between sentences read aloud: so much or so little (from memory; a callout, too, is followed by a pause, so one length for all would tell).
PAUSE = (0.3, 1.3)
# The same between callouts where somebody says one right after the other.
QUICK = (0.25, 0.7)
# Seconds of reading to tune on: false alarms are rare, and an hour of it holds too few.
READING = 9000
# Tuned on, and measured with --quick.
SECTIONS = ("basic-facial", "brow-wax", "water-manicure")


# The neural voices, where they are there: one model for all of them, asked by one thread at a time.
SPEAKERS, SPEAKING = [], threading.Lock()


def read(path):
    return sf.read(path, dtype="float32")[0]


def rms(x):
    return float(np.sqrt((x ** 2).mean() + 1e-12))


def say(voice, text, path, speed=1.0):
    """One phrase by one synthetic voice, speed times as fast, 16 kHz."""
    if os.path.exists(path):
        return
    raw = path + ".raw.wav"
    # A voice may have a stretch of its own, which stays where none is asked for.
    stretch = lambda *words: words if speed != 1 else ()
    if voice[0] == FLITE:
        subprocess.run([FLITE, "-voice", voice[1], *stretch("--setf", f"duration_stretch={1 / speed}"), "-t", text, "-o", raw], check=True)
    elif voice[0] == NEURAL:
        with SPEAKING:
            x = SPEAKERS[0].say([(voice[1], 1.0)], speed, neural.sounds([text], neural.accent(voice[1]))[0])
        sf.write(raw, x, RATE, subtype="PCM_16")
    elif voice[0] == ESPEAK:
        subprocess.run([ESPEAK, "-v", voice[1], "-s", str(round(float(voice[2]) * speed)), "-w", raw, text], check=True)
    else:
        subprocess.run(["text2wave", "-eval", f"({voice[1]})", *stretch("-eval", f"(Parameter.set 'Duration_Stretch {1 / speed})"), "-o", raw], input=text.encode(), check=True)
    x, rate = sf.read(raw, dtype="float32")
    if rate != RATE:
        import scipy.signal
        x = scipy.signal.resample_poly(x, RATE, rate)
    os.remove(raw)
    sf.write(path, np.clip(x, -1, 1), RATE, subtype="PCM_16")


def trim(x):
    energy = np.sqrt(np.convolve(x ** 2, np.ones(320) / 320, "same"))
    loud = np.nonzero(energy > 0.02 * energy.max())[0]
    return x[max(0, loud[0] - 160):loud[-1] + 160]


class Maker:
    def __init__(self, out):
        self.out, self.jobs = out, []
        os.makedirs(out + "/recordings", exist_ok=True)
        os.makedirs(out + "/phrases", exist_ok=True)

    def write(self, name, x, **about):
        path = f"{self.out}/recordings/{name}.wav".replace(" ", "")
        sf.write(path, np.clip(x, -1, 1), RATE, subtype="PCM_16")
        self.jobs.append(dict(wav=path, name=name, **about))

    def session(self, name, clips, rng, noises, gap, condition, **about):
        """Clips one after the other with pauses: what a person calls out; the truth is (phrase, from, until)."""
        level = 10 ** (-rng.uniform(20, 32) / 20)
        parts, truth, at = [np.zeros(int(RATE * 0.8), "f4")], [], int(RATE * 0.8)
        for phrase, x in clips:
            x = x / rms(x) * level
            pause = np.zeros(int(RATE * rng.uniform(*gap)), "f4")
            truth.append([phrase, at / RATE, (at + len(x)) / RATE])
            parts += [x, pause]
            at += len(x) + len(pause)
        x = np.concatenate(parts).astype("f4")
        if condition == "mask":
            # A face mask: about 9 dB down from 4 kHz on (common practice in acoustics; the curve is ours).
            x = 0.35 * x + 0.65 * sosfilt(butter(1, 2500, fs=RATE, output="sos"), x)
        ratio = {"clean": None, "20 dB": 20, "10 dB": 10, "5 dB": 5, "mask": 20}[condition]
        if ratio is not None:
            noise, total = [], 0
            while total < len(x):
                clip = noises[rng.randrange(len(noises))]
                noise.append(clip / rms(clip))
                total += len(clip)
            x = x + np.concatenate(noise)[:len(x)] * level / 10 ** (ratio / 20)
        x = x + np.random.default_rng(rng.randrange(1 << 30)).standard_normal(len(x)) * 1e-4
        self.write(name, x, truth=truth, condition=condition, **about)

    def talk(self, split, clips, grammars):
        """Reading, a minute a file, with pauses between sentences; each is heard with several grammars."""
        minute, number, rng = [], 0, random.Random(f"{split} talk")
        for k, (text, x) in enumerate(clips):
            minute.append((text, x))
            if sum(len(x) for _, x in minute) > 60 * RATE or k + 1 == len(clips):
                x = np.concatenate([np.concatenate([x / rms(x) * 10 ** (-26 / 20), np.zeros(int(RATE * rng.uniform(*PAUSE)), "f4")]) for _, x in minute])
                x = x + np.random.default_rng(number).standard_normal(len(x)) * 1e-4
                text = " ".join(t for t, _ in minute).lower()
                path = f"{self.out}/recordings/{split}_talk_{number:03}.wav"
                sf.write(path, np.clip(x, -1, 1), RATE, subtype="PCM_16")
                for grammar in grammars:
                    self.jobs.append(dict(wav=path, name=f"{split}_talk_{number:03}_{grammar}", kind="talk", split=split, grammar=grammar, text=text))
                minute, number = [], number + 1

    def noise(self, split, clips, grammars):
        """Noise with nothing said, two minutes a file, half a second between clips; each is heard with several grammars."""
        parts, number, rng = [], 0, np.random.default_rng(4)
        for k, x in enumerate(clips):
            parts += [x / rms(x) * 10 ** (-30 / 20), np.zeros(RATE // 2, "f4")]
            if sum(map(len, parts)) > 120 * RATE or k + 1 == len(clips):
                x = np.concatenate(parts)
                path = f"{self.out}/recordings/{split}_noise_{number:03}.wav"
                sf.write(path, np.clip(x + rng.standard_normal(len(x)) * 10 ** (-65 / 20), -1, 1), RATE, subtype="PCM_16")
                self.jobs += [dict(wav=path, name=f"{split}_noise_{number:03}_{g}", kind="noise", split=split, grammar=g, text="") for g in grammars]
                parts, number = [], number + 1

    def others(self):
        """What is said alone, and is no callout: the words of some recordings heard with the grammar of something else."""
        grammars = {"words": ("basic-facial", "water-manicure"), "water-manicure": ("basic-facial",), "brow-wax": ("water-manicure",)}
        said = lambda j: " ".join(phrase for phrase, _, _ in j["truth"])
        self.jobs += [dict(j, kind="others", name=f"{j['name']}_{grammar}", grammar=grammar, absent=[], text=said(j)) for j in self.jobs
                      if j["kind"] in ("words", "callouts") and (j["kind"] == "words" or j["condition"] in ("clean", "10 dB"))
                      for grammar in grammars.get(j["grammar"], ())]


def held_clips(folder):
    with open(folder + "/clips.tsv", encoding="utf8") as f:
        head, *lines = f.read().splitlines()
    rows = [dict(zip(head.split("\t"), line.split("\t"))) for line in lines]
    return [dict(r, sound=read(f"{folder}/{r['file']}")) for r in rows]


def second_language(clips, tuned):
    """Whole utterances of 2 to 7 words by the people whose first language is not English, by person: half of the people are tuned on, first of all
    those whose reading is."""
    spoken = [c for c in clips if c["source"] == "speechocean762" and 2 <= len(c["transcript"].split()) <= 7]
    people = sorted({c["speaker"] for c in spoken}, key=lambda who: (not any(tuned(c) for c in spoken if c["speaker"] == who), who))
    said = lambda who: [(c["transcript"].lower(), trim(c["sound"])) for c in spoken if c["speaker"] == who]
    half = (len(people) + 1) // 2
    return {"development": {who: said(who) for who in people[:half]}, "test": {who: said(who) for who in people[half:]}}


def cut_from_reading(folder, clips, tuned):
    """Phrases of 2 to 5 words cut out of what native readers read, by set and reader. The places are libvosk's, with the clip's own words as its
    grammar: where one of them is wrong, the phrase holds a sound too much or too few."""
    reading, n = {c["file"]: c for c in clips}, RATE // 100
    out = {"development": {}, "test": {}}
    with open(folder + "/cuts.tsv", encoding="utf8") as f:
        for line in f.read().splitlines()[1:]:
            file, start, end, phrase = line.split("\t")
            c = reading[file]
            x = c["sound"][max(0, int((float(start) - 0.02) * RATE)):int((float(end) + 0.02) * RATE)].copy()
            x[:n] *= np.linspace(0, 1, n)
            x[-n:] *= np.linspace(1, 0, n)
            out["development" if tuned(c) else "test"].setdefault(c["speaker"], []).append((phrase, x))
    return out


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("out")
    ap.add_argument("--bin", required=True, help="the bench's program `ears`")
    ap.add_argument("--held", required=True, help="folder of held-out clips with clips.tsv")
    ap.add_argument("--packs", help="folder of training packs, for the development set of real speech")
    ap.add_argument("--neural", help="folder of neural.sh; without it the neural voices are left out")
    ap.add_argument("--quick", action="store_true", help="three sections and the test set only")
    ap.add_argument("--split", choices=("development", "test"), help="only this set")
    a = ap.parse_args()
    if a.split == "development" and not a.packs:
        ap.error("the development set needs --packs FOLDER, for its reading")
    if a.neural:
        SPEAKERS.append(neural.Voices(a.neural + "/model.onnx", a.neural + "/voices"))
        for split, names in neural.HELD.items():
            VOICES[split].update({name: (NEURAL, name) for name in names})
    maker = Maker(a.out)
    vocabulary = {}
    for section, f in sorted(hearing.SECTION_FILES.items()):
        out = subprocess.run([a.bin, "vocabulary", f], capture_output=True, text=True, check=True)
        vocabulary[section] = json.loads(out.stdout)
    clips = held_clips(a.held)
    words = sorted({c["transcript"].lower() for c in clips if c["kind"] == "word"})
    vocabulary["words"] = {w: [w] for w in words}
    # Every other person's single words are tuned on, and every third person's reading among those of many accents.
    place = {kind: {who: k for k, who in enumerate(sorted({c["speaker"] for c in clips if c["kind"] == kind}))} for kind in ("word", "heldout")}
    tuned = lambda c: c["kind"] == "command" or place.get(c["kind"], {}).get(c["speaker"], 0) % (2 if c["kind"] == "word" else 3) == 1
    orders = second_language(clips, tuned)
    for split, people in orders.items():
        vocabulary[f"second-{split}"] = {p: [p] for p in sorted({p for said in people.values() for p, _ in said})}
    cuts = cut_from_reading(a.held, clips, tuned)
    for split, people in cuts.items():
        vocabulary[f"cut-{split}"] = {p: [p] for said in people.values() for p, _ in said}
    json.dump(vocabulary, open(a.out + "/vocabulary.json", "w"))
    noises = [c["sound"] for c in clips if c["kind"] == "noise" and rms(c["sound"]) > 1e-3]
    noise = {"development": noises[0::2], "test": noises[1::2]}
    splits = [a.split] if a.split else ["test"] if a.quick or not a.packs else ["development", "test"]

    for split in splits:
        sections = [s for s in sorted(vocabulary) if not s.startswith(("words", "second-", "cut-")) and (s in SECTIONS or split == "test" and not a.quick)]
        wanted = sorted({p for s in sections for p in vocabulary[s]})
        path = lambda voice, phrase: f"{a.out}/phrases/{voice}__{phrase.replace(' ', '_')}.wav"
        with concurrent.futures.ThreadPoolExecutor(hearing.PROCESSES) as pool:
            list(pool.map(lambda vp: say(VOICES[split][vp[0]], vp[1], path(*vp)), [(v, p) for v in VOICES[split] for p in wanted]))
        for section in sections:
            for voice in VOICES[split]:
                said = {p: trim(read(path(voice, p))) for p in vocabulary[section]}
                kinds = [("callouts", split, (1.2, 2.0), c) for c in CONDITIONS] + [("quick", "quick", QUICK, c) for c in ("clean", "10 dB")]
                for kind, seed, gap, condition in kinds:
                    rng = random.Random(f"{seed} {section} {voice} {condition}")
                    phrases = sorted(said)
                    rng.shuffle(phrases)
                    # A fifth is left out: the second listen must not find it.
                    absent = phrases[:len(phrases) // 5]
                    maker.session(f"{split}_{kind}_{section}_{voice}_{condition}", [(p, said[p]) for p in phrases[len(absent):]], rng, noise[split],
                                  gap, condition, kind=kind, split=split, grammar=section, voice=voice, absent=absent)
    said = lambda part: [(c["transcript"].lower(), c["sound"]) for c in clips if c["kind"] == "word" and tuned(c) == part]
    talk = lambda part: [(c["transcript"], c["sound"]) for c in clips if c["kind"] in ("talk", "heldout", "command") and tuned(c) == part]
    real = {}
    if "test" in splits:
        real["test"] = (said(False), talk(False))
    if "development" in splits:
        real["development"] = (said(True), talk(True) + development(a.packs, {c["speaker"] for c in clips}))
    for split, (said, talk) in real.items():
        for who, utterances in sorted(orders[split].items()):
            for condition in ("clean", "20 dB", "10 dB"):
                maker.session(f"{split}_second_{who}_{condition}", utterances, random.Random(f"{who} {condition}"), noise[split], (1.2, 2.0), condition,
                              kind="second", split=split, grammar=f"second-{split}", voice=who, absent=[])
        for who, phrases in sorted(cuts[split].items()):
            for condition in ("clean", "20 dB", "10 dB"):
                maker.session(f"{split}_cut_{who}_{condition}", phrases, random.Random(f"{who} {condition}"), noise[split], (1.2, 2.0), condition,
                              kind="cut", split=split, grammar=f"cut-{split}", voice=who, absent=[])
        rng = random.Random(7)
        rng.shuffle(said)
        for condition in ("clean",) if split == "test" else ("clean", "20 dB", "10 dB"):
            for k in range(0, len(said), 20):
                maker.session(f"{split}_words_{k:04}_{condition}", said[k:k + 20], random.Random(k), noise[split], (0.5, 1.0), condition, kind="words",
                              split=split, grammar="words", voice="people")
        maker.talk(split, talk, ("basic-facial", "water-manicure", "words"))
        if split == "development":
            maker.others()
        maker.noise(split, noise[split] + (kept_noise(a.packs) if split == "development" else []), (*SECTIONS, "words"))
    json.dump(maker.jobs, open(a.out + "/jobs.json", "w"))
    hours = sum(os.path.getsize(p) for p in {j["wav"] for j in maker.jobs}) / 2 / RATE / 3600
    print(f"{len(maker.jobs)} jobs, {hours:.1f} hours of recordings")


def kept_noise(packs):
    """The noise of the packs that was never given to the network as silence: every second clip."""
    out = []
    for f in sorted(os.listdir(packs)):
        z = np.load(os.path.join(packs, f))
        for k, part in enumerate(json.loads(str(z["meta"]))):
            if part["meta"][0]["kind"] == "noise":
                x = read(io.BytesIO(z["blob"][z["off"][k]:z["off"][k + 1]].tobytes()))
                out += [y for y in np.split(x, np.cumsum(part["lens"])[:-1])[1::2] if rms(y) > 3e-4]
    return out


def development(packs, held):
    """Reading to tune on: utterances kept out of training by people who are not in the test set, and some of the training's, READING in all."""
    talk, more = [], []
    for f in sorted(os.listdir(packs)):
        z = np.load(os.path.join(packs, f))
        off = z["off"]
        for k, part in enumerate(json.loads(str(z["meta"]))):
            if not any(m["kind"] == "test" for m in part["meta"]) and k % 6:
                continue
            x, at = read(io.BytesIO(z["blob"][off[k]:off[k + 1]].tobytes())), 0
            for n, m in zip(part["lens"], part["meta"]):
                y, at = x[at:at + n], at + n
                if m["kind"] == "test" and m["spk"].split("/")[-1] not in held:
                    talk.append((m["text"], y))
                elif m["kind"] == "train" and len(m["text"].split()) > 3 and m["spk"].split("/")[-1] not in held:
                    more.append((m["text"], y))
    random.Random(7).shuffle(more)
    seconds = sum(len(x) for _, x in talk) / RATE
    for text, x in more:
        if seconds < READING:
            talk.append((text, x))
            seconds += len(x) / RATE
    return talk


if __name__ == "__main__":
    main()
