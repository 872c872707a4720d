"""The commands that hand claims to a person and take the answers back."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from claimlens.cli.options import (
    AsOfOption,
    DebugOption,
    FolderOption,
    FormatOption,
    OutputOption,
    ReplaceOption,
    WaitOption,
    busy,
    deliver,
    parse_day,
    readable_errors,
)
from claimlens.cli.screen import say, tell
from claimlens.start import open_workspace

__all__ = ["REVIEW_COMMANDS", "review_app"]

review_app = typer.Typer(
    help="Hand claims to a person as a workbook, and take the answers back.",
    no_args_is_help=True,
)


def export_command(
    file: Annotated[Path, typer.Argument(help="Workbook to write, ending in .xlsx.")],
    queue: Annotated[
        int | None,
        typer.Option(
            "--queue", help="Dangerous, dear and unsure claims; by default 60."
        ),
    ] = None,
    audit: Annotated[
        int | None,
        typer.Option(
            "--audit", help="Claims drawn by chance from the rest; by default 40."
        ),
    ] = None,
    again: Annotated[
        int | None,
        typer.Option(
            "--again",
            help="Instead: so many reviewed claims, for a second reviewer.",
        ),
    ] = None,
    redraw: Annotated[
        bool,
        typer.Option(
            "--redraw", help="Draw anew what was drawn before and has not come back."
        ),
    ] = False,
    as_of: AsOfOption = None,
    wait: WaitOption = 0.0,
    replace: ReplaceOption = False,
    workspace: FolderOption = Path(),
    debug: DebugOption = False,
) -> None:
    """Write the claims worth a person's time as a workbook to fill.

    Example:
        claimlens review export review-april.xlsx --as-of 2026-04-30
    """
    with readable_errors(debug):
        with busy("drawing claims"):
            told = open_workspace(workspace).review_export(
                file,
                queue=queue,
                audit=audit,
                again=again,
                as_of=as_of,
                redraw=redraw,
                overwrite=replace,
                wait=wait,
            )
        say(told.text(), end="")


def apply_command(
    file: Annotated[Path, typer.Argument(help="The filled workbook.")],
    reviewer: Annotated[
        str | None,
        typer.Option(
            "--reviewer", metavar="NAME", help="Who answered, where a row names nobody."
        ),
    ] = None,
    reviewed_on: Annotated[
        date | None,
        typer.Option(
            "--reviewed-on",
            parser=parse_day,
            metavar="DATE",
            help="Day of the answers, where a row tells none.",
        ),
    ] = None,
    wait: WaitOption = 0.0,
    workspace: FolderOption = Path(),
    debug: DebugOption = False,
) -> None:
    """Take the answers of a filled workbook back, all or none.

    Example:
        claimlens review apply review-april.xlsx --reviewer "A. Person"
    """
    with readable_errors(debug):
        with busy("taking the answers"):
            applied = open_workspace(workspace).review_apply(
                file, reviewer=reviewer, reviewed_on=reviewed_on, wait=wait
            )
        say(applied.text(), end="")
        if len(applied.double.conflicts):
            deliver(applied.double.conflicts, "table", None, False)


def conflicts_command(
    form: FormatOption = "table",
    output: OutputOption = None,
    replace: ReplaceOption = False,
    workspace: FolderOption = Path(),
    debug: DebugOption = False,
) -> None:
    """List the claims on which two reviewers differ, with Cohen's kappa.

    Example:
        claimlens review conflicts --format csv
    """
    with readable_errors(debug):
        double = open_workspace(workspace).review_conflicts()
        told = double.text() or "no claim is reviewed by two\n"
        tell(told, end="")
        deliver(double.conflicts, form, output, replace)


def orphans_command(
    form: FormatOption = "table",
    output: OutputOption = None,
    replace: ReplaceOption = False,
    workspace: FolderOption = Path(),
    debug: DebugOption = False,
) -> None:
    """List the labels that name what is not in the taxonomy any more.

    Example:
        claimlens review orphans --format csv
    """
    with readable_errors(debug):
        deliver(open_workspace(workspace).review_orphans(), form, output, replace)


REVIEW_COMMANDS: dict[str, Callable[..., None]] = {
    "export": export_command,
    "apply": apply_command,
    "conflicts": conflicts_command,
    "orphans": orphans_command,
}
for _name, _command in REVIEW_COMMANDS.items():
    review_app.command(_name)(_command)
