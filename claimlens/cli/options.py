"""Options that commands share, readable errors, and the delivery of results."""

from __future__ import annotations

import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Literal

import pandas as pd
import typer
from rich.console import Console
from rich.table import Table
from rich.text import Text

from claimlens import handover
from claimlens.cli.screen import errors, tell, write_data, write_drawn
from claimlens.db.parquet import write_parquet
from claimlens.errors import ClaimlensError, InputError, is_full
from claimlens.language import Language
from claimlens.marks import visible
from claimlens.pipeline import Loaded

Format = Literal["table", "csv", "json", "parquet"]
ReportForm = Literal["html", "csv", "json", "parquet"]


def parse_day(text: str) -> date:
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
        parser=parse_day,
        metavar="DATE",
        help="Cut-off; by default the last month-end not after the newest report.",
    ),
]
AsKnownOption = Annotated[
    date | None,
    typer.Option(
        "--as-known",
        parser=parse_day,
        metavar="DATE",
        help="Use only what was known by this date.",
    ),
]
ByOption = Annotated[
    str,
    typer.Option(
        "--by",
        help="Grouping, comma list of model, model_year, component, failure_mode, "
        "supplier, region, generation, build_month, dealer, build_lot, plant, or any "
        "column that came in with the units or their parts.",
    ),
]
FormatOption = Annotated[
    Format, typer.Option("--format", help="How the result is written.")
]
OutputOption = Annotated[
    Path | None,
    typer.Option(
        "--output",
        help="File to write to, a workbook if it ends in .xlsx; by default the screen.",
    ),
]
ReplaceOption = Annotated[
    bool, typer.Option("--replace", help="Replace the output file if it is there.")
]
LanguageOption = Annotated[
    Language | None,
    typer.Option(
        "--language",
        help="Language of the page; by default that of the settings. What is not "
        "translated yet stays English.",
    ),
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
        parser=parse_day,
        metavar="DATE",
        help="By when the facts were known; by default each file's newest date.",
    ),
]


@contextmanager
def readable_errors(debug: bool) -> Iterator[None]:
    """Print our errors as one message and leave with their exit code."""
    try:
        yield
    except ClaimlensError as error:
        if debug:
            tell(traceback.format_exc(), end="")
        else:
            tell(f"claimlens: {error}")
        raise typer.Exit(error.exit_code) from error
    except (typer.Exit, typer.Abort, BrokenPipeError):
        raise  # an end that was meant, or the reader of our output left
    except Exception as error:
        # the last border: whoever runs a night's job reads one message
        if debug:
            tell(traceback.format_exc(), end="")
        else:
            tell(f"claimlens: {_told(error)}")
        raise typer.Exit(1) from error


def _told(error: Exception) -> str:
    """Say what a fault means that none of our messages speaks of."""
    if isinstance(error, MemoryError):
        return (
            "There is not enough memory for this.\n"
            "  to do: close other programs, set a smaller memory_limit in [engine] of "
            "claimlens.toml, or ask about less at once; nothing half-written is left"
        )
    if is_full(error):
        return (
            "The answer cannot be written: the disk is full.\n"
            "  to do: free some disk space, then run the command again"
        )
    return (
        f"An unexpected fault stopped the work: {type(error).__name__}: {error}\n"
        "  to do: nothing half-written is left; run the command again with --debug "
        "and send what it prints to whoever maintains claimlens"
    )


def filters_of(
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


def deliver(
    frame: pd.DataFrame, form: Format, output: Path | None, replace: bool
) -> None:
    """Print a result or write it to a file."""
    if form == "parquet":
        if output is None:
            raise InputError(
                "Parquet goes to a file, not to the screen.",
                remedy="name one with --output FILE",
            )
        handover.check_target(output, overwrite=replace)
        write_parquet(frame, output)
        return
    if form == "table" and output is not None and output.suffix.lower() == ".xlsx":
        handover.write_workbook(frame, output, sheet="answer", overwrite=replace)
        return
    if form == "json":
        text = handover.to_json(handover.records(frame))
    elif form == "csv":
        text = handover.to_csv(frame)
    else:
        text = _table_text(frame, wide=output is not None)
    if output is not None:
        handover.write_text(text, output, overwrite=replace)
    elif form == "table":
        write_drawn(text)
    else:
        write_data(text)


def _table_text(frame: pd.DataFrame, *, wide: bool) -> str:
    """Draw a frame as a plain table."""
    on_screen = Console(highlight=False)
    is_wide = wide or not on_screen.is_terminal
    # in a pipe or a file no column is cut
    console = Console(highlight=False, width=1000) if is_wide else on_screen
    table = Table(box=None, pad_edge=False, header_style="bold")
    for name in frame.columns:
        is_number = pd.api.types.is_numeric_dtype(frame[name]) or _is_money(frame[name])
        table.add_column(
            Text(visible(str(name), one_line=True)),
            justify="right" if is_number else "left",
        )
    # amounts keep their cents
    shown = frame.assign(
        **{
            str(name): frame[name].map(str, na_action="ignore")
            for name in frame.columns
            if _is_money(frame[name])
        }
    )
    for record in handover.records(shown):
        table.add_row(*(Text(_shown(cell)) for cell in record.values()))
    with console.capture() as capture:
        console.print(table)
    lines = [line.rstrip() for line in capture.get().splitlines()]
    return "\n".join(lines) + "\n"


def _is_money(column: pd.Series) -> bool:
    """Tell whether a column holds amounts."""
    return any(isinstance(value, Decimal) for value in column)


def _shown(cell: handover.Cell) -> str:
    if cell is None:
        return "-"
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return f"{cell:.4g}" if abs(cell) < 1e6 else f"{cell:.0f}"
    return visible(str(cell), one_line=True)


@contextmanager
def busy(what: str) -> Iterator[None]:
    """Show that work goes on, on a terminal only."""
    if errors.is_terminal:
        with errors.status(f"{what} ..."):
            yield
    else:
        yield


def warn(loaded: Loaded) -> None:
    """Say on stderr which files were skipped and which columns were not there."""
    for name, why in loaded.skipped:
        tell(f"skipped {name}: {why}")
    for account in loaded.accounts:
        if account.note:
            tell(f"{account.file}: {account.note}")
