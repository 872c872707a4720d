"""Which components fail more than their older production lets us expect.

The rule, for each component over all models and for each component and model: of
every run of 1 to 6 build months among the last 18, the failures known at a
month-end are set against those expected from older production at the same ages,
calendar months and time to report. What all runs say together is the evidence; from
a bar on it is watched, from a higher one it is an alarm. Each month-end is judged
from what was known at it, so the past never changes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from claimlens.stats.rising.baseline import (
    Expectation,
    expect,
    noise_between_months,
)
from claimlens.stats.rising.counts import View, Views
from claimlens.stats.rising.levels import alarm_bar, watch_bar
from claimlens.stats.rising.month import Month, silent_month
from claimlens.stats.rising.scan import Runs, no_runs, scan

__all__ = ["RECENT", "expected_at", "rising_faults"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Indices = NDArray[np.int64]

#: Build months that are looked at; what is older sets the level.
RECENT = 18
#: Build months of a model, or of the older production, that say something.
FEWEST_MONTHS = 3
# below either, the level leans on the other components, and the reader is told
_OWN_MONTHS, _OWN_CLAIMS = 6, 20
# times that older faults are looked for, each time without those found before
_ROUNDS = 3
# an excess must not vanish if all its failures had been reported at once: a part of
# the bar for a watch, the whole bar for an alarm
_AT_ONCE = 0.25


@dataclass(frozen=True, slots=True)
class _Rows:
    """Failures of all rows by build month, (R, K), and what goes with them."""

    observed: Floats
    expected: Floats
    at_once: Floats
    units: Floats
    uncertainty: Floats
    noise: Floats
    one_model: Bools

    def reported_at_once(self, chosen: Indices) -> _Rows:
        """Return some rows, with what is expected had all been reported at once."""
        return _Rows(
            observed=self.observed[chosen],
            expected=self.at_once[chosen],
            at_once=self.at_once[chosen],
            units=self.units[chosen],
            uncertainty=self.uncertainty[chosen],
            noise=self.noise[chosen],
            one_model=self.one_model[chosen],
        )

    def within(self, months: Bools) -> _Rows:
        """Return the rows with no units outside the months of each, (R, K)."""
        return replace(self, units=np.where(months, self.units, 0.0))

    def with_noise(self, noise: Floats, component: Indices) -> _Rows:
        """Return the rows with another noise of each component."""
        return replace(self, noise=noise[component])

    def over(self, months: Bools, *, fading: bool = True) -> Runs:
        """Scan some months; those without units are stepped over row by row."""
        built = (self.units > 0) & months
        none = no_runs(len(built))
        found = {name: getattr(none, name).copy() for name in Runs.__slots__}
        alike: dict[bytes, list[int]] = {}
        for row, pattern in enumerate(built):
            alike.setdefault(pattern.tobytes(), []).append(row)
        for alike_rows in alike.values():
            of = np.array(alike_rows)
            month = np.flatnonzero(built[of[0]])
            runs = scan(
                self.observed[np.ix_(of, month)],
                self.expected[np.ix_(of, month)],
                self.uncertainty[of],
                self.noise[of],
                self.one_model[of],
                fading=fading,
            )
            # a run of -1 stays one
            place = np.append(month, -1)
            values = {name: getattr(runs, name) for name in Runs.__slots__}
            values |= {name: place[values[name]] for name in ("first", "last")}
            for name, value in values.items():
                found[name][of] = value
        return Runs(**found)


def rising_faults(views: Views, cutoffs: Sequence[int]) -> tuple[Month, ...]:
    """Judge every component, over all models and in each, at each month-end.

    Parameters
    ----------
    views : Views
        Failures and units.
    cutoffs : sequence of int
        Calendar months, in any order; each is judged by itself.

    Returns
    -------
    tuple of Month
        In the order of ``cutoffs``.

    Notes
    -----
    Of a younger maker the older half of the history sets the level. Build months of
    the older production that are an alarm themselves are left out of it, as long as
    half of it is left. The number of runs looked at, the uncertain level and the
    noise between months are all in the evidence, and the bars are such that few
    false signals come (see `claimlens.stats.rising.levels`).

    References
    ----------
    .. [1] Wu, Meeker (2002), Technometrics 44, 120-133.
    .. [2] Kulldorff (1997), Commun. Stat. Theory Methods 26, 1481-1496.
    .. [3] Siegmund (1985), Sequential Analysis.
    """
    return tuple(_judged(views, int(cutoff)) for cutoff in cutoffs)


def _judged(views: Views, cutoff: int) -> Month:
    view = views.at(cutoff)
    before, recent = _split(views, view)
    if not before.any() or view.exposed[:, before].sum() <= 0:
        oldest = int(recent.argmax()) if recent.any() else 0
        note = "no older production yet to set the level"
        return silent_month(view, oldest + views.first_build, note)
    expectation, rows = _expected(view, before)
    return _month(view, expectation, rows, recent, views.first_build)


def _split(views: Views, view: View) -> tuple[Bools, Bools]:
    """Return build months that set the level, and those that are looked at."""
    now = view.cutoff - views.first_build
    month = np.arange(views.n_builds)
    built = np.flatnonzero((view.units.sum(axis=0) > 0) & (month <= now))
    history = now - int(built[0]) + 1 if built.size else 0
    span = min(RECENT, history // 2)
    before = (month <= now - span) & (span >= FEWEST_MONTHS)
    return before, (month > now - span) & (month <= now)


def expected_at(views: Views, cutoff: int) -> tuple[View, Expectation]:
    """Return what is known at a month-end and what was to be expected of it.

    Parameters
    ----------
    views : Views
        Failures and units.
    cutoff : int
        Calendar month with older production to set the level.

    Returns
    -------
    view : View
    expectation : Expectation
    """
    view = views.at(cutoff)
    return view, _expected(view, _split(views, view)[0])[0]


def _expected(view: View, before: Bools) -> tuple[Expectation, _Rows]:
    """Return what to expect, faults of the older production left out of it."""
    older = np.tile(before, (view.failed.shape[0], 1))
    for _ in range(_ROUNDS):
        expectation = expect(view, older)
        rows = _rows(view, expectation)
        sound = _without_faults(rows, older)
        if (sound == older).all():
            break
        older = sound
    return expectation, rows


def _without_faults(rows: _Rows, older: Bools) -> Bools:
    """Take months that are an alarm out of the older production, (C, B).

    A fault must not hide in the noise that it makes itself: that is measured
    without the likeliest run of each component.
    """
    n_components = len(older)
    cells = (len(rows.units) - n_components) // n_components
    of = np.append(np.arange(n_components), np.repeat(np.arange(n_components), cells))
    month, considered = np.arange(older.shape[1]), np.asarray(older.any(axis=0))
    within = rows.within(older[of])
    runs = within.with_noise(np.zeros(n_components), of).over(considered, fading=False)
    first, last = (ends[:n_components, None] for ends in (runs.first, runs.last))
    outside = older & ~((month >= first) & (month <= last))
    noise = noise_between_months(
        rows.observed[:n_components], rows.expected[:n_components], outside
    )
    runs = within.with_noise(noise, of).over(considered, fading=False)
    sound = older.copy()
    bad = np.flatnonzero(runs.evidence >= alarm_bar(rows.one_model))
    # the clearest first, as long as half is left
    for row in bad[np.argsort(-runs.evidence[bad], kind="stable")]:
        left = sound[of[row]].copy()
        left[runs.first[row] : runs.last[row] + 1] = False
        if 2 * left.sum() >= considered.sum():
            sound[of[row]] = left
    return sound


def _rows(view: View, expectation: Expectation) -> _Rows:
    n_components, n_models, n_builds = view.failed.shape
    # one model is all models: no rows of its own
    cells = n_models if n_models > 1 else 0

    def stacked(values: Floats) -> Floats:
        single = values[:, :cells].reshape(n_components * cells, n_builds)
        return np.concatenate((values.sum(axis=1), single))

    old_enough = (view.units > 0).sum(axis=1) >= FEWEST_MONTHS
    units = view.units * old_enough[:, None]
    u = expectation.uncertainty
    return _Rows(
        observed=stacked(view.failed),
        expected=stacked(expectation.expected),
        at_once=stacked(expectation.at_once),
        units=np.concatenate(
            (
                np.tile(view.units.sum(axis=0), (n_components, 1)),
                np.tile(units[:cells], (n_components, 1)),
            )
        ),
        uncertainty=np.concatenate((u[:, 0], u[:, 1 : 1 + cells].ravel())),
        noise=np.concatenate((expectation.noise, np.repeat(expectation.noise, cells))),
        one_model=np.arange(n_components * (1 + cells)) >= n_components,
    )


def _month(
    view: View, expectation: Expectation, rows: _Rows, months: Bools, first_build: int
) -> Month:
    runs = rows.over(months)
    recent = (rows.expected * (months & (rows.units > 0))).sum(axis=1)
    watch = watch_bar(recent, one_model=rows.one_model)
    alarm = np.maximum(alarm_bar(rows.one_model), watch)
    at_once = np.zeros(len(watch))
    likely = np.flatnonzero(runs.evidence >= watch)
    at_once[likely] = rows.reported_at_once(likely).over(months).evidence
    level = ((runs.evidence >= watch) & (at_once >= _AT_ONCE * watch)).astype(np.int64)
    level += (level > 0) & (runs.evidence >= alarm) & (at_once >= watch)
    summed = np.cumsum(np.pad(rows.units, ((0, 0), (1, 0))), axis=1)
    row = np.arange(len(summed))
    found = runs.first >= 0
    few = (expectation.months < _OWN_MONTHS) | (expectation.claims < _OWN_CLAIMS)
    cells = (row.size - few.size) // max(few.size, 1)
    own = rows.noise * runs.expected / np.maximum(runs.last - runs.first + 1, 1)
    return Month(
        cutoff=view.cutoff,
        level=level,
        evidence=runs.evidence,
        watch=watch,
        alarm=alarm,
        at_once=at_once,
        first=np.where(found, runs.first + first_build, -1),
        last=np.where(found, runs.last + first_build, -1),
        observed=runs.observed,
        expected=runs.expected,
        units=np.where(
            found, summed[row, runs.last + 1] - summed[row, runs.first], 0.0
        ),
        uncertainty=runs.uncertainty,
        recent=recent,
        noisy=found & (own > 0.2),
        borrowed=np.concatenate((few, np.repeat(few, cells))),
        fleet_ratio=expectation.fleet_ratio,
        # where production ended long ago, that after the last one
        oldest=int(np.flatnonzero(np.append(months, True))[0]) + first_build,
        note="",
    )
