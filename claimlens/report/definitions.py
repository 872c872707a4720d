"""The report's own words: what is counted, and how to read it."""

from __future__ import annotations

from claimlens.language import N_, _
from claimlens.monthly_inputs import Meta
from claimlens.report import formats
from claimlens.report.arrivals_section import DEFINITION as ARRIVALS
from claimlens.report.late_section import DEFINITION
from claimlens.report.outstanding_section import DEFINITION as RESERVE
from claimlens.report.rising_section import DEFINITION as SIGNALS
from claimlens.report.to_come_section import DEFINITION as TO_COME

__all__ = ["definitions"]


_CUT_OFF, _COVER, _COST = N_("Cut-off"), N_("Cover"), N_("Cost")
# what depends on the report is left empty and said where it is known
_TERMS: tuple[tuple[str, str], ...] = (
    (_CUT_OFF, ""),
    (N_("What arrived"), ARRIVALS),
    (
        N_("Which claims count"),
        N_(
            "Claims for a failure inside the cover. Claims outside it, goodwill, "
            "denied and cancelled claims, misuse, transport damage and no fault found "
            "stand in rows of their own and are left out of the rates; so are rows "
            "with a flag that spoils the figure."
        ),
    ),
    (_COVER, ""),
    (
        N_("Which units count"),
        N_(
            "Units in service by the cut-off. A unit is watched from its in-service "
            "date until its first counted failure of the component, the cut-off, the "
            "end of its cover or its withdrawal, whichever comes first. A failure of "
            "another component does not end it."
        ),
    ),
    (
        N_("Units with a failure"),
        N_(
            "Each unit counts once for each component, with its first failure. Later "
            "claims for the same component are repeats and are counted apart."
        ),
    ),
    (
        N_("Months in service"),
        N_("Days from the in-service date to the failure, divided by 30.4375."),
    ),
    (
        N_("Share failed by an age"),
        N_(
            "The Kaplan-Meier estimate: units that are not yet that old count for as "
            "long as they were watched. It is not claims divided by units sold."
        ),
    ),
    (
        N_("Interval"),
        N_(
            "The range that holds the true value in {level} of 100 such cases: Wilson "
            "on the effective sample size for shares, likelihood ratio for Weibull "
            "figures. Limits are rounded outward."
        ),
    ),
    (
        N_("Mature"),
        N_(
            "Enough units have reached that age, and their reports have arrived. Any "
            "other figure is shown as too young to trust, with the reason."
        ),
    ),
    (N_("Reports still to come"), DEFINITION),
    (N_("Claims to come"), TO_COME),
    (N_("Reserve"), RESERVE),
    (N_("Signal"), SIGNALS),
    (
        N_("Shape, scale, B1 and B10"),
        N_(
            "Weibull shape (β) tells how the risk moves with age: below 1 it falls "
            "(early-life), above 1 it rises (wear-out). Scale (η) is the age by which "
            "63.2 per cent have failed; B1 and B10 the ages by which 1 and 10 per "
            "cent have. A pattern is named only where the interval allows it."
        ),
    ),
    (
        N_("Classification"),
        N_(
            "Component and failure mode come from the inspection of the returned part, "
            "the part replaced, the technician's note and the owner's words, in this "
            "order. Where nothing decides, the claim is unclassified; it is not spread "
            "over the components."
        ),
    ),
    (_COST, ""),
)


def definitions(meta: Meta) -> tuple[tuple[str, str], ...]:
    """Return terms and their meaning, in the order of the page.

    Parameters
    ----------
    meta : Meta
        Cut-off, coverage and level of confidence.
    """
    level = formats.decimal_text(100 * meta.confidence, 0)
    known = (
        _("Only facts known by {day} are used.").format(day=formats.day(meta.as_known))
        if meta.as_known
        else _("Everything loaded so far is used.")
    )
    cut_off = _(
        "{day}. Failures and reports after it are hidden, and no figure knows of "
        "them. {known}"
    ).format(day=formats.day(meta.as_of), known=known)
    told = {_COVER: f"{meta.coverage}.", _CUT_OFF: cut_off, _COST: _cost(meta)}
    return tuple(
        (_(term), told.get(term) or _(meaning).format(level=level))
        for term, meaning in _TERMS
    )


def _cost(meta: Meta) -> str:
    """Say what a cost holds, and in which currency it stands."""
    if meta.report_currency is None:
        return _(
            "Parts, labour and freight of all claims but those cancelled or denied, in "
            "each currency by itself."
        )
    return _(
        "Parts, labour and freight of all claims but those cancelled or denied, turned "
        "into {currency}."
    ).format(currency=meta.report_currency)
