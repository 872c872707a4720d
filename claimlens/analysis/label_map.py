"""What an earlier taxonomy called otherwise, and labels that no name leads home."""

from __future__ import annotations

from dataclasses import replace
from difflib import get_close_matches
from pathlib import Path

import pandas as pd

from claimlens.classify.spelling import plain
from claimlens.classify.taxonomy import UNCLASSIFIED, Taxonomy, read_rows
from claimlens.errors import SettingsError

__all__ = ["ORPHAN_COLUMNS", "orphans_among", "read_label_map", "with_old_names"]

ORPHAN_COLUMNS = (
    "claim_no", "reviewer", "reviewed_on", "kind", "value", "read_as", "nearest",
)  # fmt: skip

_COMPONENT, _MODE = "component", "failure_mode"
# answers of a reviewer whom nothing told anything
_NO_NAMES = frozenset(("", "cannot tell", UNCLASSIFIED))


def read_label_map(
    path: Path, taxonomy: Taxonomy
) -> tuple[dict[str, str], dict[str, str]]:
    """Read the names of an earlier taxonomy.

    Parameters
    ----------
    path : Path
        CSV with the columns ``kind`` (component, failure_mode), ``old``, ``new``.
    taxonomy : Taxonomy
        In force.

    Returns
    -------
    tuple of (dict, dict)
        Old name to new, of components and of failure modes; lower case.

    Raises
    ------
    SettingsError
        If the file cannot be read, or a row names a kind that is none, a new name
        that is not in the taxonomy, or an old one that still is or stands twice.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise SettingsError(
            f"The label map {path.name} cannot be read.",
            source=str(path),
            remedy="give a CSV file in UTF-8 with the columns kind, old, new",
        ) from error
    maps: dict[str, dict[str, str]] = {_COMPONENT: {}, _MODE: {}}
    listed = {_COMPONENT: list(taxonomy.components), _MODE: list(taxonomy.modes)}
    rows = read_rows(text, source=str(path), required=("kind", "old", "new"))
    for line, row in rows:
        kind, old, new = (row[name].strip().lower() for name in ("kind", "old", "new"))
        fault = _fault_of(kind, old, new, listed, maps)
        if fault is not None:
            problem, column, remedy = fault
            raise SettingsError(
                problem, source=str(path), line=line, column=column, remedy=remedy
            )
        maps[kind][old] = new
    return maps[_COMPONENT], maps[_MODE]


def _fault_of(
    kind: str,
    old: str,
    new: str,
    listed: dict[str, list[str]],
    maps: dict[str, dict[str, str]],
) -> tuple[str, str, str] | None:
    """Return problem, column and remedy of a row that is wrong."""
    if kind not in maps:
        return (
            f"The kind {kind!r} is not known.",
            "kind",
            ("write component or failure_mode"),
        )
    names = listed[kind]
    if new not in names:
        near = get_close_matches(new, names, 1)
        return (
            f"{new!r} is no {kind} of the taxonomy.",
            "new",
            (
                f"did you mean {near[0]!r}?"
                if near
                else f"use one of: {', '.join(names)}"
            ),
        )
    if old in names or old in maps[kind]:
        why = "still stands in the taxonomy" if old in names else "is mapped twice"
        return f"The {kind} {old!r} {why}.", "old", "take the row away"
    return None


def with_old_names(taxonomy: Taxonomy, path: Path) -> Taxonomy:
    """Return the taxonomy with the names of an earlier one among its spellings.

    Parameters
    ----------
    taxonomy : Taxonomy
        In force.
    path : Path
        The label map.

    Returns
    -------
    Taxonomy
        Labels, parts and findings that say an old name lead to the new one.
    """
    components, modes = read_label_map(path, taxonomy)
    return replace(
        taxonomy,
        component_names={
            **taxonomy.component_names,
            **{plain(old): new for old, new in components.items()},
        },
        mode_names={
            **taxonomy.mode_names,
            **{plain(old): new for old, new in modes.items()},
        },
    )


def orphans_among(labels: pd.DataFrame, taxonomy: Taxonomy) -> pd.DataFrame:
    """Return the labels whose component or failure mode no name leads home.

    Parameters
    ----------
    labels : DataFrame
        ``claim_no, reviewer, reviewed_on, component, failure_mode``.
    taxonomy : Taxonomy
        In force.

    Returns
    -------
    DataFrame
        ``ORPHAN_COLUMNS``, one row a label and kind: ``read_as`` is what a
        spelling close to it makes of it, null where it counts for nothing, and
        ``nearest`` what the label map could lead it to.
    """
    kinds = (
        (_COMPONENT, taxonomy.component_names, taxonomy.component_for),
        (_MODE, taxonomy.mode_names, taxonomy.mode_for),
    )
    rows = []
    for label in labels.to_dict("records"):
        for kind, names, read in kinds:
            value = label[kind]
            if not isinstance(value, str) or value.strip().lower() in _NO_NAMES:
                continue
            word = plain(value)
            if word in names or word.removesuffix("s") in names:
                continue
            near = get_close_matches(value.lower(), sorted(set(names.values())), 1, 0.5)
            rows.append(
                (
                    *(label[name] for name in ORPHAN_COLUMNS[:3]),
                    *(kind, value, read(value), near[0] if near else None),
                )
            )
    return pd.DataFrame(rows, columns=list(ORPHAN_COLUMNS))
