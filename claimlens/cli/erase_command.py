"""The command that erases a person's data."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from claimlens.cli.options import (
    DebugOption,
    FolderOption,
    FormatOption,
    OutputOption,
    ReplaceOption,
    WaitOption,
    busy,
    deliver,
    readable_errors,
)
from claimlens.cli.screen import tell
from claimlens.start import open_workspace

__all__ = ["erase_command"]


def erase_command(
    serial: Annotated[
        list[str] | None,
        typer.Option("--serial", help="Unit, with all its claims; repeatable."),
    ] = None,
    claim: Annotated[
        list[str] | None,
        typer.Option("--claim", help="Claim: its number and texts; repeatable."),
    ] = None,
    past_retention: Annotated[
        bool,
        typer.Option(
            "--past-retention",
            help="Instead: claims older than [privacy] keep_months.",
        ),
    ] = False,
    reason: Annotated[
        str, typer.Option("--reason", help="Why, for the proof; name nobody in it.")
    ] = "",
    dry_run: Annotated[
        bool,
        typer.Option("--dry-run", help="Tell what would be touched; change nothing."),
    ] = False,
    yes: Annotated[
        bool, typer.Option("--yes", help="Do not ask on a terminal.")
    ] = False,
    wait: WaitOption = 0.0,
    form: FormatOption = "table",
    output: OutputOption = None,
    replace: ReplaceOption = False,
    workspace: FolderOption = Path(),
    debug: DebugOption = False,
) -> None:
    """Erase a person's texts and identifiers for good; the counts stay as they are.

    Example:
        claimlens erase --serial KVB2201326 --dry-run
    """
    with readable_errors(debug):
        opened = open_workspace(workspace)
        serials, claims = tuple(serial or ()), tuple(claim or ())
        if not dry_run and not yes:
            past = ["claims past their retention period"] if past_retention else []
            _ask([*serials, *claims, *past])
        with busy("erasing"):
            result = opened.erase(
                serials=serials,
                claims=claims,
                past_retention=past_retention,
                reason=reason,
                dry_run=dry_run,
                wait=wait,
            )
        if dry_run:
            tell("dry run: nothing was changed")
        deliver(result, form, output, replace)


def _ask(named: list[str]) -> None:
    """Ask on a terminal; elsewhere whoever wrote the command has decided."""
    if named and sys.stdin.isatty():
        typer.confirm(
            f"Erase what the workspace holds of {', '.join(named)}? "
            "It cannot be brought back.",
            abort=True,
            err=True,
        )
