"""One segment of lives against distance: its units, its failures, its row."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.count_tables import Counts
from claimlens.analysis.cover import Cover
from claimlens.analysis.notes import joined
from claimlens.analysis.scope import Scope
from claimlens.analysis.usage_rates import known_rates
from claimlens.settings import CoverageSettings, Settings
from claimlens.stats.distance import GROUPS, DistanceLife, Failed, Kind, fit_by_distance
from claimlens.stats.exposure import Chances, passed

__all__ = ["DISTANCE_LIFE_COLUMNS", "Segment", "Watched", "limits_of"]

DISTANCE_LIFE_COLUMNS = (
    "units",
    "failures",
    "failures_read",
    "shape",
    "shape_lower",
    "shape_upper",
    "scale_distance",
    "scale_lower",
    "scale_upper",
    "b1_distance",
    "b1_lower",
    "b1_upper",
    "b10_distance",
    "b10_lower",
    "b10_upper",
    "distance_unit",
    "note",
    "as_of",
)

_CELL_KM = 100.0
_MOST_CELLS = 600
_DAYS_PER_STEP = 7
_FIRST_READING_DAYS = 30
# a number beyond so many times the farthest failure is not given
_BEYOND = 1.5

Floats = NDArray[np.float64]


def limits_of(cover: Cover) -> Floats:
    """Return the limit of each class of distance, kilometres."""
    return np.array([np.inf, *(each.limit_km for each in cover.classes)])


@dataclass(frozen=True, slots=True)
class Watched:
    """Units watched in each week of age, by fine segment and class of distance."""

    by_class: Floats
    row_of: NDArray[np.intp]

    @classmethod
    def of(cls, counts: Counts) -> Watched:
        """Count the weeks, each weighted by the chance that a report is in by now."""
        n_ages = len(counts.ages)
        n_classes = counts.chances.covered.shape[0]
        by_date = Chances(
            reported=counts.chances.reported, covered=np.ones((n_classes, n_ages))
        )
        n_rows = len(counts.planned)
        weeks = -(-n_ages // _DAYS_PER_STEP)
        found = np.zeros((n_classes, n_rows, weeks * _DAYS_PER_STEP))
        for number in range(n_classes):
            mine = counts.stays.take(counts.stays.distance == number)
            found[number, :, :n_ages] = passed(mine, by_date, n_rows)
        weekly = found.reshape(n_classes, n_rows, weeks, _DAYS_PER_STEP).mean(axis=3)
        return cls(np.maximum(weekly, 0.0), counts.unit_of_segment)


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """One segment: its units by model and limit, its failures, its life."""

    settings: Settings
    scope: Scope
    counts: Counts
    watched: Watched
    mine: NDArray[np.intp]
    failures: pd.DataFrame
    elsewhere: pd.DataFrame
    notes: list[str]

    def row(self, rng: np.random.Generator) -> dict[str, object]:
        """Return the figures of the segment."""
        cover = self.settings.coverage
        failures = self.failures
        read = failures[failures["distance_km"].notna()]
        n_failed, n_read = failures["weight"].sum(), read["weight"].sum()
        planned = self.counts.planned[self.watched.row_of[self.mine]]
        row: dict[str, object] = dict.fromkeys(DISTANCE_LIFE_COLUMNS[3:15], np.nan)
        row["units"] = round(float(planned.sum()))
        row["failures"] = round(float(n_failed))
        row["failures_read"] = round(float(n_read))
        row["distance_unit"] = cover.distance_unit
        why = _too_few(n_failed, n_read, cover)
        if not why:
            life, left_out = self._life(read, n_read / n_failed, rng)
            why = life.note
            self.notes.extend(left_out)
            if not why:
                self._put(row, life, float(read["distance_km"].max()))
        row["note"] = joined((*self.notes, why))
        return row

    def _life(
        self, read: pd.DataFrame, share_read: float, rng: np.random.Generator
    ) -> tuple[DistanceLife, list[str]]:
        """Fit the life of the models whose usage rates can be told."""
        read = read.assign(group=rng.integers(0, GROUPS, len(read)))
        kinds: list[Kind] = []
        left_out: list[str] = []
        for model, rows in self._by_model().items():
            found, why = self._kinds(model, rows, read)
            kinds += found
            if why:
                left_out.append(f"{model or 'units without a model'} left out: {why}")
                read = read[read["usage_model"] != model]
        longest = max(float(read["distance_km"].max()), _CELL_KM) if len(read) else 0.0
        if not kinds or not len(read):
            empty = np.full(2, np.nan)
            return DistanceLife(
                lives=empty,
                lives_lower=empty,
                lives_upper=empty,
                note="no usage rate can be told, see the models left out",
            ), left_out
        cell = _CELL_KM * max(1.0, np.ceil(longest / _CELL_KM / _MOST_CELLS))
        edges = np.arange(0.0, longest + cell, cell)
        life = fit_by_distance(
            edges,
            Failed(
                distances=read["distance_km"].to_numpy(dtype=np.float64),
                last=read["last_km"].to_numpy(dtype=np.float64),
                weights=read["weight"].to_numpy(dtype=np.float64),
                groups=read["group"].to_numpy(dtype=np.intp),
            ),
            kinds,
            share_read=share_read,
            fewest=self.settings.coverage.usage_readings,
            confidence=self.settings.rates.confidence,
        )
        return life, left_out

    def _by_model(self) -> dict[str, NDArray[np.intp]]:
        """Return the fine segments of each model."""
        models = self.counts.segments["model"].iloc[self.mine].fillna("")
        return {
            str(model): self.mine[models.to_numpy() == model]
            for model in sorted(models.unique())
        }

    def _kinds(
        self, model: str, rows: NDArray[np.intp], read: pd.DataFrame
    ) -> tuple[list[Kind], str]:
        """Return the units of one model by their limit, or why they are left out."""
        cover = self.settings.coverage
        known = known_rates(cover, model)
        own = read[(read["usage_model"] == model)]
        own = own[own["age_days"] >= _FIRST_READING_DAYS]
        if known is None and len(own) < cover.usage_readings:
            # of the model's other failures; these do not leave with a group
            others = self.elsewhere[self.elsewhere["usage_model"] == model]
            others = others[
                others["distance_km"].notna()
                & (others["age_days"] >= _FIRST_READING_DAYS)
            ]
            own = others.assign(group=-1)
            if len(own) < cover.usage_readings:
                return [], f"{len(own)} readings, {cover.usage_readings} needed"
        kinds = []
        units = self.watched.by_class[:, self.watched.row_of[rows]].sum(axis=1)
        for number, limit in enumerate(limits_of(self.scope.cover)):
            if not units[number].any():
                continue
            kinds.append(
                Kind(
                    watched=units[number],
                    step=float(_DAYS_PER_STEP),
                    limit=float(limit),
                    rates=known,
                    distances=own["distance_km"].to_numpy(dtype=np.float64),
                    ages=own["age"].to_numpy(dtype=np.float64),
                    limits=own["limit_km"].to_numpy(dtype=np.float64),
                    groups=own["group"].to_numpy(dtype=np.intp),
                )
            )
        return kinds, ""

    def _put(self, row: dict[str, object], life: DistanceLife, farthest: float) -> None:
        """Write a life in the unit of the settings; nothing far beyond the data."""
        cover = self.settings.coverage
        per = cover.km_per_unit
        row["shape"] = life.shape
        row["shape_lower"], row["shape_upper"] = life.shape_interval
        row["scale_distance"] = life.scale / per
        row["scale_lower"] = life.scale_interval[0] / per
        row["scale_upper"] = life.scale_interval[1] / per
        for k, name in enumerate(("b1", "b10")):
            row[f"{name}_lower"] = life.lives_lower[k] / per
            if life.lives[k] > _BEYOND * farthest:
                self.notes.append(
                    f"{name.upper()} lies beyond {_BEYOND * farthest / per:,.0f} "
                    f"{cover.distance_unit}, farther than the failures tell"
                )
                continue
            row[f"{name}_distance"] = life.lives[k] / per
            row[f"{name}_upper"] = life.lives_upper[k] / per
        self.notes.append(
            "failures are taken to come by distance; other units' distances follow "
            "from usage rates, lognormal and constant over a unit's life, that the "
            "failed units' readings tell"
        )


def _too_few(n_failed: float, n_read: float, cover: CoverageSettings) -> str:
    """Say why readings are too few for a life against distance."""
    if n_failed < 0.5:
        return "no failure"
    if n_read < cover.usage_readings:
        return (
            f"{n_read:.0f} failures with a reading of distance, "
            f"{cover.usage_readings} needed"
        )
    if n_read < 0.5 * n_failed:
        return (
            f"{n_read:.0f} of {n_failed:.0f} failures have a reading of distance, "
            "fewer than half"
        )
    return ""
