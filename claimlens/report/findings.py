"""Numbers to sentences: what changed.

A sentence states a figure with its denominator; comparisons are made between
mature figures only, and nothing is said of chance alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce

from claimlens.language import _, ngettext
from claimlens.monthly_inputs import Money, MonthCounts, MonthlyInputs
from claimlens.report import formats
from claimlens.report.arrivals_section import arrival_news
from claimlens.report.late_section import seen_so_far
from claimlens.report.made import made_news
from claimlens.report.rising_sentences import rising_news
from claimlens.report.to_come_sentences import to_come_news

__all__ = [
    "chained",
    "changes",
    "join_words",
    "money_text",
    "opened",
]


# more of one kind stand in a section of their own
_MOST = 4


def join_words(words: list[str]) -> str:
    """Join words as in ``a, b and c``."""
    if len(words) < 2:
        return "".join(words)
    return _("{these} and {last}").format(these=", ".join(words[:-1]), last=words[-1])


def chained(words: Sequence[str]) -> str:
    """Join words as in ``a and b and c``, where they hold commas themselves."""
    both = _("{these} and {last}")
    if not words:
        return ""
    return reduce(lambda these, last: both.format(these=these, last=last), words)


def opened(sentence: str) -> str:
    """Begin a sentence with a capital, also where a component's name opens it."""
    return sentence[:1].upper() + sentence[1:]


def money_text(sums: tuple[Money, ...]) -> str:
    """Write sums of money, one a currency; a word where there is none."""
    return join_words(
        [formats.amount(money.amount, money.currency) for money in sums]
    ) or _("no cost recorded")


def _against(now: int, before: int, then: str) -> str:
    """Compare two counts in words."""
    if now == before:
        return _("as many as {then}").format(then=then)
    more, fewer = _("{number} more than {then}"), _("{number} fewer than {then}")
    said = more if now > before else fewer
    return said.format(number=formats.count(abs(now - before)), then=then)


def _open(number: int) -> str:
    return ngettext(
        "{number} claim is open", "{number} claims are open", number
    ).format(number=formats.count(number))


def _in_service(number: int) -> str:
    return ngettext(
        "{number} unit is in service", "{number} units are in service", number
    ).format(number=formats.count(number))


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
    claims = formats.count(now.claims_reported)
    sentences = [*arrival_news(inputs)]
    sentences += [_("Rising: {said}").format(said=said) for said in rising_news(inputs)]
    sentences += _judged(inputs)
    sentences += to_come_news(inputs)
    sentences += made_news(inputs)
    if before is None:
        alone = ngettext(
            "{number} claim was reported in {month}. There is no month before to "
            "compare.",
            "{number} claims were reported in {month}. There is no month before to "
            "compare.",
            now.claims_reported,
        )
        sentences.append(alone.format(number=claims, month=month))
        both = _("{open}, and {service}.")
        sentences.append(
            both.format(
                open=_open(now.open_claims), service=_in_service(now.units_in_service)
            )
        )
    else:
        last = formats.month_name(before.month)
        sentences.append(_reported(now, before, month, last))
        sentences += _restated(inputs, last)
        compared = _("{said}, {against}.")
        end = _("at the end of {month}").format(month=last)
        sentences += _restated_months(inputs)
        sentences.append(
            compared.format(
                said=_open(now.open_claims),
                against=_against(now.open_claims, before.open_claims, end),
            )
        )
        ago = _("a month ago")
        units = now.units_in_service
        sentences.append(
            compared.format(
                said=_in_service(units),
                against=_against(units, before.units_in_service, ago),
            )
        )
    sentences.append(_failures(inputs, month))
    spent = (
        _("The claims reported in {month} cost {cost}; the month before {before}.")
        if before
        else _("The claims reported in {month} cost {cost}.")
    )
    sentences.append(
        spent.format(
            month=month,
            cost=money_text(now.cost),
            before=money_text(before.cost) if before else "",
        )
    )
    return tuple(sentences)


def _reported(now: MonthCounts, before: MonthCounts, month: str, last: str) -> str:
    """Say how many claims came, against the month before."""
    then = _("in {month}").format(month=last)
    return ngettext(
        "{number} claim was reported in {month}, {against} ({before}).",
        "{number} claims were reported in {month}, {against} ({before}).",
        now.claims_reported,
    ).format(
        number=formats.count(now.claims_reported),
        month=month,
        against=_against(now.claims_reported, before.claims_reported, then),
        before=formats.count(before.claims_reported),
    )


def _failures(inputs: MonthlyInputs, month: str) -> str:
    """Say how many first failures are known, and that more may come."""
    number = inputs.changes.this_month.first_failures
    known = ngettext(
        "{number} first failure of {month} is known so far.",
        "{number} first failures of {month} are known so far.",
        number,
    ).format(number=formats.count(number), month=month)
    return f"{known} {seen_so_far(inputs) or _('More may still be reported.')}"


def _judged(inputs: MonthlyInputs) -> list[str]:
    """Say what became of the engineering changes, the newest first."""
    frame = inputs.rising.design_changes
    told = [
        f"{row['change_no']} ({row['component']}) {row['verdict']}"
        for row in frame[frame["verdict"] != ""].head(_MOST).to_dict("records")
    ]
    said = _("Engineering changes judged: {changes}.")
    return [said.format(changes=join_words(told))] if told else []


def _restated_months(inputs: MonthlyInputs) -> list[str]:
    """Say how many months of failure the last report showed otherwise."""
    months = int(inputs.late_months["restated"].sum())
    if not months:
        return []
    return [
        ngettext(
            "Restated: {number} of {all} months of failure has another count than in "
            "the last report; both values stand below the failures by month.",
            "Restated: {number} of {all} months of failure have another count than in "
            "the last report; both values stand below the failures by month.",
            months,
        ).format(number=months, all=len(inputs.late_months))
    ]


def _restated(inputs: MonthlyInputs, month: str) -> list[str]:
    """Say which count of the month before its own report showed otherwise.

    Units in service are not among them: their number follows the sales lag, which
    is estimated again each month.
    """
    before, then = inputs.changes.last_month, inputs.changes.last_shown
    if before is None or then is None:
        return []
    return [
        _(
            "Restated: the report of {month} showed {was} {what}, it is {now} now."
        ).format(month=month, was=formats.count(was), what=what, now=formats.count(now))
        for what, was, now in (
            (_("claims reported"), then.claims_reported, before.claims_reported),
            (_("claims open"), then.open_claims, before.open_claims),
        )
        if was != now
    ]
