"""The questions about what is still to come: claims, spares and money."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Unpack

import pandas as pd

from claimlens.analysis.forecast import forecast
from claimlens.analysis.forecast_table import forecast_table
from claimlens.analysis.question import Asked, ask
from claimlens.analysis.spares import asked_of_fleet, spares
from claimlens.analysis.spares_table import spares_table
from claimlens.answers import names_of
from claimlens.diagnosis import Diagnosis
from claimlens.ingest.stock import read_stock

__all__ = ["Outlook"]


class Outlook(Diagnosis):
    """The questions of whoever sets money and parts aside."""

    def forecast(
        self,
        *,
        by: str | Sequence[str] = (),
        months: int = 12,
        total: bool = False,
        **asked: Unpack[Asked],
    ) -> pd.DataFrame:
        """Return the claims to come, counted in the month of report.

        Parameters
        ----------
        by : str or sequence of str, optional
            Grouping: model, model_year, region, generation, build_month, dealer,
            component, failure_mode, supplier.
        months : int, default 12
            Months to come, 1 to 36.
        total : bool, default False
            One row for all months together; its limits are not the sums of those of
            the months.
        **asked
            Cut-off, known-by date and filters: see
            `claimlens.analysis.question.Asked`.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.forecast_table.forecast_table`.
        """
        with self._reading(ask(**asked)) as (session, scope):
            found = forecast(
                session, self.settings, scope, by=names_of(by), months=months
            )
            return forecast_table(found, scope, total=total)

    def spares(
        self,
        *,
        stock: str | Path | None = None,
        service_level: float | None = None,
        **asked: Unpack[Asked],
    ) -> pd.DataFrame:
        """Return how many of each spare part to hold, to order and to buy last.

        Parameters
        ----------
        stock : str or Path, optional
            Stock file: see `claimlens.ingest.stock.read_stock`.
        service_level : float, optional
            Chance that what is held lasts until the next delivery, 0.5 to 0.999; by
            default that of the settings.
        **asked
            Cut-off, known-by date and filters: see
            `claimlens.analysis.question.Asked`. Components and suppliers choose the
            parts that are shown; the other filters choose the units to be served.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.spares_table.spares_table`.
        """
        shelf = None if stock is None else read_stock(Path(stock))
        question, shown = asked_of_fleet(ask(**asked), self._terms.taxonomy)
        with self._reading(question) as (session, scope):
            found = spares(
                session, self.settings, scope, stock=shelf, service_level=service_level
            )
            return spares_table(found, self.settings, scope, shown=shown)
