"""The command that counts claims without dividing them."""

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

__all__ = ["tally_command"]


def tally_command(
    by: Annotated[
        str,
        typer.Option(
            "--by",
            help="Columns of the claims, comma list: dealer, status, component, or "
            "any column that came in with them.",
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
    """Count claims by any of their columns; counts, not rates.

    Example:
        claimlens tally --by dealer,status
    """
    with readable_errors(debug):
        opened = open_workspace(workspace)
        filters = filters_of(model, model_year, component, None, region)
        with busy("counting claims"):
            result = opened.tally(by=by, as_of=as_of, as_known=as_known, **filters)
        deliver(result, form, output, replace)
