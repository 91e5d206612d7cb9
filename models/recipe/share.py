#!/usr/bin/env python3
"""How much of all that could be said is what was said, in utterances kept out of training: what the last rounds of training were for.

    share.py --packs 'packs/*.npz' --phones english/phones.txt NET.npz [...]
    share.py --check

Prints for each network the natural log of that share, a phone, with its scores taken by several factors: nearer 0 is better. All sequences of phones
are weighed by a bigram of what the training utterances say, a twentieth of it flat; a silence may stand at both ends and between words, and each
word may be said in any way of its list. --check compares the sums with every path listed, on three phones and a few frames. Packs are train.py's.
train.py sums the same with torch, on a GPU, for one way of saying each word; this hears every way, and needs none.
Needs numpy, soundfile and kaldi-native-fbank, and a minute a network.
"""
import argparse
import concurrent.futures
import functools
import glob
import io
import itertools
import json
import sys

import numpy as np

from make_vosk_model import forward, load_net, lower

RATE, LONGEST, FLAT, FACTORS = 16000, 12, 0.05, (0.4, 0.5, 0.6, 0.7)
NEVER = -1e30


def utterances(pattern):
    """Those kept out, as sounds and lists of ways to say each word; and those trained on, as such lists."""
    out, trained = [], []
    for name in sorted(glob.glob(pattern)):
        pack = np.load(name)
        for k, part in enumerate(json.loads(str(pack["meta"]))):
            trained += [m["prons"] for m in part["meta"] if m["kind"] == "train"]
            if any(m["kind"] == "test" for m in part["meta"]):
                import soundfile
                x, at = soundfile.read(io.BytesIO(pack["blob"][pack["off"][k]:pack["off"][k + 1]].tobytes()), dtype="int16")[0], 0
                for n, m in zip(part["lens"], part["meta"]):
                    if m["kind"] == "test" and n < LONGEST * RATE:
                        out.append((x[at:at + n], m["prons"]))
                    at += n
    return out, trained


def chances(said, phones):
    """Of one phone after another, and at the beginning; a silence behind three words in ten."""
    rng, number, silence = np.random.default_rng(1), {p: k for k, p in enumerate(phones)}, 0
    pairs = np.full((len(phones), len(phones)), 1e-3)
    for words in said:
        line = [silence]
        for ways in words:
            line += [number[p] for p in (ways[0] if ways else "SPN").split()] + [silence] * (rng.random() < 0.3)
        line.append(silence)
        for a, b in zip(line, line[1:]):
            pairs[a, b] += (a, b) != (silence, silence)
    move = (1 - FLAT) * pairs / pairs.sum(1, keepdims=True) + FLAT / len(phones)
    begin = move[silence].copy()
    begin[silence] = 0.5
    return move, begin / begin.sum()


def everything(x, move, begin):
    """ln of the sum over all sequences of phones; x is frames by twice the phones: enter and stay."""
    total, values = 0.0, None
    for row in x:
        top = row.max()
        e = np.exp(row - top) + 1e-25
        values = begin * e[0::2] if values is None else values * e[1::2] + (values @ move) * e[0::2]
        total += np.log(values.sum()) + top
        values = values / values.sum()
    return total


def summed(values, axis=0):
    """ln of the sum of what these are the logarithms of."""
    top = values.max(axis=axis, keepdims=True)
    return np.squeeze(top + np.log(np.exp(values - top).sum(axis=axis, keepdims=True)), axis)


def places(words, silence=0):
    """The phone of each place of an utterance, the places in front of each (-1: it may begin there), and those that can end it. words: lists of ways,
    each a list of phones."""
    phone, before, ends = [], [], [-1]

    def quiet():
        nonlocal ends
        phone.append(silence)
        before.append(ends)
        ends = [*ends, len(phone) - 1]

    quiet()
    for ways in words:
        last = []
        for way in ways:
            for k, p in enumerate(way):
                before.append(ends if k == 0 else [len(phone) - 1])
                phone.append(p)
            last.append(len(phone) - 1)
        ends = last
        quiet()
    return phone, before, ends


def said(x, words, move, begin):
    """ln of the sum over the paths through these words."""
    phone, before, ends = places(words)
    first, steps = np.full(len(phone), NEVER), np.full((len(phone), len(phone)), NEVER)
    for k, those in enumerate(before):
        for b in those:
            if b < 0:
                first[k] = np.log(begin[phone[k]])
            else:
                steps[b, k] = np.log(move[phone[b], phone[k]])
    at = np.array(phone)
    enter, stay = x[:, 2 * at], x[:, 2 * at + 1]
    values = first + enter[0]
    for t in range(1, len(x)):
        values = np.logaddexp(values + stay[t], summed(values[:, None] + steps) + enter[t])
    return float(summed(values[[e for e in ends if e >= 0]]))


@functools.lru_cache(1)
def loaded(net):
    """A network's steps, as forward runs them."""
    return lower(*load_net(net))


def shares(job):
    """How many phones an utterance has, and ln of its share by each factor."""
    net, (x, prons), phones, move, begin = job
    import kaldi_native_fbank as knf
    options = knf.MfccOptions()
    options.frame_opts.dither, options.num_ceps, options.use_energy = 0.0, 40, False
    options.mel_opts.num_bins, options.mel_opts.low_freq, options.mel_opts.high_freq = 40, 20, 7600
    mfcc = knf.OnlineMfcc(options)
    mfcc.accept_waveform(RATE, x.astype("f4").tolist())
    mfcc.input_finished()
    rows = forward(loaded(net), np.stack([mfcc.get_frame(k) for k in range(mfcc.num_frames_ready)]), acc=np.float32)
    number = {p: k for k, p in enumerate(phones)}
    words = [[[number[p] for p in way.split()] for way in ways or ["SPN"]] for ways in prons]
    return sum(len(ways[0]) for ways in words), [said(f * rows, words, move, begin) - everything(f * rows, move, begin) for f in FACTORS]


def check():
    """The sums against every path listed: silence and two phones, four and six frames, a word of two ways."""
    rng = np.random.default_rng(5)
    words = [[[1, 2], [2]], [[1]]]
    wanted = {tuple([0] * a + way + [0] * b + [1] + [0] * c) for way in ([1, 2], [2]) for a in (0, 1) for b in (0, 1) for c in (0, 1)}
    for frames in (4, 6):
        move = rng.dirichlet(np.ones(3), 3)
        begin, x = rng.dirichlet(np.ones(3)), rng.normal(size=(frames, 6))
        every = some = 0.0
        for path in itertools.product(range(6), repeat=frames):
            line, chance = [], 1.0
            for t, output in enumerate(path):
                if output % 2 == 0:
                    chance *= move[line[-1], output // 2] if line else begin[output // 2]
                    line.append(output // 2)
                elif not line or line[-1] != output // 2:
                    break
                chance *= np.exp(x[t][output])
            else:
                every += chance
                some += chance * (tuple(line) in wanted)
        for name, got, want in (("all", everything(x, move, begin), np.log(every)), ("said", said(x, words, move, begin), np.log(some))):
            if abs(got - want) > 1e-9:
                sys.exit(f"{name}, {frames} frames: {got}, but the paths listed give {want}")
    print("share.py: the sums are those of all paths listed")


def main():
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("--packs")
    ap.add_argument("--phones")
    ap.add_argument("--check", action="store_true")
    ap.add_argument("nets", nargs="*")
    a = ap.parse_args()
    if a.check:
        return check()
    if not (a.packs and a.phones and a.nets):
        ap.error("say --packs, --phones and at least one network, or --check")
    phones = open(a.phones, encoding="utf8").read().split()
    out, trained = utterances(a.packs)
    if not out:
        ap.error(f"{a.packs} holds no utterance that was kept out of training")
    move, begin = chances(trained, phones)
    with concurrent.futures.ProcessPoolExecutor() as pool:
        for net in a.nets:
            told = list(pool.map(shares, [(net, u, phones, move, begin) for u in out], chunksize=8))
            count = sum(n for n, _ in told)
            by_factor = " ".join(f"{f}: {sum(s[k] for _, s in told) / count:.4f}" for k, f in enumerate(FACTORS))
            print(f"{net}: {len(out)} utterances, {count} phones; ln share a phone by factor {by_factor}", flush=True)


if __name__ == "__main__":
    main()
