#!/usr/bin/env python3
"""Speech by synthetic voices to train on, beside the recordings of people: callouts, commands, and sentences of the training text.

    synthetic.py OUT.npz --lexicon lexicon.txt --sections 'prompts/*/*.toml' --texts 'packs/*.npz' [--hours 4] [--seed 1]

Writes one pack as train.py reads them (Ogg/Opus at 16 kHz, lengths, text, pronunciations). The voices are espeak-ng's: accents crossed with
voice variants. None that tests/bench/ears listens to is among them: no plain voice, no Received Pronunciation or en-gb accent, no variant f2
or f3 in any accent. Needs espeak-ng, ffmpeg, numpy.
"""
import argparse
import collections
import concurrent.futures
import glob
import io
import json
import random
import re
import subprocess
import tomllib
import wave

import numpy as np

RATE = 16000
ACCENTS = ("en-us", "en-us-nyc", "en-gb-scotland", "en-gb-x-gbclan", "en-gb-x-gbcwmd", "en-029")
# Those that sound like people; robots, whispers and effects are left out.
VARIANTS = ("Alex Alicia Andrea Andy Annie Denis Diogo Gene Hugo Jacky Lee Marco Mario Michael Mike adam anika antonio aunty belinda benjamin boris caleb david ed "
            "edward grandma grandpa gustave iven john klatt2 klatt3 linda m1 m2 m3 m4 m5 m6 m7 m8 f1 f4 f5 max michel miguel norbert pablo paul pedro quincy rob "
            "robert shelby steph travis victor zac").split()
COMMANDS = "undo|wrong call|pause|resume|time left|repeat that|dropped item|stop everything|what did i miss|slower|start again|stop|repeat".split("|")
KINDS = ((0.05, "carried"), (0.62, "callout"), (0.72, "single"), (0.80, "trade"), (1, "long"))
CARRIERS = ("okay {}", "now the {}", "okay now {}", "now {}")


def callouts(pattern):
    """All phrases of the section files' `say`; what a phrase leaves open ({item}) is said as its name."""
    def walk(x):
        if isinstance(x, dict):
            for key, v in x.items():
                if key == "say":
                    yield from [v] if isinstance(v, str) else v
                else:
                    yield from walk(v)
        elif isinstance(x, list):
            for v in x:
                yield from walk(v)
    found = set()
    for f in glob.glob(pattern):
        with open(f, "rb") as section:
            found.update(re.sub(r"[{}]", "", p).lower() for p in walk(tomllib.load(section)))
    return sorted(found)


def sentences(pattern):
    """What the people in the packs say, and the single words among it."""
    texts = set()
    for f in sorted(glob.glob(pattern)):
        for part in json.loads(str(np.load(f)["meta"])):
            texts.update(m["text"].lower() for m in part["meta"] if m["kind"] == "train" and m["text"])
    return sorted(t for t in texts if 4 <= len(t.split()) <= 14), sorted(t for t in texts if len(t.split()) == 1)


def pronunciations(files):
    """Of each word in the lexicons, at most four."""
    lexicon = collections.defaultdict(list)
    for f in files:
        for line in open(f, encoding="utf8"):
            word, *phones = line.split()
            if phones and len(lexicon[word]) < 4 and " ".join(phones) not in lexicon[word]:
                lexicon[word].append(" ".join(phones))
    return lexicon


def drawn(rng, kinds, said, single, trade, long, common=(), command=()):
    """One text: kinds are pairs of a bound, the last one 1, and what a draw below it is."""
    draw = rng.random()
    kind = next(kind for bound, kind in kinds if draw < bound)
    if kind == "trade":
        return " ".join(rng.choice(trade) for _ in range(rng.randint(1, 3)))
    if kind == "swapped":
        # A callout with another word in it, so that each word must be heard, and not guessed from its neighbours.
        words = rng.choice(said).split()
        words[rng.randrange(len(words))] = rng.choice(trade if rng.random() < 0.5 else common)
        return " ".join(words)
    text = rng.choice(dict(carried=said, callout=said, single=single, common=common, command=command, long=long)[kind])
    return rng.choice(CARRIERS).format(text) if kind == "carried" else text


def resampled(x, rate, half):
    """Samples at rate as such at 16 kHz. Linear steps would fold what lies above 8 kHz down: a low-pass of half samples to each side first."""
    x = np.convolve(x, np.sinc(np.arange(-half, half + 1) * RATE / rate) * np.hamming(2 * half + 1) * RATE / rate, "same")
    return np.interp(np.arange(int(len(x) * RATE / rate)) * rate / RATE, np.arange(len(x)), x)


def packed(path, parts):
    """Write a pack: each part is its utterances' (speaker, text, pronunciations, samples), and their sound one after the other as Ogg/Opus."""
    meta = [dict(lens=[len(x) for *_, x in some], meta=[dict(kind="train", spk=spk, src="synthetic", text=text, prons=prons) for spk, text, prons, _ in some])
            for some, _ in parts]
    blobs = [blob for _, blob in parts]
    np.savez(path, blob=np.frombuffer(b"".join(blobs), np.uint8), off=np.cumsum([0] + [len(b) for b in blobs]), meta=np.array(json.dumps(meta)))


def say(job):
    voice, speed, pitch, text = job
    made = subprocess.run(["espeak-ng", "-v", voice, "-s", str(speed), "-p", str(pitch), "--stdout", text], capture_output=True, check=True).stdout
    with wave.open(io.BytesIO(made)) as w:
        rate, x = w.getframerate(), np.frombuffer(made[44:], "<i2")
    x = resampled(x[:len(x) // 2 * 2].astype("f4"), rate, 16)
    return np.clip(x, -32768, 32767).astype("<i2")


def main():
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("out")
    ap.add_argument("--lexicon", nargs="+", required=True)
    ap.add_argument("--sections", required=True)
    ap.add_argument("--texts", required=True)
    ap.add_argument("--hours", type=float, default=4)
    ap.add_argument("--seed", type=int, default=1)
    a = ap.parse_args()
    rng = random.Random(a.seed)
    lexicon = pronunciations(a.lexicon)
    said, (long, single) = callouts(a.sections) + COMMANDS, sentences(a.texts)
    trade = sorted({w for p in said for w in p.split()})

    jobs, left = [], a.hours * 3600
    while left > 0:
        text = drawn(rng, KINDS, said, single, trade, long)
        if all(lexicon[w] for w in text.split()):
            jobs.append((f"{rng.choice(ACCENTS)}+{rng.choice(VARIANTS)}", rng.randint(115, 190), rng.randint(25, 75), text))
            left -= 0.45 + 0.33 * len(text.split())
    with concurrent.futures.ThreadPoolExecutor(2) as pool:
        sounds = list(pool.map(say, jobs))
    made = [("synthetic/" + voice, text, [lexicon[w] for w in text.split()], x) for (voice, _, _, text), x in zip(jobs, sounds)]
    parts = []
    for k in range(0, len(made), 200):
        raw = np.concatenate(sounds[k:k + 200])
        parts.append((made[k:k + 200], subprocess.run(["ffmpeg", "-v", "error", "-f", "s16le", "-ar", str(RATE), "-ac", "1", "-i", "-", "-c:a", "libopus", "-b:a", "20k", "-f", "ogg", "-"],
                                                      input=raw.tobytes(), capture_output=True, check=True).stdout))
    packed(a.out, parts)
    print(f"{len(jobs)} utterances, {sum(map(len, sounds)) / RATE / 3600:.2f} hours, {len({j[0] for j in jobs})} voices")


if __name__ == "__main__":
    main()
