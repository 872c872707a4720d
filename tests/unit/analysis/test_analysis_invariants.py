"""What must not move a number, ages on their boundaries, and the foot of a report."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from brute_force import MONTH, Oracle, add_months, exposed
from fleet_maker import Fleet, Row, random_fleet, shuffled, workspace_of
from scipy.optimize import minimize

from claimlens import handover
from claimlens.analysis.counts import count_failures
from claimlens.analysis.scope import Question, prepare
from claimlens.classify.taxonomy import load_taxonomy
from claimlens.classify.terms import load_terms
from claimlens.db import Session, read_warehouse
from claimlens.workspace import Workspace

AS_OF = date(2024, 6, 30)


def all_answers(workspace: Workspace, as_of: date) -> str:
    """Return every answer at a cut-off as one text."""
    frames = [
        workspace.rates(by=by, as_of=as_of)
        for by in ("component", "model,region", "supplier", "build_month,component")
    ]
    frames.append(workspace.life(by=["component"], as_of=as_of))
    frames.append(workspace.predelivery(as_of=as_of))
    frames.append(workspace.classify(as_of=as_of))
    return "\n".join(handover.to_json(handover.records(frame)) for frame in frames)


def with_question(
    workspace: Workspace, as_of: date, work: Callable[[Session, object], object]
) -> object:
    """Run ``work`` on a session whose tables stand ready."""
    terms = load_terms(load_taxonomy(None, None), None)
    with read_warehouse(workspace.warehouse) as session:
        scope = prepare(session, workspace.settings, terms, Question(as_of=as_of))
        return work(session, scope)


def test_rows_dated_after_the_cut_off_change_no_byte(tmp_path: Path) -> None:
    """Acceptance test A-1: 500 claims and 500 units after the cut-off."""
    fleet = random_fleet(41, undated=0.3, suppliers=True)
    late = Fleet(units=[], claims=[])
    for number in range(500):
        day = AS_OF + timedelta(days=1 + number % 300)
        late.units.append(
            {
                "serial": f"L{number}",
                "model": "Trike",
                "model_year": 2024,
                "build_date": day,
                "ship_date": day,
                "in_service_date": day if number % 2 else None,
                "region": "North",
            }
        )
        on_old_unit = number % 2
        late.claims.append(
            {
                "claim_no": f"L{number}",
                "reported_on": day,
                "failed_on": AS_OF - timedelta(days=5) if number % 3 == 0 else day,
                "serial": fleet.units[number % 90]["serial"]
                if on_old_unit
                else f"L{number}",
                "status": "closed",
            }
        )
        late.labels.append(
            {
                "claim_no": f"L{number}",
                "component": "frame",
                "failure_mode": "worn",
                "reviewer": "R. Viewer",
                "reviewed_on": day,
            }
        )
        late.findings.append(
            {
                "claim_no": fleet.claims[number % len(fleet.claims)]["claim_no"],
                "inspected_on": day,
                "part_no": f"L{number}",
                "finding": "misuse",
            }
        )
        if on_old_unit:
            late.fitted_parts.append(
                {
                    "serial": fleet.units[number % 90]["serial"],
                    "component": "motor",
                    "supplier": "Late Works",
                    "component_serial": f"L{number}",
                    "fitted_on": day,
                }
            )
    workspace = workspace_of(fleet, tmp_path / "ws")
    before = all_answers(workspace, AS_OF)
    late.write(tmp_path / "later")
    workspace.ingest(tmp_path / "later")
    assert len(workspace.classify()) == len(fleet.claims) + 500
    assert all_answers(workspace, AS_OF) == before


@pytest.mark.parametrize("seed", [51, 52])
def test_every_claim_falls_into_one_class(seed: int, tmp_path: Path) -> None:
    """Acceptance test A-2, and the classes are those of a count by hand."""
    fleet = random_fleet(seed, n_units=500)
    workspace = workspace_of(fleet, tmp_path / "ws")
    oracle = Oracle(fleet, AS_OF)
    found = with_question(
        workspace, AS_OF, lambda session, _: session.frame("marts/claim_classes")
    )
    assert isinstance(found, pd.DataFrame)
    counted = dict(zip(found["claim_class"], found["n_claims"], strict=True))
    assert counted == dict(oracle.classes())
    assert sum(counted.values()) == len(oracle.claims)
    assert len(counted) >= 10


def boundary_unit(serial: str, **other: object) -> Row:
    return {
        "serial": serial,
        "model": "Trike",
        "model_year": 2022,
        "in_service_date": date(2022, 1, 1),
        **other,
    }


# day of failure, day of report, failures by 1 month, failures by 24 months
BOUNDARIES = (
    (0, 0, 1, 1),  # the day of first use
    (30, 30, 1, 1),  # 30 < 30.4375
    (31, 31, 0, 1),
    (-1, 0, 0, 0),  # before delivery
    (730, 730, 0, 1),  # 1 January 2024, the last day of cover
    (731, 731, 0, 0),  # the day after
    (730, 790, 0, 1),  # 60 days late
    (730, 791, 0, 0),
)


def test_ages_on_the_boundary(tmp_path: Path) -> None:
    """Acceptance test A-4, counted by hand; of each model 12 units, one failing."""
    started = date(2022, 1, 1)
    assert add_months(started, 24) == started + timedelta(days=730)
    fleet = Fleet(units=[], claims=[])
    for k, (day, reported, _, _) in enumerate(BOUNDARIES):
        fleet.units += [boundary_unit(f"U{k}-{n}", model=f"M{k}") for n in range(12)]
        fleet.claims.append(
            {
                "claim_no": f"C{k}",
                "serial": f"U{k}-3",
                "failed_on": started + timedelta(days=day),
                "reported_on": started + timedelta(days=reported),
                "status": "closed",
            }
        )
    workspace = workspace_of(fleet, tmp_path / "ws")
    table = workspace.rates(by="model", at=[1, 24], as_of=date(2025, 1, 1))
    lives = workspace.life(by="model", as_of=date(2025, 1, 1)).set_index("model")
    assert set(table["units"]) == {12}
    # 731 days of watch reach 24 months of 30.4375 days: 730.5
    assert set(table["units_old_enough"]) == {12}
    for k, (day, reported, early, late) in enumerate(BOUNDARIES):
        rows = table[table["model"] == f"M{k}"]
        assert rows["claims"].tolist() == [early, late], (day, reported)
        assert rows["rate"].tolist() == pytest.approx([early / 12, late / 12])
        assert lives.loc[f"M{k}", "failures"] == late


def test_the_day_of_retirement_is_at_risk(tmp_path: Path) -> None:
    retired = date(2022, 1, 1) + timedelta(days=100)
    fleet = Fleet(
        units=[boundary_unit(f"U{n}", retired_on=retired) for n in range(5)],
        claims=[
            {
                "claim_no": "C1",
                "serial": "U1",
                "failed_on": retired,
                "reported_on": retired,
                "status": "closed",
            }
        ],
    )
    workspace = workspace_of(fleet, tmp_path / "ws")
    ages = [101 / MONTH, 101.5 / MONTH]
    table = workspace.rates(by=(), at=ages, as_of=date(2024, 1, 1))
    assert table["units_old_enough"].tolist() == [5, 0]
    assert table["claims"].tolist() == [1, 1]
    assert table["rate"].iloc[0] == pytest.approx(0.2)
    assert np.isnan(table["rate"].iloc[1])
    assert "retirement" in table["note"].iloc[1]


def test_the_order_of_rows_changes_no_byte(tmp_path: Path) -> None:
    fleet = random_fleet(61, undated=0.3, suppliers=True)
    first = all_answers(workspace_of(fleet, tmp_path / "a"), AS_OF)
    mixed = workspace_of(shuffled(fleet, 1), tmp_path / "b")
    assert all_answers(mixed, AS_OF) == first


def test_another_model_leaves_the_rows_of_the_first_as_they_were(
    tmp_path: Path,
) -> None:
    fleet = random_fleet(71, n_units=300)
    by = ("model", "component")
    # how late reports come is told by all claims together: it is not in question here
    alone = "[rates]\nlag_claims = 1000000"
    one = workspace_of(fleet, tmp_path / "one", alone)
    more = random_fleet(72, n_units=120)
    added = Fleet(units=list(fleet.units), claims=list(fleet.claims))
    added.labels, added.findings = list(fleet.labels), list(fleet.findings)
    for unit in more.units:
        new = {**unit, "serial": f"N{unit['serial']}", "model": "Hauler"}
        added.units.append(new)
        added.claims.append(
            {
                "claim_no": f"N{unit['serial']}",
                "serial": new["serial"],
                "failed_on": date(2024, 6, 1),
                "reported_on": date(2024, 6, 2),
                "status": "closed",
            }
        )
        added.labels.append(
            {
                "claim_no": f"N{unit['serial']}",
                "component": "display",
                "failure_mode": "worn",
                "reviewer": "R. Viewer",
                "reviewed_on": date(2024, 6, 3),
            }
        )
    two = workspace_of(added, tmp_path / "two", alone)
    for ask in (
        lambda ws: ws.rates(by=by, as_of=AS_OF),
        lambda ws: ws.life(by=by, as_of=AS_OF),
    ):
        before, after = ask(one), ask(two)
        rest = after[after["model"] != "Hauler"].reset_index(drop=True)
        # the notes also tell of the fleet as a whole
        before, rest = before.drop(columns="note"), rest.drop(columns="note")
        if "failures" in rest:
            # a thin segment borrows the shape of the component's other models
            thin = rest["failures"] < 5
            assert thin.any()
            before, rest = before[~thin], rest[~thin]
        # counts to the bit; a fit of more segments at once adds in another order
        pd.testing.assert_frame_equal(before, rest, rtol=1e-9, atol=0)
        whole = before.select_dtypes("int64").columns
        assert before[whole].equals(rest[whole])


@pytest.mark.parametrize("by", [("component",), ("model", "component"), ("region",)])
def test_the_cells_of_a_life_fit_equal_a_count_unit_by_unit(
    by: tuple[str, ...], tmp_path: Path
) -> None:
    fleet = random_fleet(81)
    workspace = workspace_of(fleet, tmp_path / "ws")
    oracle = Oracle(fleet, AS_OF)
    counts = with_question(
        workspace,
        AS_OF,
        lambda session, scope: count_failures(session, workspace.settings, scope, by),
    )
    segments = counts.segments.to_dict("records")
    assert len(segments) == len(oracle.segments(by))
    for chunk in counts.chunks(size=3):
        for i, segment in enumerate(segments[k] for k in chunk.rows):
            failed, planned = (np.zeros(len(counts.ages)) for _ in range(2))
            histories = oracle.histories(segment)
            for history in histories:
                planned[history.planned] += 1
                if history.first is not None and history.chance(history.first):
                    failed[history.first] += 1
            assert chunk.failures[i].tolist() == failed.tolist()
            stayed = exposed(histories, len(counts.ages))
            np.testing.assert_allclose(chunk.exposed[i], stayed, atol=1e-9)
            assert chunk.planned[i].tolist() == planned.tolist()
    assert counts.ages.tolist() == list(range(1, len(counts.ages) + 1))


def test_a_life_equals_the_best_of_a_plain_search(tmp_path: Path) -> None:
    """Failure on day d lies in (d, d + 1]; a unit watched through day d ran to d + 1.

    Each unit's day counts with the chance that a failure on it would be known by
    now. Grouped likelihood: Lawless (2003), Statistical Models and Methods for
    Lifetime Data, chapter 3; counted here unit by unit and maximised by scipy.
    """
    fleet = random_fleet(91, n_units=400)
    workspace = workspace_of(fleet, tmp_path / "ws")
    histories = Oracle(fleet, AS_OF).histories({"component": "battery pack"})

    longest = max(history.planned for history in histories) + 1
    failed, stayed = np.zeros(longest), np.array(exposed(histories, longest))
    for history in histories:
        if history.first is not None and history.chance(history.first):
            failed[history.first] += 1
    edges = np.arange(longest + 1.0)

    def cost(log_parameters: np.ndarray) -> float:
        shape, scale = np.exp(log_parameters)
        width = np.diff((edges / scale) ** shape)
        seen = failed > 0
        log_chance = np.log(-np.expm1(-width[seen]))
        return float((stayed * width).sum() - (failed[seen] * log_chance).sum())

    best = minimize(
        cost,
        [0.0, 8.0],
        method="Nelder-Mead",
        options={"xatol": 1e-9, "fatol": 1e-11, "maxiter": 4000},
    )
    shape, scale = np.exp(best.x)
    row = workspace.life(by="component", as_of=AS_OF).set_index("component")
    row = row.loc["battery pack"]
    assert row["units"] == len(histories)
    assert row["failures"] == failed.sum() > 20
    assert row["shape"] == pytest.approx(shape, rel=1e-5)
    assert row["scale_months"] == pytest.approx(scale / MONTH, rel=1e-5)
    b10 = scale * (-np.log(0.9)) ** (1 / shape) / MONTH
    assert row["b10_months"] == pytest.approx(b10, rel=1e-5)
    # the likelihood at both limits of the shape lies 1.92 below its best
    for name in ("shape_lower", "shape_upper"):
        held = minimize(
            lambda x, limit=row[name]: cost(np.array([np.log(limit), x[0]])),
            [np.log(scale)],
            method="Nelder-Mead",
            options={"xatol": 1e-10, "fatol": 1e-11},
        )
        assert 2 * (held.fun - best.fun) == pytest.approx(3.841459, abs=1e-3)


def test_claims_before_delivery_have_their_own_rate(tmp_path: Path) -> None:
    fleet = random_fleet(95, n_units=500)
    workspace = workspace_of(fleet, tmp_path / "ws")
    oracle = Oracle(fleet, AS_OF)
    early = [s for s in oracle.claims if s.klass == "before delivery"]
    table = workspace.predelivery(as_of=AS_OF).set_index("model")
    for model in ("Trike", "Scooter"):
        shipped = sum(
            u["ship_date"] <= AS_OF for u in fleet.units if u["model"] == model
        )
        claims = [s for s in early if s.unit is not None and s.unit["model"] == model]
        units = {s.unit["serial"] for s in claims if s.unit is not None}
        assert table.loc[model, "units_shipped"] == shipped
        assert table.loc[model, "claims"] == len(claims)
        assert table.loc[model, "units_claimed"] == len(units)
        assert table.loc[model, "rate_per_thousand"] == pytest.approx(
            1000 * len(units) / shipped
        )
    assert len(early) >= 2
