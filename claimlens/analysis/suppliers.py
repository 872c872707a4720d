"""Which supplier is meant, what he supplies, and which units carry his parts."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from difflib import get_close_matches

import pandas as pd

from claimlens.analysis.carriers import put_carriers
from claimlens.analysis.grouping import same_name
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.errors import InputError

__all__ = ["Supplier", "supplied_units", "supplier_named"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Supplier:
    """A supplier, and what is known of where his parts are.

    Parameters
    ----------
    name : str
        As most lists write it.
    spellings : tuple of str
        All spellings: case, blanks, hyphens and underscores do not tell suppliers
        apart.
    alone : tuple of str
        Components that no other supplier is listed for, so that every unit carries
        his part.
    fitted : tuple of str
        Components of several suppliers of which a list of fitted parts tells which
        units carry his.
    unplaced : tuple of str
        Components of several suppliers of which nothing tells that.
    """

    name: str
    spellings: tuple[str, ...]
    alone: tuple[str, ...]
    fitted: tuple[str, ...]
    unplaced: tuple[str, ...]

    @property
    def components(self) -> tuple[str, ...]:
        """Return all components that he supplies, in alphabetical order."""
        return tuple(sorted({*self.alone, *self.fitted, *self.unplaced}))

    def is_meant_by(self, name: str) -> bool:
        """Tell whether a name is one of his."""
        return same_name(self.name, name)


def supplier_named(session: Session, name: str) -> Supplier:
    """Find a supplier by name.

    Parameters
    ----------
    session : Session
        With the ``*_known`` tables and ``component_words``.
    name : str
        As given.

    Returns
    -------
    Supplier

    Raises
    ------
    InputError
        If no list names him, the nearest names offered.
    """
    choices = session.frame("marts/supplier_choices")
    known = [str(each) for each in dict.fromkeys(choices["supplier"])]
    if not known:
        raise InputError(
            "No supplier is known.",
            remedy="load a list of parts (part_no, component, supplier): claimlens "
            "ingest FILE",
        )
    spellings = tuple(each for each in known if same_name(each, name))
    if not spellings:
        near = get_close_matches(name, known, 1, 0.5)
        listed = ", ".join(known[:12]) + (", ..." if len(known) > 12 else "")
        raise InputError(
            f"There is no supplier {name!r}.",
            remedy=f"did you mean {near[0]!r}?" if near else f"the lists have {listed}",
        )
    own = choices["supplier"].isin(spellings)
    supplied = sorted(set(choices.loc[own, "component"]) - {""})
    others = set(choices.loc[~own, "component"])
    fitted = set(choices.loc[own & choices["is_fitted"].astype(bool), "component"])
    alone = [each for each in supplied if each not in others]
    shared = [each for each in supplied if each in others]
    return Supplier(
        # most rows, then the alphabet: the same whatever was asked for
        name=str(choices.loc[own, "supplier"].value_counts(sort=False).idxmax()),
        spellings=spellings,
        alone=tuple(alone),
        fitted=tuple(each for each in shared if each in fitted),
        unplaced=tuple(each for each in shared if each not in fitted),
    )


@contextmanager
def supplied_units(
    session: Session, scope: Scope, supplier: Supplier, component: str
) -> Iterator[None]:
    """Leave only the units that carry his part of a component, for a while.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    scope : Scope
        Cut-off in force.
    supplier : Supplier
        Whose parts.
    component : str
        Which part; one of ``supplier.fitted``.
    """
    put_carriers(session, scope.as_of)
    session.keep_as("int_units", "int_units_all")
    try:
        session.run(
            "intermediate/int_units_of_supplier",
            {"component": component, "suppliers": list(supplier.spellings)},
        )
        yield
    finally:
        session.keep_as("int_units_all", "int_units")


def other_names(names: pd.DataFrame, supplier: Supplier) -> tuple[str, ...]:
    """Return the names of all other suppliers.

    Parameters
    ----------
    names : DataFrame
        Rows of ``names_known``.
    supplier : Supplier
        Whose name may stay.
    """
    listed = names.loc[names["kind"] == "supplier", "name"]
    return tuple(str(each) for each in listed if not supplier.is_meant_by(str(each)))
