"""The quality of the classification on a terminal, section by section."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
from rich.console import Console
from rich.table import Table
from rich.text import Text

from claimlens import handover
from claimlens.analysis.quality_records import SECTIONS
from claimlens.cli.options import Format, deliver
from claimlens.cli.screen import write_drawn
from claimlens.marks import visible

__all__ = ["deliver_quality", "quality_text"]

_MONTHS_SHOWN = 12
_CONFUSIONS_SHOWN = 15
_NAMES_SHOWN = 12
_COUNTS = frozenset(("claims", "claims_estimated"))
_NUMBERS = frozenset(
    (
        "brier_score",
        "divergence",
        "expected_error",
        "expected_error_refitted",
        "kappa",
        "maximum_error",
        "rate_factor",
        "refitted_confidence",
        "stated_confidence",
    )
)
_NAMES = ("component", "language", "month", "group")


def deliver_quality(
    frame: pd.DataFrame, form: Format, output: Path | None, replace: bool
) -> None:
    """Print the quality in sections, or write it as flat records."""
    if form != "table":
        deliver(frame, form, output, replace)
        return
    text = quality_text(frame, wide=output is not None)
    if output is None:
        write_drawn(text)
    else:
        handover.write_text(text, output, overwrite=replace)


def quality_text(frame: pd.DataFrame, *, wide: bool) -> str:
    """Return the sections as text.

    Parameters
    ----------
    frame : DataFrame
        Of ``quality``.
    wide : bool
        Whether no line may be cut, as in a file.

    Returns
    -------
    str
        A heading, a sentence and a table for each section that has figures.
    """
    on_screen = Console(highlight=False)
    is_wide = wide or not on_screen.is_terminal
    console = Console(highlight=False, width=1000) if is_wide else on_screen
    with console.capture() as capture:
        for section, meaning in SECTIONS.items():
            rows = frame[frame["section"] == section]
            if rows.empty:
                continue
            console.print(
                Text(section.replace("_", " ").capitalize(), style="bold"),
                Text(meaning),
                sep="\n",
            )
            shown, left_out = _shown(rows)
            if len(shown):
                console.print(_table(shown))
            for line in left_out:
                console.print(Text(visible(line, one_line=True)))
            console.print()
    lines = [line.rstrip() for line in capture.get().splitlines()]
    return "\n".join(lines).rstrip("\n") + "\n"


def _shown(rows: pd.DataFrame) -> tuple[pd.DataFrame, list[str]]:
    """Return the rows worth a line, and what is said of the others."""
    is_empty = rows["value"].isna() & rows["component"].notna()
    said = _named_together(rows[is_empty])
    rows = rows[~is_empty]
    section = rows["section"].iloc[0] if len(rows) else ""
    if section == "confusion":
        confused = rows[rows["measure"] == "confused"]
        rows = confused.head(_CONFUSIONS_SHOWN)
        if confused.empty:
            said.append("nothing was confused among the reviewed claims")
        elif len(confused) > len(rows):
            said.append(f"and {len(confused) - len(rows)} rarer ones: --format csv")
    if section == "bounds":
        rows = rows[rows["measure"] == "claims"]
        if rows["lower"].notna().any():
            said.append("the same as factors of any rate: --format csv")
    alarm = rows["alarm"].fillna(False)
    dated = rows["month"].notna()
    newest = sorted(rows.loc[dated, "month"].unique())[-_MONTHS_SHOWN:]
    quiet = dated & ~alarm & (rows["language"].notna() | ~rows["month"].isin(newest))
    if quiet.any():
        said.append("more months, without an alarm: --format csv")
    return rows[~quiet], said


def _named_together(rows: pd.DataFrame) -> list[str]:
    """Name the components without a figure, measures with the same ones in one line."""
    lines: dict[tuple[str, str], list[str]] = {}
    for (measure, note), part in rows.groupby(["measure", "note"], sort=False):
        names = list(part["component"])
        listed = ", ".join(names)
        if len(names) > _NAMES_SHOWN:
            listed = f"{len(names)} components"
        key = (str(note), listed)
        lines.setdefault(key, []).append(_words(measure))
    return [
        f"{', '.join(measures)}: {note}: {names}"
        for (note, names), measures in lines.items()
    ]


def _table(rows: pd.DataFrame) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("what")
    for name in ("value", "lower", "upper", "n", "n_eff"):
        table.add_column(name, justify="right")
    table.add_column("note")
    for row in handover.records(rows):
        measure = str(row["measure"])
        figures = [_figure(row[name], measure) for name in ("value", "lower", "upper")]
        n = "" if row["n"] is None else f"{row['n']:,}"
        n_eff = "" if row["n_eff"] is None else f"{row['n_eff']:.0f}"
        note = str(row["note"])
        if row["alarm"]:
            note = f"ALARM; {note}" if note else "ALARM"
        cells = (_what(row), *figures, n, n_eff, note)
        table.add_row(*(Text(visible(cell, one_line=True)) for cell in cells))
    return table


def _what(row: dict[str, handover.Cell]) -> str:
    """Say in words what a figure is of."""
    names = [
        str(row[name])[:7] if name == "month" else str(row[name])
        for name in _NAMES
        if row[name] is not None
    ]
    if row["reviewed_as"] is not None:
        return f"{row['component']}, reviewed as {row['reviewed_as']}"
    return ", ".join([_words(str(row["measure"])), *names])


def _words(measure: str) -> str:
    return measure.replace("_", " ")


def _figure(cell: handover.Cell, measure: str) -> str:
    if not isinstance(cell, int | float):
        return ""
    if measure in _COUNTS:
        return f"{cell:,.0f}"
    if measure in _NUMBERS:
        return f"{cell:.3f}"
    return f"{100 * cell:.1f} %"
