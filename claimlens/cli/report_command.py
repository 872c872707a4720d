"""The command that writes the dossier of one component."""

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
    readable_errors,
)
from claimlens.cli.report_output import (
    NoWorkbookOption,
    ReportFormOption,
    ReportOutputOption,
    deliver_report,
)
from claimlens.start import open_workspace

__all__ = ["report_component_command"]


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
    form: ReportFormOption = "html",
    output: ReportOutputOption = None,
    no_workbook: NoWorkbookOption = False,
    replace: ReplaceOption = False,
    workspace: FolderOption = Path(),
    debug: DebugOption = False,
) -> None:
    """Write the dossier of one component's fault, with a workbook of its tables.

    Example:
        claimlens report component "wiring harness" --as-of 2026-04-30
    """
    with readable_errors(debug):
        own = open_workspace(workspace)
        deliver_report(
            form,
            output,
            replace=replace,
            workbook=not no_workbook,
            write_page=lambda: own.report_component(
                name,
                output,
                as_of=as_of,
                as_known=as_known,
                overwrite=replace,
                internal=internal,
                workbook=not no_workbook,
            ),
            count=lambda: own.component_tables(
                name, as_of=as_of, as_known=as_known, internal=internal
            ),
        )
