"""The command about spare parts."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import pandas as pd
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

__all__ = ["spares_command"]


def spares_command(
    stock: Annotated[
        Path | None,
        typer.Option(
            "--stock",
            metavar="FILE",
            help="What is on the shelf, as text or workbook: columns part_no, on_hand "
            "and, as known, on_order, minimum_order, pack_size, lead_time_days, "
            "last_order_date (of a part going out of production).",
        ),
    ] = None,
    service_level: Annotated[
        float | None,
        typer.Option(
            "--service-level",
            help="Chance that what is held lasts until the next delivery, 0.5 to "
            "0.999; by default that of the settings (0.95).",
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
    """Tell how many of each spare part to hold, to order and to buy last.

    Example:
        claimlens spares --service-level 0.95
    """
    with readable_errors(debug):
        opened = open_workspace(workspace)
        with busy("looking ahead"):
            result = opened.spares(
                stock=stock,
                service_level=service_level,
                as_of=as_of,
                as_known=as_known,
                **filters_of(model, model_year, component, supplier, region),
            )
        if form == "table" and output is None and sys.stdout.isatty():
            result = _on_screen(result)
        deliver(result, form, output, replace)


def _on_screen(result: pd.DataFrame) -> pd.DataFrame:
    """Return the columns that fit a screen."""
    return result[
        [
            "part_no", "description", "demand_mean", "quantity_to_hold", "runs_out",
            "runs_out_at_half", "on_hand", "on_order", "order", "last_buy",
            "lead_time_days",
        ]
    ]  # fmt: skip
