"""What a symptom turned out to be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.cautions import serious_components
from claimlens.analysis.notes import joined
from claimlens.analysis.symptom_words import asked_of, narrowed, put_asked, put_models
from claimlens.classify.terms import Terms
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings
from claimlens.stats.cause_shares import CauseShares, cause_shares
from claimlens.stats.unit_months import DAYS_PER_MONTH

__all__ = ["CAUSE_COLUMNS", "Kind", "causes", "put_cause_claims"]

CAUSE_COLUMNS = (
    "component",
    "failure_mode",
    "claims",
    "share",
    "lower",
    "upper",
    "matched",
    "usual_share",
    "repairs_followed",
    "repairs_held",
    "check_cost",
    "currency",
    "check_order",
    "kind",
    "note",
    "as_of",
)

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

# a repair that lasts so long has held, as for repeat repairs
_REPAIR_DAYS = 90
# ages within which claims are of one kind, in months in service
_AGE_BANDS = (0.0, 3.0, 12.0, 24.0, 48.0)
# an upper limit from which on a dangerous cause is always listed
_FEARED = 0.05
# checks that found nothing tell what a check costs; so many of them are needed
_CHECKS = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """Which units the question is about.

    Parameters
    ----------
    models : sequence of str
        Empty for all.
    generation : str or None
        None for all.
    age_months : float or None
        Months in service at the failure; None for all.
    """

    models: Sequence[str] = ()
    generation: str | None = None
    age_months: float | None = None

    @property
    def levels(self) -> list[tuple[str, int]]:
        """Return the name and likeness of each level, from all claims to the kind."""
        found = [("all models", 0)]
        if self.models:
            found.append((", ".join(self.models), 1))
        if self.generation is not None:
            found.append((f"generation {self.generation}", 2))
        if self.age_months is not None:
            low, high = self.ages
            end = f" to {high:g}" if np.isfinite(high) else " and more"
            found.append((f"{low:g}{end} months in service", 3))
        return found

    @property
    def ages(self) -> tuple[float, float]:
        """Return the months in service that count as the age asked for."""
        age = self.age_months or 0.0
        low = max(edge for edge in _AGE_BANDS if edge <= age)
        return low, next((edge for edge in _AGE_BANDS if edge > age), np.inf)


def put_cause_claims(session: Session, settings: Settings, as_of: date) -> None:
    """Make ``int_cause_claims``: all that does not depend on the words asked.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Counting rules.
    as_of : date
        Cut-off in force.
    """
    session.run(
        "intermediate/int_cause_claims",
        {
            "as_of": as_of,
            "repair_days": _REPAIR_DAYS,
            "same_event_days": settings.counting.same_event_days,
        },
    )


def causes(
    session: Session, terms: Terms, *, text: str, kind: Kind, as_of: date
) -> pd.DataFrame:
    """Count what claims with a symptom turned out to be.

    Only claims whose cause is established by other evidence than the owner's words
    count: a reviewed label, an inspection, a replaced part. Causes that the words
    themselves suggested would only tell what the terms think.

    Parameters
    ----------
    session : Session
        With ``int_cause_claims`` and ``claims_known``.
    terms : Terms
        Read the text.
    text : str
        What the owner sees, in a few words.
    kind : Kind
        Models, generation and age that the question is about. Shares lean on the
        next wider kind, by ten claims.
    as_of : date
        Cut-off in force.

    Returns
    -------
    pandas.DataFrame
        ``CAUSE_COLUMNS``, the most frequent cause first: claims by component and
        failure mode among ``matched``, share with 95 % limits, usual share among all
        claims of the kind, repairs that were followed for 90 days and those that
        held, cost of the check, and the order of checks by share found per cost of
        the check. ``note`` tells where the words do not tell.

    Raises
    ------
    InputError
        If the text has no word to look for or is far too long, or the age is below 0.
    """
    if kind.age_months is not None and not 0.0 <= kind.age_months <= 600.0:
        raise InputError(
            f"An age must lie between 0 and 600 months; got {kind.age_months:g}.",
            remedy="give months in service, as in --age 8",
        )
    asked = asked_of(text, terms)
    put_asked(session, asked)
    put_models(session, kind.models)
    low, high = (months * DAYS_PER_MONTH for months in kind.ages)
    has_age = kind.age_months is not None
    groups = session.frame(
        "marts/symptom_counts",
        {
            "generation": kind.generation,
            "from_days": low if has_age else None,
            "to_days": high if has_age else None,
        },
    )
    n_claims = groups["n_claims"].to_numpy(dtype=np.int64)
    is_established = groups["is_established"].to_numpy(dtype=bool)
    chosen, dropped, unknown = narrowed(
        asked,
        groups["matches"].to_numpy(dtype=np.int64),
        n_claims,
        np.where(is_established, n_claims, 0),
    )
    return _table(groups, chosen, kind, notes=_notes(dropped, unknown), as_of=as_of)


def _notes(dropped: list[str], unknown: list[str]) -> list[str]:
    told = []
    if unknown:
        told.append("no claim has: " + ", ".join(unknown))
    if dropped:
        told.append("too few claims have all words; left out: " + ", ".join(dropped))
    return told


def _table(
    groups: pd.DataFrame,
    chosen: Bools,
    kind: Kind,
    *,
    notes: list[str],
    as_of: date,
) -> pd.DataFrame:
    """Return the rows of the answer."""
    established = groups["is_established"].to_numpy(dtype=bool)
    likeness = groups["likeness"].to_numpy(dtype=np.int64)
    n_claims = groups["n_claims"].to_numpy(dtype=np.float64)
    pairs = groups[["component", "failure_mode"]]
    causes_known = (
        pairs[established].drop_duplicates().sort_values(["component", "failure_mode"])
    )
    causes_known = causes_known.reset_index(drop=True)
    place = pd.MultiIndex.from_frame(causes_known).get_indexer(
        pd.MultiIndex.from_frame(pairs)
    )

    def counted(rows: Bools) -> Floats:
        rows = rows & established
        total = np.bincount(place[rows], n_claims[rows], len(causes_known))
        return total.astype(np.float64)

    levels = kind.levels
    counts = [counted(chosen & (likeness >= least)) for _, least in levels]
    like = likeness >= levels[-1][1]
    everything = counted(like)
    usual = everything / max(everything.sum(), 1.0)
    shares, base = None, usual
    for found in counts:
        shares = cause_shares(found, base, usual=usual)
        base = shares.share
    assert shares is not None  # there is always the level of all models
    own = like & chosen
    told = _leading(counts, usual, causes_known["component"])
    words_only = int(n_claims[own & ~established].sum())
    if words_only:
        notes = [
            *notes,
            f"{words_only} more claims have these words and nothing but words to "
            "tell their cause; not counted",
        ]
    table = causes_known.assign(
        claims=counts[-1].astype(np.int64),
        share=shares.share,
        lower=shares.lower,
        upper=shares.upper,
        matched=int(counts[-1].sum()),
        usual_share=usual,
        kind=", ".join(name for name, _ in levels[-1:]),
        note=joined((told, *notes)),
        as_of=pd.Timestamp(as_of),
    )
    # what can hurt somebody is listed even where it was never found, if it may be
    feared = table["component"].isin(serious_components()) & (table["upper"] >= _FEARED)
    table = table[(table["claims"] > 0) | feared]
    table = _with_repairs(table, groups[own & established])
    table = _with_checks(table, groups).sort_values(
        ["claims", "share", "component", "failure_mode"],
        ascending=[False, False, True, True],
    )
    return table[list(CAUSE_COLUMNS)].reset_index(drop=True)


def _leading(counts: list[Floats], usual: Floats, component: pd.Series) -> str:
    """Return which component the words tell of, or why they tell of none."""
    names, number = np.unique(component.to_numpy(dtype=str), return_inverse=True)

    def by_component(values: Floats) -> Floats:
        return np.bincount(number, weights=values, minlength=names.size).astype(float)

    if not names.size:
        return "no claim has an established cause"
    base = common = by_component(usual)
    told: CauseShares | None = None
    for found in counts:
        told = cause_shares(by_component(found), base, usual=common)
        base = told.share
    assert told is not None  # there is always the level of all models
    if told.leader is None:
        return told.note
    n = int(counts[-1].sum())
    found_there = int(by_component(counts[-1])[told.leader])
    return f"mostly {names[told.leader]}: {found_there} of {n}"


def _with_repairs(table: pd.DataFrame, groups: pd.DataFrame) -> pd.DataFrame:
    """Add how many repairs were followed for 90 days, and how many held."""
    keys = ["component", "failure_mode"]
    counted = groups.groupby(keys)[["n_followed", "n_held"]].sum().reset_index()
    named = {"n_followed": "repairs_followed", "n_held": "repairs_held"}
    table = table.merge(counted.rename(columns=named), on=keys, how="left")
    for name in named.values():
        table[name] = table[name].fillna(0).astype(np.int64)
    return table


def _with_checks(table: pd.DataFrame, groups: pd.DataFrame) -> pd.DataFrame:
    """Add what the check of a component costs, and in which order checks pay.

    A check that found nothing costs its labour and no more; where too few are on
    record, the labour of the component's repairs stands for it.
    """
    by_currency = groups.groupby("currency")["n_paid"].sum()
    main = str(by_currency.idxmax()) if by_currency.any() else ""
    sums = ["n_paid", "paid", "n_checks_paid", "checks_paid"]
    paid = groups[groups["currency"] == main].astype(dict.fromkeys(sums, float))
    of = paid.groupby("component")[sums].sum()
    means = (of["paid"] / of["n_paid"])[of["n_paid"] > 0]
    enough = (of["checks_paid"] / of["n_checks_paid"])[of["n_checks_paid"] >= _CHECKS]
    known = {**means.to_dict(), **enough.to_dict()}
    cost = table["component"].map(known).astype("float64")
    by_component = table.groupby("component")["share"].transform("sum")
    gain = by_component / cost if cost.notna().all() else by_component
    ranked = (
        pd.DataFrame({"component": table["component"], "gain": gain})
        .drop_duplicates("component")
        .sort_values(["gain", "component"], ascending=[False, True])["component"]
    )
    order = {name: place + 1 for place, name in enumerate(ranked)}
    return table.assign(
        check_cost=cost,
        currency=pd.Series(main, index=table.index).where(cost.notna()),
        check_order=table["component"].map(order).astype("Int64"),
    )
