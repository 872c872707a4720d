"""Who was covered, and watched, how long: terms, extensions, distance, recording."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.usage_rates import ModelUsage, usage_by_model
from claimlens.db import Session
from claimlens.settings import CoverageSettings, Settings
from claimlens.stats.usage import UsageRates

__all__ = ["Cover", "DistanceClass", "watch_cover", "watch_until"]

Floats = NDArray[np.float64]

_FIRST_DAY = date.min
# claims that should have come in before the first one, had they been recorded; the
# chance of none is then below exp(-10); a rule of ours
_MISSED_CLAIMS = 10.0
# share of the claims that may lie above a limit unread, from which a note is due
_DOUBTFUL_SHARE = 0.01

_VERDICTS = {
    "no distance": "in no unit of distance",
    "not above 0": "not above 0",
    "too far": "beyond 1,000 km a day",
    "falls with age": "at odds with another of the same unit",
}


@dataclass(frozen=True, slots=True)
class DistanceClass:
    """Units whose cover ends by the same distance and that go alike.

    Parameters
    ----------
    model : str
        Their model; '' for none.
    limit_km : float
        Distance at which the cover ends.
    usage : ModelUsage
        How far they go.
    """

    model: str
    limit_km: float
    usage: ModelUsage


@dataclass(frozen=True, slots=True)
class Cover:
    """What the counting must know of the cover beside its dates.

    Parameters
    ----------
    classes : tuple of DistanceClass
        Class 1, 2, ...; class 0 is a cover without a limit by distance.
    notes : tuple of str
        What a reader of any number must know.
    distance_notes : tuple of str
        Those of them that tell how limits by distance are allowed for.
    """

    classes: tuple[DistanceClass, ...]
    notes: tuple[str, ...]
    distance_notes: tuple[str, ...]

    def covered(self, n_ages: int) -> Floats:
        """Return the share of units within their distance limit by day of age.

        Parameters
        ----------
        n_ages : int
            Days of age A.

        Returns
        -------
        ndarray, shape (D, A)
            One row for each class; row 0 is all ones.
        """
        return self.moved("", np.zeros(2), n_ages)

    def moved(self, model: str, by: Floats, n_ages: int) -> Floats:
        """Return `covered` with the usage rates of one model moved.

        Parameters
        ----------
        model : str
            Whose rates are moved.
        by : ndarray, shape (2,)
            What is added to the logarithms of their median and of their spread.
        n_ages : int
            Days of age A.

        Returns
        -------
        ndarray, shape (D, A)
            As `covered`.
        """
        # a unit on day d of its life is d and a half days old in the mean
        ages = np.arange(n_ages) + 0.5
        rows = [np.ones(n_ages)]
        for each in self.classes:
            rates = each.usage.rates
            if each.model == model:
                rates = UsageRates(
                    median=rates.median * float(np.exp(by[0])),
                    spread=rates.spread * float(np.exp(by[1])),
                )
            rows.append(rates.share_within(ages, each.limit_km))
        return np.stack(rows)


def watch_cover(session: Session, settings: Settings, as_of: date) -> Cover:
    """Settle how long every unit was watched, and the class of every claim.

    Parameters
    ----------
    session : Session
        With ``int_cover``, ``int_units`` and ``int_service``.
    settings : Settings
        Cover and counting rules.
    as_of : date
        Cut-off.

    Returns
    -------
    Cover
        Limits by distance, and what to tell with every number.
    """
    cover, counting = settings.coverage, settings.counting
    recorded_from = counting.recorded_from or _FIRST_DAY
    late = {"late_report_days": cover.late_report_days}
    session.run(
        "intermediate/int_claim_facts",
        {"as_of": as_of, "tolerance_days": counting.predelivery_tolerance_days},
    )
    _settle_repairs(session, as_of, late)
    classes, notes = _distance_classes(session, cover)
    _put_classes(session, classes)
    watch_until(session, settings, as_of)
    session.run(
        "intermediate/int_claims",
        {
            "recorded_from": recorded_from,
            "count_no_fault_found": counting.no_fault_found,
            "count_misuse": counting.misuse,
            "count_transport_damage": counting.transport_damage,
            "count_goodwill": counting.goodwill,
            "count_outside_coverage": counting.outside_coverage,
        },
    )
    recording = _recording_notes(session, counting.recorded_from)
    return Cover(classes=classes, notes=notes + recording, distance_notes=notes)


def watch_until(session: Session, settings: Settings, last_day: date) -> None:
    """Make ``int_watch``: every unit to the end of its cover, or to a last day.

    Parameters
    ----------
    session : Session
        With ``int_service``, ``int_units``, ``int_cover``, ``int_prolonged`` and
        ``distance_classes``.
    settings : Settings
        Cover and counting rules.
    last_day : date
        The cut-off, or the end of a forecast.
    """
    session.run(
        "intermediate/int_watch",
        {
            "as_of": last_day,
            "count_outside_coverage": settings.counting.outside_coverage,
            "recorded_from": settings.counting.recorded_from or _FIRST_DAY,
            "late_report_days": settings.coverage.late_report_days,
        },
    )


def _settle_repairs(session: Session, as_of: date, late: dict[str, int]) -> None:
    """Find the claims under cover, with what repairs under cover add to it.

    A repair prolongs the cover only if it lay inside the cover itself, perhaps
    because an earlier one had prolonged that: so again, until no repair is added.
    """
    session.run("intermediate/int_cover_repairs", {"as_of": as_of})
    n_before = -1
    while (n_now := session.count("int_cover_repairs_in_force")) > n_before:
        n_before = n_now
        session.run("intermediate/int_prolonged")
        session.run("intermediate/int_claims_covered", late)
        session.run("intermediate/int_cover_repairs_in_force")


def _distance_classes(
    session: Session, cover: CoverageSettings
) -> tuple[tuple[DistanceClass, ...], tuple[str, ...]]:
    """Return the limits by distance with usage rates, and what to say of them."""
    limits = session.frame("marts/cover_limits")
    if limits.empty:
        return (), ()
    usage, notes = usage_by_model(session, cover, set(limits["model"]))
    classes = tuple(
        DistanceClass(str(row.model), float(row.limit_km), usage[str(row.model)])
        for row in limits.itertuples()
        if str(row.model) in usage
    )
    verdicts = session.frame("marts/reading_verdicts")
    left_out = [
        f"{row.n_claims} {_VERDICTS[str(row.reading_verdict)]}"
        for row in verdicts.itertuples()
        if row.is_limited and row.reading_verdict in _VERDICTS
    ]
    if left_out:
        notes += (f"readings of distance left out: {', '.join(left_out)}",)
    return classes, notes + _unread_notes(session, cover)


def _unread_notes(session: Session, cover: CoverageSettings) -> tuple[str, ...]:
    """Say when claims without a reading may lie above the limit, and how many."""
    row = session.frame(
        "marts/limit_readings", {"late_report_days": cover.late_report_days}
    ).iloc[0]
    within, above, unread = (int(row[name]) for name in row.index)
    doubtful = unread * above / max(within + above, 1)
    if doubtful < _DOUBTFUL_SHARE * (within + unread):
        return ()
    return (
        f"{unread} claims without a reading of distance are taken as inside the "
        f"limit; {above} of {within + above} that were read lie above it, so about "
        f"{doubtful:.0f} of them may too, and rates may be up to "
        f"{doubtful / max(within + unread - doubtful, 1):.0%} too high",
    )


def _put_classes(session: Session, classes: tuple[DistanceClass, ...]) -> None:
    session.put(
        "distance_classes",
        pd.DataFrame(
            {
                "model": pd.array([each.model for each in classes], dtype="str"),
                "limit_km": np.array([each.limit_km for each in classes], dtype=float),
                "distance_class": np.arange(1, len(classes) + 1),
            }
        ),
    )


def _recording_notes(session: Session, recorded_from: date | None) -> tuple[str, ...]:
    """Say from when failures were recorded, or that they seem to be so late."""
    row = session.frame("marts/recording_start").iloc[0]
    if recorded_from is not None:
        return (
            f"failures before {recorded_from} were not recorded: older units are "
            "watched from then on, and earlier failures of theirs are not known",
        )
    before, watched = int(row["days_before"]), int(row["days_watched"])
    if watched <= before:
        return ()
    missed = int(row["n_claims"]) * before / (watched - before)
    if missed < _MISSED_CLAIMS:
        return ()
    first = row["first_failed_on"].date()
    return (
        f"no failure before {first} is recorded, where about {missed:.0f} would be "
        f"expected of the {int(row['n_units_before'])} units in service by then: if "
        f"earlier ones were not recorded, set counting.recorded_from = {first}",
    )
