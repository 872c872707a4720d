"""Limits by distance, readings and the start of recording, through the product."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fleet_maker import Fleet, Row, workspace_of
from lifelines import KaplanMeierFitter
from typer.testing import CliRunner

from claimlens.analysis.question import ask
from claimlens.cli.app import app
from claimlens.errors import InputError
from claimlens.start import open_workspace
from claimlens.workspace import Workspace

AS_OF = date(2025, 6, 30)
MILE = 1.609344
LIMITED = "[coverage]\nmonths = 24\ndistance = 10000\n"


def fleet(
    seed: int,
    *,
    units: int = 3000,
    by_distance: bool = False,
    told: float = 0.8,
    miles: bool = False,
    model: str = "Trike",
) -> Fleet:
    """Draw a fleet of which a tenth fails a year, or in 10,000 km."""
    rng = np.random.default_rng([20240607, seed])
    made = Fleet(units=[], claims=[])
    for number in range(units):
        started = date(2022, 6, 1) + timedelta(days=int(rng.integers(0, 1096)))
        rate = 15 * np.exp(0.6 * rng.standard_normal())
        until = -np.log(rng.random()) / -np.log(0.9)
        age = until * 10_000 / rate if by_distance else until * 365.25
        km = age * rate
        serial = f"U{seed}{number:05d}"
        made.units.append(
            {
                "serial": serial,
                "model": model,
                "model_year": 2022,
                "in_service_date": started,
            }
        )
        failed = started + timedelta(days=int(min(age, 9_000)))
        if failed > AS_OF or age >= 730 or km > 10_000:
            continue
        claim: Row = {
            "claim_no": f"C{seed}{number:05d}",
            "serial": serial,
            "failed_on": failed,
            "reported_on": failed,
            "status": "closed",
        }
        if rng.random() < told:
            claim["usage"] = round(km / MILE if miles else km, 1) or 0.1
            claim["usage_unit"] = "miles" if miles else "km"
        made.claims.append(claim)
        made.labels.append(
            {
                "claim_no": claim["claim_no"],
                "component": "motor",
                "failure_mode": "worn",
                "reviewer": "R. Viewer",
                "reviewed_on": failed,
            }
        )
    return made


@pytest.fixture(scope="module")
def limited(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    folder = tmp_path_factory.mktemp("limited") / "ws"
    return workspace_of(fleet(1, units=4000), folder, LIMITED)


def test_a_limit_by_distance_hides_no_failures_from_the_rate(
    limited: Workspace,
) -> None:
    """A tenth fails a year; by age only the 24-month rate is a tenth too low."""
    table = limited.rates(by=(), at=[12, 24], as_of=AS_OF)
    for row, truth in zip(table.to_dict("records"), (0.1, 0.19), strict=True):
        assert row["rate"] == pytest.approx(truth, rel=0.08)
        assert row["lower"] <= truth <= row["upper"]
        assert "lognormal" in row["note"]
        assert "alike in units that fail" in row["note"]
    note = table["note"].iloc[1]
    by_age = float(note.rsplit("; ", 1)[-1].split("%")[0]) / 100
    assert "if no cover ended by distance" in note
    assert by_age < 0.95 * table["rate"].iloc[1]


def test_usage_rates_that_are_known_leave_their_error_out(
    limited: Workspace, tmp_path: Path
) -> None:
    """Set rates are taken as exact; estimated ones widen the interval."""
    per_year = 15 * 365.25
    known = workspace_of(
        fleet(1, units=4000),
        tmp_path / "ws",
        LIMITED + f"[[coverage.usage]]\nper_year = {per_year}\nspread = 0.6\n",
    )
    told = known.rates(by=(), at=24, as_of=AS_OF).iloc[0]
    read = limited.rates(by=(), at=24, as_of=AS_OF).iloc[0]
    assert told["rate"] == pytest.approx(read["rate"], rel=0.08)
    assert told["effective_n"] > 1.05 * read["effective_n"]
    assert "readings" not in told["note"]


def test_miles_and_kilometres_say_the_same(tmp_path: Path) -> None:
    km = workspace_of(fleet(2), tmp_path / "km", LIMITED)
    text = f"[coverage]\ndistance = {10_000 / MILE!r}\ndistance_unit = 'mi'\n"
    miles = workspace_of(fleet(2, miles=True), tmp_path / "miles", text)
    one = km.rates(by=(), at=[12, 24], as_of=AS_OF)
    two = miles.rates(by=(), at=[12, 24], as_of=AS_OF)
    figures = ["rate", "lower", "upper", "claims"]
    np.testing.assert_allclose(
        one[figures].to_numpy(dtype=float),
        two[figures].to_numpy(dtype=float),
        rtol=1e-3,
    )


def test_too_few_readings_leave_the_rate_by_age_and_say_so(tmp_path: Path) -> None:
    drawn = fleet(3, units=300, told=1.0)
    for claim in drawn.claims[20:]:
        del claim["usage"], claim["usage_unit"]
    plain = workspace_of(drawn, tmp_path / "plain", "[coverage]\nmonths = 24\n")
    short = workspace_of(drawn, tmp_path / "short", LIMITED)
    with_limit = short.rates(by=(), at=12, as_of=AS_OF).iloc[0]
    without = plain.rates(by=(), at=12, as_of=AS_OF).iloc[0]
    assert with_limit["rate"] == without["rate"]
    assert "by age only, a lower bound" in with_limit["note"]
    assert "readings, 30 needed" in with_limit["note"]


def test_readings_that_cannot_be_are_left_out_and_counted(tmp_path: Path) -> None:
    drawn = fleet(4, units=400, told=1.0)
    for number, (value, unit) in enumerate(
        [(-5, "km"), (0, "km"), (9e9, "km"), (500, "hours"), (400, "furlongs")]
    ):
        drawn.claims[number].update(usage=value, usage_unit=unit)
    again = dict(drawn.claims[5])
    again["claim_no"] = "AGAIN"
    again["failed_on"] = again["reported_on"] = drawn.claims[5][
        "failed_on"
    ] + timedelta(  # type: ignore[operator]
        days=5
    )
    again["usage"] = 0.5 * float(str(again["usage"]))
    drawn.claims.append(again)
    workspace = workspace_of(drawn, tmp_path / "ws", LIMITED)
    note = workspace.rates(by=(), at=12, as_of=AS_OF)["note"].item()
    assert (
        "readings of distance left out: 2 at odds with another of the same unit, 2 in "
        "no unit of distance, 2 not above 0, 1 beyond 1,000 km a day" in note
    )


def test_a_reading_above_the_limit_is_outside_coverage(tmp_path: Path) -> None:
    day = date(2024, 5, 1)
    readings = {"A": 10_000.0, "B": 10_000.1, "C": None}
    made = Fleet(units=[], claims=[])
    for serial, km in readings.items():
        made.units.append(
            {
                "serial": serial,
                "model": "Trike",
                "model_year": 2023,
                "in_service_date": date(2023, 5, 1),
            }
        )
        made.claims.append(
            {
                "claim_no": f"C{serial}",
                "serial": serial,
                "failed_on": day,
                "reported_on": day,
                "usage": km,
                "usage_unit": "km",
            }
        )
    workspace = workspace_of(made, tmp_path / "ws", LIMITED)
    with workspace._reading(ask(as_of=AS_OF)) as (session, _):
        rows = session._connection.execute(
            "select claim_class from int_claims order by claim_no"
        ).fetchall()
    assert rows == [("counted",), ("outside coverage",), ("counted",)]


def test_unread_claims_are_doubted_where_others_lie_above_the_limit(
    tmp_path: Path,
) -> None:
    drawn = fleet(10, units=1200, told=1.0)
    for number, claim in enumerate(drawn.claims):
        if number % 4 == 0:
            claim["usage"] = 11_000
            claim["failed_on"] = claim["reported_on"] = AS_OF
            unit = next(u for u in drawn.units if u["serial"] == claim["serial"])
            unit["in_service_date"] = AS_OF - timedelta(days=600)
        elif number % 4 == 1:
            del claim["usage"], claim["usage_unit"]
    workspace = workspace_of(drawn, tmp_path / "ws", LIMITED)
    note = workspace.rates(by=(), at=12, as_of=AS_OF)["note"].item()
    n = len(drawn.claims)
    above, unread = (n + 3) // 4, (n + 2) // 4
    doubtful = unread * above / (n - unread)
    assert (
        f"{unread} claims without a reading of distance are taken as inside the limit; "
        f"{above} of {n - unread} that were read lie above it, so about {doubtful:.0f} "
        f"of them may too, and rates may be up to "
        f"{doubtful / (n - above - doubtful):.0%} too high" in note
    )


def test_counting_claims_outside_coverage_takes_the_limit_away(tmp_path: Path) -> None:
    text = LIMITED + "[counting]\noutside_coverage = true\n"
    workspace = workspace_of(fleet(5, units=600), tmp_path / "ws", text)
    with workspace._reading(ask(as_of=AS_OF)) as (session, _):
        classes = session._connection.execute(
            "select distinct distance_class from int_watch"
        ).fetchall()
    assert classes == [(0,)]


def test_a_late_start_of_recording_is_left_truncation(tmp_path: Path) -> None:
    """Against lifelines, on the same units."""
    start = date(2024, 3, 10)
    drawn = fleet(6, units=1500)
    recorded = [claim for claim in drawn.claims if claim["failed_on"] >= start]  # type: ignore[operator]
    made = Fleet(units=drawn.units, claims=recorded, labels=[])
    workspace = workspace_of(
        made,
        tmp_path / "ws",
        f"[coverage]\nmonths = 24\n[counting]\nrecorded_from = {start}\n",
    )
    table = workspace.rates(by=(), at=[3, 12, 24], as_of=AS_OF)
    first = {str(claim["serial"]): claim["failed_on"] for claim in recorded}
    rows = []
    for unit in drawn.units:
        started = unit["in_service_date"]
        assert isinstance(started, date)
        end = min(AS_OF, (pd.Timestamp(started) + pd.DateOffset(months=24)).date())
        entry = max((start - started).days, 0)
        failed = first.get(str(unit["serial"]))
        age = ((failed or end) - started).days  # type: ignore[operator]
        if (end - started).days >= entry:
            rows.append((age + 1, failed is not None, entry))
    ages, events, entries = (np.array(part) for part in zip(*rows, strict=True))
    curve = KaplanMeierFitter().fit(ages, events, entry=entries)
    assert (entries > 0).sum() > 300
    for row in table.to_dict("records"):
        day = np.ceil(row["at_months"] * 30.4375)
        assert row["rate"] == pytest.approx(1 - curve.predict(day), rel=1e-9)
        assert "failures before 2024-03-10 were not recorded" in row["note"]
    # had nobody said so, the old units would look as if they never fail young
    silent = workspace_of(made, tmp_path / "silent", "[coverage]\nmonths = 24\n")
    asked = silent.rates(by=(), at=12, as_of=AS_OF).iloc[0]
    first_day = min(str(claim["failed_on"]) for claim in recorded)
    assert f"set counting.recorded_from = {first_day}" in asked["note"]
    assert asked["rate"] < 0.9 * table["rate"].iloc[1]


def test_a_record_from_the_start_is_not_questioned(limited: Workspace) -> None:
    note = limited.rates(by=(), at=12, as_of=AS_OF)["note"].item()
    assert "recorded_from" not in note


@pytest.fixture(scope="module")
def driven(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    """Return a fleet that fails by distance, and a second model that hardly does."""
    made = fleet(7, units=5000, by_distance=True)
    other = fleet(8, units=150, by_distance=True, model="Scooter")
    for name in ("units", "claims", "labels"):
        getattr(made, name).extend(getattr(other, name))
    return workspace_of(made, tmp_path_factory.mktemp("driven") / "ws", LIMITED)


def test_a_life_against_distance_finds_the_truth(driven: Workspace) -> None:
    table = driven.life(by="component", against="distance", as_of=AS_OF)
    row = table.iloc[0]
    assert row["shape_lower"] <= 1.0 <= row["shape_upper"]
    assert row["shape"] == pytest.approx(1.0, rel=0.15)
    assert row["b10_lower"] <= 10_000 <= row["b10_upper"]
    assert row["b10_distance"] == pytest.approx(10_000, rel=0.2)
    assert row["distance_unit"] == "km"
    assert row["failures_read"] < row["failures"]
    assert "taken to come by distance" in row["note"]
    assert "alike in units that fail" not in row["note"]
    again = driven.life(by="component", against="distance", as_of=AS_OF)
    pd.testing.assert_frame_equal(table, again)


def test_a_segment_without_enough_readings_says_why(driven: Workspace) -> None:
    table = driven.life(by=("model", "component"), against="distance", as_of=AS_OF)
    rows = table.set_index("model")
    assert np.isnan(rows.loc["Scooter", "shape"])
    assert (
        "failures with a reading of distance, 30 needed" in rows.loc["Scooter", "note"]
    )
    assert rows.loc["Trike", "shape"] > 0
    whole = driven.life(by="component", against="distance", as_of=AS_OF).iloc[0]
    assert "Scooter left out" in whole["note"]


def test_half_of_the_failures_must_have_a_reading(tmp_path: Path) -> None:
    made = fleet(9, units=3000, by_distance=True, told=0.3)
    workspace = workspace_of(made, tmp_path / "ws", LIMITED)
    row = workspace.life(by=(), against="distance", as_of=AS_OF).iloc[0]
    assert np.isnan(row["shape"])
    assert "fewer than half" in row["note"]


def test_what_does_not_go_with_distance_is_refused(driven: Workspace) -> None:
    with pytest.raises(InputError, match="cannot be measured in 'hours'"):
        driven.life(against="hours")
    with pytest.raises(InputError, match="at does not go with"):
        driven.life(against="distance", at=12)
    with pytest.raises(InputError, match="cannot be told by 'supplier'"):
        driven.life(by="supplier", against="distance")


def test_the_command_measures_lives_by_distance(driven: Workspace) -> None:
    result = CliRunner().invoke(
        app,
        [
            "life",
            "--against",
            "distance",
            "--as-of",
            str(AS_OF),
            "--format",
            "csv",
            "--workspace",
            str(driven.folder),
        ],
    )
    assert result.exit_code == 0, result.output
    assert result.output.splitlines()[0].startswith(
        "component,units,failures,failures_read"
    )


def test_the_interval_is_widened_by_what_moved_usage_rates_would_change(
    limited: Workspace, tmp_path: Path
) -> None:
    """Against rates asked again under usage rates moved by one standard error."""
    with limited._reading(ask(as_of=AS_OF)) as (_, scope):
        usage = scope.cover.classes[0].usage

    def rate_with(by: np.ndarray) -> pd.Series:
        per_year = float(usage.rates.median * 365.25 * np.exp(by[0]))
        spread = float(usage.rates.spread * np.exp(by[1]))
        text = f"[[coverage.usage]]\nper_year = {per_year!r}\nspread = {spread!r}\n"
        (limited.folder / "claimlens.toml").write_text(LIMITED + text, encoding="utf-8")
        return open_workspace(limited.folder).rates(by=(), at=24, as_of=AS_OF).iloc[0]

    try:
        middle = rate_with(np.zeros(2))
        values, axes = np.linalg.eigh(usage.covariance)
        extra = 0.0
        for value, axis in zip(values, axes.T, strict=True):
            step = np.sqrt(value) * axis
            extra += ((rate_with(step)["rate"] - rate_with(-step)["rate"]) / 2) ** 2
    finally:
        (limited.folder / "claimlens.toml").write_text(LIMITED, encoding="utf-8")
    read = limited.rates(by=(), at=24, as_of=AS_OF).iloc[0]
    assert read["rate"] == pytest.approx(middle["rate"], rel=1e-6)
    spread = read["rate"] * (1 - read["rate"])
    added = spread / read["effective_n"] - spread / middle["effective_n"]
    # the estimate lets the few failed units go along with all others
    assert added == pytest.approx(extra, rel=0.15)
    assert added > 0.1 * spread / middle["effective_n"]
