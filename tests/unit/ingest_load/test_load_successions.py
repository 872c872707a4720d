"""Parts that supersede each other: kinds are handed on, circles are told."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest
from load_desk import Desk

from claimlens import answers
from claimlens.classify.taxonomy import load_taxonomy
from claimlens.classify.terms import load_terms

CLAIM = {"claim_no": "C-1", "reported_on": "2026-02-03"}


@pytest.fixture(scope="module", autouse=True)
def terms_once() -> Iterator[None]:
    """Compile the terms once: it takes longer than everything else here."""
    terms = load_terms(load_taxonomy(), languages=["en"])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(answers, "terms_of", lambda settings, folder: terms)
        yield


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return Desk(tmp_path / "ws")


def part(number: str, newer: str = "", component: str = "") -> Mapping[str, object]:
    return {"part_no": number, "superseded_by": newer, "component": component}


def component_of(desk: Desk, replaced: str, *parts: Mapping[str, object]) -> str:
    """Load parts and a claim that replaced one; return the claim's component."""
    desk.load("parts.csv", parts)
    desk.load("claims.csv", [{**CLAIM, "part_no": replaced}])
    (row,) = desk.workspace.classify().to_dict("records")
    return str(row["component"])


def test_a_part_without_a_kind_takes_that_of_its_successor(desk: Desk) -> None:
    parts = [part("P-1", "P-2"), part("P-2", "P-3"), part("P-3", "", "throttle")]
    assert component_of(desk, "p-1", *parts) == "throttle"


def test_a_part_without_a_kind_takes_that_of_its_predecessor(desk: Desk) -> None:
    parts = [part("P-1", "P-2", "display"), part("P-2", "P-3"), part("P-3")]
    assert component_of(desk, "P-3", *parts) == "display"


def test_a_successor_that_the_list_does_not_hold_is_known_by_its_predecessor(
    desk: Desk,
) -> None:
    assert component_of(desk, "P-2", part("P-1", "P-2", "charger")) == "charger"


def test_the_successor_counts_before_the_predecessor(desk: Desk) -> None:
    parts = [
        part("P-1", "P-2", "display"),
        part("P-2", "P-3"),
        part("P-3", "P-4"),
        part("P-4", "", "controller"),
    ]
    assert component_of(desk, "P-2", *parts) == "controller"


def test_predecessors_of_two_kinds_tell_nothing(desk: Desk) -> None:
    parts = [
        part("P-1", "P-9", "display"),
        part("P-2", "P-9", "controller"),
        part("P-9"),
    ]
    assert component_of(desk, "P-9", *parts) == "unclassified"


def test_a_kind_of_its_own_stands(desk: Desk) -> None:
    parts = [part("P-1", "P-2", "display"), part("P-2", "", "controller")]
    assert component_of(desk, "P-1", *parts) == "display"


@pytest.mark.parametrize("length", [1, 2, 3, 40])
def test_a_circle_is_told_with_its_parts_and_ends(desk: Desk, length: int) -> None:
    """Parts without a kind that come back to themselves stay without one."""
    names = [f"P-{number}" for number in range(length)]
    circle = [part(a, b) for a, b in zip(names, names[1:] + names[:1], strict=True)]
    straight = [part("Q-1", "Q-2"), part("Q-2", "P-0")]
    assert component_of(desk, "Q-1", *circle, *straight) == "unclassified"
    flags = desk.workspace.flags()
    told = flags[flags["reason"] == "parts supersede each other in a circle"]
    assert len(told) == length
    assert set(told["column_name"]) == {"superseded_by"}
    assert " > ".join([*names, names[0]]) in set(told["value"])
    assert not told["value"].str.contains("Q-").any()


def test_the_account_counts_the_parts_of_a_circle_as_flagged(desk: Desk) -> None:
    account = desk.load(
        "parts.csv", [part("P-1", "P-2"), part("P-2", "p-1"), part("P-3")]
    )
    assert account["inserted"] == 3
    assert account["flagged"] == 2
