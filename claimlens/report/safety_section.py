"""The first thing on the page: claims that tell of a danger."""

from __future__ import annotations

from collections.abc import Sequence

from claimlens.analysis.cautions import kinds_of
from claimlens.language import N_, _, ngettext
from claimlens.monthly_inputs import MonthlyInputs, SafetyClaim, SafetyReason
from claimlens.report import formats
from claimlens.report.view import TableView, text_columns

__all__ = ["safety_sentence", "safety_table"]

_DANGERS = N_(
    "injury, fire, smoke, melting, swelling, shock, loss of braking or steering, "
    "uncommanded motion, or a break in a load-bearing part"
)
# the kinds of danger, as the table names them
_KINDS = {
    "battery": N_("battery"),
    "electrical": N_("electrical"),
    "brakes": N_("brakes"),
    "steering": N_("steering"),
    "structure": N_("structure"),
}
_NOT_SAID = N_("see the claim")
_TOLD_BY: dict[SafetyReason, str] = {
    "reported": N_("report of {day}"),
    "inspected": N_("inspection of {day}"),
    "open": N_("open since {day}"),
}


def safety_sentence(claims: Sequence[SafetyClaim], month: str) -> str:
    """Say how many claims tell of a danger, and why older ones are among them.

    Parameters
    ----------
    claims : sequence of SafetyClaim
        Those of the page.
    month : str
        The month in words.
    """
    reported = _count(claims, "reported")
    if reported:
        first = ngettext(
            "{number} claim reported in {month} tells of {dangers}.",
            "{number} claims reported in {month} tell of {dangers}.",
            reported,
        ).format(number=formats.count(reported), month=month, dangers=_(_DANGERS))
    else:
        first = _(
            "No claim reported in {month} was recognised as telling of a danger. Texts "
            "can be unclear: act on any claim that worries you."
        ).format(month=month)
    inspected, still = _count(claims, "inspected"), _count(claims, "open")
    older = []
    if inspected:
        said = ngettext(
            "{number} older claim was found dangerous by an inspection this month",
            "{number} older claims were found dangerous by an inspection this month",
            inspected,
        )
        older.append(said.format(number=formats.count(inspected)))
    if still:
        said = ngettext(
            "{number} older dangerous claim is still open",
            "{number} older dangerous claims are still open",
            still,
        )
        older.append(said.format(number=formats.count(still)))
    return " ".join([first, f"{'; '.join(older)}."]) if older else first


def _count(claims: Sequence[SafetyClaim], why: str) -> int:
    return sum(claim.why == why for claim in claims)


def safety_table(inputs: MonthlyInputs) -> TableView:
    """List the claims that tell of a danger, newest first."""
    claims = inputs.changes.safety_claims
    return TableView(
        "safety-table",
        ngettext(
            "{number} claim of any class, newest first; read are only the few words "
            "that told of the danger",
            "{number} claims of any class, newest first; read are only the few words "
            "that told of the danger",
            len(claims),
        ).format(number=formats.count(len(claims))),
        text_columns("claim", "unit", "told by", "component", "read", "cautions"),
        tuple(
            (
                claim.claim_no,
                claim.serial or formats.MISSING,
                _(_TOLD_BY[claim.why]).format(day=formats.day(claim.told_on)),
                claim.component,
                _read(claim),
                ", ".join(_(_KINDS[kind]) for kind in kinds_of(claim)),
            )
            for claim in claims
        ),
    )


def _read(claim: SafetyClaim) -> str:
    """Return the words read; the component stands beside them already."""
    return claim.words_read.replace(f"{claim.component}, ", "", 1) or _(_NOT_SAID)
