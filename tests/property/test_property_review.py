"""Laws of taking answers back: no cell surprises, nothing but allowed words gets in."""

from __future__ import annotations

from datetime import date, datetime

from hypothesis import given, settings
from hypothesis import strategies as st

from claimlens.classify.taxonomy import load_taxonomy
from claimlens.review.checking import Known, judge
from claimlens.review.columns import CANNOT_TELL
from claimlens.review.fingerprint import check_word
from claimlens.review.returned import Cell, Place, Row

TAXONOMY = load_taxonomy()
CLAIMS = {f"C-{number}": date(2026, 3, number) for number in range(1, 9)}
KNOWN = Known(
    taxonomy=TAXONOMY,
    reported_on=CLAIMS,
    newest=date(2026, 4, 30),
    reviewers=("Ann",),
)
SAMPLE = "2026-04-30"
COLUMNS = (
    "claim_no", "sample", "check", "component", "failure_mode", "dangerous",
    "reviewer", "reviewed_on", "remark",
)  # fmt: skip

ANYTHING = st.one_of(
    st.none(),
    st.text(max_size=12).map(lambda text: text.strip() or None),
    st.integers(-10, 10**9),
    st.floats(allow_nan=False, allow_infinity=False),
    st.booleans(),
    st.datetimes(datetime(1990, 1, 1), datetime(2040, 1, 1)),
)
WORDS = {
    "claim_no": st.sampled_from(list(CLAIMS)),
    "sample": st.just(SAMPLE),
    "check": st.sampled_from([check_word(SAMPLE, one) for one in CLAIMS]),
    "component": st.sampled_from([*TAXONOMY.components, CANNOT_TELL, "Motor "]),
    "failure_mode": st.sampled_from([None, *TAXONOMY.modes]),
    "dangerous": st.sampled_from([None, "yes", "NO"]),
    "reviewer": st.sampled_from(["Ann", "ann", "Bea"]),
    "reviewed_on": st.sampled_from(["2026-05-01", date(2026, 5, 2)]),
    "remark": st.none() | st.text(max_size=5),
}


def cell(name: str, row: int, value: object) -> Cell:
    return Cell(value, Place("review", 1 + COLUMNS.index(name), row))  # type: ignore[arg-type]


@st.composite
def sheets(draw: st.DrawFn) -> list[Row]:
    rows = []
    for number in range(draw(st.integers(0, 6))):
        rows.append(
            {
                name: cell(
                    name,
                    3 + number,
                    draw(ANYTHING if draw(st.integers(0, 9)) == 0 else WORDS[name]),
                )
                for name in COLUMNS
            }
        )
    return rows


@settings(deadline=None)
@given(sheets())
def test_whatever_stands_in_the_cells_only_allowed_words_get_in(
    rows: list[Row],
) -> None:
    answers, faults, notes = judge(rows, KNOWN)
    assert all(fault.startswith("sheet review, row ") for fault in faults)
    assert all(notes)
    for answer in answers:
        assert answer.component in (*TAXONOMY.components, CANNOT_TELL)
        assert answer.failure_mode in (None, *TAXONOMY.modes)
        assert answer.dangerous in (None, "yes", "no")
        assert answer.reviewer
        assert answer.reviewed_on >= CLAIMS[answer.claim_no]
    filled = sum(bool(row["component"].text) for row in rows)
    assert len(answers) <= filled
    if not faults:
        assert len(answers) == filled
        assert len({(one.claim_no, one.reviewer) for one in answers}) == filled


@given(st.text(min_size=1, max_size=8), st.text(min_size=1, max_size=8))
def test_a_changed_key_changes_the_check_word(one: str, other: str) -> None:
    assert (check_word(SAMPLE, one) == check_word(SAMPLE, other)) == (one == other)
    if one != other:
        assert check_word(one, "C-1") != check_word(other, "C-1")
