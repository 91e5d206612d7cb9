"""Fit the evidence of src/acoustic/evidence.rs to the development set, and show what its two thresholds do there.

    fit.py OUT --bin EARS --model FOLDER --library FOLDER [--answers FILE] [--write src/acoustic/evidence.txt]

Three small networks (scikit-learn's MLPClassifier, one hidden layer of tanh), averaged; callouts and other findings weigh the same. Prints for
each threshold what is heard and how many false alarms an hour there are, cross-validated; and for the second listen, by the program's own
thresholds, how much of what was missed is found again and how much of what was left out. --answers keeps what the ears made of
the set, which takes a while, or takes it from there.
"""
import collections
import json
import os
import warnings

import numpy as np
from sklearn.exceptions import ConvergenceWarning
from sklearn.neural_network import MLPClassifier

import hearing
from ears import wanted
from hearing import judged

HIDDEN, NETWORKS, RIDGE, ROUNDS, FOLDS = 16, 3, 0.1, 60, 5


def again(a, b):
    """Whether two findings are the same phrase in the same place."""
    return a["phrase"] == b["phrase"] and a["start"] < b["end"] and b["start"] < a["end"]


def fitted(x, y):
    """Mean and spread of the measures, and the networks."""
    mean, spread = x.mean(0), x.std(0) + 1e-9
    rng = np.random.RandomState(1)
    right, wrong = np.nonzero(y == 1)[0], np.nonzero(y == 0)[0]
    rows = np.r_[rng.choice(right, len(wrong)), wrong]
    nets = [MLPClassifier((HIDDEN,), activation="tanh", alpha=RIDGE, max_iter=ROUNDS, random_state=seed, learning_rate_init=3e-3)
            .fit(((x - mean) / spread)[rows], y[rows]) for seed in range(NETWORKS)]
    return mean, spread, nets


def probability(model, x):
    mean, spread, nets = model
    return np.mean([n.predict_proba((x - mean) / spread)[:, 1] for n in nets], 0)


def written(model, path):
    """As evidence.rs reads it: numbers, a row a line."""
    mean, spread, nets = model
    rows = [mean, spread]
    for net in nets:
        # Each hidden unit's weights and its bias, then the output's.
        rows += [np.r_[net.coefs_[0][:, k], net.intercepts_[0][k]] for k in range(HIDDEN)]
        rows.append(np.r_[net.coefs_[1][:, 0], net.intercepts_[1]])
    with open(path, "w", encoding="utf8") as f:
        f.writelines(" ".join(f"{v:.5g}" for v in row) + "\n" for row in rows)


def main():
    ap = hearing.arguments()
    ap.add_argument("--answers")
    ap.add_argument("--write")
    a = ap.parse_args()
    warnings.simplefilter("ignore", ConvergenceWarning)
    jobs = [j for j in json.load(open(a.out + "/jobs.json")) if j["split"] == "development"]
    vocabulary = json.load(open(a.out + "/vocabulary.json"))
    if a.answers and os.path.exists(a.answers):
        kept = json.load(open(a.answers))
        answers = [kept[j["name"]] for j in jobs if j["name"] in kept]
        jobs = [j for j in jobs if j["name"] in kept]
    else:
        answers = hearing.ours(a.bin, a.model, a.library, jobs, vocabulary, seek=wanted, measure=True)
        if a.answers:
            json.dump({j["name"]: x for j, x in zip(jobs, answers)}, open(a.answers, "w"))
    rows, said, hours = [], collections.Counter(), collections.Counter()
    for job, answer in zip(jobs, answers):
        key = (job["kind"], job.get("condition", job["grammar"]))
        hours[key] += answer["seconds"] / 3600
        if "truth" in job:
            said[key] += len(job["truth"])
            marks = list(zip(answer["measured"], judged(job, answer["measured"], vocabulary)))
            right = [f for f, k in marks if k is not None]
            # What was found once more in the sound before the next utterance is right too, and counts once.
            rows += [(f["measures"], k is not None, key) for f, k in marks if k is not None or not any(again(f, r) for r in right)]
        else:
            text = " " + job["text"] + " "
            for phrase in sorted({f["phrase"] for f in answer["measured"]}):
                here = sorted((f for f in answer["measured"] if f["phrase"] == phrase), key=lambda f: -f["ratio"])
                first = [f for k, f in enumerate(here) if not any(again(f, g) for g in here[:k])]
                read = first[:text.count(f" {phrase} ")]
                rows += [(f["measures"], False, key) for f in here if not any(again(f, r) for r in read)]
    x, y = np.array([r[0] for r in rows]), np.array([r[1] for r in rows], float)
    if a.write:
        written(fitted(x, y), a.write)
    fold = np.random.RandomState(0).randint(0, FOLDS, len(x))
    p = np.zeros(len(x))
    for k in range(FOLDS):
        p[fold == k] = probability(fitted(x[fold != k], y[fold != k]), x[fold == k])
    for threshold in (0, .2, .3, .4, .5, .6, .65, .7, .75, .8, .85, .9, .95):
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
