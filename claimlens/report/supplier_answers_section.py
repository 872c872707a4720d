"""The section on what suppliers were asked, answered and paid."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from claimlens.language import _, ngettext
from claimlens.monthly_inputs import MonthlyInputs
from claimlens.report import formats
from claimlens.report.findings import join_words
from claimlens.report.formats import MISSING
from claimlens.report.view import (
    DecisionView,
    SectionView,
    TableView,
    number_columns,
    text_columns,
)
from claimlens.report.waiting import role

__all__ = ["answers_section", "overdue_answers"]

_NAMED = 3


def answers_section(inputs: MonthlyInputs) -> SectionView:
    """Build the section on questions to suppliers.

    Parameters
    ----------
    inputs : MonthlyInputs
        With what a list of responses tells.
    """
    told = inputs.answers
    return SectionView(
        id="supplier-answers",
        heading=_("What suppliers answered"),
        basis=_(
            "Questions and charges of the list of responses, by the cut-off {day}."
        ).format(day=formats.day(inputs.meta.as_of)),
        lead=_lead(inputs) if told.questions else (),
        tables=tuple(_tables(inputs)),
        empty=_(
            "No list of responses is loaded (supplier, question_no, asked_on, due_on, "
            "answered_on, amounts)."
        ),
    )


def _lead(inputs: MonthlyInputs) -> tuple[str, ...]:
    told = inputs.answers
    asked = sum(each.asked for each in told.questions)
    answered = sum(each.answered for each in told.questions)
    late = sum(each.answered_late for each in told.questions)
    return (
        _(
            "{answered} of {asked} questions are answered, {late} of them after they "
            "were due; {overdue} are overdue."
        ).format(
            answered=formats.count(answered),
            asked=formats.count(asked),
            late=formats.count(late),
            overdue=formats.count(told.overdue),
        ),
    )


def _tables(inputs: MonthlyInputs) -> Iterator[TableView]:
    told = inputs.answers
    if told.questions:
        yield TableView(
            "supplier-answers-table",
            _("Questions by supplier, most overdue first"),
            text_columns("supplier")
            + number_columns("asked", "answered", "answered late", "overdue")
            + text_columns("oldest due"),
            tuple(
                (
                    each.supplier,
                    formats.count(each.asked),
                    formats.count(each.answered),
                    formats.count(each.answered_late),
                    formats.count(each.overdue),
                    formats.day(each.oldest_due) if each.oldest_due else MISSING,
                )
                for each in told.questions
            ),
        )
    if told.money:
        yield TableView(
            "supplier-money-table",
            _("Charged, accepted and received by supplier, each currency by itself"),
            text_columns("supplier", "currency")
            + number_columns(
                "charged", "accepted", "received", "not accepted", "not received"
            ),
            tuple(
                (
                    each.supplier,
                    each.currency or MISSING,
                    *(
                        formats.cents(amount)
                        for amount in (
                            each.charged,
                            each.accepted,
                            each.received,
                            each.charged - each.accepted,
                            each.accepted - each.received,
                        )
                    ),
                )
                for each in told.money
            ),
        )


def overdue_answers(inputs: MonthlyInputs) -> Iterator[DecisionView]:
    """Ask for a decision where suppliers owe an answer.

    Parameters
    ----------
    inputs : MonthlyInputs
        With what a list of responses tells.
    """
    told = inputs.answers
    late = [each for each in told.questions if each.overdue]
    if not late:
        return
    named = [each.supplier for each in late[:_NAMED]]
    if len(late) > _NAMED:
        named.append(_("{number} more").format(number=len(late) - _NAMED))
    oldest = min(each.oldest_due for each in late if each.oldest_due)
    yield DecisionView(
        what=ngettext(
            "{number} answer of suppliers is overdue: {suppliers}.",
            "{number} answers of suppliers are overdue: {suppliers}.",
            told.overdue,
        ).format(number=formats.count(told.overdue), suppliers=join_words(named)),
        sure=_("Certain by the list of responses; the oldest was due on {day}.").format(
            day=formats.day(oldest)
        ),
        waiting=_owed(inputs),
        who=_("{purchasing}: call them, and send the supplier report again.").format(
            purchasing=role(inputs, "purchasing")
        ),
        where="supplier-answers",
    )


def _owed(inputs: MonthlyInputs) -> str:
    sums: dict[str, Decimal] = {}
    for each in inputs.answers.money:
        owed = each.accepted - each.received
        if owed > 0:
            sums[each.currency] = sums.get(each.currency, Decimal(0)) + owed
    if not sums:
        return _("Not known: the cause stays in the parts that are still delivered.")
    told = join_words(
        [formats.amount(float(amount), code) for code, amount in sorted(sums.items())]
    )
    return _("{money} accepted and not received; the cause stays in the parts.").format(
        money=told
    )
