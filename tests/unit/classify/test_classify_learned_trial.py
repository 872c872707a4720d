"""The trial: thresholds, calibration, and a verdict that is not fooled."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import sparse
from scipy.optimize import minimize
from scipy.special import expit
from sklearn.calibration import calibration_curve
from sklearn.isotonic import IsotonicRegression
from sklearn.linear_model import LogisticRegression
from sklearn.metrics import brier_score_loss

from claimlens.classify.learned_fit import fit_calibration, fit_weights
from claimlens.classify.learned_head import leads
from claimlens.classify.learned_trial import (
    Task,
    Trial,
    allowed_share,
    choose_threshold,
    try_out,
)
from claimlens.classify.taxonomy import UNCLASSIFIED
from claimlens.stats.intervals import wilson


def drawn_leads(n: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Return leads and outcomes whose true chance of being right is known."""
    draw = np.random.default_rng(seed)
    lead = draw.gamma(2.0, 1.5, n)
    return lead, draw.random(n) < expit(1.2 * lead - 1.5)


@pytest.mark.parametrize(("n", "kind"), [(900, "sigmoid"), (6_000, "isotonic")])
def test_calibrated_probabilities_keep_their_word(n: int, kind: str) -> None:
    """Seen by the library's curve and score, and by the truth of the draw."""
    lead, right = drawn_leads(n, 3)
    fitted = fit_calibration(lead, right)
    assert fitted.kind == kind
    fresh, outcome = drawn_leads(40_000, 4)
    stated = fitted(fresh)
    truth = expit(1.2 * fresh - 1.5)
    assert np.abs(stated - np.clip(truth, 0.01, 0.99)).mean() < 0.04
    share, mean = calibration_curve(outcome, stated, n_bins=10, strategy="quantile")
    assert np.abs(share - mean).max() < 0.08
    best = brier_score_loss(outcome, truth)
    assert brier_score_loss(outcome, stated) < best + 0.005


def test_the_sigmoid_is_platts_maximum_by_three_routes() -> None:
    """Against a direct maximisation and the library's fit on repeated rows."""
    lead, right = drawn_leads(200, 9)
    slope, intercept = fit_calibration(lead, right).y
    n_right, n_wrong = int(right.sum()), int((~right).sum())
    target = np.where(right, (n_right + 1) / (n_right + 2), 1 / (n_wrong + 2))

    def loss(p: np.ndarray) -> float:
        chance = expit(p[0] * lead + p[1])
        return -float(
            (target * np.log(chance) + (1 - target) * np.log1p(-chance)).sum()
        )

    direct = minimize(loss, [1.0, 0.0], tol=1e-10).x
    assert (slope, intercept) == pytest.approx(tuple(direct), abs=2e-3)
    # many copies of each row, right or wrong as its target says
    copies = 5_000
    ones = np.round(target * copies).astype(int)
    x = np.repeat(lead, copies)[:, np.newaxis]
    y = np.concatenate([np.r_[np.ones(k), np.zeros(copies - k)] for k in ones])
    library = LogisticRegression(C=1e9, max_iter=500).fit(x, y)
    assert slope == pytest.approx(library.coef_[0][0], abs=5e-3)
    assert intercept == pytest.approx(library.intercept_[0], abs=5e-3)


def test_isotonic_steps_are_those_of_the_library_and_of_pooled_neighbours() -> None:
    lead, right = drawn_leads(1_500, 5)
    fitted = fit_calibration(lead, right)
    library = IsotonicRegression().fit(lead, right.astype(float))
    at = np.sort(lead)
    wanted = np.clip(library.predict(at), 0.01, 0.99)
    np.testing.assert_allclose(fitted(at), wanted, atol=2e-3)
    # pool adjacent violators by hand
    blocks: list[list[float]] = []
    for value in right[np.argsort(lead, kind="stable")].astype(float):
        blocks.append([value, 1.0])
        while len(blocks) > 1 and blocks[-2][0] >= blocks[-1][0]:
            (a, n), (b, m) = blocks[-2], blocks[-1]
            blocks[-2:] = [[(a * n + b * m) / (n + m), n + m]]
    by_hand = np.concatenate([np.full(int(n), a) for a, n in blocks])
    np.testing.assert_allclose(fitted(at), np.clip(by_hand, 0.01, 0.99), atol=2e-3)


def test_a_lead_that_tells_nothing_gets_one_probability() -> None:
    lead = np.linspace(0, 5, 100)
    right = lead < 2.5
    fitted = fit_calibration(lead, right)
    assert len(set(fitted(lead).tolist())) == 1
    assert fitted(lead)[0] == pytest.approx((right.sum() + 1) / 102, abs=1e-3)


@given(st.lists(st.integers(0, 100), max_size=60), st.sampled_from([0.01, 0.05, 0.2]))
def test_the_threshold_is_the_lowest_that_keeps_the_bound(
    rows: list[int], allowed: float
) -> None:
    probability = np.array([place / 100 for place in rows])
    found = choose_threshold(probability, allowed)

    def expected(threshold: float) -> float:
        return float((1 - probability[probability >= threshold]).mean())

    fine = [p for p in sorted(set(rows)) if p >= 50]
    fine = [p for p in fine if expected(p / 100) <= 0.8 * allowed + 1e-12]
    assert found == pytest.approx(fine[0] / 100 if fine else 1.01)


def test_the_expected_wrong_share_is_the_one_that_comes() -> None:
    """Of claims whose chance is known, as many are wrong as the bound says."""
    lead, _ = drawn_leads(200_000, 6)
    chance = expit(1.2 * lead - 1.5)
    threshold = choose_threshold(chance, 0.05)
    right = np.random.default_rng(7).random(len(chance)) < chance
    wrong = (~right)[chance >= threshold].mean()
    assert wrong == pytest.approx(0.8 * 0.05, abs=0.002)


@pytest.mark.parametrize(
    ("given_", "wanted"),
    [
        ((0, 0, 0, 0), 0.05),  # nothing decided: the most that is ever allowed
        ((3, 100, 0, 0), 0.03),
        ((3, 100, 2, 100), 0.02),
        ((30, 100, 0, 0), 0.05),
        ((0, 100, 0, 500), 0.01),
        ((9, 20, 0, 0), 0.05),  # too few to tell
    ],
)
def test_the_model_is_held_to_the_terms(
    given_: tuple[int, int, int, int], wanted: float
) -> None:
    assert allowed_share(*given_) == pytest.approx(wanted)


def task_of(
    n: int, seed: int, *, known: float, noise: float, open_share: float = 0.5
) -> Task:
    """Return claims of three classes, told by one column each, some wrongly.

    ``known`` of them carry the telling column at all; of the decided ones the terms
    are wrong in 4 %.
    """
    draw = np.random.default_rng(seed)
    names = np.array(["brake", "display", "motor"])
    truth = draw.integers(3, size=n)
    shown = np.where(draw.random(n) < noise, draw.integers(3, size=n), truth)
    rows = np.zeros((n, 4))
    tells = draw.random(n) < known
    rows[np.flatnonzero(tells), shown[tells]] = 1.0
    rows[:, 3] = draw.random(n)
    told = np.where(draw.random(n) < 0.04, (truth + 1) % 3, truth)
    is_open = draw.random(n) < open_share
    return Task(
        rows=sparse.csr_matrix(rows),
        answers=names[truth],
        worth=np.ones(n),
        reviewed=np.ones(n, dtype=bool),
        told=np.where(is_open, UNCLASSIFIED, names[told]),
        fold=draw.integers(5, size=n),
    )


CLASSES = ("brake", "display", "motor")


def tried(**given_: float) -> Trial:
    seed = int(given_.pop("seed", 1))
    return try_out(task_of(400, seed, **given_), CLASSES, "component")


def test_a_model_that_knows_is_switched_on_and_counted_right() -> None:
    task = task_of(400, 1, known=0.8, noise=0.0)
    found = try_out(task, CLASSES, "component")
    terms, _, both = found.outcomes
    assert found.enabled
    assert "more are right" in found.verdict
    is_open = task.told == UNCLASSIFIED
    assert terms.unclassified == is_open.sum()
    assert terms.right == (task.told == task.answers).sum()
    assert terms.n == both.n == 400
    assert both.right + both.wrong + both.unclassified == 400
    assert both.wrong_share <= max(terms.wrong_share, found.allowed)
    # what no column tells stays open
    silent = np.asarray(task.rows[:, :3].sum(axis=1)).ravel() == 0
    assert both.unclassified >= 0.9 * (is_open & silent).sum()
    lower, upper = wilson(terms.wrong, terms.decided)
    assert (terms.lower, terms.upper) == pytest.approx((lower, upper))


@pytest.mark.parametrize("noise", [0.5, 1.0])
def test_a_model_that_guesses_stays_off(noise: float) -> None:
    for seed in range(5):
        found = tried(known=0.9, noise=noise, seed=seed)
        assert not found.enabled
        assert found.verdict.startswith("off for the component")


def test_the_wrong_share_holds_on_claims_that_the_trial_never_saw() -> None:
    """The threshold chosen on one half, judged on thousands of others."""
    shares = []
    for seed in range(8):
        task = task_of(400, seed, known=0.8, noise=0.03)
        found = try_out(task, CLASSES, "component")
        if not found.enabled or found.calibration is None:
            continue
        weights, bias = fit_weights(task.rows, task.answers, task.worth, CLASSES)
        fresh = task_of(5_000, 100 + seed, known=0.8, noise=0.03)
        best, _, lead = leads(fresh.rows, weights, bias)
        decides = found.calibration(lead) >= found.threshold
        wrong = np.array(CLASSES)[best] != fresh.answers
        shares.append(wrong[decides].mean())
    assert len(shares) >= 4
    assert np.mean(shares) <= 0.05


def test_few_labels_say_so() -> None:
    found = try_out(task_of(49, 1, known=1.0, noise=0.0), CLASSES, "component")
    assert not found.enabled
    assert "49 reviewed labels, 50 needed" in found.verdict
    assert [outcome.way for outcome in found.outcomes] == ["terms alone"]


def test_copies_of_a_text_never_help_themselves() -> None:
    """Every label stands twice; with folds apart the model would know the copy."""
    draw = np.random.default_rng(2)
    n = 200
    rows = sparse.csr_matrix(np.vstack([np.eye(n), np.eye(n)]))
    answers = np.array(CLASSES)[draw.integers(3, size=n)]
    both = np.r_[answers, answers]
    fold = draw.integers(5, size=n)

    def trial(folds: np.ndarray) -> Trial:
        task = Task(
            rows=rows,
            answers=both,
            worth=np.ones(2 * n),
            reviewed=np.ones(2 * n, dtype=bool),
            told=np.full(2 * n, UNCLASSIFIED),
            fold=folds,
        )
        return try_out(task, CLASSES, "component")

    assert not trial(np.r_[fold, fold]).enabled
    assert trial(np.r_[fold, (fold + 1) % 5]).enabled
