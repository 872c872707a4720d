"""From fitted rates to the claims of months to come, with their uncertainty."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claimlens.stats.intensity.fitting import Fit

__all__ = ["Outlook", "look_ahead"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """Expected claims of one component, and how they hang on its rate.

    Parameters
    ----------
    mean : ndarray, shape (R, T)
        Expected claims by row and month.
    slope : ndarray, shape (R, T, p)
        Change of ln ``mean`` with each coefficient of the fit.
    """

    mean: Floats
    slope: Floats

    def reported(self, share: Floats) -> Outlook:
        """Return the claims by month of report.

        Parameters
        ----------
        share : ndarray, shape (T, U)
            Share of the failures of a month that are reported in each month asked
            for.

        Returns
        -------
        Outlook
            With U months.
        """
        mean = self.mean @ share
        moved = np.einsum("rt,rtp,tu->rup", self.mean, self.slope, share, optimize=True)
        safe = np.where(mean > 0, mean, 1.0)
        return Outlook(mean=mean, slope=moved / safe[:, :, None])

    def gathered(self, place: Indices, n_rows: int) -> Outlook:
        """Return rows put together.

        Parameters
        ----------
        place : ndarray of int, shape (R,)
            Row in which each row goes.
        n_rows : int
            Rows that come out.

        Returns
        -------
        Outlook
            With ``n_rows`` rows.
        """
        mean = np.zeros((n_rows, self.mean.shape[1]))
        np.add.at(mean, place, self.mean)
        moved = np.zeros((n_rows, *self.slope.shape[1:]))
        np.add.at(moved, place, self.mean[:, :, None] * self.slope)
        safe = np.where(mean > 0, mean, 1.0)
        return Outlook(mean=mean, slope=moved / safe[:, :, None])

    def rows(self, which: Indices) -> Outlook:
        """Return some of the rows."""
        return Outlook(mean=self.mean[which], slope=self.slope[which])


def look_ahead(
    fit: Fit, exposure: Floats, row: Indices, *, n_rows: int, offset: Floats
) -> Outlook:
    """Return the expected claims of units by month.

    Parameters
    ----------
    fit : Fit
        With a design over the n kinds of units and months looked at.
    exposure : ndarray, shape (n,)
        Units under cover of each kind, in unit-months.
    row : ndarray of int, shape (n,)
        Row times month (R x T, flattened) in which each is counted.
    n_rows : int
        R x T.
    offset : ndarray, shape (n,)
        Added to the logarithm of the rate.

    Returns
    -------
    Outlook
        With one row of R x T months; reshape as needed.
    """
    expected = fit.expected(exposure, offset)
    mean = np.asarray(np.bincount(row, expected, minlength=n_rows), dtype=np.float64)
    design = fit.design
    parts = [
        np.bincount(row, expected * column, minlength=n_rows)[:, None]
        for column in design.covariates.T
    ]
    for effect in design.effects:
        both = row * effect.n_levels + effect.level
        parts.append(
            np.bincount(both, expected, minlength=n_rows * effect.n_levels).reshape(
                n_rows, effect.n_levels
            )
        )
    slope = np.concatenate(parts, axis=1) / np.where(mean > 0, mean, 1.0)[:, None]
    return Outlook(mean=mean[None, :], slope=slope[None, :, :])
