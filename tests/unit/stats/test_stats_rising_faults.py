"""The whole rule, on fleets in which something rises and in which nothing does."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from rising_makers import steady, views
from scipy import stats

from claimlens.errors import InputError
from claimlens.stats import rising
from claimlens.stats.rising import Month

LAG = (0.35, 0.75, 0.9, 1.0)
RATES = (0.002, 0.004, 0.001, 0.003)


def _months(
    cutoffs: Sequence[int],
    *,
    models: int = 2,
    reported: Sequence[float] = LAG,
    **plan: object,
) -> tuple[Month, ...]:
    made = steady(models=models, reported=reported, rate=RATES, **plan)  # type: ignore[arg-type]
    one = views(*made, reported, components=len(RATES), models=models)
    return rising.rising_faults(one, cutoffs)


def _bad(
    component: int, months: Sequence[int], times: float, model: int = -1
) -> dict[tuple[int, int, int], float]:
    return {(component, model, month): times for month in months}


def test_a_fault_of_all_models_is_an_alarm_and_its_months_are_named() -> None:
    month = _months([47], times=_bad(1, (36, 37, 38), 5.0))[0]
    assert month.level[1] == 2
    assert (month.first[1], month.last[1]) == (36, 38)
    ratio, lower, upper = month.rate_ratio()
    assert lower[1] < 5 < upper[1]
    assert 1 < month.shrunk_ratio()[1] < ratio[1]
    assert month.level[[0, 2, 3]].max() < 2
    assert month.units[1] == 3 * 2 * 200


def test_limits_of_the_ratio_are_those_of_a_poisson_count() -> None:
    month = _months([47], times=_bad(1, (36, 37, 38), 5.0))[0]
    o, e = month.observed[1], month.expected[1]
    _, lower, upper = month.rate_ratio()
    assert lower[1] == pytest.approx(stats.chi2.ppf(0.025, 2 * o) / 2 / e)
    assert upper[1] == pytest.approx(stats.chi2.ppf(0.975, 2 * o + 2) / 2 / e)


def test_a_fault_of_one_model_is_a_signal_of_that_model() -> None:
    month = _months([47], models=4, times=_bad(2, (35, 36, 37), 6.0, model=3))[0]
    cell = len(RATES) + 2 * 4 + 3
    assert month.level[cell] == 2
    assert {35, 36, 37} >= set(range(month.first[cell], month.last[cell] + 1))
    others = [len(RATES) + 2 * 4 + model for model in range(3)]
    assert month.level[others].max() == 0


def test_a_fault_is_seen_from_one_month_end_on_and_not_before_it_exists() -> None:
    months = _months(range(30, 48), times=_bad(3, (36, 37, 38), 5.0))
    level = np.array([month.level[3] for month in months])
    seen = np.flatnonzero(level == 2)
    assert seen.size
    # month-end 36 is index 6; no alarm before the first bad units are built
    assert 6 < seen[0] <= 14
    assert (level[seen[0] :] == 2).all()


def test_what_comes_after_a_month_end_changes_nothing_at_it() -> None:
    failed, watched = steady(rate=RATES, reported=LAG, times=_bad(1, (30, 31), 4.0))
    whole = views(failed, watched, LAG, components=4, models=2)
    known = [row for row in failed if row[5] <= 40]
    built = [row for row in watched if row[2] <= 40]
    part = views(known, built, LAG, components=4, models=2)
    then, now = (rising.rising_faults(one, [40])[0] for one in (whole, part))
    np.testing.assert_allclose(then.evidence, now.evidence, atol=1e-9)
    np.testing.assert_array_equal(then.level, now.level)
    np.testing.assert_array_equal(then.first, now.first)
    np.testing.assert_allclose(then.expected, now.expected, rtol=1e-9)


def test_the_order_of_rows_changes_nothing() -> None:
    failed, watched = steady(rate=RATES, reported=LAG, times=_bad(1, (36, 37), 4.0))
    rng = np.random.default_rng(20240607)
    plain = rising.rising_faults(
        views(failed, watched, LAG, components=4, models=2), [47]
    )
    mixed = rising.rising_faults(
        views(
            [failed[i] for i in rng.permutation(len(failed))],
            [watched[i] for i in rng.permutation(len(watched))],
            LAG,
            components=4,
            models=2,
        ),
        [47],
    )
    np.testing.assert_array_equal(plain[0].evidence, mixed[0].evidence)


def test_months_of_build_may_count_from_anywhere() -> None:
    failed, watched = steady(rate=RATES, reported=LAG, times=_bad(1, (36, 37), 4.0))
    later_failed = [
        [r[0], r[1], r[2] + 24000, r[3], r[4] + 24000, r[5] + 24000, r[6]]
        for r in failed
    ]
    later = [[r[0], r[1] + 24000, r[2] + 24000, *r[3:]] for r in watched]
    plain = rising.rising_faults(
        views(failed, watched, LAG, components=4, models=2), [47]
    )
    moved = rising.rising_faults(
        views(later_failed, later, LAG, components=4, models=2), [24047]
    )
    np.testing.assert_allclose(plain[0].evidence, moved[0].evidence, atol=1e-12)
    assert moved[0].first[1] == plain[0].first[1] + 24000


def test_units_sold_sooner_do_not_look_worse() -> None:
    """Every other build month comes into service six months earlier: many more
    claims by build month, and nothing wrong with it."""
    months = _months(range(36, 48), wait=6, number=1500.0)
    assert max(month.level[: len(RATES)].max() for month in months) == 0


def test_claims_that_were_reported_early_make_no_alarm() -> None:
    failed, watched = steady(rate=RATES, reported=LAG, number=3000.0)
    for row in failed:
        if row[0] == 1 and row[2] >= 43:
            row[5] = row[4]
    # what else had failed by then is known too
    extra = steady(rate=RATES, reported=(1.0,), number=3000.0, seed=1)[0]
    failed = [row for row in failed if not (row[0] == 1 and row[2] >= 43)]
    failed += [row for row in extra if row[0] == 1 and row[2] >= 43]
    one = views(failed, watched, LAG, components=4, models=2)
    month = rising.rising_faults(one, [47])[0]
    # far above what is expected of late reports, and nothing without them
    assert month.evidence[1] > month.alarm[1]
    assert month.level[1] < 2


def test_a_change_of_all_components_is_the_fleet_and_no_component() -> None:
    bad = {
        key: 1.6
        for component in range(len(RATES))
        for key in _bad(component, (36, 37, 38, 39), 1.6)
    }
    month = _months([47], number=2000.0, times=bad)[0]
    assert month.level.max() < 2
    np.testing.assert_allclose(month.fleet_ratio[36:40], 1.6, rtol=0.1)
    np.testing.assert_allclose(month.fleet_ratio[20:30], 1.0, rtol=0.1)


def test_an_old_fault_does_not_raise_the_level() -> None:
    old = _bad(1, (10, 11, 12), 8.0)
    plain = _months([47])[0]
    with_old = _months([47], times=old)[0]
    # three of thirty months eight times as bad would raise it by 70 %
    assert with_old.recent[1] == pytest.approx(plain.recent[1], rel=0.1)


def test_a_gap_in_production_is_stepped_over() -> None:
    month = _months([47], empty=(36, 37, 38, 39), times=_bad(1, (34, 35, 40, 41), 4.0))[
        0
    ]
    assert month.level[1] == 2
    assert (month.first[1], month.last[1]) == (34, 41)
    assert month.units[1] == 4 * 2 * 200


def test_noise_between_months_is_found_and_makes_no_alarm() -> None:
    rng = np.random.default_rng(20240607)
    noise = {
        (component, -1, build): float(rng.gamma(1 / 0.3, 0.3))
        for component in range(len(RATES))
        for build in range(60)
    }
    months = _months(range(54, 60), builds=60, number=1500.0, times=noise)
    assert sum((month.level == 2).sum() for month in months) <= 2
    plain = _months([59], builds=60, number=1500.0)[0]
    assert months[-1].noisy.sum() > plain.noisy.sum()


def test_one_model_has_no_rows_of_its_own() -> None:
    month = _months([47], models=1, times=_bad(1, (36, 37, 38), 5.0))[0]
    assert month.level.shape == (len(RATES),)
    assert month.level[1] == 2


def test_a_young_maker_is_judged_by_the_older_half() -> None:
    quiet = _months([9], builds=10)[0]
    assert quiet.note == ""
    assert quiet.oldest == 5
    assert quiet.borrowed.all()
    found = _months([13], builds=14, number=800.0, times=_bad(1, (8, 9, 10), 8.0))[0]
    assert found.level[1] >= 1
    assert found.first[1] >= 7


@pytest.mark.parametrize("cutoff", [-3, 0, 3])
def test_without_older_production_the_reason_is_told(cutoff: int) -> None:
    month = _months([cutoff], builds=6)[0]
    assert "no older production" in month.note
    assert month.level.max() == 0
    assert np.isnan(month.rate_ratio()[0]).all()
    assert np.isnan(month.shrunk_ratio()).all()


def test_a_component_that_never_failed_is_seen_when_it_does() -> None:
    failed, watched = steady(rate=RATES, reported=LAG)
    failed += [[4, 0, 40, 2, 42, 42, 5.0], [4, 1, 40, 3, 43, 43, 4.0]]
    one = views(failed, watched, LAG, components=6, models=2)
    month = rising.rising_faults(one, [47])[0]
    assert month.level[4] >= 1
    assert month.borrowed[4]
    assert month.level[5] == 0
    assert np.isfinite(month.evidence).all()


def test_no_failure_at_all_is_no_signal() -> None:
    watched = steady(rate=RATES)[1]
    month = rising.rising_faults(views([], watched, LAG, components=2, models=2), [47])
    assert month[0].level.max() == 0
    assert np.isfinite(month[0].expected).all()


def test_no_unit_at_all_is_told() -> None:
    month = rising.rising_faults(views([], [], LAG, components=2, models=2), [47])[0]
    assert "no older production" in month.note


def test_the_ages_of_an_excess_are_named() -> None:
    """Twenty more failures of two build months, all in the first two months."""
    failed, watched = steady(rate=RATES, reported=LAG)
    failed += [[0, model, 38, age, 40, 41, 5.0] for model in (0, 1) for age in (0, 1)]
    one = views(failed, watched, LAG, components=4, models=2)
    month = rising.rising_faults(one, [47])[0]
    band = rising.excess_ages(one, month, 0)
    assert (band.first_age, band.last_age) == (0, 1)
    assert band.observed.sum() == month.observed[0]
    assert band.expected.sum() == pytest.approx(month.expected[0])
    cell = rising.excess_ages(one, month, 4)
    assert cell.observed.sum() == month.observed[4]
    with pytest.raises(InputError, match="has a run"):
        rising.excess_ages(one, month, 99)
