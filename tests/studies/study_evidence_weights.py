"""Fit the weights by which the votes of a text are weighed, and test them.

Each labelled text gives one row for every component that something speaks for: what is
told of it, and whether the text is about it. Ten folds of texts tell how a fit does on
texts that it has not seen; ``--write`` puts the fit on all of them into the package.

    python tests/studies/study_evidence_weights.py [--write]
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from sklearn.linear_model import LogisticRegression
from sklearn.model_selection import GroupKFold

from claimlens.classify import likelihood
from claimlens.classify.likelihood import FEATURES, WEIGHTS_FILE, features
from claimlens.classify.reading import read
from claimlens.classify.taxonomy import UNCLASSIFIED, load_taxonomy
from claimlens.classify.terms import load_terms
from claimlens.classify.voting import vote

TEXTS = Path(__file__).parents[1] / "unit" / "classify"
# Terms were fitted to the development texts, so that they flatter the reader; less so
# those which they were tried on later. The unread ones only judge.
WEIGHTS = {"dev": 1.0, "later": 2.0, "unread": 0.0}
# Strength of the penalty: what a component adds is held closer to nothing.
PENALTY, COMPONENT_SCALE = 0.3, 1.0


def labelled() -> pd.DataFrame:
    """Return all texts with their component, and how far terms were fitted to them."""
    frames = []
    for path in sorted([*TEXTS.glob("texts*.csv"), *TEXTS.glob("texts/*.csv")]):
        frame = pd.read_csv(path, dtype=str, keep_default_na=False)
        kind = path.stem.rpartition("_")[2]
        kind = {"unread": "unread", "dev": "dev", "more": "dev"}.get(kind, "later")
        frames.append(frame.assign(file=path.stem, kind=kind))
    return pd.concat(frames, ignore_index=True)


def rows_of(texts: pd.DataFrame) -> pd.DataFrame:
    """Return one row for each text and component that something speaks for."""
    terms = load_terms(load_taxonomy())
    rows = []
    for number, row in enumerate(texts.itertuples()):
        reading = read(str(row.text), terms)[0]
        if not reading.marks:
            continue
        said = vote(reading, terms)
        for component, values in features(said, reading.length, terms.taxonomy).items():
            rows.append((number, component, component == row.component, *values))
    return pd.DataFrame(rows, columns=["text", "named", "is_it", *FEATURES])


def design(rows: pd.DataFrame, scale: pd.Series, names: list[str]) -> pd.DataFrame:
    """Return scaled features beside one column for each component."""
    scaled = rows[list(FEATURES)] / scale
    named = pd.get_dummies(rows["named"]).reindex(columns=names, fill_value=False)
    return pd.concat([scaled, named * COMPONENT_SCALE], axis=1).astype(float)


def fit(
    columns: pd.DataFrame, rows: pd.DataFrame, texts: pd.DataFrame
) -> LogisticRegression:
    """Fit the regression."""
    weight = texts["kind"].map(WEIGHTS).to_numpy()[rows["text"]]
    model = LogisticRegression(C=PENALTY, max_iter=5000)
    return model.fit(columns, rows["is_it"], sample_weight=weight)


def judged(
    chance: NDArray[np.float64], rows: pd.DataFrame, texts: pd.DataFrame
) -> pd.DataFrame:
    """Return share right and wrong by threshold and kind of text."""
    best = rows.assign(chance=chance).sort_values("chance").groupby("text").tail(1)
    best = best.set_index("text").reindex(range(len(texts)))
    chosen = best["named"].fillna(UNCLASSIFIED)
    sure = best["chance"].fillna(0.0)
    told = []
    for least in (0.4, 0.45, 0.5, 0.55, 0.6, 0.65, 0.7, 0.75, 0.8):
        answer = chosen.where(sure >= least, UNCLASSIFIED)
        right = answer == texts["component"]
        wrong = ~right & (answer != UNCLASSIFIED)
        for kind, own in texts.groupby("kind").groups.items():
            told.append((kind, least, right[own].mean(), wrong[own].mean()))
    return pd.DataFrame(told, columns=["texts", "threshold", "right", "wrong"])


def main(*, write: bool) -> None:
    """Print the folds, then the weights."""
    texts = labelled()
    rows = rows_of(texts)
    scale = rows[list(FEATURES)].std().replace(0.0, 1.0)
    names = sorted(set(rows["named"]))
    columns = design(rows, scale, names)
    chance = np.zeros(len(rows))
    for train, test in GroupKFold(10).split(columns, groups=rows["text"]):
        model = fit(columns.iloc[train], rows.iloc[train], texts)
        chance[test] = model.predict_proba(columns.iloc[test])[:, 1]
    print(texts.groupby("kind").size().to_string())
    print(judged(chance, rows, texts).round(3).to_string(index=False))
    model = fit(columns, rows, texts)
    weights = pd.Series(model.coef_[0], columns.columns)
    table = [("constant", "", model.intercept_[0])]
    table += [("feature", name, weights[name] / scale[name]) for name in FEATURES]
    table += [("component", name, weights[name] * COMPONENT_SCALE) for name in names]
    frame = pd.DataFrame(table, columns=["kind", "name", "weight"])
    print(frame.round(2).to_string(index=False))
    if write:
        target = Path(likelihood.__file__).parent / "data" / WEIGHTS_FILE
        frame.to_csv(target, index=False, float_format="%.4f", lineterminator="\n")


if __name__ == "__main__":
    main(write="--write" in sys.argv[1:])
