"""The section on claims that somebody still waits for, and on what was decided."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from claimlens.language import N_, _, ngettext
from claimlens.monthly_inputs import WAITS, Money, MonthlyInputs
from claimlens.report import formats
from claimlens.report.findings import join_words, money_text
from claimlens.report.formats import MISSING, PER_CENT
from claimlens.report.view import SectionView, TableView, number_columns, text_columns

__all__ = ["open_section", "requested_late"]

_OPEN, _BACK = WAITS[:-1], WAITS[-1]
_FOR = {
    "decision": N_("for a decision"),
    "part": N_("for a part"),
    "repair": N_("for the repair to end"),
    "part back": N_("for the part to come back"),
}
#: Last day of each band of age; the last band has none.
_BANDS = (7, 30, 60, 90, None)
_SPANS = {"month": N_("the month"), "year": N_("the last 12 months")}


def open_section(inputs: MonthlyInputs) -> SectionView:
    """Build the section on open claims."""
    frame = inputs.open_claims.waiting
    decided = inputs.open_claims.decided
    tables = [_waiting(inputs)] if len(frame) else []
    if len(decided):
        tables.append(_decided(inputs))
    return SectionView(
        id="open-claims",
        heading=_("Open claims"),
        basis=_(
            "Claims of every class that are neither closed nor refused nor withdrawn; "
            "cut-off {day}."
        ).format(day=formats.day(inputs.meta.as_of)),
        lead=tuple(_told(inputs)) if len(frame) else (),
        reading=tuple(_how_told(inputs)) if len(frame) else (),
        tables=tuple(tables),
        empty=_("No claim is open."),
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


def _wait_for(wait: str, number: int) -> str:
    """Say how many claims wait for something."""
    said = {
        "decision": ngettext(
            "{number} waits for a decision", "{number} wait for a decision", number
        ),
        "part": ngettext(
            "{number} waits for a part", "{number} wait for a part", number
        ),
        "repair": ngettext(
            "{number} waits for the repair to end",
            "{number} wait for the repair to end",
            number,
        ),
    }[wait]
    return said.format(number=formats.count(number))


def _told(inputs: MonthlyInputs) -> Iterator[str]:
    waiting = inputs.open_claims.waiting
    frame = waiting[waiting["waits_for"].isin(_OPEN)]
    claims = int(frame["claims"].sum())
    if claims:
        parts = []
        for wait in _OPEN:
            number = int(frame[frame["waits_for"] == wait]["claims"].sum())
            if number:
                parts.append(_wait_for(wait, number))
        yield ngettext(
            "{number} claim is open: {waiting}.",
            "{number} claims are open: {waiting}.",
            claims,
        ).format(number=formats.count(claims), waiting=join_words(parts))
        yield from _off_road(inputs, int(frame["off_road"].sum()))
        undecided = frame[frame["waits_for"] == "decision"]
        if _sums(undecided):
            said = _("Requested and not yet decided: {money}.")
            yield said.format(money=money_text(_sums(undecided)))
    yield from _back(inputs)


def _off_road(inputs: MonthlyInputs, claims: int) -> Iterator[str]:
    if not claims:
        return
    said = (
        ngettext(
            "{number} of them is of a vehicle that is off the road.",
            "{number} of them are of a vehicle that is off the road.",
            claims,
        )
        if inputs.open_claims.off_road_column
        else ngettext(
            "{number} of them is of a vehicle that is probably off the road.",
            "{number} of them are of a vehicle that is probably off the road.",
            claims,
        )
    )
    yield said.format(number=formats.count(claims))


def _back(inputs: MonthlyInputs) -> Iterator[str]:
    given = inputs.open_claims
    back = given.waiting[given.waiting["waits_for"] == _BACK]
    claims = int(back["claims"].sum())
    if not claims:
        return
    number, days = formats.count(claims), given.return_days
    if not given.closed:
        yield ngettext(
            "{number} claim closed in the last {days} days has a part noted and no "
            "inspection yet.",
            "{number} claims closed in the last {days} days have a part noted and no "
            "inspection yet.",
            claims,
        ).format(number=number, days=days)
        return
    share = given.inspected / given.closed
    yield ngettext(
        "{number} claim closed in the last {days} days has a part noted and no "
        "inspection yet; of {closed} closed earlier in the year {share} were "
        "inspected, so not every part is to be expected.",
        "{number} claims closed in the last {days} days have a part noted and no "
        "inspection yet; of {closed} closed earlier in the year {share} were "
        "inspected, so not every part is to be expected.",
        claims,
    ).format(
        number=number,
        days=days,
        closed=formats.count(given.closed),
        share=f"{formats.rate(share, PER_CENT)}{PER_CENT.suffix}",
    )


def _how_told(inputs: MonthlyInputs) -> Iterator[str]:
    given = inputs.open_claims
    yield _(
        "How it is told: a claim waits for a decision until it has one; then for a "
        "part while no part number is noted, and for the repair to end once one is, "
        "until it is closed. A part is to come back where a closed claim has a part "
        "noted and no inspection of it. Denied and withdrawn claims wait for nothing."
    )
    if given.off_road_column:
        yield _(
            "Whether a vehicle is off the road stands in the column {column} of the "
            "claims."
        ).format(column=repr(given.off_road_column))
    else:
        yield _(
            "Whether a vehicle is off the road is guessed: its claim tells of danger, "
            "or of no power. If your export has a column for it, name it as "
            "off_road_column in the settings of the report."
        )


def _band(first: int, last: int | None) -> str:
    if last is None:
        return _("over {number} days").format(number=first - 1)
    return _("{first}–{last} days").format(first=first, last=last)


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
        (_(_FOR[wait]), *cells(frame[frame["waits_for"] == wait])) for wait in _OPEN
    ]
    back = cells(frame[frame["waits_for"] == _BACK])
    # these are repaired and settled
    rows.append((_(_FOR[_BACK]), *back[:-2], MISSING, MISSING))
    return TableView(
        "open-claims-table",
        _(
            "Claims by what they wait for and by days since the report; those whose "
            "part is to come back are closed, and their days count from the closing"
        ),
        text_columns("waiting")
        + number_columns(
            "claims", *(_band(*band) for band in bands), "off the road", "requested"
        ),
        tuple(rows),
        total=(_("open"), *cells(frame[frame["waits_for"].isin(_OPEN)])),
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
                _(_SPANS[str(row["span"])]),
                _("none told") if pd.isna(row["currency"]) else str(row["currency"]),
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
        _(
            "Claims decided, and what was requested and approved in those that tell "
            "both; a refused claim counts as 0 approved"
        ),
        text_columns("decided in", "currency")
        + number_columns(
            "claims",
            "tell both",
            "refused",
            "cut",
            "requested",
            "approved",
            "approved of requested",
        ),
        tuple(rows),
    )
