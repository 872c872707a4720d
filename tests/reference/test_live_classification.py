"""Quality of a classification against scikit-learn, run side by side."""

from __future__ import annotations

import numpy as np
import pytest
from sklearn import metrics
from sklearn.calibration import calibration_curve
from sklearn.isotonic import IsotonicRegression

from claimlens.stats import accuracy, calibration

CLASSES = 7


def drawn(seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return truth, prediction (-1 for none) and weights of 400 rows."""
    rng = np.random.default_rng([20240607, seed])
    true = rng.integers(0, CLASSES, 400)
    told = np.where(rng.random(400) < 0.7, true, rng.integers(-1, CLASSES, 400))
    return true, told, rng.choice([1.0, 3.5, 200.0], 400)


@pytest.mark.parametrize("seed", range(5))
def test_scores_equal_those_of_scikit_learn(seed: int) -> None:
    true, told, weights = drawn(seed)
    ours = accuracy.class_scores(true, told, CLASSES, weights)
    labels = list(range(CLASSES))

    def theirs(average: str | None) -> tuple[np.ndarray, ...]:
        return metrics.precision_recall_fscore_support(
            true,
            told,
            labels=labels,
            average=average,
            sample_weight=weights,
            zero_division=0.0,
        )

    precision, recall, f1, _ = theirs(None)
    np.testing.assert_allclose(ours.precision.value, precision, atol=1e-12)
    np.testing.assert_allclose(ours.recall.value, recall, atol=1e-12)
    np.testing.assert_allclose(ours.f1.value, f1, atol=1e-12)
    macro = (ours.macro_precision, ours.macro_recall, ours.macro_f1)
    assert macro == pytest.approx(theirs("macro")[:3], abs=1e-12)
    micro = (ours.micro_precision, ours.micro_recall, ours.micro_f1)
    assert micro == pytest.approx(theirs("micro")[:3], abs=1e-12)
    assert ours.accuracy == pytest.approx(
        metrics.accuracy_score(true, told, sample_weight=weights), abs=1e-12
    )


def test_the_confusion_table_equals_that_of_scikit_learn() -> None:
    true, told, weights = drawn(9)
    ours = accuracy.confusion(true, told, CLASSES, weights)
    labels = [*range(CLASSES), -1]
    theirs = metrics.confusion_matrix(true, told, labels=labels, sample_weight=weights)
    np.testing.assert_allclose(ours, theirs)


@pytest.mark.parametrize("bins", [4, 10])
def test_the_reliability_table_equals_that_of_scikit_learn(bins: int) -> None:
    """Its bins are [a, b), so no confidence may lie on an edge here."""
    rng = np.random.default_rng(20240607)
    stated = rng.random(500)
    right = rng.random(500) < stated**2
    ours = calibration.reliability(stated, right, bins=bins)
    share, mean = calibration_curve(right, stated, n_bins=bins)
    np.testing.assert_allclose(ours.right.value, share, atol=1e-12)
    np.testing.assert_allclose(ours.stated, mean, atol=1e-12)
    share, mean = calibration_curve(right, stated, n_bins=bins, strategy="quantile")
    ours = calibration.reliability(stated, right, bins=bins, equal="count")
    np.testing.assert_allclose(ours.right.value, share, atol=1e-12)
    np.testing.assert_allclose(ours.stated, mean, atol=1e-12)


@pytest.mark.parametrize("weighted", [False, True])
def test_brier_score_and_refit_equal_those_of_scikit_learn(weighted: bool) -> None:
    rng = np.random.default_rng(20240607)
    stated = rng.choice(np.linspace(0.3, 0.99, 40), 300)
    right = rng.random(300) < stated**1.5
    weights = rng.choice([1.0, 60.0], 300) if weighted else None
    assert calibration.brier(stated, right, weights) == pytest.approx(
        metrics.brier_score_loss(right, stated, sample_weight=weights), abs=1e-12
    )
    theirs = IsotonicRegression(y_min=0, y_max=1, out_of_bounds="clip")
    theirs.fit(stated, right.astype(float), sample_weight=weights)
    asked = np.linspace(0, 1, 301)
    np.testing.assert_allclose(
        calibration.refit(stated, right, weights)(asked),
        theirs.predict(asked),
        atol=1e-9,
    )
