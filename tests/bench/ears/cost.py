"""What our ears cost beside a bare recogniser: processor time for the same sound in the same process, second after second, of each
second the less of two turns.

    cost.py OUT --bin EARS --model FOLDER --library FOLDER [--figures]

Heard are tests/audio/demo.wav, a rehearsal ten times compressed, and the same with 25 s more of its own noise in each pause (OUT/run.wav), which is
nearer to a real run: DESIGN.md's figure is for that one.
"""
import json
import os
import subprocess
import sys

import numpy as np
import soundfile as sf

import hearing
from ears import Table
from hearing import ROOT
from recordings import RATE, read

# Samples of one level; levels of a pause between callouts; seconds more of it.
BLOCK, PAUSE, MORE = 320, 50, 25


def stretched(x):
    """The sound with longer pauses, filled with noise as loud as the pauses are."""
    level = np.sqrt((x[:len(x) // BLOCK * BLOCK].reshape(-1, BLOCK) ** 2).mean(1))
    quiet = level < level.max() / 30
    edges = np.flatnonzero(np.diff(np.concatenate([[0], quiet.astype(int), [0]])))
    floor, rng, parts, last = np.median(level[quiet]), np.random.default_rng(1), [], 0
    for begin, end in edges.reshape(-1, 2):
        if end - begin >= PAUSE:
            middle = (begin + end) // 2 * BLOCK
            parts += [x[last:middle], rng.normal(0, floor, MORE * RATE).astype("f4")]
            last = middle
    return np.concatenate([*parts, x[last:]])


def main():
    ap = hearing.arguments()
    ap.add_argument("--figures", action="store_true")
    a = ap.parse_args()
    os.makedirs(a.out, exist_ok=True)
    demo, run = os.path.join(ROOT, "tests", "audio", "demo.wav"), a.out + "/run.wav"
    sf.write(run, stretched(read(demo)), RATE, subtype="PCM_16")
    env = dict(os.environ, LD_LIBRARY_PATH=a.library)
    section = hearing.SECTION_FILES["basic-facial"]
    jobs = "".join(json.dumps(dict(wav=wav, section=section)) + "\n" for wav in (demo, run))
    answers = subprocess.run([a.bin, "cost", a.model], input=jobs, stdout=subprocess.PIPE, text=True, check=True, env=env).stdout
    table = Table(a.figures)
    for name, target, answer in zip(("a rehearsal ten times compressed", "a run"), (None, 1.05), map(json.loads, answers.splitlines())):
        value = f"{answer['ratio']:.2f} ({answer['ours']:.1f} s over {answer['bare']:.1f} s for {answer['seconds']:.0f} s, {answer['heard']} callouts)"
        table.row(f"processor time of our ears over bare libvosk's, {name}", value, target and f"<= {target}", target and answer["ratio"] <= target)
    sys.exit(0 if table.met else 1)


if __name__ == "__main__":
    main()
