"""Numbers to sentences: what changed.

A sentence states a figure with its denominator; comparisons are made between
mature figures only, and nothing is said of chance alone.
"""

from __future__ import annotations

from claimlens.monthly_inputs import Money, MonthlyInputs
from claimlens.report import formats
from claimlens.report.late_section import seen_so_far
from claimlens.report.made import made_news
from claimlens.report.rising_sentences import rising_news
from claimlens.report.to_come_sentences import to_come_news

__all__ = [
    "changes",
    "join_words",
    "money_text",
    "opened",
]


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
    sentences += made_news(inputs)
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
