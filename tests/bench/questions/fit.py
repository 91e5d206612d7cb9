#!/usr/bin/env python3
"""Learn which question a sentence asks, from wordings: writes src/intent/weights.tsv.

    UPDATE_GOLDEN=1 cargo test --release --test suite intents::     # writes target/questions.tsv: kind and features of each wording
    python tests/bench/questions/fit.py target/questions.tsv src/intent/weights.tsv

Needs scikit-learn (tests/bench/ears/requirements.txt). Logistic regression over all kinds at once, inverse regularisation 3; features of fewer than three
wordings are left out, and so are weights below 0.1. Weights are written in hundredths. The first line has the kinds with their biases, and the sum of what
was learnt from, which a test holds against the sets. Prints how many of five parts, each learnt from the other four, are told right.
"""
import sys

import numpy as np
from sklearn.feature_extraction.text import CountVectorizer
from sklearn.linear_model import LogisticRegression
from sklearn.model_selection import cross_val_predict

C, FEWEST, LEAST = 3.0, 3, 0.1


def main(source, out):
    learnt_from, *lines = open(source, encoding="utf-8").read().splitlines()
    rows = [line.split("\t") for line in lines]
    kinds, features = [row[0] for row in rows], [row[1:] for row in rows]
    counts = CountVectorizer(analyzer=lambda row: row, binary=True, min_df=FEWEST)
    x = counts.fit_transform(features)
    model = LogisticRegression(C=C, max_iter=1000)
    told = cross_val_predict(model, x, kinds, cv=5)
    print(f"{len(rows)} wordings, {x.shape[1]} features; of five parts right: {np.mean(told == np.array(kinds)):.3f}")
    model.fit(x, kinds)
    weights = np.where(abs(model.coef_) < LEAST, 0, np.round(100 * model.coef_, -1)).astype(int)
    with open(out, "w", encoding="utf-8") as file:
        biases = [f"{k}:{round(100 * b)}" for k, b in zip(model.classes_, model.intercept_)]
        print("\t".join(biases), learnt_from, sep="\t", file=file)
        for feature, column in sorted(counts.vocabulary_.items()):
            used = [f"{place}:{w}" for place, w in enumerate(weights[:, column]) if w]
            if used:
                print(feature, *used, sep="\t", file=file)


if __name__ == "__main__":
    main(*sys.argv[1:])
