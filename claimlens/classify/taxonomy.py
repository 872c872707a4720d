"""The components and failure modes that claims are sorted into."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from typing import Literal

from claimlens.classify.spelling import Speller, plain
from claimlens.errors import SettingsError

__all__ = [
    "NO_FAULT",
    "NO_FAULT_MODE",
    "UNCLASSIFIED",
    "Component",
    "FailureMode",
    "Taxonomy",
    "load_taxonomy",
    "read_rows",
    "shipped",
]

UNCLASSIFIED = "unclassified"
NO_FAULT = "none/no fault found"
NO_FAULT_MODE = "no fault found"

ModeKind = Literal["cause", "symptom", "verdict"]


@dataclass(frozen=True, slots=True)
class Component:
    """One component of the taxonomy.

    Parameters
    ----------
    name : str
        Its id, lower case, as it stands in results.
    group : str
        Components of one group can cause each other's symptoms.
    dead_mode : str or None
        Failure mode meant by a bare "does not work"; None where that phrase
        does not tell.
    carries_power : bool
        Whether its damage makes other components of its group look dead
        (a harness does, a charger does not).
    own_lead : bool
        Whether its moulded lead counts with it and not as wiring harness.
    control : bool
        Whether "I use it and the vehicle does not react" tells of its fault.
    """

    name: str
    group: str
    dead_mode: str | None
    carries_power: bool
    own_lead: bool
    control: bool


@dataclass(frozen=True, slots=True)
class FailureMode:
    """One failure mode; ``kind`` tells a cause from what the owner notices."""

    name: str
    kind: ModeKind


@dataclass(frozen=True, slots=True)
class Taxonomy:
    """Both lists and the free spellings that lead to them."""

    components: dict[str, Component]
    modes: dict[str, FailureMode]
    component_names: dict[str, str]
    mode_names: dict[str, str]
    _component_speller: Speller = field(repr=False, compare=False)
    _mode_speller: Speller = field(repr=False, compare=False)

    def component_for(self, text: object) -> str | None:
        """Return the component that a free spelling names.

        Parameters
        ----------
        text : object
            A cell such as ``"Battery-Pack"`` or ``"BATT"``; anything but a
            text counts as empty.

        Returns
        -------
        str or None
            The component's id; None where the spelling is not known.
        """
        return _look_up(text, self.component_names, self._component_speller)

    def mode_for(self, text: object) -> str | None:
        """Return the failure mode that a free spelling names, or None."""
        return _look_up(text, self.mode_names, self._mode_speller)


def shipped(name: str) -> str:
    """Return the text of a data file shipped with this room."""
    path = files("claimlens.classify").joinpath("data", name)
    return path.read_text(encoding="utf-8")


def read_rows(
    text: str, *, source: str, required: tuple[str, ...]
) -> list[tuple[int, dict[str, str]]]:
    """Read a CSV of the taxonomy or the terms, each row with its line.

    Parameters
    ----------
    text : str
        The file's text, with a header row.
    source : str
        Its name, for messages.
    required : tuple of str
        Columns that must be there.

    Returns
    -------
    list of (int, dict)
        Line number (header is 1) and the stripped cells by column name.

    Raises
    ------
    SettingsError
        If a required column is missing or a row has too many cells.
    """
    reader = csv.DictReader(text.lstrip("\ufeff").splitlines())
    missing = [name for name in required if name not in (reader.fieldnames or [])]
    if missing:
        raise SettingsError(
            f"The column {missing[0]} is missing.",
            source=source,
            line=1,
            remedy=f"give the header row these columns: {', '.join(required)}",
        )
    rows = []
    for row in reader:
        if None in row:
            raise SettingsError(
                "The row has more cells than the header.",
                source=source,
                line=reader.line_num,
                remedy="put quotation marks around cells that hold a comma",
            )
        rows.append((reader.line_num, {k: (v or "").strip() for k, v in row.items()}))
    return rows


def _text_of(path: Path | None, name: str) -> tuple[str, str]:
    """Return the text and name of the given file, else of the shipped one."""
    if path is None:
        return shipped(name), name
    try:
        return path.read_text(encoding="utf-8"), path.name
    except (OSError, UnicodeDecodeError) as error:
        raise SettingsError(
            f"The taxonomy file {path.name} cannot be read.",
            source=str(path),
            remedy="give a CSV file in UTF-8",
        ) from error


def _refuse_twice(seen: Iterable[str], name: str, source: str, line: int) -> None:
    if not name:
        raise SettingsError(
            "The row has no name.",
            source=source,
            line=line,
            remedy="write a name in its first column, or delete the row",
        )
    if plain(name) in map(plain, seen):
        raise SettingsError(
            f"{name!r} stands twice in the list.",
            source=source,
            line=line,
            remedy="keep one row for each name",
        )


def _read_modes(text: str, source: str) -> dict[str, FailureMode]:
    modes: dict[str, FailureMode] = {}
    for line, row in read_rows(text, source=source, required=("failure_mode",)):
        name = row["failure_mode"].lower()
        _refuse_twice(modes, name, source, line)
        kind = row.get("kind") or "cause"
        if kind not in ("cause", "symptom", "verdict"):
            raise SettingsError(
                f"The kind {kind!r} is not known.",
                source=source,
                line=line,
                column="kind",
                remedy="write cause, symptom or verdict",
            )
        modes[name] = FailureMode(name, kind)  # type: ignore[arg-type]  # checked above
    return modes


def _read_components(
    text: str, source: str, modes: dict[str, FailureMode], *, is_shipped: bool
) -> dict[str, Component]:
    components: dict[str, Component] = {}
    for line, row in read_rows(text, source=source, required=("component",)):
        name = row["component"].lower()
        _refuse_twice(components, name, source, line)
        dead_mode = (row.get("dead_mode") or "").lower() or None
        if is_shipped and dead_mode not in modes:
            # a workspace's own modes may have dropped it
            dead_mode = None
        if dead_mode is not None and dead_mode not in modes:
            raise SettingsError(
                f"The failure mode {dead_mode!r} is not in the list of modes.",
                source=source,
                line=line,
                column="dead_mode",
                remedy=f"use one of: {', '.join(modes)}",
            )
        components[name] = Component(
            name,
            row.get("group") or name,
            dead_mode,
            (row.get("carries_power") or "no").lower() == "yes",
            (row.get("own_lead") or "no").lower() == "yes",
            (row.get("control") or "no").lower() == "yes",
        )
    return components


def load_taxonomy(
    components_file: Path | None = None, modes_file: Path | None = None
) -> Taxonomy:
    """Load the taxonomy: the shipped one, or a workspace's own lists.

    Parameters
    ----------
    components_file : Path, optional
        CSV with the column ``component`` and, if wanted, ``group``,
        ``dead_mode``, ``names`` (free spellings, separated by ``|``), and
        ``carries_power``, ``own_lead``, ``control`` (yes, no).
    modes_file : Path, optional
        CSV with the column ``failure_mode`` and, if wanted, ``kind`` (cause,
        symptom, verdict) and ``names``.

    Returns
    -------
    Taxonomy
        Shipped spellings are kept for every id that the lists still hold.

    Raises
    ------
    SettingsError
        If a file cannot be read, lacks its column, or names an id twice.
    """
    modes_text, modes_source = _text_of(modes_file, "modes.csv")
    modes = _read_modes(modes_text, modes_source)
    parts_text, parts_source = _text_of(components_file, "components.csv")
    components = _read_components(
        parts_text, parts_source, modes, is_shipped=components_file is None
    )
    component_names = {plain(name): name for name in components}
    mode_names = {plain(name): name for name in modes}
    _add_own_names(parts_text, parts_source, "component", component_names)
    _add_own_names(modes_text, modes_source, "failure_mode", mode_names)
    required = ("kind", "id", "names")
    for _, row in read_rows(
        shipped("names.csv"), source="names.csv", required=required
    ):
        known, names = (
            (components.keys(), component_names)
            if row["kind"] == "component"
            else (modes.keys(), mode_names)
        )
        if row["id"] in known:
            for name in row["names"].split("|"):
                names.setdefault(plain(name), row["id"])
    return Taxonomy(
        components,
        modes,
        component_names,
        mode_names,
        Speller(component_names),
        Speller(mode_names),
    )


def _add_own_names(text: str, source: str, column: str, names: dict[str, str]) -> None:
    """Add the free spellings that a workspace's own list gives."""
    for line, row in read_rows(text, source=source, required=(column,)):
        own = row[column].lower()
        for name in (row.get("names") or "").split("|"):
            if not plain(name):
                continue
            taken = names.setdefault(plain(name), own)
            if taken != own:
                raise SettingsError(
                    f"The spelling {name.strip()!r} leads to {taken!r} and to {own!r}.",
                    source=source,
                    line=line,
                    column="names",
                    remedy="keep it in one of the two rows",
                )


def _look_up(text: object, names: dict[str, str], speller: Speller) -> str | None:
    if not isinstance(text, str):
        return None
    word = plain(text)
    if not word:
        return None
    found = names.get(word) or names.get(word.removesuffix("s"))
    if found is None:
        corrected = speller.correct(word)
        found = names.get(corrected) if corrected else None
    return found
