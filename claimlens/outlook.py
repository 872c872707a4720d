"""The questions about what is still to come: claims, spares and money."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Unpack

import pandas as pd

from claimlens.analysis.forecast import forecast
from claimlens.analysis.forecast_table import forecast_table
from claimlens.analysis.planned_sales import read_sales
from claimlens.analysis.question import Asked, ask
from claimlens.answers import names_of
from claimlens.diagnosis import Diagnosis

__all__ = ["Outlook"]


class Outlook(Diagnosis):
    """The questions of whoever sets money and parts aside."""

    def forecast(
        self,
        *,
        by: str | Sequence[str] = (),
        months: int = 12,
        total: bool = False,
        sales: str | Path | None = None,
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
        sales : str or Path, optional
            List of planned sales: model, month, quantity.
        **asked
            Cut-off, known-by date and filters: see
            `claimlens.analysis.question.Asked`.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.forecast_table.forecast_table`.
        """
        planned = None if sales is None else read_sales(Path(sales))
        with self._reading(ask(**asked)) as (session, scope):
            found = forecast(
                session,
                self.settings,
                scope,
                by=names_of(by),
                months=months,
                sales=planned,
            )
            return forecast_table(found, scope, total=total)
