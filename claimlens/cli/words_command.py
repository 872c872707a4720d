"""The command about words that rise in the owners' texts."""

from __future__ import annotations

from pathlib import Path

from claimlens.cli.options import (
    AsKnownOption,
    AsOfOption,
    ComponentOption,
    DebugOption,
    FolderOption,
    FormatOption,
    ModelOption,
    ModelYearOption,
    OutputOption,
    RegionOption,
    ReplaceOption,
    busy,
    deliver,
    filters_of,
    readable_errors,
)
from claimlens.cli.screen import tell
from claimlens.start import open_workspace

__all__ = ["words_command"]


def words_command(
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
    """List words whose share of the owners' texts grew beyond chance.

    Example:
        claimlens words
    """
    with readable_errors(debug):
        with busy("counting words"):
            result = open_workspace(workspace).words(
                as_of=as_of,
                as_known=as_known,
                **filters_of(model, model_year, component, None, region),
            )
        if form == "table" and result.empty:
            tell("no word grew beyond chance")
            return
        deliver(result, form, output, replace)
