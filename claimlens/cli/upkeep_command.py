"""Commands that keep a workspace sound."""

from __future__ import annotations

from pathlib import Path

import typer

from claimlens.cli.options import (
    DebugOption,
    FolderOption,
    FormatOption,
    OutputOption,
    ReplaceOption,
    busy,
    deliver,
    errors,
    readable_errors,
)
from claimlens.start import open_workspace

__all__ = ["check_command"]


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
            errors.print(
                f"claimlens: {len(broken)} of {len(table)} statements about the "
                f"warehouse are broken: {', '.join(broken['identity'])}.\n"
                f"  where: {own.warehouse}\n"
                "  to do: restore a backup, or move the warehouse away and load all "
                "exports again",
                markup=False,
            )
            raise typer.Exit(1)
