"""The commands about production windows and engineering changes."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import pandas as pd
import typer

from claimlens import handover
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
    busy,
    deliver,
    filters_of,
    readable_errors,
)
from claimlens.cli.screen import say, tell
from claimlens.errors import InputError
from claimlens.start import open_workspace
from claimlens.workspace import Workspace

__all__ = ["change_command", "windows_command"]


def windows_command(
    by: ByOption = "component",
    grain: Annotated[
        Literal["month", "week", "day", "lot"],
        typer.Option("--grain", help="What windows are made of."),
    ] = "month",
    units: Annotated[
        Path | None,
        typer.Option(
            "--units",
            metavar="FILE",
            help="Also write every unit of the first window as a workbook (.xlsx): "
            "failed, not yet failed, and where it is.",
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
    """List production windows with an elevated rate, most unlikely first.

    Example:
        claimlens windows --component "wiring harness" --units harness.xlsx
    """
    with readable_errors(debug):
        opened = open_workspace(workspace)
        if units is not None:
            _check_workbook(units, replace)
        with busy("looking through the production"):
            result = opened.windows(
                by=by,
                grain=grain,
                as_of=as_of,
                as_known=as_known,
                **filters_of(model, model_year, component, None, region),
            )
        if form == "table" and result.empty:
            tell("no window stands out; --component names one to look at")
        else:
            deliver(
                _windows_on_screen(result) if form == "table" else result,
                form,
                output,
                replace,
            )
        if units is not None:
            _write_units(opened, result, units, replace=replace)


def _check_workbook(target: Path, replace: bool) -> None:
    if target.suffix.lower() != ".xlsx":
        raise InputError(
            f"The list of units is a workbook; {target.name} does not end in .xlsx.",
            remedy="name it as in --units units.xlsx",
        )
    handover.check_target(target, overwrite=replace)


def _write_units(
    opened: Workspace, result: pd.DataFrame, target: Path, *, replace: bool
) -> None:
    """Write the units of the first window."""
    first = result[result["from_date"].notna()].head(1)
    if first.empty:
        raise InputError(
            "There is no window whose units could be listed.",
            remedy="name a component with --component, or look at all with none",
        )
    row = first.iloc[0]
    listed = opened.window_units(
        str(row["component"]),
        f"{row['from_date']:%Y-%m-%d}",
        f"{row['to_date']:%Y-%m-%d}",
        model=None if pd.isna(row["model"]) else str(row["model"]),
        as_of=f"{row['as_of']:%Y-%m-%d}",
    )
    handover.write_workbook(listed, target, sheet="units", overwrite=replace)
    counted = listed["state"].value_counts()
    told = ", ".join(f"{n} {state}" for state, n in sorted(counted.items()))
    say(
        f"{target}: {len(listed)} units built from {row['from_date']:%Y-%m-%d} up to "
        f"{row['to_date']:%Y-%m-%d}: {told}. An input to a decision by people; it says "
        "nothing on a recall."
    )


def _windows_on_screen(result: pd.DataFrame) -> pd.DataFrame:
    return result[
        [
            "component", "model", "from_date", "to_date", "rate_ratio", "lower",
            "upper", "p_value", "adjusted_p", "claims", "expected", "units",
            "not_yet_failed", "plausible_from", "plausible_to", "note",
        ]
    ]  # fmt: skip


def change_command(
    change_no: Annotated[
        str, typer.Argument(metavar="CHANGE_NO", help="Number of the change.")
    ],
    as_of: AsOfOption = None,
    as_known: AsKnownOption = None,
    model: ModelOption = None,
    model_year: ModelYearOption = None,
    region: RegionOption = None,
    form: FormatOption = "table",
    output: OutputOption = None,
    replace: ReplaceOption = False,
    workspace: FolderOption = Path(),
    debug: DebugOption = False,
) -> None:
    """Tell whether an engineering change helped.

    Example:
        claimlens change EC-0231
    """
    with readable_errors(debug):
        with busy("comparing before and after"):
            result = open_workspace(workspace).change(
                change_no,
                as_of=as_of,
                as_known=as_known,
                **filters_of(model, model_year, None, None, region),
            )
        if form != "table":
            deliver(result, form, output, replace)
            return
        text = "\n".join(_told(result.iloc[0])) + "\n"
        if output is None:
            say(text, end="")
        else:
            handover.write_text(text, output, overwrite=replace)


def _told(row: pd.Series) -> list[str]:
    """Put the verdict into words."""
    halved = ", at least halved" if row["at_least_halved"] else ""
    lines = [
        f"change {row['change_no']} ({row['component']}"
        + (f", {row['model']} only" if isinstance(row["model"], str) else "")
        + f"), built from {row['starts_on']:%Y-%m-%d}",
        f"verdict: {str(row['verdict']).upper()}{halved}: {row['reason']}",
        f"  rate after / before, to {row['at_months']} months in service: "
        f"{_ratio(row['rate_ratio'])} ({_ratio(row['lower'])} to "
        f"{_ratio(row['upper'])})",
        f"  before: {row['claims_before']} failures of {row['units_before']} units; "
        f"after: {row['claims_after']} of {row['units_after']}, where "
        f"{row['expected_after']:.1f} would have been expected",
    ]
    if pd.notna(row["ratio_without_bad_months"]):
        lines.append(
            "  without the bad months before it: "
            f"{_ratio(row['ratio_without_bad_months'])}, up to "
            f"{_ratio(row['upper_without_bad_months'])}"
        )
    if isinstance(row["control"], str):
        lines.append(
            f"  against {row['control']} at the same time: "
            f"{_ratio(row['control_ratio'])} ({_ratio(row['control_lower'])} to "
            f"{_ratio(row['control_upper'])})"
        )
    lines.append(
        f"  changed in the field: {row['field_changes']} older units "
        f"({row['field_share']:.1%})"
    )
    if pd.notna(row["claims_needed"]) and row["claims_needed"] > 0:
        due = row["verdict_by"]
        lines.append(
            f"  a halving would show once {row['claims_needed']:.0f} more failures "
            "were to be expected"
            + (f": about {due:%Y-%m-%d}" if pd.notna(due) else "; not within 3 years")
        )
    return [*lines, f"  note: {row['note']}"]


def _ratio(value: object) -> str:
    number = float(str(value))
    return f"{number:.2g}" if number < float("inf") else "no limit"
