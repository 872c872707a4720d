"""The tables of the monthly report that no chart stands behind."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd

from claimlens.language import _, figures
from claimlens.monthly_inputs import MonthCounts, MonthlyInputs
from claimlens.report import formats
from claimlens.report.findings import money_text
from claimlens.report.formats import MISSING
from claimlens.report.view import (
    TableView,
    notes_in_caption,
    number_columns,
    text_columns,
)

__all__ = [
    "account",
    "changes",
    "classes",
    "inputs_read",
    "life",
    "predelivery",
    "rates_by_age",
    "reasons",
]

_ACCOUNT = (
    "rows_read",
    "inserted",
    "updated",
    "unchanged",
    "superseded",
    "rejected",
    "flagged",
    "skipped_lines",
)


def changes(inputs: MonthlyInputs) -> TableView:
    """Set this month's counts beside those of the month before, now and then."""
    now, before = inputs.changes.this_month, inputs.changes.last_month
    then = inputs.changes.last_shown

    def row(title: str, name: str, compared: bool = True) -> tuple[str, ...]:
        here = int(getattr(now, name))
        if before is None:
            return (title, formats.count(here), *[MISSING] * 3)
        there = int(getattr(before, name))
        shown = MISSING if then is None else formats.count(getattr(then, name))
        difference = figures(f"{here - there:+,}").replace("-", "−")
        return (
            title,
            formats.count(here),
            formats.count(there),
            shown,
            ("0" if here == there else difference) if compared else _("not compared"),
        )

    def heading(counts: MonthCounts | None) -> str:
        return formats.month_name(counts.month) if counts else _("month before")

    rows = (
        row(_("claims reported"), "claims_reported"),
        row(_("first failures known so far"), "first_failures", compared=False),
        row(_("claims open at the end"), "open_claims"),
        row(_("units in service at the end"), "units_in_service"),
        (
            _("cost of the claims reported"),
            money_text(now.cost),
            money_text(before.cost) if before else MISSING,
            "",
            "",
        ),
    )
    return TableView(
        "changes-table",
        _(
            "Counts of the month and of the month before, as they stand now and as the "
            "report of that month showed them"
        ),
        text_columns("count")
        + number_columns(heading(now), heading(before), "shown then", "difference"),
        rows,
    )


def classes(inputs: MonthlyInputs) -> TableView:
    """List the classes of claims with their sum, the claims read."""
    return TableView(
        "classes-table",
        _("Every claim read, by the class it counts in"),
        text_columns("class") + number_columns("claims"),
        tuple(
            (str(label), formats.count(claims))
            for label, claims in inputs.classes[["class", "claims"]].itertuples(
                index=False, name=None
            )
        ),
        total=(_("claims read"), formats.count(inputs.claims_read)),
    )


def rates_by_age(inputs: MonthlyInputs) -> TableView:
    """Set each component's share failed at several ages side by side."""
    frame = inputs.rates_by_component
    ages = sorted(frame["at_months"].unique())
    unit = formats.rate_unit(frame["rate"])
    order = _by_share(frame, ages[-1] if ages else 0)
    rows = []
    for component in order:
        own = frame[frame["component"] == component].set_index("at_months")
        cells = [component, formats.count(float(own["units"].max()))]
        for age in ages:
            cells += _rate_cells(own.loc[age], unit) if age in own.index else ["", ""]
        rows.append(tuple(cells))
    headings = []
    for age in ages:
        headings += [f"by {formats.decimal_text(age, 0)} months", "interval"]
    return TableView(
        "rates-by-age-table",
        f"Share of units with a failure by age in service, {unit.name}; "
        "an asterisk marks figures too young to trust",
        text_columns("component") + number_columns("units", *headings),
        tuple(rows),
    )


def _by_share(frame: pd.DataFrame, age: float) -> list[str]:
    """Order components by their lower limit at the oldest age, highest first.

    A rate from a handful of units can be high by chance; its lower limit is
    not.
    """
    at = frame[frame["at_months"] == age]
    limits = dict(zip(at["component"], at["lower"].fillna(-1.0), strict=True))
    names = [str(name) for name in frame["component"].unique()]
    return sorted(names, key=lambda name: (-float(limits.get(name, -1.0)), name))


def _rate_cells(row: pd.Series, unit: formats.RateUnit) -> list[str]:
    """Print a rate and its interval, with a mark where it is too young."""
    if pd.isna(row["rate"]):
        return [MISSING, str(row["note"] or "")]
    mark = "" if row["mature"] else "*"
    return [
        formats.rate(row["rate"], unit) + mark,
        formats.interval(row["lower"], row["upper"], unit),
    ]


def life(inputs: MonthlyInputs) -> TableView:
    """List the Weibull figures of each component."""
    frame = inputs.life.sort_values(
        ["failures", "component"], ascending=[False, True], kind="stable"
    )
    watched = inputs.life_line[~inputs.life_line["beyond"]]
    oldest = {
        str(component): float(months)
        for component, months in watched.groupby("component")["months"].max().items()
    }
    rows = []
    for row in frame.to_dict("records"):
        rows.append(
            (
                str(row["component"]),
                formats.count(row["units"]),
                formats.count(row["failures"]),
                _with_limits(row, "shape", "shape", ""),
                _with_limits(row, "scale_months", "scale", " months"),
                _b_life(row, "b1", oldest.get(str(row["component"]))),
                _b_life(row, "b10", oldest.get(str(row["component"]))),
                "" if pd.isna(row["pattern"]) else str(row["pattern"]),
                formats.p_value(row["fit_p_value"]),
                "" if pd.isna(row["note"]) else str(row["note"]),
            )
        )
    return notes_in_caption(
        TableView(
            "life-table",
            "Weibull fit by component; scale, B1 and B10 in months in service; > marks "
            "ages that no unit has reached, with the lower limit alone",
            text_columns("component")
            + number_columns("units", "failures", "shape", "scale", "B1", "B10")
            + text_columns("pattern")
            + number_columns("fit p")
            + text_columns("note"),
            tuple(rows),
        )
    )


def _b_life(row: Mapping[Hashable, Any], stem: str, oldest: float | None) -> str:
    """Print a B-life; beyond the oldest unit only that, and the lower limit.

    A fitted line says nothing that can be checked about ages nobody reached.
    """
    value, lower = row[f"{stem}_months"], row[f"{stem}_lower"]
    if oldest is None or pd.isna(value) or float(value) <= oldest:
        return _with_limits(row, f"{stem}_months", stem, " months")
    reached = f"> {_months(min(oldest, float(value)), 'lower')}"
    if pd.isna(lower):
        return reached
    return f"{reached}\n({_months(float(lower), 'lower')} or more)"


def _with_limits(row: Mapping[Hashable, Any], name: str, stem: str, unit: str) -> str:
    """Print a Weibull figure with its limits; an open limit in words."""
    value, lower, upper = (
        None if figure is None or pd.isna(figure) else float(figure)
        for figure in (row[name], row[f"{stem}_lower"], row[f"{stem}_upper"])
    )
    if value is None:
        return MISSING if lower is None else f"above {formats.ratio(lower, 'lower')}"
    printer = formats.ratio if not unit else _months
    if lower is None and upper is None:
        return printer(value, "")
    low = printer(lower, "lower") if lower is not None else "no lower limit"
    high = printer(upper, "upper") if upper is not None else "no upper limit"
    joint = "–" if lower is not None and upper is not None else ", "
    return f"{printer(value, '')}\n({low}{joint}{high})"


def _months(value: float | None, bound: formats.Bound = "") -> str:
    """Print an age: one decimal below a hundred months, whole above."""
    large = value is not None and value >= 100
    return formats.decimal_text(value, 0 if large else 1, bound)


def predelivery(inputs: MonthlyInputs) -> TableView:
    """List the claims found before or at delivery."""
    frame = inputs.predelivery
    rows = tuple(
        (
            str(row["model"]),
            formats.count(row["units_shipped"]),
            formats.count(row["claims"]),
            formats.decimal_text(row["rate_per_thousand"]),
            formats.decimal_text(row["lower"], 1, "lower"),
            formats.decimal_text(row["upper"], 1, "upper"),
        )
        for row in frame.to_dict("records")
    )
    return TableView(
        "predelivery-table",
        "Claims before or at delivery, per thousand units shipped",
        text_columns("model")
        + number_columns("units shipped", "claims", "rate", "lower", "upper"),
        rows,
    )


def reasons(
    pairs: tuple[tuple[str, int], ...], *, id: str, caption: str, counted: str
) -> TableView:
    """List reasons with their counts."""
    return TableView(
        id,
        caption,
        text_columns("reason") + number_columns(counted),
        tuple((reason, formats.count(number)) for reason, number in pairs),
    )


def account(inputs: MonthlyInputs) -> TableView:
    """List what became of the rows of each file, with their sums."""
    frame = inputs.account
    rows = tuple(
        (
            str(row["file"]),
            str(row["kind"]),
            *(formats.count(row[name]) for name in _ACCOUNT),
        )
        for row in frame.to_dict("records")
    )
    return TableView(
        "account-table",
        "Rows of each file: rows read = inserted + updated + unchanged + superseded "
        "+ rejected",
        text_columns("file", "kind")
        + number_columns(*(name.replace("_", " ") for name in _ACCOUNT)),
        rows,
        total=(
            "all files",
            "",
            *(formats.count(int(frame[name].sum())) for name in _ACCOUNT),
        ),
    )


def inputs_read(inputs: MonthlyInputs) -> TableView:
    """List the files behind the page, with their digests."""
    return TableView(
        "inputs-table",
        "Files behind this page; the digest is the start of the file's SHA-256",
        text_columns("file", "kind", "digest")
        + number_columns("rows read", "rejected"),
        tuple(
            (
                item.file,
                item.kind,
                item.sha256,
                formats.count(item.rows_read),
                formats.count(item.rejected),
            )
            for item in inputs.meta.inputs
        ),
    )
