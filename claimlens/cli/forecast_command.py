"""The command about claims to come."""

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

__all__ = ["forecast_command"]


def forecast_command(
    by: Annotated[
        str,
        typer.Option(
            "--by",
            help="Grouping, comma list of component, failure_mode, supplier, model, "
            "model_year, region, generation, build_month, dealer; by default none.",
        ),
    ] = "",
    months: Annotated[
        int, typer.Option("--months", help="Months to come, 1 to 36.")
    ] = 12,
    total: Annotated[
        bool,
        typer.Option(
            "--total",
            help="One row for all months together; its limits are not sums of theirs.",
        ),
    ] = False,
    sales: Annotated[
        Path | None,
        typer.Option(
            "--sales",
            metavar="FILE",
            help="Planned sales: model, month, quantity of units that go into service.",
        ),
    ] = None,
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
    """Tell how many claims are still to come, month by month, with limits.

    Example:
        claimlens forecast --by component --months 6
    """
    with readable_errors(debug):
        opened = open_workspace(workspace)
        with busy("looking ahead"):
            result = opened.forecast(
                by=by,
                months=months,
                total=total,
                sales=sales,
                as_of=as_of,
                as_known=as_known,
                **filters_of(model, model_year, component, supplier, region),
            )
        deliver(result, form, output, replace)
