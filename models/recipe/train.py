#!/usr/bin/env python3
"""Train the acoustic network on a GPU, from a checkpoint or from alignments made by another recogniser.

    train.py --packs 'packs/*.npz' --phones phones.txt --out out --minutes 22 --init checkpoint.pt [--ali ali.npz]

Packs: numpy archives of Ogg/Opus audio at 16 kHz (`blob`, `off`) and, in JSON (`meta`), a list of parts, each with the lengths of its
utterances in samples and for each utterance its kind (train, test or noise), source, speaker, text and pronunciations.
What it does: the network aligns every training utterance itself, then learns those frames by cross-entropy under noise, rooms, speeds,
vocal-tract lengths and microphone colours; an average of its weights over time is what is kept. Part of the target comes from a teacher (the
network as it began, hearing the clean audio), so that what it learned from recordings that are not in the packs is not lost. Beside the
frames it learns whole utterances (--whole): the share of what was said among all that a phone bigram allows (maximum mutual information),
which is what evidence for a callout is made of: its likelihood against the filler's.
Out: net.npz for make_vosk_model.py (matrices in float16), net_f16.pt to go on from, log lines with the phone error on kind test.

Needs torch and soundfile. Features are Kaldi's MFCC: 40 of 40 mel bins, 20 to 7600 Hz, 25 ms every 10 ms, no dither, 16-bit scale.
Outputs: two a phone (enter, stay), one frame in three; make_vosk_model.py writes them as libvosk reads them.
"""
import argparse, glob, io, json, math, os, random, time
from concurrent.futures import ProcessPoolExecutor
import numpy as np, torch, torch.nn as nn, torch.nn.functional as F

RATE = 16000
# Per layer: the offsets, in input frames, that its linear and its affine part look at.
LAYERS = [((-1, 0), (0, 1))] * 3 + [((0,), (0,))] + [((-3, 0), (0, 3))] * 4 + [((-3, 0), (-3, 0))] * 4
FIRST = (-1, 0, 1)


# ---- features ----
def mel(f): return 1127.0 * math.log(1.0 + f / 700.0)


def warped(f, a, hi=7600.0, knee=4800.0):
    """A vocal tract a times as long, piecewise linear, both ends of the band kept."""
    k = min(knee, knee / a)
    return a * f if f <= k else a * k + (hi - a * k) * (f - k) / (hi - k)


def banks(alpha=1.0, n=40, lo=20.0, hi=7600.0):
    fb, pts = np.zeros((n, 257), np.float32), np.linspace(mel(lo), mel(hi), n + 2)
    for i in range(256):  # Kaldi leaves out the last bin
        m = mel(warped(RATE / 512 * i, alpha))
        for b in range(n):
            l, c, r = pts[b:b + 3]
            if l < m < r: fb[b, i] = (m - l) / (c - l) if m <= c else (r - m) / (r - c)
    return fb


class Mfcc(nn.Module):
    def __init__(s):
        super().__init__()
        s.register_buffer('win', torch.tensor((0.5 - 0.5 * np.cos(2 * np.pi * np.arange(400) / 399)) ** 0.85, dtype=torch.float32))
        s.register_buffer('fbs', torch.tensor(np.stack([banks(a) for a in np.linspace(0.9, 1.1, 21)])))
        k, m = np.meshgrid(np.arange(40), np.arange(40), indexing='ij')
        d = np.sqrt(2 / 40) * np.cos(np.pi / 40 * (m + 0.5) * k); d[0] = np.sqrt(1 / 40)
        s.register_buffer('dct', torch.tensor((d * (1 + 11 * np.sin(np.pi * np.arange(40) / 22))[:, None]).astype(np.float32)))

    def logmel(s, x, warp=False):          # (B, samples) at 16-bit scale -> (B, frames, 40)
        f = x.unfold(1, 400, 160); f = f - f.mean(2, keepdim=True)
        f = (f - 0.97 * torch.cat([f[..., :1], f[..., :-1]], 2)) * s.win
        p = torch.fft.rfft(f, 512).abs() ** 2
        which = torch.randint(0, len(s.fbs), (len(p),), device=p.device) if warp else torch.full((len(p),), len(s.fbs) // 2, device=p.device)
        return torch.log(torch.bmm(p, s.fbs[which].transpose(1, 2)).clamp_min(1.1920929e-07))

    def forward(s, logmel): return logmel @ s.dct.T


# ---- network ----
class Splice(nn.Module):
    def __init__(s, din, dout, offs, bias=True):
        super().__init__(); s.offs = offs; s.lin = nn.Linear(din * len(offs), dout, bias=bias)

    def forward(s, x, step):               # (B, T, D), rows `step` frames apart -> rows that have all neighbours; rows lost left, right
        o = [k // step for k in s.offs]; lo, hi = min(o + [0]), max(o + [0]); T = x.shape[1] - (hi - lo)
        return s.lin(torch.cat([x[:, k - lo:k - lo + T] for k in o], 2)), -lo, hi


class Net(nn.Module):
    def __init__(s, outputs, dim=896, bott=160, pre=192, drop=0.1):
        super().__init__()
        bn = lambda d: nn.BatchNorm1d(d, affine=False)
        s.inbn = bn(40); s.first = Splice(40, dim, FIRST); s.fbn = bn(dim)
        s.lins = nn.ModuleList(Splice(dim, bott, a, bias=False) for a, _ in LAYERS)
        s.affs = nn.ModuleList(Splice(bott, dim, b) for _, b in LAYERS); s.bns = nn.ModuleList(bn(dim) for _ in LAYERS)
        s.prel = nn.Linear(dim, pre, bias=False)
        s.p1 = nn.Linear(pre, dim); s.p1bn = bn(dim); s.p2 = nn.Linear(dim, pre, bias=False); s.p2bn = bn(pre); s.out = nn.Linear(pre, outputs)
        s.x1 = nn.Linear(pre, dim); s.x1bn = bn(dim); s.x2 = nn.Linear(dim, pre, bias=False); s.x2bn = bn(pre); s.xent = nn.Linear(pre, outputs)
        s.drop = drop
        s.L = 1 + sum(-min(a + (0,)) - min(b + (0,)) for a, b in LAYERS); s.R = 1 + sum(max(a + (0,)) + max(b + (0,)) for a, b in LAYERS)

    @staticmethod
    def bn(m, x): return m(x.reshape(-1, x.shape[-1])).view(x.shape)

    def forward(s, x):                     # (B, T, 40) -> (B, ceil(T/3), outputs); both edges repeated, as libvosk does
        T = x.shape[1]; To = (T + 2) // 3; x = s.bn(s.inbn, x)
        x = torch.cat([x[:, :1].expand(-1, s.L, -1), x, x[:, -1:].expand(-1, max(3 * (To - 1) + 1 + s.R - T, 0), -1)], 1)
        h, _, _ = s.first(x, 1); h = s.bn(s.fbn, F.relu(h)); step = 1
        for i, (a, b) in enumerate(LAYERS):
            if a == (0,): h = h[:, ::3]; step = 3
            y, l1, r1 = s.lins[i](h, step); y, l2, r2 = s.affs[i](y, step); y = s.bn(s.bns[i], F.relu(y))
            if s.training and s.drop: y = y * (1 + 2 * s.drop * (2 * torch.rand(y.shape[0], 1, y.shape[2], device=y.device) - 1))
            h = y + 0.66 * h[:, l1 + l2: h.shape[1] - r1 - r2]
        z = s.prel(h[:, :To])
        main = s.bn(s.p2bn, s.p2(s.bn(s.p1bn, F.relu(s.p1(z))))); aside = s.bn(s.x2bn, s.x2(s.bn(s.x1bn, F.relu(s.x1(z)))))
        return s.out(main), s.xent(aside)


def export(net, path, prior):
    """Weights and layer list as make_vosk_model.py reads them, matrices in float16. `prior`, logs, is taken off the output bias: what is
    left is a likelihood, up to a factor."""
    d, L = {}, []
    def put(k, t):
        v = t.detach().float().cpu().numpy(); d[k] = v.astype(np.float16) if v.ndim == 2 else v; return k
    def aff(n, m): L.append(dict(type='linear', w=put(n + '.w', m.weight)) if m.bias is None else dict(type='affine', w=put(n + '.w', m.weight), b=put(n + '.b', m.bias)))
    def bn(n, m): L.append(dict(type='batchnorm', mean=put(n + '.mean', m.running_mean), var=put(n + '.var', m.running_var), eps=1e-5))
    bn('inbn', net.inbn); L.append(dict(type='splice', offsets=list(FIRST))); aff('first', net.first.lin); L.append(dict(type='relu')); bn('fbn', net.fbn)
    for i, (a, b) in enumerate(LAYERS):
        L.append(dict(type='tag', name=f't{i}'))
        if a != (0,): L.append(dict(type='splice', offsets=list(a)))
        aff(f'lin{i}', net.lins[i].lin)
        if b != (0,): L.append(dict(type='splice', offsets=list(b)))
        aff(f'aff{i}', net.affs[i].lin); L.append(dict(type='relu')); bn(f'bn{i}', net.bns[i]); L.append({'type': 'residual', 'from': f't{i}', 'scale': 0.66})
    aff('prel', net.prel); aff('p1', net.p1); L.append(dict(type='relu')); bn('p1bn', net.p1bn); aff('p2', net.p2); bn('p2bn', net.p2bn); aff('out', net.out); d['out.b'] = (d['out.b'] - prior).astype(np.float32)
    d['spec'] = np.array(json.dumps(dict(input_dim=40, layers=L))); np.savez_compressed(path, **d)


def adopt(net, path):
    """The weights of an exported network, to go on from where there is no checkpoint; the training-only head is left as it is. Its output
    bias has lost a part of the phones' shares: main() gives it back."""
    z = np.load(path); own = {'inbn': net.inbn, 'first': net.first.lin, 'fbn': net.fbn, 'prel': net.prel, 'p1': net.p1, 'p1bn': net.p1bn, 'p2': net.p2, 'p2bn': net.p2bn, 'out': net.out}
    for i in range(len(LAYERS)): own |= {f'lin{i}': net.lins[i].lin, f'aff{i}': net.affs[i].lin, f'bn{i}': net.bns[i]}
    with torch.no_grad():
        for name, m in own.items():
            for key, t in (('w', getattr(m, 'weight', None)), ('b', getattr(m, 'bias', None)), ('mean', getattr(m, 'running_mean', None)), ('var', getattr(m, 'running_var', None))):
                if t is not None: t.copy_(torch.tensor(z[f'{name}.{key}'].astype(np.float32)))


# ---- audio ----
def decode(job):
    import soundfile as sf
    f, k = job; z = np.load(f); off = z['off']; lens = json.loads(str(z['meta']))[k]['lens']
    x, sr = sf.read(io.BytesIO(z['blob'][off[k]:off[k + 1]].tobytes()), dtype='int16')
    assert sr == RATE and abs(len(x) - sum(lens)) < 400, (f, k, sr, len(x), sum(lens))
    c = np.cumsum([0] + lens); return [x[c[i]:c[i + 1]] for i in range(len(lens))]


def load(files):
    jobs = [(f, k, p['meta']) for f in files for k, p in enumerate(json.loads(str(np.load(f)['meta'])))]
    with ProcessPoolExecutor() as ex:
        for (f, k, meta), xs in zip(jobs, ex.map(decode, [(f, k) for f, k, _ in jobs])):
            for i, (x, m) in enumerate(zip(xs, meta)): m['key'] = (os.path.basename(f), k, i); yield x, m


def augment(x, lens, st, bank, noises):
    """Rooms, coloured, babbling and recorded noise, level; all at strength st, 0 to 1."""
    B, N = x.shape; d = x.device; U = lambda *s: torch.rand(*s, device=d)
    wet = U(B) < 0.4 * st
    if wet.any():
        M = 8000; t = torch.arange(M, device=d) / RATE
        h = torch.randn(B, M, device=d) * torch.exp(-6.9 * t[None] / (0.08 + 0.6 * U(B, 1) ** 1.5)); h[:, :40] = 0
        h = h / h.pow(2).sum(1, keepdim=True).sqrt() * 10 ** (-(U(B, 1) * 18 - 3) / 20); h[:, 0] = 1
        n = 1 << (N + M - 1).bit_length()
        x = torch.where(wet[:, None], torch.fft.irfft(torch.fft.rfft(x, n) * torch.fft.rfft(h, n), n)[:, :N], x)
    power = x.pow(2).sum(1) / lens.clamp_min(1)
    def cut(b):
        at = torch.randint(0, max(1, len(b) - N), (B,), device=d); return b[(at[:, None] + torch.arange(N, device=d)) % len(b)].float()
    def coloured():
        f = torch.fft.rfftfreq(N, device=d).clamp_min(1.0 / N)
        return torch.fft.irfft(torch.randn(B, N // 2 + 1, dtype=torch.cfloat, device=d) * f[None] ** (-U(B, 1)), N)
    for p, make, lo, hi in ((0.35, coloured, 6, 35), (0.12, lambda: cut(bank) + cut(bank) + cut(bank), 8, 25), (0.45, lambda: cut(noises), 2, 25)):
        n = make(); g = (power / n.pow(2).mean(1).clamp_min(1e-9) / 10 ** ((lo + (hi - lo) * U(B)) / 10)).sqrt()
        x = x + torch.where(U(B) < p * st, g, torch.zeros_like(g))[:, None] * n
    # a face mask: a gentle low-pass, 3 to 12 dB down above 2 to 4 kHz
    f = torch.fft.rfftfreq(N, 1 / RATE, device=d)[None]; corner = 2000 + 2000 * U(B, 1)
    low = 10 ** (-(3 + 9 * U(B, 1)) / 20 * ((f / corner).clamp(1, 4).log2() / 2).clamp(0, 1))
    x = torch.where((U(B) < 0.2 * st)[:, None], torch.fft.irfft(torch.fft.rfft(x) * low, N), x)
    rms = (x.pow(2).sum(1) / lens.clamp_min(1)).sqrt().clamp_min(1e-3)
    return (x * (32768 * 10 ** (-(12 + 33 * U(B)) / 20) / rms)[:, None]).clamp(-32768, 32767)


def colour(m, st):
    """A smooth tilt over the mel bins (a microphone), and masks over time and band."""
    B, T, D = m.shape; d = m.device; k = torch.linspace(-1, 1, D, device=d)
    m = m + st * (torch.randn(B, 1, 1, device=d) * 0.8 * k + torch.randn(B, 1, 1, device=d) * 0.6 * (k ** 2 - .33))
    for axis, n, width in ((2, 2, 9), (1, 2, 21)):
        for _ in range(n):
            size = m.shape[axis]; w = (torch.randint(0, width, (B, 1), device=d) * (torch.rand(B, 1, device=d) < 0.7 * st)); at = (torch.rand(B, 1, device=d) * size).long()
            i = torch.arange(size, device=d)[None]; hide = (i >= at) & (i < at + w)
            m = torch.where(hide[:, None, :] if axis == 2 else hide[:, :, None], m.mean((1, 2), keepdim=True), m)
    return m


# ---- alignment ----
def viterbi(x, frames, ph, nph, opt):
    """Best path of each utterance through its phones. x (B, T, 2P) scores; ph (B, N); opt (B, N) true where a silence may be skipped.
    Gives position of each frame (B, T), whether the frame enters it, and the score a frame."""
    B, T, _ = x.shape; N = ph.shape[1]; NEG = -1e30; d = x.device
    enter = torch.gather(x, 2, (2 * ph)[:, None].expand(B, T, N)); stay = torch.gather(x, 2, (2 * ph + 1)[:, None].expand(B, T, N))
    skip = F.pad(opt[:, :-1], (1, 0), value=False)
    a = torch.full((B, N), NEG, device=d); a[:, 0] = enter[:, 0, 0]; a[:, 1] = torch.where(opt[:, 0], enter[:, 0, 1], a[:, 1])
    back = torch.zeros(T, B, N, dtype=torch.int8, device=d)
    for t in range(1, T):
        c = torch.stack([a + stay[:, t], F.pad(a[:, :-1], (1, 0), value=NEG) + enter[:, t] - torch.where(opt, 1.9, 0.0), torch.where(skip, F.pad(a[:, :-2], (2, 0), value=NEG) + enter[:, t] - 0.16, NEG)])
        best, which = c.max(0); live = (t < frames)[:, None]; a = torch.where(live, best, a); back[t] = torch.where(live, which.to(torch.int8), 0)
    ar = torch.arange(B, device=d); last, prev = a[ar, nph - 1], torch.where(opt[ar, nph - 1], a[ar, (nph - 2).clamp_min(0)], NEG)
    j = torch.where(last >= prev, nph - 1, nph - 2); pos = torch.zeros(B, T, dtype=torch.long, device=d); ent = torch.zeros(B, T, dtype=torch.bool, device=d)
    for t in range(T - 1, -1, -1):
        b = back[t][ar, j].long(); pos[:, t] = j; ent[:, t] = (b > 0) | (t == 0); j = j - b
    return pos, ent, torch.maximum(last, prev) / frames


# ---- whole utterances: what was said against all that could be ----
@torch.jit.script
def all_paths(x, frames, move, first):
    """Every sequence of phones. x (B, T, 2P) scores, frames (B), move (P, P) and first (P): chances of one phone after another, and at the
    beginning. Gives the log of the sum over all paths (B) and each output's share in each frame (B, T, 2P)."""
    B, T, P = x.shape[0], x.shape[1], x.shape[2] // 2
    top = x.max(2)[0]
    e = (x - top[:, :, None]).exp().clamp_min(1e-25)
    live = (torch.arange(T, device=x.device)[None] < frames[:, None])[:, :, None]
    enter = torch.where(live, e[:, :, 0::2], torch.zeros_like(e[:, :, 0::2]))
    stay = torch.where(live, e[:, :, 1::2], torch.ones_like(e[:, :, 1::2]))
    a = first[None] * enter[:, 0]
    c = a.sum(1, keepdim=True)
    a = a / c
    before = [first[None].expand(B, P)]
    held = [torch.zeros_like(a)]
    norms = [c]
    for t in range(1, T):
        m = a @ move
        before.append(m)
        held.append(a)
        a = a * stay[:, t] + m * enter[:, t]
        c = a.sum(1, keepdim=True)
        a = a / c
        norms.append(c)
    b = torch.ones_like(a)
    after = [b]
    back = move.t().contiguous()
    for i in range(T - 1):
        t = T - 1 - i
        b = (b * stay[:, t] + (b * enter[:, t]) @ back) / norms[t]
        after.append(b)
    after.reverse()
    A, M, H, N = torch.stack(after, 1), torch.stack(before, 1), torch.stack(held, 1), torch.stack(norms, 1)
    share = torch.stack([M * enter * A / N, H * stay * A / N], 3).reshape(B, T, 2 * P)
    return N[:, :, 0].log().sum(1) + (top * live[:, :, 0]).sum(1), share * live


@torch.jit.script
def said_paths(x, frames, ph, nph, opt, step, leap, first):
    """The paths through each utterance's phones. ph (B, N) phones, nph (B) how many, opt (B, N) true where a silence may be skipped, step
    and leap (B, N) the log chance of coming from the phone before, or over a silence from the one before that; first (B, N) of beginning
    there. Gives what all_paths gives."""
    B, T, N = x.shape[0], x.shape[1], ph.shape[1]
    enter = torch.gather(x, 2, (2 * ph)[:, None].expand(B, T, N))
    stay = torch.gather(x, 2, (2 * ph + 1)[:, None].expand(B, T, N))
    live = (torch.arange(T, device=x.device)[None] < frames[:, None])[:, :, None]
    none = torch.full((B, 2), -1e30, device=x.device)
    enter = torch.where(live, enter, torch.full_like(enter, -1e30))
    stay = torch.where(live, stay, torch.zeros_like(stay))
    a = first + enter[:, 0]
    froms = [first]
    alphas = [a]
    for t in range(1, T):
        p = torch.cat([none, a], 1)
        f = torch.logaddexp(p[:, 1:-1] + step, p[:, :-2] + leap)
        a = torch.logaddexp(a + stay[:, t], f + enter[:, t])
        froms.append(f)
        alphas.append(a)
    at = torch.arange(N, device=x.device)[None]
    ends = (at == nph[:, None] - 1) | ((at == nph[:, None] - 2) & torch.gather(opt, 1, nph[:, None] - 1))
    end = torch.where(ends, torch.zeros_like(a), torch.full_like(a, -1e30))
    total = (a + end).logsumexp(1)
    b = end
    afters = [b]
    for i in range(T - 1):
        t = T - 1 - i
        f = torch.cat([b + enter[:, t], none], 1)
        s = torch.cat([step, none], 1)
        l = torch.cat([leap, none], 1)
        b = torch.logaddexp(b + stay[:, t], torch.logaddexp(f[:, 1:-1] + s[:, 1:-1], f[:, 2:] + l[:, 2:]))
        afters.append(b)
    afters.reverse()
    A, Fm = torch.stack(afters, 1), torch.stack(froms, 1)
    H = torch.cat([torch.full((B, 1, N), -1e30, device=x.device), torch.stack(alphas, 1)[:, :-1]], 1)
    z = total[:, None, None]
    share = torch.zeros_like(x)
    share.scatter_add_(2, (2 * ph)[:, None].expand(B, T, N), (Fm + enter + A - z).clamp(-80.0, 0.0).exp() * live)
    share.scatter_add_(2, (2 * ph + 1)[:, None].expand(B, T, N), (H + stay + A - z).clamp(-80.0, 0.0).exp() * live)
    return total, share


def chances(ph, opt, move, begin):
    """said_paths' step, leap and first, of phones (B, N) and which may be skipped (B, N), from all_paths' chances."""
    never = torch.full(ph.shape, -1e30, device=ph.device); step, leap, first = never.clone(), never.clone(), never.clone(); move, begin = move.log(), begin.log()
    step[:, 1:] = move[ph[:, :-1], ph[:, 1:]]; leap[:, 2:] = torch.where(opt[:, 1:-1], move[ph[:, :-2], ph[:, 2:]], never[:, 2:])
    first[:, :2] = begin[ph[:, :2]]
    return step, leap, first


class Whole(torch.autograd.Function):
    """Log share of what was said among all paths (B); its gradient is the difference of both shares."""
    @staticmethod
    def forward(ctx, x, frames, move, begin, ph, nph, opt):
        al, den = all_paths(x, frames, move, begin); said, num = said_paths(x, frames, ph, nph, opt, *chances(ph, opt, move, begin))
        got = said - al; fine = torch.isfinite(got) & (got > -1e4); ctx.save_for_backward((num - den) * fine[:, None, None])
        return torch.where(fine, got, torch.zeros_like(got))

    @staticmethod
    def backward(ctx, g): return (ctx.saved_tensors[0] * g[:, None, None],) + (None,) * 6


def main():
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument('--packs', nargs='+', required=True); ap.add_argument('--phones', required=True); ap.add_argument('--out', default='out')
    ap.add_argument('--init', required=True, help='a checkpoint'); ap.add_argument('--from-net', help='a net.npz whose weights take the place of the checkpoint\'s, but for the training-only head'); ap.add_argument('--minutes', type=float, default=22); ap.add_argument('--lr', type=float, default=1e-3)
    ap.add_argument('--batch-seconds', type=float, default=600); ap.add_argument('--teach', type=float, default=0.3, help='share of the target that is the teacher\'s')
    ap.add_argument('--prior', type=float, default=0.5, help='how much of the log of the phones\' shares the output bias loses'); ap.add_argument('--drop', type=float, default=0.1); ap.add_argument('--seed', type=int, default=1); ap.add_argument('--average', type=float, default=0.9995)
    ap.add_argument('--whole', type=float, default=0.0, help='weight of whole utterances beside frames'); ap.add_argument('--whole-scale', type=float, default=0.0, help='of the scores in that; 0: where the share is greatest at first')
    ap.add_argument('--cap', type=float, default=0.6, help='share of the single words taken each round'); ap.add_argument('--rounds', type=int, default=2, help='alignments made')
    a = ap.parse_args(); t0 = time.time(); dev = 'cuda' if torch.cuda.is_available() else 'cpu'
    say = lambda *w: print(f'{time.time() - t0:.0f}s', *w, flush=True)
    torch.manual_seed(a.seed); random.seed(a.seed); np.random.seed(a.seed)
    torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
    phones = open(a.phones).read().split(); pid = {p: i for i, p in enumerate(phones)}; P = len(phones); SIL, SPN = pid['SIL'], pid['SPN']
    utts = list(load(sorted(f for g in a.packs for f in glob.glob(g))))
    noise = [x for x, m in utts if m['kind'] == 'noise' and m['key'][2] % 5 != 4]     # every fifth noise clip is kept for tests
    test = [(x, m) for x, m in utts if m['kind'] == 'test' and len(x) < 12 * RATE]
    train = [(x, m) for x, m in utts if m['kind'] == 'train' and 0.3 < len(x) / RATE < 17]
    say(f'loaded {len(train)} utterances, {sum(len(x) for x, _ in train) / RATE / 3600:.2f} h; {len(test)} to test; {len(noise)} noises')
    audio = torch.tensor(np.concatenate([x for x, _ in train]), device=dev); start = np.cumsum([0] + [len(x) for x, _ in train])
    bank = torch.tensor(np.concatenate([x for x, _ in random.sample(train, min(len(train), 1500))]), device=dev); noises = torch.tensor(np.concatenate(noise or [np.zeros(RATE, np.int16)]), device=dev)
    mf = Mfcc().to(dev); net = Net(2 * P, drop=a.drop).to(dev); net.load_state_dict({k: v.float() if v.is_floating_point() else v for k, v in torch.load(a.init, map_location=dev).items()})
    if a.from_net: adopt(net, a.from_net)
    teacher = Net(2 * P).to(dev); teacher.load_state_dict(net.state_dict()); teacher.eval()
    mean = Net(2 * P).to(dev); mean.load_state_dict(net.state_dict()); mean.eval()
    def sequence(m):
        ph, opt = [SIL], [True]
        for v in m['prons']:
            w = [pid[p] for p in random.choice(v).split()] if v else [SPN]; ph += w + [SIL]; opt += [False] * len(w) + [True]
        return ph, opt
    def padded(seqs):
        N = max(len(p) for p, _ in seqs); ph = torch.full((len(seqs), N), SIL); op = torch.zeros(len(seqs), N, dtype=torch.bool)
        for k, (p, o) in enumerate(seqs): ph[k, :len(p)] = torch.tensor(p); op[k, :len(p)] = torch.tensor(o)
        return ph.to(dev), torch.tensor([len(p) for p, _ in seqs], device=dev), op.to(dev)
    def logprior(n, lp, mask): n += (lp.exp() * mask[..., None]).sum((0, 1)); return (n / n.sum()).clamp_min(1e-5).log()
    al = [None] * len(train); heard = [None] * len(train); say('audio is on the device')
    @torch.no_grad()
    def realign(by):
        seen = torch.zeros(2 * P, device=dev); order = sorted(range(len(train)), key=lambda i: len(train[i][0])); score = np.full(len(train), -1e9)
        for c in (order[k:k + 96] for k in range(0, len(order), 96)):
            lens = torch.tensor([len(train[i][0]) for i in c], device=dev); X = torch.zeros(len(c), int(lens.max()) + 400, device=dev)
            for r, i in enumerate(c): X[r, :len(train[i][0])] = audio[start[i]:start[i + 1]].float()
            To = (((lens - 400) // 160 + 1).clamp_min(1) + 2) // 3; lp = F.log_softmax(by(mf(mf.logmel(X)))[0].float(), 2)[:, :int(To.max())]
            mask = torch.arange(lp.shape[1], device=dev)[None] < To[:, None]; x = 0.6 * (lp - 0.8 * logprior(seen, lp, mask))
            for _ in range(3):                         # three draws among the pronunciations; the best-scoring one stays
                seqs = [sequence(train[i][1]) for i in c]; ph, nph, opt = padded(seqs); pos, ent, sc = viterbi(x, To, ph, nph, opt)
                sc = sc.cpu().numpy(); lab = (2 * torch.gather(ph, 1, pos) + (~ent)).cpu().numpy(); T = To.cpu().numpy()
                for k, i in enumerate(c):
                    if sc[k] > score[i] and T[k] >= sum(not o for o in seqs[k][1]): score[i] = sc[k]; al[i] = lab[k, :T[k]].astype(np.int64); heard[i] = seqs[k]
        source = np.array([m['src'] for _, m in train])
        for s in sorted(set(source)):                  # the worst 2 % of each source: clips that hold something else than their text
            k = np.nonzero(source == s)[0]; bar = np.quantile(score[k], 0.02) if len(k) > 20 else -1e8
            for i in k:
                if score[i] <= bar: al[i] = None
        say(f'aligned {sum(v is not None for v in al)} of {len(al)}, score {np.median(score):.3f}')
    @torch.no_grad()
    def errors(net):
        """Phone error of the plain best path (no phone model), and frame entropy, on kind test."""
        net.eval(); wrong = total = 0
        for k in range(0, len(test), 32):
            part = test[k:k + 32]; lens = torch.tensor([len(x) for x, _ in part], device=dev); X = torch.zeros(len(part), int(lens.max()) + 400, device=dev)
            for r, (x, _) in enumerate(part): X[r, :len(x)] = torch.tensor(x, device=dev).float()
            To = (((lens - 400) // 160 + 1) + 2) // 3; best = net(mf(mf.logmel(X)))[0].argmax(2).cpu().numpy() // 2
            for j, (_, m) in enumerate(part):
                hyp, prev = [], SIL
                for p in best[j, :int(To[j])]:
                    if p != SIL and p != prev: hyp.append(p)
                    prev = p
                ref = [pid[p] for v in m['prons'] for p in (v[0].split() if v else [])]; row = list(range(len(ref) + 1))
                for i, h in enumerate(hyp):
                    left, row[0] = row[0], i + 1
                    for q, r_ in enumerate(ref): left, row[q + 1] = row[q + 1], min(row[q + 1] + 1, row[q] + 1, left + (h != r_))
                wrong += row[-1]; total += len(ref)
        return wrong / max(total, 1)
    def batches():
        pool = [i for i, (_, m) in enumerate(train) if al[i] is not None and ('speech-commands' not in m['src'] or random.random() < a.cap)]; random.shuffle(pool)
        items, cur, want, tot = [], [], random.uniform(1, 6), 0.0
        for i in pool:                                 # long utterances alone, short ones joined with pauses between
            l = len(train[i][0]) / RATE
            if l > 4: items.append([i]); continue
            cur.append(i); tot += l + 0.4
            if tot > want: items.append(cur); cur, want, tot = [], random.uniform(1, 6), 0.0
        dur = [sum(len(train[i][0]) for i in g) / RATE + 0.5 * len(g) for g in items]; out, cur, longest = [], [], 0
        for k in sorted(range(len(items)), key=lambda k: dur[k] * random.uniform(0.9, 1.1)):
            if cur and max(longest, dur[k]) * (len(cur) + 1) > a.batch_seconds: out.append(cur); cur, longest = [], 0
            cur.append(items[k]); longest = max(longest, dur[k])
        random.shuffle(out); return out
    speeds = (0.88, 0.92, 0.96, 1.0, 1.04, 1.08, 1.12)
    def make(groups, st):
        sp = random.choice(speeds); S, D, L, G, segs, lens = [], [], [], [], [], []
        for r, g in enumerate(groups):
            pos, seg = 0, []
            for k, i in enumerate(g):
                if k: pos += int(RATE * random.uniform(0.05, 0.7))
                n = len(train[i][0]); S.append(int(start[i])); D.append((r, pos)); L.append(n); G.append(random.uniform(0.6, 1.6) if len(g) > 1 else 1.0); seg.append((pos, i)); pos += n
            segs.append(seg); lens.append(pos)
        N = max(lens) + 1600; Lt = torch.tensor(L, device=dev); total = sum(L); first = Lt.cumsum(0) - Lt; ar = torch.arange(total, device=dev)
        spread = lambda v: torch.repeat_interleave(torch.tensor(v, device=dev), Lt, output_size=total)
        X = torch.zeros(len(groups) * N, device=dev); shift = torch.repeat_interleave(first, Lt, output_size=total)
        X[ar - shift + spread([r * N + p for r, p in D])] = audio[ar - shift + spread(S)].float() * spread(G)
        X = X.view(len(groups), N).clamp_(-32768, 32767); l = torch.tensor(lens, device=dev)
        if sp != 1.0: X = F.interpolate(X[:, None], scale_factor=1 / sp, mode='linear', align_corners=False)[:, 0]; l = (l / sp).long()
        fl = ((l - 400) // 160 + 1).clamp_min(1); To = (fl + 2) // 3; cutT = int(fl.max())
        with torch.no_grad():
            clean = mf(mf.logmel(X))[:, :cutT]; hard = mf(colour(mf.logmel(augment(X, l, st, bank, noises), True), st))[:, :cutT]
        lab = np.full((len(groups), int(To.max())), 2 * SIL + 1); at = np.arange(lab.shape[1]) * 480 * sp
        for k, seg in enumerate(segs):
            for pos, i in seg:
                v = al[i]; lo, hi = np.searchsorted(at, pos), np.searchsorted(at, pos + len(train[i][0])); j = ((at[lo:hi] - pos) / 480).astype(int).clip(0, len(v) - 1)
                y = v[j].copy(); jump = np.concatenate([[j[0] if len(j) else 0], np.diff(j)]) if len(j) else j
                # a frame dropped by a faster speed may have been the one that enters its phone
                for q in np.nonzero(jump > 1)[0]:
                    if y[q] % 2 and (v[j[q] - jump[q] + 1:j[q]] == y[q] - 1).any(): y[q] -= 1
                y[1:][(np.diff(j) == 0) & (y[1:] % 2 == 0)] += 1
                lab[k, lo:hi] = y
        return clean, hard, To, torch.tensor(lab, device=dev)
    os.makedirs(a.out, exist_ok=True)
    def shares():
        n = np.bincount(np.concatenate([v for v in al if v is not None]), minlength=2 * P) + 1.0; return np.log(n / n.sum())
    def save():
        torch.save({k: v.half() if v.is_floating_point() else v for k, v in mean.state_dict().items()}, f'{a.out}/net_f16.pt'); export(mean, f'{a.out}/net.npz', a.prior * shares())
    say(f'phone error at first {errors(net):.4f}'); realign(teacher); net.train()
    if a.from_net:                                     # its bias was exported as a likelihood's: back to a posterior's
        with torch.no_grad():
            for n in (net, teacher, mean): n.out.bias += torch.tensor(a.prior * shares(), device=dev, dtype=torch.float32)
        say(f'phone error with the shares given back {errors(net):.4f}'); net.train()
    def bigram():
        """Chances of one phone after another, and at the beginning, by what was said, single words as often as they are drawn; a twentieth is flat."""
        pairs = np.full((P, P), 1e-3)
        for i in range(len(train)):
            if heard[i] is not None:
                w = a.cap if 'speech-commands' in train[i][1]['src'] else 1.0; p = [SIL] + [q for q, o in zip(*heard[i]) if not o or random.random() < 0.3] + [SIL]
                for u, v in zip(p, p[1:]): pairs[u, v] += w
        move = pairs / pairs.sum(1, keepdims=True) * 0.95 + 0.05 / P; begin = move[SIL].copy(); begin[SIL] = 0.5; begin /= begin.sum()
        return [torch.tensor(v, device=dev, dtype=torch.float32) for v in (move, begin)]
    def joined(groups):
        out = []
        for g in groups:
            ph, op = [], []
            for i in g:
                p, o = heard[i]; k = 1 if ph and ph[-1] == SIL else 0; ph += p[k:]; op += o[k:]
            out.append((ph, op))
        return padded(out)
    def whole(lg, To, groups, scale):
        return Whole.apply(scale * (lg - offset), To, move, begin, *joined(groups)) / To
    @torch.no_grad()
    def scales():
        """The share of what was said, a frame, at several scales; the scale where it is greatest."""
        net.eval(); sums = {s: [] for s in (0.3, 0.4, 0.5, 0.6, 0.7, 0.85, 1.0)}
        for groups in batches()[:8]:
            clean, hard, To, _ = make(groups, 0.7); lg = net(hard)[0].float()
            for s in sums: sums[s].append(float(whole(lg, To, groups, s).mean()))
        net.train(); sums = {s: float(np.mean(v)) for s, v in sums.items()}; say('share of what was said, a frame: ' + ' '.join(f'{s}:{v:.4f}' for s, v in sums.items()))
        return max(sums, key=sums.get)
    if a.whole: move, begin = bigram(); offset = torch.tensor(a.prior * shares(), device=dev, dtype=torch.float32); scale = a.whole_scale or scales()
    opt = torch.optim.AdamW(net.parameters(), lr=a.lr, betas=(0.9, 0.98), weight_decay=0.02); begun, it, again, shown = time.time(), 0, 1, time.time()
    done = False
    while not done:
        for groups in batches():
            pr = (time.time() - begun) / (60 * a.minutes)
            if pr >= 1: done = True; break
            st = min(1.0, 0.4 + 2 * pr)
            for g in opt.param_groups: g['lr'] = a.lr * (pr / 0.03 if pr < 0.03 else max(0.01, 0.5 * (1 + math.cos(math.pi * (pr - 0.03) / 0.97))))
            clean, hard, To, lab = make(groups, st); mask = torch.arange(lab.shape[1], device=dev)[None] < To[:, None]
            with torch.no_grad(), torch.autocast(dev, torch.bfloat16): soft = F.softmax(teacher(clean)[0].float(), 2)[mask]
            with torch.autocast(dev, torch.bfloat16): lg, xe = net(hard)
            also = -a.whole / scale * whole(lg.float(), To, groups, scale).mean() if a.whole else 0.0
            lg, y = lg.float()[mask], lab[mask]; lp = F.log_softmax(lg, 1)
            loss = (1 - a.teach) * F.cross_entropy(lg, y, label_smoothing=0.02) - a.teach * (soft * lp).sum(1).mean() + 0.3 * F.cross_entropy(xe.float()[mask], y) + also
            opt.zero_grad(set_to_none=True); loss.backward(); norm = torch.nn.utils.clip_grad_norm_(net.parameters(), 2.0)
            if torch.isfinite(norm): opt.step()
            it += 1; keep = min(a.average, it / (it + 20))
            with torch.no_grad():
                ps, ms = list(net.state_dict().values()), list(mean.state_dict().values())
                torch._foreach_lerp_([m for m in ms if m.is_floating_point()], [p for p in ps if p.is_floating_point()], 1 - keep)
            if it % 200 == 0: say(f'update {it} rows {len(groups)} loss {float(loss):.4f} whole {float(also):.4f} right {float((lg.argmax(1) == y).float().mean()):.3f} norm {float(norm):.2f} lr {opt.param_groups[0]["lr"]:.5f}')
            if time.time() - shown > 120:
                shown = time.time(); save(); say(f'phone error {errors(net):.4f}, of the average {errors(mean):.4f}'); net.train()
        if again < a.rounds and time.time() - begun > 60 * a.minutes * again / a.rounds: again += 1; realign(mean)
    if a.whole: scales()
    save(); say(f'phone error at the end {errors(net):.4f}, of the average {errors(mean):.4f}')


if __name__ == '__main__': main()
