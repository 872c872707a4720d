"""The command about claims to come."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, TypeVar

import typer

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
    SupplierOption,
    busy,
    deliver,
    filters_of,
    readable_errors,
)
from claimlens.errors import InputError
from claimlens.start import open_workspace

__all__ = ["forecast_command"]

Value = TypeVar("Value")

_MONTHS = 12
_WITH_BACKTEST = ("--by",)
_WITH_COMPARE = ("--months", "--sales", "--coverage", "--without")


def forecast_command(
    by: Annotated[
        str,
        typer.Option(
            "--by",
            help="Grouping, comma list of component, failure_mode, supplier, model, "
            "model_year, region, generation, build_month, dealer; by default none.",
        ),
    ] = "",
    months: Annotated[
        int, typer.Option("--months", help="Months to come, 1 to 36.")
    ] = _MONTHS,
    total: Annotated[
        bool,
        typer.Option(
            "--total",
            help="One row for all months together; its limits are not sums of theirs.",
        ),
    ] = False,
    backtest: Annotated[
        bool,
        typer.Option(
            "--backtest",
            help="Stand back 6 and 12 months and set the forecasts against what came.",
        ),
    ] = False,
    sales: Annotated[
        list[Path] | None,
        typer.Option(
            "--sales",
            metavar="FILE",
            help="Planned sales: model, month, quantity of units that go into service.",
        ),
    ] = None,
    coverage: Annotated[
        list[int] | None,
        typer.Option("--coverage", help="As if every cover lasted so many months."),
    ] = None,
    without: Annotated[
        list[str] | None,
        typer.Option(
            "--without",
            metavar="CHANGE_NO",
            help="As if this engineering change had not been made.",
        ),
    ] = None,
    compare: Annotated[
        bool,
        typer.Option(
            "--compare",
            help="A row for each --sales, --coverage and --without, beside what is.",
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
    """Tell how many claims are still to come, month by month, with limits.

    Example:
        claimlens forecast --by component --months 6
    """
    with readable_errors(debug):
        opened = open_workspace(workspace)
        filters = filters_of(model, model_year, component, supplier, region)
        _refuse_mixed(
            {
                "--backtest": (backtest, _WITH_BACKTEST),
                "--compare": (compare, _WITH_COMPARE),
            },
            {
                "--by": bool(by),
                "--months": months != _MONTHS,
                "--total": total,
                "--sales": bool(sales),
                "--coverage": bool(coverage),
                "--without": bool(without),
                "--backtest": backtest,
            },
        )
        with busy("looking ahead"):
            if backtest:
                result = opened.backtest(
                    by=by, as_of=as_of, as_known=as_known, **filters
                )
            elif compare:
                result = opened.scenarios(
                    months=months,
                    sales=sales or (),
                    coverage=coverage or (),
                    without=without or (),
                    as_of=as_of,
                    as_known=as_known,
                    **filters,
                )
            else:
                result = opened.forecast(
                    by=by,
                    months=months,
                    total=total,
                    sales=_only("--sales", sales),
                    coverage=_only("--coverage", coverage),
                    without=without or (),
                    as_of=as_of,
                    as_known=as_known,
                    **filters,
                )
        deliver(result, form, output, replace)


def _refuse_mixed(
    kinds: dict[str, tuple[bool, tuple[str, ...]]], given: dict[str, bool]
) -> None:
    """Refuse an option that has no meaning beside the kind of answer asked for."""
    for kind, (is_asked, fitting) in kinds.items():
        for name, is_given in given.items():
            if is_asked and is_given and name != kind and name not in fitting:
                raise InputError(
                    f"{name} has no meaning with {kind}.",
                    remedy=f"leave {name} out; with {kind} go "
                    f"{', '.join(fitting)} and the filters",
                )


def _only(name: str, given: list[Value] | None) -> Value | None:
    """Return the one value given, if any."""
    if given and len(given) > 1:
        raise InputError(
            f"{name} is given {len(given)} times.",
            remedy="give it once, or set several side by side with --compare",
        )
    return given[0] if given else None
