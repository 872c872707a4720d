"""Words that rise in the owners' texts: faults that no list knows yet."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.notes import joined
from claimlens.analysis.scope import Scope
from claimlens.classify.symptoms import complaints_in
from claimlens.classify.terms import Terms
from claimlens.db import Session
from claimlens.stats.rising_words import rising_words

__all__ = ["WORD_COLUMNS", "words"]

WORD_COLUMNS = (
    "word",
    "language",
    "texts",
    "recent_texts",
    "share",
    "earlier_share",
    "ratio",
    "p_value",
    "adjusted_p",
    "window_months",
    "among",
    "means",
    "examples",
    "note",
    "as_of",
)

Floats = NDArray[np.float64]

# newest months that are compared with the year before the longest of them
_WINDOWS = (1, 3)
_YEAR = 12
# texts that a word needs: one chatty owner, or one batch of mails, is no fault
_LEAST_TEXTS = 4
# share of the words listed that may be chance
_FALSE_SHARE = 0.02
# earlier texts of a language below which nothing is compared
_ENOUGH_EARLIER = 100
_ENOUGH_SEASON = 200
_SEASON_LEVEL = 0.05
_KEYS = ["language", "text_group", "window_months"]


def words(session: Session, scope: Scope, terms: Terms) -> pd.DataFrame:
    """List the words whose share of the texts grew beyond chance.

    The newest month and the newest three are compared with the twelve months before,
    by language, over all texts and over those of unclassified claims; what is no more
    frequent than in the same season a year ago is not listed.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    scope : Scope
        Cut-off and filters in force.
    terms : Terms
        For small words, and for what a word means already.

    Returns
    -------
    pandas.DataFrame
        ``WORD_COLUMNS``; words that the terms do not know first, then the most
        unlikely. ``texts`` hold the word, of ``recent_texts``; shares are 0 to 1.
    """
    as_of = scope.as_of
    longest = _before(as_of, max(_WINDOWS))
    session.put("small_words", _small_words(terms))
    session.put("word_windows", _windows(as_of))
    session.run(
        "intermediate/int_word_texts",
        {"first_day": _before(as_of, max(_WINDOWS) + _YEAR), "as_of": as_of},
    )
    counted = session.frame(
        "marts/rising_word_counts",
        {"earlier_to": longest, "least_texts": _LEAST_TEXTS},
    )
    totals = counted[counted["word"] == ""].drop(columns=["word"])
    table = counted[counted["word"] != ""].merge(
        totals[[*_KEYS, "n_recent", "n_earlier", "n_season"]],
        on=_KEYS,
        suffixes=("", "_all"),
    )
    table = table[table["n_earlier_all"] >= _ENOUGH_EARLIER].reset_index(drop=True)
    if table.empty:
        return pd.DataFrame(columns=list(WORD_COLUMNS))
    return _listed(table, terms, as_of)


def _before(day: date, months: int) -> date:
    """Return the end of the month so many months before, for the end of a month."""
    moved = pd.Timestamp(day) + pd.Timedelta(days=1) - pd.DateOffset(months=months)
    return date.fromisoformat(f"{moved - pd.Timedelta(days=1):%Y-%m-%d}")


def _windows(as_of: date) -> pd.DataFrame:
    """Return the windows, each with the same season a year before."""
    rows = [
        (
            months,
            _before(as_of, months),
            _before(as_of, months + _YEAR),
            _before(as_of, _YEAR),
        )
        for months in _WINDOWS
    ]
    frame = pd.DataFrame(
        rows, columns=["window_months", "from_day", "season_from", "season_to"]
    )
    days = ["from_day", "season_from", "season_to"]
    return frame.astype(dict.fromkeys(days, "datetime64[s]"))


def _small_words(terms: Terms) -> pd.DataFrame:
    rows = [
        (language, word)
        for language, own in sorted(terms.small_words_of.items())
        for word in sorted(own)
    ]
    return pd.DataFrame(rows, columns=["language", "word"], dtype="str")


def _listed(table: pd.DataFrame, terms: Terms, as_of: date) -> pd.DataFrame:
    """Test the words, keep those that rise, and say what they mean."""
    counts = {
        name: table[name].to_numpy(dtype=np.float64)
        for name in (
            "n_recent", "n_earlier", "n_season",
            "n_recent_all", "n_earlier_all", "n_season_all",
        )
    }  # fmt: skip
    found = rising_words(
        counts["n_recent"],
        counts["n_earlier"],
        counts["n_recent_all"],
        counts["n_earlier_all"],
    )
    season = rising_words(
        counts["n_recent"],
        counts["n_season"],
        counts["n_recent_all"],
        counts["n_season_all"],
    )
    of_season = (counts["n_season_all"] >= _ENOUGH_SEASON) & (
        season.p_value > _SEASON_LEVEL
    )
    table = table.assign(
        share=counts["n_recent"] / counts["n_recent_all"],
        earlier_share=counts["n_earlier"] / counts["n_earlier_all"],
        ratio=found.ratio,
        p_value=found.p_value,
        adjusted_p=found.adjusted,
    )
    table = table[(found.adjusted <= _FALSE_SHARE) & ~of_season & (found.ratio > 1.0)]
    table = table.sort_values(["p_value", "language", "word"]).drop_duplicates(
        ["language", "word"]
    )
    table = _without_parts_of_phrases(table)
    table = table.assign(
        means=[_meaning(word, terms) for word in table["word"]],
        examples=[
            " ".join(dict.fromkeys(pair))
            for pair in zip(table["first_claim"], table["last_claim"], strict=True)
        ],
        among=table["text_group"],
        texts=table["n_recent"],
        recent_texts=table["n_recent_all"],
        note=[
            joined(("new: no earlier text holds it",)) if earlier == 0 else ""
            for earlier in table["n_earlier"]
        ],
        as_of=pd.Timestamp(as_of),
    )
    is_known = table["means"].notna()
    table = table.assign(is_known=is_known).sort_values(
        ["is_known", "p_value", "language", "word"]
    )
    return table[list(WORD_COLUMNS)].reset_index(drop=True)


def _without_parts_of_phrases(table: pd.DataFrame) -> pd.DataFrame:
    """Drop pairs of which one word rises by itself: the word says it."""
    single = {
        (row.language, row.word) for row in table.itertuples() if " " not in row.word
    }
    told = [
        " " not in row.word
        or not any((row.language, part) in single for part in row.word.split())
        for row in table.itertuples()
    ]
    return table[np.array(told, dtype=bool)]


def _meaning(word: str, terms: Terms) -> str | None:
    """Return what the terms make of a word; None where they do not know it."""
    said = complaints_in(word, terms)
    names = [*said[0].components, *said[0].modes] if said else []
    return " or ".join(names) or None
