"""Planned sales: units that will come into service, added to those of the fleet."""

from __future__ import annotations

from dataclasses import replace
from difflib import get_close_matches
from pathlib import Path

import numpy as np
import pandas as pd

from claimlens.analysis.forecast_counts import Ahead
from claimlens.ingest.short_lists import ListRow, read_short_list

__all__ = ["read_sales", "with_sales"]

# planned units are like those that came into service in so many months
_LIKE_MONTHS = 12
# a unit sold in a month is under cover for half of it, and of the last one too
_HALF = 0.5


def read_sales(path: Path) -> list[ListRow]:
    """Read planned sales.

    Parameters
    ----------
    path : Path
        A list with model, month and quantity, and perhaps model_year.

    Returns
    -------
    list of ListRow

    Raises
    ------
    InputError
        If a month or a quantity cannot be read, or is negative.
    """
    rows = read_short_list(
        path,
        required=("model", "month", "quantity"),
        optional=("model_year",),
    )
    for row in rows:
        row.needed("model")
        row.month("month")
        if row.whole("quantity") is None:
            raise row.fault("quantity", "nothing stands there", "give the quantity")
    return rows


def with_sales(ahead: Ahead, sales: list[ListRow]) -> Ahead:
    """Add units that will come into service.

    A model's planned sales are all of its units that come into service in the months
    from its first to its last planned one: those shipped already are among them.

    Parameters
    ----------
    ahead : Ahead
        Units and claims.
    sales : list of ListRow
        See `read_sales`; months before the first one to come are past and left out.

    Returns
    -------
    Ahead
        With the planned units among those of the months to come.

    Raises
    ------
    InputError
        If a model is not known.
    """
    units = ahead.units_to_come
    known = sorted(set(units["model"]) - {""})
    planned: dict[tuple[str, int, int], int] = {}
    for row in sales:
        model = _known_model(row, known)
        month, year = row.month("month"), row.whole("model_year") or 0
        if ahead.first <= month <= ahead.last:
            key = (model, month, year)
            planned[key] = planned.get(key, 0) + (row.whole("quantity") or 0)
    if not planned:
        return ahead
    stock = np.zeros(len(units), dtype=bool)
    for model in {model for model, _, _ in planned}:
        months = [month for name, month, _ in planned if name == model]
        stock |= (
            units["is_to_come"].to_numpy(dtype=bool)
            & (units["model"] == model).to_numpy()
            & units["service_month"].between(min(months), max(months)).to_numpy()
        )
    likes = {model: _alike(ahead, model) for model, _, _ in planned}
    added = [
        _placed(ahead, likes[model], month=month, year=year, quantity=quantity)
        for (model, month, year), quantity in sorted(planned.items())
        if quantity
    ]
    together = pd.concat([units[~stock], *added], ignore_index=True)
    return replace(ahead, later=together, planned=sum(planned.values()))


def _known_model(row: ListRow, known: list[str]) -> str:
    given = row.needed("model")
    names = {name.casefold(): name for name in known}
    if given.casefold() in names:
        return names[given.casefold()]
    near = get_close_matches(given, known, 1)
    raise row.fault(
        "model",
        f"no unit is of a model {given[:40]!r}",
        f"did you mean {near[0]!r}?"
        if near
        else f"the models are {', '.join(known[:12])}",
    )


def _alike(ahead: Ahead, model: str) -> pd.DataFrame:
    """Return the newest units of a model, as shares of each cover class."""
    units = ahead.units_to_come
    units = units[units["model"] == model]
    newest = min(int(units["service_month"].max()), ahead.now)
    recent = units[units["service_month"].between(newest - _LIKE_MONTHS + 1, newest)]
    recent = recent[recent["n_units"] > 0]
    if "model_year" in ahead.unit_keys:
        recent = recent[recent["model_year"] == recent["model_year"].max()]
    length = recent["last_month"] - recent["service_month"]
    keys = [key for key in ahead.unit_keys if key not in ("model", "build_month")]
    grouped = recent.assign(length=length).groupby(
        [*keys, "cover_class", "distance", "length"], dropna=False, sort=True
    )
    alike = grouped["n_units"].sum().reset_index()
    whole = alike.groupby("cover_class")["n_units"].transform("sum")
    return alike.assign(share=alike["n_units"] / whole, model=model)


def _placed(
    ahead: Ahead, alike: pd.DataFrame, *, month: int, year: int, quantity: int
) -> pd.DataFrame:
    """Return the rows of one planned month of one model."""
    n_units = alike["share"] * quantity
    rows = alike.drop(columns=["share", "length"]).assign(
        n_units=n_units,
        first_part=_HALF * n_units,
        last_part=_HALF * n_units,
        service_month=month,
        first_month=month,
        last_month=month + alike["length"],
        cohort=len(ahead.cohorts) - 1,
        is_to_come=True,
        is_added=True,
    )
    if year and "model_year" in ahead.unit_keys:
        rows["model_year"] = year
    like = ahead.units_to_come
    for column in like.columns:
        if column not in rows:
            rows[column] = None
    return rows[like.columns].astype(like.dtypes.to_dict())
