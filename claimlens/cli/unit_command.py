"""The command that tells everything about one unit."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Annotated, Literal, cast

import pandas as pd
import typer

from claimlens import handover
from claimlens.analysis.unit_parts import Record
from claimlens.cli.causes_command import tell_cautions
from claimlens.cli.options import (
    AsKnownOption,
    AsOfOption,
    DebugOption,
    FolderOption,
    OutputOption,
    ReplaceOption,
    busy,
    readable_errors,
)
from claimlens.cli.screen import write_data
from claimlens.marks import visible
from claimlens.start import open_workspace

__all__ = ["unit_command"]

# the most of each list that a screen shows
_MOST = 40


def unit_command(
    serial: Annotated[
        str, typer.Argument(metavar="SERIAL", help="Serial of the unit.")
    ],
    symptom: Annotated[
        str | None,
        typer.Option(
            "--symptom", help='What its owner sees, as "display dead": what to check.'
        ),
    ] = None,
    as_of: AsOfOption = None,
    as_known: AsKnownOption = None,
    form: Annotated[
        Literal["table", "json"], typer.Option("--format", help="table or json.")
    ] = "table",
    output: OutputOption = None,
    replace: ReplaceOption = False,
    workspace: FolderOption = Path(),
    debug: DebugOption = False,
) -> None:
    """Tell cover, history, known faults, changes and fitting parts of one unit.

    Example:
        claimlens unit BT32506613 --symptom "display dead"
    """
    with readable_errors(debug):
        with busy("looking at the unit"):
            answer = open_workspace(workspace).unit(
                serial, symptom=symptom, as_of=as_of, as_known=as_known
            )
        if form == "json":
            text = handover.to_json(handover.nested(answer))
        else:
            text = visible("\n".join(_lines(answer)) + "\n")
        if output is not None:
            handover.write_text(text, output, overwrite=replace)
        else:
            write_data(text)
        if form == "table":
            tell_cautions(pd.Series(_components(answer), dtype="str"))


def _components(answer: Record) -> list[str]:
    """Return the components that somebody is going to look at."""
    rows = [*_rows(answer, "claims"), *_rows(answer, "checks")]
    return sorted({str(row["component"]) for row in rows})


def _rows(answer: Record, name: str) -> list[Record]:
    return cast("list[Record]", answer.get(name, []))


def _lines(answer: Record) -> Iterable[str]:
    """Put the answer into words, as of a card."""
    yield f"unit {answer['serial']}"
    for name in (
        "model", "model_year", "generation", "build_date", "build_lot", "plant",
        "dealer", "region", "in_service_date",
    ):  # fmt: skip
        yield f"  {name.replace('_', ' ')}: {_said(answer[name])}"
    covered = {True: "yes", False: "no", None: "not known"}[
        cast("bool | None", answer["covered"])
    ]
    yield f"covered on {answer['as_of']}: {covered}"
    yield f"  until {_said(answer['coverage_end'])}: {answer['coverage_reason']}"
    for row in _rows(answer, "covers"):
        word = "covered" if row["covered"] else "not covered"
        yield f"  {row['component']}: {word}, until {row['coverage_end']}"
    yield from _listed("claims", [_claim(row) for row in _rows(answer, "claims")])
    yield from _listed(
        "known faults of its production",
        [
            f"{row['component']}: {row['level']} since {row['since']}, "
            f"{_number(row['rate_ratio'])} times the expected rate"
            for row in _rows(answer, "known_faults")
        ],
    )
    yield from _listed(
        "engineering changes",
        [
            f"{row['change_no']} ({row['component']}): {row['state']}"
            + (f" on {row['done_on']}" if row["done_on"] else "")
            for row in _rows(answer, "changes")
        ],
    )
    yield from _listed(
        "parts that fit today", [_part(r) for r in _rows(answer, "parts")]
    )
    if "checks" in answer:
        checks = [_check(row) for row in _rows(answer, "checks")]
        yield from _listed("what it may be, most frequent first", checks)
        for row in _rows(answer, "checks")[:1]:
            yield f"  {row['note']}"
    if answer["note"]:
        yield f"note: {answer['note']}"


def _listed(heading: str, lines: list[str]) -> Iterable[str]:
    yield f"{heading}: {'none' if not lines else len(lines)}"
    for line in lines[:_MOST]:
        yield f"  {line}"
    if len(lines) > _MOST:
        yield f"  and {len(lines) - _MOST} more; --format json lists all"


def _claim(row: Record) -> str:
    told = f"{row['claim_no']}, failed {row['failed_on']}: {row['component']}"
    told += f", {row['failure_mode']}; " + (
        "covered" if row["covered"] else "not covered"
    )
    told += ", a repeat" if row["repeat"] else ""
    told += ", DANGEROUS" if row["dangerous"] else ""
    return f"{told} ({_said(row['status'])}, counts as: {row['counts_as']})"


def _part(row: Record) -> str:
    told = f"{row['component']}: {row['part_no']} {_said(row['description'])}"
    told += f", in place of {row['replaces']}" if row["replaces"] else ""
    return f"{told} ({row['note']})" if row["note"] else told


def _check(row: Record) -> str:
    share = f"{cast('float', row['share']):.0%}"
    return (
        f"{row['component']}, {row['failure_mode']}: {row['claims']} of "
        f"{row['matched']}, about {share}; check {row['check_order']}"
    )


def _number(value: object) -> str:
    return f"{cast('float', value):.2g}"


def _said(value: object) -> str:
    return "-" if value is None else str(value)
