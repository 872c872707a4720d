"""Make a demo world from the written truth, and write it as canonical files."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from claimlens.demo.claims import build_claims, build_truth, facts
from claimlens.demo.evidence import build_findings, build_parts_used
from claimlens.demo.failures import draw_events
from claimlens.demo.fleet import build_fleet
from claimlens.demo.fleet_frames import (
    changes_frame,
    fitted_frame,
    parts_frame,
    responses_frame,
    units_frame,
)
from claimlens.demo.texts import make_notes, make_texts
from claimlens.demo.truth import Truth, shrink
from claimlens.tables import TABLES

__all__ = ["World", "make_world", "write_canonical"]


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """A whole invented maker's data, with the truth of each claim.

    Parameters
    ----------
    truth : Truth
        What it was drawn from.
    seed : int
        Seed of the draws.
    units, claims, claim_parts, parts, findings, changes, unit_changes,
    fitted_parts, responses : DataFrame
        Canonical fields, as known on the day the data end.
    claim_truth : DataFrame
        One row a claim of ``claims``: component, failure_mode, origin,
        counted (a first failure inside the coverage), language, serial.
    unit_truth : DataFrame
        One row a unit built: the true in-service date and end of coverage,
        also where the register leaves them out.
    """

    truth: Truth
    seed: int
    units: pd.DataFrame
    claims: pd.DataFrame
    claim_parts: pd.DataFrame
    parts: pd.DataFrame
    findings: pd.DataFrame
    changes: pd.DataFrame
    unit_changes: pd.DataFrame
    fitted_parts: pd.DataFrame
    responses: pd.DataFrame
    claim_truth: pd.DataFrame
    unit_truth: pd.DataFrame

    def table(self, kind: str) -> pd.DataFrame:
        """Return the frame of a canonical kind; ``KeyError`` for others."""
        if kind not in WRITTEN:
            raise KeyError(kind)
        frame: pd.DataFrame = getattr(self, kind)
        return frame


# the inspectors sit at the works
WORKS_LANGUAGE = "de"

WRITTEN = (
    "units",
    "claims",
    "claim_parts",
    "parts",
    "findings",
    "changes",
    "unit_changes",
    "fitted_parts",
    "responses",
)


def make_world(truth: Truth, seed: int = 1, *, units: int | None = None) -> World:
    """Draw a world.

    Parameters
    ----------
    truth : Truth
        From ``load_truth``.
    seed : int, default 1
        The same seed gives the same world, byte for byte.
    units : int, optional
        Number of units built, instead of the truth's own.

    Returns
    -------
    World
        Units, claims and everything that goes with them.

    Raises
    ------
    InputError
        If ``units`` is below 1.
    """
    truth = shrink(truth, units)
    fleet = build_fleet(truth, seed)
    events = draw_events(truth, fleet, seed)
    real = build_truth(truth, fleet, events, seed)
    texts = make_texts(truth, facts(truth, events, real), seed)
    claims = build_claims(truth, fleet, events, real, texts=texts, seed=seed)
    findings = build_findings(truth, events, real, claims, seed)
    findings["note"] = make_notes(
        findings, np.full(len(findings), WORKS_LANGUAGE, dtype=object), seed
    )
    return World(
        truth=truth,
        seed=seed,
        units=units_frame(truth, fleet),
        claims=claims,
        claim_parts=build_parts_used(truth, claims, seed),
        parts=parts_frame(truth),
        findings=findings,
        changes=changes_frame(truth),
        unit_changes=fleet.retrofits,
        fitted_parts=fitted_frame(truth, fleet),
        responses=responses_frame(truth),
        claim_truth=real.drop(columns=["unit", "region"]),
        unit_truth=pd.DataFrame(
            {
                "serial": fleet.serial,
                "in_service_date": fleet.in_service,
                "coverage_end": fleet.coverage_end,
                "dated": fleet.dated,
            }
        ),
    )


def write_canonical(world: World, folder: Path, *, labels: bool = False) -> list[Path]:
    """Write one CSV file a kind, with canonical headers and ISO dates.

    Parameters
    ----------
    world : World
        From ``make_world``.
    folder : Path
        Made if missing.
    labels : bool, default False
        Also write each claim's true component and mode as reviewed labels,
        for checks of the numbers apart from the classification.

    Returns
    -------
    list of Path
        The files, in the order of writing.
    """
    folder.mkdir(parents=True, exist_ok=True)
    frames = {kind: world.table(kind) for kind in WRITTEN}
    if labels:
        frames["labels"] = pd.DataFrame(
            {
                "claim_no": world.claim_truth["claim_no"],
                "component": world.claim_truth["component"],
                "failure_mode": world.claim_truth["failure_mode"],
                "reviewer": "truth",
                "reviewed_on": world.claims["reported_on"],
            }
        )
    paths = []
    for kind, frame in frames.items():
        path = folder / f"{kind}.csv"
        canonical_text(frame, kind).to_csv(path, index=False, lineterminator="\n")
        paths.append(path)
    return paths


def canonical_text(frame: pd.DataFrame, kind: str) -> pd.DataFrame:
    """Return a frame as text in canonical form; None where unknown.

    Dates are ``YYYY-MM-DD``, money has two digits after the point.
    """
    table = TABLES[kind]
    out = {}
    for name in table.field_names:
        if name not in frame.columns:
            continue
        column, form = frame[name], table.field(name).type
        if form == "date":
            text = pd.to_datetime(column).dt.strftime("%Y-%m-%d")
        elif form == "timestamp":
            text = pd.to_datetime(column).dt.strftime("%Y-%m-%dT%H:%M:%S")
        elif form == "money":
            text = column.map(lambda v: f"{v:.2f}", na_action="ignore")
        else:
            text = column.astype("string")
        out[name] = text.astype(object).where(column.notna(), None)
    return pd.DataFrame(out)
