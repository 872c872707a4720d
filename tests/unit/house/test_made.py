"""What made a page is written into its head and read again, whatever comes in."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from html import escape

import pytest
from hypothesis import given
from hypothesis import strategies as st

from claimlens.monthly_inputs import (
    InputDigest,
    MadeBy,
    input_digest,
    is_sealed,
    made_by,
    sealed,
)

MADE = MadeBy(
    report="component",
    subject='lock/key "<&>"',
    as_of=date(2026, 4, 30),
    as_known=date(2026, 5, 2),
    language="fr",
    internal=True,
    version="0.1.0",
    settings="67cc4814caec",
    terms="1899ec66c4e3",
    model="00ff00ff00ff",
    inputs=InputDigest(15, "365ceb5aa627"),
    figures="434e498997dc",
    last=MadeBy(
        as_of=date(2026, 3, 31), version="0.0.9", settings="ab", terms="1899ec66c4e3"
    ),
)


def page_of(made: MadeBy) -> str:
    tags = "".join(
        f'<meta name="claimlens-{name}" content="{escape(text)}">\n'
        for name, text in made.tags()
    )
    return sealed(f"<html><head>\n{tags}</head><body>42 claims</body></html>")


@pytest.mark.parametrize(
    "made",
    [
        MADE,
        replace(MADE, report="monthly", subject="", as_known=None, last=None),
        replace(MADE, report="supplier", internal=False, model="", figures=""),
    ],
)
def test_what_is_written_is_read(made: MadeBy) -> None:
    assert made_by(page_of(made)) == made


def test_one_changed_sign_breaks_the_seal() -> None:
    page = page_of(MADE)
    assert is_sealed(page)
    assert not is_sealed(page.replace("42", "41"))
    assert not is_sealed(page.replace("2026-04-30", "2026-04-29"))
    assert not is_sealed(page + " ")
    assert not is_sealed("no page at all")
    assert not is_sealed(page.replace('claimlens-seal" content="', 'x" content="'))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("2026-04-30", "2026-04-31"),
        ("component", "everything"),
        ('content="fr"', 'content="xx"'),
        ("67cc4814caec", "no digest"),
        ("0.1.0", "0.1.0; rm"),
        ("15 365ceb5aa627", "15"),
        ("2026-03-31 0.0.9 ab ", "2026-03-31 "),
        ('name="claimlens-terms"', 'name="claimlens-settings"'),
        ('name="claimlens-as-of"', 'name="claimlens-other"'),
        ('name="claimlens-subject"', 'name="claimlens-other"'),
        ("component", "monthly"),
    ],
)
def test_a_head_that_is_amiss_says_nothing(old: str, new: str) -> None:
    page = page_of(MADE)
    assert old in page
    assert made_by(page.replace(old, new, 1)) is None


@given(st.text(max_size=300), st.integers(0, 900), st.integers(0, 300))
def test_nothing_that_comes_in_stops_the_reading(
    text: str, start: int, length: int
) -> None:
    page = page_of(MADE)
    hostile = page[:start] + text + page[start + length :]
    assert made_by(hostile) is None or isinstance(made_by(hostile), MadeBy)
    assert is_sealed(hostile) is (hostile == page)


def test_inputs_keep_their_order() -> None:
    assert input_digest(["a", "b"]) != input_digest(["b", "a"])
    assert input_digest([]).batches == 0
