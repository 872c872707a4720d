"""Late reports: completed months, and what earlier reports showed."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fleet_maker import Fleet, Row, workspace_of, write_csv

from claimlens.analysis.late_counts import backlogs
from claimlens.analysis.late_months import Month, months_back
from claimlens.analysis.late_shares import tell
from claimlens.analysis.question import ask
from claimlens.errors import InputError
from claimlens.settings import Settings
from claimlens.workspace import Workspace

START = date(2022, 1, 1)
AS_OF = date(2024, 12, 31)
SHARES = np.array([0.35, 0.40, 0.15, 0.05, 0.03, 0.02])


def month_no(day: date) -> int:
    return day.year * 12 + day.month


def units(n: int = 60) -> list[Row]:
    return [
        {
            "serial": f"U{number}",
            "model": "Trike",
            "model_year": 2022,
            "in_service_date": START,
            "region": ("North", "South")[number % 2],
        }
        for number in range(n)
    ]


def claims(seed: int, rate: float = 14.0, *, until: date = AS_OF) -> list[Row]:
    """Draw claims with a known lag in months, at most one a unit and day."""
    rng = np.random.default_rng([20240607, seed])
    rows: list[Row] = []
    for back in range(35, -1, -1):
        month = months_back(until, 36)[back]
        for _ in range(rng.poisson(rate)):
            failed = month.first + timedelta(days=int(rng.integers(0, 28)))
            later = int(rng.choice(6, p=SHARES))
            target = month_no(failed) + later
            year, number = divmod(target - 1, 12)
            low = failed.day if later == 0 else 1
            reported = date(year, number + 1, int(rng.integers(low, 29)))
            rows.append(
                {
                    "claim_no": f"C{len(rows):05d}",
                    "reported_on": reported,
                    "failed_on": failed,
                    "serial": f"U{int(rng.integers(0, 60))}",
                    "status": "closed",
                    "narrative": "display stays dark",
                }
            )
    return rows


def loaded(
    folder: Path, rows: list[Row], settings: str = "[coverage]\nmonths = 60\n"
) -> Workspace:
    return workspace_of(Fleet(units=units(), claims=rows), folder, settings)


def shown(frame: pd.DataFrame, column: str) -> dict[str, int | None]:
    return {
        f"{month:%Y-%m}": None if pd.isna(value) else int(value)
        for month, value in zip(frame["month"], frame[column], strict=True)
    }


def test_months_are_those_of_the_calendar_where_the_cut_off_ends_one() -> None:
    assert months_back(date(2024, 2, 29), 3) == (
        Month(date(2024, 2, 1), date(2024, 2, 29)),
        Month(date(2024, 1, 1), date(2024, 1, 31)),
        Month(date(2023, 12, 1), date(2023, 12, 31)),
    )


def test_months_end_on_the_day_of_the_cut_off_else() -> None:
    assert months_back(date(2024, 3, 30), 2) == (
        Month(date(2024, 3, 1), date(2024, 3, 30)),
        Month(date(2024, 1, 31), date(2024, 2, 29)),
    )
    days = [month.first for month in months_back(date(2024, 3, 30), 30)]
    ends = [month.last for month in months_back(date(2024, 3, 30), 30)]
    assert all(
        first == end + timedelta(days=1)
        for first, end in zip(days[:-1], ends[1:], strict=True)
    )


def test_counts_shares_and_completed_months_agree_with_plain_loops(
    tmp_path: Path,
) -> None:
    rows = claims(1)
    found = loaded(tmp_path / "w", rows).lag(as_of=AS_OF)
    seen = [row for row in rows if row["reported_on"] <= AS_OF]
    last = month_no(AS_OF)
    pairs = [(month_no(r["failed_on"]), month_no(r["reported_on"])) for r in seen]
    share, known = [1.0] * 13, 1.0
    for lag in range(12, 0, -1):
        exact = sum(
            1 for f, r in pairs if last - f < 24 and r - f == lag and f + lag <= last
        )
        at_most = sum(
            1 for f, r in pairs if last - f < 24 and r - f <= lag and f + lag <= last
        )
        known *= 1 - exact / at_most
        share[lag - 1] = known
    assert len(found) == 24
    for ago, row in enumerate(found.iloc[::-1].to_dict("records")):
        count = sum(1 for f, _ in pairs if f == last - ago)
        assert row["claims"] == count
        assert row["share_reported"] == pytest.approx(share[min(ago, 12)], rel=1e-12)
        assert row["completed"] == pytest.approx(count / share[min(ago, 12)])
        assert row["lower"] <= row["completed"] <= row["upper"] + 1


def test_completed_months_hold_what_came_later(tmp_path: Path) -> None:
    rows = claims(2, 40.0)
    workspace = loaded(tmp_path / "w", rows)
    inside = []
    for back in (7, 10):
        as_of = months_back(AS_OF, 12)[back].last
        found = workspace.lag(as_of=as_of).tail(4)
        for month, lower, upper in zip(
            found["month"], found["lower"], found["upper"], strict=True
        ):
            final = sum(
                1
                for row in rows
                if month_no(row["failed_on"]) == month_no(month.date())
                and row["reported_on"] <= AS_OF
            )
            inside.append(lower <= final <= upper)
    assert np.mean(inside) >= 0.75


def load_month(workspace: Workspace, rows: list[Row], months_ago: int) -> date:
    """Load the export of a month-end: what was reported by two days after it."""
    end = months_back(AS_OF, 12)[months_ago].last
    known = end + timedelta(days=2)
    export = [dict(row) for row in rows if row["reported_on"] <= known]
    for number, row in enumerate(rows):
        # some claims are denied, but only in an export made a month later
        if number % 4 == 0 and known - row["reported_on"] > timedelta(days=25):
            for copy in export:
                if copy["claim_no"] == row["claim_no"]:
                    copy["status"] = "denied"
    path = workspace.folder / f"claims_{known}.csv"
    write_csv(path, export)
    workspace.ingest(path, known_on=known)
    return end


def test_first_shown_figures_stay_as_later_files_arrive(tmp_path: Path) -> None:
    """Acceptance test F-3: the table asked for again after each of three loads."""
    rows = claims(3)
    workspace = workspace_of(
        Fleet(units=units(), claims=[]),
        tmp_path / "w",
        "[coverage]\nmonths = 60\n",
        load=False,
    )
    workspace.ingest(known_on=date(2022, 1, 5))
    firsts: dict[str, int] = {}
    printed: dict[str, int | None] = {}
    before: dict[str, int | None] = {}
    for months_ago in (3, 2, 1):
        end = load_month(workspace, rows, months_ago)
        found = workspace.lag(as_of=end)
        first, now, last = (
            shown(found, name) for name in ("first_shown", "claims", "last_shown")
        )
        printed[f"{end:%Y-%m}"] = now[f"{end:%Y-%m}"]
        for month, value in first.items():
            if value is not None:
                assert firsts.setdefault(month, value) == value
        # each is what the report of that month-end printed
        assert {month: first[month] for month in printed} == printed
        # and the report before this one is quoted as it was
        assert {month: last[month] for month in before if month in last} == {
            month: value for month, value in before.items() if month in last
        }
        before = now
    assert len(firsts) == 8
    restated = found[found["restated"]]
    # a claim denied since is gone now, and was there then
    assert (restated["last_shown"] > restated["claims"]).any()
    assert (restated["last_shown"] < restated["claims"]).any()
    # the report of the month before said of its own month what it says again now
    asked = ask(as_of=end)
    (_, counts), *_ = workspace._earlier(asked, own_month=True)
    assert counts is not None
    assert counts.shown is not None
    month = end.replace(day=1) - timedelta(days=1)
    assert counts.shown.claims_reported == sum(
        1 for row in rows if month.replace(day=1) <= row["reported_on"] <= month
    )
    assert counts.shown.units_in_service == 60
    # what was known then can be asked for, too
    then = workspace.lag(
        as_of=months_back(AS_OF, 12)[2].last, as_known=date(2024, 11, 2)
    )
    assert (
        shown(then, "claims").items()
        >= {month: value for month, value in last.items() if value is not None}.items()
    )


def test_an_inspection_that_comes_later_moves_no_month(tmp_path: Path) -> None:
    """Half the claims turn out sound, months after their report."""
    rows = claims(14, 8.0)
    plain = loaded(tmp_path / "plain", rows).lag(as_of=AS_OF)
    fleet = Fleet(units=units(), claims=rows)
    fleet.findings = [
        {
            "claim_no": row["claim_no"],
            "inspected_on": row["reported_on"] + timedelta(days=70),
            "finding": ("no fault found", "misuse")[number % 2],
        }
        for number, row in enumerate(rows[::2])
    ]
    inspected = workspace_of(fleet, tmp_path / "w", "[coverage]\nmonths = 60\n")
    pd.testing.assert_frame_equal(inspected.lag(as_of=AS_OF), plain)


def test_one_load_of_the_whole_past_shows_what_was_reported_by_then(
    tmp_path: Path,
) -> None:
    rows = claims(5)
    found = loaded(tmp_path / "w", rows).lag(as_of=AS_OF)
    for ago, row in enumerate(found.iloc[::-1].to_dict("records")):
        month = months_back(AS_OF, 24)[ago]
        if ago < 6:
            expected = sum(
                1
                for claim in rows
                if month.first <= claim["failed_on"] <= month.last
                and claim["reported_on"] <= month.last
            )
            assert row["first_shown"] == expected
        else:
            assert pd.isna(row["first_shown"])


def test_a_cut_off_within_a_month_has_months_of_its_own(tmp_path: Path) -> None:
    """Months end on the cut-off's day, and so did those of the reports before."""
    rows, as_of = claims(13), date(2024, 11, 15)
    found = loaded(tmp_path / "w", rows).lag(as_of=as_of)
    months = months_back(as_of, 24)
    for ago, row in enumerate(found.iloc[::-1].to_dict("records")):
        here = [
            claim["reported_on"]
            for claim in rows
            if months[ago].first <= claim["failed_on"] <= months[ago].last
        ]
        assert row["month"].date() == months[ago].first
        assert row["claims"] == sum(day <= as_of for day in here)
        if ago < 6:
            assert row["first_shown"] == sum(day <= months[ago].last for day in here)


def test_a_report_of_a_time_without_units_shows_nothing_and_says_so(
    tmp_path: Path,
) -> None:
    rows = claims(6)
    folder = tmp_path / "w"
    workspace = workspace_of(
        Fleet(units=[], claims=[]), folder, "[coverage]\nmonths = 60\n", load=False
    )
    write_csv(folder / "units.csv", units())
    early = [row for row in rows if row["reported_on"] <= date(2024, 11, 2)]
    write_csv(folder / "early.csv", early)
    write_csv(folder / "late.csv", rows)
    workspace.ingest(folder / "early.csv", known_on=date(2024, 11, 2))
    workspace.ingest(folder / "late.csv", known_on=date(2025, 1, 3))
    workspace.ingest(folder / "units.csv", known_on=date(2025, 1, 3))
    found = workspace.lag(as_of=AS_OF).set_index("month")
    assert pd.isna(found.loc["2024-10-01", "first_shown"])
    assert "not shown then" in found.loc["2024-10-01", "note"]
    assert found.loc["2024-11-01", "first_shown"] > 0


def test_a_group_with_many_claims_has_a_lag_of_its_own(tmp_path: Path) -> None:
    rows = claims(7, 30.0)
    for row in rows:
        if int(str(row["serial"])[1:]) % 2 == 0:  # the north reports at once
            row["reported_on"] = row["failed_on"]
    workspace = loaded(tmp_path / "w", rows)
    by_region = workspace.lag(by="region", delays=True, as_of=AS_OF)
    at_once = by_region[by_region["delay_months"] == 0].set_index("region")
    assert at_once.loc["North", "share_reported"] == 1.0
    assert at_once.loc["South", "share_reported"] < 0.5
    months = workspace.lag(by="region", as_of=AS_OF)
    whole = workspace.lag(as_of=AS_OF)
    assert months.groupby("month")["claims"].sum().tolist() == whole["claims"].tolist()
    one = workspace.lag(region="North", as_of=AS_OF)
    assert one["completed"].tolist() == one["claims"].tolist()


def test_a_group_with_few_claims_borrows_the_lag_of_all(tmp_path: Path) -> None:
    workspace = loaded(tmp_path / "w", claims(8, 10.0))
    found = workspace.lag(by="region", as_of=AS_OF)
    assert found["note"].str.contains("lag of all claims").all()
    assert found["lag_claims"].nunique() == 1


def test_a_claim_without_a_failure_date_is_complete(tmp_path: Path) -> None:
    rows = claims(9, 60.0)
    for number, row in enumerate(rows):
        if number % 2:
            row["failed_on"] = None
    found = loaded(tmp_path / "w", rows).lag(as_of=AS_OF).iloc[-1]
    undated = sum(
        1
        for row in rows
        if row["failed_on"] is None
        and row["reported_on"] <= AS_OF
        and month_no(row["reported_on"]) == month_no(AS_OF)
    )
    dated = found["claims"] - undated
    assert dated > 0
    share = dated / (found["completed"] - undated)
    assert 0.25 < share < 0.45
    assert found["share_reported"] == pytest.approx(
        found["claims"] / found["completed"]
    )
    assert "no failure date" in found["note"]


def test_few_claims_tell_nothing_and_a_reason_stands_there(tmp_path: Path) -> None:
    found = loaded(tmp_path / "w", claims(10, 0.3)).lag(as_of=AS_OF)
    assert found["completed"].isna().all()
    assert found["note"].str.contains("20 needed").all()
    assert found["claims"].sum() > 0


def test_a_supplier_or_an_unknown_group_is_refused(tmp_path: Path) -> None:
    workspace = loaded(tmp_path / "w", claims(11, 1.0))
    with pytest.raises(InputError, match="supplier"):
        workspace.lag(supplier="Nobody", as_of=AS_OF)
    with pytest.raises(InputError, match="colour"):
        workspace.lag(by="colour")
    with pytest.raises(InputError, match="twice"):
        workspace.lag(by="region,region")


def triangle(
    counts: dict[int, np.ndarray] | np.ndarray, *, assumed: int = 0
) -> pd.DataFrame:
    """Return claims by month of failure, the latest first, and lag as a frame."""
    rows = [
        (ago, lag, False, True, int(n))
        for ago, by_lag in enumerate(np.asarray(counts))
        for lag, n in enumerate(by_lag)
        if n and lag <= ago
    ]
    if assumed:
        rows.append((0, 0, True, True, assumed))
    names = ["failed_no", "lag", "is_failure_date_assumed", "is_wanted", "n_claims"]
    return pd.DataFrame(rows, columns=names)


def steady(shares: np.ndarray, n: int = 100, months: int = 36) -> np.ndarray:
    return np.tile(np.rint(n * shares), (months, 1))


def test_reports_after_twelve_months_widen_the_table() -> None:
    quick = tell(triangle(steady(SHARES)), Settings())
    assert quick.table is not None
    assert quick.table.share.size == 13
    slow = np.zeros((36, 16))
    slow[:, :6] = steady(SHARES)
    slow[:, 14] = 2
    told = tell(triangle(slow), Settings())
    assert told.table is not None
    assert told.table.share.size == 25
    assert told.table.share[13] == pytest.approx(100 / 102)
    assert any("24" in note for note in told.notes)


def test_another_speed_is_said_and_only_the_last_year_tells() -> None:
    counts = steady(SHARES)
    counts[:12] = steady(np.array([0.75, 0.15, 0.1, 0, 0, 0]))[:12]
    told = tell(triangle(counts), Settings())
    assert told.speed_changed
    assert told.table is not None
    assert told.table.share[0] == pytest.approx(0.75)
    assert not tell(triangle(steady(SHARES)), Settings()).speed_changed


def test_chance_is_not_called_another_speed() -> None:
    """Ten claims a month: the shares of two years differ by ten points by chance."""
    rng = np.random.default_rng(20240607)
    called = 0
    for _ in range(200):
        counts = rng.multinomial(rng.poisson(10, 24), SHARES)
        called += tell(triangle(counts), Settings()).speed_changed
    assert called <= 4


def test_failures_before_the_first_report_do_not_tell_the_lag() -> None:
    """Reports of the last ten months only: older failures show long lags alone."""
    counts = steady(SHARES, months=24)
    ago, lag = np.indices(counts.shape)
    counts[ago - lag > 9] = 0
    told = tell(triangle(counts), Settings())
    assert told.table is not None
    np.testing.assert_allclose(told.table.share[:6], np.cumsum(SHARES))


def test_backlogs_are_named(tmp_path: Path) -> None:
    rows = claims(12, 40.0)
    for row in rows:
        if date(2024, 6, 1) <= row["reported_on"] <= date(2024, 6, 20):
            row["reported_on"] = max(date(2024, 6, 20), row["failed_on"])
    workspace = loaded(tmp_path / "w", rows)
    with workspace._reading(ask(as_of=AS_OF)) as (session, _):
        found = backlogs(session, months_back(AS_OF, 24))
    assert [item.reported_on for item in found] == [date(2024, 6, 20)]
    assert 10 <= found[0].claims <= found[0].of_month
