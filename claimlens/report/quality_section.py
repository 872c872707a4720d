"""The section on how far the data carry: what is missing, late, restated, doubtful."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from claimlens.language import N_, _, ngettext
from claimlens.monthly_inputs import AuditedShare, MonthlyInputs
from claimlens.report import formats, monthly_tables
from claimlens.report.formats import MISSING, PER_CENT
from claimlens.report.view import SectionView, TableView, number_columns, text_columns

__all__ = ["quality_section"]

# below so many a percentage would feign precision
_FEWEST = 10
_WHOLE = 0.9995


def quality_section(inputs: MonthlyInputs) -> SectionView:
    """Build the section on the quality of the data itself."""
    quality = inputs.quality
    tables = [_measures(inputs)]
    if quality.flags:
        tables.append(
            monthly_tables.reasons(
                quality.flags,
                id="flags-table",
                caption=_("Flagged: kept, and left out of the figures that it spoils"),
                counted=N_("flags"),
            )
        )
    if quality.rejects:
        tables.append(
            monthly_tables.reasons(
                quality.rejects,
                id="rejects-table",
                caption=_(
                    "Rejected: rows that could not be read, and are in no figure"
                ),
                counted=N_("rows"),
            )
        )
    return SectionView(
        id="quality",
        heading=_("How far the data carry"),
        basis=_("All claims and units loaded; cut-off {day}.").format(
            day=formats.day(inputs.meta.as_of)
        ),
        reading=tuple(_told(inputs)),
        tables=tuple(tables),
    )


def _told(inputs: MonthlyInputs) -> Iterator[str]:
    quality = inputs.quality
    if quality.unclassified_share is not None:
        yield _accuracy(quality.accuracy)
    if quality.undated_units:
        yield quality.undated_method
    bound = quality.unknown_serial_bound
    if quality.unknown_serial_claims and bound is not None:
        yield ngettext(
            "{number} claims have a serial that no register knows; the rates may be up "
            "to {share} of their value higher.",
            "{number} claims have a serial that no register knows; the rates may be up "
            "to {share} of their value higher.",
            quality.unknown_serial_claims,
        ).format(
            number=formats.count(quality.unknown_serial_claims),
            share=f"{formats.rate(bound, PER_CENT, 'upper')}{PER_CENT.suffix}",
        )
    if not quality.flags and not quality.rejects:
        yield _("Nothing was flagged and nothing was rejected.")


def _measures(inputs: MonthlyInputs) -> TableView:
    """Set each lack beside the number it is a part of."""
    return TableView(
        "quality-table",
        _("What is missing, doubtful, late or restated, and of how many"),
        text_columns("what") + number_columns("number", "of", "share"),
        tuple(_rows(inputs)),
    )


def _rows(inputs: MonthlyInputs) -> Iterator[tuple[str, ...]]:
    quality, late = inputs.quality, inputs.late_months
    claims = inputs.claims_read
    yield _row(_("claims without a component"), quality.unclassified_claims, claims)
    yield _row(
        _("flags on claims and units; a claim can have several"),
        sum(number for _, number in quality.flags),
        None,
    )
    yield _row(
        _("rows rejected"),
        sum(number for _, number in quality.rejects),
        sum(item.rows_read for item in inputs.meta.inputs),
    )
    yield _row(
        _("units whose in-service date is known"),
        quality.units - quality.undated_units,
        quality.units,
    )
    yield _row(_("claims without an in-service date"), quality.undated_claims, claims)
    yield _row(
        _("claims whose serial no register knows"),
        quality.unknown_serial_claims,
        claims,
    )
    # of the newest months a part of the failures is not reported yet
    open_months = late["share_reported"] < _WHOLE
    yield _row(
        _("months of failure whose reports still arrive"),
        int(open_months.sum()),
        len(late),
    )
    yield _row(
        _("months of failure restated since the last report"),
        int(late["restated"].sum()),
        len(late),
    )
    share = inputs.late.undated_share
    if not pd.isna(share):
        yield (
            _("claims of the last two years without a failure date"),
            MISSING,
            MISSING,
            f"{formats.rate(share, PER_CENT)}{PER_CENT.suffix}",
        )


def _row(what: str, number: int, of: int | None) -> tuple[str, ...]:
    if of is None:
        return (what, formats.count(number), MISSING, MISSING)
    share = (
        f"{formats.rate(number / of, PER_CENT)}{PER_CENT.suffix}"
        if of >= _FEWEST
        else MISSING
    )
    return (what, formats.count(number), formats.count(of), share)


def _accuracy(measured: AuditedShare | None) -> str:
    """Say how often the component is right, or how to find out; never guess."""
    if measured is None:
        return _(
            "How often the component is wrong has not been measured. To measure it, "
            "have a random sample reviewed: claimlens review export FILE writes it as "
            "a workbook, claimlens review apply FILE takes the answers back."
        )
    unit = formats.PER_CENT
    left_out = f", {measured.note}" if measured.note else ""
    lower = formats.rate(measured.lower, unit, "lower")
    upper = formats.rate(measured.upper, unit, "upper")
    return _(
        "The component is right for {share} of the claims ({lower} to {upper}), "
        "measured on {audited} randomly drawn claims that a person reviewed{left_out}. "
        "What that leaves open in each component's count is told by claimlens classify "
        "--quality; no rate here is corrected for it."
    ).format(
        share=f"{formats.rate(measured.share, unit)}{unit.suffix}",
        lower=lower,
        upper=f"{upper}{unit.suffix}",
        audited=formats.count(measured.audited),
        left_out=left_out,
    )
