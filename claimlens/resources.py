"""Find the shipped SQL, templates and demo truth, in a wheel or a checkout."""

from __future__ import annotations

from pathlib import Path

from claimlens.errors import ClaimlensError

__all__ = ["find"]

_PACKAGE = Path(__file__).resolve().parent


def find(relative: str) -> Path:
    """Return the path of a shipped file or folder.

    Parameters
    ----------
    relative : str
        Path below the top level, such as ``"queries/marts/rates.sql"``.

    Returns
    -------
    Path
        Inside the installed package if it is there, else beside the package
        in a checkout.

    Raises
    ------
    ClaimlensError
        If neither place has it.
    """
    for root in (_PACKAGE, _PACKAGE.parent):
        candidate = root / relative
        if candidate.exists():
            return candidate
    raise ClaimlensError(
        f"The shipped file {relative} is missing.",
        remedy="install claimlens again; its files are incomplete",
    )
