"""Everything that the pack for a supplier shows, counted and estimated."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace

import pandas as pd

from claimlens.analysis.agreements import settle_shares, statement, terms_of
from claimlens.analysis.compare import COMPARE_COLUMNS, compare
from claimlens.analysis.forecast import forecast
from claimlens.analysis.forecast_cost import prices_of
from claimlens.analysis.forecast_table import forecast_table
from claimlens.analysis.life import LIFE_COLUMNS, life
from claimlens.analysis.private import redactor_of
from claimlens.analysis.production import count_production
from claimlens.analysis.rates import RATE_COLUMNS, rates
from claimlens.analysis.report_meta import read_batches, report_meta
from claimlens.analysis.scope import Scope, put_filters
from claimlens.analysis.supplier_claims import supplier_claims
from claimlens.analysis.suppliers import Supplier, supplied_units, supplier_named
from claimlens.analysis.window_months import window_months
from claimlens.analysis.windows import WINDOW_COLUMNS, windows
from claimlens.classify.taxonomy import Taxonomy
from claimlens.classify.terms import Terms
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.redact import Redactor
from claimlens.report_inputs.supplier import SupplierInputs
from claimlens.settings import Settings

__all__ = ["supplier_inputs"]

_MONTHS = 12
_NO_REGISTER = (
    "No unit register is loaded: claims are counted, and nothing here is a rate."
)
_WINDOW_MONTHS = ("component", "month", "units", "observed", "expected", "inside")
_UNKNOWN = "unknown"


def supplier_inputs(
    session: Session,
    settings: Settings,
    scope: Scope,
    *,
    name: str,
    terms: Terms,
    version: str,
) -> tuple[SupplierInputs, Redactor]:
    """Gather the inputs of the pack for one supplier.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``, without filters.
    settings : Settings
        The workspace's.
    scope : Scope
        Cut-off in force.
    name : str
        The supplier.
    terms : Terms
        With the taxonomy: components, whose names are no names of persons.
    version : str
        Version of claimlens, for the foot of the page.

    Returns
    -------
    inputs : SupplierInputs
        Frames and scalars, free of personal data.
    redactor : Redactor
        For the second scan of what is made from them.

    Raises
    ------
    InputError
        If there is no such supplier.
    """
    supplier = supplier_named(session, name)
    taxonomy = terms.taxonomy
    redactor = redactor_of(
        session,
        settings,
        allowed=supplier.spellings,
        words=[*taxonomy.components, *taxonomy.modes],
    )
    told = supplier_claims(session, scope, supplier, redactor)
    shares = settle_shares(told.raw, settings.agreement, supplier)
    has_units = session.count("int_units") > 0
    counted = (
        _Counted(session, settings, scope, supplier).gather()
        if has_units
        else _nothing()
    )
    to_come, not_ahead = (
        _to_come(session, settings, scope, supplier, taxonomy)
        if has_units
        else (pd.DataFrame(columns=list(_TO_COME)), _NO_REGISTER)
    )
    responses = told.responses
    owed = pd.concat([told.raw, shares], axis=1)
    return SupplierInputs(
        meta=report_meta(
            settings,
            scope,
            read_batches(session, scope),
            terms=terms,
            version=version,
        ),
        supplier=supplier.name,
        alone=supplier.alone,
        fitted=supplier.fitted,
        unplaced=supplier.unplaced,
        parts=session.frame(
            "marts/supplier_parts", {"suppliers": list(supplier.spellings)}
        ),
        claims=pd.concat([told.claims, shares], axis=1),
        claims_by_month=told.by_month,
        **counted,
        to_come=to_come,
        not_ahead=not_ahead,
        responses=responses,
        statement=statement(owed, told.raw_responses),
        not_owed=_reasons(shares),
        terms=terms_of(settings.agreement, supplier),
        answer_days=settings.report.answer_days,
        no_rates="" if has_units else _NO_REGISTER,
        removed=told.removed,
    ), redactor


def _reasons(shares: pd.DataFrame) -> pd.DataFrame:
    """Count the claims that nothing is owed for, by reason."""
    why = shares.loc[shares["not_owed"] != "", "not_owed"].value_counts(sort=False)
    frame = pd.DataFrame({"reason": why.index, "claims": why.to_numpy(dtype=int)})
    return frame.sort_values(["claims", "reason"], ascending=[False, True])


_EMPTY = {
    "rates": ("component", *RATE_COLUMNS),
    "life": ("component", *LIFE_COLUMNS),
    "windows": WINDOW_COLUMNS,
    "window_months": _WINDOW_MONTHS,
    "lots": ("component", "lot", *COMPARE_COLUMNS),
    "against": ("component", *COMPARE_COLUMNS, "other_units", "other_claims"),
}
_TO_COME = (
    "component", "claims", "lower80", "upper80", "lower95", "upper95", "cost",
    "currency",
)  # fmt: skip


def _nothing() -> dict[str, pd.DataFrame]:
    return {name: pd.DataFrame(columns=list(keys)) for name, keys in _EMPTY.items()}


@dataclass(frozen=True, slots=True)
class _Counted:
    """What needs units to divide by."""

    session: Session
    settings: Settings
    scope: Scope
    supplier: Supplier

    def gather(self) -> dict[str, pd.DataFrame]:
        """Return the frames of ``_EMPTY``."""
        parts: dict[str, list[pd.DataFrame]] = {name: [] for name in _EMPTY}
        for components in self._groups():
            with self._population(components) as scope:
                for name, frame in self._of(scope, components).items():
                    parts[name].append(frame)
        parts["against"].append(self._against())
        result = _nothing()
        for name, frames in parts.items():
            filled = [frame for frame in frames if len(frame)]
            if filled:
                result[name] = pd.concat(filled, ignore_index=True)
        result["windows"] = result["windows"].sort_values(
            ["p_value", "shrunk_ratio", "component"], ascending=[True, False, True]
        )
        return result

    def _groups(self) -> Iterator[tuple[str, ...]]:
        if self.supplier.alone:
            yield self.supplier.alone
        for component in self.supplier.fitted:
            yield (component,)

    @contextmanager
    def _population(self, components: Sequence[str]) -> Iterator[Scope]:
        """Leave the units that carry his part, and ask for these components."""
        wanted = {**self.scope.wanted, "component": tuple(components)}
        put_filters(self.session, wanted)
        scope = replace(self.scope, wanted=wanted)
        try:
            if tuple(components) == self.supplier.alone:
                yield scope
            else:
                with supplied_units(self.session, scope, self.supplier, *components):
                    yield scope
        finally:
            put_filters(self.session, self.scope.wanted)

    def _of(self, scope: Scope, components: Sequence[str]) -> dict[str, pd.DataFrame]:
        """Count and estimate one population."""
        asked = (self.session, self.settings, scope)
        ages = list(self.settings.report.table_at_months)
        production = count_production(*asked)
        found = windows(*asked, production=production)
        shown = found[found["p_value"].notna()]
        return {
            "rates": rates(*asked, by=("component",), at=ages),
            "life": life(*asked, by=("component",)),
            "windows": shown,
            "window_months": window_months(production, shown),
            "lots": self._lots(scope, components),
        }

    def _lots(self, scope: Scope, components: Sequence[str]) -> pd.DataFrame:
        """Set the lots of his parts against each other."""
        kept = self.session.frame("marts/supplier_lots")
        own = kept["supplier"].isin(self.supplier.spellings)
        lots = kept[own & kept["component"].isin(components)]
        if lots["lot"].nunique() < 2:
            return pd.DataFrame(columns=list(_EMPTY["lots"]))
        found = compare(self.session, self.settings, scope, by=("component", "lot"))
        return found[found["lot"].isin(lots["lot"]) & (found["units"] > 0)]

    def _against(self) -> pd.DataFrame:
        """Set his parts beside those of all others, who are not named."""
        if not self.supplier.fitted:
            return pd.DataFrame(columns=list(_EMPTY["against"]))
        found = compare(
            self.session, self.settings, self.scope, by=("component", "supplier")
        )
        is_own = found["supplier"].isin(self.supplier.spellings)
        is_other = ~is_own & (found["supplier"] != _UNKNOWN)
        others = found[is_other].groupby("component")[["units", "claims"]].sum()
        own = found[is_own & found["component"].isin(self.supplier.fitted)]
        own = own.join(others.add_prefix("other_"), on="component")
        return own.drop(columns="supplier").reset_index(drop=True)


def _to_come(
    session: Session,
    settings: Settings,
    scope: Scope,
    supplier: Supplier,
    taxonomy: Taxonomy,
) -> tuple[pd.DataFrame, str]:
    """Look ahead at the claims on his parts, or say why that cannot be told."""
    try:
        prices = prices_of(session, settings, scope)
        found = forecast(
            session,
            settings,
            scope,
            by=("component", "supplier"),
            months=_MONTHS,
            taxonomy=taxonomy,
            costs=prices.costs,
        )
    except InputError as error:
        # such as too young a fleet: the pack does without, and says so
        return pd.DataFrame(columns=list(_TO_COME)), error.problem
    table = forecast_table(found, scope, total=True, prices=prices)
    own = table[table["supplier"].isin(supplier.spellings)]
    return own[list(_TO_COME)].reset_index(drop=True), ""
