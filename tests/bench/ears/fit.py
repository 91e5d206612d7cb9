"""Fit the evidence of src/acoustic/evidence.rs to the development set, and show what its two thresholds do there.

    fit.py OUT --bin EARS --model FOLDER --library FOLDER

A logistic regression, callouts and other findings weighing the same, with a little ridge. Prints the weights in the order of `measures`,
then for each threshold what is heard and how many false alarms an hour there are; and for the second listen, how much of what
was missed is found again and how much of what was left out.
"""
import collections
import json

import numpy as np

import hearing
from ears import wanted
from hearing import judged


def logistic(x, y, weight, ridge=3e-4):
    x = np.hstack([x, np.ones((len(x), 1))])
    b = np.zeros(x.shape[1])
    for _ in range(60):
        p = 1 / (1 + np.exp(-x @ b))
        gradient = x.T @ (weight * (p - y)) + ridge * len(y) * np.r_[b[:-1], 0]
        step = np.linalg.solve((x * (weight * p * (1 - p))[:, None]).T @ x + ridge * len(y) * np.eye(len(b)), gradient)
        b -= step
        if np.abs(step).max() < 1e-9:
            break
    return b


def main():
    a = hearing.arguments().parse_args()
    jobs = [j for j in json.load(open(a.out + "/jobs.json")) if j["split"] == "development"]
    vocabulary = json.load(open(a.out + "/vocabulary.json"))
    answers = hearing.ours(a.bin, a.model, a.library, jobs, vocabulary, seek=wanted, measure=True)
    json.dump(answers, open(a.out + "/development.json", "w"))
    rows, said, hours = [], collections.Counter(), collections.Counter()
    for job, answer in zip(jobs, answers):
        key = (job["kind"], job.get("condition", job["grammar"]))
        hours[key] += answer["seconds"] / 3600
        if "truth" in job:
            said[key] += len(job["truth"])
            rows += [(f["measures"], k is not None, key) for f, k in zip(answer["measured"], judged(job, answer["measured"], vocabulary))]
        else:
            text, count = " " + job["text"] + " ", collections.Counter()
            for f in sorted(answer["measured"], key=lambda f: -f["ratio"]):
                count[f["phrase"]] += 1
                if count[f["phrase"]] > text.count(f" {f['phrase']} "):
                    rows.append((f["measures"], False, key))
    x, y = np.array([r[0] for r in rows]), np.array([r[1] for r in rows], float)
    weight = np.where(y == 1, 0.5 / y.mean(), 0.5 / (1 - y.mean()))
    mean, spread = x.mean(0), x.std(0) + 1e-9
    b = logistic((x - mean) / spread, y, weight)
    w = b[:-1] / spread
    constant = b[-1] - w @ mean
    print("const WEIGHTS: [f64; 11] = [" + ", ".join(f"{v:.4f}" for v in [*w, constant]) + "];")
    p = 1 / (1 + np.exp(-(x @ w + constant)))
    for threshold in (0, .2, .3, .4, .5, .6, .65, .7, .75, .8, .85, .9):
        line = []
        for key in sorted(hours):
            here = np.array([r[2] == key for r in rows]) & (p >= threshold)
            if said[key]:
                line.append(f"{key[0]} {key[1]}: {(here & (y == 1)).sum() / said[key]:.3f} heard, {(here & (y == 0)).sum()} wrong")
            else:
                line.append(f"{key[0]} {key[1]}: {(here & (y == 0)).sum() / hours[key]:.1f} an hour")
        print(f"called at {threshold:.2f}:", "; ".join(line))
    # The second listen answers with the thresholds that the program holds.
    lost, absent = collections.Counter(), collections.Counter()
    for job, answer in zip(jobs, answers):
        if job["kind"] == "callouts":
            hits, c = set(judged(job, answer["found"], vocabulary)), job["condition"]
            for k, found in enumerate(answer["sought"]):
                if k >= len(job["truth"]):
                    if not any(hearing.same(vocabulary, job["grammar"], job["absent"][k - len(job["truth"])], p) for p, _, _ in job["truth"]):
                        absent[c, bool(found)] += 1
                elif k not in hits:
                    lost[c, bool(found)] += 1
    for c in sorted({c for c, _ in lost}):
        print(f"second listen, {c}: {lost[c, True]} of {lost[c, True] + lost[c, False]} missed, {absent[c, True]} of {absent[c, True] + absent[c, False]} left out")


if __name__ == "__main__":
    main()
