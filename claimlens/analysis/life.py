"""Weibull lives of segments, with the pattern word that their limits allow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.counts import (
    DAYS_PER_MONTH,
    Counts,
    SegmentChunk,
    count_failures,
)
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings
from claimlens.stats import weibull
from claimlens.stats.seeds import seed_for

__all__ = ["LIFE_COLUMNS", "life", "life_counts"]

LIFE_COLUMNS = (
    "units",
    "failures",
    "shape",
    "shape_lower",
    "shape_upper",
    "scale_months",
    "scale_lower",
    "scale_upper",
    "b1_months",
    "b1_lower",
    "b1_upper",
    "b10_months",
    "b10_lower",
    "b10_upper",
    "pattern",
    "fit_p_value",
    "note",
    "as_of",
)

_FIGURES = LIFE_COLUMNS[2:14]

Floats = NDArray[np.float64]


def life(
    session: Session,
    settings: Settings,
    scope: Scope,
    *,
    by: Sequence[str],
    min_failures: int | None = None,
) -> pd.DataFrame:
    """Fit a Weibull life to each segment that has enough failures.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        How many failures a fit and a B-life need; seed of the fit test.
    scope : Scope
        Cut-off and filters in force.
    by : sequence of str
        Grouping.
    min_failures : int, optional
        In place of the settings' number; at least 3.

    Returns
    -------
    pandas.DataFrame
        The columns of ``by``, then ``LIFE_COLUMNS``; one row per segment. Figures
        that the data cannot give are NaN (a limit that stays open too), with the
        reason in ``note``.

    Raises
    ------
    InputError
        If ``min_failures`` is below 3.
    """
    fewest = settings.life.min_failures if min_failures is None else min_failures
    if fewest < 3:
        raise InputError(f"a life fit needs at least 3 failures; got {fewest}")
    counts = life_counts(session, settings, scope, by)
    tables = [
        _chunk_lives(counts, chunk, settings=settings, scope=scope, fewest=fewest)
        for chunk in counts.chunks()
    ]
    if not tables:
        return pd.DataFrame(columns=[*counts.by, *LIFE_COLUMNS])
    table = pd.concat(tables, ignore_index=True)
    strata = _Strata.count(session, settings, scope, counts, table)
    _add_patterns(counts, table, strata, settings)
    return table


def life_counts(
    session: Session, settings: Settings, scope: Scope, by: Sequence[str]
) -> Counts:
    """Count what a life fit reads.

    A date that is only estimated smears the age at failure and pulls a shape
    towards 1; so where dates are missing at random, lives rest on the units that
    have one.

    Parameters
    ----------
    session, settings, scope, by
        As for ``life``.

    Returns
    -------
    Counts
        Of the dated units, or of all where the dated ones are not like the rest.
    """
    return count_failures(
        session, settings, scope, by, only_dated=scope.dates_at_random
    )


def _chunk_lives(
    counts: Counts,
    chunk: SegmentChunk,
    *,
    settings: Settings,
    scope: Scope,
    fewest: int,
) -> pd.DataFrame:
    """Fit one chunk of segments; no pattern yet."""
    segments = counts.segments.iloc[chunk.rows].reset_index(drop=True)
    units = chunk.planned.sum(axis=1)
    failures = chunk.failures.sum(axis=1)
    table = segments.copy()
    table["units"] = np.rint(units).astype(np.int64)
    table["failures"] = np.rint(failures).astype(np.int64)
    for name in _FIGURES:
        table[name] = np.nan
    table["pattern"] = pd.array([None] * len(table), dtype="str")
    table["fit_p_value"] = np.nan
    notes = [_too_few(counts, chunk, i, fewest, settings) for i in range(len(table))]
    chosen = np.flatnonzero([not note for note in notes])
    if chosen.size:
        fit = weibull.fit(
            counts.ages,
            chunk.failures[chosen],
            chunk.censored[chosen],
            lower=counts.ages - 1.0,
            confidence=settings.rates.confidence,
        )
        _put_figures(table, chosen, fit, settings)
        for i, why in zip(chosen, np.atleast_1d(fit.note), strict=True):
            notes[i] = str(why)
    undated = counts.estimated[counts.unit_of_segment[chunk.rows]]
    how = "left out" if scope.dates_at_random else "estimated"
    table["note"] = [
        "; ".join(part for part in (*scope.notes, note, about) if part)
        for note, about in zip(
            notes,
            [
                f"{n:.0f} units without an in-service date {how}" if n >= 0.5 else ""
                for n in undated
            ],
            strict=True,
        )
    ]
    table["as_of"] = pd.Timestamp(scope.as_of)
    return table


def _put_figures(
    table: pd.DataFrame,
    chosen: NDArray[np.intp],
    fit: weibull.WeibullFit,
    settings: Settings,
) -> None:
    """Write the fitted figures, in months; B-lives only from enough failures on."""
    ages = (0.01, 0.10)
    life_lower, life_upper = fit.quantile_interval(ages)
    lives = np.asarray(fit.quantile(ages))
    figures = {
        "shape": np.asarray(fit.shape),
        "shape_lower": np.asarray(fit.shape_interval[0]),
        "shape_upper": np.asarray(fit.shape_interval[1]),
        "scale_months": np.asarray(fit.scale) / DAYS_PER_MONTH,
        "scale_lower": np.asarray(fit.scale_interval[0]) / DAYS_PER_MONTH,
        "scale_upper": np.asarray(fit.scale_interval[1]) / DAYS_PER_MONTH,
    }
    enough = table["failures"].to_numpy()[chosen] >= settings.life.quantile_failures
    for k, name in enumerate(("b1", "b10")):
        for suffix, values in (
            ("months", lives),
            ("lower", np.asarray(life_lower)),
            ("upper", np.asarray(life_upper)),
        ):
            figures[f"{name}_{suffix}"] = np.where(
                enough, values[..., k] / DAYS_PER_MONTH, np.nan
            )
    for name, values in figures.items():
        # an open limit is no number; the note says that it is open
        table.loc[chosen, name] = np.where(np.isfinite(values), values, np.nan)


def _too_few(
    counts: Counts, chunk: SegmentChunk, i: int, fewest: int, settings: Settings
) -> str:
    """Say why a segment gets no fit, or nothing where it gets one."""
    failed = chunk.failures[i].sum()
    units = chunk.planned[i].sum()
    if units == 0:
        return "units are not known" if failed else "no unit in service"
    if failed < 0.5:
        return _no_failure(counts, chunk, i, settings)
    if failed < fewest:
        plural = "" if round(failed) == 1 else "s"
        return f"{failed:.0f} failure{plural}, {fewest} needed"
    if np.count_nonzero(chunk.failures[i]) == 1:
        return "all failures at one age"
    return ""


def _no_failure(counts: Counts, chunk: SegmentChunk, i: int, settings: Settings) -> str:
    """Bound the share failed where nothing failed (constant hazard, stated)."""
    confidence = settings.rates.confidence
    bound = weibull.fit(
        counts.ages,
        chunk.failures[i],
        chunk.planned[i],
        shape=1.0,
        confidence=confidence,
    )
    lowest = float(np.asarray(bound.scale_interval[0]))
    units = chunk.planned[i].sum()
    months = float((chunk.planned[i] * counts.ages).sum()) / DAYS_PER_MONTH
    if not lowest > 0:
        return f"no failure in {units:.0f} units"
    share = -np.expm1(-12 * DAYS_PER_MONTH / lowest)
    return (
        f"no failure in {units:.0f} units, {months:.0f} unit-months; with "
        f"{confidence:.0%} confidence fewer than {share:.2%} fail by 12 months, if "
        "the hazard does not change with age"
    )


@dataclass(frozen=True, slots=True)
class _Strata:
    """Counts of fitted segments by build quarter, fetched once."""

    counts: Counts | None
    rows_of: dict[int, NDArray[np.intp]]
    quarters: NDArray[np.intp]

    @classmethod
    def count(
        cls,
        session: Session,
        settings: Settings,
        scope: Scope,
        counts: Counts,
        table: pd.DataFrame,
    ) -> _Strata:
        """Count again by build month, for the segments that were fitted."""
        fitted = np.flatnonzero(table["shape"].notna())
        if not fitted.size or "build_month" in counts.by or "supplier" in counts.by:
            return cls(None, {}, np.zeros(0, dtype=np.intp))
        finer = life_counts(session, settings, scope, [*counts.by, "build_month"])
        keys = list(counts.by)
        numbered = counts.segments.assign(number=np.arange(len(counts.segments)))
        if keys:
            number = finer.segments.merge(numbered, on=keys, how="left")["number"]
        else:
            number = pd.Series(0, index=finer.segments.index)
        months = pd.to_datetime(finer.segments["build_month"])
        quarters = (months.dt.year * 4 + months.dt.quarter).fillna(-1)
        wanted = set(fitted.tolist())
        rows_of = {
            int(segment): rows.to_numpy(dtype=np.intp)
            for segment, rows in pd.Series(finer.segments.index).groupby(
                number.to_numpy()
            )
            if segment in wanted
        }
        return cls(finer, rows_of, quarters.to_numpy(dtype=np.intp))

    def shape_interval(self, segment: int, confidence: float) -> tuple[float, float]:
        """Return the limits of the shape common to the segment's build quarters."""
        if self.counts is None or segment not in self.rows_of:
            return np.nan, np.nan
        rows = self.rows_of[segment]
        chunk = self.counts.take(rows)
        names, code = np.unique(self.quarters[rows], return_inverse=True)
        shape = (len(names), chunk.failures.shape[1])
        failed, left = np.zeros(shape), np.zeros(shape)
        np.add.at(failed, code, chunk.failures)
        np.add.at(left, code, chunk.censored)
        common = weibull.common_shape(
            self.counts.ages,
            failed,
            left,
            lower=self.counts.ages - 1.0,
            confidence=confidence,
        )
        return common.shape_interval


def _add_patterns(
    counts: Counts, table: pd.DataFrame, strata: _Strata, settings: Settings
) -> None:
    """Test each fit and give the pattern word where all evidence agrees."""
    for segment in np.flatnonzero(table["shape"].notna()):
        row = table.loc[segment]
        failed = int(row["failures"])
        p_value, why_untested = _fit_p(counts, table, int(segment), settings)
        lower = row["shape_lower"] if pd.notna(row["shape_lower"]) else 0.0
        upper = row["shape_upper"] if pd.notna(row["shape_upper"]) else np.inf
        notes = [row["note"], why_untested]
        if failed < settings.life.min_failures:
            word, reason = None, f"{failed} failures, too few for a pattern"
        else:
            judged = weibull.pattern(
                (float(lower), float(upper)),
                failed,
                p_value,
                strata.shape_interval(int(segment), settings.rates.confidence),
            )
            word, reason = judged.word, judged.reason
        table.loc[segment, "pattern"] = word
        table.loc[segment, "fit_p_value"] = np.nan if p_value is None else p_value
        if failed < settings.life.quantile_failures:
            notes.append(f"B-lives need {settings.life.quantile_failures} failures")
        table.loc[segment, "note"] = "; ".join(
            dict.fromkeys(part for part in (*notes, reason) if part)
        )


def _fit_p(
    counts: Counts, table: pd.DataFrame, segment: int, settings: Settings
) -> tuple[float | None, str]:
    """Return the p-value of the fit test, or why there is none."""
    if table.loc[segment, "failures"] < settings.life.quantile_failures:
        return None, ""
    chunk = counts.take(np.array([segment]))
    keys = [f"{name}={table.loc[segment, name]}" for name in counts.by]
    test = weibull.fit_test(
        counts.ages,
        chunk.failures[0],
        chunk.censored[0],
        chunk.planned[0],
        lower=counts.ages - 1.0,
        seed=seed_for(settings.life.seed, "life", *keys),
        draws=settings.life.bootstrap,
    )
    return (None, test.note) if np.isnan(test.p) else (float(test.p), "")
