"""Lives as they are shown: limits, few failures, known shapes, nothing far beyond.

An invented fleet with lives drawn from known laws, all failures reported at once;
the counts are made again here from the records, one unit at a time.
"""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from fleet_maker import Fleet, Row, workspace_of
from scipy import stats

from claimlens.analysis.life import LIFE_COLUMNS
from claimlens.errors import InputError
from claimlens.stats import weibull
from claimlens.workspace import Workspace

AS_OF = date(2024, 6, 30)
DRAWS = "[life]\nbootstrap = 39\n"
MONTH = 30.4375
# component: shape, scale in days, and the share of units that is prone
LAWS = {
    "battery pack": (2.0, 1500.0, 1.0),
    "motor": (0.6, 60_000.0, 1.0),
    "display": (1.5, 90.0, 0.08),
    "charger": (1.0, 500_000.0, 1.0),
}


def _fleet(seed: int = 1, n_units: int = 1500, skip: tuple[str, ...] = ()) -> Fleet:
    rng = np.random.default_rng([20240607, seed])
    fleet = Fleet(units=[], claims=[])
    for number in range(n_units):
        sold = AS_OF - timedelta(days=int(rng.integers(0, 600)))
        model = ("Trike", "Scooter")[number % 2]
        fleet.units.append(
            {
                "serial": f"U{number:04d}",
                "model": model,
                "model_year": 2023,
                "build_date": sold - timedelta(days=30),
                "in_service_date": sold,
            }
        )
        for component, (shape, scale, prone) in LAWS.items():
            life = scale * rng.weibull(shape) if rng.random() < prone else np.inf
            if life > (AS_OF - sold).days + 0.999 or component in skip:
                continue
            _claim(fleet, f"U{number:04d}", component, sold + timedelta(int(life)))
    return fleet


def _claim(fleet: Fleet, serial: str, component: str, failed: date) -> None:
    number = f"C{len(fleet.claims):05d}"
    row: Row = {
        "claim_no": number,
        "reported_on": failed,
        "serial": serial,
        "failed_on": failed,
        "status": "closed",
    }
    fleet.claims.append(row)
    fleet.labels.append(
        {
            "claim_no": number,
            "component": component,
            "failure_mode": "worn",
            "reviewer": "R. Viewer",
            "reviewed_on": failed,
        }
    )


def _counts(fleet: Fleet, component: str, model: str = "") -> tuple[Any, Any, Any]:
    """Count failures and units that passed each day, one unit at a time."""
    names = {row["claim_no"]: row["component"] for row in fleet.labels}
    first: dict[object, Any] = {}
    for row in fleet.claims:
        if names[row["claim_no"]] == component:
            first.setdefault(row["serial"], row["failed_on"])
    failures, exposed = np.zeros((2, 620))
    for unit in fleet.units:
        if model and unit["model"] != model:
            continue
        sold: Any = unit["in_service_date"]
        last = (AS_OF - sold).days
        failed = first.get(unit["serial"])
        if failed is None:
            exposed[: last + 1] += 1
        else:
            failures[(failed - sold).days] += 1
            exposed[: (failed - sold).days] += 1
    return np.arange(1.0, 621), failures, exposed


@pytest.fixture(scope="module")
def fleet() -> Fleet:
    return _fleet()


@pytest.fixture(scope="module")
def workspace(fleet: Fleet, tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    return workspace_of(fleet, tmp_path_factory.mktemp("life") / "ws", DRAWS)


def _row(table: pd.DataFrame, component: str, model: str | None = None) -> pd.Series:
    chosen = table["component"] == component
    if model is not None:
        chosen &= table["model"] == model
    (row,) = [row for _, row in table[chosen].iterrows()]
    return row


def test_lives_equal_a_fit_of_counts_made_by_hand(
    fleet: Fleet, workspace: Workspace
) -> None:
    table = workspace.life(as_of=AS_OF)
    for component in ("battery pack", "motor", "display"):
        ages, failures, exposed = _counts(fleet, component)
        fit = weibull.fit(ages, failures, None, lower=ages - 1, exposed=exposed)
        row = _row(table, component)
        assert row["failures"] == failures.sum()
        found = row[["shape", "shape_lower", "shape_upper"]].tolist()
        assert found == pytest.approx([fit.shape, *fit.shape_interval], rel=1e-8)
        months = row[["scale_months", "scale_lower", "scale_upper"]].to_numpy(float)
        assert months * MONTH == pytest.approx(
            [fit.scale, *fit.scale_interval], rel=1e-8, nan_ok=True
        )


def test_words_follow_the_laws_that_were_drawn(workspace: Workspace) -> None:
    table = workspace.life(as_of=AS_OF)
    assert _row(table, "battery pack")["pattern"] == "wear-out"
    assert _row(table, "motor")["pattern"] == "early-life"
    charger = _row(table, "charger")
    assert pd.isna(charger["pattern"])
    assert pd.isna(charger["shape"])


def test_a_share_of_prone_units_is_named(workspace: Workspace) -> None:
    table = workspace.life(as_of=AS_OF, prone=True)
    assert list(table.columns) == [
        "component",
        *LIFE_COLUMNS[:-2],
        "prone_share",
        "prone_lower",
        "prone_upper",
        "prone_p",
        *LIFE_COLUMNS[-2:],
    ]
    row = _row(table, "display")
    assert row["prone_lower"] < 0.08 < row["prone_upper"] < 0.5
    assert row["prone_p"] == pytest.approx(1 / 40)
    assert "only a share of the units is prone" in row["note"]
    assert _row(table, "battery pack")["prone_upper"] == 1.0
    assert "prone" not in _row(table, "battery pack")["note"]
    assert _row(table, "charger")[["prone_share", "prone_p"]].isna().all()


def test_no_life_is_given_far_beyond_the_oldest_unit(
    fleet: Fleet, workspace: Workspace
) -> None:
    """Methods: no number beyond 1.5 times the oldest age, its lower limit alone."""
    oldest: dict[object, float] = {}
    for unit in fleet.units:
        sold: Any = unit["in_service_date"]
        age, model = ((AS_OF - sold).days + 1) / MONTH, unit["model"]
        oldest[model] = max(age, oldest.get(model, 0.0))
    table = workspace.life(as_of=AS_OF, by="component,model")
    seen = 0
    for row in table.to_dict("records"):
        farthest = 1.5 * oldest[row["model"]]
        for name in ("b1", "b10"):
            for suffix in ("months", "upper"):
                value = row[f"{name}_{suffix}"]
                assert pd.isna(value) or value <= farthest + 1e-9
            if pd.isna(row[f"{name}_months"]) and pd.notna(row[f"{name}_lower"]):
                seen += 1
                words = f"{name.upper()} > {oldest[row['model']]:.1f} months"
                assert words in row["note"]
                assert row[f"{name}_lower"] <= farthest + 1e-9
    assert seen > 0


def test_few_failures_get_exact_limits_at_three_shapes(
    fleet: Fleet, tmp_path: Path
) -> None:
    """Nelson 1985: chi-square limits for a known shape, for any number."""
    few = Fleet(units=fleet.units, claims=[])
    sold: Any = min(unit["in_service_date"] for unit in fleet.units)  # type: ignore[type-var]  # dates
    oldest = next(unit for unit in fleet.units if unit["in_service_date"] == sold)
    _claim(few, str(oldest["serial"]), "motor", sold + timedelta(days=200))
    # a report on the cut-off, so that it is no later than the data
    _claim(few, str(oldest["serial"]), "display", AS_OF)
    ages, _, exposed = _counts(few, "motor")
    note = _row(workspace_of(few, tmp_path / "ws", DRAWS).life(as_of=AS_OF), "motor")[
        "note"
    ]
    assert note.startswith("1 failure, 5 needed; failed by 12 months: ")
    for shape in (1.0, 0.7, 1.5):
        total = (exposed * (ages**shape - (ages - 1) ** shape)).sum()
        share = [
            -np.expm1(-q / total * (12 * MONTH) ** shape)
            for q in (stats.chi2.ppf(0.025, 2) / 2, stats.chi2.ppf(0.975, 4) / 2)
        ]
        low, high = (f"{100 * value:.2g} %" for value in share)
        assert f"({low} to {high}) at shape {shape:g}" in note


def test_no_failure_is_never_no_problem(workspace: Workspace, fleet: Fleet) -> None:
    table = workspace.life(as_of=AS_OF, component="frame")
    row = _row(table, "frame")
    _, failures, exposed = _counts(fleet, "frame")
    assert failures.sum() == row["failures"] == 0
    share = -np.expm1(-12 * MONTH * 2.995732 / exposed.sum())
    assert row["note"].startswith(
        f"no failure in 1,500 units, {exposed.sum() / MONTH:,.0f} unit-months; with "
        f"95% confidence fewer fail by 12 months than {100 * share:.2g} % at shape 1, "
    )
    assert row[["shape", "scale_months", "b10_months"]].isna().all()
    assert "problem" not in row["note"]


def test_a_known_shape_gives_scales_for_any_number_of_failures(
    workspace: Workspace, fleet: Fleet
) -> None:
    table = workspace.life(as_of=AS_OF, known_shape=1.5)
    assert table["shape"].eq(1.5).all()
    assert table[["shape_lower", "shape_upper", "fit_p_value"]].isna().all(axis=None)
    for component in ("battery pack", "charger"):
        ages, failures, exposed = _counts(fleet, component)
        fit = weibull.fit(
            ages, failures, None, lower=ages - 1, exposed=exposed, shape=1.5
        )
        row = _row(table, component)
        found = row[["scale_months", "scale_lower", "scale_upper"]].to_numpy(float)
        assert found * MONTH == pytest.approx(
            [fit.scale, *fit.scale_interval], rel=1e-9
        )
        assert row["note"].startswith("shape 1.5 as given")


def test_a_shape_is_borrowed_from_the_same_component_elsewhere(
    workspace: Workspace, fleet: Fleet
) -> None:
    table = workspace.life(by="component,model", as_of=AS_OF, known_shape="component")
    for model, other in (("Trike", "Scooter"), ("Scooter", "Trike")):
        ages, failures, exposed = _counts(fleet, "battery pack", other)
        fit = weibull.fit(ages, failures, None, lower=ages - 1, exposed=exposed)
        row = _row(table, "battery pack", model)
        assert row["shape"] == pytest.approx(fit.shape, rel=1e-7)
        assert f"({failures.sum():.0f} failures)" in row["note"]
        thin = _row(table, "charger", model)
        assert pd.isna(thin["shape"])
        assert "20 needed to borrow their shape" in thin["note"]


def test_without_another_segment_there_is_nothing_to_borrow(
    workspace: Workspace,
) -> None:
    with pytest.raises(InputError, match="no other segment"):
        workspace.life(by="component", as_of=AS_OF, known_shape="component")


def test_shares_at_ages_come_with_limits_and_end_with_observation(
    workspace: Workspace, fleet: Fleet
) -> None:
    table = workspace.life(as_of=AS_OF, at=[12, 24, 60], component="motor")
    assert table["at_months"].tolist() == [12.0, 24.0, 60.0]
    ages, failures, exposed = _counts(fleet, "motor")
    fit = weibull.fit(ages, failures, None, lower=ages - 1, exposed=exposed)
    days = np.array([12, 24]) * MONTH
    found = table[["share_failed", "share_lower", "share_upper"]].to_numpy(float)
    expected = np.column_stack([fit.cdf(days), *fit.cdf_interval(days)])
    np.testing.assert_allclose(found[:2], expected, rtol=1e-7)
    assert np.isnan(found[2]).all()
    none = workspace.life(as_of=AS_OF, at=12, component="frame").iloc[0]
    assert pd.isna(none["share_failed"])
    assert none["share_lower"] == 0.0
    assert none["share_upper"] == pytest.approx(
        -np.expm1(-12 * MONTH * 2.995732274 / _counts(fleet, "frame")[2].sum()),
        rel=1e-6,
    )


def test_the_mean_unbiased_shape_stands_beside_the_plain_one(
    workspace: Workspace,
) -> None:
    row = _row(workspace.life(as_of=AS_OF, mean_unbiased=True), "motor")
    r = row["failures"]
    assert row["shape_mean_unbiased"] == pytest.approx(row["shape"] * (r - 1) / r)
    plain = _row(workspace.life(as_of=AS_OF), "motor")
    assert row["shape_lower"] == plain["shape_lower"]


def test_failures_of_another_component_change_no_life(
    workspace: Workspace, tmp_path: Path
) -> None:
    """Acceptance test C-10: each component has its own clock."""
    alone = workspace_of(_fleet(skip=("motor", "display")), tmp_path / "ws", DRAWS)
    one = _row(alone.life(as_of=AS_OF), "battery pack")
    other = _row(workspace.life(as_of=AS_OF), "battery pack")
    figures = [*LIFE_COLUMNS[:-2], "as_of"]
    pd.testing.assert_series_equal(one[figures], other[figures], check_names=False)


@pytest.mark.parametrize(
    ("asked", "rule"),
    [
        ({"known_shape": 0.0}, "known shape must lie"),
        ({"known_shape": 50}, "known shape must lie"),
        ({"known_shape": "motor"}, "known shape must lie"),
        ({"known_shape": 1.5, "mean_unbiased": True}, "no shape to estimate"),
        ({"at": [0]}, "ages must lie above 0"),
        ({"at": [12, 601]}, "ages must lie above 0"),
        ({"min_failures": 2}, "at least 3 failures"),
    ],
)
def test_what_cannot_be_asked_is_refused(
    workspace: Workspace, asked: dict[str, Any], rule: str
) -> None:
    with pytest.raises(InputError, match=rule):
        workspace.life(as_of=AS_OF, **asked)
