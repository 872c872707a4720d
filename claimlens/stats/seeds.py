"""Seeds that depend on what is drawn for, and on nothing else."""

from __future__ import annotations

import hashlib

__all__ = ["seed_for"]


def seed_for(base: int, *names: str) -> int:
    """Return the seed of one draw.

    Adding a segment to an analysis leaves the draws of all others as they
    were, on every machine and under every version of Python.

    Parameters
    ----------
    base : int
        Seed of the settings.
    *names : str
        Analysis and segment keys, in order.

    Returns
    -------
    int
        From 0 to 2**63 - 1.
    """
    # lengths keep ("ab", "c") apart from ("a", "bc")
    text = "".join(f"{len(name)}:{name}" for name in (str(base), *names))
    digest = hashlib.blake2b(text.encode(), digest_size=8).digest()
    return int.from_bytes(digest, "big") >> 1
