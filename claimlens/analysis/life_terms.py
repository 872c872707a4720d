"""What is asked of a life, and how its figures are worded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from claimlens.analysis.question import ages_asked
from claimlens.errors import InputError
from claimlens.settings import Settings

__all__ = [
    "BEYOND",
    "BORROWED",
    "ELSEWHERE",
    "SHAPES",
    "KnownShape",
    "LifeAsked",
    "life_asked",
    "share_text",
]

BORROWED: Literal["component"] = "component"
"""Asks for the shape of the same component outside the segment."""

KnownShape = float | Literal["component"] | None

ELSEWHERE = 20
"""Failures that a shape from elsewhere must rest on."""

SHAPES = (1.0, 0.7, 1.5)
"""Shapes at which a segment with few failures is judged: level, falling, rising."""

BEYOND = 1.5
"""No figure is given beyond so many times the oldest observed age."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LifeAsked:
    """The checked arguments of a question about lives.

    Parameters
    ----------
    fewest : int
        Failures that a fit with two parameters needs.
    known_shape : float, "component" or None
        The shape that is held; from the same component elsewhere; or free.
    at : tuple of float
        Months in service at which the share failed is asked for.
    mean_unbiased : bool
        Whether to show the shape times (r - 1) / r beside the plain one.
    prone : bool
        Whether to show the share of prone units.
    """

    fewest: int
    known_shape: KnownShape = None
    at: tuple[float, ...] = ()
    mean_unbiased: bool = False
    prone: bool = False


def life_asked(
    settings: Settings,
    *,
    min_failures: int | None,
    known_shape: KnownShape,
    at: Sequence[float] | None,
    mean_unbiased: bool,
    prone: bool,
) -> LifeAsked:
    """Check what is asked of lives.

    Parameters
    ----------
    settings : Settings
        For the failures that a fit needs, unless given.
    min_failures, known_shape, at, mean_unbiased, prone
        As for ``life``.

    Returns
    -------
    LifeAsked
        Ages sorted, each once.

    Raises
    ------
    InputError
        If a number lies outside its range, or the shape is held and asked for.
    """
    fewest = settings.life.min_failures if min_failures is None else min_failures
    if fewest < 3:
        raise InputError(f"a life fit needs at least 3 failures; got {fewest}")
    if known_shape not in (None, BORROWED) and (
        isinstance(known_shape, str) or not 0.05 <= known_shape <= 20
    ):
        raise InputError(
            f"a known shape must lie between 0.05 and 20; got {known_shape}",
            remedy=f"write it as in --known-shape 1.5, or {BORROWED} for that of "
            "the same component elsewhere",
        )
    if known_shape is not None and (mean_unbiased or prone):
        raise InputError(
            "With a known shape there is no shape to estimate.",
            remedy="leave out --known-shape, or --mean-unbiased and --prone",
        )
    months = ages_asked(at, example="12,24") if at else []
    return LifeAsked(
        fewest=fewest,
        known_shape=known_shape,
        at=tuple(months),
        mean_unbiased=mean_unbiased,
        prone=prone,
    )


def share_text(share: float) -> str:
    """Print a share as per cent with two digits that count."""
    percent = 100.0 * share
    return f"{percent:.1f} %" if percent >= 10 else f"{percent:.2g} %"
