"""The tables of the monthly report as raw data, in the order of its page."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pandas as pd

from claimlens.handover import Kind, ReportTables, Sheet
from claimlens.monthly_inputs import MonthlyInputs
from claimlens.report import formats
from claimlens.report.column_kinds import make_sheet
from claimlens.report.definitions import definitions
from claimlens.report.monthly_data_own import (
    Bases,
    cut_off,
    data_sheets,
    first_screen,
    plain,
)
from claimlens.report.monthly_sections import sections

__all__ = ["about", "monthly_sheets", "monthly_tables"]


def monthly_tables(inputs: MonthlyInputs) -> ReportTables:
    """Return everything that the monthly report tells, as tables.

    Parameters
    ----------
    inputs : MonthlyInputs
        What the page is made from; every figure is passed on as it is.

    Returns
    -------
    ReportTables
        Sheets, definitions and where they come from.
    """
    month = formats.month_name(inputs.changes.this_month.month)
    return ReportTables(
        report="monthly",
        title=plain(f"Warranty claims, {month}: {inputs.meta.workspace}"),
        about=about(inputs),
        sheets=monthly_sheets(inputs),
        definitions=definitions(inputs.meta),
    )


def about(inputs: MonthlyInputs) -> tuple[tuple[str, str], ...]:
    """Say what made the tables, so that they can be made again.

    Parameters
    ----------
    inputs : MonthlyInputs
        What the page is made from.

    Returns
    -------
    tuple of (str, str)
        Labels and values.
    """
    meta = inputs.meta
    return (
        ("workspace", meta.workspace),
        ("cut-off", meta.as_of.isoformat()),
        ("facts known by", meta.as_known.isoformat() if meta.as_known else "any date"),
        ("claimlens", meta.version),
        ("settings", meta.settings_digest),
        ("terms", meta.terms_digest),
        ("learned model", meta.model_digest or "none"),
        ("digest of all files", meta.loaded.digest),
        ("cover", meta.coverage),
        ("confidence of intervals", f"{100 * meta.confidence:g} %"),
        ("report currency", meta.report_currency or "each currency by itself"),
        ("files read", f"{len(meta.inputs):,}, listed in the table of files"),
        ("rows read", f"{sum(item.rows_read for item in meta.inputs):,}"),
        ("rows rejected", f"{sum(item.rejected for item in meta.inputs):,}"),
    )


def monthly_sheets(inputs: MonthlyInputs) -> tuple[Sheet, ...]:
    """Return the tables of the monthly report in the order of its page.

    Parameters
    ----------
    inputs : MonthlyInputs
        What the page is made from.

    Returns
    -------
    tuple of Sheet
        With ids that stay the same from release to release.
    """
    # the words of the page: each table rests on what its section rests on
    bases = {s.id: plain(s.basis) for s in sections(inputs, {})}
    parts: tuple[Callable[[MonthlyInputs, Bases], Iterator[Sheet]], ...] = (
        first_screen,
        _arrivals,
        _rising,
        _production,
        _months,
        _to_come,
        _money_and_parts,
        _counts_and_rates,
        _lives,
        _answers,
        data_sheets,
    )
    return tuple(sheet for part in parts for sheet in part(inputs, bases))


def _answers(inputs: MonthlyInputs, bases: Bases) -> Iterator[Sheet]:
    told = inputs.answers
    basis = bases.get(
        "supplier-answers", f"No list of responses is loaded; {cut_off(inputs)}."
    )
    asked = ("supplier", "asked", "answered", "answered_late", "overdue", "oldest_due")
    yield make_sheet(
        "supplier-answers",
        "Suppliers' answers",
        pd.DataFrame(
            [[getattr(each, name) for name in asked] for each in told.questions],
            columns=list(asked),
        ),
        basis=basis,
        asked="count",
        answered="count",
        answered_late="count",
        overdue="count",
        oldest_due="date",
    )
    paid = ("supplier", "currency", "charged", "accepted", "received")
    yield make_sheet(
        "supplier-money",
        "Suppliers' money",
        pd.DataFrame(
            [[getattr(each, name) for name in paid] for each in told.money],
            columns=list(paid),
        ),
        basis=basis,
        charged="money",
        accepted="money",
        received="money",
    )


def _arrivals(inputs: MonthlyInputs, bases: Bases) -> Iterator[Sheet]:
    told = inputs.arrivals
    yield make_sheet("sources", "What arrived", told.sources, basis=bases["arrivals"])
    yield make_sheet(
        "arrivals-amiss",
        "Amiss with what arrived",
        pd.DataFrame(
            [(f.amiss, f.source, f.file, f.is_grave, f.text) for f in told.findings],
            columns=["amiss", "source", "file", "is_grave", "text"],
        ),
        basis=bases["arrivals"],
        is_grave="flag",
    )


def _rising(inputs: MonthlyInputs, bases: Bases) -> Iterator[Sheet]:
    rising = inputs.rising
    basis, note = bases["rising"], rising.not_judged
    named = (
        ("signals", "Signals", rising.signals),
        ("signal-months", "Signals by month-end", rising.signal_months),
        ("blind-spots", "Too small to see", rising.blind_spots),
    )
    for id_, title, frame in named:
        yield make_sheet(id_, title, frame, basis=basis, note=note, limits="ratio")


def _production(inputs: MonthlyInputs, bases: Bases) -> Iterator[Sheet]:
    rising = inputs.rising
    yield make_sheet(
        "windows",
        "Production windows",
        rising.windows,
        basis=bases["windows"],
        note=rising.not_judged,
        limits="ratio",
    )
    yield make_sheet(
        "window-months",
        "Windows by build month",
        rising.window_months,
        basis=bases["windows"],
        note=rising.not_judged,
    )
    yield make_sheet(
        "engineering-changes",
        "Engineering changes",
        rising.design_changes,
        basis=bases["engineering-changes"],
        note=rising.no_changes,
        limits="ratio",
    )
    yield make_sheet(
        "engineering-change-curves",
        "Changes, share failed by age",
        rising.change_curves,
        basis=bases["engineering-changes"],
        note=rising.no_changes,
    )
    yield make_sheet(
        "rising-words", "Words that rise", rising.rising_words, basis=bases["words"]
    )


def _months(inputs: MonthlyInputs, bases: Bases) -> Iterator[Sheet]:
    yield make_sheet(
        "claims-by-month",
        "Claims by month of report",
        inputs.claims_by_month,
        basis=bases["months"],
    )
    yield make_sheet(
        "failures-by-month",
        "Claims by month of failure",
        inputs.late_months,
        basis=bases["late"],
        limits="number",
    )
    yield make_sheet(
        "reporting-delays",
        "How late reports come",
        inputs.delays,
        basis=bases["late"],
        limits="share",
    )


def _to_come(inputs: MonthlyInputs, bases: Bases) -> Iterator[Sheet]:
    to_come = inputs.to_come
    basis, note = bases["to-come"], to_come.not_told
    yield make_sheet(
        "claims-so-far",
        "Claims so far",
        to_come.claims_so_far,
        basis=(
            "Claims inside the cover by whole month of report, counted as those to "
            f"come are; {cut_off(inputs)}."
        ),
        note=note,
    )
    named = (
        ("claims-to-come", "Claims to come by month", to_come.months_to_come),
        (
            "claims-to-come-by-component",
            "Claims to come by component",
            to_come.components_to_come,
        ),
    )
    for id_, title, frame in named:
        yield make_sheet(id_, title, frame, basis=basis, note=note)
    basis = bases.get("forecast-tested", basis)
    note = to_come.not_told or to_come.not_tested
    yield make_sheet(
        "forecasts-tested",
        "Earlier forecasts",
        to_come.backtests,
        basis=basis,
        note=note,
    )
    yield make_sheet(
        "forecasts-tested-by-month",
        "Earlier forecasts by month",
        to_come.backtest_months,
        basis=basis,
        note=note,
    )


def _money_and_parts(inputs: MonthlyInputs, bases: Bases) -> Iterator[Sheet]:
    reserve, limits = inputs.reserve, ("lower80", "upper80", "lower95", "upper95")
    kinds: dict[str, Kind] = {"claims": "number", **dict.fromkeys(limits, "money")}
    named = (
        ("reserve", "Reserve", reserve.reserve_all),
        ("reserve-by-model-year", "Reserve by model year", reserve.reserve_years),
    )
    for id_, title, frame in named:
        basis = bases["reserve"]
        yield make_sheet(id_, title, frame, basis=basis, note=reserve.not_told, **kinds)
    yield make_sheet(
        "spare-parts",
        "Spare parts",
        inputs.spares.spare_parts,
        basis=bases["spares"],
        note=inputs.spares.not_told,
    )


def _counts_and_rates(inputs: MonthlyInputs, bases: Bases) -> Iterator[Sheet]:
    yield make_sheet("components", "Components", inputs.ranking, basis=bases["ranking"])
    named = (
        (
            "rates-by-model-year",
            "Rates by model year",
            inputs.rates_by_model_year,
            "model-years",
        ),
        ("rates-by-age", "Rates by age", inputs.rates_by_component, "ages"),
        (
            "rates-by-build-month",
            "Rates by build month",
            inputs.build_months,
            "build-months",
        ),
        ("share-failed", "Share failed by age", inputs.curves, "curves"),
    )
    for id_, title, frame, section in named:
        yield make_sheet(id_, title, frame, basis=bases[section], limits="share")


def _lives(inputs: MonthlyInputs, bases: Bases) -> Iterator[Sheet]:
    basis = bases["life"]
    named = (
        ("lives", "Lives: Weibull fit", inputs.life),
        ("life-points", "Lives, points", inputs.life_points),
        ("life-lines", "Lives, fitted lines", inputs.life_line),
    )
    for id_, title, frame in named:
        yield make_sheet(id_, title, frame, basis=basis, limits="share")
    yield make_sheet(
        "before-delivery",
        "Before or at delivery",
        inputs.predelivery,
        basis=bases["before-delivery"],
        limits="number",
    )
