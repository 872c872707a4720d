"""The command about money set aside."""

from __future__ import annotations

from datetime import date
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
    parse_day,
    readable_errors,
)
from claimlens.errors import InputError
from claimlens.start import open_workspace

__all__ = ["reserve_command"]


def reserve_command(
    by: Annotated[
        str,
        typer.Option(
            "--by",
            help="Grouping, comma list of model, model_year, region, generation, "
            "component; by default none.",
        ),
    ] = "",
    life: Annotated[
        bool,
        typer.Option(
            "--life",
            help="Add what was paid so far, and what the units cost over their life.",
        ),
    ] = False,
    without: Annotated[
        str,
        typer.Option(
            "--without",
            metavar="CHANGE",
            help="Add what would be outstanding had an engineering change not been "
            "made, and what it saves; comma list.",
        ),
    ] = "",
    movement: Annotated[
        bool,
        typer.Option(
            "--movement",
            help="How the reserve moved since --from: opening, new sales, paid, "
            "re-estimate, closing.",
        ),
    ] = False,
    since: Annotated[
        date | None,
        typer.Option(
            "--from",
            parser=parse_day,
            metavar="DATE",
            help="Day of the opening of the movement.",
        ),
    ] = None,
    sales: Annotated[
        Path | None,
        typer.Option(
            "--sales",
            help="CSV file with sales values (month, value, currency), for shares of "
            "sales in the movement.",
        ),
    ] = None,
    run_off: Annotated[
        bool,
        typer.Option(
            "--run-off",
            help="Claims and cost by age, run off with chain-ladder factors.",
        ),
    ] = False,
    months: Annotated[
        int | None,
        typer.Option(
            "--months", help="Months in a row of the run-off, 1 to 24; by default 3."
        ),
    ] = None,
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
    """Tell what units in the field still cost under cover, with limits.

    Example:
        claimlens reserve --by model_year
        claimlens reserve --by component --life --without EC-0231
        claimlens reserve --movement --from 2025-12-31
        claimlens reserve --run-off --months 12
    """
    with readable_errors(debug):
        given = [
            name
            for name, value in (
                ("--by", by if run_off else ""),
                ("--life", life and (movement or run_off)),
                ("--without", without if movement or run_off else ""),
                ("--from", since if not movement else None),
                ("--sales", sales if not movement else None),
                ("--months", months if not run_off else None),
                ("--run-off", run_off and movement),
            )
            if value
        ]
        if given:
            raise InputError(
                f"{given[0]} does not go with the rest.",
                remedy="--from and --sales go with --movement, --months with --run-off",
            )
        if movement and since is None:
            raise InputError(
                "A movement needs the day of its opening.",
                remedy="name it with --from YYYY-MM-DD",
            )
        opened = open_workspace(workspace)
        wanted = filters_of(model, model_year, component, None, region)
        with busy("adding up what is outstanding"):
            if movement:
                result = opened.provision(
                    since=since,
                    by=by,
                    sales=sales,
                    as_of=as_of,
                    as_known=as_known,
                    **wanted,
                )
            elif run_off:
                result = opened.run_off(
                    months=months or 3, as_of=as_of, as_known=as_known, **wanted
                )
            else:
                result = opened.reserve(
                    by=by,
                    life=life,
                    without=without,
                    as_of=as_of,
                    as_known=as_known,
                    **wanted,
                )
        deliver(result, form, output, replace)
