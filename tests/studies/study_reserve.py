"""Do the bands of the reserve hold what units in the field then cost?

Run ``python tests/studies/study_reserve.py [SEEDS] [FLEET ...]``: fleets of several
kinds are drawn to the end of every cover, each claim with a cost of a heavy tail, a day
on which it is settled, and a chance to be refused. What was shipped and reported by the
cut-off is loaded; the reserve is set against what was paid after it.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
from study_forecast import AS_OF, COMPONENTS, KINDS, Kind, fleet

from claimlens.analysis.outstanding import outstanding
from claimlens.analysis.outstanding_sums import PARTS
from claimlens.analysis.question import ask
from claimlens.analysis.run_off import run_off
from claimlens.start import make_folders, open_workspace

UNITS, REFUSED, NO_COST, ZERO = 6_000, 0.08, 0.03, 0.04
# standard deviation of the logarithm of a cost within its component
SPREAD = 1.0
CUT = pd.Timestamp(AS_OF)


def with_costs(claims: pd.DataFrame, seed: int) -> pd.DataFrame:
    """Add cost, day of settlement and state to the claims of a fleet."""
    rng = np.random.default_rng([seed, 77])
    size = len(claims)
    level = rng.lognormal(4.5, 0.9, len(COMPONENTS))[claims["c"]]
    cost = level * rng.lognormal(-0.5 * SPREAD**2, SPREAD, size)
    cost[rng.random(size) < ZERO] = 0.0
    delay = pd.to_timedelta(2 + rng.gamma(1.5, 20.0, size).astype(int), unit="D")
    return claims.assign(
        cost=np.round(cost, 2),
        is_refused=rng.random(size) < REFUSED,
        settled_on=claims["reported_on"] + delay,
        hides_cost=rng.random(size) < NO_COST,
    )


def write(folder: Path, units: pd.DataFrame, claims: pd.DataFrame) -> None:
    """Write what was known at the cut-off as canonical files."""
    (folder / "claimlens.toml").write_text("", encoding="utf-8")
    known = units[units["ship_date"] <= CUT].copy()
    known.loc[known["in_service_date"] > CUT, "in_service_date"] = pd.NaT
    known.loc[known["is_undated"], "in_service_date"] = pd.NaT
    known.drop(columns="is_undated").to_csv(folder / "inbox" / "units.csv", index=False)
    seen = claims[claims["reported_on"] <= CUT].copy()
    is_settled = seen["settled_on"] <= CUT
    closed = np.where(seen["is_refused"], "denied", "closed")
    seen["status"] = np.where(is_settled, closed, "open")
    seen["closed_on"] = seen["settled_on"].where(is_settled)
    pays = is_settled & ~seen["is_refused"] & ~seen["hides_cost"]
    seen["cost_total"] = seen["cost"].where(pays)
    seen["currency"] = "EUR"
    columns = [
        "claim_no", "serial", "reported_on", "failed_on", "status", "closed_on",
        "cost_total", "currency",
    ]  # fmt: skip
    seen[columns].to_csv(folder / "inbox" / "claims.csv", index=False)
    labels = seen.assign(
        failure_mode="worn", reviewer="study", reviewed_on=seen["reported_on"]
    )[["claim_no", "component", "failure_mode", "reviewer", "reviewed_on"]]
    labels.to_csv(folder / "inbox" / "labels.csv", index=False)


def truth(units: pd.DataFrame, claims: pd.DataFrame) -> pd.DataFrame:
    """Return what was paid after the cut-off by model year and part."""
    sold = units[units["ship_date"] <= CUT].set_index("serial")
    paid = claims[
        claims["serial"].isin(sold.index)
        & ~claims["is_refused"]
        & (claims["settled_on"] > CUT)
    ]
    waiting = sold["in_service_date"].reindex(paid["serial"]).to_numpy() > CUT
    part = np.select(
        [paid["reported_on"] <= CUT, paid["failed_on"] <= CUT, ~waiting],
        PARTS[:3],
        PARTS[3],
    )
    year = sold["model_year"].reindex(paid["serial"]).to_numpy()
    return paid.assign(part=part, model_year=year)


def judged(kind: Kind, seed: int) -> pd.DataFrame:
    """Return reserve and truth: parts and total of the fleet, totals of model years."""
    units, claims = fleet(replace(kind, units=min(kind.units, UNITS)), seed)
    undated = np.random.default_rng([seed, 78]).random(len(units)) < kind.undated
    units["is_undated"] = undated
    claims = with_costs(claims, seed)
    paid = truth(units, claims)
    rows = []
    with tempfile.TemporaryDirectory() as name:
        folder = make_folders(Path(name) / "study")
        write(folder, units, claims)
        workspace = open_workspace(folder)
        workspace.ingest()
        with workspace._reading(ask(as_of=AS_OF)) as (session, scope):
            found = outstanding(session, workspace.settings, scope, by=["model_year"])
            table = run_off(session, workspace.settings, scope).iloc[-1]
    for (key, _), one in found.sums.items():
        actual = paid.loc[paid["model_year"] == key[0], "cost"].sum()
        rows.append(row("model year", one.mean.sum(), one.drawn.sum(axis=0), actual))
    for place, part in enumerate(PARTS):
        mean = sum(one.mean[place] for one in found.sums.values())
        drawn = sum(one.drawn[place] for one in found.sums.values())
        own = paid[paid["part"] == part]
        claims_to_come = sum(one.claims[place] for one in found.sums.values())
        rows.append(
            row(part, mean, drawn, own["cost"].sum())
            | {"claims": claims_to_come, "actual_claims": len(own)}
        )
    mean = sum(one.mean.sum() for one in found.sums.values())
    drawn = sum(one.drawn.sum(axis=0) for one in found.sums.values())
    rows.append(row("total", mean, drawn, paid["cost"].sum()))
    later = paid[paid["reported_on"] > CUT]["serial"]
    in_service = units.set_index("serial")["in_service_date"].reindex(later) <= CUT
    rows.append(
        {
            "what": "claims to come by chain-ladder",
            "expected": table["claims_to_come"],
            "actual": float(in_service.sum()),
            "error": table["claims_error"],
        }
    )
    return pd.DataFrame(rows).assign(kind=kind.name, seed=seed)


def row(what: str, mean: float, drawn: np.ndarray, actual: float) -> dict[str, object]:
    """Return one estimate beside the truth."""
    low95, low80, high80, high95 = np.quantile(drawn, [0.025, 0.1, 0.9, 0.975]) / 100
    return {
        "what": what,
        "expected": mean / 100,
        "actual": actual,
        "in80": low80 <= actual <= high80,
        "in95": low95 <= actual <= high95,
        "width80": high80 - low80,
    }


def main() -> None:
    """Print how often the bands held, and by how much the means were off."""
    n_seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    wanted = sys.argv[2:]
    # neither planned sales nor a longer cover is outstanding; many units change nothing
    kinds = [
        kind
        for kind in KINDS
        if not kind.sold_on and not kind.longer and kind.units <= 2 * UNITS
    ]
    kinds = [kind for kind in kinds if not wanted or kind.name in wanted]
    rows = []
    for seed in range(n_seeds):
        rows += [judged(kind, seed) for kind in kinds]
        told = pd.concat(rows)
        told = told[told["actual"] + told["expected"] > 0]
        grouped = told.groupby("what")
        table = grouped[["in80", "in95"]].mean().astype(float)
        table["n"] = grouped.size()
        table["bias"] = grouped["expected"].sum() / grouped["actual"].sum() - 1
        table["bias of claims"] = (
            grouped["claims"].sum() / grouped["actual_claims"].sum() - 1
        )
        table["width80"] = grouped["width80"].mean() / grouped["actual"].mean()
        off = (told["expected"] - told["actual"]).abs() <= 1.96 * told["error"]
        ladder = told["what"] == "claims to come by chain-ladder"
        print(table.round(3).to_string())
        print(f"chain-ladder within 1.96 s.e.: {off[ladder].mean():.2f}", flush=True)
        total = told[told["what"] == "total"].assign(
            off=lambda rows: rows["expected"] / rows["actual"] - 1
        )
        print(
            total.groupby("kind")[["in80", "in95", "off"]].mean().round(3), flush=True
        )


if __name__ == "__main__":
    main()
