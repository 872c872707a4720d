"""The commands put together, and the entry point."""

from __future__ import annotations

import io
import sys
from pathlib import Path
from typing import Annotated

import typer

import claimlens
from claimlens.cli import files, jobs, questions

__all__ = ["app", "main"]

app = typer.Typer(
    name="claimlens",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
report_app = typer.Typer(help="Write a report as one HTML file.", no_args_is_help=True)

for _name, _command in (
    ("init", files.init_command),
    ("describe", files.describe_command),
    ("ingest", files.ingest_command),
    ("classify", questions.classify_command),
    ("rates", questions.rates_command),
    ("life", questions.life_command),
    ("run", jobs.run_command),
    ("demo", jobs.demo_command),
):
    app.command(_name)(_command)
report_app.command("monthly")(jobs.report_monthly_command)
app.add_typer(report_app, name="report")


def _print_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"claimlens {claimlens.__version__}")
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
            **dict.fromkeys(("ingest", "classify", "rates", "life", "run"), told),
            "report": {"monthly": told},
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
