"""The learned model in a workspace: what it may see, and what it changes."""

from __future__ import annotations

import shutil
import subprocess
import sys
from datetime import date, timedelta
from pathlib import Path

import duckdb
import pandas as pd
import pytest
from fleet_maker import Fleet, workspace_of, write_csv
from typer.testing import CliRunner

from claimlens.cli import app
from claimlens.errors import SourceError
from claimlens.start import open_workspace
from claimlens.workspace import Workspace

# names that no terms know, and what each stands for
NAMES = {
    "kneya": "controller",
    "pikto": "display",
    "calpo": "brake hydraulic",
    "gibbo": "drivetrain",
}
FAULTS = ("no longer does what it should", "has had it since monday", "is finished")
FIRST, LAST_DAY = date(2024, 1, 10), date(2024, 5, 31)


def claim(number: int, name: str, day: date) -> dict[str, object]:
    """Return a claim in the maker's own words."""
    return {
        "claim_no": f"C{number:03d}",
        "reported_on": day,
        "failed_on": day - timedelta(days=3),
        "serial": f"S{number % 40:02d}",
        "status": "closed",
        "narrative": f"case {number}: the {name} {FAULTS[number % len(FAULTS)]}",
    }


def label(number: int, name: str) -> dict[str, object]:
    """Return the reviewed label of such a claim."""
    return {
        "claim_no": f"C{number:03d}",
        "component": NAMES[name],
        "failure_mode": "no power",
        "reviewer": "ann",
        "reviewed_on": date(2024, 6, 3),
    }


def own_words(n_labels: int) -> Fleet:
    """Return 160 claims that the terms cannot read; the first ones are labelled."""
    units = [
        {
            "serial": f"S{number:02d}",
            "model": "Trike",
            "model_year": 2023,
            "in_service_date": date(2023, 6, 1),
        }
        for number in range(40)
    ]
    names = list(NAMES)
    span = (LAST_DAY - FIRST).days
    rows = [
        (number, names[number * 7 % 4 if number % 5 else number % 4])
        for number in range(160)
    ]
    claims = [
        claim(number, name, FIRST + timedelta(days=number * 37 % span))
        for number, name in rows
    ]
    claims[-1]["reported_on"] = LAST_DAY
    labels = [label(number, name) for number, name in rows[:n_labels]]
    return Fleet(units=units, claims=claims, labels=labels)


@pytest.fixture(scope="module")
def taught(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    """A workspace with 100 labels whose model is on."""
    workspace = workspace_of(own_words(100), tmp_path_factory.mktemp("taught") / "w")
    table = workspace.learn()
    assert table.loc[table["question"] == "component", "used"].all()
    return workspace


@pytest.fixture
def own(taught: Workspace, tmp_path: Path) -> Workspace:
    """A copy of that workspace, for tests that change it."""
    return open_workspace(shutil.copytree(taught.folder, tmp_path / "w"))


def by_source(workspace: Workspace, **asked: str) -> dict[str, int]:
    """Return the number of claims by what decided them."""
    counts = workspace.classify(**asked)["source"].value_counts()
    return {str(source): int(n) for source, n in counts.items()}


def stored(workspace: Workspace) -> pd.DataFrame:
    """Return what the public view shows to any other program."""
    with duckdb.connect(str(workspace.warehouse), read_only=True) as connection:
        return connection.execute(
            "select claim_no, component, source from classified_now order by claim_no"
        ).df()


def test_open_claims_are_completed_and_the_rest_left_alone(taught: Workspace) -> None:
    found = taught.classify()
    assert by_source(taught)["label"] == 100
    by_model = found[found["source"] == "model"]
    assert len(by_model) >= 50
    names = {component: name for name, component in NAMES.items()}
    texts = {row["claim_no"]: row["narrative"] for row in own_words(0).claims}
    for row in by_model.itertuples():
        assert names[str(row.component)] in str(texts[row.claim_no])
    assert stored(taught)["source"].tolist() == found["source"].tolist()


def test_the_table_adds_up(taught: Workspace) -> None:
    table = taught.learn()
    sums = table["right"] + table["wrong"] + table["unclassified"]
    assert (sums == table["n"]).all()
    assert (table["n"] == 100).all()
    assert table["way"].tolist() == [
        "terms alone", "model alone", "terms and model",
    ] * 2  # fmt: skip
    assert table["note"].str.contains("learned from 100 reviewed claims").all()


def test_learning_twice_changes_no_byte(taught: Workspace) -> None:
    def files() -> dict[str, bytes]:
        listed = sorted((taught.folder / "model").iterdir())
        return {path.name: path.read_bytes() for path in listed}

    before, warehouse = files(), taught.warehouse.read_bytes()
    taught.learn()
    assert files() == before
    assert taught.warehouse.read_bytes() == warehouse


def test_a_cut_off_before_what_it_has_seen_is_answered_without_it(
    taught: Workspace,
) -> None:
    assert by_source(taught, as_of="2024-05-31")["model"] >= 50
    earlier = taught.rates(as_of="2024-04-30")
    assert earlier["note"].str.contains("learned model not used").all()
    assert "2024-05" in earlier["note"].iloc[0]
    assert "model" not in by_source(taught, as_of="2024-04-30")
    assert not taught.rates(as_of="2024-05-31")["note"].str.contains("learned").any()


def test_labels_not_known_by_a_date_do_not_show(taught: Workspace) -> None:
    """Labels are known on the day of their review here, the third of June."""
    assert set(by_source(taught, as_known="2024-06-02")) == {"none"}


def test_what_comes_after_the_cut_off_does_not_enter(tmp_path: Path) -> None:
    fleet = own_words(100)
    workspace = workspace_of(fleet, tmp_path / "w")
    table = workspace.learn(as_of="2024-04-30")
    seen = sum(
        row["reported_on"] <= date(2024, 4, 30)  # type: ignore[operator]  # a date
        for row in fleet.claims[:100]
    )
    assert (table["n"] == seen).all()
    unknown = workspace.learn(as_known="2024-06-02")
    assert (unknown["n"] == 0).all()
    assert not unknown["used"].any()


def test_a_new_label_wins_and_a_new_claim_is_completed(
    own: Workspace, tmp_path: Path
) -> None:
    found = own.classify().set_index("claim_no")
    chosen = str(found.index[found["source"] == "model"][0])
    row = {**label(0, "kneya"), "claim_no": chosen, "component": "motor"}
    write_csv(tmp_path / "labels_2.csv", [row])
    write_csv(
        tmp_path / "claims_2.csv", [claim(900, "gibbo", LAST_DAY - timedelta(days=1))]
    )
    own.ingest([tmp_path / "labels_2.csv", tmp_path / "claims_2.csv"])
    found = own.classify().set_index("claim_no")
    assert found.loc[chosen, "component"] == "motor"
    assert found.loc[chosen, "source"] == "label"
    assert found.loc["C900", "source"] == "model"
    assert found.loc["C900", "component"] == "drivetrain"


def test_forgetting_brings_back_the_terms_alone(own: Workspace, tmp_path: Path) -> None:
    before = workspace_of(own_words(100), tmp_path / "untaught").classify()
    assert "model" in set(stored(own)["source"])
    assert own.forget()
    pd.testing.assert_frame_equal(own.classify(), before)
    assert "model" not in set(stored(own)["source"])
    assert not own.forget()


def test_the_order_of_loads_does_not_matter(taught: Workspace, tmp_path: Path) -> None:
    """The model sees the register too: units after claims read as units before."""
    fleet, one = own_words(100), taught
    other = workspace_of(
        Fleet(units=[], claims=fleet.claims, labels=fleet.labels), tmp_path / "other"
    )
    other.learn()
    write_csv(tmp_path / "units.csv", fleet.units)
    other.ingest(tmp_path / "units.csv")
    other.learn()
    pd.testing.assert_frame_equal(one.classify(), other.classify())
    model = [
        sorted(path.name for path in (w.folder / "model").iterdir())
        for w in (one, other)
    ]
    assert model[0] == model[1]


def test_the_account_of_a_claim_tells_the_models_part(taught: Workspace) -> None:
    found = taught.classify()
    by_model = str(found.loc[found["source"] == "model", "claim_no"].iloc[0])
    told = taught.explain(by_model)
    assert "learned model" in told
    assert "decides)" in told
    reviewed = str(found.loc[found["source"] == "label", "claim_no"].iloc[0])
    assert "a reviewed label always wins" in taught.explain(reviewed)


def test_a_damaged_model_stops_a_question_with_a_reason(own: Workspace) -> None:
    (own.folder / "model" / "header.json").write_text("{}", encoding="utf-8")
    again = open_workspace(own.folder)
    with pytest.raises(SourceError, match="learned model cannot be used"):
        again.rates()
    again.forget()
    again.rates()


def test_the_command_prints_the_comparison_and_the_verdict(tmp_path: Path) -> None:
    """Too few labels: the first command is typed, the others run in this process."""
    folder = workspace_of(own_words(20), tmp_path / "w").folder
    done = subprocess.run(
        [sys.executable, "-m", "claimlens", "learn"],
        capture_output=True, text=True, check=False, cwd=folder,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "terms alone" in done.stdout
    assert "off for the component: 20 reviewed labels, 50 needed" in done.stdout

    def said(*arguments: str) -> str:
        command = ["--workspace", str(folder), "learn", *arguments]
        return CliRunner().invoke(app, command).stdout

    as_csv = said("--format", "csv").splitlines()
    assert as_csv[0].startswith("question,way,n,right,wrong,unclassified,wrong_share")
    assert "out of use" in said("--forget")
    assert "no learned model" in said("--forget")
