"""Counting for the quality of the classification: given rows, expected rows."""

from __future__ import annotations

from datetime import date, datetime

import pytest
from sql_desk import Desk

# cut to its month, a date comes back with a time of day
JANUARY, FEBRUARY = datetime(2025, 1, 1), datetime(2025, 2, 1)


@pytest.fixture
def desk() -> Desk:
    made = Desk()
    made.given(
        "int_claims",
        "claim_no varchar, reported_on date, claim_class varchar, is_wanted boolean",
        ("A1", date(2025, 1, 31), "counted", True),
        ("A2", date(2025, 1, 1), "goodwill", True),
        ("A3", date(2025, 2, 1), "counted", True),
        ("A4", date(2025, 2, 9), "counted", False),
        ("A5", date(2025, 2, 9), "counted", True),
    )
    made.given(
        "classified_known",
        "claim_no varchar, component varchar, source varchar",
        ("A1", "motor", "part"),
        ("A2", "unclassified", "none"),
        ("A3", "motor", "label"),
        ("A4", "motor", "part"),
        ("A5", "display", "label"),
    )
    made.given(
        "review_samples",
        "sample varchar, claim_no varchar, component varchar",
        ("2025-03-31", "A3", "display"),
        ("2025-02-28", "A3", "unclassified"),
    )
    return made


def test_a_reviewed_claim_stands_under_what_was_read_when_first_drawn(
    desk: Desk,
) -> None:
    desk.run("intermediate/int_claims_read")
    assert desk.run("marts/quality_months") == [
        (JANUARY, "motor", "part", "motor", True, 1),
        (JANUARY, "unclassified", "none", "unclassified", False, 1),
        (FEBRUARY, "display", "label", None, True, 1),
        (FEBRUARY, "motor", "label", "unclassified", True, 1),
    ]


def test_months_add_up_to_the_claims_in_sight(desk: Desk) -> None:
    desk.run("intermediate/int_claims_read")
    rows = desk.run("marts/quality_months")
    assert sum(int(str(row[-1])) for row in rows) == 4


def texts(desk: Desk, per_month: int = 10) -> None:
    desk.given(
        "claims_known",
        "claim_no varchar, narrative varchar, technician_note varchar",
        ("A1", "Motor brummt brummt", None),
        ("A2", None, "replaced it"),
        ("A3", "Motor hums", "ok"),
        ("A5", "never read", None),
    )
    desk.run("intermediate/int_claims_read")
    desk.run(
        "intermediate/int_texts",
        {"first_month": JANUARY.date(), "per_month": per_month},
    )


def test_texts_of_claims_that_were_never_read_are_left_out(desk: Desk) -> None:
    texts(desk)
    assert desk.run("marts/quality_texts", {"per_month": 10}) == [
        ("A1", JANUARY, False, "Motor brummt brummt"),
        ("A2", JANUARY, True, "replaced it"),
        ("A3", FEBRUARY, True, "Motor hums"),
    ]


def test_of_many_texts_the_same_ones_are_chosen_each_time(desk: Desk) -> None:
    chosen = []
    for _ in range(2):
        texts(desk, per_month=1)
        chosen.append(desk.run("marts/quality_texts", {"per_month": 10}))
    assert chosen[0] == chosen[1]
    assert [row[1] for row in chosen[0]] == [JANUARY, FEBRUARY]


def test_a_word_counts_once_a_text_and_is_unseen_for_a_year_at_least(
    desk: Desk,
) -> None:
    texts(desk)
    desk.run("intermediate/int_words")
    assert desk.run("marts/quality_words") == [
        # motor, brummt; replaced (two letters are no word)
        (JANUARY, 2, 3, 3),
        # motor was there in January, hums was not
        (FEBRUARY, 1, 2, 1),
    ]
    new: dict[str, object] = {"months": [FEBRUARY.date()], "least_texts": 1}
    assert desk.run("marts/quality_new_words", new) == [(FEBRUARY, "hums", 1)]
    new["least_texts"] = 2
    assert desk.run("marts/quality_new_words", new) == []


@pytest.mark.parametrize(("month", "unseen"), [(1, 0), (2, 1)])
def test_a_word_not_used_for_more_than_twelve_months_is_new_again(
    month: int, unseen: int
) -> None:
    desk = Desk()
    later = datetime(2026, month, 1)
    desk.given(
        "int_texts",
        "month timestamp, both_texts varchar",
        (JANUARY, "brummt"),
        (later, "brummt"),
    )
    desk.run("intermediate/int_words")
    assert desk.run("marts/quality_words")[-1] == (later, 1, 1, unseen)


def test_drawn_claims_out_of_sight_are_told_apart(desk: Desk) -> None:
    desk.given(
        "review_samples",
        "sample varchar, claim_no varchar, stratum varchar, probability double, "
        "component varchar, failure_mode varchar, source varchar, confidence double, "
        "safety varchar, terms_digest varchar",
        ("s", "A1", "audit", 0.1, "motor", "worn", "part", 0.9, "no", "d"),
        ("s", "A4", "audit", 0.1, "motor", "worn", "part", 0.9, "no", "d"),
        ("s", "gone", "queue", 1.0, "motor", "worn", "part", 0.9, "no", "d"),
    )
    rows = desk.run("marts/quality_sample")
    assert [(row[1], row[-1]) for row in rows] == [
        ("A1", True),
        ("A4", False),
        ("gone", False),
    ]


def test_a_label_brings_its_word_on_danger(desk: Desk) -> None:
    desk.given(
        "labels_known",
        "claim_no varchar, component varchar, failure_mode varchar, reviewer varchar, "
        "reviewed_on date, extra json",
        (
            "A1",
            "motor",
            "worn",
            "Ana",
            date(2025, 1, 1),
            '{"safety": "yes", "remark": "x"}',
        ),
        ("A2", "motor", None, None, None, None),
        ("A4", "motor", None, "Ana", date(2025, 1, 1), None),
    )
    assert desk.run("marts/quality_labels") == [
        ("A1", "motor", "worn", "Ana", date(2025, 1, 1), "yes"),
        ("A2", "motor", None, "", None, None),
    ]


def test_an_older_warehouse_is_known_by_its_missing_table(desk: Desk) -> None:
    assert desk.run("marts/review_tables") == [(True,)]
    assert Desk().run("marts/review_tables") == [(False,)]
