"""Sentences on what rises: for the first screen and the head of its section."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any, NamedTuple

import pandas as pd

from claimlens.language import N_, _, ngettext
from claimlens.monthly_inputs import MonthlyInputs
from claimlens.report import formats

__all__ = [
    "NOT_SEEN",
    "chance_of_an_alarm",
    "chance_sentence",
    "month_end",
    "rising_news",
    "standing",
    "times",
    "whose",
]

# an alarm of these states is told first thing
_SPEAKS = ("new", "growing")
# states whose signals stand no more
_OVER = ("cleared",)
_A_YEAR = 12
# "about 0.9 a month" reads as one a month
_ONE_A_MONTH = 0.95
_HARDLY = 1 / 600
#: From this ratio on a rise is as good as not seen.
NOT_SEEN = 50.0


class _Often(NamedTuple):
    """How often something happens, as the object of a sentence."""

    a_month: str
    a_year: str
    in_months: str
    in_years: str
    hardly: str


_SUCH_ALARM = _Often(
    N_("about {number} such alarms a month"),
    N_("about {number} such alarms a year"),
    N_("one such alarm in about {number} months"),
    N_("one such alarm in about {number} years"),
    N_("hardly any such alarm"),
)
_NEW_ALARM = _Often(
    N_("about {number} new alarms a month"),
    N_("about {number} new alarms a year"),
    N_("one new alarm in about {number} months"),
    N_("one new alarm in about {number} years"),
    N_("hardly any new alarm"),
)
_NEW_SIGNAL = _Often(
    N_("about {number} new signals a month"),
    N_("about {number} new signals a year"),
    N_("one new signal in about {number} months"),
    N_("one new signal in about {number} years"),
    N_("hardly any new signal"),
)


def standing(inputs: MonthlyInputs) -> pd.DataFrame:
    """Return the signals that stand, without the details of one model."""
    frame = inputs.rising.signals
    return frame[(frame["detail_of"] == "") & ~frame["state"].isin(_OVER)]


def whose(row: Mapping[Any, Any]) -> str:
    """Name what a signal speaks of."""
    models = str(row["model"]) or _("all models")
    return f"{row['component']}, {models}"


def month_end(value: object) -> str:
    """Write the day of a timestamp."""
    stamp = pd.Timestamp(str(value))
    return formats.day(date(stamp.year, stamp.month, stamp.day))


def times(ratio: float, lower: float, upper: float) -> str:
    """Write a ratio with its interval, limits outward."""
    if pd.isna(ratio):
        return formats.MISSING
    if pd.isna(lower) or pd.isna(upper):
        return formats.ratio(ratio)
    return (
        f"{formats.ratio(ratio)} ({formats.ratio(lower, 'lower')}–"
        f"{formats.ratio(upper, 'upper')})"
    )


def rising_news(inputs: MonthlyInputs) -> Iterator[str]:
    """Say in one sentence which signals are new, growing, and standing."""
    rising = inputs.rising
    if rising.judged_on is None:
        return
    frame = standing(inputs)
    if frame.empty:
        yield _("Nothing rises beyond what chance explains.")
        return
    moved = []
    for level in ("alarm", "watch"):
        own = frame[frame["level"] == level]
        for state in _SPEAKS:
            number = int((own["state"] == state).sum())
            if number:
                moved.append(_moved(level, state, number))
    told = (
        _("among them {these}").format(these=", ".join(moved))
        if moved
        else _("none is new or growing")
    )
    alarms, watches = (
        int((frame["level"] == level).sum()) for level in ("alarm", "watch")
    )
    yield ngettext(
        "{alarms} and {watches} stands; {told}.",
        "{alarms} and {watches} stand; {told}.",
        len(frame),
    ).format(alarms=_alarms(alarms), watches=_watches(watches), told=told)


def _alarms(number: int) -> str:
    if not number:
        return _("no alarm")
    said = ngettext("{number} alarm", "{number} alarms", number)
    return said.format(number=formats.count(number))


def _watches(number: int) -> str:
    if not number:
        return _("no watch")
    said = ngettext("{number} watch", "{number} watches", number)
    return said.format(number=formats.count(number))


def _moved(level: str, state: str, number: int) -> str:
    """Say how many signals of a level are new, or growing."""
    said = {
        ("alarm", "new"): ngettext("{number} new alarm", "{number} new alarms", number),
        ("alarm", "growing"): ngettext(
            "{number} growing alarm", "{number} growing alarms", number
        ),
        ("watch", "new"): ngettext(
            "{number} new watch", "{number} new watches", number
        ),
        ("watch", "growing"): ngettext(
            "{number} growing watch", "{number} growing watches", number
        ),
    }[level, state]
    return said.format(number=formats.count(number))


def chance_of_an_alarm(inputs: MonthlyInputs) -> str:
    """Say how often chance alone brings an alarm to a fleet of this size."""
    return _often(inputs.rising.chance_alarms, _SUCH_ALARM)


def chance_sentence(inputs: MonthlyInputs) -> str:
    """Say how many false signals a fleet of this size must expect."""
    rising = inputs.rising
    return _(
        "Where nothing rises at all, chance alone brings a fleet of this size "
        "{signals} and {alarms}: a watch asks for a look, an alarm for a decision."
    ).format(
        signals=_often(rising.chance_signals, _NEW_SIGNAL),
        alarms=_often(rising.chance_alarms, _NEW_ALARM),
    )


def _often(a_month: float, said: _Often) -> str:
    if a_month >= _ONE_A_MONTH:
        return _(said.a_month).format(number=formats.decimal_text(a_month, 1))
    if a_month < _HARDLY:
        return _(said.hardly)
    months = 1.0 / a_month
    if months < _A_YEAR / 2:
        a_year = formats.decimal_text(_A_YEAR * a_month, 0)
        return _(said.a_year).format(number=a_year)
    if months < 2 * _A_YEAR:
        return _(said.in_months).format(number=formats.decimal_text(months, 0))
    return _(said.in_years).format(number=formats.decimal_text(months / _A_YEAR, 0))
