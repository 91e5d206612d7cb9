#!/usr/bin/env python3
"""Make models/english/lexicon.txt from CMUdict and our trade words, or the unigram list from the lexicon.

    lexicon.py lexicon CMUDICT     CMUdict (cmudict-en-us.dict of the PyPI package pocketsphinx, BSD licence) + trade_lexicon.txt
                                   -> english/lexicon.txt, lower case, without stress marks
    lexicon.py unigrams OUT        english/lexicon.txt + english/word_counts.txt -> OUT, one "word count" a line
"""
import os
import re
import sys

ENGLISH = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "english")


def read(name):
    with open(os.path.join(ENGLISH, name), encoding="utf8") as f:
        return f.read().splitlines()


def lexicon(cmudict):
    phones = set(" ".join(read("phones.txt")).split())
    entries = {}
    with open(cmudict, encoding="utf8", errors="replace") as f:
        lines = f.read().splitlines()
    for line in lines + read("trade_lexicon.txt"):
        parts = line.split()
        if len(parts) < 2 or line.startswith("#"):
            continue
        word = re.sub(r"\(\d+\)$", "", parts[0]).lower()
        known = entries.setdefault(word, [])
        if re.fullmatch(r"[a-z][a-z']*", word) and set(parts[1:]) <= phones and parts[1:] not in known:
            known.append(parts[1:])
    with open(os.path.join(ENGLISH, "lexicon.txt"), "w", encoding="utf8") as f:
        f.writelines(f"{w} {' '.join(p)}\n" for w in sorted(entries) for p in entries[w])


def unigrams(out):
    counts = dict((w, int(n)) for w, n in (line.split() for line in read("word_counts.txt")))
    words = sorted({line.split()[0] for line in read("lexicon.txt")})
    # A word never seen in the training text keeps a twentieth of a count, so that no word is impossible.
    with open(out, "w", encoding="utf8") as f:
        f.writelines(f"{w} {counts.get(w, 0) + 0.05:.2f}\n" for w in words)


if __name__ == "__main__":
    {"lexicon": lexicon, "unigrams": unigrams}[sys.argv[1]](sys.argv[2])
