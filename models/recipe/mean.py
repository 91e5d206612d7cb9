#!/usr/bin/env python3
"""The mean of several trained networks that began as one: often better than each of them.

    mean.py OUT.npz A.npz B.npz [...]

Each weight of OUT.npz is the mean of the others'; all must have the same layers. Needs numpy.
"""
import sys

import numpy as np


def main():
    if len(sys.argv) < 4:
        sys.exit("say: mean.py OUT.npz A.npz B.npz [...]")
    nets = [np.load(f) for f in sys.argv[2:]]
    for name, net in zip(sys.argv[3:], nets[1:]):
        if net.files != nets[0].files or str(net["spec"]) != str(nets[0]["spec"]):
            sys.exit(f"{name} has other layers than {sys.argv[2]}; only networks of one kind have a mean")
    mean = {k: v if v.dtype.kind == "U" else np.mean([n[k].astype("f8") for n in nets], 0).astype(v.dtype) for k, v in nets[0].items()}
    np.savez_compressed(sys.argv[1], **mean)


if __name__ == "__main__":
    main()
