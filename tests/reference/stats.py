"""Reference values for src/history, by scipy and statsmodels on random cases.

    python stats.py generate > tests/data/stats.jsonl     writes the cases with their values
    python stats.py verify tests/data/stats.jsonl         computes them again, prints how many are equal
"""
import json
import random
import sys

import numpy as np
from scipy import stats
from statsmodels.stats.inter_rater import cohens_kappa
from statsmodels.stats.proportion import proportion_confint


def value(case):
    kind = case["kind"]
    if kind == "wilson":
        return list(map(float, proportion_confint(case["hits"], case["of"], 1 - case["level"], "wilson")))
    if kind == "jeffreys":
        a, b, tail = case["hits"] + 0.5, case["of"] - case["hits"] + 0.5, (1 - case["level"]) / 2
        return [float(stats.beta.ppf(tail, a, b)), float(stats.beta.ppf(1 - tail, a, b))]
    if kind == "percentile":  # rank p(N+1), NIST's; numpy calls it "weibull"
        return [float(np.percentile(case["values"], case["p"] * 100, method="weibull"))]
    if kind == "kappa":
        return [float(cohens_kappa(np.array(case["table"])).kappa)]
    if kind == "curve":  # least squares on logarithms: level, rate, AICc, and the chance to be within the limit in the next run
        y = np.log(case["times"])
        n = len(y)
        k = np.arange(1, n + 1, dtype=float)
        x = {"Level": None, "Power": np.log(k), "Exponential": k}[case["shape"]]
        design = np.ones((n, 1)) if x is None else np.column_stack([np.ones(n), x])
        fitted, *_ = np.linalg.lstsq(design, y, rcond=None)
        rest = float(np.sum((y - design @ fitted) ** 2))
        p = design.shape[1] + 1
        aicc = n * np.log(rest / n) + 2 * p + 2 * p * (p + 1) / (n - p - 1)
        spread = np.sqrt(rest / (n - design.shape[1]))
        new = np.array([1.0] if x is None else [1.0, np.log(n + 1) if case["shape"] == "Power" else n + 1.0])
        deviation = spread * np.sqrt(1 + new @ np.linalg.inv(design.T @ design) @ new)
        z = (np.log(case["limit"]) - new @ fitted) / deviation
        rate = 0.0 if x is None else -fitted[1]
        return [float(np.exp(fitted[0])), float(rate), float(aicc), float(stats.t.cdf(z, n - design.shape[1]))]
    raise ValueError(kind)


def cases():
    draw = random.Random(20261126)
    for _ in range(120):
        of = draw.randint(1, 400)
        hits = draw.choice([0, of, draw.randint(0, of), draw.randint(0, of)])
        for kind in ("wilson", "jeffreys"):
            yield {"kind": kind, "hits": hits, "of": of, "level": draw.choice([0.8, 0.9, 0.95, 0.99])}
    for _ in range(80):
        values = [round(draw.lognormvariate(4, 0.5), 4) for _ in range(draw.randint(1, 40))]
        yield {"kind": "percentile", "values": values, "p": round(draw.uniform(0.02, 0.98), 3)}
    for _ in range(60):
        yield {"kind": "kappa", "table": [[draw.randint(1, 40), draw.randint(0, 20)], [draw.randint(0, 20), draw.randint(1, 40)]]}
    for _ in range(80):
        n = draw.randint(6, 60)
        rate, wobble = draw.uniform(0, 0.05), draw.uniform(0.02, 0.2)
        times = [round(1500 * np.exp(-rate * k + draw.gauss(0, wobble)), 3) for k in range(n)]
        yield {"kind": "curve", "shape": draw.choice(["Level", "Power", "Exponential"]), "times": times, "limit": round(draw.uniform(400, 1800), 1)}


if sys.argv[1] == "generate":
    for case in cases():
        print(json.dumps({**case, "value": value(case)}))
else:
    stored = [json.loads(line) for line in open(sys.argv[2])]
    equal = sum(np.allclose(case["value"], value(case), rtol=1e-9, atol=1e-12) for case in stored)
    print(json.dumps({"cases": len(stored), "equal": int(equal)}))
