"""Commands that keep a workspace sound."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from claimlens.cli.options import (
    DebugOption,
    FolderOption,
    FormatOption,
    OutputOption,
    ReplaceOption,
    WaitOption,
    busy,
    deliver,
    readable_errors,
)
from claimlens.cli.screen import say, tell
from claimlens.start import open_workspace
from claimlens.upkeep.restoring import Restored, restore

__all__ = ["backup_command", "check_command", "restore_command", "verify_command"]


def check_command(
    form: FormatOption = "table",
    output: OutputOption = None,
    replace: ReplaceOption = False,
    workspace: FolderOption = Path(),
    debug: DebugOption = False,
) -> None:
    """Say what must hold in the warehouse and whether it does; exit 1 if not.

    Example:
        claimlens check
        claimlens check --format json --output check.json
    """
    with readable_errors(debug):
        own = open_workspace(workspace)
        with busy("checking"):
            table = own.check()
        deliver(table, form, output, replace)
        broken = table[table["state"] == "broken"]
        if len(broken):
            tell(
                f"claimlens: {len(broken)} of {len(table)} statements about the "
                f"warehouse are broken: {', '.join(broken['identity'])}.\n"
                f"  where: {own.warehouse}\n"
                "  to do: restore a backup, or move the warehouse away and load all "
                "exports again"
            )
            raise typer.Exit(1)


def verify_command(
    report: Annotated[Path, typer.Argument(help="The .html page of a report.")],
    form: FormatOption = "table",
    output: OutputOption = None,
    replace: ReplaceOption = False,
    workspace: FolderOption = Path(),
    debug: DebugOption = False,
) -> None:
    """Make a report again and say whether it is still the same; exit 1 if not.

    The page says what made it: cut-off, known-by date, settings, terms, learned
    model, files. What differs is named; where files were loaded since, the figures
    known at its time are compared as well. Nothing is written.

    Example:
        claimlens verify out/monthly-2026-04-30.html
    """
    with readable_errors(debug):
        own = open_workspace(workspace)
        with busy("making the report again"):
            verified = own.verify(report)
        deliver(verified.frame(), form, output, replace)
        if not verified.is_same:
            tell(
                f"claimlens: The warehouse does not give this page: "
                f"{'; '.join(verified.notes)}.\n"
                f"  where: {report}\n"
                "  to do: undo what is named if it was not meant; a report made with "
                "--as-known stays the same when files are loaded later"
            )
            raise typer.Exit(1)


def backup_command(
    file: Annotated[Path, typer.Argument(help="File to write, such as a .zip.")],
    with_inbox: Annotated[
        bool, typer.Option("--with-inbox", help="Take the files of the inbox along.")
    ] = False,
    wait: WaitOption = 0.0,
    replace: ReplaceOption = False,
    workspace: FolderOption = Path(),
    debug: DebugOption = False,
) -> None:
    """Write the workspace into one file: warehouse, settings, terms, learned model.

    The file holds personal data and is not encrypted: only its owner may read it.
    Reports, log and, without --with-inbox, the exports themselves stay out.

    Example:
        claimlens backup claims-2026.zip
    """
    with readable_errors(debug):
        own = open_workspace(workspace)
        with busy("writing the backup"):
            made = own.backup(file, with_inbox=with_inbox, overwrite=replace, wait=wait)
        for name in made.left_out:
            tell(f"left out: {name} (it lies outside the workspace)")
        say(f"backup: {made.path} ({made.files} files, {made.rows} rows)")


def restore_command(
    file: Annotated[Path, typer.Argument(help="A file that backup wrote.")],
    discard: Annotated[
        bool,
        typer.Option(
            "--discard",
            help="Do not keep what is replaced; by default it goes into a folder "
            "before-restore-N of the workspace, to be removed by you.",
        ),
    ] = False,
    replace: Annotated[
        bool,
        typer.Option("--replace", help="Replace the workspace if one is there."),
    ] = False,
    wait: WaitOption = 0.0,
    workspace: FolderOption = Path(),
    debug: DebugOption = False,
) -> None:
    """Put a workspace back from a backup, into this folder or a new one.

    Every file and every table is checked before anything is replaced.

    Example:
        claimlens restore claims-2026.zip --workspace claims-again
    """
    with readable_errors(debug):
        with busy("restoring"):
            done = restore(file, workspace, replace=replace, discard=discard, wait=wait)
        for name in done.left_out:
            tell(f"not in the backup: {name} (the settings name it)")
        for line in _told_of_erasures(done):
            tell(line)
        if done.kept is not None:
            say(f"kept what was there before: {done.kept}")
        say(f"restored: {done.folder} ({done.files} files, {done.rows} rows)")


def _told_of_erasures(done: Restored) -> list[str]:
    """Say what was erased again, or that nobody here knows."""
    erased = done.erased
    if erased is None:
        return [
            "what was erased after this backup was written is not known here: erase it "
            "again with claimlens erase"
        ]
    told = []
    if erased.serials or erased.claims:
        told.append(
            "erased again, as it was after this backup was written: "
            f"units {erased.serials}, claims {erased.claims}"
        )
    told += [
        f"not restored, because it names somebody erased: {name}"
        for name in erased.removed
    ]
    told += [
        f"names somebody erased, take it out by hand: {name}" for name in erased.left
    ]
    return told
