"""The command that checks the terms which read the texts."""

from __future__ import annotations

from pathlib import Path

from claimlens.cli.options import (
    DebugOption,
    FolderOption,
    FormatOption,
    OutputOption,
    ReplaceOption,
    busy,
    deliver,
    readable_errors,
)
from claimlens.cli.screen import tell
from claimlens.start import open_workspace

__all__ = ["terms_command"]


def terms_command(
    form: FormatOption = "table",
    output: OutputOption = None,
    replace: ReplaceOption = False,
    workspace: FolderOption = Path(),
    debug: DebugOption = False,
) -> None:
    """List terms that contradict each other, are never reached, or misfire.

    Example:
        claimlens terms --format csv --output terms.csv
    """
    with readable_errors(debug):
        opened = open_workspace(workspace)
        with busy("trying the terms"):
            result = opened.terms()
        deliver(result, form, output, replace)
        counts = result["problem"].value_counts()
        tell(
            ", ".join(
                f"{counts.get(problem, 0):,} {problem}"
                for problem in ("conflict", "unreachable", "misfiring")
            )
        )
        if not opened.warehouse.exists():
            tell("no claims are loaded: no term was tried on texts")
