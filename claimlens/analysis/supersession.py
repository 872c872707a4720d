"""Which part is sent today in the place of another."""

from __future__ import annotations

from collections.abc import Mapping

__all__ = ["chain_of"]

# longer chains are circles
_LONGEST_CHAIN = 50


def chain_of(key: str, followed_by: Mapping[str, str]) -> tuple[list[str], bool]:
    """Return a part and its successors, and whether they come back to themselves.

    Parameters
    ----------
    key : str
        Part number in capitals.
    followed_by : mapping of str to str
        The part that supersedes each one that is superseded, both in capitals.

    Returns
    -------
    chain : list of str
        The part, then its successors; the last is sent today. Of a circle, or a part
        that leads into one, the part alone.
    is_circle : bool
        Whether no end was found.
    """
    chain = [key]
    while (following := followed_by.get(chain[-1])) is not None:
        if following in chain or len(chain) > _LONGEST_CHAIN:
            return chain[:1], True
        chain.append(following)
    return chain, False
