"""Rates of many components over the same cells: Poisson counts, effects drawn in.

For each component the counts are Poisson with mean exposure x exp(x b). The effects
among b are normal about 0 with a variance each, found from the data (restricted
maximum likelihood by the fixed point of [1]_, in the general form of [2]_), so that an
effect that the data do not show vanishes. A variance leans on that of all components,
since few claims tell none. Given the variances, b is the mode [3]_, and its
uncertainty the inverse of the curvature there.

References
----------
.. [1] Schall (1991), Biometrika 78, 719-727.
.. [2] Wood, Fasiolo (2017), Biometrics 73, 1071-1081.
.. [3] Breslow, Clayton (1993), J. Am. Stat. Assoc. 88, 9-25.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import linalg
from threadpoolctl import threadpool_limits

from claimlens.stats.intensity.design import Design, crossed_all, gathered_all

__all__ = ["Fit", "fit_rates"]

Floats = NDArray[np.float64]

# degrees of freedom that all components together lend to a variance; a rule of ours
_LENT = 4.0
_SMALLEST, _GREATEST = 1e-6, 4.0
# rounds of one Newton step and one step of the variances; more change no forecast
_ROUNDS = 12
_LONGEST_STEP = 2.0
# components whose cells are added up together
_AT_ONCE = 8
# a walk has no level of its own; this keeps it near 0
_ANCHOR = 1e-2


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """The rate of one component.

    Parameters
    ----------
    design : Design
        Cells and effects.
    coefficients : ndarray, shape (p,)
        Slopes, then the levels of each effect.
    covariance : ndarray, shape (p, p)
        Of the coefficients, given the variances.
    variances : ndarray, shape (e,)
        Variance of each effect.
    root : ndarray, shape (p, p)
        The lower triangle whose square is the covariance.
    """

    design: Design
    coefficients: Floats
    covariance: Floats
    variances: Floats
    root: Floats

    def expected(self, exposure: Floats, offset: Floats) -> Floats:
        """Return the expected counts of the cells, shape (n,)."""
        linear = self.design.linear(self.coefficients) + offset
        return np.asarray(exposure * np.exp(linear))


class _Search:
    """One component on its way to its mode."""

    def __init__(
        self,
        design: Design,
        counts: Floats,
        exposure: Floats,
        *,
        offset: Floats,
        prior: tuple[Floats, Floats],
    ) -> None:
        self.design, self.counts, self.exposure = design, counts, exposure
        self.offset = offset
        self.prior_mean, self.prior_precision = prior[0], 1.0 / prior[1] ** 2
        self.variances = np.array([effect.variance for effect in design.effects])
        self.coefficients = np.zeros(design.n_coefficients)
        self.coefficients[: design.n_slopes] = self.prior_mean
        self.covariance = np.zeros((0, 0))
        self._penalties = [effect.penalty for effect in design.effects]

    def _precision(self) -> Floats:
        design = self.design
        total = np.zeros((design.n_coefficients, design.n_coefficients))
        slopes = np.arange(design.n_slopes)
        total[slopes, slopes] = self.prior_precision
        for i, effect in enumerate(design.effects):
            here = design.place(i)
            total[here, here] = self._penalties[i] / self.variances[i]
            if effect.kind == "walk":
                total[here, here] += _ANCHOR * np.eye(effect.n_levels)
        return total

    def expected(self) -> Floats:
        """Return the expected counts of the cells at the present coefficients."""
        linear = self.design.linear(self.coefficients) + self.offset
        return np.asarray(self.exposure * np.exp(np.minimum(linear, 30.0)))

    def step(self, crossed: Floats, missing: Floats) -> None:
        """Take one step towards the mode and keep the curvature there.

        ``crossed`` is the design's cross product weighted by what is expected, (p, p),
        ``missing`` what was counted beyond it, gathered by coefficient, (p,).
        """
        design = self.design
        precision = self._precision()
        centre = np.zeros(design.n_coefficients)
        centre[: design.n_slopes] = self.prior_mean
        slope = missing - precision @ (self.coefficients - centre)
        factor = linalg.cho_factor(crossed + precision, lower=True, check_finite=False)
        move = linalg.cho_solve(factor, slope, check_finite=False)
        longest = float(np.abs(move).max())
        if longest > _LONGEST_STEP:
            move *= _LONGEST_STEP / longest
        self.coefficients = self.coefficients + move
        self.covariance = linalg.cho_solve(
            factor, np.eye(design.n_coefficients), check_finite=False
        )

    def spread(self) -> tuple[Floats, Floats]:
        """Return squares and degrees of freedom of each effect, shape (e,)."""
        squares, freedom = [], []
        for i, effect in enumerate(self.design.effects):
            here = self.design.place(i)
            penalty, levels = self._penalties[i], self.coefficients[here]
            squares.append(float(levels @ penalty @ levels))
            unknown = float(np.sum(self.covariance[here, here] * penalty))
            freedom.append(max(effect.rank - unknown / self.variances[i], 1e-6))
        return np.array(squares), np.array(freedom)

    def fit(self) -> Fit:
        return Fit(
            design=self.design,
            coefficients=self.coefficients,
            covariance=self.covariance,
            variances=self.variances,
            root=linalg.cholesky(self.covariance, lower=True, check_finite=False),
        )


def fit_rates(
    designs: Sequence[Design],
    counts: Floats,
    exposure: Floats,
    *,
    offset: Floats,
    prior: tuple[Floats, Floats],
) -> list[Fit]:
    """Fit the rate of each component.

    Parameters
    ----------
    designs : sequence of Design, length C
        The same effects in the same order; covariates may differ.
    counts, exposure : ndarray, shape (C, n)
        Events and weighted exposure by component and cell.
    offset : ndarray, shape (n,)
        Added to the logarithm of every rate.
    prior : tuple of ndarray, each of shape (f,)
        Mean and standard deviation of the slopes before anything was seen; designs
        with fewer covariates take the first of them.

    Returns
    -------
    list of Fit
        One for each component.
    """
    searches = [
        _Search(
            design,
            counts[c],
            exposure[c],
            offset=offset,
            prior=(prior[0][: design.n_slopes], prior[1][: design.n_slopes]),
        )
        for c, design in enumerate(designs)
    ]
    # on matrices this small, threads wait for each other longer than they work
    with threadpool_limits(limits=1):
        _settle(searches)
        return [search.fit() for search in searches]


def _settle(searches: list[_Search]) -> None:
    """Take all components to their modes, and their variances with them."""
    for _ in range(_ROUNDS):
        _step(searches)
        found = [search.spread() for search in searches]
        squares = np.stack([one for one, _ in found])
        freedom = np.stack([one for _, one in found])
        # the middle one, so that one component cannot unsettle all the others
        pooled = np.median(squares / freedom, axis=0)
        for search, own, known in zip(searches, squares, freedom, strict=True):
            search.variances = np.clip(
                (own + _LENT * pooled) / (known + _LENT), _SMALLEST, _GREATEST
            )
    _step(searches)


def _step(searches: list[_Search]) -> None:
    """Take one step of all components, whose cells are added up together."""
    designs = [search.design for search in searches]
    # a few at a time, so that the columns stay in reach of the processor
    for start in range(0, len(searches), _AT_ONCE):
        some = slice(start, start + _AT_ONCE)
        expected = np.stack([search.expected() for search in searches[some]], axis=1)
        counts = np.stack([search.counts for search in searches[some]], axis=1)
        crossed = crossed_all(designs[some], expected, designs[0].sums)
        missing = gathered_all(designs[some], counts - expected, designs[0].sums)
        for search, one, other in zip(searches[some], crossed, missing, strict=True):
            search.step(one, other)
