"""The command about reports that are still to come."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from claimlens.cli.options import (
    AsKnownOption,
    AsOfOption,
    ComponentOption,
    DebugOption,
    FolderOption,
    FormatOption,
    ModelOption,
    ModelYearOption,
    OutputOption,
    RegionOption,
    ReplaceOption,
    SupplierOption,
    busy,
    deliver,
    filters_of,
    readable_errors,
)
from claimlens.start import open_workspace

__all__ = ["lag_command"]


def lag_command(
    by: Annotated[
        str,
        typer.Option(
            "--by",
            help="Grouping, comma list of model, model_year, component, failure_mode, "
            "region, generation, build_month; by default none.",
        ),
    ] = "",
    delays: Annotated[
        bool,
        typer.Option(
            "--delays",
            help="Show the share reported by months after the failure instead.",
        ),
    ] = False,
    as_of: AsOfOption = None,
    as_known: AsKnownOption = None,
    model: ModelOption = None,
    model_year: ModelYearOption = None,
    component: ComponentOption = None,
    supplier: SupplierOption = None,
    region: RegionOption = None,
    form: FormatOption = "table",
    output: OutputOption = None,
    replace: ReplaceOption = False,
    workspace: FolderOption = Path(),
    debug: DebugOption = False,
) -> None:
    """Show claims by month of failure, completed for the reports still to come.

    Example:
        claimlens lag --by region --format csv
    """
    with readable_errors(debug):
        with busy("counting late reports"):
            result = open_workspace(workspace).lag(
                by=by,
                delays=delays,
                as_of=as_of,
                as_known=as_known,
                **filters_of(model, model_year, component, supplier, region),
            )
        deliver(result, form, output, replace)
