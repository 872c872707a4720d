"""Quality of a classification against published and hand-checked values.

Sources, row by row in ``classification.toml``: van Rijsbergen 1979; Naeini, Cooper
and Hauskrecht 2015; Guo et al. 2017; Brier 1950; the documentation of scikit-learn.
"""

from __future__ import annotations

import numpy as np
from reference_rows import assert_row, rows

from claimlens.stats import accuracy, calibration

ROWS = rows("classification")


def test_averages_over_classes_agree_with_the_documented_example() -> None:
    row = ROWS["C03"]
    scores = accuracy.class_scores(row["inputs"]["true"], row["inputs"]["predicted"], 3)
    found = [
        scores.macro_precision,
        scores.macro_recall,
        scores.macro_f1,
        scores.micro_f1,
    ]
    assert_row(row, found, row["expected"])
    # the source cuts its digits and does not round them
    for value, printed in zip(found, row["published"], strict=False):
        assert printed <= value < printed + 0.01


def test_scores_of_three_classes_agree_with_hand_fractions() -> None:
    row = ROWS["C04"]
    table = np.array(row["inputs"]["confusion"])
    true, predicted = (
        np.repeat(codes.ravel(), table.ravel()) for codes in np.indices(table.shape)
    )
    scores = accuracy.class_scores(true, predicted, 3)
    expected = row["expected"]
    assert_row(row, scores.precision.value, expected["precision"])
    assert_row(row, scores.recall.value, expected["recall"])
    assert_row(row, scores.f1.value, expected["f1"])
    assert_row(row, scores.macro_f1, expected["macro_f1"])
    assert_row(row, scores.accuracy, expected["accuracy"])
    assert (accuracy.confusion(true, predicted, 3)[:3, :3] == table).all()


def test_calibration_errors_agree_with_gaps_taken_by_hand() -> None:
    row = ROWS["C05"]
    inputs = row["inputs"]
    found = calibration.reliability(
        inputs["confidence"], inputs["right"], bins=inputs["bins"]
    )
    assert_row(row, found.expected_error, row["expected"]["expected_error"])
    assert_row(row, found.maximum_error, row["expected"]["maximum_error"])
    np.testing.assert_allclose(
        found.gaps, [0.8, 0.3, 0.025, 1 / 30, 7 / 30], atol=1e-12
    )


def test_brier_score_agrees_with_recomputation() -> None:
    row = ROWS["C06"]
    found = calibration.brier(row["inputs"]["confidence"], row["inputs"]["right"])
    assert_row(row, found, row["expected"])
