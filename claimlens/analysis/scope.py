"""What a question looks at: cut-off, what was known, filters; made ready as tables."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from difflib import get_close_matches

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.component_names import known_components, nearest_component
from claimlens.analysis.cover import Cover, watch_cover
from claimlens.analysis.cover_terms import put_cover
from claimlens.analysis.evidence import read_claims
from claimlens.analysis.learning import usable_model
from claimlens.analysis.months import last_month_end
from claimlens.analysis.question import FILTERS, Question
from claimlens.analysis.reporting import Reporting, read_reporting
from claimlens.analysis.sales_lag import DatesKnown, put_sales_lag
from claimlens.analysis.shipments import put_shipments, unmatched_notes
from claimlens.classify.learned import Learned
from claimlens.classify.taxonomy import Taxonomy
from claimlens.classify.terms import Terms
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings
from claimlens.tables import KINDS

__all__ = [
    "Scope",
    "cut_off",
    "open_known",
    "prepare",
    "put_component_words",
    "put_filters",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scope:
    """A question whose tables stand ready.

    Parameters
    ----------
    as_of : date
        The cut-off in force.
    as_known : date or None
        As asked.
    wanted : mapping
        As asked.
    notes : tuple of str
        What a reader of any number from here must know.
    n_lag_units : int
        Units whose dates told the sales lag.
    dates : DatesKnown
        Whose in-service dates are known.
    reporting : Reporting
        Share of failures reported by days after the failure.
    cover : Cover
        Limits by distance, and the share of units within them by age.
    model_digest : str
        Of the learned model that answers; empty where none does.
    """

    as_of: date
    as_known: date | None
    wanted: Mapping[str, tuple[str, ...]]
    notes: tuple[str, ...]
    n_lag_units: int
    dates: DatesKnown
    reporting: Reporting
    cover: Cover
    model_digest: str = ""

    def covered(self, n_ages: int) -> NDArray[np.float64]:
        """Return the share of units within their distance limit by day of age.

        Shape (D, A), a row for each class of limit.
        """
        return self.cover.covered(n_ages)

    @property
    def dates_at_random(self) -> bool:
        """Tell whether the units with an in-service date speak for all."""
        return self.dates.at_random


def open_known(session: Session, as_known: date | None) -> None:
    """Make the ``*_known`` tables: the facts as known by a date.

    Parameters
    ----------
    session : Session
        On the warehouse.
    as_known : date or None
        None for all that is known now.
    """
    if as_known is None:
        for kind in KINDS:
            session.alias(f"{kind}_known", f"{kind}_current")
        return
    session.run("intermediate/batches_known", {"as_known": as_known})
    session.run("staging/fold_macros")
    session.put("touched", pd.DataFrame({"row_key": pd.array([], dtype="str")}))
    for kind in KINDS:
        session.run(
            f"staging/fold_{kind}", {"as_known": as_known, "only_touched": False}
        )
        session.keep_as("folded", f"{kind}_known")
        # the views of flags read the current tables: let them see these
        session.alias(f"{kind}_current", f"{kind}_known")


def prepare(
    session: Session,
    settings: Settings,
    terms: Terms,
    question: Question,
    learned: Learned | None = None,
) -> Scope:
    """Make every table that the counting queries read.

    Parameters
    ----------
    session : Session
        On the warehouse.
    settings : Settings
        Coverage and counting rules.
    terms : Terms
        For claims not read yet.
    question : Question
        What is asked.
    learned : Learned, optional
        Answers what the terms leave open, unless it has seen what the question
        hides.

    Returns
    -------
    Scope
        The cut-off in force and what to tell with it.

    Raises
    ------
    InputError
        If a filter is not known, or the cut-off lies before every claim.
    """
    wanted = _named_as_the_taxonomy(question.wanted, terms.taxonomy)
    put_filters(session, wanted)
    open_known(session, question.as_known)
    as_of, notes = cut_off(session, question)
    model = usable_model(
        learned, settings, terms, as_of=as_of, as_known=question.as_known
    )
    read_claims(session, settings, terms, as_of=as_of, learned=model.learned)
    put_component_words(session, terms)
    put_cover(session, settings, terms.taxonomy)
    session.run("intermediate/int_shipped", {"as_of": as_of})
    session.run("intermediate/int_units", {"as_of": as_of})
    session.run("intermediate/int_cover")
    if session.count("int_units") == 0:
        notes += ("no unit register: claims only, no rate",)
    else:
        _check_filters(session, wanted)
    sales_lag = put_sales_lag(session, settings, as_of)
    shipped = put_shipments(session, settings, as_of, sales_lag)
    session.run(
        "intermediate/int_service",
        {"as_of": as_of, "share_dated": sales_lag.dates.share_dated},
    )
    cover = watch_cover(session, settings, as_of)
    return Scope(
        as_of=as_of,
        as_known=question.as_known,
        wanted=wanted,
        notes=notes
        + model.notes
        + sales_lag.notes
        + shipped.notes
        + unmatched_notes(session)
        + cover.notes,
        n_lag_units=sales_lag.n_units,
        dates=sales_lag.dates,
        reporting=read_reporting(session, settings, as_of),
        cover=cover,
        model_digest=model.digest,
    )


def _named_as_the_taxonomy(
    wanted: Mapping[str, tuple[str, ...]], taxonomy: Taxonomy
) -> dict[str, tuple[str, ...]]:
    """Return the filters, each component under its name in the taxonomy.

    A component that nobody knows would otherwise read as one that never fails.
    """
    named = dict(wanted)
    if "component" in named:
        found = []
        for given in named["component"]:
            name = (
                given
                if given in known_components(taxonomy)
                else taxonomy.component_for(given)
            )
            if name is None:
                raise InputError(
                    f"There is no component {given!r}.",
                    remedy=nearest_component(given, taxonomy),
                )
            found.append(name)
        named["component"] = tuple(dict.fromkeys(found))
    return named


def put_filters(session: Session, wanted: Mapping[str, tuple[str, ...]]) -> None:
    """Hand the filters to the counting queries.

    Parameters
    ----------
    session : Session
        On the warehouse.
    wanted : mapping of str to tuple of str
        Names of ``FILTERS`` to the values wanted.

    Raises
    ------
    InputError
        If a filter is not known.
    """
    unknown = [name for name in wanted if name not in FILTERS]
    if unknown:
        raise InputError(
            f"There is no filter {unknown[0]!r}.",
            remedy=f"filters are {', '.join(FILTERS)}",
        )
    rows = [(name, value) for name, values in wanted.items() for value in values]
    session.put(
        "wanted", pd.DataFrame(rows, columns=["column_name", "value"], dtype="str")
    )


def _check_filters(session: Session, wanted: Mapping[str, tuple[str, ...]]) -> None:
    """Refuse a model, model year or region that no unit of the register has."""
    choices = session.frame("marts/unit_choices")
    for name, given in wanted.items():
        known = choices.loc[choices["column_name"] == name, "value"].dropna().tolist()
        for value in given:
            if known and value not in known:
                near = get_close_matches(value, known, 1)
                listed = ", ".join(known[:12]) + (", ..." if len(known) > 12 else "")
                raise InputError(
                    f"No unit has the {name.replace('_', ' ')} {value!r}.",
                    remedy=f"did you mean {near[0]!r}?"
                    if near
                    else f"the register has {listed}",
                )


def cut_off(session: Session, question: Question) -> tuple[date, tuple[str, ...]]:
    """Return the cut-off in force, and a note where it lies beyond the data.

    Parameters
    ----------
    session : Session
        With the ``*_known`` tables.
    question : Question
        What is asked.

    Raises
    ------
    InputError
        If there is no claim, or the cut-off lies before every claim.
    """
    seen = session.frame("marts/newest_report").iloc[0]
    if pd.isna(seen["newest_on"]):
        raise InputError(
            "There is no claim in the warehouse.",
            remedy="load a claims export first: claimlens ingest FILE",
        )
    oldest, newest = seen["oldest_on"].date(), seen["newest_on"].date()
    if question.as_of is None:
        month_end = last_month_end(newest)
        return (month_end if month_end >= oldest else newest), ()
    if question.as_of < oldest:
        raise InputError(
            f"The cut-off {question.as_of} lies before the first claim, which was "
            f"reported on {oldest}.",
            remedy=f"choose a cut-off from {oldest} on, such as --as-of {newest}",
        )
    if question.as_of > newest:
        return question.as_of, (
            f"the cut-off {question.as_of} is later than the newest report, {newest}",
        )
    return question.as_of, ()


def put_component_words(session: Session, terms: Terms) -> None:
    """Translate the free spellings of components into those of the taxonomy."""
    texts = session.frame("intermediate/component_texts")["text"].tolist()
    known = [terms.taxonomy.component_for(text) or text for text in texts]
    session.put(
        "component_words",
        pd.DataFrame({"text": texts, "component": known}, dtype="str"),
    )
