"""Fit the evidence of src/acoustic/evidence.rs to the development set, and show what its two thresholds do there.

    fit.py OUT --bin EARS --model FOLDER --library FOLDER [--answers FILE] [--also FILE] [--write src/acoustic/evidence.txt]

A small forest (scikit-learn's ExtraTreesClassifier) whose answer is made a probability by a logistic curve (Platt 1999) fitted to what
it says of recordings that it was not grown on, noise alone left out. In the forest callouts and other findings weigh the same, people with
another first language and reading more, noise alone less. Prints for each threshold what is heard and how many false alarms an hour there are, cross-validated by voice and
recording; and for the second listen, by the program's own weights, how much of what was missed is found again and how much of what
nobody said there, and what the weights would be. --answers keeps what the ears made of the set, which takes a while, or takes it from there. --also: what the ears made of
it with another network; the forest grows on that too, and nothing that is printed is.
"""
import collections
import json
import os

import numpy as np
from sklearn.ensemble import ExtraTreesClassifier
from sklearn.linear_model import LogisticRegression
from sklearn.model_selection import PredefinedSplit, cross_val_predict

import hearing
from ears import AGAIN, perhaps, second_listen, wanted
from hearing import judged

TREES, LEAVES, SMALLEST, TRIED, FOLDS = 100, 300, 3, 8, 5
# By how much a phrase by somebody whose first language is another weighs more: there are few of them, and they are heard worst.
SECOND = 5
# As how many hours of it for each grammar reading weighs: there are few findings in it beside other things said alone.
TALK = 4.6
# How much a finding in noise alone weighs: clips that lie one after another hold far more of them than a room does.
NOISE = 0.5
# As far from 0 and 1 as the forest's answer is held; evidence.rs holds it as far.
EDGE = 0.002
# Where evidence.rs draws the lines: for phrases of more than SHORT phones, and for the others. (Here by the phones that were found, there by the
# fewest that the phrase can have: not the same behind carrier words, or where a word has a shorter way.)
CALLED, SHORT = (0.55, 0.80), 3
# Beside the evidence, the measures by which the second listen goes; and the share of callouts sought where nobody said them that it may find.
LOOKED_AT, WRONG = [12, 4, 17], 0.015


def again(a, b):
    """Whether two findings are the same phrase in the same place."""
    return a["phrase"] == b["phrase"] and a["start"] < b["end"] and b["start"] < a["end"]


def stands(job, found, vocabulary):
    """Whether a finding stands for what was said there: both share more than half of the longer one's time."""
    def meets(start, end):
        return min(end, found["end"]) - max(start, found["start"]) > max(end - start, found["end"] - found["start"]) / 2
    return any(meets(start, end) and hearing.same(vocabulary, job["grammar"], phrase, found["phrase"]) for phrase, start, end in job["truth"])


def of(job):
    """Who or what is heard in a recording: a synthetic voice, the same people's words in whatever noise, or a piece of reading."""
    if "truth" not in job:
        return job["wav"]
    return job["voice"] if job["voice"] != "people" else "_".join(job["name"].split("_")[:3])


def once(rows, p):
    """Which findings count: of those in the same place, found again in the sound before the next utterance, the likeliest."""
    by_recording, out = collections.defaultdict(list), np.zeros(len(rows), bool)
    for k, row in enumerate(rows):
        by_recording[row[3]].append(k)
    for some in by_recording.values():
        kept = []
        for k in sorted(some, key=lambda k: -p[k]):
            if all(rows[j][0]["end"] <= rows[k][0]["start"] or rows[j][0]["start"] >= rows[k][0]["end"] for j in kept):
                kept.append(k)
                out[k] = True
    return out


def odds(answer):
    """The logarithm of the odds, a column, of what a forest answers."""
    p = answer[:, 1].clip(EDGE, 1 - EDGE)
    return np.log(p / (1 - p))[:, None]


def fitted(x, y, fold, weight, curved):
    """The forest, the curve that makes its answer a probability (fitted to the findings of curved), and what it says of each finding by trees that saw
    nothing of that one's fold."""
    forest = ExtraTreesClassifier(TREES, max_leaf_nodes=LEAVES, min_samples_leaf=SMALLEST, max_features=TRIED, class_weight="balanced", random_state=1)
    of_others = cross_val_predict(forest, x, y, cv=PredefinedSplit(fold), method="predict_proba", params={"sample_weight": weight})
    curve = LogisticRegression().fit(odds(of_others)[curved], y[curved])
    return forest.fit(x, y, sample_weight=weight), curve, curve.predict_proba(odds(of_others))[:, 1]


def written(forest, curve, path):
    """As evidence.rs reads it: the curve's slope and constant; then each tree's nodes, a line each, the left branch before the right one: the
    measure and the value up to which it goes left, or the share of callouts in a leaf."""
    with open(path, "w", encoding="utf8") as f:
        f.write(f"{curve.coef_[0][0]:.5g} {curve.intercept_[0]:.5g}\n")
        for tree in (t.tree_ for t in forest.estimators_):
            todo = [0]
            while todo:
                k = todo.pop()
                if tree.children_left[k] < 0:
                    wrong, right = tree.value[k][0]
                    f.write(f"{right / (wrong + right):.4g}\n")
                else:
                    f.write(f"{tree.feature[k]} {tree.threshold[k]:.6g}\n")
                    todo += [tree.children_right[k], tree.children_left[k]]


def findings(jobs, answers, vocabulary):
    """Every finding, as (finding, whether it is right, kind and condition, recording, source); how much was said and how long was heard of each kind."""
    rows, said, hours = [], collections.Counter(), collections.Counter()
    for job, answer in zip(jobs, answers):
        key = (job["kind"], job.get("condition", job["grammar"]))
        hours[key] += answer["seconds"] / 3600
        if "truth" in job:
            if job["kind"] != "others":
                said[key] += len(job["truth"])
            marks = list(zip(answer["measured"], judged(job, answer["measured"], vocabulary)))
            right = [f for f, k in marks if k is not None]
            # What was found once more in the sound before the next utterance is right too, and counts once; in another wording as well.
            rows += [(f, k is not None or stands(job, f, vocabulary), key, job["wav"] + job["grammar"], of(job))
                     for f, k in marks if k is not None or not any(again(f, r) for r in right)]
        else:
            text = " " + job["text"] + " "
            for phrase in sorted({f["phrase"] for f in answer["measured"]}):
                here = sorted((f for f in answer["measured"] if f["phrase"] == phrase), key=lambda f: -f["ratio"])
                first = [f for k, f in enumerate(here) if not any(again(f, g) for g in here[:k])]
                read = first[:text.count(f" {phrase} ")]
                rows += [(f, False, key, job["wav"] + job["grammar"], of(job)) for f in here if not any(again(f, r) for r in read)]
    return rows, said, hours


def second(jobs, answers, vocabulary, evidence):
    """The second listen: what it finds with the weights that the program holds, and those that PERHAPS in evidence.rs would be by this evidence."""
    asked = [(job["condition"], *a) for job, answer in zip(jobs, answers) for a in second_listen(job, answer, vocabulary)]
    for c in AGAIN:
        found = lambda lost: [perhaps(f) for k, was, f in asked if (k, was) == (c, lost)]
        print(f"second listen, {c}: perhaps called {sum(found(True))} of {len(found(True))} missed, {sum(found(False))} of {len(found(False))} that nobody said there")
    y, m = np.array([lost for _, lost, f in asked if f]), np.array([f[2] for _, _, f in asked if f])
    p = evidence(m).clip(EDGE, 1 - EDGE)
    x = np.column_stack([np.log(p / (1 - p)), m[:, LOOKED_AT]])
    weights = LogisticRegression(C=10, class_weight="balanced").fit(x, y).coef_[0]
    wrong = sorted((x @ weights)[~y], reverse=True)
    line = wrong[int(WRONG * sum(not lost for _, lost, _ in asked))]
    print(f"PERHAPS: {-line:.2f}, " + ", ".join(f"{w:.2f}" for w in weights))


def main():
    ap = hearing.arguments()
    ap.add_argument("--answers")
    ap.add_argument("--also")
    ap.add_argument("--write")
    a = ap.parse_args()
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
    rows, said, hours = findings(jobs, answers, vocabulary)
    own = len(rows)
    if a.also:
        other = json.load(open(a.also))
        some = [j for j in jobs if j["name"] in other]
        rows += findings(some, [other[j["name"]] for j in some], vocabulary)[0]
    x, y = np.array([r[0]["measures"] for r in rows]), np.array([r[1] for r in rows], float)
    # All of one voice, of the same people's words and of one piece of reading is in one fold.
    sources = sorted({r[4] for r in rows})
    folds = dict(zip(sources, np.random.RandomState(0).randint(0, FOLDS, len(sources))))
    fold = np.array([folds[r[4]] for r in rows])
    # The two numbers of the curve are fitted to all folds; the trees never saw what they are asked about.
    kind, talk = np.array([r[2][0] for r in rows]), [h for (k, _), h in hours.items() if k == "talk"]
    weights = {"talk": TALK * len(talk) / sum(talk), "noise": NOISE}
    weight = np.array([weights.get(r[2][0], SECOND if r[1] and r[2][0] == "second" else 1.0) for r in rows])
    forest, curve, p = fitted(x, y, fold, weight, (np.arange(len(rows)) < own) & (kind != "noise"))
    rows, x, y, p = rows[:own], x[:own], y[:own], p[:own]
    if a.write:
        written(forest, curve, a.write)
    counted = once(rows, p)
    lines = np.where(np.exp(x[:, 7]) > SHORT + 0.5, *CALLED)
    for threshold in (lines, 0, .05, .2, .4, .5, .6, .7, .75, .8, .85, .9, .92, .94, .95, .96, .97, .98):
        line = []
        for key in sorted(hours):
            here = np.array([r[2] == key for r in rows]) & counted & (p >= threshold)
            if said[key]:
                line.append(f"{key[0]} {key[1]}: {(here & (y == 1)).sum() / said[key]:.3f} heard, {(here & (y == 0)).sum()} wrong")
            else:
                line.append(f"{key[0]} {key[1]}: {(here & (y == 0)).sum() / hours[key]:.1f} an hour")
        print("called by length:" if threshold is lines else f"called at {threshold:.2f}:", "; ".join(line))
    second(jobs, answers, vocabulary, lambda m: curve.predict_proba(odds(forest.predict_proba(m)))[:, 1])


if __name__ == "__main__":
    main()
