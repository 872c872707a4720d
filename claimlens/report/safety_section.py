"""The first thing on the page: claims that tell of a danger."""

from __future__ import annotations

from collections.abc import Sequence

from claimlens.analysis.cautions import kinds_of
from claimlens.monthly_inputs import MonthlyInputs, SafetyClaim, SafetyReason
from claimlens.report import formats
from claimlens.report.view import TableView, text_columns

__all__ = ["safety_sentence", "safety_table"]

_DANGERS = (
    "injury, fire, smoke, melting, swelling, shock, loss of braking or steering, "
    "uncommanded motion, or a break in a load-bearing part"
)
_NOT_SAID = "see the claim"
_TOLD_BY: dict[SafetyReason, str] = {
    "reported": "report of",
    "inspected": "inspection of",
    "open": "open since",
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
        noun, verb = ("claim", "tells") if reported == 1 else ("claims", "tell")
        first = (
            f"{formats.count(reported)} {noun} reported in {month} {verb} of "
            f"{_DANGERS}."
        )
    else:
        first = (
            f"No claim reported in {month} was recognised as telling of a danger. "
            "Texts can be unclear: act on any claim that worries you."
        )
    older = [
        f"{formats.count(number)} older {one if number == 1 else many}"
        for number, one, many in (
            (
                _count(claims, "inspected"),
                "claim was found dangerous by an inspection this month",
                "claims were found dangerous by an inspection this month",
            ),
            (
                _count(claims, "open"),
                "dangerous claim is still open",
                "dangerous claims are still open",
            ),
        )
        if number
    ]
    return " ".join([first, f"{'; '.join(older)}."]) if older else first


def _count(claims: Sequence[SafetyClaim], why: str) -> int:
    return sum(claim.why == why for claim in claims)


def safety_table(inputs: MonthlyInputs) -> TableView:
    """List the claims that tell of a danger, newest first."""
    claims = inputs.changes.safety_claims
    number = "1 claim" if len(claims) == 1 else f"{formats.count(len(claims))} claims"
    return TableView(
        "safety-table",
        f"{number} of any class, newest first; read are only the few words that told "
        "of the danger",
        text_columns("claim", "unit", "told by", "component", "read", "cautions"),
        tuple(
            (
                claim.claim_no,
                claim.serial or formats.MISSING,
                f"{_TOLD_BY[claim.why]} {formats.day(claim.told_on)}",
                claim.component,
                _read(claim),
                ", ".join(kinds_of(claim)),
            )
            for claim in claims
        ),
    )


def _read(claim: SafetyClaim) -> str:
    """Return the words read; the component stands beside them already."""
    return claim.words_read.replace(f"{claim.component}, ", "", 1) or _NOT_SAID
