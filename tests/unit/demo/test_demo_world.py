"""A world is what its written truth says, and the same for the same seed."""

from __future__ import annotations

import time
from dataclasses import fields
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from claimlens.demo import World, load_truth, make_world, write_canonical
from claimlens.demo.draws import Draws, add_months, later
from claimlens.errors import InputError
from claimlens.tables import TABLES, kind_from_headers

KINDS = (
    "units",
    "claims",
    "claim_parts",
    "parts",
    "findings",
    "changes",
    "unit_changes",
    "fitted_parts",
)
MONTH = 30.4375
PINNED = [0.397713358103607, 0.8438638217146777, 0.005715700692526027]


def _counted(world: World) -> pd.DataFrame:
    """Return the counted first failures with the true dates of their units."""
    real = world.claim_truth
    claims = world.claims[["claim_no", "reported_on", "failed_on"]]
    frame = real[real["counted"]].merge(claims, on="claim_no")
    units = world.unit_truth.merge(
        world.units[["serial", "model", "build_date", "retired_on"]], on="serial"
    )
    return frame.merge(units, on="serial", how="left")


def _ratio(
    world: World, component: str, inside: pd.Series, others: pd.Series
) -> tuple[float, float]:
    """Return 99.9 % limits of a ratio of shares failed in the first 24 months.

    Normal approximation of the logarithm, common practice for two counts.
    """
    failed = _counted(world)
    age = (failed["failed_on"] - failed["in_service_date"]).dt.days
    mine = (failed["component"] == component) & (age < 24 * MONTH)
    hits = world.units["serial"].isin(set(failed["serial"][mine]))
    log = np.log(hits[inside].mean() / hits[others].mean())
    error = np.sqrt(1 / hits[inside].sum() + 1 / hits[others].sum())
    return float(np.exp(log - 3.29 * error)), float(np.exp(log + 3.29 * error))


def test_the_same_seed_gives_the_same_world_and_another_seed_another() -> None:
    truth = load_truth()
    one, same, other = (make_world(truth, seed, units=800) for seed in (5, 5, 6))

    for field in fields(World):
        value = getattr(one, field.name)
        if isinstance(value, pd.DataFrame):
            pd.testing.assert_frame_equal(value, getattr(same, field.name))
    assert not one.claims["narrative"].equals(other.claims["narrative"])


def test_uniform_draws_are_pinned_to_the_bits() -> None:
    """NumPy keeps the bit streams of PCG64; all laws are made from them here."""
    drawn = Draws(1, "fleet").uniform(3)

    assert drawn.tolist() == PINNED


def test_the_default_world_is_made_within_five_seconds() -> None:
    start = time.perf_counter()
    make_world(load_truth(), 3)

    assert time.perf_counter() - start < 5


def test_the_number_of_units_can_be_chosen() -> None:
    world = make_world(load_truth(), 2, units=500)

    assert len(world.unit_truth) == 500
    with pytest.raises(InputError, match="at least 1; got 0"):
        make_world(load_truth(), 2, units=0)


def test_frames_hold_canonical_fields_and_every_required_value(
    demo_world: World,
) -> None:
    for kind in KINDS:
        table, frame = TABLES[kind], demo_world.table(kind)
        assert set(frame.columns) <= set(table.field_names), kind
        assert frame[list(table.required)].notna().all().all(), kind
        present = [name for name in table.key if name in frame]
        assert not frame.duplicated(present).any(), kind
    with pytest.raises(KeyError):
        demo_world.table("truth")


def test_words_of_closed_lists_are_canonical(demo_world: World) -> None:
    claims, findings = demo_world.claims, demo_world.findings

    assert set(claims["status"]) == set(TABLES["claims"].field("status").allowed)
    assert set(findings["finding"]) <= set(TABLES["findings"].field("finding").allowed)


def test_nothing_is_known_after_the_end_of_the_data(demo_world: World) -> None:
    end = pd.Timestamp(demo_world.truth.data_end)

    for kind in KINDS:
        frame = demo_world.table(kind)
        for name in frame.columns:
            if TABLES[kind].field(name).type in ("date", "timestamp"):
                assert (frame[name].dropna().dt.normalize() <= end).all(), name


def test_a_counted_claim_is_the_first_of_its_component_inside_the_cover(
    demo_world: World,
) -> None:
    counted = _counted(demo_world)
    known = counted.dropna(subset=["failed_on"])

    assert not counted.duplicated(["serial", "component"]).any()
    assert (known["failed_on"] >= known["in_service_date"]).all()
    assert (known["failed_on"] <= known["coverage_end"]).all()
    assert not (known["failed_on"] >= known["retired_on"]).any()


def test_counted_claims_are_neither_denied_nor_cancelled_nor_goodwill(
    demo_world: World,
) -> None:
    claims = demo_world.claims[demo_world.claim_truth["counted"]]

    assert set(claims["status"]) == {"open", "approved", "closed"}
    assert set(claims["goodwill"]) == {"no"}


def test_plain_components_fail_as_often_as_their_law_says(demo_world: World) -> None:
    """Failures by 12 months among all units that were watched that long."""
    truth = demo_world.truth
    counted = _counted(demo_world)
    age = (counted["failed_on"] - counted["in_service_date"]).dt.days
    units = demo_world.unit_truth.merge(
        demo_world.units[["serial", "retired_on"]], on="serial"
    )
    year = pd.Timedelta(days=365)
    whole = units["in_service_date"] + year + pd.Timedelta(days=200) <= pd.Timestamp(
        truth.cut_off
    )
    whole &= ~(units["retired_on"] < units["in_service_date"] + year)
    cohort = set(units["serial"][whole])
    missing = truth.failure_date_missing
    scores = []
    for name in truth.plain_components:
        mine = (counted["component"] == name) & (age < 365)
        seen = int(counted["serial"][mine].isin(cohort).sum())
        share = truth.component(name).share_failed(365 / MONTH) * (1 - missing)
        expected = share * len(cohort)
        scores.append((seen - expected) / np.sqrt(expected * (1 - share)))

    assert stats.chi2.sf(np.square(scores).sum(), len(scores)) > 0.001
    assert abs(np.mean(scores)) < 3.3 / np.sqrt(len(scores))


def test_the_planted_window_fails_about_four_times_as_often(demo_world: World) -> None:
    window = demo_world.truth.windows[0]
    built = demo_world.units["build_date"]
    inside = (built >= str(window.from_date)) & (built < str(window.to_date))
    near = (built >= "2021-06-01") & (built < "2023-12-01") & ~inside

    low, high = _ratio(demo_world, window.component, inside, near)

    assert 2 < low < window.ratio < high


def test_the_planted_change_halves_its_fault_and_the_other_does_nothing(
    demo_world: World,
) -> None:
    built = demo_world.units["build_date"]
    year = pd.Timedelta(days=365)
    limits = {}
    for change in demo_world.truth.changes:
        day = pd.Timestamp(change.effective_build_date)
        before = (built >= day - 2 * year) & (built < day)
        after = (built >= day) & (built < min(day + 2 * year, LAST_GROWN_UP))
        limits[change.change_no] = _ratio(demo_world, change.component, after, before)

    assert limits["EC-0231"][0] < 0.5 < limits["EC-0231"][1] < 0.9
    assert limits["EC-0307"][0] < 1 < limits["EC-0307"][1]


# units built before it are through their first 24 months
LAST_GROWN_UP = pd.Timestamp("2023-12-01")


def test_the_planted_supplier_is_about_twice_as_bad(demo_world: World) -> None:
    planted = demo_world.truth.suppliers[0]
    fitted = demo_world.fitted_parts.set_index("serial")["supplier"]
    whose = demo_world.units["serial"].map(fitted)
    second, first = (whose == planted.suppliers[k] for k in (1, 0))

    low, high = _ratio(demo_world, planted.component, second, first)

    assert 1.3 < low < planted.ratios[1] < high


def test_the_planted_model_is_worse_in_its_fork(demo_world: World) -> None:
    effect = demo_world.truth.model_effects[0]
    mine = demo_world.units["model"] == effect.model

    low, high = _ratio(demo_world, effect.component, mine, ~mine)

    assert 1 < low < effect.ratio < high


def test_reports_arrive_with_the_written_lag(demo_world: World) -> None:
    counted = _counted(demo_world).dropna(subset=["failed_on"])
    old = counted[counted["failed_on"] < "2025-09-01"]
    lag = (
        old["reported_on"].dt.year * 12
        + old["reported_on"].dt.month
        - old["failed_on"].dt.year * 12
        - old["failed_on"].dt.month
    )

    assert lag.min() >= 0
    assert lag.max() <= len(demo_world.truth.reporting) - 1
    for month, expected in enumerate(demo_world.truth.reporting[:-1]):
        seen = (lag <= month).mean()
        error = np.sqrt(expected * (1 - expected) / len(lag))
        # the last weeks of the cover hurry, which adds a little
        assert expected - 4 * error < seen < expected + 4 * error + 0.01


def test_no_fault_claims_are_about_their_written_share(demo_world: World) -> None:
    real = demo_world.claim_truth
    first = real[real["origin"].isin(["failure", "no fault found"])]
    plain = demo_world.truth.plain_components
    expected = np.mean([demo_world.truth.component(c).no_fault_share for c in plain])
    mine = first[first["component"].isin(plain)]

    assert (mine["origin"] == "no fault found").mean() == pytest.approx(
        expected, abs=0.02
    )


def test_in_service_dates_are_missing_whether_or_not_there_is_a_claim(
    demo_world: World,
) -> None:
    sold = demo_world.unit_truth["in_service_date"] <= "2026-03-01"
    units = demo_world.unit_truth[sold]
    claimed = units["serial"].isin(set(demo_world.claim_truth["serial"]))

    assert 1 - units["dated"].mean() == pytest.approx(0.15, abs=0.01)
    # claims before delivery exist on dated units only: a point or so of difference
    assert units["dated"][claimed].mean() == pytest.approx(
        units["dated"][~claimed].mean(), abs=0.025
    )


def test_claims_do_not_betray_in_service_dates_that_the_register_lacks(
    demo_world: World,
) -> None:
    register = demo_world.units.set_index("serial")["in_service_date"]
    claims = demo_world.claims[demo_world.claim_truth["origin"] != "unknown serial"]

    theirs = claims["in_service_date"].reset_index(drop=True)
    known = claims["serial"].map(register).reset_index(drop=True)

    pd.testing.assert_series_equal(theirs, known, check_names=False, check_dtype=False)


def test_serials_in_nobodys_register_are_exactly_those_planted(
    demo_world: World,
) -> None:
    unknown = ~demo_world.claims["serial"].isin(set(demo_world.units["serial"]))

    assert set(demo_world.claim_truth["origin"][unknown]) == {"unknown serial"}
    assert unknown.sum() == (demo_world.claim_truth["origin"] == "unknown serial").sum()


def test_repeats_come_back_on_the_same_unit_after_its_repair(
    demo_world: World,
) -> None:
    real = demo_world.claim_truth.merge(demo_world.claims, on=["claim_no"])
    repeats = real[real["origin"] == "repeat"]
    first = real[real["origin"] == "failure"]
    both = repeats.merge(
        first, left_on=["serial_x", "component"], right_on=["serial_x", "component"]
    )

    assert len(repeats) > 100
    assert len(both) == len(repeats)
    gap = both["failed_on_x"] - both["closed_on_y"]
    assert not (gap < pd.Timedelta(0)).any()


def test_parts_named_in_claims_stand_in_the_parts_list(demo_world: World) -> None:
    parts = demo_world.parts.set_index("part_no")
    named = demo_world.claims["part_no"].dropna()
    real = demo_world.claim_truth["component"][named.index]

    assert set(named) <= set(parts.index)
    assert (parts["component"].reindex(named).to_numpy() == real.to_numpy()).all()
    assert set(demo_world.claim_parts["part_no"]) <= set(parts.index)
    closed = demo_world.claims["status"] == "closed"
    assert demo_world.claims["part_no"][closed].notna().mean() > 0.85


def test_supersession_leads_from_each_part_to_a_younger_generation(
    demo_world: World,
) -> None:
    parts = demo_world.parts.set_index("part_no")
    older = parts[parts["superseded_by"].notna()]
    newer = parts.loc[older["superseded_by"]]

    assert (newer["generation"].to_numpy() > older["generation"].to_numpy()).all()
    assert (newer["component"].to_numpy() == older["component"].to_numpy()).all()


def test_costs_add_up_to_their_total(demo_world: World) -> None:
    claims = demo_world.claims.dropna(subset=["cost_total"])
    parts = claims[["cost_parts", "cost_labour", "cost_freight"]].sum(axis=1)

    assert np.allclose(parts, claims["cost_total"], atol=0.006)


def test_canonical_files_are_recognised_by_their_headers(
    tmp_path: Path, demo_world: World
) -> None:
    paths = write_canonical(demo_world, tmp_path, labels=True)

    for path in paths:
        frame = pd.read_csv(path, dtype=str, keep_default_na=False)
        assert kind_from_headers(tuple(frame.columns)) == path.stem
    claims = pd.read_csv(tmp_path / "claims.csv", dtype=str, keep_default_na=False)
    assert claims["reported_on"].str.fullmatch(r"\d{4}-\d\d-\d\d").all()
    assert claims["cost_total"].str.fullmatch(r"(\d+\.\d\d)?").all()
    assert len(claims) == len(demo_world.claims)


def test_months_are_added_as_the_calendar_does() -> None:
    """Against pandas' ``DateOffset``, whose month ends are documented."""
    days = np.arange("2019-01-25", "2021-03-05", dtype="datetime64[D]")

    for months in (1, 11, 24, 36):
        expected = pd.DatetimeIndex(days) + pd.DateOffset(months=months)
        assert (pd.DatetimeIndex(add_months(days, months)) == expected).all()
    nothing = np.array(["NaT", "2020-01-01"], dtype="datetime64[D]")
    assert np.isnat(add_months(nothing, 1)).tolist() == [True, False]
    assert np.isnat(later(nothing, 3)).tolist() == [True, False]
