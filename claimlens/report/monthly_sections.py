"""The sections of the monthly report, each with its basis and its findings."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from claimlens.analysis import comparisons
from claimlens.monthly_inputs import UNCLASSIFIED, MonthlyInputs
from claimlens.report import findings, formats, monthly_tables
from claimlens.report.arrivals_section import arrivals_section
from claimlens.report.late_section import late_section
from claimlens.report.open_section import open_section
from claimlens.report.outstanding_section import reserve_section, spares_section
from claimlens.report.production_section import (
    change_section,
    window_section,
    word_section,
)
from claimlens.report.quality_section import quality_section
from claimlens.report.rising_section import rising_section
from claimlens.report.supplier_answers_section import answers_section
from claimlens.report.to_come_section import to_come_sections
from claimlens.report.view import SectionView, figure
from claimlens.results import ChartHtml

__all__ = ["sections"]

Charts = Mapping[str, ChartHtml]


def sections(inputs: MonthlyInputs, charts: Charts) -> tuple[SectionView, ...]:
    """Build every section below the first screen, in the order of the page."""
    return (
        arrivals_section(inputs),
        rising_section(inputs, charts),
        window_section(inputs, charts),
        change_section(inputs, charts),
        word_section(inputs),
        _by_month(inputs, charts),
        late_section(inputs, charts),
        open_section(inputs),
        *((answers_section(inputs),) if inputs.answers.questions else ()),
        *to_come_sections(inputs, charts),
        reserve_section(inputs, charts),
        spares_section(inputs),
        _ranking(inputs, charts),
        _by_model_year(inputs, charts),
        _by_age(inputs),
        _by_build_month(inputs, charts),
        _cumulative(inputs, charts),
        _life(inputs, charts),
        _predelivery(inputs),
        quality_section(inputs),
        _account(inputs),
    )


def _cut_off(inputs: MonthlyInputs) -> str:
    return f"cut-off {formats.day(inputs.meta.as_of)}"


def _by_month(inputs: MonthlyInputs, charts: Charts) -> SectionView:
    frame = inputs.claims_by_month
    basis, said = f"Claims of every class; {_cut_off(inputs)}.", []
    if len(frame):
        first = formats.month_name(pd.Timestamp(frame["month"].min()).date())
        last = formats.month_name(pd.Timestamp(frame["month"].max()).date())
        basis = (
            f"Claims of every class by month of report, {first} to {last}; "
            f"{_cut_off(inputs)}."
        )
        recent = frame.tail(12)
        said.append(
            f"The last {len(recent)} months brought "
            f"{formats.count(int(recent['claims'].min()))} to "
            f"{formats.count(int(recent['claims'].max()))} claims each, "
            f"{formats.count(int(recent['claims'].sum()))} in all, of which "
            f"{formats.count(int(recent['counted'].sum()))} count in the rates."
            if len(recent) > 1
            else f"One month brought {formats.count(int(recent['claims'].sum()))} "
            "claims."
        )
    return SectionView(
        id="months",
        heading="Claims by month of report",
        basis=basis,
        reading=(
            "More claims need not mean worse units: the fleet grows and ages. Compare "
            "rates at the same age further down.",
        ),
        figure=figure(
            charts,
            "claims-by-month",
            caption="Claims by month of report",
            findings=said,
        ),
        empty="No claim was reported up to the cut-off.",
    )


def _ranking(inputs: MonthlyInputs, charts: Charts) -> SectionView:
    frame = inputs.ranking.sort_values(
        ["claims", "component"], ascending=[False, True], kind="stable"
    )
    said = []
    named_only = frame[frame["component"] != UNCLASSIFIED]
    top = named_only.drop_duplicates("component").head(3)
    if len(top):
        named = [
            f"{row['component']} ({formats.count(row['claims'])})"
            for row in top.to_dict("records")
        ]
        said.append(f"Most claims: {findings.join_words(named)}.")
    for currency, rows in named_only.dropna(subset=["currency", "cost"]).groupby(
        "currency", sort=True
    ):
        dearest = rows.assign(cost=rows["cost"].astype(float)).nlargest(3, "cost")
        named = [
            f"{row['component']} ({formats.amount(row['cost'], str(currency))})"
            for row in dearest.to_dict("records")
        ]
        said.append(f"Highest cost in {currency}: {findings.join_words(named)}.")
    return SectionView(
        id="ranking",
        heading="Components by claims and by cost",
        basis=(
            f"All {formats.count(inputs.claims_read)} claims read, of every class; "
            f"{_cut_off(inputs)}."
        ),
        reading=(
            "Counts say where the work and the money go. They say nothing of how often "
            "a unit fails, because they depend on how many units there are.",
        ),
        figure=figure(
            charts,
            "ranking",
            caption="Components by claims and cost",
            findings=said,
        ),
        empty="No claim has a component yet: run the classification first.",
    )


def _by_model_year(inputs: MonthlyInputs, charts: Charts) -> SectionView:
    high = comparisons.high_model_years(inputs.rates_by_model_year)
    if high:
        named = [
            f"{item.component} ({findings.join_words([str(y) for y in item.years])})"
            for item in high
        ]
        said = (
            f"Higher than every other mature model year: {findings.join_words(named)}."
        )
    else:
        said = "No mature model year is shown to be higher than all the others."
    young = inputs.rates_by_model_year
    hidden = int((~young["mature"].astype(bool)).sum())
    return SectionView(
        id="model-years",
        heading="Rate by component and model year",
        basis=(
            "Units in service by the cut-off, first counted failure of each component; "
            f"{_cut_off(inputs)}."
        ),
        reading=(
            "Where two intervals do not overlap, a difference is shown; where they do, "
            "it is not shown, which does not mean that there is none.",
            f"{formats.count(hidden)} of {formats.count(len(young))} figures are too "
            "young to trust or can't be estimated yet."
            if hidden
            else f"All {formats.count(len(young))} figures are mature.",
        ),
        figure=figure(
            charts,
            "rate-by-model-year",
            caption="Share of units with a failure, the components drawn",
            findings=(said,),
        ),
        empty="No model year has reached the age at which rates are compared.",
    )


def _by_age(inputs: MonthlyInputs) -> SectionView:
    frame = inputs.rates_by_component
    return SectionView(
        id="ages",
        heading="Rate by component and age",
        basis=(
            "All units in service by the cut-off, first counted failure of each "
            f"component; {_cut_off(inputs)}."
        ),
        reading=(
            "Read along a row: of all units, this share had failed by that age. Rows "
            "are in the order of the lower limit at the highest age.",
        ),
        tables=(monthly_tables.rates_by_age(inputs),) if len(frame) else (),
        empty="No rate can be estimated yet.",
    )


def _by_build_month(inputs: MonthlyInputs, charts: Charts) -> SectionView:
    runs = comparisons.high_build_runs(inputs)
    said = [
        f"{findings.opened(run.component)}: {formats.month_name(run.first)} to "
        f"{formats.month_name(run.last)} ({run.months} months in a row) lies above all "
        "units."
        for run in runs
    ] or ["No run of three or more mature build months lies above all units."]
    return SectionView(
        id="build-months",
        heading="Rate against month of build",
        basis=(
            "Units in service by the cut-off by their month of build, first counted "
            f"failure of each component; {_cut_off(inputs)}."
        ),
        reading=(
            "A single month above the line can be chance; several in a row point to "
            "parts or work of that time.",
        ),
        figure=figure(
            charts,
            "rate-by-build-month",
            caption="Share of units with a failure by month of build",
            findings=said,
        ),
        empty="No build month has reached the age at which rates are compared.",
    )


def _cumulative(inputs: MonthlyInputs, charts: Charts) -> SectionView:
    said = []
    mature = inputs.curves[inputs.curves["mature"].astype(bool)]
    mature = mature.dropna(subset=["share"])
    ranked = inputs.ranking[inputs.ranking["component"] != UNCLASSIFIED]
    shown = ranked.drop_duplicates("component").nlargest(3, "claims")
    for component in shown["component"]:
        own = mature[mature["component"] == component].sort_values("months")
        if len(own):
            row = own.iloc[-1]
            said.append(
                f"{findings.opened(str(component))}: of 1,000 units, "
                f"{formats.count(1000 * row['share'])} ("
                f"{formats.decimal_text(1000 * row['lower'], 0, 'lower')}–"
                f"{formats.decimal_text(1000 * row['upper'], 0, 'upper')}) had a "
                f"failure by {formats.count(row['months'])} months in service."
            )
    return SectionView(
        id="curves",
        heading="Share failed against months in service",
        basis=(
            "All units in service by the cut-off, first counted failure of each "
            f"component; {_cut_off(inputs)}."
        ),
        figure=figure(
            charts,
            "cumulative-share",
            caption="Share of units failed, at each third month",
            findings=said,
        ),
        empty="No failure has been counted yet.",
    )


def _life(inputs: MonthlyInputs, charts: Charts) -> SectionView:
    frame = inputs.life[inputs.life["component"] != UNCLASSIFIED]
    said = []
    for pattern in ("wear-out", "early-life", "random"):
        names = sorted(str(n) for n in frame[frame["pattern"] == pattern]["component"])
        if names:
            said.append(f"Pattern {pattern}: {findings.join_words(names)}.")
    unclear = int((~frame["pattern"].isin(["wear-out", "early-life", "random"])).sum())
    if unclear:
        said.append(
            f"For {formats.count(unclear)} of {formats.count(len(frame))} components "
            "the pattern is not clear yet or the data are too few."
        )
    return SectionView(
        id="life",
        heading="Life: Weibull fit",
        basis=(
            "All units in service by the cut-off; inspected parts with no fault found "
            f"are left out, their units stay under observation; {_cut_off(inputs)}."
        ),
        reading=(
            "Early-life points to building or packing, random to outside events, "
            "wear-out to age and use. A small fit p says that the line does not "
            "follow the points: trust the points.",
        ),
        figure=figure(
            charts,
            "probability-plot",
            caption="Points of the probability plot",
            findings=said,
        ),
        tables=(monthly_tables.life(inputs),) if len(frame) else (),
        empty="No component has enough failures for a fit.",
    )


def _predelivery(inputs: MonthlyInputs) -> SectionView:
    return SectionView(
        id="before-delivery",
        heading="Found before or at delivery",
        basis=(
            "Claims whose failure date lies before the in-service date, and all units "
            f"shipped by the cut-off; {_cut_off(inputs)}."
        ),
        reading=("These claims have an age of no meaning and are in no rate above.",),
        tables=(
            (monthly_tables.predelivery(inputs),) if len(inputs.predelivery) else ()
        ),
        empty="No unit has been shipped up to the cut-off.",
    )


def _account(inputs: MonthlyInputs) -> SectionView:
    return SectionView(
        id="account",
        heading="Row account",
        basis="Every row of every file loaded, each in exactly one column.",
        reading=(
            "Flagged rows are among those accepted. Skipped lines (titles, blank "
            "lines, repeated headers, totals) are not rows.",
        ),
        tables=(monthly_tables.account(inputs),) if len(inputs.account) else (),
        empty="No file has been loaded.",
    )
