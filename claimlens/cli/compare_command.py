"""The command that compares segments with each other."""

from __future__ import annotations

from pathlib import Path

from claimlens.cli.options import (
    AsKnownOption,
    AsOfOption,
    ByOption,
    ComponentOption,
    DebugOption,
    FolderOption,
    FormatOption,
    ModelOption,
    ModelYearOption,
    OutputOption,
    RegionOption,
    ReplaceOption,
    SupplierOption,
    busy,
    deliver,
    filters_of,
    readable_errors,
)
from claimlens.start import open_workspace

__all__ = ["compare_command"]


def compare_command(
    by: ByOption = "component,model",
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
    """Compare each segment with all the others at equal ages, and rank them.

    With component among the groups, each component is a table of its own. The
    shrunk ratio is the one to rank by: a few claims among few units move it little.

    Example:
        claimlens compare --by supplier --component controller
    """
    with readable_errors(debug):
        opened = open_workspace(workspace)
        filters = filters_of(model, model_year, component, supplier, region)
        with busy("comparing segments"):
            result = opened.compare(by=by, as_of=as_of, as_known=as_known, **filters)
        deliver(result, form, output, replace)
