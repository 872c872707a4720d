"""Commands that make a workspace, look at a file, and load it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from claimlens import handover
from claimlens.cli.options import (
    DebugOption,
    FolderOption,
    FormatOption,
    KnownOnOption,
    OutputOption,
    ReplaceOption,
    WaitOption,
    busy,
    deliver,
    readable_errors,
    warn,
)
from claimlens.cli.screen import say, write_data
from claimlens.ingest.describe import describe
from claimlens.start import create, open_workspace

__all__ = ["describe_command", "ingest_command", "init_command"]


def init_command(
    folder: Annotated[Path, typer.Argument(help="Folder to make.")],
    debug: DebugOption = False,
) -> None:
    """Make a new workspace: settings with comments, an inbox and an out tray.

    Example:
        claimlens init claims-2026
    """
    with readable_errors(debug):
        workspace = create(folder)
        say(f"Made {workspace.folder}. Put exports into {workspace.inbox}.")


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
    with readable_errors(debug):
        found = describe(file)
        if source_block:
            write_data(found.source_block())
        else:
            say(found.text(), end="")


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
    with readable_errors(debug):
        opened = open_workspace(workspace)
        if rejects is not None:
            handover.check_target(rejects, overwrite=replace)
        with busy("loading"):
            loaded = opened.load(paths or None, known_on=known_on, wait=wait)
        warn(loaded)
        deliver(loaded.frame(), form, output, replace)
        if rejects is not None:
            handover.write_text(
                handover.to_csv(opened.rejects()), rejects, overwrite=replace
            )
