"""The command line: parse, call one workspace method, print, exit code."""

from __future__ import annotations

import sys
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Annotated, Literal

import pandas as pd
import typer
from rich.console import Console
from rich.table import Table

import claimlens
from claimlens import handover
from claimlens.db.parquet import write_parquet
from claimlens.errors import ClaimlensError, InputError
from claimlens.ingest.describe import describe
from claimlens.workspace import Workspace, account_frame, create, open_workspace

__all__ = ["app", "main"]

app = typer.Typer(
    name="claimlens",
    help="Warranty claims: from messy exports to failure rates, lives and reports.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
report_app = typer.Typer(help="Write a report as one HTML file.", no_args_is_help=True)
app.add_typer(report_app, name="report")

Format = Literal["table", "csv", "json", "parquet"]

_errors = Console(stderr=True, highlight=False, soft_wrap=True)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise typer.BadParameter(f"{text!r} is not a date; write YYYY-MM-DD") from None


FolderOption = Annotated[
    Path,
    typer.Option(
        "--workspace", help="Folder of the workspace; by default the current one."
    ),
]
DebugOption = Annotated[
    bool, typer.Option("--debug", help="Show where an error arose in the code.")
]
AsOfOption = Annotated[
    date | None,
    typer.Option(
        "--as-of",
        parser=_day,
        metavar="DATE",
        help="Cut-off; by default the last month-end not after the newest report.",
    ),
]
AsKnownOption = Annotated[
    date | None,
    typer.Option(
        "--as-known",
        parser=_day,
        metavar="DATE",
        help="Use only what was known by this date.",
    ),
]
ByOption = Annotated[
    str,
    typer.Option(
        "--by",
        help="Grouping, comma list of model, model_year, component, failure_mode, "
        "supplier, region, generation, build_month.",
    ),
]
FormatOption = Annotated[
    Format, typer.Option("--format", help="How the result is written.")
]
OutputOption = Annotated[
    Path | None,
    typer.Option("--output", help="File to write to; by default the screen."),
]
ReplaceOption = Annotated[
    bool, typer.Option("--replace", help="Replace the output file if it is there.")
]
ModelOption = Annotated[
    list[str] | None, typer.Option("--model", help="Only this model; repeatable.")
]
ModelYearOption = Annotated[
    list[str] | None,
    typer.Option("--model-year", help="Only this model year; repeatable."),
]
ComponentOption = Annotated[
    list[str] | None,
    typer.Option("--component", help="Only this component; repeatable."),
]
SupplierOption = Annotated[
    list[str] | None,
    typer.Option("--supplier", help="Only this supplier's parts; repeatable."),
]
RegionOption = Annotated[
    list[str] | None, typer.Option("--region", help="Only this region; repeatable.")
]
WaitOption = Annotated[
    float,
    typer.Option("--wait", min=0, help="Seconds to wait for another writer."),
]
KnownOnOption = Annotated[
    date | None,
    typer.Option(
        "--known-on",
        parser=_day,
        metavar="DATE",
        help="By when the facts were known; by default each file's newest date.",
    ),
]


@contextmanager
def _readable_errors(debug: bool) -> Iterator[None]:
    """Print our errors as one message and leave with their exit code."""
    try:
        yield
    except ClaimlensError as error:
        if debug:
            traceback.print_exc()
        else:
            _errors.print(f"claimlens: {error}", markup=False)
        raise typer.Exit(error.exit_code) from error


def _filters(
    model: list[str] | None = None,
    model_year: list[str] | None = None,
    component: list[str] | None = None,
    supplier: list[str] | None = None,
    region: list[str] | None = None,
) -> dict[str, list[str]]:
    given = {
        "model": model,
        "model_year": model_year,
        "component": component,
        "supplier": supplier,
        "region": region,
    }
    return {name: values for name, values in given.items() if values}


def _deliver(
    frame: pd.DataFrame, form: Format, output: Path | None, replace: bool
) -> None:
    """Print a result or write it to a file."""
    if form == "parquet":
        if output is None:
            raise InputError(
                "Parquet goes to a file, not to the screen.",
                remedy="name one with --output FILE",
            )
        if output.exists() and not replace:
            raise InputError(
                "The file is there already.",
                source=str(output),
                remedy="choose another name, or give --replace",
            )
        write_parquet(frame, output)
        return
    if form == "json":
        text = handover.to_json(handover.records(frame))
    elif form == "csv":
        text = handover.to_csv(frame)
    else:
        text = _table_text(frame, wide=output is not None)
    if output is None:
        sys.stdout.write(text)
    else:
        handover.write_text(text, output, overwrite=replace)


def _table_text(frame: pd.DataFrame, *, wide: bool) -> str:
    """Draw a frame as a plain table."""
    console = Console(highlight=False)
    width = None if console.is_terminal and not wide else 400
    table = Table(box=None, pad_edge=False, header_style="bold")
    for name in frame.columns:
        is_number = pd.api.types.is_numeric_dtype(frame[name])
        table.add_column(str(name), justify="right" if is_number else "left")
    for record in handover.records(frame):
        table.add_row(*(_shown(cell) for cell in record.values()))
    with console.capture() as capture:
        console.print(table, width=width, markup=False)
    lines = [line.rstrip() for line in capture.get().splitlines()]
    return "\n".join(lines) + "\n"


def _shown(cell: handover.Cell) -> str:
    if cell is None:
        return "-"
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return f"{cell:.4g}" if abs(cell) < 1e6 else f"{cell:.0f}"
    return str(cell)


@app.command("init")
def init_command(
    folder: Annotated[Path, typer.Argument(help="Folder to make.")],
    debug: DebugOption = False,
) -> None:
    """Make a new workspace: settings with comments, an inbox and an out tray.

    Example:
        claimlens init claims-2026
    """
    with _readable_errors(debug):
        workspace = create(folder)
        typer.echo(f"Made {workspace.folder}. Put exports into {workspace.inbox}.")


@app.command("describe")
def describe_command(
    file: Annotated[Path, typer.Argument(help="An export.")],
    source_block: Annotated[
        bool,
        typer.Option(
            "--source-block",
            help="Print only the proposed source block, ready to be appended to "
            "claimlens.toml.",
        ),
    ] = False,
    debug: DebugOption = False,
) -> None:
    """Show how a file is written and propose how to load it.

    Example:
        claimlens describe claims.csv --source-block
    """
    with _readable_errors(debug):
        found = describe(file)
        sys.stdout.write(found.source_block() if source_block else found.text())


@app.command("ingest")
def ingest_command(
    paths: Annotated[
        list[Path] | None,
        typer.Argument(help="Files, folders or patterns; by default the inbox."),
    ] = None,
    rejects: Annotated[
        Path | None,
        typer.Option("--rejects", help="Write all rejected rows to this CSV file."),
    ] = None,
    known_on: KnownOnOption = None,
    wait: WaitOption = 0.0,
    form: FormatOption = "table",
    output: OutputOption = None,
    replace: ReplaceOption = False,
    workspace: FolderOption = Path(),
    debug: DebugOption = False,
) -> None:
    """Load exports into the warehouse and account for every row.

    Example:
        claimlens ingest exports/claims_may.csv
    """
    with _readable_errors(debug):
        opened = open_workspace(workspace)
        loaded = opened.load(paths or None, known_on=known_on, wait=wait)
        for name, why in loaded.skipped:
            _errors.print(f"skipped {name}: {why}", markup=False)
        _deliver(account_frame(loaded), form, output, replace)
        if rejects is not None:
            handover.write_text(
                handover.to_csv(opened.rejects()), rejects, overwrite=True
            )


@app.command("classify")
def classify_command(
    explain: Annotated[
        str | None,
        typer.Option(
            "--explain",
            metavar="CLAIM_NO",
            help="Tell what decided this claim and what was outvoted.",
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
    """List component and failure mode of each claim, with the evidence.

    Example:
        claimlens classify --format csv --output classified.csv
    """
    with _readable_errors(debug):
        opened = open_workspace(workspace)
        if explain is not None:
            typer.echo(opened.explain(explain))
            return
        filters = _filters(model, model_year, component, region=region)
        result = opened.classify(as_of=as_of, as_known=as_known, filters=filters)
        _deliver(result, form, output, replace)


@app.command("rates")
def rates_command(
    by: ByOption = "component",
    at: Annotated[
        str | None,
        typer.Option("--at", help="Months in service, comma list; default 1 to 24."),
    ] = None,
    before_delivery: Annotated[
        bool,
        typer.Option(
            "--before-delivery",
            help="Claims before or at delivery per thousand units shipped instead.",
        ),
    ] = False,
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
    """Show the share of units that failed by fixed months in service.

    Example:
        claimlens rates --by component,model_year --at 12
    """
    with _readable_errors(debug):
        opened = open_workspace(workspace)
        filters = _filters(model, model_year, component, supplier, region)
        if before_delivery:
            result = opened.predelivery(
                as_of=as_of, as_known=as_known, filters=filters
            )
        else:
            result = opened.rates(
                by=by,
                at=_ages(at),
                as_of=as_of,
                as_known=as_known,
                filters=filters,
            )
        _deliver(result, form, output, replace)


def _ages(text: str | None) -> list[float] | None:
    if text is None:
        return None
    try:
        return [float(part) for part in text.split(",") if part.strip()]
    except ValueError:
        raise InputError(
            f"ages must be numbers of months; got {text!r}",
            remedy="write them as in --at 3,6,12",
        ) from None


@app.command("life")
def life_command(
    by: ByOption = "component",
    min_failures: Annotated[
        int | None,
        typer.Option("--min-failures", help="Failures that a fit needs (3 or more)."),
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
    """Fit Weibull lives and name the pattern where the interval allows it.

    Example:
        claimlens life --by component,model
    """
    with _readable_errors(debug):
        result = open_workspace(workspace).life(
            by=by,
            as_of=as_of,
            as_known=as_known,
            filters=_filters(model, model_year, component, supplier, region),
            min_failures=min_failures,
        )
        _deliver(result, form, output, replace)


def _print_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"claimlens {claimlens.__version__}")
        raise typer.Exit


@app.callback()
def _options(
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


def main() -> None:
    """Run the command line."""
    app()
