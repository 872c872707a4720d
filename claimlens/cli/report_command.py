"""Commands that write a report on one subject."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from claimlens.cli.options import (
    AsKnownOption,
    AsOfOption,
    DebugOption,
    FolderOption,
    ReplaceOption,
    busy,
    readable_errors,
)
from claimlens.start import open_workspace

__all__ = ["PageOption", "report_component_command"]

PageOption = Annotated[
    Path | None,
    typer.Option("--output", help="File to write to; by default one in out/."),
]


def report_component_command(
    name: Annotated[str, typer.Argument(help="The component.")],
    as_of: AsOfOption = None,
    as_known: AsKnownOption = None,
    internal: Annotated[
        bool,
        typer.Option(
            "--internal",
            help="Keep texts and serials as they are; such a page must not leave the "
            "company.",
        ),
    ] = False,
    output: PageOption = None,
    no_workbook: Annotated[
        bool,
        typer.Option("--no-workbook", help="Write the page alone, no workbook beside."),
    ] = False,
    replace: ReplaceOption = False,
    workspace: FolderOption = Path(),
    debug: DebugOption = False,
) -> None:
    """Write the dossier of one component's fault, with a workbook of its tables.

    Example:
        claimlens report component "wiring harness" --as-of 2026-04-30
    """
    with readable_errors(debug):
        with busy("counting and drawing"):
            path = open_workspace(workspace).report_component(
                name,
                output,
                as_of=as_of,
                as_known=as_known,
                overwrite=replace,
                internal=internal,
                workbook=not no_workbook,
            )
        typer.echo(str(path))
        if not no_workbook:
            typer.echo(str(path.with_suffix(".xlsx")))
