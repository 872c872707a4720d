"""Do the claims of late look different from those of the year before?"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from functools import cache

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.quality_records import Fields, Record, record, share_records
from claimlens.classify.reading import tokens_of
from claimlens.classify.taxonomy import UNCLASSIFIED
from claimlens.classify.terms import Terms
from claimlens.db import Session
from claimlens.stats.accuracy import weighted_shares
from claimlens.stats.drift import (
    WINDOW,
    class_divergence,
    share_chart,
    unseen_chart,
)

__all__ = [
    "arriving_months",
    "language_records",
    "put_texts",
    "share_drift_records",
    "source_records",
    "unclassified_records",
    "vocabulary_records",
]

Floats = NDArray[np.float64]

#: Months that are shown; as many again, less one, stand behind them.
_SHOWN = 24
#: Texts of a month whose words are counted, and whose language is told.
WORD_TEXTS = 2000
LANGUAGE_TEXTS = 500
# Class shares this far apart, in bits, and beyond what chance gives.
_APART = 0.05
# A new word stands in so many texts of a month before it is named.
_LEAST_TEXTS = 5
_NEW_WORDS = 10
_MOVED = 3
NO_LANGUAGE = "not told"
# What decides beyond the texts, and comes later than these.
_SOLID = frozenset(("finding", "part"))
_ARRIVING = 3
_EARLY = "fewer parts and inspections than usual, they may still be arriving"


def put_texts(session: Session, as_of: date) -> None:
    """Make ``int_texts``: the texts that language and vocabulary are told from.

    At most two thousand of a month, and forty-eight months: the cost is bounded
    however many claims there are.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    as_of : date
        Cut-off.
    """
    first = pd.Period(as_of, freq="M") - (_SHOWN + 2 * WINDOW - 1)
    session.run(
        "intermediate/int_texts",
        {"first_month": first.start_time.date(), "per_month": WORD_TEXTS},
    )


def arriving_months(months: pd.DataFrame) -> frozenset[pd.Timestamp]:
    """Return the months whose parts and inspections are still arriving.

    Inspections come weeks after the report. A month that has fewer claims decided by
    a part or a finding than the year before lets expect leaves more of them open for
    that reason alone. Only the newest three months are given that excuse: later, the
    export may have lost them.

    Parameters
    ----------
    months : DataFrame
        Of ``marts/quality_months``.
    """
    solid = months["source"].isin(_SOLID)
    table = _by_month(months.assign(hits=months["n_claims"].where(solid, 0)))
    chart = share_chart(table["hits"], table["n_claims"])
    low = chart.alarm & (chart.share < chart.centre)
    low[: max(len(table) - _ARRIVING, 0)] = False
    return frozenset(table.index[low])


def unclassified_records(
    months: pd.DataFrame, arriving: frozenset[pd.Timestamp]
) -> Iterator[Record]:
    """Yield the share left without a component by month, with chart limits.

    Parameters
    ----------
    months : DataFrame
        Of ``marts/quality_months``.
    arriving : frozenset of Timestamp
        Months whose evidence is not complete; they raise no alarm.
    """
    read = months[months["component_read"].notna()]
    table = _by_month(
        read.assign(
            hits=read["n_claims"].where(read["component_read"] == UNCLASSIFIED, 0)
        )
    )
    yield from _chart_records(table, arriving)


def _chart_records(
    table: pd.DataFrame,
    arriving: frozenset[pd.Timestamp],
    *,
    language: str | None = None,
) -> Iterator[Record]:
    chart = share_chart(table["hits"], table["n_claims"])
    for i in _shown(table):
        total = int(table["n_claims"].iloc[i])
        if not total:
            continue
        found = record(
            "unclassified",
            "share_by_month",
            month=table.index[i],
            value=float(chart.share[i]),
            n=total,
        )
        if language is not None:
            found["language"] = language
        if np.isnan(chart.centre[i]):
            found["note"] = f"no limits: fewer than {WINDOW} months before"
        else:
            found["lower"], found["upper"] = chart.lower[i], chart.upper[i]
            outside = bool(chart.alarm[i])
            early = outside and table.index[i] in arriving
            found["alarm"] = outside and not early
            if outside:
                usual = f"usually {100 * chart.centre[i]:.1f} %"
                found["note"] = f"{usual}; {_EARLY}" if early else usual
        yield found


def language_records(
    session: Session,
    terms: Terms,
    confidence: float,
    arriving: frozenset[pd.Timestamp],
) -> Iterator[Record]:
    """Yield the share left without a component by language, and its charts.

    Parameters
    ----------
    session : Session
        With ``int_texts``.
    terms : Terms
        Tells the language of a text.
    confidence : float
        Two-sided level.
    arriving : frozenset of Timestamp
        Months whose evidence is not complete; they raise no alarm.
    """
    texts = session.frame("marts/quality_texts", {"per_month": LANGUAGE_TEXTS})
    if texts.empty:
        return

    @cache
    def language_of(text: str) -> str:
        return next(iter(terms.languages_of(tokens_of(text))), "") or NO_LANGUAGE

    texts["language"] = [language_of(text) for text in texts["text"]]
    texts["hits"] = texts["is_unclassified"].astype(int)
    texts["n_claims"] = 1
    names, codes = np.unique(texts["language"].astype(object), return_inverse=True)
    hits = texts["hits"].to_numpy(dtype=bool)
    shares = weighted_shares(hits, codes, names.size, None, confidence)
    is_full = texts.groupby("month").size().max() == LANGUAGE_TEXTS
    yield from share_records(
        "unclassified",
        "share_by_language",
        shares,
        [Fields(language=str(name)) for name in names],
        note=f"from {LANGUAGE_TEXTS} texts a month, chosen by claim number"
        if is_full
        else "",
    )
    every = _by_month(texts).index
    for name in names:
        table = _by_month(texts[texts["language"] == name]).reindex(every, fill_value=0)
        # a language that hardly comes has no chart worth reading
        if np.median(table["n_claims"]) >= 20:
            yield from _chart_records(table, arriving, language=str(name))


def vocabulary_records(session: Session) -> Iterator[Record]:
    """Yield the share of words unseen in the year before, by month.

    Parameters
    ----------
    session : Session
        With ``int_texts``.
    """
    session.run("intermediate/int_words")
    words = session.frame("marts/quality_words").set_index("month")
    if words.empty:
        return
    months = pd.date_range(words.index.min(), words.index.max(), freq="MS")
    words = words.reindex(months, fill_value=0)
    # the first year has nothing complete before it
    counted = np.where(np.arange(len(words)) < WINDOW, 0, words["n_words"])
    chart = unseen_chart(np.where(counted > 0, words["n_unseen"], 0), counted)
    shown = [i for i in _shown(words) if counted[i]]
    new = _new_words(session, [months[i] for i in shown if chart.alarm[i]])
    if not shown:
        yield record(
            "vocabulary",
            "unseen_words",
            note=f"not measured: fewer than {WINDOW} months of texts before",
        )
    for i in shown:
        found = record(
            "vocabulary",
            "unseen_words",
            month=months[i],
            value=float(chart.share[i]),
            n=int(words["n_texts"].iloc[i]),
        )
        if np.isnan(chart.upper[i]):
            found["note"] = "no limit: fewer than 3 months to set it by"
        else:
            found["upper"] = float(chart.upper[i])
            found["alarm"] = bool(chart.alarm[i])
            found["note"] = new.get(months[i], "")
        yield found


def _new_words(session: Session, months: list[pd.Timestamp]) -> dict[pd.Timestamp, str]:
    """Return, for months with an alarm, the new words that several texts share."""
    if not months:
        return {}
    words = session.frame(
        "marts/quality_new_words",
        {
            "months": [month.date() for month in months],
            "least_texts": _LEAST_TEXTS,
        },
    )
    told = words.groupby("month").head(_NEW_WORDS)
    found = {
        month: "new: "
        + ", ".join(
            f"{word} ({n})"
            for word, n in zip(part["word"], part["n_texts"], strict=True)
        )
        for month, part in told.groupby("month")
    }
    return {
        month: found.get(month, f"no new word stands in {_LEAST_TEXTS} texts")
        for month in months
    }


def share_drift_records(months: pd.DataFrame) -> Iterator[Record]:
    """Yield how far the components' shares of a month lie from those before.

    Parameters
    ----------
    months : DataFrame
        Of ``marts/quality_months``.
    """
    named = months[months["component"] != UNCLASSIFIED]
    if named.empty:
        return
    table = named.pivot_table(
        index="month",
        columns="component",
        values="n_claims",
        aggfunc="sum",
        fill_value=0,
    )
    every = pd.date_range(table.index.min(), table.index.max(), freq="MS")
    table = table.reindex(every, fill_value=0)
    counts = table.to_numpy(dtype=np.float64)
    for i in _shown(table):
        if i < WINDOW or not counts[i].sum():
            continue
        before = counts[i - WINDOW : i].sum(axis=0)
        found = class_divergence(counts[i], before)
        if np.isnan(found.value):
            continue
        limit = max(_APART, found.by_chance)
        alarm = found.value > limit
        yield record(
            "class_shares",
            "divergence",
            month=every[i],
            value=found.value,
            upper=limit,
            n=int(counts[i].sum()),
            alarm=bool(alarm),
            note=_moved(counts[i], before, list(table.columns)) if alarm else "",
        )


def _moved(now: Floats, before: Floats, names: list[str]) -> str:
    """Name the components whose shares moved most."""
    p, q = now / now.sum(), before / before.sum()
    most = np.argsort(-np.abs(p - q), kind="stable")[:_MOVED]
    return ", ".join(f"{names[k]} {p[k]:.0%} (was {q[k]:.0%})" for k in most)


def source_records(months: pd.DataFrame) -> Iterator[Record]:
    """Yield the share of claims that each source decided.

    Parameters
    ----------
    months : DataFrame
        Of ``marts/quality_months``.
    """
    by_source = months.groupby("source")["n_claims"].sum()
    whole = by_source.sum()
    for source, n in by_source.sort_values(ascending=False, kind="stable").items():
        yield record(
            "sources", "share", group=str(source), value=float(n / whole), n=int(n)
        )


def _by_month(rows: pd.DataFrame) -> pd.DataFrame:
    """Add up hits and claims by month, months without a claim among them."""
    table = rows.groupby("month")[["hits", "n_claims"]].sum()
    if table.empty:
        return table
    months = pd.date_range(table.index.min(), table.index.max(), freq="MS")
    return table.reindex(months, fill_value=0)


def _shown(table: pd.DataFrame) -> range:
    return range(max(len(table) - _SHOWN, 0), len(table))
