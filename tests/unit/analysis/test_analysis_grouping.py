"""Grouping by any column that came in with units, their parts or the claims."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pandas as pd
import pytest
from fleet_maker import Fleet, random_fleet, workspace_of

from claimlens.errors import InputError
from claimlens.workspace import Workspace

AS_OF = date(2025, 3, 31)
# the lag is shared by the whole fleet: halves of a fleet would each have their own
ALONE = "[rates]\nlag_claims = 1000000"


def with_columns(seed: int) -> Fleet:
    """Return a fleet whose lists have columns that no canonical table knows."""
    fleet = random_fleet(seed, suppliers=True)
    for number, unit in enumerate(fleet.units):
        unit["Paint line"] = ("north hall", "south hall", None)[number % 3]
        unit["Firmware"] = ("1.2", "1.3")[number % 2]
        unit["rate"] = ("slow", "fast")[number % 2]
    for number, part in enumerate(fleet.fitted_parts):
        part["Cell maker"] = ("Alder", "Birch")[number % 2]
        part["lot"] = f"L{number % 3}"
    for number, claim in enumerate(fleet.claims):
        claim["Clerk"] = ("Ada", "Bo", None)[number % 3]
        claim["note"] = ("x", "y")[number % 2]
    return fleet


@pytest.fixture(scope="module")
def known(tmp_path_factory: pytest.TempPathFactory) -> tuple[Fleet, Workspace]:
    fleet = with_columns(6)
    return fleet, workspace_of(fleet, tmp_path_factory.mktemp("kept") / "ws", ALONE)


def test_a_kept_column_of_the_units_groups_as_its_units_alone_would(
    known: tuple[Fleet, Workspace], tmp_path: Path
) -> None:
    fleet, workspace = known
    table = workspace.rates(by=("paint_line", "component"), at=12, as_of=AS_OF)
    assert list(table.columns[:2]) == ["Paint line", "component"]
    for hall in ("north hall", "south hall", None):
        alone = Fleet(
            units=[u for u in fleet.units if u["Paint line"] == hall],
            claims=fleet.claims,
            labels=fleet.labels,
            findings=fleet.findings,
        )
        serials = {str(u["serial"]).upper() for u in alone.units}
        alone.claims = [c for c in fleet.claims if str(c["serial"]).upper() in serials]
        right = workspace_of(alone, tmp_path / str(hall), ALONE).rates(
            by="component", at=12, as_of=AS_OF
        )
        mine = table["Paint line"].isna() if hall is None else None
        mine = table["Paint line"] == hall if mine is None else mine
        got = table[mine & table["component"].isin(right["component"])]
        pd.testing.assert_frame_equal(
            # the notes also tell of the fleet as a whole
            got.drop(columns=["Paint line", "note"]).reset_index(drop=True),
            right.drop(columns="note"),
        )


def test_kept_columns_combine_with_each_other_and_with_the_fixed_groups(
    known: tuple[Fleet, Workspace],
) -> None:
    fleet, workspace = known
    table = workspace.rates(by=("Firmware", "model", "Paint line"), at=12, as_of=AS_OF)
    pairs = {(u["Firmware"], u["model"], u["Paint line"]) for u in fleet.units}
    assert len(table) <= len(pairs)
    assert (
        table["units"].sum()
        == workspace.rates(by=(), at=12, as_of=AS_OF)["units"].item()
    )


def test_a_column_named_like_a_figure_is_told_apart(
    known: tuple[Fleet, Workspace],
) -> None:
    _, workspace = known
    table = workspace.rates(by="rate", at=12, as_of=AS_OF)
    assert set(table["extra_rate"]) == {"slow", "fast"}
    assert table["rate"].between(0, 1).all()


@pytest.mark.parametrize("name", ["Cell maker", "lot"])
def test_a_column_of_the_parts_groups_the_parts_that_units_carry(
    name: str, known: tuple[Fleet, Workspace]
) -> None:
    fleet, workspace = known
    table = workspace.rates(by=(name, "component"), at=12, as_of=AS_OF)
    whole = workspace.rates(by=("supplier", "component"), at=12, as_of=AS_OF)
    values = {part[name] for part in fleet.fitted_parts}
    assert values <= set(table[name])
    for figure in ("units", "claims"):
        assert table[figure].sum() == whole[figure].sum()


def test_what_only_claims_know_has_no_denominator(
    known: tuple[Fleet, Workspace],
) -> None:
    _, workspace = known
    with pytest.raises(InputError, match="nothing to divide by") as caught:
        workspace.rates(by="clerk", as_of=AS_OF)
    assert 'claimlens tally --by "clerk"' in str(caught.value.remedy)


def test_a_tally_counts_every_claim_once(known: tuple[Fleet, Workspace]) -> None:
    fleet, workspace = known
    table = workspace.tally(by="clerk,status", as_of=AS_OF)
    in_sight = [
        claim
        for claim in fleet.claims
        if max(claim["reported_on"], claim["failed_on"] or claim["reported_on"])
        <= AS_OF
    ]
    assert table["claims"].sum() == len(in_sight)
    assert table["share"].sum() == pytest.approx(1)
    ada = table[(table["Clerk"] == "Ada") & (table["status"] == "denied")]
    assert ada["claims"].sum() == sum(
        claim["Clerk"] == "Ada" and claim["status"] == "denied" for claim in in_sight
    )
    assert (table["claims_counted"] <= table["claims"]).all()
    assert set(workspace.tally(by="note", as_of=AS_OF)["extra_note"]) == {"x", "y"}


@pytest.mark.parametrize(
    ("by", "said"),
    [
        (("colour",), "Cannot group by 'colour'"),
        (("Firmware", "firmware"), "named twice"),
        (("supplier", "lot"), "one column at a time"),
        (("Firmware", "Paint line", "rate", "dealer"), "At most three"),
    ],
)
def test_a_grouping_that_cannot_be_is_refused(
    by: tuple[str, ...], said: str, known: tuple[Fleet, Workspace]
) -> None:
    _, workspace = known
    with pytest.raises(InputError, match=said):
        workspace.rates(by=by, as_of=AS_OF)


def test_parts_of_one_supplier_are_not_grouped_by_another_column(
    known: tuple[Fleet, Workspace],
) -> None:
    _, workspace = known
    with pytest.raises(InputError, match="leave --supplier out"):
        workspace.rates(by="lot", supplier="Orla Cells", as_of=AS_OF)


@pytest.mark.parametrize("by", ["", "clerk,status,model,dealer,component", "colour"])
def test_a_tally_needs_columns_that_there_are(
    by: str, known: tuple[Fleet, Workspace]
) -> None:
    _, workspace = known
    with pytest.raises(InputError, match=r"counted by one to|no column 'colour'"):
        workspace.tally(by=by, as_of=AS_OF)
