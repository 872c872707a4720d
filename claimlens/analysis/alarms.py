"""What a person must look at at once, and what of it no run has told yet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import pandas as pd

from claimlens.db import Session
from claimlens.monthly_inputs import Arrivals

RISING = "rising fault"
"""Kind of an alarm that a signal raised."""

ARRIVAL = "arrival"
"""Kind of an alarm that a missing or broken file raised."""

__all__ = [
    "ARRIVAL",
    "RISING",
    "Alarm",
    "Alarms",
    "Standing",
    "arrival_alarms",
    "keep_alarms",
    "read_alarms",
    "rising_alarms",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Alarm:
    """One reason to look at once.

    Parameters
    ----------
    kind : str
        What raised it: ``dangerous claim``, ``rising fault`` or ``arrival``.
    subject : str
        What it is about, for good: the claim's number, or what rises and since when.
    raised_on : date or None
        Day of the report; None of what arrived.
    serial : str
        The unit; empty where it is not told.
    component : str
        The claim's component, or ``unclassified``.
    words_read : str
        Where the danger was read and in which few words; empty where the
        decision's account is too long to hold them.
    """

    kind: str
    subject: str
    raised_on: date | None
    serial: str
    component: str
    words_read: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Alarms:
    """The alarms of a warehouse against those told by earlier runs.

    Parameters
    ----------
    new : tuple of Alarm
        Not told by any run, newest first.
    is_settled : bool
        Whether exactly those that stand now were told: nothing to remember.
    were_told : bool
        Whether a run told any before; if not, all that stand are new.
    """

    new: tuple[Alarm, ...]
    is_settled: bool
    were_told: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What stands beside the dangerous claims of the warehouse.

    Parameters
    ----------
    rising : DataFrame
        From `rising_alarms`.
    arrived : DataFrame
        From `arrival_alarms`.
    """

    rising: pd.DataFrame
    arrived: pd.DataFrame


def arrival_alarms(arrivals: Arrivals | None) -> pd.DataFrame:
    """Return the alarms among what is amiss with the files that arrived.

    Parameters
    ----------
    arrivals : Arrivals or None
        None where they were not judged.
    """
    grave = arrivals.grave if arrivals is not None else ()
    subjects = list(dict.fromkeys(finding.sentence for finding in grave))
    return pd.DataFrame({"subject": pd.array(subjects, dtype="str")})


def rising_alarms(signals: pd.DataFrame) -> pd.DataFrame:
    """Return the alarms among signals: one for each run of a rising fault.

    Parameters
    ----------
    signals : DataFrame
        As `claimlens.analysis.signals.signals` gives them.
    """
    own = signals[
        (signals["level"] == "alarm")
        & ~signals["state"].isin(["cleared", "acknowledged"])
        & signals["detail_of"].isna()
    ]
    models = own["model"].fillna("all models")
    since = pd.to_datetime(own["since"]).dt.strftime("%Y-%m-%d")
    subject = own["component"].astype("str") + ", " + models.astype("str")
    return pd.DataFrame(
        {
            "subject": (subject + ", since " + since).astype("str"),
            "raised_on": pd.to_datetime(own["since"]).astype("datetime64[s]"),
            "component": own["component"].astype("str"),
            "words_read": own["why"].astype("str"),
        }
    ).reset_index(drop=True)


def read_alarms(session: Session, standing: Standing) -> Alarms:
    """Compare the alarms that stand now with those told.

    Parameters
    ----------
    session : Session
        On a warehouse whose claims have been read.
    standing : Standing
        What else is an alarm.

    Returns
    -------
    Alarms
        No clock and no cut-off has a part in it: the same warehouse gives the
        same answer until `keep_alarms` has remembered it.
    """
    session.put("rising_alarms", standing.rising)
    session.put("arrival_alarms", standing.arrived)
    session.run("intermediate/int_alarms")
    frame = session.frame("marts/new_alarms")
    told = session.count("alarms_told")
    return Alarms(
        new=tuple(
            Alarm(
                kind=row.kind,
                subject=row.subject,
                raised_on=None if pd.isna(row.raised_on) else row.raised_on.date(),
                serial=row.serial,
                component=row.component,
                words_read=row.words_read,
            )
            for row in frame.itertuples()
        ),
        is_settled=frame.empty and told == session.count("int_alarms"),
        were_told=told > 0,
    )


def keep_alarms(session: Session, told: Sequence[Alarm], standing: Standing) -> None:
    """Remember the alarms that were told, and forget those that stand no more.

    Parameters
    ----------
    session : Session
        Open for writing.
    told : sequence of Alarm
        From `read_alarms`. What came in since stays untold.
    standing : Standing
        As it was given to `read_alarms`.
    """
    session.put("rising_alarms", standing.rising)
    session.put("arrival_alarms", standing.arrived)
    session.run("intermediate/int_alarms")
    session.put(
        "told_now",
        pd.DataFrame(
            [(alarm.kind, alarm.subject) for alarm in told],
            columns=["kind", "subject"],
            dtype="str",
        ),
    )
    session.run("staging/keep_alarms")
    session.changed = True
