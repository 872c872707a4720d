"""The questions about what is still to come: claims, spares and money."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Unpack

import pandas as pd

from claimlens.analysis.backtest import STAND_BACK, backtest_table, stand_back
from claimlens.analysis.forecast import forecast
from claimlens.analysis.forecast_cost import prices_of
from claimlens.analysis.forecast_counts import count_ahead
from claimlens.analysis.forecast_table import forecast_table
from claimlens.analysis.outstanding import outstanding
from claimlens.analysis.planned_sales import read_sales
from claimlens.analysis.provision import check_movement, movement, units_sold
from claimlens.analysis.question import Asked, Day, as_day, ask
from claimlens.analysis.reserve import reserve_table
from claimlens.analysis.run_off import run_off
from claimlens.analysis.sales_values import read_sales_values
from claimlens.analysis.scenario_table import scenario_table
from claimlens.analysis.scenarios import Scenario
from claimlens.analysis.scope import cut_off, open_known
from claimlens.analysis.severity import severity
from claimlens.analysis.spares import asked_of_fleet, spares
from claimlens.analysis.spares_table import spares_table
from claimlens.answers import names_of
from claimlens.db import read_warehouse
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
        sales: str | Path | None = None,
        coverage: int | None = None,
        without: str | Sequence[str] = (),
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
        coverage : int, optional
            Months that every cover is to last.
        without : str or sequence of str, optional
            Engineering changes to be taken as not made.
        **asked
            Cut-off, known-by date and filters: see
            `claimlens.analysis.question.Asked`.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.forecast_table.forecast_table`.
        """
        scenario = Scenario(
            sales=None if sales is None else read_sales(Path(sales)),
            coverage=coverage,
            without=names_of(without),
        )
        with self._reading(ask(**asked)) as (session, scope):
            prices = prices_of(session, self.settings, scope)
            found = forecast(
                session,
                self.settings,
                scope,
                by=names_of(by),
                months=months,
                scenario=scenario,
                taxonomy=self._terms.taxonomy,
                costs=prices.costs,
            )
            return forecast_table(found, scope, total=total, prices=prices)

    def scenarios(
        self,
        *,
        months: int = 12,
        sales: Sequence[str | Path] = (),
        coverage: Sequence[int] = (),
        without: Sequence[str] = (),
        **asked: Unpack[Asked],
    ) -> pd.DataFrame:
        """Return what each of several scenarios would bring, beside what is.

        Parameters
        ----------
        months : int, default 12
            Months to come, 1 to 36.
        sales, coverage, without : sequence
            A scenario for each list of planned sales, each length of cover, and
            each engineering change taken as not made.
        **asked
            Cut-off, known-by date and filters: see
            `claimlens.analysis.question.Asked`.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.scenario_table.scenario_table`.
        """
        wanted = {"as it is": Scenario()}
        for path in sales:
            wanted[f"sales of {Path(path).name}"] = Scenario(
                sales=read_sales(Path(path))
            )
        for cover in coverage:
            wanted[f"cover of {cover} months"] = Scenario(coverage=cover)
        for number in without:
            wanted[f"without {number}"] = Scenario(without=(number,))
        found = {}
        for name, scenario in wanted.items():
            with self._reading(ask(**asked)) as (session, scope):
                prices = prices_of(session, self.settings, scope)
                one = forecast(
                    session,
                    self.settings,
                    scope,
                    by=(),
                    months=months,
                    scenario=scenario,
                    taxonomy=self._terms.taxonomy,
                    costs=prices.costs,
                )
                found[name] = next(one.segments())
        return scenario_table(found, scope, prices)

    def backtest(
        self,
        *,
        by: str | Sequence[str] = (),
        **asked: Unpack[Asked],
    ) -> pd.DataFrame:
        """Return how forecasts made 6 and 12 months ago would have done.

        Parameters
        ----------
        by : str or sequence of str, optional
            Grouping, as for `forecast`.
        **asked
            Cut-off, known-by date and filters: see
            `claimlens.analysis.question.Asked`.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.backtest.backtest_table`.

        Raises
        ------
        InputError
            If the claims do not go so far back.
        """
        question, groups = ask(**asked), names_of(by)
        with read_warehouse(self.warehouse, limits=self._limits) as session:
            open_known(session, question.as_known)
            as_of, _ = cut_off(session, question)
        earlier = [
            stand_back(
                self._reading,
                self.settings,
                question,
                as_of=as_of,
                by=groups,
                months_back=back,
            )
            for back in STAND_BACK
        ]
        with self._reading(question) as (session, scope):
            count_ahead(session, self.settings, scope, by=groups, months=1)
            return backtest_table(session, self.settings, earlier, scope.as_of)

    def severity(
        self, *, by: str | Sequence[str] = "component", **asked: Unpack[Asked]
    ) -> pd.DataFrame:
        """Return what a settled claim cost, each currency for itself.

        Parameters
        ----------
        by : str or sequence of str, default "component"
            Grouping: component, failure_mode, year, model, model_year, region,
            generation, dealer.
        **asked
            Cut-off, known-by date and filters: see
            `claimlens.analysis.question.Asked`.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.severity.severity`.
        """
        with self._reading(ask(**asked)) as (session, scope):
            return severity(session, self.settings, scope, by=names_of(by))

    def reserve(
        self,
        *,
        by: str | Sequence[str] = (),
        life: bool = False,
        without: str | Sequence[str] = (),
        **asked: Unpack[Asked],
    ) -> pd.DataFrame:
        """Return what units in the field still cost under cover, part by part.

        Parameters
        ----------
        by : str or sequence of str, optional
            Grouping: model, model_year, region, generation, component.
        life : bool, default False
            Add what was paid so far, and what the units shipped by now cost over
            their life.
        without : str or sequence of str, optional
            Engineering changes: adds what would be outstanding had each not been
            made, and what it saves.
        **asked
            Cut-off, known-by date and filters: see
            `claimlens.analysis.question.Asked`.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.reserve.reserve_table`.
        """
        question, names = ask(**asked), names_of(by)
        undone = {}
        for number in names_of(without):
            with self._reading(question) as (session, scope):
                undone[number] = outstanding(
                    session, self.settings, scope, by=names, without=number
                )
        with self._reading(question) as (session, scope):
            found = outstanding(session, self.settings, scope, by=names)
        return reserve_table(found, self.settings, scope, life=life, undone=undone)

    def provision(
        self,
        *,
        since: Day,
        by: str | Sequence[str] = (),
        sales: str | Path | None = None,
        **asked: Unpack[Asked],
    ) -> pd.DataFrame:
        """Return how the provision moved from a day to the cut-off.

        Parameters
        ----------
        since : date or str
            Day of the opening; what was outstanding then is told by what was known
            of claims and units by then.
        by : str or sequence of str, optional
            Grouping: model, model_year, region.
        sales : str or Path, optional
            A CSV file with sales values: month, value, currency and the keys.
        **asked
            Cut-off, known-by date and filters: see
            `claimlens.analysis.question.Asked`.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.provision.movement`.
        """
        question, names, settings = ask(**asked), names_of(by), self.settings
        first = as_day(since)
        with self._reading(question) as (session, scope):
            day = scope.as_of if first is None else first
            check_movement(names, day, scope.as_of)
            values = None
            if sales is not None:
                values = read_sales_values(
                    Path(sales),
                    settings.currency,
                    by=names,
                    since=day,
                    as_of=scope.as_of,
                )
            sold = units_sold(session, names, since=day, as_of=scope.as_of)
            closing = outstanding(session, settings, scope, by=names, sold_after=day)
        with self._reading(replace(question, as_of=day)) as (session, earlier):
            opening = outstanding(
                session, settings, earlier, by=names, later_day=scope.as_of
            )
        return movement(opening, closing, settings, scope, sold=sold, sales=values)

    def run_off(self, *, months: int = 3, **asked: Unpack[Asked]) -> pd.DataFrame:
        """Return claims and cost by age, run off with chain-ladder factors.

        Parameters
        ----------
        months : int, default 3
            Months of coming into service in a row, and of a development; 1 to 24.
        **asked
            Cut-off, known-by date and filters: see
            `claimlens.analysis.question.Asked`.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.run_off.run_off`.
        """
        with self._reading(ask(**asked)) as (session, scope):
            return run_off(session, self.settings, scope, months=months)

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
