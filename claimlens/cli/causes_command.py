"""The command that tells what a symptom turned out to be."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import pandas as pd
import typer

from claimlens.analysis.cautions import cautions_of
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
from claimlens.cli.screen import say
from claimlens.errors import InputError
from claimlens.start import open_workspace

__all__ = ["causes_command", "tell_cautions"]


def causes_command(
    text: Annotated[
        str | None,
        typer.Argument(metavar="TEXT", help='What the owner sees, as "display dead".'),
    ] = None,
    symptom: Annotated[
        str | None, typer.Option("--symptom", help="The same, as an option.")
    ] = None,
    generation: Annotated[
        str | None, typer.Option("--generation", help="Generation of the unit.")
    ] = None,
    age: Annotated[
        float | None, typer.Option("--age", help="Months in service of the unit.")
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
    """Tell what a symptom turned out to be, and what to check first.

    Example:
        claimlens causes "light dead" --age 8
    """
    with readable_errors(debug):
        if (text is None) == (symptom is None):
            raise InputError(
                "One symptom is needed, in words.",
                remedy='write what the owner sees: claimlens causes "display dead"',
            )
        with busy("reading the claims"):
            result = open_workspace(workspace).causes(
                str(text if symptom is None else symptom),
                generation=generation,
                age=age,
                as_of=as_of,
                as_known=as_known,
                **filters_of(model, model_year, component, None, region),
            )
        if form != "table":
            deliver(result, form, output, replace)
            return
        if result.empty:
            say("No claim has an established cause yet; none can be counted.")
            return
        deliver(_on_screen(result), form, output, replace)
        for note in result["note"].head(1):
            say(f"\n{note}" if note else "")
        tell_cautions(result["component"])


def _on_screen(result: pd.DataFrame) -> pd.DataFrame:
    """Return the columns that a person looks at."""
    repairs = (
        result["repairs_held"].astype(str)
        + " of "
        + result["repairs_followed"].astype(str)
    )
    return result.assign(**{"held 90 days": repairs})[
        [
            "component", "failure_mode", "claims", "matched", "share", "lower",
            "upper", "usual_share", "held 90 days", "check_order", "check_cost",
            "currency",
        ]
    ]  # fmt: skip


def tell_cautions(components: pd.Series) -> None:
    """Print the cautions for checks of some components."""
    lines = cautions_of(components.dropna())
    if not lines:
        return
    say("Before any check (local codes and licensed practice come first):")
    for heading, text in lines:
        say(f"  {heading}: {text}")
