"""The commands put together, and the entry point."""

from __future__ import annotations

import io
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

import claimlens
from claimlens.cli import files, jobs, questions
from claimlens.cli.causes_command import causes_command
from claimlens.cli.compare_command import compare_command
from claimlens.cli.erase_command import erase_command
from claimlens.cli.forecast_command import forecast_command
from claimlens.cli.lag_command import lag_command
from claimlens.cli.learn_command import learn_command
from claimlens.cli.repeats_command import repeats_command
from claimlens.cli.report_command import report_component_command
from claimlens.cli.reserve_command import reserve_command
from claimlens.cli.review_command import REVIEW_COMMANDS, review_app
from claimlens.cli.screen import say
from claimlens.cli.severity_command import severity_command
from claimlens.cli.signals_command import SIGNALS_COMMANDS, signals_app
from claimlens.cli.spares_command import spares_command
from claimlens.cli.supplier_command import report_supplier_command
from claimlens.cli.tally_command import tally_command
from claimlens.cli.terms_command import terms_command
from claimlens.cli.unit_command import unit_command
from claimlens.cli.upkeep_command import (
    backup_command,
    check_command,
    restore_command,
    verify_command,
)
from claimlens.cli.windows_command import change_command, windows_command
from claimlens.cli.words_command import words_command

__all__ = ["app", "main"]

app = typer.Typer(
    name="claimlens",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
report_app = typer.Typer(help="Write a report as one HTML file.", no_args_is_help=True)

_ON_A_WORKSPACE: dict[str, Callable[..., None]] = {
    "ingest": files.ingest_command,
    "classify": questions.classify_command,
    "learn": learn_command,
    "rates": questions.rates_command,
    "life": questions.life_command,
    "lag": lag_command,
    "repeats": repeats_command,
    "tally": tally_command,
    "causes": causes_command,
    "windows": windows_command,
    "change": change_command,
    "forecast": forecast_command,
    "spares": spares_command,
    "reserve": reserve_command,
    "severity": severity_command,
    "unit": unit_command,
    "words": words_command,
    "compare": compare_command,
    "terms": terms_command,
    "erase": erase_command,
    "run": jobs.run_command,
    "check": check_command,
    "verify": verify_command,
    "backup": backup_command,
    "restore": restore_command,
}

app.command("init")(files.init_command)
app.command("describe")(files.describe_command)
for _name, _command in _ON_A_WORKSPACE.items():
    app.command(_name)(_command)
app.command("demo")(jobs.demo_command)
_REPORTS: dict[str, Callable[..., None]] = {
    "monthly": jobs.report_monthly_command,
    "component": report_component_command,
    "supplier": report_supplier_command,
}
for _name, _command in _REPORTS.items():
    report_app.command(_name)(_command)
app.add_typer(report_app, name="report")
app.add_typer(review_app, name="review")
app.add_typer(signals_app, name="signals")


def _print_version(wanted: bool) -> None:
    if wanted:
        say(f"claimlens {claimlens.__version__}")
        raise typer.Exit


@app.callback()
def _options(
    context: typer.Context,
    workspace: Annotated[
        Path | None,
        typer.Option(
            "--workspace", help="Folder of the workspace, for any command that follows."
        ),
    ] = None,
    version: Annotated[
        bool,
        typer.Option(
            "--version",
            callback=_print_version,
            is_eager=True,
            help="Print the version.",
        ),
    ] = False,
) -> None:
    """Warranty claims: from messy exports to failure rates, lives and reports."""
    if workspace is not None:
        told = {"workspace": str(workspace)}
        context.default_map = {
            **dict.fromkeys(_ON_A_WORKSPACE, told),
            "report": dict.fromkeys(_REPORTS, told),
            "review": dict.fromkeys(REVIEW_COMMANDS, told),
            "signals": {**told, **dict.fromkeys(SIGNALS_COMMANDS, told)},
        }


def main() -> None:
    """Run the command line."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # files and pipes hold UTF-8 whatever the locale is; a terminal shows
            # what it can
            encoding = None if stream.isatty() else "utf-8"
            stream.reconfigure(encoding=encoding, errors="backslashreplace")
    app()
