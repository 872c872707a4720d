"""What made an earlier report."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

__all__ = ["MadeBy", "made_by"]

_TAG = re.compile(
    r'<meta name="claimlens-made" content="(\d{4}-\d{2}-\d{2}) '
    r'([\w.+-]+) ([0-9a-f]+) ([0-9a-f]*)">'
)


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeBy:
    """What an earlier report was made with.

    Parameters
    ----------
    as_of : date
        Its cut-off.
    version : str
        Version of claimlens.
    settings, terms : str
        First digits of the digests.
    """

    as_of: date
    version: str
    settings: str
    terms: str


def made_by(head: str) -> MadeBy | None:
    """Read what made a page; None where its head does not say it.

    Parameters
    ----------
    head : str
        The beginning of a page.
    """
    found = _TAG.search(head)
    if found is None:
        return None
    try:
        as_of = date.fromisoformat(found[1])
    except ValueError:
        return None
    return MadeBy(as_of=as_of, version=found[2], settings=found[3], terms=found[4])
