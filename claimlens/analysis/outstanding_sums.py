"""What is outstanding, segment by segment: expected claims, amounts and draws."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.cost_claims import CostClaims
from claimlens.analysis.cost_draws import ClaimCosts
from claimlens.analysis.forecast_draws import Prospects
from claimlens.errors import InputError

__all__ = ["PARTS", "Key", "Outstanding", "Sum", "in_order", "plain"]

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Key = tuple[object, ...]

PARTS = (
    "reported and open",
    "failed, not yet reported",
    "to fail under cover",
    "shipped, not yet sold",
)
"""What is outstanding, part by part."""

_MOST_SUMS = 5_000


@dataclass(kw_only=True)
class Sum:
    """What is outstanding of one segment in one currency; amounts in cents.

    Parameters
    ----------
    claims : ndarray, shape (4,)
        Expected claims of each part.
    mean, later : ndarray, shape (4,)
        Expected amount of each part, at the rates of exchange of the cut-off and of
        a later day.
    drawn : ndarray of int, shape (4, D)
        Draws of it.
    """

    claims: Floats
    mean: Floats
    later: Floats
    drawn: Integers

    @property
    def expected(self) -> Integers:
        """Return the expected amounts in whole cents."""
        return np.rint(self.mean).astype(np.int64)


@dataclass(frozen=True, kw_only=True)
class Outstanding:
    """What is outstanding of every segment.

    Parameters
    ----------
    by : tuple of str
        Keys of the segments.
    sums : dict
        By the values of the keys and the currency.
    costs : CostClaims
        Claims reported by the cut-off.
    per_claim : ClaimCosts
        What claims cost.
    found : Prospects
        What the claims to come rest on.
    n_open : int
        Claims reported and open.
    paid : tuple of int
        Settled claims of the last 24 months that were paid, and refused.
    """

    by: tuple[str, ...]
    sums: dict[tuple[Key, str], Sum] = field(default_factory=dict)
    costs: CostClaims
    per_claim: ClaimCosts
    found: Prospects
    n_open: int
    paid: tuple[int, int]

    def add(
        self, place: tuple[Key, str, int], *, claims: float, mean: float, later: float
    ) -> None:
        """Add to what is expected of a segment, currency and part."""
        key, currency, part = place
        one = self.at(key, currency)
        one.claims[part] += claims
        one.mean[part] += mean
        one.later[part] += later

    def at(self, key: Key, currency: str) -> Sum:
        """Return the sum of a segment, made at first sight."""
        n_draws = self.found.n_draws
        if (key, currency) not in self.sums:
            if len(self.sums) >= _MOST_SUMS:
                raise InputError(
                    f"What is outstanding falls into more than {_MOST_SUMS:,} rows.",
                    remedy="ask by fewer keys, or with a filter",
                )
            self.sums[key, currency] = Sum(
                claims=np.zeros(len(PARTS)),
                mean=np.zeros(len(PARTS)),
                later=np.zeros(len(PARTS)),
                drawn=np.zeros((len(PARTS), n_draws), dtype=np.int64),
            )
        return self.sums[key, currency]


def plain(value: object) -> object:
    """Return a key as Python has it, None where it is missing."""
    if value is None or pd.isna(value):
        return None
    return value.item() if isinstance(value, np.generic) else value


def in_order(place: tuple[Key, str]) -> list[tuple[bool, str]]:
    """Return what to sort segments and currencies by; those without a value last."""
    key, currency = place
    return [(value is None, str(value)) for value in (*key, currency)]
