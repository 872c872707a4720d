"""The sections of a dossier on rates and lives, by age and by production."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import pandas as pd

from claimlens.report import formats
from claimlens.report.component_words import (
    claims_of,
    counted,
    cut_off,
    named,
    share_with_limits,
)
from claimlens.report.formats import MISSING
from claimlens.report.rising_sentences import times
from claimlens.report.to_come_sentences import month_of
from claimlens.report.view import (
    SectionView,
    TableView,
    figure,
    number_columns,
    text_columns,
)
from claimlens.report_inputs.component import ComponentInputs
from claimlens.results import ChartHtml

__all__ = ["rate_sections"]

Charts = Mapping[str, ChartHtml]

_NO_UNITS = "No unit register is loaded, or no unit is that old: there is no rate."


def rate_sections(inputs: ComponentInputs, charts: Charts) -> tuple[SectionView, ...]:
    """Build the sections from the months of report to the months of build."""
    return (
        _months(inputs, charts),
        _ages(inputs),
        _model_years(inputs, charts),
        _cumulative(inputs, charts),
        _by_age(inputs, charts),
        _life(inputs, charts),
        _build_months(inputs, charts),
        _suppliers(inputs),
    )


def _months(inputs: ComponentInputs, charts: Charts) -> SectionView:
    frame = inputs.claims_by_month
    said = []
    if len(frame):
        recent, before = frame.tail(12), frame.iloc[-24:-12]
        said.append(
            f"The last {counted(len(recent), 'month', 'months')} brought "
            f"{claims_of(recent['claims'].sum())}"
            + (
                f", the twelve before them {formats.count(before['claims'].sum())}."
                if len(before) == 12
                else "."
            )
        )
    return SectionView(
        id="months",
        heading="Claims by month of report",
        basis=f"Claims of every class; {cut_off(inputs)}.",
        reading=("More claims need not mean worse units: the fleet grows and ages.",),
        figure=figure(
            charts,
            "claims-by-month",
            caption="Claims by month of report",
            findings=said,
        ),
        empty="No claim was reported up to the cut-off.",
    )


def _ages(inputs: ComponentInputs) -> SectionView:
    frame = inputs.rates
    return SectionView(
        id="rates",
        heading="Share of units failed",
        basis=(
            f"First failures inside the cover, all units in service; {cut_off(inputs)}."
        ),
        tables=(_rate_table(frame, "rates-table", "months in service", _age),)
        if len(frame)
        else (),
        empty=_NO_UNITS,
    )


def _age(row: Mapping[str, object]) -> str:
    return formats.decimal_text(float(str(row["at_months"])), 0)


def _rate_table(
    frame: pd.DataFrame, name: str, key: str, cell: object, what: str = ""
) -> TableView:
    """Print rates with their limits, one row each."""
    unit = formats.rate_unit(frame["rate"])
    at = formats.decimal_text(float(frame["at_months"].iloc[0]), 0)
    by = "months in service" if key == "months in service" else f"{key} at {at} months"
    rows = []
    for row in frame.to_dict("records"):
        head = cell(row) if callable(cell) else str(row[str(cell)])
        rows.append(
            (
                head,
                formats.count(row["units"]),
                formats.count(row["claims"]),
                formats.rate(row["rate"], unit),
                formats.interval(row["lower"], row["upper"], unit),
                formats.count(row["effective_n"]),
                "yes" if row["mature"] else "no",
            )
        )
    return TableView(
        name,
        f"Share of units with a first failure by {by}; {what}shares in {unit.name}",
        text_columns(key)
        + number_columns("units", "failed", "share", "interval", "effective n")
        + text_columns("mature"),
        tuple(rows),
    )


def _model_years(inputs: ComponentInputs, charts: Charts) -> SectionView:
    models = inputs.by_model
    named_models = models[models["model"].notna() & (models["model"] != "")]
    return SectionView(
        id="model-years",
        heading="By model year and by model",
        basis=(f"First failures inside the cover; {cut_off(inputs)}."),
        figure=figure(
            charts,
            "rate-by-model-year",
            caption="Share failed by model year",
        ),
        tables=(_rate_table(named_models, "models-table", "model", "model"),)
        if len(named_models)
        else (),
        empty=_NO_UNITS,
    )


def _cumulative(inputs: ComponentInputs, charts: Charts) -> SectionView:
    return SectionView(
        id="cumulative",
        heading="Share failed against months in service",
        basis=f"First failures inside the cover; {cut_off(inputs)}.",
        figure=figure(
            charts,
            "cumulative-share",
            caption="Share failed by months in service",
        ),
        empty="Too few units are old enough to draw a curve.",
    )


def _by_age(inputs: ComponentInputs, charts: Charts) -> SectionView:
    return SectionView(
        id="ages",
        heading="At which age it fails",
        basis=(
            "First failures inside the cover by month in service, per 1,000 units that "
            f"pass the month under observation; {cut_off(inputs)}."
        ),
        reading=tuple(_age_words(inputs)),
        figure=figure(
            charts,
            "failures-by-age",
            caption="First failures by month in service",
        ),
        empty="No first failure was counted up to the cut-off.",
    )


def _age_words(inputs: ComponentInputs) -> Iterator[str]:
    frame = inputs.ages
    if not len(frame) or not frame["failures"].any():
        return
    for first, last in ((1, 6), (7, 12), (13, 24)):
        rows = frame[(frame["month"] >= first) & (frame["month"] <= last)]
        if len(rows) == last - first + 1:
            rate = 1_000 * rows["failures"].sum() / rows["unit_months"].sum()
            yield (
                f"Months {first} to {last}: "
                f"{formats.count(rows['failures'].sum())} first failures, "
                f"{formats.ratio(rate)} a month per 1,000 units."
            )


def _life(inputs: ComponentInputs, charts: Charts) -> SectionView:
    frame = inputs.life
    fitted = len(frame) and pd.notna(frame["shape"].iloc[0])
    return SectionView(
        id="life",
        heading="Life",
        basis=(
            "Weibull distribution of the age at the first failure inside the cover, by "
            f"likelihood; {cut_off(inputs)}."
        ),
        lead=tuple(_life_words(inputs)) if fitted else (),
        figure=figure(
            charts,
            "probability-plot",
            caption="Share failed, as seen, by months in service",
        ),
        tables=(_life_table(frame),) if len(frame) else (),
        empty="No life can be fitted: too few failures, or no unit register.",
    )


def _life_words(inputs: ComponentInputs) -> Iterator[str]:
    row = inputs.life.iloc[0]
    pattern = str(row["pattern"] or "undecided")
    said = {
        "early-life": "the risk falls with age",
        "random": "the risk stays about the same at every age",
        "wear-out": "the risk grows with age",
    }.get(pattern, "the failures do not tell whether the risk falls or grows")
    yield (
        f"Pattern: {pattern}; {said} (shape "
        f"{times(row['shape'], row['shape_lower'], row['shape_upper'])}, "
        f"{formats.count(row['failures'])} failures)."
    )
    if pd.notna(row["fit_p_value"]) and row["fit_p_value"] < 0.05:
        yield (
            "The line does not fit what was seen (p "
            f"{formats.p_value(row['fit_p_value'])}): trust the dots, and look for "
            "several causes."
        )


def _life_table(frame: pd.DataFrame) -> TableView:
    row = frame.iloc[0]
    figures = (
        ("shape (β)", "shape", 2),
        ("scale (η), months", "scale_months", 0),
        ("B1 life, months", "b1_months", 1),
        ("B10 life, months", "b10_months", 1),
    )
    rows = []
    for title, key, decimals in figures:
        stem = key.removesuffix("_months")
        low, high = row[f"{stem}_lower"], row[f"{stem}_upper"]
        rows.append(
            (
                title,
                formats.decimal_text(row[key], decimals),
                formats.decimal_text(low, decimals, "lower"),
                formats.decimal_text(high, decimals, "upper"),
            )
        )
    rows.append(("failures", formats.count(row["failures"]), "", ""))
    rows.append(("units", formats.count(row["units"]), "", ""))
    rows.append(("pattern", str(row["pattern"]) or MISSING, "", ""))
    rows.append(("p-value of the fit", formats.p_value(row["fit_p_value"]), "", ""))
    note = f"; {row['note']}" if row["note"] else ""
    return TableView(
        "life-table",
        f"Weibull fit; a figure beyond 1.5 times the oldest age is not told{note}",
        text_columns("figure") + number_columns("value", "lower limit", "upper limit"),
        tuple(rows),
    )


def _build_months(inputs: ComponentInputs, charts: Charts) -> SectionView:
    frame = inputs.build_months
    lead = ""
    trusted = frame[frame["rate"].notna() & frame["mature"] & (frame["claims"] > 0)]
    if len(trusted):
        row = trusted.sort_values(
            ["lower", "build_month"], ascending=[False, True], kind="stable"
        ).iloc[0]
        unit = formats.rate_unit([row["rate"]])
        lead = (
            f"Highest lower limit: built in {month_of(row['build_month'])}, "
            f"{formats.rate(row['rate'], unit)}{unit.suffix} "
            f"({share_with_limits(row.to_dict(), unit)}; "
            f"{formats.count(row['claims'])} of {formats.count(row['units'])} units)."
        )
    return SectionView(
        id="build-months",
        heading="By month of build",
        basis=f"First failures inside the cover by month of build; {cut_off(inputs)}.",
        reading=(
            "Of many months one is always the highest: the windows below say which "
            "differ by more than chance.",
        ),
        figure=figure(
            charts,
            "rate-by-build-month",
            caption="Share failed by month of build",
            findings=[lead] if lead else [],
        ),
        empty="No build month has enough units of that age.",
    )


def _suppliers(inputs: ComponentInputs) -> SectionView:
    frame = inputs.by_supplier
    return SectionView(
        id="suppliers",
        heading="By supplier",
        basis=(
            "First failures inside the cover by whose part the unit carried first; "
            f"{cut_off(inputs)}."
        ),
        reading=(
            "claimlens compare --by component,supplier sets suppliers side by side at "
            "equal ages, with a test.",
        )
        if len(frame)
        else (),
        tables=(_rate_table(frame, "suppliers-table", "supplier", "supplier"),)
        if len(frame)
        else (),
        empty=inputs.no_suppliers or f"No supplier of the {named(inputs.component)}.",
    )
