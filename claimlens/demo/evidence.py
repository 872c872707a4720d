"""What backs a claim: the parts used in it, and the inspection of what came back."""

from __future__ import annotations

import numpy as np
import pandas as pd

from claimlens.demo.claims import MODE_OF_ORIGIN
from claimlens.demo.draws import Draws, later
from claimlens.demo.failures import Events
from claimlens.demo.fleet_frames import CONSUMABLES
from claimlens.demo.truth import Truth

__all__ = ["build_findings", "build_parts_used"]


def build_parts_used(truth: Truth, claims: pd.DataFrame, seed: int) -> pd.DataFrame:
    """Return the parts of each claim: its main part and sundries."""
    draws = Draws(seed, "parts used")
    main = claims.loc[claims["part_no"].notna()]
    rows = pd.DataFrame(
        {
            "claim_no": main["claim_no"],
            "part_no": main["part_no"],
            "quantity": main["quantity"],
            "unit_cost": np.round(
                main["cost_parts"] / main["quantity"].astype(float), 2
            ),
            "currency": main["currency"],
        }
    )
    extra = main[draws.chance(0.22, len(main))]
    pick = draws.below(len(CONSUMABLES), len(extra))
    sundries = pd.DataFrame(
        {
            "claim_no": extra["claim_no"],
            "part_no": [CONSUMABLES[i][0] for i in pick],
            "quantity": 1,
            "unit_cost": [CONSUMABLES[i][2] for i in pick],
            "currency": truth.currency,
        }
    )
    both = pd.concat([rows, sundries], ignore_index=True)
    both["quantity"] = both["quantity"].astype("Int64")
    return both.sort_values(["claim_no", "part_no"], ignore_index=True)


def build_findings(
    truth: Truth, events: Events, real: pd.DataFrame, claims: pd.DataFrame, seed: int
) -> pd.DataFrame:
    """Return the inspections of returned parts.

    Confirmed faults carry component and mode; where no fault was found the
    claimed component stands.
    """
    draws = Draws(seed, "findings")
    size = len(events.unit)
    end = np.datetime64(truth.data_end, "D")
    inspected = later(events.closed, 3 + draws.below(35, size))
    extra = truth.extra
    odds = np.full(size, extra.inspected)
    for origin in MODE_OF_ORIGIN:
        odds[events.origin == origin] = extra.no_fault_inspected
    odds[np.isin(events.origin, ["cancelled", "denied", "after coverage"])] = 0.0
    chosen = draws.chance(odds, size) & (inspected <= end)
    finding = np.array(
        [MODE_OF_ORIGIN.get(origin, "confirmed fault") for origin in events.origin],
        dtype=object,
    )
    frame = pd.DataFrame(
        {
            "claim_no": real["claim_no"],
            "inspected_on": inspected,
            "part_no": claims["part_no"],
            "finding": finding,
            "component": real["component"],
            "failure_mode": real["failure_mode"],
            "note": None,
        }
    )
    return frame[chosen].reset_index(drop=True)
