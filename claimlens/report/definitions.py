"""The report's own words: what is counted, and how to read it."""

from __future__ import annotations

from claimlens.monthly_inputs import Meta
from claimlens.report import formats
from claimlens.report.late_section import DEFINITION
from claimlens.report.outstanding_section import DEFINITION as RESERVE
from claimlens.report.rising_section import DEFINITION as SIGNALS
from claimlens.report.to_come_section import DEFINITION as TO_COME

__all__ = ["definitions"]


def definitions(meta: Meta) -> tuple[tuple[str, str], ...]:
    """Return terms and their meaning, in the order of the page.

    Parameters
    ----------
    meta : Meta
        Cut-off, coverage and level of confidence.
    """
    level = formats.decimal_text(100 * meta.confidence, 0)
    day = formats.day(meta.as_of)
    known = (
        f"Only facts known by {formats.day(meta.as_known)} are used."
        if meta.as_known
        else "Everything loaded so far is used."
    )
    return (
        (
            "Cut-off",
            f"{day}. Failures and reports after it are hidden, and no figure knows of "
            f"them. {known}",
        ),
        (
            "Which claims count",
            "Claims for a failure inside the cover. Claims outside it, goodwill, "
            "denied and cancelled claims, misuse, transport damage and no fault found "
            "stand in rows of their own and are left out of the rates; so are rows "
            "with a flag that spoils the figure.",
        ),
        ("Cover", f"{meta.coverage}."),
        (
            "Which units count",
            "Units in service by the cut-off. A unit is watched from its in-service "
            "date until its first counted failure of the component, the cut-off, the "
            "end of its cover or its withdrawal, whichever comes first. A failure of "
            "another component does not end it.",
        ),
        (
            "Units with a failure",
            "Each unit counts once for each component, with its first failure. Later "
            "claims for the same component are repeats and are counted apart.",
        ),
        (
            "Months in service",
            "Days from the in-service date to the failure, divided by 30.4375.",
        ),
        (
            "Share failed by an age",
            "The Kaplan-Meier estimate: units that are not yet that old count for as "
            "long as they were watched. It is not claims divided by units sold.",
        ),
        (
            "Interval",
            f"The range that holds the true value in {level} of 100 such cases: Wilson "
            "on the effective sample size for shares, likelihood ratio for Weibull "
            "figures. Limits are rounded outward.",
        ),
        (
            "Mature",
            "Enough units have reached that age, and their reports have arrived. Any "
            "other figure is shown as too young to trust, with the reason.",
        ),
        ("Reports still to come", DEFINITION),
        ("Claims to come", TO_COME),
        ("Reserve", RESERVE),
        ("Signal", SIGNALS),
        (
            "Shape, scale, B1 and B10",
            "Weibull shape (β) tells how the risk moves with age: below 1 it falls "
            "(early-life), above 1 it rises (wear-out). Scale (η) is the age by which "
            "63.2 per cent have failed; B1 and B10 the ages by which 1 and 10 per "
            "cent have. A pattern is named only where the interval allows it.",
        ),
        (
            "Classification",
            "Component and failure mode come from the inspection of the returned part, "
            "the part replaced, the technician's note and the owner's words, in this "
            "order. Where nothing decides, the claim is unclassified; it is not spread "
            "over the components.",
        ),
        (
            "Cost",
            "Parts, labour and freight of all claims but those cancelled or denied"
            + (
                f", turned into {meta.report_currency}."
                if meta.report_currency
                else ", in each currency by itself."
            ),
        ),
    )
