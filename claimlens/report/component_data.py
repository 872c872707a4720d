"""The tables of a component's dossier as raw data, in the order of its page."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import pandas as pd

from claimlens.handover import Kind, ReportTables, Sheet
from claimlens.report.column_kinds import make_sheet
from claimlens.report.component import component_view
from claimlens.report.definitions import definitions
from claimlens.report_inputs.component import ComponentInputs

__all__ = ["component_tables"]

Bases = Mapping[str, str]

_NO_CLAIM = "No claim of the component was reported up to the cut-off."
_BANDS = ("lower80", "upper80", "lower95", "upper95")


def component_tables(inputs: ComponentInputs) -> ReportTables:
    """Return everything that the dossier tells, as tables.

    Parameters
    ----------
    inputs : ComponentInputs
        What the page is made from; every figure is passed on as it is. Units at
        risk are all there.

    Returns
    -------
    ReportTables
        Sheets, definitions and where they come from.
    """
    view = component_view(inputs, {})
    bases = {section.id: _plain(section.basis) for section in view.sections}
    meta = inputs.meta
    return ReportTables(
        report="component",
        title=_plain(view.title),
        about=(
            ("workspace", meta.workspace),
            ("component", inputs.component),
            ("who may read it", view.notice),
            *view.provenance,
            ("cover", meta.coverage),
            ("confidence of intervals", f"{100 * meta.confidence:g} %"),
            ("report currency", meta.report_currency or "each currency by itself"),
        ),
        sheets=tuple(_sheets(inputs, bases, _points(inputs))),
        definitions=definitions(meta),
    )


def _plain(text: str) -> str:
    """Return a text without the blanks that only keep words together."""
    return text.replace("\N{NO-BREAK SPACE}", " ")


def _points(inputs: ComponentInputs) -> pd.DataFrame:
    """Return what stands first as a table."""
    rows = [
        tuple(map(_plain, (point.what, point.sure, point.cost, point.act)))
        for point in component_view(inputs, {}).points
    ]
    return pd.DataFrame(rows, columns=["what", "how_sure", "cost_said", "to_do"])


def _sheets(
    inputs: ComponentInputs, bases: Bases, first: pd.DataFrame
) -> Iterator[Sheet]:
    note = "" if inputs.place.claims else _NO_CLAIM
    yield make_sheet(
        "first-screen",
        "What is wrong",
        first,
        basis="What the page says first, the gravest before the others.",
        note=note,
    )
    if not inputs.place.claims:
        return
    yield from _told(inputs, bases)
    yield from _rates(inputs, bases)
    yield from _production(inputs, bases)
    yield from _money(inputs, bases)


def _told(inputs: ComponentInputs, bases: Bases) -> Iterator[Sheet]:
    names = ["claim_no", "serial", "reported_on", "state", "failure_mode", "words_read"]
    dangers = pd.DataFrame(
        [
            (
                claim.claim_no,
                claim.serial or None,
                claim.reported_on,
                "open" if claim.why == "open" else "closed",
                claim.failure_mode,
                claim.words_read,
            )
            for claim in inputs.dangers
        ],
        columns=names,
    )
    yield make_sheet("dangers", "Dangers", dangers, basis=bases["dangers"])
    basis = bases["symptoms"]
    yield make_sheet("causes", "Causes", inputs.causes, basis=basis, limits="share")
    yield make_sheet(
        "symptoms", "Symptoms", inputs.symptoms, basis=basis, limits="share"
    )
    kept = ["claims", "claims_counted", "share"]
    modes = inputs.modes[["failure_mode", *kept]]
    yield make_sheet("failure-modes", "Failure modes", modes, basis=bases["modes"])
    classes = inputs.classes[["claim_class", "claims"]]
    yield make_sheet("classes", "Classes", classes, basis=bases["modes"])


def _rates(inputs: ComponentInputs, bases: Bases) -> Iterator[Sheet]:
    yield make_sheet(
        "claims-by-month",
        "Claims by month of report",
        inputs.claims_by_month,
        basis=bases["months"],
    )
    named = (
        ("rates-by-age", "Rates by age", inputs.rates, "rates"),
        ("rates-by-model-year", "Rates by model year", inputs.by_year, "model-years"),
        ("rates-by-model", "Rates by model", inputs.by_model, "model-years"),
        ("rates-by-supplier", "Rates by supplier", inputs.by_supplier, "suppliers"),
        (
            "rates-by-build-month",
            "Rates by build month",
            inputs.build_months,
            "build-months",
        ),
        ("share-failed", "Share failed by age", inputs.curves, "cumulative"),
        ("lives", "Life: Weibull fit", inputs.life, "life"),
        ("life-points", "Life, points", inputs.life_points, "life"),
        ("life-lines", "Life, fitted line", inputs.life_line, "life"),
    )
    for id_, title, frame, section in named:
        note = inputs.no_suppliers if section == "suppliers" else ""
        yield make_sheet(
            id_, title, frame, basis=bases[section], note=note, limits="share"
        )
    ages = inputs.ages.rename(
        columns={"month": "month_in_service", "rate": "rate_per_thousand"}
    )
    yield make_sheet(
        "failures-by-age",
        "Failures by month in service",
        ages,
        basis=bases["ages"],
        limits="number",
        failures="number",
        unit_months="number",
        month_in_service="count",
    )


def _production(inputs: ComponentInputs, bases: Bases) -> Iterator[Sheet]:
    rising = inputs.rising
    named = (
        ("signals", "Signals", rising.signals, "rising"),
        ("signal-months", "Signals by month-end", rising.signal_months, "rising"),
        ("windows", "Production windows", rising.windows, "windows"),
        ("window-months", "Windows by build month", rising.window_months, "windows"),
    )
    for id_, title, frame, section in named:
        yield make_sheet(
            id_,
            title,
            frame,
            basis=bases[section],
            note=rising.not_judged,
            limits="ratio",
        )
    yield make_sheet(
        "units-at-risk",
        "Units at risk",
        inputs.at_risk,
        basis=bases["units-at-risk"],
        build_lot="key",
        window="count",
        cover_days_left="count",
    )
    changed = (
        ("engineering-changes", "Engineering changes", rising.design_changes),
        ("engineering-change-curves", "Changes, share failed", rising.change_curves),
    )
    for id_, title, frame in changed:
        basis = bases["engineering-changes"]
        yield make_sheet(id_, title, frame, basis=basis, limits="ratio")
    yield make_sheet(
        "repeats",
        "Repeat repairs",
        inputs.repeats,
        basis=bases["repeats"],
        limits="number",
        mean_cost="money",
        mean_cost_lower="money",
        mean_cost_upper="money",
    )
    yield make_sheet(
        "repeat-units",
        "Units that came back",
        inputs.repeat_units,
        basis=bases["repeats"],
        events="count",
    )


def _money(inputs: ComponentInputs, bases: Bases) -> Iterator[Sheet]:
    costs = dict.fromkeys(("cost_parts", "cost_labour", "cost_freight"), "money")
    yield make_sheet(
        "cost-by-month", "Cost by month", inputs.costs, basis=bases["cost"]
    )
    yield make_sheet(
        "cost-by-kind",
        "Cost by kind",
        inputs.cost_parts,
        basis=bases["cost"],
        **_kinds(costs),
    )
    means = ("total", "mean", "lower", "upper", "leaning_mean", "largest")
    yield make_sheet(
        "cost-of-a-claim",
        "Cost of a claim",
        inputs.severity,
        basis=bases["cost"],
        note=inputs.no_cost,
        **_kinds(dict.fromkeys(means, "money")),
    )
    yield make_sheet(
        "claims-to-come",
        "Claims to come by month",
        inputs.to_come.months_to_come,
        basis=bases["to-come"],
        note=inputs.to_come.not_told,
    )
    yield make_sheet(
        "cost-to-come",
        "Claims and cost to come",
        inputs.to_come.components_to_come,
        basis=bases["to-come"],
        note=inputs.to_come.not_told,
    )
    yield make_sheet(
        "reserve",
        "Reserve",
        inputs.reserve,
        basis=bases["reserve"],
        note=inputs.no_reserve,
        claims="number",
        **_kinds(dict.fromkeys(_BANDS, "money")),
    )


def _kinds(named: Mapping[str, str]) -> dict[str, Kind]:
    return dict(named)  # type: ignore[arg-type]  # words of Kind
