"""The command about the cost of a claim."""

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
    busy,
    deliver,
    filters_of,
    readable_errors,
)
from claimlens.start import open_workspace

__all__ = ["severity_command"]


def severity_command(
    by: Annotated[
        str,
        typer.Option(
            "--by",
            help="Grouping, comma list of component, failure_mode, year, model, "
            "model_year, region, generation, dealer.",
        ),
    ] = "component",
    as_of: AsOfOption = None,
    as_known: AsKnownOption = None,
    model: ModelOption = None,
    model_year: ModelYearOption = None,
    component: ComponentOption = None,
    region: RegionOption = None,
    form: FormatOption = "table",
    output: OutputOption = None,
    replace: ReplaceOption = False,
    workspace: FolderOption = Path(),
    debug: DebugOption = False,
) -> None:
    """Show what a claim costs, by component and currency, with limits.

    Example:
        claimlens severity --by component,year
    """
    with readable_errors(debug):
        opened = open_workspace(workspace)
        with busy("adding up costs"):
            result = opened.severity(
                by=by,
                as_of=as_of,
                as_known=as_known,
                **filters_of(model, model_year, component, None, region),
            )
        deliver(result, form, output, replace)
