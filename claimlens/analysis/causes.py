"""What a symptom turned out to be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.cautions import serious_components
from claimlens.analysis.notes import joined
from claimlens.analysis.scope import Scope
from claimlens.analysis.symptom_words import asked_of, narrowed, put_asked
from claimlens.classify.terms import Terms
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings
from claimlens.stats.cause_shares import CauseShares, cause_shares
from claimlens.stats.unit_months import DAYS_PER_MONTH

__all__ = ["CAUSE_COLUMNS", "Kind", "causes"]

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

    def levels(self, claims: pd.DataFrame) -> list[tuple[str, Bools]]:
        """Return the claims of each level, from all of them down to the kind."""
        chosen = np.ones(len(claims), dtype=bool)
        found = [("all models", chosen)]
        if self.models:
            chosen = chosen & claims["model"].isin(self.models).to_numpy(dtype=bool)
            found.append((", ".join(self.models), chosen))
        if self.generation is not None:
            same = (claims["generation"] == self.generation).fillna(False)
            chosen = chosen & same.to_numpy(dtype=bool)
            found.append((f"generation {self.generation}", chosen))
        if self.age_months is not None:
            edges = [edge for edge in _AGE_BANDS if edge <= self.age_months]
            low = edges[-1]
            high = next((e for e in _AGE_BANDS if e > self.age_months), np.inf)
            months = claims["age_days"].to_numpy(dtype=np.float64) / DAYS_PER_MONTH
            chosen = chosen & (months >= low) & (months < high)
            end = f" to {high:g}" if np.isfinite(high) else " and more"
            found.append((f"{low:g}{end} months in service", chosen))
        return found


def causes(
    session: Session,
    settings: Settings,
    scope: Scope,
    terms: Terms,
    *,
    text: str,
    kind: Kind,
) -> pd.DataFrame:
    """Count what claims with a symptom turned out to be.

    Only claims whose cause is established by other evidence than the owner's words
    count: a reviewed label, an inspection, a replaced part. Causes that the words
    themselves suggested would only tell what the terms think.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Counting rules.
    scope : Scope
        Cut-off and filters in force.
    terms : Terms
        Read the text.
    text : str
        What the owner sees, in a few words.
    kind : Kind
        Models, generation and age that the question is about. Shares lean on the
        next wider kind, by ten claims.

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
    claims = session.frame(
        "marts/symptom_claims",
        {
            "as_of": scope.as_of,
            "repair_days": _REPAIR_DAYS,
            "same_event_days": settings.counting.same_event_days,
        },
    )
    established = claims["is_established"].to_numpy(dtype=bool)
    matches = claims["matches"].to_numpy(dtype=np.int64)
    chosen, dropped, unknown = narrowed(asked, matches, established)
    return _table(claims, chosen, kind, notes=_notes(dropped, unknown), scope=scope)


def _notes(dropped: list[str], unknown: list[str]) -> list[str]:
    told = []
    if unknown:
        told.append("no claim has: " + ", ".join(unknown))
    if dropped:
        told.append("too few claims have all words; left out: " + ", ".join(dropped))
    return told


def _table(
    claims: pd.DataFrame,
    chosen: Bools,
    kind: Kind,
    *,
    notes: list[str],
    scope: Scope,
) -> pd.DataFrame:
    """Return the rows of the answer."""
    established = claims["is_established"].to_numpy(dtype=bool)
    pairs = claims[["component", "failure_mode"]]
    causes_known = (
        pairs[established].drop_duplicates().sort_values(["component", "failure_mode"])
    )
    causes_known = causes_known.reset_index(drop=True)
    place = pd.MultiIndex.from_frame(causes_known).get_indexer(
        pd.MultiIndex.from_frame(pairs)
    )
    size = len(causes_known)
    levels = kind.levels(claims)
    counts = [
        np.bincount(place[own & chosen & established], minlength=size).astype(float)
        for _, own in levels
    ]
    everything = np.bincount(place[levels[-1][1] & established], minlength=size).astype(
        float
    )
    usual = everything / max(everything.sum(), 1.0)
    shares, base = None, usual
    for found in counts:
        shares = cause_shares(found, base, usual=usual)
        base = shares.share
    assert shares is not None  # there is always the level of all models
    own = levels[-1][1] & chosen
    told = _leading(counts, usual, causes_known["component"])
    words_only = int((own & ~established).sum())
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
        as_of=pd.Timestamp(scope.as_of),
    )
    # what can hurt somebody is listed even where it was never found, if it may be
    feared = table["component"].isin(serious_components()) & (table["upper"] >= _FEARED)
    table = table[(table["claims"] > 0) | feared]
    table = _with_repairs(table, claims[own & established])
    table = _with_checks(table, claims).sort_values(
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


def _with_repairs(table: pd.DataFrame, claims: pd.DataFrame) -> pd.DataFrame:
    """Add how many repairs were followed for 90 days, and how many held."""
    followed = claims[claims["is_followed"].astype(bool)]
    held = followed[~followed["came_back"].astype(bool)]
    keys = ["component", "failure_mode"]
    for name, rows in (("repairs_followed", followed), ("repairs_held", held)):
        counted = rows.groupby(keys).size().rename(name).reset_index()
        table = table.merge(counted, on=keys, how="left")
        table[name] = table[name].fillna(0).astype(np.int64)
    return table


def _with_checks(table: pd.DataFrame, claims: pd.DataFrame) -> pd.DataFrame:
    """Add what the check of a component costs, and in which order checks pay.

    A check that found nothing costs its labour and no more; where too few are on
    record, the labour of the component's repairs stands for it.
    """
    paid = claims[claims["cost_labour"].notna() & (claims["cost_labour"] > 0)]
    currency = paid["currency"].mode()
    main = str(currency.iloc[0]) if len(currency) else ""
    paid = paid[paid["currency"] == main]
    labour = paid.assign(cost_labour=paid["cost_labour"].astype(float))
    checks = labour[labour["claim_class"] == "no fault found"]
    means = labour.groupby("component")["cost_labour"].mean()
    by_check = checks.groupby("component")["cost_labour"].agg(["mean", "size"])
    enough = by_check.loc[by_check["size"] >= _CHECKS, "mean"]
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
