"""Numbers to sentences: what changed, and what asks for a decision.

Each rule is one function from the inputs to sentences. A sentence states a
figure with its interval and its denominator; comparisons are made between
mature figures only, and nothing is said of chance alone.
"""

from __future__ import annotations

from collections.abc import Iterator

from claimlens.analysis.comparisons import high_build_runs, high_model_years
from claimlens.monthly_inputs import Money, MonthlyInputs
from claimlens.report import formats
from claimlens.report.late_section import seen_so_far, undated_failures
from claimlens.report.rising_sentences import rising_decisions, rising_news
from claimlens.report.to_come_sentences import missed_decisions, to_come_news

__all__ = [
    "changes",
    "decisions",
    "join_words",
    "money_text",
    "opened",
]

# more sentences of one kind than this are a table, and stand in one below
_MOST = 5


def join_words(words: list[str]) -> str:
    """Join words as in ``a, b and c``."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


def opened(sentence: str) -> str:
    """Begin a sentence with a capital, also where a component's name opens it."""
    return sentence[:1].upper() + sentence[1:]


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
        return f"as many as {month}"
    word = "more" if now > before else "fewer"
    return f"{formats.count(abs(now - before))} {word} than {month}"


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
    sentences = [f"Rising: {said}" for said in rising_news(inputs)]
    sentences += to_come_news(inputs)
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
            f"{_against(now.claims_reported, before.claims_reported, f'in {last}')} "
            f"({formats.count(before.claims_reported)})."
        )
        sentences += _restated(inputs, last)
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
        f"{'is' if now.first_failures == 1 else 'are'} known so far. "
        + (seen_so_far(inputs) or "More may still be reported.")
    )
    sentences.append(
        f"The claims reported in {month} cost {money_text(now.cost)}"
        + (f"; the month before {money_text(before.cost)}." if before else ".")
    )
    return tuple(sentences)


def _restated(inputs: MonthlyInputs, month: str) -> list[str]:
    """Say which count of the month before its own report showed otherwise.

    Units in service are not among them: their number follows the sales lag, which
    is estimated again each month.
    """
    before, then = inputs.changes.last_month, inputs.changes.last_shown
    if before is None or then is None:
        return []
    return [
        f"Restated: the report of {month} showed {formats.count(was)} {what}, it is "
        f"{formats.count(now)} now."
        for what, was, now in (
            ("claims reported", then.claims_reported, before.claims_reported),
            ("claims open", then.open_claims, before.open_claims),
        )
        if was != now
    ]


def decisions(inputs: MonthlyInputs) -> tuple[str, ...]:
    """Write what needs a decision, gravest first; empty where nothing does."""
    return tuple(
        opened(sentence)
        for rule in (
            _safety,
            rising_decisions,
            missed_decisions,
            _no_units,
            _model_years,
            _build_runs,
            _open_too_long,
            _new_in_top_five,
            _unclassified,
            _unknown_serials,
            undated_failures,
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


def _model_years(inputs: MonthlyInputs) -> Iterator[str]:
    found = high_model_years(inputs.rates_by_model_year)
    for item in found[:_MOST]:
        is_high = item.rows["model_year"].isin(item.years)
        high = item.rows[is_high].sort_values("model_year")
        rest = item.rows[~is_high]
        unit = formats.telling_unit(
            float(high["lower"].min()), float(rest["upper"].max())
        )
        parts = [
            f"{formats.rate(row['rate'], unit)}{unit.suffix} "
            f"({formats.interval(row['lower'], row['upper'], unit)}; "
            f"{_number(row['claims'], 'unit', 'units')} "
            f"of {formats.count(row['units'])})"
            for row in high.to_dict("records")
        ]
        months = formats.count(float(item.rows["at_months"].iloc[0]))
        top = formats.rate(float(rest["upper"].max()), unit, "upper")
        yield (
            f"{item.component}, model year {join_words([str(y) for y in item.years])}: "
            f"{join_words(parts)} failed by {months} months in service, while no "
            f"other mature model year's interval reaches above {top}{unit.suffix}."
        )
    more = len(found) - _MOST
    if more > 0:
        yield (
            f"{_number(more, 'more component has', 'more components have')} a model "
            "year that stands apart; the table by model year has them."
        )


def _build_runs(inputs: MonthlyInputs) -> Iterator[str]:
    found = high_build_runs(inputs)
    for run in found[:_MOST]:
        unit = formats.rate_unit([run.lowest, run.pooled])
        yield (
            f"{run.component}: units built from {formats.month_name(run.first)} to "
            f"{formats.month_name(run.last)} stand out, {run.months} months in a row "
            f"({formats.count(run.claims)} of {formats.count(run.units)} units with a "
            f"failure): in each month {formats.rate(run.lowest, unit)}{unit.suffix} or "
            f"more failed by {formats.count(run.at_months)} months in service, of all "
            f"units {formats.rate(run.pooled, unit)}{unit.suffix}."
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


def _no_units(inputs: MonthlyInputs) -> Iterator[str]:
    if inputs.claims_read and inputs.rates_by_component.empty:
        yield (
            "no unit register is loaded, so nothing on this page is a rate: load one "
            "with serial, model, model year and in-service date."
        )


def _unknown_serials(inputs: MonthlyInputs) -> Iterator[str]:
    quality = inputs.quality
    bound = quality.unknown_serial_bound
    if quality.unknown_serial_claims and bound is not None:
        unit = formats.PER_CENT
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
