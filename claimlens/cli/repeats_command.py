"""The command about repairs that were needed again."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from claimlens.cli.options import (
    AsKnownOption,
    AsOfOption,
    ByOption,
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
from claimlens.cli.questions import ages_of
from claimlens.start import open_workspace

__all__ = ["repeats_command"]


def repeats_command(
    by: ByOption = "component",
    at: Annotated[
        str,
        typer.Option("--at", help="Months in service, comma list."),
    ] = "12,24",
    units: Annotated[
        bool,
        typer.Option(
            "--units",
            help="List the units that came back again and again for one component.",
        ),
    ] = False,
    odd: Annotated[
        bool,
        typer.Option(
            "--odd",
            help="List probable double claims and dealers out of line, as questions.",
        ),
    ] = False,
    least: Annotated[
        int,
        typer.Option(
            "--least", min=2, help="With --units: events of one component, or more."
        ),
    ] = 3,
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
    """Show repairs and cost per unit, repeat repairs and first-time fix.

    Example:
        claimlens repeats --by component --at 12,24
    """
    with readable_errors(debug):
        opened = open_workspace(workspace)
        filters = filters_of(model, model_year, component, supplier, region)
        with busy("following the repairs"):
            if odd:
                result = opened.odd_claims(as_of=as_of, as_known=as_known, **filters)
            elif units:
                result = opened.repeat_units(
                    least=least, as_of=as_of, as_known=as_known, **filters
                )
            else:
                result = opened.repeats(
                    by=by,
                    at=ages_of(at) or [],
                    as_of=as_of,
                    as_known=as_known,
                    **filters,
                )
        deliver(result, form, output, replace)
