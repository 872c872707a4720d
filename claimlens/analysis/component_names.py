"""Names of components: which there are, and which one was probably meant."""

from __future__ import annotations

from difflib import get_close_matches

from claimlens.classify.taxonomy import Taxonomy

__all__ = ["known_components", "nearest_component"]


def known_components(taxonomy: Taxonomy) -> list[str]:
    """Return the names that claims can be filed under."""
    return [*taxonomy.components, "unclassified"]


def nearest_component(name: str, taxonomy: Taxonomy) -> str:
    """Return advice for a name that is no component.

    Parameters
    ----------
    name : str
        As given.
    taxonomy : Taxonomy
        Components and their spellings.

    Returns
    -------
    str
        The component that was probably meant, else all of them.
    """
    known = known_components(taxonomy)
    near = taxonomy.component_for(name) or next(
        iter(get_close_matches(name.lower(), known, 1)), None
    )
    if near is not None:
        return f"did you mean {near!r}?"
    return f"components are {', '.join(known)}"
