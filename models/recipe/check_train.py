#!/usr/bin/env python3
"""Check train.py's sums over whole utterances: on three phones and a few frames every path can be listed, and every gradient taken by differences.

    check_train.py

Needs torch, but no GPU. Says what differs and exits with 1, or says how much was alike.
"""
import itertools
import math
import sys

import torch

from train import Whole, all_paths, chances, said_paths

PHONES, FRAMES = 3, (6, 4)


def listed(x, frames, move, begin, wanted):
    """Log of the sum over all paths, and over those whose phones are in wanted."""
    every, some = 0.0, 0.0
    for path in itertools.product(range(2 * PHONES), repeat=frames):
        # An even output enters its phone, an odd one stays in it.
        if path[0] % 2:
            continue
        phones, chance = [path[0] // 2], float(begin[path[0] // 2]) * math.exp(x[0][path[0]])
        for t, output in enumerate(path[1:], 1):
            if output % 2 and output // 2 != phones[-1]:
                break
            if output % 2 == 0:
                chance *= float(move[phones[-1], output // 2])
                phones.append(output // 2)
            chance *= math.exp(x[t][output])
        else:
            every += chance
            some += chance if tuple(phones) in wanted else 0.0
    return math.log(every), math.log(some)


def main():
    torch.manual_seed(0)
    x, frames = torch.randn(2, max(FRAMES), 2 * PHONES), torch.tensor(FRAMES)
    move, begin = torch.rand(PHONES, PHONES), torch.rand(PHONES)
    move /= move.sum(1, keepdim=True)
    # Silence is phone 0; it may be left out where opt says so.
    ph, nph, opt = torch.tensor([[0, 1, 2, 0], [0, 2, 0, 0]]), torch.tensor([4, 3]), torch.tensor([[1, 0, 0, 1], [1, 0, 1, 0]]).bool()
    said = (ph, nph, opt)
    every, shares = all_paths(x, frames, move, begin)
    some, heard = said_paths(x, frames, *said, *chances(ph, opt, move, begin))
    wrong = 0
    for b in range(2):
        row = [(int(p), bool(o)) for p, o in zip(ph[b][:nph[b]], opt[b])]
        wanted = {tuple(p for (p, _), k in zip(row, keep) if k) for keep in itertools.product((0, 1), repeat=len(row)) if all(k or o for (_, o), k in zip(row, keep))}
        for name, ours, theirs in zip(("all", "said"), (every[b], some[b]), listed(x[b].tolist(), FRAMES[b], move, begin, wanted)):
            if abs(float(ours) - theirs) > 1e-4:
                wrong += 1
                print(f"utterance {b}, {name}: {float(ours):.6f}, by listing {theirs:.6f}")
        for name, share in (("all", shares), ("said", heard)):
            if (share[b, :FRAMES[b]].sum(1) - 1).abs().max() > 1e-4 or share[b, FRAMES[b]:].abs().sum() > 0:
                wrong += 1
                print(f"utterance {b}, {name}: the outputs' shares of a frame do not add up to 1")
    x.requires_grad_()
    Whole.apply(x, frames, move, begin, *said).sum().backward()
    for place in itertools.product(range(2), range(max(FRAMES)), range(2 * PHONES)):
        around = []
        for d in (1e-2, -1e-2):
            y = x.detach().clone()
            y[place] += d
            around.append(float(Whole.apply(y, frames, move, begin, *said).sum()))
        if abs((around[0] - around[1]) / 2e-2 - float(x.grad[place])) > 1e-3:
            wrong += 1
            print(f"gradient at {place}: {float(x.grad[place]):.5f}, by differences {(around[0] - around[1]) / 2e-2:.5f}")
    print(f"{wrong} of {2 * 4 + 2 * max(FRAMES) * 2 * PHONES} differ")
    sys.exit(wrong > 0)


if __name__ == "__main__":
    main()
