"""The command that writes the pack for a supplier."""

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

__all__ = ["report_supplier_command"]


def report_supplier_command(
    name: Annotated[str, typer.Argument(help="The supplier.")],
    as_of: AsOfOption = None,
    as_known: AsKnownOption = None,
    form: ReportFormOption = "html",
    output: ReportOutputOption = None,
    no_workbook: NoWorkbookOption = False,
    replace: ReplaceOption = False,
    workspace: FolderOption = Path(),
    debug: DebugOption = False,
) -> None:
    """Write the pack for a supplier as one HTML file, with a workbook of its claims.

    Names, addresses and other personal data are taken out, and so are dealers and
    other suppliers; what was made is looked through once more before it is written.

    Example:
        claimlens report supplier "Dunmarrow Controls" --as-of 2026-04-30
    """
    with readable_errors(debug):
        own = open_workspace(workspace)
        deliver_report(
            form,
            output,
            replace=replace,
            workbook=not no_workbook,
            write_page=lambda: own.report_supplier(
                name,
                output,
                as_of=as_of,
                as_known=as_known,
                overwrite=replace,
                workbook=not no_workbook,
            ),
            count=lambda: own.supplier_tables(name, as_of=as_of, as_known=as_known),
        )
