"""Numbers to sentences: what changed, and what asks for a decision.

Each rule is one function from the inputs to sentences. A sentence states a
figure with its interval and its denominator; comparisons are made between
mature figures only, and nothing is said of chance alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import pandas as pd

from claimlens.monthly_inputs import Money, MonthlyInputs
from claimlens.report import formats

__all__ = [
    "changes",
    "decisions",
    "high_build_runs",
    "high_model_years",
    "join_words",
    "money_text",
]

# a run this long of months above all units is no play of chance: at 2.5 % a
# month three in a row come up once in 64,000 months
_RUN = 3
# more sentences of one kind than this are a table, and stand in one below
_MOST = 5


def join_words(words: list[str]) -> str:
    """Join words as in ``a, b and c``."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


def _number(value: float, one: str, many: str) -> str:
    """Write a count with its noun."""
    return f"{formats.count(value)} {one if value == 1 else many}"


def money_text(sums: tuple[Money, ...]) -> str:
    """Write sums of money, one a currency; a word where there is none."""
    return join_words(
        [formats.amount(money.amount, money.currency) for money in sums]
    ) or ("no cost recorded")


def _against(now: int, before: int, month: str) -> str:
    """Compare two counts in words."""
    if now == before:
        return f"as many as in {month}"
    word = "more" if now > before else "fewer"
    return f"{formats.count(abs(now - before))} {word} than in {month}"


def changes(inputs: MonthlyInputs) -> tuple[str, ...]:
    """Write what changed since the month before.

    Parameters
    ----------
    inputs : MonthlyInputs
        The counts of both months are in ``changes``.

    Returns
    -------
    tuple of str
        First failures are not compared: reports of the last months are
        still arriving, and a smaller count would look like a better month.
    """
    now, before = inputs.changes.this_month, inputs.changes.last_month
    month = formats.month_name(now.month)
    reported = _number(now.claims_reported, "claim was", "claims were")
    sentences = []
    if before is None:
        sentences.append(
            f"{reported} reported in {month}. There is no month before to compare."
        )
        sentences.append(
            f"{_number(now.open_claims, 'claim is', 'claims are')} open, and "
            f"{_number(now.units_in_service, 'unit is', 'units are')} in service."
        )
    else:
        last = formats.month_name(before.month)
        sentences.append(
            f"{reported} reported in {month}, "
            f"{_against(now.claims_reported, before.claims_reported, last)} "
            f"({formats.count(before.claims_reported)})."
        )
        sentences.append(
            f"{_number(now.open_claims, 'claim is', 'claims are')} open, "
            f"{_against(now.open_claims, before.open_claims, f'at the end of {last}')}."
        )
        sentences.append(
            f"{_number(now.units_in_service, 'unit is', 'units are')} in service, "
            f"{_against(now.units_in_service, before.units_in_service, 'a month ago')}"
            f"."
        )
    sentences.append(
        f"{_number(now.first_failures, 'first failure', 'first failures')} of {month} "
        f"{'is' if now.first_failures == 1 else 'are'} known so far (provisional: "
        "reports for the last three months are still arriving)."
    )
    sentences.append(
        f"The claims reported in {month} cost {money_text(now.cost)}"
        + (f"; the month before {money_text(before.cost)}." if before else ".")
    )
    return tuple(sentences)


def decisions(inputs: MonthlyInputs) -> tuple[str, ...]:
    """Write what needs a decision, gravest first; empty where nothing does."""
    return tuple(
        sentence
        for rule in (
            _safety,
            _model_years,
            _build_runs,
            _open_too_long,
            _new_in_top_five,
            _unclassified,
            _unknown_serials,
            _rejected,
        )
        for sentence in rule(inputs)
    )


def _safety(inputs: MonthlyInputs) -> Iterator[str]:
    claims = inputs.changes.safety_claims
    if claims:
        components = sorted({claim.component for claim in claims})
        yield (
            f"{_number(len(claims), 'claim tells', 'claims tell')} of a danger "
            f"({join_words(components)}): read "
            f"{'it' if len(claims) == 1 else 'them'} first, and decide whether "
            "owners must be warned and whether local law asks for a report to an "
            "authority."
        )


def high_model_years(rates: pd.DataFrame) -> list[tuple[str, list[int], pd.DataFrame]]:
    """Find components of which some model years fail more than all the others.

    Parameters
    ----------
    rates : DataFrame
        Columns of ``rates`` by component and model year, at one age.

    Returns
    -------
    list of (component, high years, that component's mature rows)
        The smallest group of years, at most half of them, whose every lower
        limit lies above every upper limit of the others; widest gap first.
    """
    found = []
    mature = rates[rates["mature"].astype(bool) & rates["rate"].notna()]
    mature = mature.dropna(subset=["model_year"])
    for component, rows in mature.groupby("component", sort=True):
        ordered = rows.sort_values(["rate", "model_year"], ascending=[False, True])
        for size in range(1, len(ordered) // 2 + 1):
            floor = float(ordered["lower"].iloc[:size].min())
            ceiling = float(ordered["upper"].iloc[size:].max())
            if floor > ceiling:
                years = sorted(int(year) for year in ordered["model_year"][:size])
                found.append((floor - ceiling, str(component), years, ordered))
                break
    found.sort(key=lambda item: (-item[0], item[1]))
    return [(component, years, rows) for _, component, years, rows in found]


def _model_years(inputs: MonthlyInputs) -> Iterator[str]:
    found = high_model_years(inputs.rates_by_model_year)
    for component, years, rows in found[:_MOST]:
        unit = formats.rate_unit(rows["rate"])
        high = rows[rows["model_year"].isin(years)].sort_values("model_year")
        rest = rows[~rows["model_year"].isin(years)]
        parts = [
            f"{formats.rate(row.rate, unit)}{unit.suffix} "
            f"({formats.interval(row.lower, row.upper, unit)}; "
            f"{_number(row.claims, 'unit', 'units')} of {formats.count(row.units)})"
            for row in high.itertuples(index=False)
        ]
        months = formats.decimal_text(float(rows["at_months"].iloc[0]), 0)
        top = formats.rate(float(rest["upper"].max()), unit, "upper")
        yield (
            f"{component}, model year {join_words([str(year) for year in years])}: "
            f"{join_words(parts)} failed by {months} months in service, while no "
            f"other mature model year's interval reaches above {top}{unit.suffix}."
        )
    if len(found) > _MOST:
        yield (
            f"{_number(len(found) - _MOST, 'more component has', 'more components have')}"
            " a model year that stands apart; the table by model year has them."
        )


def high_build_runs(
    inputs: MonthlyInputs,
) -> list[tuple[str, date, date, int, float, float]]:
    """Find runs of build months that lie above all units of the component.

    Parameters
    ----------
    inputs : MonthlyInputs
        ``build_months`` and, at the same age, ``rates_by_component``.

    Returns
    -------
    list of (component, first month, last month, months, lowest rate, pooled rate)
        Three or more mature months, one after the other, whose lower limits
        lie above the upper limit of all units; longest first.
    """
    found = []
    pooled = inputs.rates_by_component
    for component, rows in inputs.build_months.groupby("component", sort=True):
        same = pooled[
            (pooled["component"] == component)
            & (pooled["at_months"] == rows["at_months"].iloc[0])
        ].dropna(subset=["upper"])
        if same.empty:
            continue
        ceiling = float(same["upper"].iloc[0])
        rows = rows.assign(month=pd.to_datetime(rows["build_month"])).sort_values(
            "month"
        )
        high = rows["mature"].astype(bool) & (rows["lower"].astype(float) > ceiling)
        picked = rows[high]
        place = picked["month"].dt.year * 12 + picked["month"].dt.month
        # months in a row share the difference between place and rank
        runs = (place - pd.Series(range(len(picked)), index=picked.index)).to_numpy()
        for _, run in picked.groupby(runs, sort=True):
            if len(run) >= _RUN:
                first, last = run["month"].iloc[0], run["month"].iloc[-1]
                found.append(
                    (
                        str(component),
                        first.date(),
                        last.date(),
                        len(run),
                        float(run["rate"].min()),
                        float(same["rate"].iloc[0]),
                    )
                )
    return sorted(found, key=lambda item: (-item[3], item[0], item[1]))


def _build_runs(inputs: MonthlyInputs) -> Iterator[str]:
    found = high_build_runs(inputs)
    for component, first, last, months, lowest, pooled in found[:_MOST]:
        unit = formats.rate_unit([lowest, pooled])
        yield (
            f"{component}: units built from {formats.month_name(first)} to "
            f"{formats.month_name(last)} ({months} months in a row) fail more than all "
            f"units together: {formats.rate(lowest, unit)}{unit.suffix} or more "
            f"against {formats.rate(pooled, unit)}{unit.suffix}."
        )
    if len(found) > _MOST:
        yield (
            f"{_number(len(found) - _MOST, 'more run', 'more runs')} of build months "
            "lie above all units; the table by build month has them."
        )


def _open_too_long(inputs: MonthlyInputs) -> Iterator[str]:
    late = inputs.changes.open_too_long
    if late:
        yield (
            f"{_number(late, 'claim has', 'claims have')} been open for more than "
            f"{inputs.thresholds.open_days} days: close, refuse or ask for what is "
            "missing."
        )


def _new_in_top_five(inputs: MonthlyInputs) -> Iterator[str]:
    new = list(inputs.changes.new_in_top_five)
    if new:
        yield (
            f"{join_words(new)} {'is' if len(new) == 1 else 'are'} new among the five "
            "components with most claims this month: read some of these claims before "
            "drawing a conclusion, one month is a short time."
        )


def _unclassified(inputs: MonthlyInputs) -> Iterator[str]:
    share = inputs.quality.unclassified_share
    limit = inputs.thresholds.unclassified_share
    if share is not None and share > limit:
        claims = inputs.quality.unclassified_claims
        yield (
            f"{_number(claims, 'claim', 'claims')} of "
            f"{formats.count(inputs.claims_read)} "
            f"({_share(claims, share, inputs.claims_read)}) "
            f"{'has' if claims == 1 else 'have'} no component, more than the "
            f"{formats.rate(limit, formats.PER_CENT)}"
            f"{formats.PER_CENT.suffix} set as a limit: review them, every rate on "
            "this page may be too low."
        )


def _share(part: int, share: float, total: int) -> str:
    """Print a share; below ten cases a percentage would feign precision."""
    if total < 10:
        return f"{part} of {total}"
    return f"{formats.rate(share, formats.PER_CENT)}{formats.PER_CENT.suffix}"


def _unknown_serials(inputs: MonthlyInputs) -> Iterator[str]:
    quality = inputs.quality
    bound = quality.unknown_serial_bound
    if quality.unknown_serial_claims and bound is not None:
        unit = formats.rate_unit([bound])
        yield (
            f"{_number(quality.unknown_serial_claims, 'claim has', 'claims have')} a "
            "serial that no register knows: the rates may be up to "
            f"{formats.rate(bound, unit, 'upper')}{unit.suffix} of their value higher. "
            "Correct the serials or load the missing units."
        )


def _rejected(inputs: MonthlyInputs) -> Iterator[str]:
    rows = sum(number for _, number in inputs.quality.rejects)
    if rows:
        yield (
            f"{_number(rows, 'row was', 'rows were')} rejected and "
            f"{'is' if rows == 1 else 'are'} in no figure: correct the export and load "
            "it again."
        )
