"""A taxonomy that changes: labels are led home by a map, or listed, never lost."""

from __future__ import annotations

from pathlib import Path

import pytest
from review_desk import DAY, Book, ReviewDesk, claims

from claimlens.errors import SettingsError

COMPONENTS = (
    "component,group\nfront lamp,electrical\nmotor,electrical\n"
    "seat/seatpost,chassis\nnone/no fault found,none\n"
)
OWN = '[classify]\ncomponents = "components.csv"\n'
MAPPED = OWN + 'label_map = "label_map.csv"\n'


@pytest.fixture
def desk(tmp_path: Path) -> ReviewDesk:
    """Return a workspace whose labels are older than its taxonomy."""
    desk = ReviewDesk(tmp_path / "ws")
    desk.load("claims.csv", claims(8))
    book = Book(desk.export())
    for claim_no, component in {
        "C-001": "headlight",
        "C-002": "motor",
        "C-003": "brake hydraulic",
        "C-004": "cannot tell",
    }.items():
        book.answer(book.rows()[claim_no], component, failure_mode=None)
    desk.workspace.review_apply(book.save())
    (desk.folder / "components.csv").write_text(COMPONENTS, encoding="utf-8")
    return desk


def write_map(desk: ReviewDesk, *rows: str) -> None:
    text = "\n".join(("kind,old,new", *rows)) + "\n"
    (desk.folder / "label_map.csv").write_text(text, encoding="utf-8")


def sources(desk: ReviewDesk) -> dict[str, tuple[str, str]]:
    table = desk.workspace.classify()
    listed = zip(table["claim_no"], table["component"], table["source"], strict=True)
    return {claim_no: (component, source) for claim_no, component, source in listed}


def test_labels_that_no_name_leads_home_are_listed(desk: ReviewDesk) -> None:
    desk.reopen(OWN)
    listed = desk.workspace.review_orphans()
    assert listed["claim_no"].tolist() == ["C-001", "C-003"]
    assert listed["value"].tolist() == ["headlight", "brake hydraulic"]
    assert listed["kind"].tolist() == ["component", "component"]
    assert listed["reviewer"].tolist() == ["Ann", "Ann"]
    assert listed["reviewed_on"].dt.date.tolist() == [DAY, DAY]


def test_a_map_leads_old_labels_to_new_names(desk: ReviewDesk) -> None:
    write_map(desk, "component,Headlight,front lamp")
    desk.reopen(MAPPED)
    assert sources(desk)["C-001"] == ("front lamp", "label")
    assert sources(desk)["C-002"] == ("motor", "label")
    assert desk.workspace.review_orphans()["claim_no"].tolist() == ["C-003"]
    # what the reviewer said stays as it was said
    [(said,)] = desk.query("select component from labels_now where claim_no = 'C-001'")
    assert said == "headlight"


def test_a_workbook_of_the_earlier_taxonomy_is_read_by_the_map(
    desk: ReviewDesk,
) -> None:
    book = Book(desk.folder / "review.xlsx")
    book.answer(book.rows()["C-005"], "headlight")
    path = book.save("late.xlsx")
    write_map(desk, "component,headlight,front lamp")
    desk.reopen(MAPPED)
    applied = desk.workspace.review_apply(path)
    assert "1 name of an earlier taxonomy read by the label map" in applied.notes
    assert "review orphans lists them" in applied.text()
    assert sources(desk)["C-005"] == ("front lamp", "label")


@pytest.mark.parametrize(
    ("row", "column", "said"),
    [
        ("part,headlight,front lamp", "kind", "The kind 'part' is not known"),
        ("component,headlight,frontlamp", "new", "'frontlamp' is no component"),
        ("component,motor,front lamp", "old", "'motor' still stands in the taxonomy"),
        ("failure_mode,dull,gone", "new", "'gone' is no failure_mode"),
    ],
)
def test_a_map_that_is_wrong_is_refused(
    desk: ReviewDesk, row: str, column: str, said: str
) -> None:
    write_map(desk, "component,headlight,front lamp", row)
    desk.reopen(MAPPED)
    with pytest.raises(SettingsError, match=said) as caught:
        desk.workspace.review_orphans()
    assert (caught.value.line, caught.value.column) == (3, column)


def test_a_name_is_mapped_once(desk: ReviewDesk) -> None:
    write_map(desk, "component,lamp,front lamp", "component,Lamp,motor")
    desk.reopen(MAPPED)
    with pytest.raises(SettingsError, match="'lamp' is mapped twice"):
        desk.workspace.review_orphans()


def test_a_map_that_is_not_there_is_told(desk: ReviewDesk) -> None:
    desk.reopen(MAPPED)
    with pytest.raises(SettingsError, match="The label map label_map"):
        desk.workspace.review_orphans()
