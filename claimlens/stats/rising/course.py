"""How the failures of a run of build months came, against what was expected."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claimlens.stats.checks import refuse
from claimlens.stats.rising.counts import Views
from claimlens.stats.rising.faults import expected_at

__all__ = ["BuildRun", "RunCourse", "courses_of"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildRun:
    """Build months of a component.

    Parameters
    ----------
    component : int
        Its place.
    model : int or None
        Place of the only model that counts; None for all.
    first, last : int
        Calendar months of build.
    """

    component: int
    model: int | None
    first: int
    last: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RunCourse:
    """Failures of a run as they were known at the end of months.

    Parameters
    ----------
    months : tuple of int
        Calendar months, from the first build month of the run on.
    observed, expected : ndarray, shape (T,)
        Failures known at the end of each month, all build months of the run
        together.
    """

    months: tuple[int, ...]
    observed: Floats
    expected: Floats


def courses_of(
    views: Views, cutoff: int, runs: Sequence[BuildRun]
) -> tuple[RunCourse, ...]:
    """Follow runs of build months from their first month to a month-end.

    Parameters
    ----------
    views : Views
        Failures and units.
    cutoff : int
        Calendar month with older production to set the level.
    runs : sequence of BuildRun
        What to follow.

    Returns
    -------
    tuple of RunCourse
        In the order of ``runs``. The level is that of ``cutoff`` at every month-end,
        so that a course tells how failures came and not how the level was revised;
        what was exposed, and reported, is that of each month-end.

    Raises
    ------
    InputError
        If a run ends before it begins or begins after the cut-off.

    References
    ----------
    .. [1] Wu, Meeker (2002), Technometrics 44, 120-133 (expected reports by build
       period and age).
    """
    for run in runs:
        if not views.first_build <= run.first <= min(run.last, cutoff):
            raise refuse("a run must lie between the first build and the cut-off", run)
    if not runs:
        return ()
    newest, expectation = expected_at(views, cutoff)
    first = min(run.first for run in runs)
    known = {cutoff: newest} | {
        month: views.at(month) for month in range(first, cutoff)
    }
    courses = []
    for run in runs:
        months = tuple(range(run.first, cutoff + 1))
        place = slice(run.first - views.first_build, run.last - views.first_build + 1)
        models = slice(None) if run.model is None else slice(run.model, run.model + 1)
        rates = expectation.rates[run.component]
        level = np.einsum("mbqa,qa->mb", newest.exposed[models, place], rates)
        # models and the common course of all components, as the newest month has them
        factor = np.divide(
            expectation.expected[run.component, models, place],
            level,
            out=np.zeros(level.shape),
            where=level > 0,
        )
        observed, expected = [], []
        for month in months:
            view = known[month]
            observed.append(view.failed[run.component, models, place].sum())
            exposed = view.exposed[models, place]
            expected.append((np.einsum("mbqa,qa->mb", exposed, rates) * factor).sum())
        courses.append(
            RunCourse(
                months=months,
                observed=np.asarray(observed, dtype=np.float64),
                expected=np.asarray(expected, dtype=np.float64),
            )
        )
    return tuple(courses)
