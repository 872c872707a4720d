"""The commands about faults that rise."""

from __future__ import annotations

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
    WaitOption,
    busy,
    deliver,
    filters_of,
    parse_day,
    readable_errors,
)
from claimlens.cli.screen import say, tell
from claimlens.start import open_workspace

__all__ = ["SIGNALS_COMMANDS", "signals_app"]

SIGNALS_COMMANDS = ("acknowledge",)

signals_app = typer.Typer(
    help="List the faults that rise beyond chance, or acknowledge one.",
    invoke_without_command=True,
)


@signals_app.callback(invoke_without_command=True)
def signals_command(
    context: typer.Context,
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
    """List the faults that rise beyond chance among recent production.

    Example:
        claimlens signals --format json
    """
    if context.invoked_subcommand is not None:
        return
    with readable_errors(debug):
        with busy("judging recent production"):
            result = open_workspace(workspace).signals(
                as_of=as_of,
                as_known=as_known,
                **filters_of(model, model_year, component, None, region),
            )
        if form != "table":
            deliver(result, form, output, replace)
            return
        if result.empty:
            tell("nothing rises beyond chance")
            return
        deliver(_on_screen(result), form, output, replace)
        for row in result[result["detail_of"].isna()].itertuples():
            say(f"\n{str(row.level).upper()}, {row.state}: {row.why}.")
            if row.note:
                say(f"  note: {row.note}")


def _on_screen(result: pd.DataFrame) -> pd.DataFrame:
    """Return the columns that a person looks at."""
    return result[
        [
            "component", "model", "level", "state", "since", "from_date", "to_date",
            "rate_ratio", "lower", "upper", "claims", "expected", "units", "cost",
            "currency",
        ]
    ]  # fmt: skip


@signals_app.command("acknowledge")
def acknowledge_command(
    component: Annotated[
        str, typer.Argument(metavar="COMPONENT", help="Component of the signal.")
    ],
    by: Annotated[str, typer.Option("--by", help="Who says so.")],
    reason: Annotated[str, typer.Option("--reason", help="Why it need not speak.")],
    model: Annotated[
        str | None,
        typer.Option("--model", help="A signal of this model; all models by default."),
    ] = None,
    until: Annotated[
        str | None,
        typer.Option(
            "--until", metavar="DATE", help="Holds up to this day; else until it grows."
        ),
    ] = None,
    as_of: AsOfOption = None,
    wait: WaitOption = 0.0,
    workspace: FolderOption = Path(),
    debug: DebugOption = False,
) -> None:
    """Say that a rising fault is known, by whom, why and until when.

    Example:
        claimlens signals acknowledge motor --by "R. Lind" --reason "part ordered"
    """
    with readable_errors(debug):
        with busy("judging recent production"):
            after = open_workspace(workspace).acknowledge(
                component,
                by=by,
                reason=reason,
                model=model,
                until=None if until is None else parse_day(until),
                as_of=as_of,
                wait=wait,
            )
        deliver(_on_screen(after), "table", None, False)
