"""The quality of the classification, from drawn samples to the printed sections."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from review_maker import (
    FILLER,
    NEW_WORD,
    draw,
    fill,
    judge,
    make_workspace,
    reviewed_fleet,
)
from typer.testing import CliRunner

from claimlens.analysis.quality_records import COLUMNS, SECTIONS
from claimlens.cli import app, questions
from claimlens.errors import InputError
from claimlens.stats.accuracy import class_scores
from claimlens.stats.stratified import stratified_share
from claimlens.workspace import Workspace


@pytest.fixture(scope="module")
def unreviewed(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    folder = tmp_path_factory.mktemp("unreviewed") / "ws"
    return make_workspace(folder, reviewed_fleet(odd_last_month=True))


@pytest.fixture(scope="module")
def drawn_and_judged(
    tmp_path_factory: pytest.TempPathFactory,
) -> tuple[Workspace, pd.DataFrame]:
    folder = tmp_path_factory.mktemp("reviewed")
    workspace = make_workspace(folder / "ws", reviewed_fleet())
    book = folder / "review.xlsx"
    drawn = draw(workspace, book, queue=60, audit=150)
    labels = judge(drawn)
    fill(book, labels)
    workspace.review_apply(book)
    return workspace, drawn.assign(true=labels["component"].to_numpy())


@pytest.fixture(scope="module")
def reviewed(
    drawn_and_judged: tuple[Workspace, pd.DataFrame],
) -> tuple[pd.DataFrame, pd.DataFrame]:
    workspace, drawn = drawn_and_judged
    return workspace.quality(), drawn


@pytest.fixture(scope="module")
def told(unreviewed: Workspace) -> pd.DataFrame:
    return unreviewed.quality()


def of(table: pd.DataFrame, section: str, measure: str) -> pd.DataFrame:
    return table[(table["section"] == section) & (table["measure"] == measure)]


def test_without_a_review_nothing_is_called_measured(told: pd.DataFrame) -> None:
    table = told
    for measure in ("right", "wrong", "unclassified"):
        [row] = of(table, "accuracy", measure).to_dict("records")
        assert np.isnan(row["value"])
        assert row["note"].startswith("accuracy not measured")
        assert "review export" in row["note"]
    measured = {"accuracy", "series", "components", "confusion", "safety", "reviewers"}
    assert table.loc[table["section"].isin(measured), "value"].isna().all()
    bounds = table[table["section"] == "bounds"]
    assert len(bounds) == 3
    assert bounds["lower"].isna().all()
    assert (bounds["note"] == "classification error not measured").all()


def test_accuracy_counts_the_queue_once_and_the_audit_for_all_the_rest(
    reviewed: tuple[pd.DataFrame, pd.DataFrame],
) -> None:
    table, drawn = reviewed
    right = drawn["component"] == drawn["true"]
    in_queue = drawn["stratum"] == "queue"
    n = 60 + 150 / drawn["probability"].iloc[-1]
    [row] = of(table, "accuracy", "right").to_dict("records")
    by_hand = (right[in_queue].sum() + (n - 60) * right[~in_queue].mean()) / n
    assert row["value"] == pytest.approx(by_hand)
    limits = stratified_share(
        [right[in_queue].sum(), right[~in_queue].sum()], [60, 150], [60, n - 60]
    )
    assert row["lower"] == pytest.approx(float(limits.lower))
    assert row["upper"] == pytest.approx(float(limits.upper))
    assert row["n"] == 210
    shares = [
        of(table, "accuracy", m)["value"].iloc[0] for m in ("wrong", "unclassified")
    ]
    assert row["value"] + sum(shares) == pytest.approx(1.0)


def test_labels_do_not_make_the_classification_right_in_hindsight(
    drawn_and_judged: tuple[Workspace, pd.DataFrame],
    reviewed: tuple[pd.DataFrame, pd.DataFrame],
) -> None:
    workspace, drawn = drawn_and_judged
    now = workspace.classify().set_index("claim_no")["component"]
    assert (now[drawn["claim_no"]].to_numpy() == drawn["true"].to_numpy()).all()
    assert of(reviewed[0], "accuracy", "right")["value"].iloc[0] < 0.95


def test_precision_and_recall_are_those_of_weighted_rows(
    reviewed: tuple[pd.DataFrame, pd.DataFrame],
) -> None:
    table, drawn = reviewed
    names = ["motor", "battery pack", "display"]
    codes = [
        drawn[side]
        .map({name: i for i, name in enumerate(names)})
        .fillna(-1)
        .astype(int)
        for side in ("true", "component")
    ]
    by_chance = drawn["stratum"] == "audit"
    expected = class_scores(*codes, 3, 1 / drawn["probability"], random=by_chance)
    for measure in ("precision", "recall", "f1"):
        rows = of(table, "components", measure).set_index("component").loc[names]
        shares = getattr(expected, measure)
        assert shares.is_measured.all()
        np.testing.assert_allclose(rows["value"], shares.value)
        np.testing.assert_allclose(rows["lower"], shares.lower)
        np.testing.assert_allclose(rows["n_eff"], shares.n_eff)
    macro = of(table, "components", "macro_f1").iloc[0]
    assert macro["value"] == pytest.approx(expected.macro_f1)
    assert macro["note"] == "3 of 3 components measured"


def test_the_confusion_table_holds_every_reviewed_claim_once(
    reviewed: tuple[pd.DataFrame, pd.DataFrame],
) -> None:
    table, drawn = reviewed
    cells = table[table["section"] == "confusion"]
    assert cells["value"].sum() == pytest.approx(1.0)
    assert cells["n"].sum() == len(drawn)
    confused = cells[cells["measure"] == "confused"]
    assert confused["value"].is_monotonic_decreasing
    assert (confused["component"] != confused["reviewed_as"]).all()
    open_ones = confused[confused["component"] == "unclassified"]
    assert open_ones["reviewed_as"].tolist() == ["motor"]


def test_the_reviewers_word_on_danger_is_heard(
    reviewed: tuple[pd.DataFrame, pd.DataFrame],
) -> None:
    table, drawn = reviewed
    [recall] = of(table, "safety", "recall").to_dict("records")
    assert recall["n"] == len(range(0, len(drawn), 10))
    [precision] = of(table, "safety", "precision").to_dict("records")
    assert precision["n"] == (drawn["safety"] == "yes").sum()


def test_counts_behind_the_rates_get_limits_and_stay_as_classified(
    drawn_and_judged: tuple[Workspace, pd.DataFrame],
    reviewed: tuple[pd.DataFrame, pd.DataFrame],
) -> None:
    workspace, _ = drawn_and_judged
    claims = of(reviewed[0], "bounds", "claims").set_index("component")
    counted = workspace.tally(by="component,claim_class")
    counted = counted[counted["claim_class"] == "counted"].set_index("component")
    assert claims["value"].to_dict() == {
        name: n for name, n in counted["claims"].items() if name != "unclassified"
    }
    estimate = of(reviewed[0], "bounds", "claims_estimated").set_index("component")
    assert (claims["lower"] < estimate["value"]).all()
    assert (estimate["value"] < claims["upper"]).all()
    for row in claims.itertuples():
        said = f"between {row.lower:,.0f} and {row.upper:,.0f} after classification"
        assert row.note.startswith(said)
    factor = of(reviewed[0], "bounds", "rate_factor").set_index("component")
    np.testing.assert_allclose(factor["lower"], claims["lower"] / claims["value"])


def test_a_model_is_judged_by_its_own_claims(
    drawn_and_judged: tuple[Workspace, pd.DataFrame],
) -> None:
    workspace, drawn = drawn_and_judged
    table = workspace.quality(model="Trike")
    own = drawn["claim_no"].str[1:].astype(int) % 2 == 0
    assert of(table, "accuracy", "right")["n"].iloc[0] == own.sum()
    assert (
        of(table, "confusion", "right")["n"].sum()
        == (own & (drawn["component"] == drawn["true"])).sum()
    )


@pytest.mark.parametrize("name", ["component", "supplier"])
def test_single_components_and_suppliers_are_refused(
    unreviewed: Workspace, name: str
) -> None:
    with pytest.raises(InputError, match=name):
        unreviewed.quality(**{name: "motor"})


def test_a_month_of_texts_that_say_nothing_is_an_alarm(told: pd.DataFrame) -> None:
    rows = of(told, "unclassified", "share_by_month")
    rows = rows[rows["language"].isna()]
    assert len(rows) == 24
    assert rows["alarm"].fillna(False).tolist() == [False] * 23 + [True]
    assert rows["note"].iloc[-1].startswith("usually 8.3 %")
    words = of(told, "vocabulary", "unseen_words")
    assert words["alarm"].fillna(False).tolist()[-1]
    assert NEW_WORD in words["note"].iloc[-1]
    assert not any(word in words["note"].iloc[-1] for word in FILLER)


def test_a_language_has_its_own_share(told: pd.DataFrame) -> None:
    rows = of(told, "unclassified", "share_by_language")
    assert set(rows["language"]) <= {"en", "not told"}
    english = rows.set_index("language").loc["en"]
    assert english["n"] > 300
    assert 0 < english["lower"] < english["value"] < english["upper"] < 1


def test_sources_share_all_claims(told: pd.DataFrame) -> None:
    rows = of(told, "sources", "share")
    assert rows["value"].sum() == pytest.approx(1.0)
    assert rows["group"].iloc[0] == "part"


def test_the_same_question_gives_the_same_table(
    drawn_and_judged: tuple[Workspace, pd.DataFrame],
    reviewed: tuple[pd.DataFrame, pd.DataFrame],
) -> None:
    pd.testing.assert_frame_equal(drawn_and_judged[0].quality(), reviewed[0])


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch) -> Callable[..., str]:
    """Return a call of the command on a workspace that is open already."""

    def call(workspace: Workspace, *arguments: str) -> str:
        monkeypatch.setattr(questions, "open_workspace", lambda _: workspace)
        given = ["classify", "--quality", *arguments]
        result = CliRunner().invoke(app, given)
        assert result.exit_code == 0, result.output
        return result.stdout

    return call


def test_json_is_a_flat_list_with_the_documented_keys(
    unreviewed: Workspace, run: Callable[..., str]
) -> None:
    records = json.loads(run(unreviewed, "--format", "json"))
    assert all(tuple(one) == COLUMNS for one in records)
    assert {one["section"] for one in records} <= set(SECTIONS)
    months = {one["month"] for one in records if one["month"]}
    assert all(len(month) == 10 and month.endswith("-01") for month in months)


def test_sections_read_well_on_a_screen(
    drawn_and_judged: tuple[Workspace, pd.DataFrame],
    unreviewed: Workspace,
    run: Callable[..., str],
) -> None:
    text = run(drawn_and_judged[0])
    headings = [name.replace("_", " ").capitalize() for name in SECTIONS]
    lines = text.splitlines()
    assert [line for line in lines if line in headings] == headings
    assert "motor, reviewed as display" in text
    assert "nan" not in text.lower().split()
    bare = run(unreviewed)
    assert "accuracy not measured" in bare
    assert "100.0 %" not in bare.split("Unclassified")[0]


def test_files_hold_every_row(
    unreviewed: Workspace,
    told: pd.DataFrame,
    tmp_path: Path,
    run: Callable[..., str],
) -> None:
    rows = len(told)
    for form in ("csv", "parquet"):
        run(unreviewed, "--format", form, "--output", str(tmp_path / f"q.{form}"))
    assert len(pd.read_csv(tmp_path / "q.csv")) == rows
    assert len(pd.read_parquet(tmp_path / "q.parquet")) == rows
    run(unreviewed, "--output", str(tmp_path / "q.txt"))
    assert "Accuracy" in (tmp_path / "q.txt").read_text(encoding="utf-8")
