"""Names of files made from names that anybody may have chosen."""

from __future__ import annotations

import hashlib
import re
import unicodedata

__all__ = ["file_name_of"]

_LONGEST = 60
_NOT_ALLOWED = re.compile(r"[^a-z0-9]+")
# eight digits of a digest, or what could be taken for them
_DIGEST_LIKE = re.compile(r"(?:^|-)[0-9a-f]{8}$")


def file_name_of(name: str) -> str:
    """Return a part of a file name for any name: letters, digits, hyphens.

    Parameters
    ----------
    name : str
        Such as a component or a supplier, which may hold anything.

    Returns
    -------
    str
        Small letters, so that systems that take no notice of capitals keep two
        names apart too. Words joined by hyphens where that says everything;
        else with eight digits of a digest behind, so that two names never
        share a file.
    """
    bare = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    words = _NOT_ALLOWED.sub("-", bare.lower()).strip("-")
    short = words[:_LONGEST].strip("-")
    if short and name == short.replace("-", " ") and not _DIGEST_LIKE.search(short):
        return short
    digest = hashlib.sha256(name.encode("utf-8", "surrogatepass")).hexdigest()[:8]
    return f"{short}-{digest}" if short else digest
