"""How many words of the spoken recap a general recogniser hears: PyPI pocketsphinx with its own English model and language model.

    heard_back.py SPOKEN.wav REPLAY    REPLAY is what `stepbell replay` printed of the run

Prints heard/said, the words that a longest common subsequence holds; digits are compared as words.
"""
import re
import sys

import numpy as np
import pocketsphinx
import soundfile as sf
from scipy.signal import resample_poly

ONES = "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split()
TENS = "- - twenty thirty forty fifty sixty seventy eighty ninety".split()


def number(n):
    return ONES[n] if n < 20 else (TENS[n // 10] + (" " + ONES[n % 10] if n % 10 else ""))


def words(text):
    text = re.sub(r"\d+", lambda m: number(int(m.group())) if int(m.group()) < 100 else m.group(), text.lower())
    # As pocketsphinx's dictionary spells.
    return [w.replace("sanitise", "sanitize").replace("analyse", "analyze").replace("colour", "color") for w in re.findall(r"[a-z']+", text)]


def main():
    spoken, replay = sys.argv[1:]
    lines = [re.match(r" *([\d.]+)  \u201c(.*)\u201d$", line) for line in open(replay, encoding="utf8")]
    # The recap is the last announcement but the question behind it, where there is one.
    at, text = [(float(m[1]), m[2]) for m in lines if m and not m[2].startswith("Any questions")][-1]
    x, rate = sf.read(spoken, dtype="float32")
    x = resample_poly(x[int(at * rate):], 160, rate // 100)
    decoder = pocketsphinx.Decoder(loglevel="FATAL")
    decoder.start_utt()
    decoder.process_raw((np.clip(x, -1, 1) * 32767).astype("int16").tobytes(), full_utt=True)
    decoder.end_utt()
    said, heard = words(text), words(decoder.hyp().hypstr if decoder.hyp() else "")
    row = [0] * (len(heard) + 1)
    for s in said:
        left = 0
        for k, h in enumerate(heard):
            left, row[k + 1] = row[k + 1], left + 1 if s == h else max(row[k + 1], row[k])
    print(f"{row[-1]}/{len(said)} words")
    print("said:", " ".join(said), "\nheard:", " ".join(heard), file=sys.stderr)


if __name__ == "__main__":
    main()
