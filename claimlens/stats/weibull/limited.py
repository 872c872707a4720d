"""A life of which only a share of the units is prone: fit and test."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import ArrayLike, NDArray
from scipy import special

from claimlens.stats.checks import confidence_of, refuse
from claimlens.stats.unit_months import DAYS_PER_MONTH
from claimlens.stats.weibull.cells import Cells, prepare
from claimlens.stats.weibull.draws import Table, table_of
from claimlens.stats.weibull.maximise import Maximum, maximise
from claimlens.stats.weibull.mixture import Z_MAX, Peak, climb

__all__ = ["LimitedShare", "limited_share"]

Floats = NDArray[np.float64]

MIN_FAILURES = 20
BELOW = 0.5
"""Where the upper limit of the share must lie before the share may be used."""

NO_SIGN = 2.706
"""Up to this ratio the mixture of 0 and chi-square already puts p above 0.05, and
drawn fleets reach it rather more often than that: no draws are needed."""

_FIRST_DRAWS = 49
_CLEAR = 10
"""As many of the first draws beyond the ratio leave no doubt that p is large."""

_STARTS = (0.02, 0.2, 0.7)


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitedShare:
    """F(t) = share * (1 - exp(-(t / scale)**shape)), against a share of 1.

    Parameters
    ----------
    share : float
        Share of the units that are prone; NaN where not estimated, 1 where the
        data prefer that.
    share_interval : pair of float
        Likelihood-ratio limits; an upper limit of 1 is open.
    shape, scale : float
        Of the prone units.
    log_likelihood : float
        At the maximum.
    ratio : float
        2 (log-likelihood - that of the plain life), at least 0.
    p : float
        How often fleets without a limited share reach that ratio: by parametric
        bootstrap, or, where ``draws`` is 0, by the half-half mixture of 0 and
        chi-square with 1 degree of freedom.
    draws : int
        Bootstrap data sets used.
    shown : bool
        Whether the share may be used: p of at most 0.05 and an upper limit
        below 0.5.
    n_failed : float
        Failures.
    note : str
        Why there is no estimate, or why the share may not be used; else empty.
    """

    share: float
    share_interval: tuple[float, float]
    shape: float
    scale: float
    log_likelihood: float
    ratio: float
    p: float
    draws: int
    shown: bool
    n_failed: float
    note: str


def limited_share(
    ages: ArrayLike,
    failures: ArrayLike,
    censored: ArrayLike | None,
    *,
    lower: ArrayLike,
    entry: ArrayLike | None = None,
    exposed: ArrayLike | None = None,
    watched: ArrayLike | None = None,
    seed: int = 0,
    confidence: float = 0.95,
    draws: int = 199,
    width: float | None = DAYS_PER_MONTH,
) -> LimitedShare:
    """Ask whether only a share of the units is prone to fail.

    Parameters
    ----------
    ages : array_like, shape (A,)
        Upper ends of the cells.
    failures : array_like, shape (A,)
        Failures of one segment in (lower, age].
    censored : array_like, shape (A,), or None
        Units that left without a failure; None where ``exposed`` is given.
    lower : array_like, shape (A,)
        Lower ends of the cells.
    entry : array_like, shape (A,), optional
        As in `fit`.
    exposed : array_like, shape (A,), optional
        As in `fit`.
    watched : array_like, shape (A,), optional
        As in `fit_test`; with it and ``exposed`` p comes from drawn fleets.
    seed : int, default 0
        Of the draws.
    confidence : float, default 0.95
        Two-sided level of the limits.
    draws : int, default 199
        Bootstrap data sets.
    width : float, optional
        As in `fit_test`: draws are made in cells merged up to 2 per cent of
        their age; None takes the cells as given.

    Returns
    -------
    LimitedShare
        Not estimated, with the reason, below 20 failures or without a plain fit.

    Raises
    ------
    InputError
        As `fit` and `fit_test`.

    References
    ----------
    .. [1] Meeker (1987), Technometrics 29, 51-65.
    .. [2] Self, Liang (1987), J. Am. Stat. Assoc. 82, 605-610 (the mixture).
    .. [3] Davison, Hinkley (1997), Bootstrap Methods and their Application,
       ch. 4.
    """
    level = confidence_of(confidence)
    if np.ndim(failures) != 1:
        raise refuse("failures must be one row", f"shape {np.shape(failures)}")
    made = prepare(ages, failures, censored, lower=lower, entry=entry, exposed=exposed)
    cells, total = made.cells, float(made.failures.sum())
    table, merged = None, made.cells
    if watched is not None:
        if exposed is None:
            raise refuse("exposed must be given where watched is", "None")
        table, merged, _ = table_of(
            ages, failures, exposed, watched, lower=lower, width=width
        )
    if total < MIN_FAILURES:
        return _none(total, f"{total:g} failures, {MIN_FAILURES} needed")
    plain = maximise(cells)
    if not plain.converged[0]:
        return _none(total, "no plain fit to compare with")
    observed = total / (total + float(made.stayed[0]))
    # merged cells find the peak and the limits, given cells say how high it is
    near = merged if table is not None else cells
    rough = _best(near, maximise(near), observed)
    best = _higher(climb(cells, rough.at, with_share=True), _whole(plain))
    ratio = max(0.0, 2.0 * float(best.value[0] - plain.value[0]))
    p, drawn = _mixture_p(ratio), 0
    if table is not None and ratio > NO_SIGN:
        p, drawn = _bootstrap(table, merged, (seed, draws, observed))
    # where something is to be seen, the limits come from the given cells too
    where = (cells, best, plain) if ratio > NO_SIGN else (near, rough, maximise(near))
    limits = _limits(*where, level)
    return _judged(cells, best, limits, (ratio, p, drawn, total))


def _none(total: float, why: str) -> LimitedShare:
    """Return the result without an estimate."""
    return LimitedShare(
        share=np.nan,
        share_interval=(np.nan, np.nan),
        shape=np.nan,
        scale=np.nan,
        log_likelihood=np.nan,
        ratio=np.nan,
        p=np.nan,
        draws=0,
        shown=False,
        n_failed=total,
        note=why,
    )


def _mixture_p(ratio: float) -> float:
    """Return p from the half-half mixture of 0 and chi-square."""
    return 1.0 if ratio <= 0 else 0.5 * float(special.chdtrc(1.0, ratio))


def _best(cells: Cells, plain: Maximum, observed: float) -> Peak:
    """Return the best peak of each segment over several starts.

    The plain life is one of them: no peak lies below it.
    """
    shares = np.array([*_STARTS, min(0.05 + 2.0 * observed, 0.9)])
    # where the share seen to fail is near, a smaller one cannot be
    shares = np.repeat(np.maximum(shares, min(1.2 * observed, 0.98)), cells.n_segments)
    all_starts = np.tile(np.arange(cells.n_segments), len(_STARTS) + 1)
    start = np.stack(
        [
            np.log(np.maximum(plain.k[all_starts], 1.0)),
            plain.m[all_starts] - np.log(shares),
            special.logit(shares),
        ],
        axis=1,
    )
    many = cells.take(all_starts)
    near = climb(many, start, with_share=False, rounds=12)
    peaks = climb(many, near.at, with_share=True)
    best = _whole(plain)
    for place in np.split(np.arange(all_starts.size), len(_STARTS) + 1):
        best = _higher(best, peaks.take(place))
    return best


def _whole(plain: Maximum) -> Peak:
    """Return the plain life as the peak with all units prone."""
    return Peak(
        at=np.stack([np.log(plain.k), plain.m, np.full(plain.k.size, Z_MAX)], axis=1),
        value=plain.value,
        converged=plain.converged,
    )


def _higher(one: Peak, other: Peak) -> Peak:
    """Return the higher of two peaks of each segment."""
    with np.errstate(invalid="ignore"):
        better = other.value > one.value
    return Peak(
        at=np.where(better[:, None], other.at, one.at),
        value=np.where(better, other.value, one.value),
        converged=np.where(better, other.converged, one.converged),
    )


def _bootstrap(
    table: Table, cells: Cells, how: tuple[int, int, float]
) -> tuple[float, int]:
    """Return p from fleets drawn from the plain life, and their number."""
    seed, draws, observed = how
    plain = maximise(cells)
    real = float(_best(cells, plain, observed).value[0] - plain.value[0])
    chance = table.chances(plain.k, plain.m, cells.unit)[0]
    failed, passed = table.draw(np.random.default_rng(seed), chance, draws)
    tried = np.flatnonzero((failed > 0).sum(axis=1) >= 2)
    beyond = fitted = 0
    for part in (tried[:_FIRST_DRAWS], tried[_FIRST_DRAWS:]):
        if not part.size or beyond >= _CLEAR:
            break
        again = table.prepared(failed[part], passed[part]).cells
        refit = maximise(again, np.full(part.size, plain.k[0]))
        sound = np.flatnonzero(refit.converged)
        refit, again = refit.take(sound), again.take(sound)
        gains = _best(again, refit, observed).value - refit.value
        beyond += int((gains >= real * (1.0 - 1e-9)).sum())
        fitted += int(sound.size)
    return (1 + beyond) / (fitted + 1), fitted


def _judged(
    cells: Cells,
    best: Peak,
    limits: tuple[float, float],
    told: tuple[float, float, int, float],
) -> LimitedShare:
    """Put the result together, with the limits of the share."""
    ratio, p, drawn, total = told
    log_shape, m, z = best.at[0]
    whole = z >= Z_MAX - 1e-6
    low, high = limits
    shape = float(np.exp(log_shape))
    shown = p <= 0.05 and high < BELOW
    if shown:
        note = ""
    elif p <= 0.05:
        note = "a limited share and a falling hazard cannot be told apart yet"
    else:
        note = "no sign that only a share of the units is prone"
    return LimitedShare(
        share=1.0 if whole else float(special.expit(z)),
        share_interval=(low, high),
        shape=shape,
        scale=float(cells.unit * np.exp(-m / shape)),
        log_likelihood=float(best.value[0]),
        ratio=ratio,
        p=p,
        draws=drawn,
        shown=shown,
        n_failed=total,
        note=note,
    )


def _limits(
    cells: Cells, best: Peak, plain: Maximum, level: float
) -> tuple[float, float]:
    """Return the likelihood-ratio limits of the share."""
    goal = float(best.value[0]) - float(special.chdtri(1.0, 1.0 - level)) / 2.0
    upper = 1.0
    if float(plain.value[0]) < goal:
        upper = float(special.expit(_end(cells, best, goal, side=1.0)))
    return float(special.expit(_end(cells, best, goal, side=-1.0))), upper


def _end(cells: Cells, best: Peak, goal: float, *, side: float) -> float:
    """Return the logit of the share where its profile falls to the goal."""
    at = best.at[:1].copy()
    inner, step = float(at[0, 2]), 0.5
    # a share of all units stands a little above the greatest one below it
    if float(_held(cells, at, inner).value[0]) <= goal:
        return inner
    while True:
        outer = float(np.clip(inner + side * step, -Z_MAX, Z_MAX))
        near = _held(cells, at, outer)
        below = float(near.value[0]) - goal
        if below < 0 or abs(outer) >= Z_MAX:
            break
        at, inner, step = near.at, outer, step * 1.6

    def gap(z: float) -> float:
        return float(_held(cells, at, z).value[0]) - goal

    if below >= 0:
        return outer
    return float(scipy.optimize.brentq(gap, inner, outer, xtol=1e-8))


def _held(cells: Cells, at: Floats, z: float) -> Peak:
    """Return the peak for a share that is held."""
    start = at.copy()
    # for rare failures only the product of share and hazard is told
    start[:, 1] += np.log(special.expit(at[:, 2])) - np.log(special.expit(z))
    start[:, 2] = z
    return climb(cells, start, with_share=False)
