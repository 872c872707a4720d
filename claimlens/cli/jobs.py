"""Commands that write reports and run the whole job."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from claimlens.cli.options import (
    AsKnownOption,
    AsOfOption,
    DebugOption,
    FolderOption,
    OutputOption,
    ReplaceOption,
    WaitOption,
    busy,
    deliver,
    readable_errors,
    warn,
)
from claimlens.demo import load_truth, make_world, write_exports, write_settings
from claimlens.pipeline import Loaded
from claimlens.start import make_folders, open_workspace
from claimlens.workspace import Workspace

__all__ = ["demo_command", "report_monthly_command", "run_command"]


def report_monthly_command(
    as_of: AsOfOption = None,
    as_known: AsKnownOption = None,
    output: OutputOption = None,
    replace: ReplaceOption = False,
    workspace: FolderOption = Path(),
    debug: DebugOption = False,
) -> None:
    """Write the monthly report as one HTML file that opens offline.

    Example:
        claimlens report monthly --as-of 2026-04-30
    """
    with readable_errors(debug):
        with busy("counting and drawing"):
            path = open_workspace(workspace).report_monthly(
                output, as_of=as_of, as_known=as_known, overwrite=replace
            )
        typer.echo(str(path))


def run_command(
    as_of: AsOfOption = None,
    wait: WaitOption = 0.0,
    workspace: FolderOption = Path(),
    debug: DebugOption = False,
) -> None:
    """Load the inbox and write the monthly report; safe to repeat.

    Example:
        claimlens run --workspace claims-2026
    """
    with readable_errors(debug):
        _run(open_workspace(workspace), as_of, wait)


def _run(workspace: Workspace, as_of: date | None, wait: float) -> None:
    """Run the scheduled job and print its account and the report's path."""
    loads: list[Loaded] = []
    try:
        with busy("loading the inbox, counting and drawing"):
            outcome = workspace.run(as_of=as_of, wait=wait, on_loaded=loads.append)
    finally:
        # what was loaded stays loaded, also where the report fails
        for loaded in loads:
            warn(loaded)
            deliver(loaded.frame(), "table", None, False)
    typer.echo(f"report: {outcome.report}")


def demo_command(
    folder: Annotated[
        Path, typer.Argument(help="Folder to make; must not be a workspace yet.")
    ] = Path("claimlens-demo"),
    debug: DebugOption = False,
) -> None:
    """Make the demo workspace of an invented maker, then run everything.

    Example:
        claimlens demo claimlens-demo
    """
    with readable_errors(debug):
        made = make_folders(folder)
        world = make_world(load_truth())
        write_exports(world, made / "inbox")
        write_settings(world, made)
        _run(open_workspace(made), None, 0.0)
