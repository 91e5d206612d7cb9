#!/usr/bin/env python3
"""Train the wide ear on, from its state or from the shipped graph.

    ear_train.py --packs 'packs/*.npz' --go-on ear_f16.pt --out OUT [--minutes 10]

Started by torchrun, it trains on as many GPUs as torchrun has processes: each draws its own batches, and their gradients are averaged.

Packs are those of train.py. The network aligns every utterance itself, then learns the frames by cross-entropy and whole utterances by the share
of what was said among all that a phone bigram allows (train.py's Whole), in noise down to -3 dB, rooms, behind masks, through narrow and far
microphones and at other speeds, with which the voice's pitch and formants go. Noise alone is silence. An average of its weights over time is kept.

Nobody in english/kept_out.txt is trained on, from whatever copy of a recording. With --watch FOLDER (tests/data/ears) the people there that tuning
may use are asked for now and then: single words among all, and whole utterances of people whose first language is Mandarin, both also in noise.

Out: ear_f16.pt to go on from and shares.npy, of which ear.py writes the graph; log lines. Needs torch, soundfile; numpy and scipy to watch; onnx where
--go-on is a graph.
"""
import argparse
import collections
import glob
import math
import os
import random
import sys
import time

import numpy as np
import torch
import torch.distributed as dist
import torch.nn as nn
import torch.nn.functional as F

import ear as recipe
from train import RATE, Whole, all_paths, chances, load, said_paths, viterbi

HERE = os.path.dirname(os.path.abspath(__file__))
ENGLISH = os.path.join(HERE, "..", "english")
# Samples from a frame to the next, and what one sees.
HOP, SEEN = 384, 895
SPEEDS = (0.82, 0.88, 0.94, 1.0, 1.06, 1.12, 1.2)


# ---- who is not trained on ----
def person(source, speaker):
    """A speaker under one name, whatever copy of a recording it comes from: the family of corpora, and the number in it."""
    families = {"libri": "libri", "speech-commands": "speech-commands", "speechocean": "speechocean", "vctk": "vctk", "pocketsphinx": "pocketsphinx",
                "speech-to-intent": "speech-to-intent"}
    return next((f for key, f in families.items() if key in source), source), speaker.split("/")[-1].split("-")[-1].lower()


def kept_out(path):
    """Who is kept out, by person(); a whole source as (source, "all")."""
    with open(path, encoding="utf8") as f:
        lines = [line.split() for line in f if line.strip() and not line.startswith("#")]
    return {person(source, who) for source, *people in lines for who in people}


# ---- network ----
class Layer(nn.Module):
    def __init__(self, width=288, wide=1152):
        super().__init__()
        self.ln1, self.ln2 = nn.LayerNorm(width, bias=False), nn.LayerNorm(width, bias=False)
        self.q, self.k, self.v, self.o = (nn.Linear(width, width, bias=False) for _ in range(4))
        self.fc1, self.fc2 = nn.Linear(width, wide), nn.Linear(wide, width)

    def forward(self, x, cos, sin, mask, drop):
        batch, frames, width = x.shape
        split = lambda y: y.view(batch, frames, recipe.HEADS, -1).transpose(1, 2)

        def turned(y):
            a, rest = y[..., :recipe.TURNED], y[..., recipe.TURNED:]
            across = torch.stack((-a[..., 1::2], a[..., 0::2]), -1).flatten(-2)
            return torch.cat([a * cos + across * sin, rest], -1)
        h = self.ln1(x)
        q, k, v = turned(split(self.q(h))), turned(split(self.k(h))), split(self.v(h))
        y = F.scaled_dot_product_attention(q, k, v, attn_mask=mask, scale=(width / recipe.HEADS) ** -0.5).transpose(1, 2).reshape(batch, frames, width)
        x = x + F.dropout(self.o(y), drop, self.training)
        return x + F.dropout(self.fc2(F.gelu(self.fc1(self.ln2(x)))), drop, self.training)


class Ear(nn.Module):
    """What ear.py computes in numpy, for batches, before shares and scale."""

    def __init__(self, outputs, drop=0.1):
        super().__init__()
        self.drop = drop
        self.conv1 = nn.Conv1d(1, 288, 127, 64, bias=False)
        self.gn_weight, self.gn_bias = nn.Parameter(torch.ones(288)), nn.Parameter(torch.zeros(288))
        self.conv2, self.conv3 = nn.Conv1d(288, 576, 7, 3), nn.Conv1d(576, 288, 3, 2)
        self.layers = nn.ModuleList(Layer() for _ in range(recipe.LAYERS))
        self.ln, self.head = nn.LayerNorm(288, bias=False), nn.Linear(288, outputs)
        half = recipe.TURNED // 2
        self.register_buffer("inv", 10000.0 ** (-torch.arange(half) / half))

    @staticmethod
    def frames(n):
        return ((((n - 127) // 64 + 1) - 7) // 3 + 1 - 3) // 2 + 1

    def forward(self, x, n, hide=0.0):
        """x (B, samples) in -1 to 1, n (B) samples that count; gives outputs (B, frames, outputs) and frames that count (B). hide: the chance that
        two stretches of up to 0.2 s are hidden."""
        h = torch.tanh(self.conv1(x[:, None]))
        n1 = (n - 127) // 64 + 1
        live = (torch.arange(h.shape[2], device=x.device)[None] < n1[:, None])[:, None]
        hf, count = h.float() * live, (n1 * h.shape[1]).float()
        mean = (hf.sum((1, 2)) / count)[:, None, None]
        var = (((hf - mean) * live) ** 2).sum((1, 2)) / count
        h = (hf - mean) * torch.rsqrt(var + 1e-5)[:, None, None] * self.gn_weight[:, None] + self.gn_bias[:, None]
        h = F.gelu(self.conv3(F.gelu(self.conv2(h)))).transpose(1, 2)
        count, (batch, frames, _), at = self.frames(n), h.shape, torch.arange(h.shape[1], device=x.device)
        if self.training and hide:
            for _ in range(2):
                width = torch.randint(0, 9, (batch, 1), device=x.device) * (torch.rand(batch, 1, device=x.device) < hide)
                begin = (torch.rand(batch, 1, device=x.device) * frames).long()
                h = torch.where(((at[None] >= begin) & (at[None] < begin + width))[..., None], torch.zeros_like(h), h)
        angle = at.float()[:, None] * self.inv[None]
        cos, sin = (f(angle).repeat_interleave(2, 1).to(h.dtype) for f in (torch.cos, torch.sin))
        mask = (at[None] < count[:, None])[:, None, None]
        h = F.dropout(h, self.drop, self.training)
        for layer in self.layers:
            h = layer(h, cos, sin, mask, self.drop)
        return self.head(self.ln(h)), count


def begun(path):
    """A state to go on from: one of this script's, or the one in a graph that ear.py wrote."""
    if not path.endswith(".onnx"):
        return recipe.state(path)
    import onnx
    c = {t.name: onnx.numpy_helper.to_array(t).astype("f4") for t in onnx.load(path).graph.initializer}
    p = {k.removesuffix("_f16"): v for k, v in c.items()}
    each = recipe.WIDTH // recipe.HEADS
    order = np.argsort([*range(0, recipe.TURNED, 2), *range(1, recipe.TURNED, 2), *range(recipe.TURNED, each)])
    whole = lambda w: w.T.reshape(recipe.HEADS, each, recipe.WIDTH)[:, order].reshape(recipe.WIDTH, recipe.WIDTH)
    s = {k: p[k] for k in ("conv1.weight", "conv2.weight", "conv2.bias", "conv3.weight", "conv3.bias", "head.bias", "ln.weight")}
    s |= {"gn_weight": p["gain"].reshape(-1), "gn_bias": p["shift"].reshape(-1), "head.weight": p["head"].T}
    for n in range(recipe.LAYERS):
        a = f"layers.{n}."
        s |= {a + "ln1.weight": p[f"{n}.ln1"], a + "ln2.weight": p[f"{n}.ln2"], a + "fc1.bias": p[f"{n}.b1"], a + "fc2.bias": p[f"{n}.b2"],
              a + "q.weight": whole(p[f"{n}.q"]) * np.sqrt(each), a + "k.weight": whole(p[f"{n}.k"])}
        s |= {a + k + ".weight": p[f"{n}.{k}"].T for k in ("v", "o", "fc1", "fc2")}
    return {k: np.ascontiguousarray(v) for k, v in s.items()}


def ended(label, x, sil):
    """The output of each frame of an utterance x, silent from where its sound ends: a network that aligns its own utterances lets the last phone last
    into the silence behind it, and learns that. A phone's first three frames stay, since a final stop may be quiet."""
    n = (len(x) - SEEN) // HOP + 1
    middle = np.lib.stride_tricks.sliding_window_view(x.astype("f4"), HOP)[(SEEN - HOP) // 2::HOP][:n]
    level = 10 * np.log10((middle ** 2).mean(1) + 1)
    entered = np.flatnonzero((label % 2 == 0) & (label != 2 * sil))
    loud = np.flatnonzero(level > np.quantile(level, 0.95) - 35)
    if len(entered) and len(loud):
        end = max(loud[-1] + 2, entered[-1] + 3)
        # No phone begins behind it, so what is silent there stays so.
        if end < len(label) and label[end] // 2 != sil:
            label[end:] = 2 * sil + 1
            label[end] = 2 * sil
    return label


def pieces(x, longest=3 * RATE, level=1500):
    """Pieces of noise, 0.3 s to longest samples each, about as loud as speech."""
    out = []
    for piece in (x[k:k + longest].astype("f4") for k in range(0, len(x), longest)):
        loud = np.sqrt((piece ** 2).mean()) if len(piece) else 0
        if len(piece) >= 0.3 * RATE and loud > 10:
            out.append((piece * level / loud).clip(-32768, 32767).astype("i2"))
    return out


# ---- what comes between a mouth and the network ----
class Sounds:
    """Rooms, masks, microphones and noise, all at a strength of 0 to 1."""

    def __init__(self, babble, noises):
        self.babble, self.noises = babble, noises

    @staticmethod
    def filtered(x, gain):
        return torch.fft.irfft(torch.fft.rfft(x) * gain, x.shape[1])

    def noise(self, x, power, strength):
        batch, n, d = *x.shape, x.device
        u = lambda *shape: torch.rand(*shape, device=d)

        def cut(bank):
            at = torch.randint(0, max(1, len(bank) - n), (batch,), device=d)
            return bank[(at[:, None] + torch.arange(n, device=d)) % len(bank)].float()

        def coloured():
            f = torch.fft.rfftfreq(n, device=d).clamp_min(1.0 / n)
            return torch.fft.irfft(torch.randn(batch, n // 2 + 1, dtype=torch.cfloat, device=d) * f[None] ** (-u(batch, 1)), n)
        # Chance, kind, and from which to which signal-to-noise ratio in dB.
        for chance, make, low, high in ((0.4, coloured, -2, 35), (0.2, lambda: cut(self.babble) + cut(self.babble) + cut(self.babble), 2, 25),
                                        (0.6, lambda: cut(self.noises), -3, 25)):
            noise = make()
            ratio = 10 ** ((low + (high - low) * u(batch)) / 10)
            gain = (power / noise.pow(2).mean(1).clamp_min(1e-9) / ratio).sqrt()
            x = x + torch.where(u(batch) < chance * strength, gain, torch.zeros_like(gain))[:, None] * noise
        return x

    def __call__(self, x, lens, strength):
        batch, n, d = *x.shape, x.device
        u = lambda *shape: torch.rand(*shape, device=d)
        some = lambda chance: (u(batch) < chance * strength)[:, None]
        f = torch.fft.rfftfreq(n, 1 / RATE, device=d)[None]
        # A room, near or far from the microphone: noise that dies away, 15 dB below to 6 dB above the direct sound.
        taps = 10_000
        t = torch.arange(taps, device=d) / RATE
        h = torch.randn(batch, taps, device=d) * torch.exp(-6.9 * t[None] / (0.08 + 0.7 * u(batch, 1) ** 1.5))
        h[:, :40] = 0
        h = h / h.pow(2).sum(1, keepdim=True).sqrt() * 10 ** (-(u(batch, 1) * 21 - 6) / 20)
        h[:, 0] = 1
        size = 1 << (n + taps - 1).bit_length()
        x = torch.where(some(0.45), torch.fft.irfft(torch.fft.rfft(x, size) * torch.fft.rfft(h, size), size)[:, :n], x)
        # A mask: 3 to 14 dB down above 1.5 to 4 kHz.
        corner = 1500 + 2500 * u(batch, 1)
        down = 10 ** (-(3 + 11 * u(batch, 1)) / 20 * ((f / corner).clamp(1, 4).log2() / 2).clamp(0, 1))
        x = torch.where(some(0.3), self.filtered(x, down), x)
        power = x.pow(2).sum(1) / lens.clamp_min(1)
        x = self.noise(x, power, strength)
        # A microphone: a tilt and a bend over the octaves, and now and then a narrow band, as of telephones and headsets.
        octaves = (f.clamp_min(60) / 700).log2()
        colour = 10 ** ((torch.randn(batch, 1, device=d) * 1.5 * octaves + torch.randn(batch, 1, device=d) * 0.5 * (octaves ** 2 - 3)).clamp(-18, 12) / 20)
        x = torch.where(some(0.5), self.filtered(x, colour), x)
        low, high = 80 + 250 * u(batch, 1), 3200 + 3800 * u(batch, 1)
        band = 1 / (1 + (low / f.clamp_min(1)) ** 4) ** 0.5 / (1 + (f / high) ** 8) ** 0.5
        x = torch.where(some(0.15), self.filtered(x, band), x)
        level = (x.pow(2).sum(1) / lens.clamp_min(1)).sqrt().clamp_min(1e-3)
        x = x * (32768 * 10 ** (-(12 + 33 * u(batch)) / 20) / level)[:, None]
        # Too loud: the top is cut off.
        top = 10 ** (-u(batch, 1) * 9 / 20) * x.abs().amax(1, keepdim=True)
        x = torch.where(some(0.05), x.clamp(-top, top), x)
        x = x + torch.randn_like(x) * 10 ** (torch.rand(batch, 1, device=d) * 1.5 - 0.5)
        return (x / 32768).clamp(-1, 1)


# ---- people that tuning may use ----
class Watch:
    """Single words among all, and whole utterances of speakers of another first language: how many are likelier than every other one."""

    def __init__(self, folder, ids, device):
        sys.path.insert(0, os.path.join(HERE, "..", "..", "tests", "bench", "ears"))
        import recordings
        from scipy.signal import butter, sosfilt
        lexicon = collections.defaultdict(list)
        for name in ("lexicon.txt", "trade_lexicon.txt"):
            for line in open(os.path.join(ENGLISH, name), encoding="utf8"):
                word, *phones = line.split()
                if phones and all(p in ids for p in phones):
                    lexicon[word].append([ids[p] for p in phones])
        clips = recordings.held_clips(folder)
        words = sorted({c["speaker"] for c in clips if c["kind"] == "word"})
        readers = sorted({c["speaker"] for c in clips if c["kind"] == "heldout"})
        # The same people as recordings.py tunes with.
        tuned = lambda c: c["kind"] == "command" or c["kind"] == "heldout" and readers.index(c["speaker"]) % 3 == 1
        said = [(c["transcript"].lower(), c["sound"]) for c in clips if c["kind"] == "word" and words.index(c["speaker"]) % 2 == 1]
        second = [u for us in recordings.second_language(clips, tuned)["development"].values() for u in us]
        noises = [c["sound"] for c in clips if c["kind"] == "noise" and recordings.rms(c["sound"]) > 1e-3][0::2]
        self.device, self.sets, rng = device, {}, np.random.default_rng(5)
        mask = lambda x: 0.35 * x + 0.65 * sosfilt(butter(1, 2500, fs=RATE, output="sos"), x)

        def ways(phrase):
            # Silence, which is phone 0, may be left out anywhere.
            out = [[0]]
            for word in phrase.split():
                out = [a + b + [0] for a in out for b in lexicon[word][:3]]
            return out[:8]
        for name, some in (("words", said), ("second", second)):
            texts = sorted({t for t, _ in some if all(lexicon[w] for w in t.split())})
            flat = [(k, way) for k, t in enumerate(texts) for way in ways(t)]
            some = [(texts.index(t), x) for t, x in some if t in texts]
            for condition, ratio in (("clean", None), ("10 dB", 10), ("5 dB", 5), ("mask", 20)):
                sounds = []
                for _, x in some:
                    x = np.concatenate([np.zeros(6400, "f4"), x / recordings.rms(x) * 0.05, np.zeros(6400, "f4")])
                    x = mask(x) if condition == "mask" else x
                    if ratio is not None:
                        noise = np.resize(noises[rng.integers(len(noises))], len(x))
                        x = x + noise / recordings.rms(noise) * 0.05 * 10 ** (-ratio / 20)
                    sounds.append(torch.tensor(x + rng.standard_normal(len(x)) * 1e-4, dtype=torch.float32))
                self.sets[name, condition] = (sounds, [k for k, _ in some], flat)

    @torch.no_grad()
    def __call__(self, net, prior, move, begin):
        net.eval()
        line = []
        for (name, condition), (sounds, truth, flat) in self.sets.items():
            right, gap = 0, 0.0
            ph = nn.utils.rnn.pad_sequence([torch.tensor(way) for _, way in flat], batch_first=True).to(self.device)
            opt = ph == 0
            nph = torch.tensor([len(way) for _, way in flat], device=self.device)
            where = torch.tensor([k for k, _ in flat], device=self.device)
            texts = int(where.max()) + 1
            for k in range(0, len(sounds), 16):
                part, t = sounds[k:k + 16], torch.tensor(truth[k:k + 16], device=self.device)
                n = torch.tensor([len(x) for x in part], device=self.device)
                x = torch.zeros(len(part), int(n.max()), device=self.device)
                for r, s in enumerate(part):
                    x[r, :len(s)] = s
                out, frames = net(x, n)
                scores = recipe.SCALE * (F.log_softmax(out.float(), 2) - prior)
                each = lambda v: v.repeat(len(part), *[1] * (v.dim() - 1))
                paths = [each(v) for v in (ph, nph, opt, *chances(ph, opt, move, begin))]
                total, _ = said_paths(scores.repeat_interleave(len(flat), 0), frames.repeat_interleave(len(flat), 0), *paths)
                best = torch.full((len(part), texts), -1e30, device=self.device)
                best = best.scatter_reduce(1, each(where[None]), total.view(len(part), -1), "amax")
                loop, _ = all_paths(scores, frames, move, begin)
                right += int((best.argmax(1) == t).sum())
                gap += float((best.gather(1, t[:, None])[:, 0] - loop).sum()) / len(truth)
            line.append(f"{name} {condition} {right}/{len(truth)} ({gap:.2f})")
        return "; ".join(line)


# ---- training ----
class Trainer:
    def __init__(self, a, device):
        self.a, self.device, self.begun = a, device, time.time()
        # All processes draw the same rounds of batches; what else is drawn differs.
        self.draws = random.Random(a.seed)
        self.rank, self.ranks = (dist.get_rank(), dist.get_world_size()) if dist.is_initialized() else (0, 1)
        self.phones = open(os.path.join(ENGLISH, "phones.txt")).read().split()
        self.ids = {p: k for k, p in enumerate(self.phones)}
        self.sil, self.spn, self.outputs = self.ids["SIL"], self.ids["SPN"], 2 * len(self.phones)
        state = {k: torch.tensor(v) for k, v in begun(a.go_on).items()}
        self.net, self.mean = Ear(self.outputs, a.drop).to(device), Ear(self.outputs).to(device)
        for net in (self.net, self.mean):
            missing, extra = net.load_state_dict(state, strict=False)
            assert not extra and set(missing) <= {"inv"}, (missing, extra)
        self.first = {k: v.clone() for k, v in self.mean.state_dict().items()}
        self.mean.eval()
        out = kept_out(os.path.join(ENGLISH, "kept_out.txt"))
        utterances = list(load(sorted(f for g in a.packs for f in glob.glob(g))))
        kept = lambda m: person(m["src"], m["spk"]) in out or (person(m["src"], "-")[0], "all") in out
        refused = [m for _, m in utterances if m["kind"] == "train" and kept(m)]
        noise = [x for x, m in utterances if m["kind"] == "noise" and m["key"][2] % 5 != 4]
        # Noise with nothing said, by itself and between what is said, is silence. Every second clip is left to measure with.
        self.alone = [(piece, m) for x, m in utterances if m["kind"] == "noise" and m["key"][2] % 2 == 0 for piece in pieces(x)]
        self.test = [(x, m) for x, m in utterances if m["kind"] == "test" and len(x) < 12 * RATE]
        self.train = [(x, m) for x, m in utterances if m["kind"] == "train" and not kept(m) and 0.3 < len(x) / RATE < 17]
        hours = collections.Counter()
        for x, m in self.train:
            hours[m["src"]] += len(x) / RATE / 3600
        self.say(f"{len(self.train)} utterances, {sum(hours.values()):.2f} h: " + ", ".join(f"{s} {h:.2f}" for s, h in sorted(hours.items())))
        self.say(f"kept out: {len(refused)} utterances by {len({m['spk'] for m in refused})} people; {len(self.test)} to test; {len(noise)} noises")
        some = random.sample(self.train, min(len(self.train), 1500))
        clips = [x for x, _ in self.train + self.alone]
        self.audio, self.start = torch.tensor(np.concatenate(clips), device=device), np.cumsum([0] + [len(x) for x in clips])
        bank = lambda xs: torch.tensor(np.concatenate(xs), device=device)
        self.sounds = Sounds(bank([x for x, _ in some]), bank(noise or [np.zeros(RATE, np.int16)]))
        self.single = collections.Counter(m["text"] for _, m in self.train if "speech-commands" in m["src"])
        self.spoken = len(self.train)
        self.aligned, self.heard = [None] * self.spoken, [None] * self.spoken

    def say(self, *what):
        if self.rank == 0:
            print(f"{time.time() - self.begun:.0f} s", *what, flush=True)

    def sequence(self, m):
        """Phones of what was said, with silences between words that may be skipped."""
        phones, optional = [self.sil], [True]
        for ways in m["prons"]:
            way = [self.ids[p] for p in random.choice(ways).split()] if ways else [self.spn]
            phones += way + [self.sil]
            optional += [False] * len(way) + [True]
        return phones, optional

    def padded(self, sequences):
        longest = max(len(p) for p, _ in sequences)
        ph, opt = torch.full((len(sequences), longest), self.sil), torch.zeros(len(sequences), longest, dtype=torch.bool)
        for k, (p, o) in enumerate(sequences):
            ph[k, :len(p)], opt[k, :len(p)] = torch.tensor(p), torch.tensor(o)
        return ph.to(self.device), torch.tensor([len(p) for p, _ in sequences], device=self.device), opt.to(self.device)

    @torch.no_grad()
    def align(self):
        """Which output each frame is, by the network itself, at the likeliest of three draws of pronunciations. The worst 2 % of each source are left
        out: clips that hold something else than their text."""
        seen, score = torch.zeros(self.outputs, device=self.device), np.full(self.spoken, -1e9)
        order = sorted(range(self.spoken), key=lambda k: len(self.train[k][0]))[self.rank::self.ranks]
        for some in (order[k:k + 96] for k in range(0, len(order), 96)):
            n = torch.tensor([len(self.train[k][0]) for k in some], device=self.device)
            x = torch.zeros(len(some), int(n.max()) + 400, device=self.device)
            for row, k in enumerate(some):
                x[row, :len(self.train[k][0])] = self.audio[self.start[k]:self.start[k + 1]].float()
            with torch.autocast(self.device, torch.bfloat16):
                out, frames = self.mean(x / 32768, n)
            logs, frames = F.log_softmax(out.float(), 2), frames.clamp_min(1)
            seen += (logs.exp() * (torch.arange(logs.shape[1], device=self.device)[None] < frames[:, None])[..., None]).sum((0, 1))
            logs = 0.6 * (logs - 0.8 * (seen / seen.sum()).clamp_min(1e-5).log())
            for _ in range(3):
                sequences = [self.sequence(self.train[k][1]) for k in some]
                ph, nph, opt = self.padded(sequences)
                place, enters, value = viterbi(logs, frames, ph, nph, opt)
                value, label, count = value.cpu().numpy(), (2 * torch.gather(ph, 1, place) + (~enters)).cpu().numpy(), frames.cpu().numpy()
                for row, k in enumerate(some):
                    if value[row] > score[k] and count[row] >= sum(not o for o in sequences[row][1]):
                        score[k], self.heard[k] = value[row], sequences[row]
                        self.aligned[k] = ended(label[row, :count[row]].astype(np.int64), self.train[k][0], self.sil)
        if self.ranks > 1:
            parts = [None] * self.ranks
            dist.all_gather_object(parts, [(k, score[k], self.aligned[k], self.heard[k]) for k in order])
            for k, *found in (one for part in parts for one in part):
                score[k], self.aligned[k], self.heard[k] = found
        source = np.array([m["src"] for _, m in self.train])
        for s in sorted(set(source)):
            own = np.nonzero(source == s)[0]
            bar = np.quantile(score[own], 0.02) if len(own) > 20 else -1e8
            for k in own[score[own] <= bar]:
                self.aligned[k] = None
        n = np.bincount(np.concatenate([v for v in self.aligned if v is not None]), minlength=self.outputs) + 1.0
        self.shares = np.log(n / n.sum())
        self.prior = torch.tensor(recipe.PRIOR * self.shares, device=self.device, dtype=torch.float32)
        pairs = np.full((len(self.phones), len(self.phones)), 1e-3)
        for h, (_, m) in zip(self.heard, self.train):
            if h is not None:
                p = [self.sil] + [q for q, o in zip(*h) if not o or random.random() < 0.3] + [self.sil]
                for u, v in zip(p, p[1:]):
                    pairs[u, v] += self.chance(m)
        move = pairs / pairs.sum(1, keepdims=True) * 0.95 + 0.05 / len(self.phones)
        first = move[self.sil].copy()
        first[self.sil] = 0.5
        self.move, self.first_phone = (torch.tensor(v, device=self.device, dtype=torch.float32) for v in (move, first / first.sum()))
        self.say(f"aligned {sum(v is not None for v in self.aligned)} of {self.spoken}")
        # Behind what is said stands noise.
        self.train += self.alone
        self.aligned += [np.full((len(x) - SEEN) // HOP + 1, 2 * self.sil + 1) for x, _ in self.alone]
        self.heard += [([self.sil], [False])] * len(self.alone)

    def chance(self, m):
        """Of an utterance to be drawn in a round: of each single word as many, whoever recorded more of one; of other sources by --share."""
        if "speech-commands" in m["src"]:
            return min(1.0, self.a.each / self.single[m["text"]])
        return next((share for name, share in self.a.share if name in m["src"]), 1.0)

    def batches(self):
        """Rounds of groups of utterances: long ones alone, short ones in a row with pauses. Noise is drawn twice: among them, and with itself only."""
        pool = [k for k, (_, m) in enumerate(self.train) if self.aligned[k] is not None and self.draws.random() < self.chance(m)]
        groups = []
        for some in (pool, [k for k in pool if k >= self.spoken]):
            self.draws.shuffle(some)
            row, total, want = [], 0.0, self.draws.uniform(0.5, 6)
            for k in some:
                seconds = len(self.train[k][0]) / RATE
                if seconds > 4:
                    groups.append([k])
                    continue
                row.append(k)
                total += seconds + 0.4
                if total > want:
                    groups.append(row)
                    row, total, want = [], 0.0, self.draws.uniform(0.5, 6)
        lasts = [sum(len(self.train[k][0]) for k in g) / RATE + 0.5 * len(g) + 0.8 for g in groups]
        out, batch, longest = [], [], 0
        for g in sorted(range(len(groups)), key=lambda g: lasts[g] * self.draws.uniform(0.9, 1.1)):
            if batch and max(longest, lasts[g]) * (len(batch) + 1) > self.a.batch_seconds:
                out.append(batch)
                batch, longest = [], 0
            batch.append(groups[g])
            longest = max(longest, lasts[g])
        # Processes wait for each other after every update, so each round of theirs is of like lengths.
        rounds = [out[k:k + self.ranks] for k in range(0, len(out) - self.ranks + 1, self.ranks)]
        self.draws.shuffle(rounds)
        return [r[self.rank] for r in rounds]

    @torch.no_grad()
    def make(self, groups, strength):
        """Sound (B, samples), samples that count (B), frames that count (B), and the output of each frame (B, T)."""
        speed, d = random.choice(SPEEDS), self.device
        froms, tos, lens, gains, spans, ends = [], [], [], [], [], []
        for row, group in enumerate(groups):
            at, span = int(RATE * random.uniform(0, 0.8)), []
            for place, k in enumerate(group):
                at += int(RATE * random.uniform(0.05, 0.7)) if place else 0
                n = len(self.train[k][0])
                froms.append(int(self.start[k])); tos.append((row, at)); lens.append(n)
                gains.append(random.uniform(0.6, 1.6) if len(group) > 1 else 1.0)
                span.append((at, k))
                at += n
            spans.append(span)
            ends.append(max(at + int(RATE * random.uniform(0, 0.8)), 8000))
        n, each = max(ends) + 1600, torch.tensor(lens, device=d)
        total, first = sum(lens), each.cumsum(0) - each
        spread = lambda v: torch.repeat_interleave(torch.tensor(v, device=d), each, output_size=total)
        inside = torch.arange(total, device=d) - torch.repeat_interleave(first, each, output_size=total)
        x = torch.zeros(len(groups) * n, device=d)
        x[inside + spread([row * n + at for row, at in tos])] = self.audio[inside + spread(froms)].float() * spread(gains)
        x, count = x.view(len(groups), n).clamp_(-32768, 32767), torch.tensor(ends, device=d)
        if speed != 1.0:
            x, count = F.interpolate(x[:, None], scale_factor=1 / speed, mode="linear", align_corners=False)[:, 0], (count / speed).long()
        x = self.sounds(x, count, strength)
        frames = int(Ear.frames(torch.tensor(x.shape[1])))
        label, at = np.full((len(groups), frames), 2 * self.sil + 1), (np.arange(frames) * HOP + SEEN // 2) * speed
        for row, span in enumerate(spans):
            for begin, k in span:
                v = self.aligned[k]
                low, high = np.searchsorted(at, [begin, begin + len(self.train[k][0])])
                j = np.rint((at[low:high] - begin - SEEN // 2) / HOP).astype(int).clip(0, len(v) - 1)
                if not len(j):
                    continue
                y, jump = v[j].copy(), np.concatenate([[j[0]], np.diff(j)])
                # A frame that a faster speed dropped may have been the one that enters its phone.
                for q in np.nonzero(jump > 1)[0]:
                    if y[q] % 2 and (v[j[q] - jump[q] + 1:j[q]] == y[q] - 1).any():
                        y[q] -= 1
                y[1:][(np.diff(j) == 0) & (y[1:] % 2 == 0)] += 1
                label[row, low:high] = y
        return x, count, Ear.frames(count), torch.tensor(label, device=d)

    def joined(self, groups):
        out = []
        for group in groups:
            phones, optional = [], []
            for k in group:
                p, o = self.heard[k]
                skip = 1 if phones and phones[-1] == self.sil else 0
                phones += p[skip:]
                optional += o[skip:]
            out.append((phones, optional))
        return self.padded(out)

    @torch.no_grad()
    def errors(self, net):
        """Phone error of the plain best path over the utterances of kind test."""
        net.eval()
        wrong = total = 0
        for some in (self.test[k:k + 32] for k in range(0, len(self.test), 32)):
            n = torch.tensor([len(x) for x, _ in some], device=self.device)
            x = torch.zeros(len(some), int(n.max()), device=self.device)
            for row, (s, _) in enumerate(some):
                x[row, :len(s)] = torch.tensor(s, device=self.device).float()
            out, frames = net(x / 32768, n)
            best = out.argmax(2).cpu().numpy() // 2
            for row, (_, m) in enumerate(some):
                path = best[row, :int(frames[row])]
                heard = [p for p, before in zip(path, [self.sil, *path]) if p not in (self.sil, before)]
                said = [self.ids[p] for ways in m["prons"] for p in (ways[0].split() if ways else [])]
                costs = list(range(len(said) + 1))
                for k, h in enumerate(heard):
                    left, costs[0] = costs[0], k + 1
                    for q, s in enumerate(said):
                        left, costs[q + 1] = costs[q + 1], min(costs[q + 1] + 1, costs[q] + 1, left + (h != s))
                wrong, total = wrong + costs[-1], total + len(said)
        return wrong / max(total, 1)

    def together(self, progress):
        """Average the gradients of all processes, and how far each is: all stop with the same update."""
        if self.ranks == 1:
            return progress
        own = [p.grad for p in self.net.parameters()]
        flat = torch.cat([g.reshape(-1) for g in own] + [torch.tensor([progress], device=self.device)])
        dist.all_reduce(flat)
        flat /= self.ranks
        for g, mean in zip(own, flat.split([g.numel() for g in own] + [1])):
            g.copy_(mean.view_as(g))
        return float(flat[-1])

    def save(self, net, name):
        if self.rank:
            return
        torch.save({k: v.half() for k, v in net.state_dict().items()}, f"{self.a.out}/{name}.pt")
        np.save(f"{self.a.out}/shares.npy", self.shares)

    def between(self, share):
        """The network so much of the way from where it began to the average."""
        net = Ear(self.outputs).to(self.device)
        net.load_state_dict({k: torch.lerp(self.first[k].float(), v.float(), share) for k, v in self.mean.state_dict().items()})
        return net.eval()

    def run(self):
        a = self.a
        os.makedirs(a.out, exist_ok=True)
        self.align()
        watch = Watch(a.watch, self.ids, self.device) if a.watch and self.rank == 0 else None
        tell = lambda net, name: self.rank or self.say(f"{name}: phone error {self.errors(net):.4f}; " + (watch(net, self.prior, self.move, self.first_phone) if watch else ""))
        tell(self.mean, "at first")
        head = [dict(params=list(self.net.head.parameters()), top=a.head_lr)]
        rest = [dict(params=[p for n, p in self.net.named_parameters() if not n.startswith("head")], top=a.lr)]
        optimiser = torch.optim.AdamW(head + rest, lr=a.lr, betas=(0.9, 0.98), weight_decay=0.02)
        begun, shown, updates, progress, self.net = time.time(), time.time(), 0, 0.0, self.net.train()
        while True:
            for groups in self.batches():
                if progress >= 1:
                    self.save(self.mean, "ear_f16")
                    for share in (0.5, 0.75, 1.0):
                        net = self.between(share)
                        self.save(net, f"ear_{share}")
                        tell(net, f"{share:.2f} of the way, {updates} updates")
                    return
                strength = min(1.0, 0.5 + 2 * progress)
                for g in optimiser.param_groups:
                    g["lr"] = g["top"] * (progress / 0.03 if progress < 0.03 else max(0.01, 0.5 * (1 + math.cos(math.pi * (progress - 0.03) / 0.97))))
                x, n, frames, label = self.make(groups, strength)
                with torch.autocast(self.device, torch.bfloat16):
                    out, _ = self.net(x, n, hide=0.7 * strength)
                out = out.float()
                live = torch.arange(label.shape[1], device=self.device)[None] < frames[:, None]
                share = Whole.apply(recipe.SCALE * (out - self.prior), frames, self.move, self.first_phone, *self.joined(groups)) / frames
                loss = F.cross_entropy(out[live], label[live], label_smoothing=0.02) - a.whole / recipe.SCALE * share.mean()
                optimiser.zero_grad(set_to_none=True)
                loss.backward()
                progress = self.together((time.time() - begun) / (60 * a.minutes))
                norm = nn.utils.clip_grad_norm_(self.net.parameters(), 2.0)
                if torch.isfinite(norm):
                    optimiser.step()
                updates += 1
                keep = min(a.average, updates / (updates + 20))
                with torch.no_grad():
                    torch._foreach_lerp_(list(self.mean.state_dict().values()), list(self.net.state_dict().values()), 1 - keep)
                if updates % 100 == 0:
                    self.say(f"update {updates} rows {len(groups)} loss {float(loss.detach()):.4f} share {float(share.detach().mean()):.4f} norm {float(norm):.2f}")
                if time.time() - shown > a.tell:
                    tell(self.mean, f"average of {updates} updates")
                    self.save(self.mean, "ear_f16")
                    self.net.train()
                    shown = time.time()


def main():
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("--packs", nargs="+", required=True)
    ap.add_argument("--go-on", required=True, help="ear_f16.pt, or the shipped ear.onnx")
    ap.add_argument("--out", default="out")
    ap.add_argument("--watch", help="tests/data/ears")
    ap.add_argument("--minutes", type=float, default=10)
    ap.add_argument("--lr", type=float, default=1.5e-4)
    ap.add_argument("--head-lr", type=float, default=5e-4)
    ap.add_argument("--batch-seconds", type=float, default=500)
    ap.add_argument("--each", type=float, default=150, help="of each single word so many a round")
    ap.add_argument("--share", nargs="*", default=[], type=lambda s: (s.split("=")[0], float(s.split("=")[1])), help="of a source so much a round: librispeech=0.6")
    ap.add_argument("--whole", type=float, default=0.5, help="weight of whole utterances beside frames")
    ap.add_argument("--drop", type=float, default=0.1)
    ap.add_argument("--average", type=float, default=0.998)
    ap.add_argument("--tell", type=float, default=120, help="seconds between two looks")
    ap.add_argument("--seed", type=int, default=1)
    a = ap.parse_args()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    if "RANK" in os.environ:
        torch.cuda.set_device(int(os.environ["LOCAL_RANK"]))
        dist.init_process_group("nccl")
    if device == "cuda":
        # Batches have hundreds of lengths, and a plan for each would take memory that torch's own allocator doesn't know of.
        torch.backends.cuda.cufft_plan_cache.max_size = 16
    own = a.seed + 1000 * (dist.get_rank() if dist.is_initialized() else 0)
    torch.manual_seed(own); random.seed(own); np.random.seed(own)
    torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
    Trainer(a, device).run()
    if dist.is_initialized():
        dist.destroy_process_group()


if __name__ == "__main__":
    main()
