"""A person's data are erased; the counts stay, and no later load brings them back."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import duckdb
import pandas as pd
import pytest
from erase_desk import (
    CLAIMS,
    OTHER_CLAIM,
    SECRETS,
    SERIAL,
    found_in,
    found_in_bytes,
    other_files,
    strings_of,
)

import claimlens
from claimlens import handover
from claimlens.db import write_warehouse
from claimlens.errors import InputError
from claimlens.ingest.erased import TEXTS
from claimlens.ingest.erasing import MASKED_KINDS
from claimlens.workspace import Workspace


def answers(workspace: Workspace) -> dict[str, str]:
    """Return what a few questions answer, as JSON."""
    asked = {
        "rates": workspace.rates(by=["component", "model"], at=6),
        "rates known": workspace.rates(as_known="2025-10-20", as_of="2025-10-20"),
        "tally": workspace.tally(by=["component", "dealer"]),
    }
    return {
        name: handover.to_json(handover.records(frame)) for name, frame in asked.items()
    }


def all_answers(workspace: Workspace) -> dict[str, str]:
    """Return what the questions answer, as JSON."""
    asked = {
        "rates early": workspace.rates(by=["failure_mode"], as_of="2025-10-31"),
        "life": workspace.life(),
        "signals": workspace.signals(),
        "windows": workspace.windows(),
        "forecast": workspace.forecast(),
        "lag": workspace.lag(),
        "repeats": workspace.repeats(),
        "severity": workspace.severity(),
        "causes": workspace.causes("charger does not load"),
        "change": workspace.change("EC-1"),
        "suppliers": workspace.rates(by=["supplier"]),
    }
    told = {
        name: handover.to_json(handover.records(frame)) for name, frame in asked.items()
    }
    return answers(workspace) | told


def classes(workspace: Workspace, **asked: str) -> list[tuple[str, ...]]:
    """Return the classifications without claim numbers and words."""
    frame = workspace.classify(**asked)  # type: ignore[arg-type]  # days only
    kept = ["component", "failure_mode", "other_components", "safety", "source"]
    kept += ["confidence"]
    return sorted(map(tuple, frame[kept].astype("str").to_numpy().tolist()))


def test_the_person_stands_in_the_warehouse_before(loaded: Workspace) -> None:
    held = found_in(strings_of(loaded.warehouse))
    assert sorted(held) == sorted(SECRETS)


def test_nothing_of_the_person_stays_in_the_warehouse(loaded: Workspace) -> None:
    loaded.erase(serials=SERIAL, reason=f"asked by the owner of {SERIAL}")
    assert found_in(strings_of(loaded.warehouse)) == []
    assert found_in_bytes(loaded.warehouse) == []


def test_every_answer_stays_the_same(loaded: Workspace) -> None:
    before, read_before = all_answers(loaded), classes(loaded)
    earlier = (
        classes(loaded, as_known="2025-10-20"),
        classes(loaded, as_of="2025-10-31"),
    )
    loaded.erase(serials=SERIAL)
    after = all_answers(loaded)
    for name, text in before.items():
        assert after[name] == text, name
    assert classes(loaded) == read_before
    assert classes(loaded, as_known="2025-10-20") == earlier[0]
    assert classes(loaded, as_of="2025-10-31") == earlier[1]


def test_a_claim_alone_keeps_its_unit(loaded: Workspace) -> None:
    before = answers(loaded)
    loaded.erase(claims=CLAIMS[0])
    assert answers(loaded) == before
    told = strings_of(loaded.warehouse)
    assert found_in(told, (CLAIMS[0], "zirbelholz", "wimmelkiste", "grunzend")) == []
    unit = loaded.unit(SERIAL)
    assert len(unit["claims"]) == 2


def test_an_old_export_brings_nothing_back(loaded: Workspace, tmp_path: Path) -> None:
    old = shutil.copytree(loaded.folder / "inbox", tmp_path / "old")
    loaded.erase(serials=SERIAL)
    before, counts = answers(loaded), strings_of(loaded.warehouse).count("ERASED-")
    again = loaded.ingest(old)
    assert again["erased"].sum() > 0
    for row in again.to_dict("records"):
        parts = ("inserted", "updated", "unchanged", "superseded", "rejected")
        assert row["rows_read"] == sum(row[name] for name in parts)
    assert again["inserted"].sum() == again["updated"].sum() == 0
    assert answers(loaded) == before
    assert found_in(strings_of(loaded.warehouse)) == []
    assert strings_of(loaded.warehouse).count("ERASED-") == counts


def test_an_old_export_of_other_bytes_brings_nothing_back(
    loaded: Workspace, tmp_path: Path
) -> None:
    old = shutil.copytree(loaded.folder / "inbox", tmp_path / "old")
    loaded.erase(serials=SERIAL)
    before = answers(loaded)
    for path in sorted(old.iterdir()):
        text = path.read_text(encoding="utf-8")
        path.write_text(text + "\n", encoding="utf-8")
    again = loaded.ingest(old)
    assert again["inserted"].sum() == again["updated"].sum() == 0
    assert again["erased"].sum() >= 10
    assert answers(loaded) == before
    assert found_in(strings_of(loaded.warehouse)) == []


def test_a_new_claim_of_an_erased_unit_comes_in_without_its_text(
    loaded: Workspace, tmp_path: Path
) -> None:
    loaded.erase(serials=SERIAL)
    stand_in = stand_in_of_unit(loaded)
    parts = tmp_path / "a_parts.csv"
    parts.write_text(
        "claim_no,part_no,quantity,Sent by\nCLM-90073,P-1,1,Farthingale\n", "utf-8"
    )
    new = tmp_path / "b_new.csv"
    new.write_text(
        "claim_no,reported_on,serial,narrative\n"
        f"CLM-90073,2025-12-22,{SERIAL},motor noise schnurzel\n",
        "utf-8",
    )
    loaded.ingest(parts)
    loaded.ingest(new)
    told = strings_of(loaded.warehouse)
    assert found_in(told, (*SECRETS, "CLM-90073")) == []
    assert found_in_bytes(loaded.warehouse, (*SECRETS, "CLM-90073")) == []
    unit = loaded.unit(stand_in, as_of="2025-12-31")
    assert len(unit["claims"]) == 3
    assert loaded.ingest(new)["inserted"].tolist() == [0]


def stand_in_of_unit(workspace: Workspace) -> str:
    with duckdb.connect(str(workspace.warehouse), read_only=True) as connection:
        rows = connection.execute(
            "select serial from units_now where starts_with(serial, 'ERASED-')"
        ).fetchall()
    return str(rows[0][0])


def test_an_alarm_that_was_told_is_not_told_again(loaded: Workspace) -> None:
    loaded.run()
    loaded.erase(claims=OTHER_CLAIM)
    outcome = loaded.run()
    assert [alarm.subject for alarm in outcome.alarms] == []


def test_an_unknown_serial_changes_nothing(loaded: Workspace) -> None:
    before = loaded.warehouse.read_bytes()
    with pytest.raises(InputError) as caught:
        loaded.erase(serials=(SERIAL, "UNIT-7070"))
    assert SERIAL in str(caught.value.remedy)
    assert loaded.warehouse.read_bytes() == before


def test_a_dry_run_changes_nothing(loaded: Workspace) -> None:
    before = loaded.warehouse.read_bytes()
    told = loaded.erase(serials=SERIAL, dry_run=True)
    assert told["touched"].sum() > 10
    assert loaded.warehouse.read_bytes() == before


def test_an_earlier_text_of_a_claim_is_read_as_it_was(loaded: Workspace) -> None:
    """The first export lacked the words that a later note brought."""
    before = classes(loaded, as_known="2025-12-15")
    loaded.erase(claims=list(CLAIMS))
    assert classes(loaded, as_known="2025-12-15") == before


def test_a_label_still_decides_after_the_text_is_gone(
    loaded: Workspace, tmp_path: Path
) -> None:
    loaded.erase(claims=CLAIMS[1])
    kept = loaded.classify()
    number = kept.loc[kept["claim_no"].str.startswith("ERASED-"), "claim_no"].iloc[0]
    labels = tmp_path / "labels.csv"
    labels.write_text(
        "claim_no,component,failure_mode,reviewer,reviewed_on\n"
        f"{number},display,worn,R. Lind,2025-12-24\n",
        "utf-8",
    )
    loaded.ingest(labels)
    after = loaded.classify().set_index("claim_no").loc[number]
    assert (after["component"], after["source"]) == ("display", "label")


def test_other_terms_leave_an_erased_claim_as_it_was(
    loaded: Workspace, tmp_path: Path
) -> None:
    before = loaded.classify().set_index("claim_no").loc[CLAIMS[0], "component"]
    loaded.erase(claims=CLAIMS[0])
    settings = loaded.folder / "claimlens.toml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(
        text.replace("# threshold = 0.65", "threshold = 0.99"), encoding="utf-8"
    )
    after = claimlens.open(loaded.folder).classify()
    erased = after[after["claim_no"].str.startswith("ERASED-")]
    assert erased["component"].tolist() == [before]


def test_the_digest_of_a_masked_row_is_that_of_a_load(loaded: Workspace) -> None:
    """Without any target the masks would give each row the digest it has."""
    with write_warehouse(loaded.warehouse) as session:
        session.run("staging/fold_macros")
        session.run("staging/erasing")
        for kind in MASKED_KINDS:
            with duckdb.connect(str(loaded.warehouse), read_only=True) as connection:
                held = connection.execute(
                    f"select rowid as place, row_key, row_digest from {kind}_versions"
                ).df()
            frame = pd.DataFrame({"place": held["place"]})
            for name in (*TEXTS.get(kind, ()), "extra"):
                frame[name] = pd.array([None] * len(frame), dtype="str")
            session.put("mentioned", frame)
            session.run(f"staging/mask_{kind}")
            made = session._connection.execute(
                "select place, row_key, row_digest from masked order by place"
            ).df()
            pd.testing.assert_frame_equal(
                made, held.sort_values("place", ignore_index=True), check_dtype=False
            )


def test_reports_keep_no_secret_in_json() -> None:
    """The maker of the workspace plants what the tests look for."""
    planted = json.dumps(other_files())
    assert len(re.findall("Farthingale", planted)) >= 3
