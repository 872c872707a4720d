"""Commands that write reports and run the whole job."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from claimlens.analysis.alarms import Alarms
from claimlens.cli.danger import tell_alarms, tell_arrivals
from claimlens.cli.options import (
    AsKnownOption,
    AsOfOption,
    DebugOption,
    FolderOption,
    LanguageOption,
    ReplaceOption,
    WaitOption,
    busy,
    deliver,
    readable_errors,
    warn,
)
from claimlens.cli.report_output import (
    NoWorkbookOption,
    ReportFormOption,
    ReportOutputOption,
    deliver_report,
)
from claimlens.cli.screen import say
from claimlens.pipeline import Loaded
from claimlens.scheduled import Teller
from claimlens.start import make_folders, open_workspace
from claimlens.workspace import Workspace

__all__ = ["demo_command", "report_monthly_command", "run_command"]


def report_monthly_command(
    as_of: AsOfOption = None,
    as_known: AsKnownOption = None,
    form: ReportFormOption = "html",
    output: ReportOutputOption = None,
    no_workbook: NoWorkbookOption = False,
    language: LanguageOption = None,
    replace: ReplaceOption = False,
    workspace: FolderOption = Path(),
    debug: DebugOption = False,
) -> None:
    """Write the monthly report as one HTML file, with a workbook of its tables.

    Example:
        claimlens report monthly --as-of 2026-04-30
        claimlens report monthly --format csv --output tables
    """
    with readable_errors(debug):
        own = open_workspace(workspace)
        deliver_report(
            form,
            output,
            replace=replace,
            workbook=not no_workbook,
            write_page=lambda: own.report_monthly(
                output,
                as_of=as_of,
                as_known=as_known,
                overwrite=replace,
                workbook=not no_workbook,
                language=language,
            ),
            count=lambda: own.monthly_tables(as_of=as_of, as_known=as_known),
        )


def run_command(
    as_of: AsOfOption = None,
    fail_on_alarm: Annotated[
        bool,
        typer.Option(
            "--fail-on-alarm",
            help="Exit with 3 if a dangerous claim, a rising fault, or a file that is "
            "missing or broken is new since the last run.",
        ),
    ] = False,
    wait: WaitOption = 0.0,
    workspace: FolderOption = Path(),
    debug: DebugOption = False,
) -> None:
    """Load the inbox, say what is amiss, write reports and a summary; repeatable.

    Example:
        claimlens run --workspace claims-2026 --fail-on-alarm
    """
    with readable_errors(debug):
        code = _run(open_workspace(workspace), as_of, wait, fail_on_alarm)
        if code:
            raise typer.Exit(code)


def _run(
    workspace: Workspace, as_of: date | None, wait: float, fail_on_alarm: bool
) -> int:
    """Run the scheduled job, print what it did, and return its exit code."""
    loads: list[Loaded] = []
    alarms: list[Alarms] = []
    teller = Teller(
        on_arrivals=tell_arrivals,
        on_loaded=loads.append,
        on_alarms=alarms.append,
    )
    try:
        with busy("loading the inbox, counting and drawing"):
            outcome = workspace.run(
                as_of=as_of, wait=wait, fail_on_alarm=fail_on_alarm, teller=teller
            )
    finally:
        # what was loaded stays loaded, also where the report fails, and a danger does
        # not wait for the next run
        for loaded in loads:
            warn(loaded)
            deliver(loaded.frame(), "table", None, False)
        for found in alarms:
            tell_alarms(found)
    if outcome.expired:
        say(
            f"past their retention period: {outcome.expired} claims lost their texts "
            "and numbers; the counts stay (proof: log/erasures.jsonl)"
        )
    for name in outcome.removed:
        say(f"removed: {name}")
    say(f"summary: {outcome.summary}")
    say(f"report: {outcome.report}")
    return outcome.exit_code


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
    # a maker of exports has no place in the daily work
    from claimlens.demo import load_truth, make_world, write_exports, write_settings

    with readable_errors(debug):
        made = make_folders(folder)
        world = make_world(load_truth())
        write_exports(world, made / "inbox")
        write_settings(world, made)
        _run(open_workspace(made), None, 0.0, fail_on_alarm=False)
