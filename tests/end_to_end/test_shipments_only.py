"""The demo without its register: what was shipped by month gives the same rates."""

from __future__ import annotations

import shutil
from pathlib import Path

import pandas as pd
import pytest

from claimlens.start import open_workspace
from claimlens.workspace import Workspace

DEMO = Path(__file__).parents[2] / "demo_data"


def loaded(folder: Path, files: list[Path]) -> Workspace:
    folder.mkdir()
    shutil.copy(DEMO / "claimlens.toml", folder / "claimlens.toml")
    workspace = open_workspace(folder)
    workspace.ingest(files)
    return workspace


@pytest.fixture(scope="module")
def months(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    """The demo, its register replaced by the sums of the register by month."""
    folder = tmp_path_factory.mktemp("shipments")
    exports = sorted((DEMO / "exports").iterdir())
    register = [path for path in exports if path.name.startswith("unit_register")]
    others = [path for path in exports if path not in register]
    units = pd.read_csv(register[0], dtype=str)
    units = units.drop_duplicates("Frame number", keep="last")
    shipped = pd.to_datetime(units["Shipped on"], errors="coerce", format="%Y-%m-%d")
    keys = ["model", "model_year", "month", "region"]
    units = units.assign(month=shipped.dt.to_period("M").dt.start_time).rename(
        columns={"Model": "model", "Model year": "model_year", "Country": "region"}
    )
    sums = units.groupby(keys).size().rename("quantity").reset_index()
    sums.to_csv(folder / "shipments.csv", index=False)
    return loaded(folder / "months", [*others, folder / "shipments.csv"])


@pytest.fixture(scope="module")
def both(months: Workspace, demo: Path) -> tuple[Workspace, Workspace]:
    """The demo as it is made, which loads these files too, and its copy by month.

    The copy comes first: the demo may be under way in another process.
    """
    settings = (DEMO / "claimlens.toml").read_bytes()
    assert (demo / "claimlens.toml").read_bytes() == settings
    return open_workspace(demo), months


def ratios(both: tuple[Workspace, Workspace], by: tuple[str, ...]) -> pd.Series:
    """Return rates from shipments over those of the register, of 30 claims or more."""
    register, months = (workspace.rates(by=by, at=12) for workspace in both)
    paired = register.merge(months, on=list(by), suffixes=("", "_months"))
    enough = paired[(paired["claims"] >= 30) & (paired["component"] != "unclassified")]
    return enough["rate_months"] / enough["rate"] - 1


@pytest.mark.parametrize("by", [("component",), ("component", "model")])
def test_shipments_by_month_give_the_rates_of_the_register(
    by: tuple[str, ...], both: tuple[Workspace, Workspace]
) -> None:
    """One unit in seven with a claim has no date: of 30 claims two may fall
    on the other side of twelve months, so a few thin cells differ by more.
    """
    off = ratios(both, by)
    assert len(off) > 15
    assert abs(off.mean()) < 0.025
    assert (off.abs() < 0.05).mean() > (0.99 if by == ("component",) else 0.9)
    assert off.abs().max() < 0.08


def test_the_whole_fleet_fails_as_the_register_says(
    both: tuple[Workspace, Workspace],
) -> None:
    register, months = (workspace.rates(by=(), at=12).iloc[0] for workspace in both)
    assert months["rate"] == pytest.approx(register["rate"], rel=0.05)
    assert months["units"] == pytest.approx(register["units"], rel=0.001)
    assert "units by month of shipment" in months["note"]
