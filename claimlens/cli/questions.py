"""Commands that answer a question from the warehouse."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from claimlens.analysis.life_terms import BORROWED, KnownShape
from claimlens.cli.danger import dangerous_first, tell_dangerous
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
from claimlens.cli.quality_view import deliver_quality
from claimlens.cli.screen import say
from claimlens.errors import InputError
from claimlens.start import open_workspace

__all__ = ["classify_command", "life_command", "rates_command"]


def classify_command(
    explain: Annotated[
        str | None,
        typer.Option(
            "--explain",
            metavar="CLAIM_NO",
            help="Tell what decided this claim and what was outvoted.",
        ),
    ] = None,
    quality: Annotated[
        bool,
        typer.Option(
            "--quality",
            help="Tell instead how often this is wrong, measured on reviewed claims, "
            "and where it drifts.",
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
    """List component and failure mode of each claim, with the evidence.

    Example:
        claimlens classify --format csv --output classified.csv
    """
    with readable_errors(debug):
        opened = open_workspace(workspace)
        if explain is not None:
            say(opened.explain(explain))
            return
        filters = filters_of(model, model_year, component, supplier, region)
        if quality:
            with busy("measuring the classification"):
                result = opened.quality(as_of=as_of, as_known=as_known, **filters)
            deliver_quality(result, form, output, replace)
            return
        with busy("reading the claims"):
            result = opened.classify(as_of=as_of, as_known=as_known, **filters)
        if form == "table":
            result = dangerous_first(result)
        deliver(result, form, output, replace)
        if form == "table" or output is not None:
            tell_dangerous(result)


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
    with readable_errors(debug):
        opened = open_workspace(workspace)
        filters = filters_of(model, model_year, component, supplier, region)
        with busy("counting failures"):
            if before_delivery:
                result = opened.predelivery(as_of=as_of, as_known=as_known, **filters)
            else:
                result = opened.rates(
                    by=by,
                    at=ages_of(at),
                    as_of=as_of,
                    as_known=as_known,
                    **filters,
                )
        deliver(result, form, output, replace)


def ages_of(text: str | None) -> list[float] | None:
    if text is None:
        return None
    try:
        return [float(part) for part in text.split(",") if part.strip()]
    except ValueError:
        raise InputError(
            f"ages must be numbers of months; got {text!r}",
            remedy="write them as in --at 3,6,12",
        ) from None


def shape_of(text: str | None) -> KnownShape:
    if text is None or text == BORROWED:
        return BORROWED if text else None
    try:
        return float(text)
    except ValueError:
        raise InputError(
            f"a known shape must be a number or {BORROWED}; got {text!r}",
            remedy="write it as in --known-shape 1.5",
        ) from None


def life_command(
    by: ByOption = "component",
    min_failures: Annotated[
        int | None,
        typer.Option("--min-failures", help="Failures that a fit needs (3 or more)."),
    ] = None,
    known_shape: Annotated[
        str | None,
        typer.Option(
            "--known-shape",
            metavar="SHAPE",
            help="Hold the Weibull shape: a number, or component for the shape of the "
            "same component in all other segments.",
        ),
    ] = None,
    at: Annotated[
        str | None,
        typer.Option(
            "--at",
            help="Months in service, comma list: adds the share failed by then.",
        ),
    ] = None,
    prone: Annotated[
        bool,
        typer.Option(
            "--prone", help="Adds the share of the units that can fail at all."
        ),
    ] = False,
    mean_unbiased: Annotated[
        bool,
        typer.Option(
            "--mean-unbiased", help="Adds the shape times (r - 1) / r, without limits."
        ),
    ] = False,
    against: Annotated[
        str,
        typer.Option("--against", help="What the life is measured in: age, distance."),
    ] = "age",
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
    with readable_errors(debug):
        with busy("fitting lives"):
            result = open_workspace(workspace).life(
                by=by,
                as_of=as_of,
                as_known=as_known,
                **filters_of(model, model_year, component, supplier, region),
                min_failures=min_failures,
                known_shape=shape_of(known_shape),
                at=ages_of(at),
                mean_unbiased=mean_unbiased,
                prone=prone,
                against=against,
            )
        deliver(result, form, output, replace)
