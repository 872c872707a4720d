"""Answers that come back: kept, seen at once, once only, and never lost."""

from __future__ import annotations

import json
import shutil
from datetime import date
from pathlib import Path

import duckdb
import pytest
from review_desk import DAY, Book, ReviewDesk, claims

from claimlens.review.apply import Applied


@pytest.fixture(scope="module")
def loaded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    desk = ReviewDesk(tmp_path_factory.mktemp("loaded") / "ws")
    desk.load("claims.csv", claims(12))
    return desk.folder


@pytest.fixture
def desk(loaded: Path, tmp_path: Path) -> ReviewDesk:
    return ReviewDesk(shutil.copytree(loaded, tmp_path / "ws"))


def fill(
    desk: ReviewDesk, answers: dict[str, dict[str, object]], **options: object
) -> Path:
    """Hand claims out and fill the rows of some."""
    book = Book(desk.export(f"out-{len(list(desk.folder.iterdir()))}.xlsx", **options))
    rows = book.rows()
    for claim_no, told in answers.items():
        book.answer(rows[claim_no], **told)  # type: ignore[arg-type]
    return book.save(f"filled-{len(list(desk.folder.iterdir()))}.xlsx")


def labels(desk: ReviewDesk) -> list[tuple[object, ...]]:
    return desk.query(
        "select claim_no, component, failure_mode, reviewer, reviewed_on "
        "from labels_now order by all"
    )


def component_of(desk: ReviewDesk, claim_no: str, **asked: str) -> tuple[str, str]:
    table = desk.workspace.classify(**asked).set_index("claim_no")  # type: ignore[arg-type]
    return table.loc[claim_no, "component"], table.loc[claim_no, "source"]


def test_an_answer_is_kept_with_who_and_when_and_seen_at_once(desk: ReviewDesk) -> None:
    path = fill(
        desk,
        {
            "C-008": {
                "component": "Seat/Seatpost",
                "failure_mode": "worn",
                "dangerous": "no",
                "remark": "=seam open",
            }
        },
    )
    applied = desk.workspace.review_apply(path)
    assert (applied.answers, applied.inserted, applied.read_again) == (1, 1, 1)
    assert labels(desk) == [("C-008", "seat/seatpost", "worn", "Ann", DAY)]
    [(extra,)] = desk.query("select extra from labels_now")
    assert json.loads(extra) == {
        "sample": "2026-04-30",
        "safety": "no",
        "remark": "=seam open",
    }
    seen = desk.query(
        "select component, failure_mode, source from classified_now "
        "where claim_no = 'C-008'"
    )
    assert seen == [("seat/seatpost", "worn", "label")]
    assert "1 answer, 1 new" in applied.text()
    assert "11 rows have no component and were passed over" in applied.text()


def test_applying_twice_changes_nothing_and_says_so(desk: ReviewDesk) -> None:
    path = fill(desk, {"C-008": {}, "C-001": {"component": "charger"}})
    desk.workspace.review_apply(path)
    before = desk.bytes()
    again = desk.workspace.review_apply(path)
    assert (again.answers, again.inserted, again.updated, again.unchanged) == (
        2,
        0,
        0,
        2,
    )
    assert "2 answers, all held already; nothing changed" in again.text()
    # saved once more by another program the file has other bytes
    saved = Book(path).save("saved-again.xlsx")
    assert saved.read_bytes() != path.read_bytes()
    assert desk.workspace.review_apply(saved).unchanged == 2
    assert desk.bytes() == before


def test_a_workbook_without_answers_changes_nothing(desk: ReviewDesk) -> None:
    path = desk.export()
    before = desk.bytes()
    applied = desk.workspace.review_apply(path)
    assert "no row has a component; nothing changed" in applied.text()
    assert desk.bytes() == before


def test_a_label_outlives_a_new_export_of_the_claims(desk: ReviewDesk) -> None:
    desk.workspace.review_apply(fill(desk, {"C-008": {"component": "frame"}}))
    rows = claims(12)
    rows[7]["narrative"] = "battery pack swollen"
    desk.load("claims_new.csv", rows)
    assert component_of(desk, "C-008") == ("frame", "label")


def test_a_label_is_known_from_the_day_of_the_answer(desk: ReviewDesk) -> None:
    answers = {
        "C-008": {"component": "frame", "reviewed_on": date(2026, 5, 4)},
        "C-001": {"component": "motor", "reviewed_on": date(2026, 5, 20)},
    }
    desk.workspace.review_apply(fill(desk, answers))
    on_the_tenth = desk.workspace.classify(as_known="2026-05-10").set_index("claim_no")
    assert on_the_tenth.loc["C-008", "source"] == "label"
    assert on_the_tenth.loc["C-001", "source"] != "label"
    assert component_of(desk, "C-001") == ("motor", "label")


def test_reviewer_and_day_can_be_given_for_all_rows(desk: ReviewDesk) -> None:
    empty = {"reviewer": None, "reviewed_on": None}
    path = fill(desk, {"C-008": empty, "C-001": {**empty, "reviewer": "Bea"}})
    desk.workspace.review_apply(path, reviewer=" Ann ", reviewed_on="2026-05-06")
    day = date(2026, 5, 6)
    assert labels(desk) == [
        ("C-001", "motor", None, "Bea", day),
        ("C-008", "motor", None, "Ann", day),
    ]


def test_a_name_is_spelt_as_in_earlier_answers(desk: ReviewDesk) -> None:
    desk.workspace.review_apply(fill(desk, {"C-008": {}}))
    desk.workspace.review_apply(
        fill(desk, {"C-001": {"reviewer": "ANN"}, "C-008": {"reviewer": "ann "}})
    )
    assert {row[3] for row in labels(desk)} == {"Ann"}


@pytest.mark.parametrize(
    "written", ["2026-05-14", "14 May 2026", "14.05.2026 ", date(2026, 5, 14)]
)
def test_a_day_may_be_a_date_or_a_text_that_leaves_no_doubt(
    desk: ReviewDesk, written: object
) -> None:
    desk.workspace.review_apply(fill(desk, {"C-008": {"reviewed_on": written}}))
    assert labels(desk)[0][4] == date(2026, 5, 14)


def test_who_cannot_tell_says_so_and_is_not_asked_again(desk: ReviewDesk) -> None:
    path = fill(desk, {"C-007": {"component": "cannot tell"}})
    before = component_of(desk, "C-007")
    desk.workspace.review_apply(path)
    assert labels(desk)[0][1:3] == ("cannot tell", None)
    assert component_of(desk, "C-007") == before
    later = Book(desk.export("later.xlsx", as_of="2026-05-31"))
    assert "C-007" not in later.rows()
    assert desk.workspace.review_orphans().empty


def test_reviewed_claims_are_not_asked_again_but_the_old_sample_stays(
    desk: ReviewDesk,
) -> None:
    first = desk.export()
    desk.workspace.review_apply(fill(desk, {"C-008": {}, "C-001": {}}))
    assert desk.export("same.xlsx").read_bytes() == first.read_bytes()
    later = Book(desk.export("later.xlsx", as_of="2026-05-31"))
    assert set(Book(first).rows()) - set(later.rows()) == {"C-008", "C-001"}


def test_a_day_after_the_newest_report_is_noted(desk: ReviewDesk) -> None:
    applied = desk.workspace.review_apply(fill(desk, {"C-008": {}}))
    assert any("later than the newest report" in note for note in applied.notes)


def test_an_older_answer_is_kept_and_does_not_stand(desk: ReviewDesk) -> None:
    new = fill(desk, {"C-008": {"component": "frame", "reviewed_on": date(2026, 5, 9)}})
    old = fill(desk, {"C-008": {"component": "motor", "reviewed_on": date(2026, 5, 1)}})
    desk.workspace.review_apply(new)
    applied = desk.workspace.review_apply(old)
    assert applied.older == 1
    assert "a later one of the same reviewer, which stands" in applied.text()
    assert component_of(desk, "C-008")[0] == "frame"
    assert component_of(desk, "C-008", as_known="2026-05-03")[0] == "motor"


def second(desk: ReviewDesk) -> Applied:
    """Let Ann review six claims and Bea four of them again."""
    first = ["motor", "charger", "frame", "display", "motor", "frame"]
    names = [f"C-{number:03d}" for number in range(1, 7)]
    desk.workspace.review_apply(
        fill(
            desk,
            {
                name: {"component": part, "failure_mode": "worn"}
                for name, part in zip(names, first, strict=True)
            },
        )
    )
    book = Book(desk.export("again.xlsx", again=4))
    for claim_no, row in book.rows().items():
        part = first[names.index(claim_no)]
        book.answer(
            row,
            "controller" if claim_no == "C-002" else part,
            failure_mode="leaking" if claim_no == "C-004" else "worn",
            reviewer="Bea",
            reviewed_on=date(2026, 5, 9),
        )
    return desk.workspace.review_apply(book.save("again-filled.xlsx"))


def test_a_second_review_hides_the_first_answer(desk: ReviewDesk) -> None:
    second(desk)
    book = Book(desk.folder / "again.xlsx")
    assert len(book.rows()) == 4
    for row in book.rows().values():
        assert book.cell(row, "reason").value == "second review"
        for name in ("suggested_component", "suggested_mode", "confidence", "evidence"):
            assert book.cell(row, name).value is None
    assert Book(desk.export("again2.xlsx", again=4)).rows() == book.rows()


def test_two_answers_on_a_claim_are_both_kept_and_the_newest_counts(
    desk: ReviewDesk,
) -> None:
    desk.workspace.review_apply(
        fill(desk, {"C-002": {"component": "charger"}, "C-003": {"component": "frame"}})
    )
    other = {"reviewer": "Bea", "reviewed_on": date(2026, 5, 9)}
    applied = desk.workspace.review_apply(
        fill(
            desk,
            {
                "C-002": {"component": "controller", **other},
                "C-003": {"component": "frame", **other},
            },
        )
    )
    assert len(labels(desk)) == 4
    assert component_of(desk, "C-002") == ("controller", "label")
    [row] = applied.double.conflicts.to_dict("records")
    assert row["claim_no"] == "C-002"
    assert (row["first_reviewer"], row["first_component"]) == ("Ann", "charger")
    assert (row["last_reviewer"], row["last_component"]) == ("Bea", "controller")
    assert row["in_force"] == "controller"
    assert applied.double.component.agreement == 0.5
    # chance: each class is used by one of both or by both; see Cohen 1960
    assert applied.double.component.kappa == pytest.approx((0.5 - 0.25) / 0.75)
    assert "reviewed by two: 2 claims" in applied.text()
    assert "Cohen's kappa 0.33" in applied.text()
    assert "different answers on 1 claim; the newest counts" in applied.text()


def test_agreement_is_told_for_the_component_and_with_the_mode(
    desk: ReviewDesk,
) -> None:
    applied = second(desk)
    asked = set(Book(desk.folder / "again.xlsx").rows())
    differ = asked & {"C-002", "C-004"}
    assert set(applied.double.conflicts["claim_no"]) == differ
    assert applied.double.component.n == 4
    same = 4 - len(asked & {"C-002"})
    assert applied.double.component.agreement == pytest.approx(same / 4)
    assert applied.double.mode.agreement == pytest.approx((4 - len(differ)) / 4)
    found = desk.workspace.review_conflicts()
    assert found.conflicts.equals(applied.double.conflicts)


def test_the_sample_is_kept_as_it_was_read_when_drawn(desk: ReviewDesk) -> None:
    desk.export(queue=4, audit=5)
    rows = desk.query(
        "select sample, stratum, probability, terms_digest, component "
        "from review_samples order by place"
    )
    assert [row[1] for row in rows] == ["queue"] * 4 + ["audit"] * 5
    assert {row[0] for row in rows} == {"2026-04-30"}
    assert {row[2] for row in rows if row[1] == "audit"} == {5 / 8}
    assert {row[3] for row in rows} == {desk.workspace._terms.digest}
    book = Book(desk.folder / "review.xlsx")
    for row in book.rows().values():
        book.answer(row, "frame")
    desk.workspace.review_apply(book.save())
    after = desk.query("select component from review_samples order by place")
    assert [row[0] for row in after] == [row[4] for row in rows]


def test_an_older_warehouse_gets_the_tables_of_reviews(desk: ReviewDesk) -> None:
    with duckdb.connect(str(desk.workspace.warehouse)) as connection:
        connection.execute("drop table review_samples")
        connection.execute("drop table review_repeats")
        connection.execute("update meta set value = '1' where key = 'schema_version'")
    book = Book(desk.export())
    assert len(book.rows()) == 12
    [(kept,)] = desk.query("select count(*) from review_samples")
    assert kept == 12


def test_claim_numbers_that_look_like_numbers_or_formulas_come_back(
    tmp_path: Path,
) -> None:
    desk = ReviewDesk(tmp_path / "odd")
    odd = ["000123", "1e5", "=1+1", "-7", "@x", "2026-05-01"]
    desk.load(
        "claims.csv",
        [{**row, "claim_no": name} for row, name in zip(claims(6), odd, strict=True)],
    )
    book = Book(desk.export())
    for row in book.rows().values():
        book.answer(row)
    assert desk.workspace.review_apply(book.save()).inserted == 6
    assert sorted(row[0] for row in labels(desk)) == sorted(odd)
