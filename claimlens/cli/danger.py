"""What a command says on stderr of claims that tell of a danger."""

from __future__ import annotations

import pandas as pd

from claimlens.analysis.alarms import ARRIVAL, RISING, Alarm, Alarms
from claimlens.analysis.cautions import REMINDER
from claimlens.cli.screen import tell
from claimlens.monthly_inputs import Arrivals

__all__ = ["dangerous_first", "tell_alarms", "tell_arrivals", "tell_dangerous"]

_MOST = 10


def tell_arrivals(arrivals: Arrivals) -> None:
    """Say what is amiss with what arrived; nothing where nothing is."""
    for finding in arrivals.findings:
        word = "amiss" if finding.is_grave else "note"
        tell(f"{word}: {finding.sentence}")


def tell_alarms(alarms: Alarms) -> None:
    """Say which alarms are new since the last run; nothing where none is."""
    if not alarms.new:
        return
    _tell_rising([alarm for alarm in alarms.new if alarm.kind == RISING])
    dangers = [alarm for alarm in alarms.new if alarm.kind not in (RISING, ARRIVAL)]
    if not dangers:
        return
    number = len(dangers)
    told = "1 claim tells" if number == 1 else f"{number:,} claims tell"
    news = (
        f"and {'is' if number == 1 else 'are'} new since the last run"
        if alarms.were_told
        else "and no run has told of any before"
    )
    tell(f"danger: {told} of a danger {news}; look at once, newest first:")
    for alarm in dangers[:_MOST]:
        tell(f"  {_line(alarm)}")
    if number > _MOST:
        tell(
            f"  and {number - _MOST:,} more; claimlens classify lists dangerous claims "
            "first"
        )
    tell(REMINDER)


def _tell_rising(alarms: list[Alarm]) -> None:
    """Say which faults rise that no run has told of."""
    if not alarms:
        return
    tell(f"rising: {len(alarms)} new alarm{'s' if len(alarms) > 1 else ''}:")
    for alarm in alarms:
        tell(f"  {alarm.subject}: {alarm.words_read}")
    tell("  claimlens signals tells more; claimlens windows names the units")


def _line(alarm: Alarm) -> str:
    unit = f"unit {alarm.serial}" if alarm.serial else "unit not told"
    read = alarm.words_read or "see the claim"
    return (
        f"{alarm.subject}, reported {alarm.raised_on}, {unit}, "
        f"{alarm.component}: {read}"
    )


def dangerous_first(frame: pd.DataFrame) -> pd.DataFrame:
    """Return classified claims with the dangerous ones on top, else as they were."""
    is_calm = frame["safety"] != "yes"
    return frame.iloc[is_calm.argsort(kind="stable")]


def tell_dangerous(frame: pd.DataFrame) -> None:
    """Say how many of the classified claims tell of a danger."""
    number = int((frame["safety"] == "yes").sum())
    if number:
        verb = "tells" if number == 1 else "tell"
        tell(
            f"danger: {number:,} of {len(frame):,} claims {verb} of a danger "
            "(safety yes); look at them first."
        )
        tell(REMINDER)
