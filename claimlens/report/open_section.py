"""The section on claims that somebody still waits for, and on what was decided."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from claimlens.monthly_inputs import WAITS, Money, MonthlyInputs
from claimlens.report import formats
from claimlens.report.findings import join_words, money_text
from claimlens.report.formats import MISSING, PER_CENT
from claimlens.report.view import SectionView, TableView, number_columns, text_columns

__all__ = ["open_section", "requested_late"]

_OPEN = ("decision", "part", "repair")
_BACK = "part back"
#: Last day of each band of age; the last band has none.
_BANDS = (7, 30, 60, 90, None)
_SPANS = {"month": "the month", "year": "the last 12 months"}


def open_section(inputs: MonthlyInputs) -> SectionView:
    """Build the section on open claims."""
    frame = inputs.open_claims.waiting
    decided = inputs.open_claims.decided
    tables = [_waiting(inputs)] if len(frame) else []
    if len(decided):
        tables.append(_decided(inputs))
    return SectionView(
        id="open-claims",
        heading="Open claims",
        basis=(
            "Claims of every class that are neither closed nor refused nor withdrawn; "
            f"cut-off {formats.day(inputs.meta.as_of)}."
        ),
        lead=tuple(_told(inputs)) if len(frame) else (),
        reading=tuple(_how_told(inputs)) if len(frame) else (),
        tables=tuple(tables),
        empty="No claim is open.",
    )


def requested_late(inputs: MonthlyInputs) -> tuple[Money, ...]:
    """Add up what was requested by claims open for too long, one sum a currency."""
    frame = inputs.open_claims.waiting
    late = frame["waits_for"].isin(_OPEN) & (
        frame["days"] > inputs.thresholds.open_days
    )
    return _sums(frame[late])


def _sums(frame: pd.DataFrame) -> tuple[Money, ...]:
    known = frame[frame["requested_claims"] > 0].dropna(subset=["currency"])
    sums = known.groupby("currency", sort=True)["requested"].sum()
    return tuple(Money(float(value), str(code)) for code, value in sums.items())


def _number(value: float, one: str, many: str) -> str:
    return f"{formats.count(value)} {one if value == 1 else many}"


def _told(inputs: MonthlyInputs) -> Iterator[str]:
    waiting = inputs.open_claims.waiting
    frame = waiting[waiting["waits_for"].isin(_OPEN)]
    claims = int(frame["claims"].sum())
    if claims:
        parts = []
        for wait in _OPEN:
            number = int(frame[frame["waits_for"] == wait]["claims"].sum())
            if number:
                verb = "waits" if number == 1 else "wait"
                parts.append(f"{formats.count(number)} {verb} for {WAITS[wait]}")
        verb = "is" if claims == 1 else "are"
        yield f"{_number(claims, 'claim', 'claims')} {verb} open: {join_words(parts)}."
        yield from _off_road(inputs, int(frame["off_road"].sum()))
        undecided = frame[frame["waits_for"] == "decision"]
        if _sums(undecided):
            yield f"Requested and not yet decided: {money_text(_sums(undecided))}."
    yield from _back(inputs)


def _off_road(inputs: MonthlyInputs, claims: int) -> Iterator[str]:
    if not claims:
        return
    verb = "is" if claims == 1 else "are"
    likely = "" if inputs.open_claims.off_road_column else "probably "
    yield (
        f"{formats.count(claims)} of them {verb} of a vehicle that is {likely}off the "
        "road."
    )


def _back(inputs: MonthlyInputs) -> Iterator[str]:
    given = inputs.open_claims
    back = given.waiting[given.waiting["waits_for"] == _BACK]
    claims = int(back["claims"].sum())
    if not claims:
        return
    said = (
        f"{_number(claims, 'claim', 'claims')} closed in the last "
        f"{given.return_days} days {'has' if claims == 1 else 'have'} a part noted and "
        "no inspection yet"
    )
    if given.closed:
        share = given.inspected / given.closed
        said += (
            f"; of {formats.count(given.closed)} closed earlier in the year "
            f"{formats.rate(share, PER_CENT)}{PER_CENT.suffix} were inspected, so not "
            "every part is to be expected"
        )
    yield f"{said}."


def _how_told(inputs: MonthlyInputs) -> Iterator[str]:
    given = inputs.open_claims
    yield (
        "How it is told: a claim waits for a decision until it has one; then for a "
        "part while no part number is noted, and for the repair to end once one is, "
        "until it is closed. A part is to come back where a closed claim has a part "
        "noted and no inspection of it. Denied and withdrawn claims wait for nothing."
    )
    if given.off_road_column:
        yield (
            "Whether a vehicle is off the road stands in the column "
            f"{given.off_road_column!r} of the claims."
        )
    else:
        yield (
            "Whether a vehicle is off the road is guessed: its claim tells of danger, "
            "or of no power. If your export has a column for it, name it as "
            "off_road_column in the settings of the report."
        )


def _band(first: int, last: int | None) -> str:
    return f"{first}–{last} days" if last is not None else f"over {first - 1} days"


def _waiting(inputs: MonthlyInputs) -> TableView:
    """Set what is waited for against its age."""
    frame = inputs.open_claims.waiting
    firsts = [0, *(last + 1 for last in _BANDS[:-1] if last is not None)]
    bands = list(zip(firsts, _BANDS, strict=True))

    def cells(own: pd.DataFrame) -> list[str]:
        counts = [
            own[
                (own["days"] >= first)
                & (own["days"] <= (float("inf") if last is None else last))
            ]["claims"].sum()
            for first, last in bands
        ]
        sums = _sums(own)
        return [
            formats.count(own["claims"].sum()),
            *(formats.count(int(number)) for number in counts),
            formats.count(own["off_road"].sum()),
            "\n".join(formats.amount(s.amount, s.currency) for s in sums) or MISSING,
        ]

    rows = [
        (f"for {WAITS[wait]}", *cells(frame[frame["waits_for"] == wait]))
        for wait in _OPEN
    ]
    back = cells(frame[frame["waits_for"] == _BACK])
    # these are repaired and settled
    rows.append((f"for {WAITS[_BACK]}", *back[:-2], MISSING, MISSING))
    return TableView(
        "open-claims-table",
        "Claims by what they wait for and by days since the report; those whose part "
        "is to come back are closed, and their days count from the closing",
        text_columns("waiting")
        + number_columns(
            "claims", *(_band(*band) for band in bands), "off the road", "requested"
        ),
        tuple(rows),
        total=("open", *cells(frame[frame["waits_for"].isin(_OPEN)])),
    )


def _decided(inputs: MonthlyInputs) -> TableView:
    """Set what was requested against what was approved."""
    frame = inputs.open_claims.decided
    rows = []
    for row in frame.to_dict("records"):
        whole = row["requested"]
        share = None if pd.isna(whole) or not whole else row["approved"] / whole
        rows.append(
            (
                _SPANS[str(row["span"])],
                "none told" if pd.isna(row["currency"]) else str(row["currency"]),
                formats.count(row["decided"]),
                formats.count(row["told"]),
                formats.count(row["denied"]),
                formats.count(row["cut"]),
                formats.amount(whole),
                formats.amount(row["approved"]),
                f"{formats.rate(share, PER_CENT)}{PER_CENT.suffix}"
                if share is not None and share <= 1
                else MISSING
                if share is None
                else f"{formats.decimal_text(100 * share)}{PER_CENT.suffix}",
            )
        )
    return TableView(
        "decided-table",
        "Claims decided, and what was requested and approved in those that tell both; "
        "a refused claim counts as 0 approved",
        text_columns("decided in", "currency")
        + number_columns(
            *("claims", "tell both", "refused", "cut"),
            *("requested", "approved", "approved of requested"),
        ),
        tuple(rows),
    )
