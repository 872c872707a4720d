"""Spare parts: a second count by hand, the rules, and what cannot be told."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fleet_maker import Row
from numpy.typing import NDArray
from spares_maker import AS_OF, spares_fleet

from claimlens import handover
from claimlens.analysis.forecast import forecast
from claimlens.analysis.question import ask
from claimlens.analysis.spares import spares
from claimlens.analysis.spares_ahead import look_at_fleet
from claimlens.errors import InputError, SourceError
from claimlens.ingest.stock import read_stock
from claimlens.start import open_workspace
from claimlens.workspace import Workspace

Made = tuple[Workspace, list[Row], list[Row]]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return spares_fleet(tmp_path_factory.mktemp("spares") / "ws")


@pytest.fixture(scope="module")
def table(at_levels: dict[float, pd.DataFrame]) -> pd.DataFrame:
    return at_levels[0.95]


def stock(folder: Path, *rows: str, more: str = "on_order") -> Path:
    path = folder / "stock.csv"
    path.write_text(f"part_no,on_hand,{more}\n" + "\n".join(rows) + "\n")
    return path


# --- a second count by other means ---------------------------------------------------


def resampled(
    made: Made, part_no: str, *, component: str, days: int
) -> NDArray[np.float64]:
    """Draw the demand claim by claim: thinned counts, whole claims drawn again.

    The counts are those of the forecast, asked for itself. Each event is one of the
    claims of the last two years, with weights of the Bayesian bootstrap; one claim more
    takes one of the parts that are listed.
    """
    workspace, claims, lines = made
    sent = {"M-1": "M-3", "M-2": "M-3"}
    models = {"D-L": ["Orlan L"], "D-A": ["Orlan"]}.get(part_no)
    listed = {"M-3": 1, "PAD": 1, "D-A": 2, "D-L": 2, "K-1": 0}[part_no]
    pieces = {}
    for claim in claims:
        reported = claim["reported_on"]
        assert isinstance(reported, date)
        of_model = models is None or claim["_model"] in models
        if (
            claim["_component"] == component
            and reported > date(2023, 6, 30)
            and of_model
        ):
            pieces[claim["claim_no"]] = 0.0
    for line in lines:
        number = str(line["part_no"]).upper()
        if line["claim_no"] in pieces and sent.get(number, number) == part_no:
            quantity = line["quantity"]
            pieces[line["claim_no"]] += (
                1.0 if quantity is None else float(str(quantity))
            )
    sizes = np.array([*pieces.values(), 0.0, 1.0])
    unseen = [0.0, 0.0] if listed == 0 else [1 - 1 / listed, 1 / listed]
    if part_no == "K-1":
        unseen = [1.0, 0.0]  # the claim that was not seen takes a motor
    weights = np.array([*np.ones(len(pieces)), *unseen])
    last = AS_OF + timedelta(days=days)
    random = np.random.default_rng(5)
    with workspace._reading(ask(as_of=AS_OF)) as (session, scope):
        found = forecast(
            session, workspace.settings, scope, by=("component", "model"), months=6
        )
        counts = [
            one.drawn
            for one in found.segments()
            if one.keys["component"] == component
            and (models is None or one.keys["model"] in models)
        ]
        months = list(found.months)
    events = np.zeros(counts[0].shape[1], dtype=np.int64)
    for u, month in enumerate(months):
        length = pd.Timestamp(month).days_in_month
        part = min(max(((last - month.date()).days + 1) / length, 0.0), 1.0)
        for drawn in counts:
            events += random.binomial(drawn[u], part)
    demand = np.zeros(events.size)
    for d, number in enumerate(events):
        chances = random.gamma(weights)
        demand[d] = random.choice(sizes, number, p=chances / chances.sum()).sum()
    return demand


@pytest.fixture(scope="module")
def at_levels(made: Made) -> dict[float, pd.DataFrame]:
    return {
        level: made[0].spares(as_of=AS_OF, service_level=level).set_index("part_no")
        for level in (0.8, 0.95, 0.99)
    }


@pytest.mark.parametrize(
    ("part_no", "component", "lead"),
    [
        ("M-3", "motor", 45),
        ("K-1", "motor", 20),
        ("PAD", "brake pad/rotor", 30),
        ("D-A", "display", 60),
        ("D-L", "display", 90),
    ],
)
def test_it_is_the_smallest_whose_demand_drawn_again_reaches_the_level(
    made: Made,
    at_levels: dict[float, pd.DataFrame],
    part_no: str,
    component: str,
    lead: int,
) -> None:
    demand = resampled(made, part_no, component=component, days=lead + 31)
    for level, asked in at_levels.items():
        row = asked.loc[part_no]
        quantity = int(row["quantity_to_hold"])
        # both sides are draws: three standard errors of their difference
        near = 3 * np.sqrt(2 * level * (1 - level) / demand.size)
        assert np.mean(demand <= quantity) >= level - near
        assert np.mean(demand <= quantity - 1) < level + near
        assert float(row["runs_out"]) <= 1 - level
        half = float(np.mean(demand > quantity // 2))
        assert float(row["runs_out_at_half"]) == pytest.approx(half, abs=0.035)
        assert float(row["demand_mean"]) == pytest.approx(
            demand.mean(), abs=4 * demand.std() / np.sqrt(demand.size)
        )


# --- the rules -----------------------------------------------------------------------


def test_superseded_numbers_have_no_row_and_add_to_the_successor(
    table: pd.DataFrame,
) -> None:
    assert not {"M-1", "M-2", "T-1"} & set(table.index)
    assert table.loc["M-3", "replaces"] == "M-1, M-2"
    assert table.loc["T-9", "replaces"] == "T-1"
    assert "not in the parts list" in str(table.loc["T-9", "note"])
    assert table.loc["T-9", "component"] == "frame"


def test_other_parts_are_those_for_the_same_units(table: pd.DataFrame) -> None:
    assert table.loc["D-A", "other_parts"] == "D-B"
    assert table.loc["D-L", "other_parts"] == "D-N"
    assert table.loc["M-3", "other_parts"] is None or pd.isna(
        table.loc["M-3", "other_parts"]
    )


def test_a_part_without_a_component_is_told_by_the_claims_that_take_it(
    table: pd.DataFrame,
) -> None:
    assert table.loc["K-1", "component"] == "motor"
    # half of the claims that take a motor take a kit
    assert float(table.loc["K-1", "demand_mean"]) > 0


def test_lead_times_name_their_source(table: pd.DataFrame) -> None:
    assert table.loc["M-3", ["lead_time_days", "lead_time_source"]].tolist() == [
        45, "parts list",
    ]  # fmt: skip
    assert table.loc["D-A", ["lead_time_days", "lead_time_source"]].tolist() == [
        60, "assumed",
    ]  # fmt: skip
    assert "60 days assumed" in str(table.loc["D-A", "note"])


def test_no_part_is_silently_nothing(table: pd.DataFrame) -> None:
    """Every part without a demand, or with none to hold, says why."""
    unknown = table[table["demand_mean"].isna()]
    assert set(unknown.index) == {"X-1", "Y-1"}
    assert unknown["quantity_to_hold"].isna().all()
    assert unknown["note"].str.startswith("demand not known").all()
    nothing = table[table["quantity_to_hold"] == 0]
    assert "S-1" in nothing.index
    assert nothing["note"].str.contains("the chance that any is needed").all()
    assert "last cover of a unit that it fits ended on" in str(table.loc["S-1", "note"])
    assert "run in a circle" in str(table.loc["R-1", "note"])


def test_a_part_without_history_has_a_stated_demand(table: pd.DataFrame) -> None:
    assert "none took it" in str(table.loc["D-N", "note"])
    assert (
        0
        < float(table.loc["D-N", "demand_mean"])
        < 0.1 * float(table.loc["D-L", "demand_mean"])
    )
    assert "no claim for charger yet" in str(table.loc["C-1", "note"])
    assert 0 < float(table.loc["C-1", "demand_mean"]) < 0.2


def test_a_longer_lead_time_needs_more(made: Made, tmp_path: Path) -> None:
    asked = []
    for number, days in enumerate((10, 100, 700)):
        folder = tmp_path / str(number)
        folder.mkdir()
        path = stock(folder, f"PAD,0,{days}", more="lead_time_days")
        row = made[0].spares(as_of=AS_OF, stock=path).set_index("part_no").loc["PAD"]
        assert row["lead_time_source"] == "stock file"
        asked.append(float(row["demand_mean"]))
    assert asked == sorted(asked)
    assert asked[2] > 3 * asked[0]


def test_what_is_asked_besides_changes_no_other_row(
    made: Made, table: pd.DataFrame, tmp_path: Path
) -> None:
    path = stock(tmp_path, "PAD,3,2026-01-31,700", more="ends,lead_time_days")
    other = made[0].spares(as_of=AS_OF, stock=path).set_index("part_no")
    columns = ["demand_mean", "quantity_to_hold", "runs_out", "runs_out_at_half"]
    same = [key for key in table.index if key != "PAD"]
    pd.testing.assert_frame_equal(table.loc[same, columns], other.loc[same, columns])
    chosen = made[0].spares(as_of=AS_OF, component="motor").set_index("part_no")
    assert set(chosen.index) == {"M-3", "X-1"}
    assert chosen.loc["M-3", columns].tolist() == table.loc["M-3", columns].tolist()
    by_supplier = made[0].spares(as_of=AS_OF, supplier="Quenfold")
    assert by_supplier["part_no"].tolist() == ["D-B"]


def test_one_model_alone_needs_less_and_shows_its_own_parts(
    made: Made, table: pd.DataFrame
) -> None:
    own = made[0].spares(as_of=AS_OF, model="Orlan L").set_index("part_no")
    assert "D-L" in own.index
    assert not {"D-A", "S-1", "Y-1"} & set(own.index)
    assert float(own.loc["PAD", "demand_mean"]) < 0.6 * float(
        table.loc["PAD", "demand_mean"]
    )


@pytest.mark.parametrize(
    ("as_of", "day", "parts"),
    [
        (date(2025, 6, 30), date(2025, 7, 31), [1.0, 0.0]),
        (date(2025, 6, 30), date(2025, 8, 10), [1.0, 10 / 31]),
        # of the month of the cut-off only the rest is to come
        (date(2025, 6, 10), date(2025, 6, 15), [0.25, 0.0]),
        (date(2025, 6, 10), date(2025, 7, 31), [1.0, 1.0]),
        (date(2025, 6, 10), date(2025, 6, 10), [0.0, 0.0]),
    ],
)
def test_a_month_counts_for_the_part_of_it_that_lies_ahead(
    made: Made, as_of: date, day: date, parts: list[float]
) -> None:
    workspace = made[0]
    with workspace._reading(ask(as_of=as_of)) as (session, scope):
        fleet = look_at_fleet(session, workspace.settings, scope, by=())
    assert fleet.months_until(day)[:2].tolist() == pytest.approx(parts)
    assert not fleet.months_until(day)[2:].any()


# --- orders --------------------------------------------------------------------------


def test_an_order_fills_up_in_packs_and_costs_to_the_cent(
    made: Made, table: pd.DataFrame, tmp_path: Path
) -> None:
    hold = int(table.loc["PAD", "quantity_to_hold"])
    path = stock(
        tmp_path, f"pad,{hold - 3},1,,4", "M-3,1000,0,,", "K-1,0,0,50,",
        more="on_order,minimum_order,pack_size",
    )  # fmt: skip
    asked = made[0].spares(as_of=AS_OF, stock=path).set_index("part_no")
    row = asked.loc["PAD"]
    assert row[["on_hand", "on_order", "order"]].tolist() == [hold - 3, 1, 4]
    assert row["order_cost"] == Decimal("33.32")
    assert asked.loc["M-3", "order"] == 0
    assert asked.loc["M-3", "order_cost"] == Decimal("0.00")
    assert asked.loc["K-1", "order"] == 50
    assert asked["order"].isna().sum() == len(asked) - 3
    assert "not in the stock file: no order suggested" in str(asked.loc["D-A", "note"])


def test_stock_of_an_old_number_is_told_and_not_counted(
    made: Made, tmp_path: Path
) -> None:
    path = stock(tmp_path, "M-1,4,2", "M-3,1,0")
    row = made[0].spares(as_of=AS_OF, stock=path).set_index("part_no").loc["M-3"]
    assert row["on_hand"] == 1
    assert "4 on hand and 2 on order of M-1" in str(row["note"])


def test_a_part_that_nobody_knows_stands_there_without_a_demand(
    made: Made, tmp_path: Path
) -> None:
    path = stock(tmp_path, "PAD,1,0", "M-33,7,0", "Q-99999,1,0")
    asked = made[0].spares(as_of=AS_OF, stock=path).set_index("part_no")
    assert asked.loc["M-33", "on_hand"] == 7
    assert pd.isna(asked.loc["M-33", "demand_mean"])
    assert "line 3 of the stock file" in str(asked.loc["M-33", "note"])
    assert "did you mean M-3?" in str(asked.loc["M-33", "note"])
    assert pd.isna(asked.loc["Q-99999", "order"])


def test_a_bad_stock_file_stops_with_its_places(made: Made, tmp_path: Path) -> None:
    path = stock(tmp_path, "PAD,-1,0")
    with pytest.raises(SourceError, match="column on_hand: '-1' is below 0"):
        made[0].spares(as_of=AS_OF, stock=path)


@pytest.mark.parametrize("level", [0.2, 1.0, 95])
def test_a_service_level_that_is_none_is_refused(made: Made, level: float) -> None:
    with pytest.raises(InputError, match=r"between 0\.5 and 0\.999"):
        made[0].spares(as_of=AS_OF, service_level=level)


def test_a_filter_that_leaves_no_part_is_told(made: Made) -> None:
    with pytest.raises(InputError, match="No part is of the supplier Nobody"):
        made[0].spares(as_of=AS_OF, supplier="Nobody")


# --- the last buy --------------------------------------------------------------------


def test_a_last_buy_lasts_to_the_end_of_the_last_cover(
    made: Made, table: pd.DataFrame, tmp_path: Path
) -> None:
    path = stock(
        tmp_path, "PAD,5,1,2025-09-30", "M-3,0,0,2025-07-15", "D-L,0,0,2025-06-01",
        "S-1,0,0,2026-01-01", more="on_order,ends",
    )  # fmt: skip
    asked = made[0].spares(as_of=AS_OF, stock=path).set_index("part_no")
    # in service until 2025-06, 24 months of cover
    assert (
        date(2027, 1, 1) < asked.loc["PAD", "last_buy_until"].date() < date(2027, 7, 1)
    )
    hold = int(asked.loc["PAD", "quantity_to_hold"])
    assert hold == int(table.loc["PAD", "quantity_to_hold"])
    assert int(asked.loc["PAD", "order"]) == max(hold - 6, 0)
    assert int(asked.loc["PAD", "last_buy"]) > 2 * hold
    # no later order than this one is possible
    assert asked.loc["M-3", "order"] == asked.loc["M-3", "last_buy"]
    assert pd.isna(asked.loc["D-L", "order"])
    assert "cannot be ordered since 2025-06-01" in str(asked.loc["D-L", "note"])
    assert asked.loc["S-1", "last_buy"] == 0
    assert asked["last_buy"].notna().sum() == 4


def test_a_service_period_lasts_longer_and_needs_more(tmp_path: Path) -> None:
    path = stock(tmp_path, "PAD,0,2025-12-31", more="ends")
    asked = {}
    for name, rules in {
        "none": "",
        "cover": "service_years = 5",
        "half": "service_years = 5\nafter_cover_share = 0.5",
        "sale": 'service_years = 5\nservice_from = "last_sale"',
        "short": 'service_years = 0.5\nservice_from = "last_sale"',
    }.items():
        made = spares_fleet(tmp_path / name, f"[spares]\n{rules}\n")
        asked[name] = (
            made[0].spares(as_of=AS_OF, stock=path).set_index("part_no").loc["PAD"]
        )
    until = {name: row["last_buy_until"].date() for name, row in asked.items()}
    assert until["cover"] == until["none"] + timedelta(days=1826)
    assert until["cover"] > until["sale"] > until["none"] == until["short"]
    buy = {name: int(row["last_buy"]) for name, row in asked.items()}
    assert buy["none"] < buy["half"] < buy["cover"]
    assert buy["none"] < buy["sale"] < buy["cover"]
    extra = buy["cover"] - buy["none"]
    assert buy["half"] - buy["none"] == pytest.approx(extra / 2, rel=0.2)
    means = [mean_of_last_buy(tmp_path / name, path) for name in ("none", "cover")]
    assert means[1] - means[0] == pytest.approx(
        pieces_after_cover(tmp_path / "cover", until["cover"]), rel=0.03
    )
    assert "5 years after the last cover" in str(asked["cover"]["note"])


def mean_of_last_buy(folder: Path, path: Path) -> float:
    workspace = open_workspace(folder)
    with workspace._reading(ask(as_of=AS_OF)) as (session, scope):
        found = spares(session, workspace.settings, scope, stock=read_stock(path))
        return found.needs["PAD"].last_buy.mean


def pieces_after_cover(folder: Path, until: date) -> float:
    """Return the pads that units out of cover need, at the rate of two years."""
    units = pd.read_csv(folder / "inbox" / "units.csv")
    start = pd.to_datetime(units["in_service_date"])
    end = start + pd.DateOffset(months=24)
    now, then = pd.Timestamp(AS_OF), pd.Timestamp(AS_OF) - pd.DateOffset(months=24)
    under = (end.clip(upper=now) - start.clip(lower=then)).dt.days.clip(lower=0).sum()
    out = (pd.Timestamp(until) - end.clip(lower=now)).dt.days.clip(lower=0).sum()
    labels = pd.read_csv(folder / "inbox" / "labels.csv", parse_dates=["reviewed_on"])
    pads = labels[labels["component"].eq("brake pad/rotor")]
    lines = pd.read_csv(folder / "inbox" / "claim_parts.csv")
    taken = lines.loc[lines["part_no"].eq("PAD"), "quantity"].sum() / len(pads)
    recent = (pads["reviewed_on"] > then).sum()
    return float(recent / under * out * taken)


# --- the way out ---------------------------------------------------------------------


def test_the_same_question_has_the_same_bytes(made: Made, tmp_path: Path) -> None:
    path = stock(tmp_path, "PAD,5,1,2025-09-30", more="on_order,ends")
    one = handover.to_csv(made[0].spares(as_of=AS_OF, stock=path))
    assert one == handover.to_csv(made[0].spares(as_of=AS_OF, stock=path))


def test_parts_of_sound_claims_may_go_back_to_stock(tmp_path: Path) -> None:
    asked = []
    for name, rules in (("kept", ""), ("back", "[spares]\nreturned_to_stock = true\n")):
        workspace, _, taken = spares_fleet(tmp_path / name, rules)
        sound = sorted(
            {str(row["claim_no"]) for row in taken if row["part_no"] == "D-B"}
        )
        findings = tmp_path / name / "inbox" / "findings.csv"
        findings.write_text(
            "claim_no,inspected_on,finding\n"
            + "".join(f"{claim},2025-06-01,no fault found\n" for claim in sound)
        )
        workspace.ingest()
        asked.append(workspace.spares(as_of=AS_OF).set_index("part_no").loc["D-B"])
    kept, back = (float(row["demand_mean"]) for row in asked)
    assert back < 0.1 * kept


def test_claims_that_name_no_part_at_all_are_one_piece_each(tmp_path: Path) -> None:
    workspace, _, _ = spares_fleet(tmp_path / "ws", naming=False)
    asked = workspace.spares(as_of=AS_OF).set_index("part_no")
    assert "one piece a claim assumed" in str(asked.loc["PAD", "note"])
    # two of them fit the same units: each is sent for half of the claims
    claims = workspace.forecast(as_of=AS_OF, by=["component", "model"], months=3)
    display = claims[claims["component"].eq("display") & claims["model"].eq("Orlan")]
    days = [31, 31, 30]
    part = np.clip((91 - np.array([0, 31, 62])) / days, 0, 1)
    expected = float((display["claims"].to_numpy() * part).sum())
    for part_no in ("D-A", "D-B"):
        needed = float(asked.loc[part_no, "demand_mean"])
        assert needed == pytest.approx(expected / 2, rel=1e-6)
