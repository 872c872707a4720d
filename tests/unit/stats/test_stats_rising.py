"""Faults that rise among recent build months."""

from __future__ import annotations

import numpy as np
import pytest
from rising_makers import failures, units, views
from scipy import stats

from claimlens.errors import InputError
from claimlens.stats import rising, shrinkage
from claimlens.stats.rising import hazards, levels, scan

LAG = (0.35, 0.75, 0.9, 1.0)


# -- likelihood ratio ---------------------------------------------------------------


def test_the_ratio_is_that_of_two_poisson_means() -> None:
    o, e = np.array([8.0, 12.0, 30.0]), np.array([3.0, 5.0, 20.0])
    wanted = stats.poisson.logpmf(o, o) - stats.poisson.logpmf(o, e)
    np.testing.assert_allclose(rising.log_likelihood_ratio(o, e), wanted, rtol=1e-12)


def test_the_ratio_with_uncertainty_is_that_of_two_negative_binomials() -> None:
    o, e, v = np.array([8.0, 12.0, 30.0]), np.array([3.0, 5.0, 20.0]), 0.2
    k = 1 / v
    wanted = stats.nbinom.logpmf(o, k, k / (k + o)) - stats.nbinom.logpmf(
        o, k, k / (k + e)
    )
    found = rising.log_likelihood_ratio(o, e, v)
    np.testing.assert_allclose(found, wanted, rtol=1e-10)
    assert (found < rising.log_likelihood_ratio(o, e)).all()


def test_the_ratio_passes_smoothly_into_the_poisson_case() -> None:
    near = rising.log_likelihood_ratio(9.0, 4.0, [0.0, 1e-9, 1e-7, 1e-6])
    np.testing.assert_allclose(near, near[0], rtol=1e-4)


def test_the_ratio_is_zero_where_no_more_was_seen_than_expected() -> None:
    found = rising.log_likelihood_ratio([0, 2, 5], [1, 2, 9])
    assert found.tolist() == [0.0, 0.0, 0.0]


@pytest.mark.parametrize("v", [0.0, 0.05, 0.5])
def test_the_chance_of_a_ratio_is_at_most_its_exponential(v: float) -> None:
    counts = np.arange(1, 200)
    for mean in (0.3, 2.0, 20.0):
        above = counts[counts > mean]
        chance = (
            stats.poisson.sf(above - 1, mean)
            if v == 0
            else stats.nbinom.sf(above - 1, 1 / v, 1 / (1 + v * mean))
        )
        bound = np.exp(-rising.log_likelihood_ratio(above, mean, v))
        assert (chance <= bound * (1 + 1e-9)).all()


# -- the two tables -----------------------------------------------------------------


def test_failures_are_those_reported_by_the_month_end() -> None:
    one = views([[0, 0, 5, 0, 5, 5, 2], [0, 0, 5, 1, 6, 8, 3]], [[0, 5, 5, 24, 10]])
    assert [one.at(t).failed.sum() for t in (4, 5, 7, 8)] == [0, 2, 2, 5]


def test_an_age_month_falls_half_into_the_next_calendar_month() -> None:
    view = views([], [[0, 5, 6, 3, 10]]).at(7)
    # age 0 in months 6 and 7, age 1 in month 7 only; nothing of age 2
    exposed = view.exposed[0, 0]
    assert exposed[6, 0] == exposed[7, 0] == 5.0
    assert exposed[7, 1] == 5.0
    assert exposed.sum() == 15.0


def test_exposure_weighs_by_the_share_reported_and_leaves_out_the_newest() -> None:
    view = views([], [[0, 0, 0, 3, 10]], (0.1, 0.5, 1.0)).at(2)
    # months 0, 1, 2 were seen with lags 2, 1, 0; a tenth is too little to tell
    assert view.exposed[0, 0, 0].tolist() == [5.0, 0.0, 0.0]
    assert view.exposed[0, 0, 1].tolist() == [2.5, 2.5, 0.0]
    assert view.exposed[0, 0, 2].sum() == 0.0
    assert view.passed.sum() == 15.0


def test_failures_of_months_too_new_to_tell_are_left_out_too() -> None:
    one = views([[0, 0, 0, 0, 1, 1, 4]], [[0, 0, 0, 3, 10]], (0.1, 0.5, 1.0))
    assert one.at(1).failed.sum() == 0
    assert one.at(2).failed.sum() == 4


def test_units_in_service_later_are_not_known_yet() -> None:
    one = views([], [[0, 0, 0, 12, 10], [0, 0, 3, 12, 7]])
    assert [one.at(t).units.sum() for t in (0, 2, 3)] == [10, 10, 17]


def test_life_before_the_register_is_taken_away() -> None:
    one = views([], [[0, 0, 0, 12, 10], [0, 0, 0, 4, -10]])
    view = one.at(20)
    assert view.exposed[0, 0].sum(axis=0).tolist() == [0.0] * 4 + [10.0] * 8
    assert view.units.sum() == 10


def test_exposure_agrees_with_counting_unit_by_unit() -> None:
    rng = np.random.default_rng(20240607)
    rows = [
        [rng.integers(2), b, b + rng.integers(14), rng.integers(1, 9), 1]
        for b in rng.integers(0, 6, 60)
    ]
    view = views([], rows, LAG, models=2).at(13)
    wanted = np.zeros_like(view.exposed)
    first = min(int(row[1]) for row in rows)
    for model, build, service, watched, _ in rows:
        for age in range(watched):
            for half in (0, 1):
                at = service + age + half
                if at <= 13:
                    share = LAG[min(13 - at, len(LAG) - 1)]
                    wanted[model, build - first, at % 12, age] += 0.5 * share
    np.testing.assert_allclose(view.exposed, wanted, atol=1e-12)


@pytest.mark.parametrize(
    ("failed", "watched", "reported", "words"),
    [
        ([[0, 0, 0, 0, 5, 4, 1]], [[0, 0, 0, 9, 1]], (1.0,), "before its failure"),
        ([[3, 0, 0, 0, 5, 5, 1]], [[0, 0, 0, 9, 1]], (1.0,), "component must lie"),
        ([], [[4, 0, 0, 9, 1]], (1.0,), "model must lie"),
        ([[0, 0, 0, -1, 5, 5, 1]], [[0, 0, 0, 9, 1]], (1.0,), "age_month must not"),
        ([], [[0, 0, 0, 9, 1]], (0.9, 0.5), "must not fall"),
        ([], [[0, 0, 0, 9, 1]], (), "row of shares"),
    ],
)
def test_tables_are_checked(
    failed: list[list[float]],
    watched: list[list[float]],
    reported: tuple[float, ...],
    words: str,
) -> None:
    with pytest.raises(InputError, match=words):
        views(failed, watched, reported)


def test_columns_must_have_one_length() -> None:
    table = failures([[0, 0, 0, 0, 5, 5, 1]])
    broken = rising.FailureTable(
        **{
            name: getattr(table, name)
            for name in rising.FailureTable.__slots__
            if name != "n"
        },
        n=np.ones(2),
    )
    with pytest.raises(InputError, match="one length"):
        rising.Views(broken, units([]), (1.0,), n_components=1, n_models=1)


# -- the level ----------------------------------------------------------------------


def test_the_gamma_shape_is_that_of_the_full_search() -> None:
    rng = np.random.default_rng(20240607)
    for alpha in (0.6, 2.0, 9.0, 60.0):
        expected = rng.lognormal(1.0, 1.0, 300)
        observed = rng.poisson(rng.gamma(alpha, 1 / alpha, 300) * expected) * 1.0
        wanted = shrinkage.spread_of(observed, expected)
        assert hazards.gamma_shape(observed, expected) == pytest.approx(
            wanted, rel=0.06
        )


def test_many_failures_give_back_the_hazard_of_each_component() -> None:
    rng = np.random.default_rng(20240607)
    age, power = np.arange(37.0), np.array([0.6, 1.0, 1.9])
    truth = 0.02 * np.diff((age / 24) ** power[:, None], axis=1)
    exposed = np.linspace(4e6, 1e5, 36) * np.ones((3, 1))
    found, _ = hazards.hazard_by_age(rng.poisson(truth * exposed) * 1.0, exposed)
    np.testing.assert_allclose(found, truth, rtol=0.08)


def test_few_failures_lean_on_the_shape_of_all_components() -> None:
    """A component with two late failures is not taken as one that never fails early."""
    rng = np.random.default_rng(20240607)
    age = np.arange(25.0)
    line = 0.05 * np.diff((age / 24) ** 1.2)
    exposed = np.full((6, 24), 8000.0)
    failed = rng.poisson(line * exposed) * 1.0
    failed[5] = 0
    failed[5, 20] = 2
    found, _ = hazards.hazard_by_age(failed, exposed)
    early = found[5, :6].sum() / found[5].sum()
    assert early == pytest.approx(line[:6].sum() / line.sum(), rel=0.5)
    assert (found[5] * exposed[5]).sum() == pytest.approx(2.0, rel=0.6)


def test_no_failure_at_all_is_no_hazard_of_nothing() -> None:
    found, _ = hazards.hazard_by_age(np.zeros((3, 12)), np.full((3, 12), 100.0))
    assert np.isfinite(found).all()
    assert 0 < (found * 100.0).sum() < 3


# -- runs ---------------------------------------------------------------------------


def _scan(observed: list[float], expected: float) -> scan.Runs:
    o = np.array([observed])
    zero = np.zeros(1)
    return scan.scan(o, np.full(o.shape, expected), zero, zero, np.zeros(1, dtype=bool))


def test_the_run_is_where_the_failures_are() -> None:
    found = _scan([2, 1, 3, 2, 11, 12, 10, 2, 1, 2], 2.0)
    assert (found.first[0], found.last[0]) == (4, 6)
    assert (found.observed[0], found.expected[0]) == (33.0, 6.0)
    assert found.ratio[0] == pytest.approx(33 * np.log(33 / 6) - 27)


def test_evidence_is_the_mean_over_runs_and_so_below_the_likeliest() -> None:
    o = np.array([[2.0, 1, 3, 2, 9, 2, 1]])
    zero = np.zeros(1)
    found = scan.scan(
        o, np.full(o.shape, 2.0), zero, zero, np.zeros(1, dtype=bool), fading=False
    )
    ratios = []
    for first in range(7):
        for end in range(first + 1, min(first + 6, 7) + 1):
            seen, likely = o[0, first:end].sum(), 2.0 * (end - first)
            seen = seen if seen >= 3 else 0.0
            ratios.append(float(rising.log_likelihood_ratio(seen, likely)))
    wanted = np.log(np.mean(np.exp(0.7 * np.array(ratios)))) / 0.7
    assert found.evidence[0] == pytest.approx(wanted)
    assert found.ratio[0] == pytest.approx(max(ratios))


def test_fewer_than_three_failures_say_nothing() -> None:
    assert _scan([0, 0, 2, 0], 0.1).evidence[0] == 0
    assert _scan([0, 0, 3, 0], 0.1).evidence[0] > 0


def test_noise_between_months_takes_evidence_away() -> None:
    o = np.array([[2.0, 1, 3, 2, 9, 2, 1]])
    e, zero, off = np.full(o.shape, 2.0), np.zeros(1), np.zeros(1, dtype=bool)
    plain = scan.scan(o, e, zero, zero, off).evidence[0]
    noisy = scan.scan(o, e, zero, np.array([0.3]), off).evidence[0]
    unsure = scan.scan(o, e, np.array([0.3]), zero, off).evidence[0]
    assert 0 < noisy < plain
    assert 0 < unsure < plain


def test_no_row_and_no_month_give_nothing() -> None:
    none = np.zeros((0, 5))
    assert scan.scan(none, none, none[:, 0], none[:, 0], none[:, 0] > 0).first.size == 0
    empty = np.zeros((2, 0))
    two = np.zeros(2)
    assert scan.scan(empty, empty, two, two, two > 0).first.tolist() == [-1, -1]


# -- bars ---------------------------------------------------------------------------


def test_bars_rise_with_what_is_expected_and_alarm_stands_above_watch() -> None:
    expected = np.array([0.0, 1.0, 30.0, 1000.0])
    for one_model in (False, True):
        flag = np.full(4, one_model)
        watch = levels.watch_bar(expected, one_model=flag)
        assert (np.diff(watch) > 0).all()
        assert (watch < levels.alarm_bar(flag)).all()
    assert (
        levels.watch_bar(expected, one_model=np.ones(4))
        > levels.watch_bar(expected, one_model=np.zeros(4))
    ).all()


def test_false_signals_add_up_over_rows() -> None:
    one = levels.false_signals([10.0], one_model=[False])
    ten = levels.false_signals([10.0] * 10, one_model=[False] * 10)
    assert ten == pytest.approx([10 * value for value in one])
    assert one[1] < one[0]
    cell = levels.false_signals([10.0], one_model=[True])
    assert cell[0] < one[0] / 10


def test_the_multiple_that_can_be_seen_falls_with_what_is_expected() -> None:
    expected = np.array([0.0, 0.5, 2.0, 8.0, 50.0])
    found = rising.smallest_multiple(
        expected, 5 * expected, np.zeros(5), one_model=np.zeros(5, dtype=bool)
    )
    assert np.isinf(found[0])
    assert (np.diff(found[1:]) < 0).all()
    assert 1 < found[-1] < 2
    assert 3 < found[2] < 6
