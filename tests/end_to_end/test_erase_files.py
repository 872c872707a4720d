"""What an erasure does to the files of a workspace."""

from __future__ import annotations

import gzip
import json
from collections.abc import Callable
from pathlib import Path

import duckdb
import openpyxl
import pandas as pd
import pytest
from erase_desk import (
    CLAIMS,
    SECRETS,
    SERIAL,
    claims,
    found_in,
    make,
    strings_of,
    text_of,
    texts_of_files,
)

from claimlens import erasing
from claimlens.workspace import Workspace

#: What stands in a file of its own that names nobody in its rows.
LEFT = ("short.csv",)


def shown(workspace: Workspace) -> dict[str, list[str]]:
    """Return the secrets that each file still shows."""
    found = {
        name: found_in(f"{name} {text}")
        for name, text in texts_of_files(workspace.folder).items()
    }
    return {name: secrets for name, secrets in found.items() if secrets}


def test_nothing_of_the_person_stays_in_any_file(loaded: Workspace) -> None:
    loaded.run()
    review = loaded.folder / "review.xlsx"
    loaded.review_export(review)
    rates = loaded.classify()
    rates.to_csv(loaded.out / "mine.csv", index=False)
    rates.to_parquet(loaded.out / "mine.parquet")
    (loaded.out / "mine.json").write_text(rates.to_json(), encoding="utf-8")
    loaded.unit("UNIT-1001")  # keeps answers beside the warehouse
    assert len(shown(loaded)) > 8
    told = loaded.erase(serials=SERIAL, reason="asked for")
    assert shown(loaded) == {}
    assert told.loc[told["what"] == "left", "place"].tolist() == []
    assert set(told["what"]) == {"masked", "rewritten", "removed"}


def test_the_other_rows_keep_their_place_and_their_words(loaded: Workspace) -> None:
    before = (loaded.folder / "inbox" / "claims_2.csv").read_text(encoding="utf-8")
    loaded.erase(serials=SERIAL)
    after = (loaded.folder / "inbox" / "claims_2.csv").read_text(encoding="utf-8")
    old, new = before.split("\n"), after.split("\n")
    assert len(old) == len(new)
    changed = [at for at, (a, b) in enumerate(zip(old, new, strict=True)) if a != b]
    assert len(changed) == 3
    assert sorted(new[at] for at in changed)[:2] == ["", ""]
    assert "same fault as ERASED on ERASED." in after


def test_a_run_after_it_takes_the_rewritten_files_for_known(loaded: Workspace) -> None:
    loaded.erase(serials=SERIAL)
    before = strings_of(loaded.warehouse)
    account = loaded.ingest()
    assert account[["inserted", "updated"]].to_numpy().sum() == 0
    assert strings_of(loaded.warehouse) == before


Writer = Callable[[Path, pd.DataFrame], Path]


def _csv(folder: Path, rows: pd.DataFrame) -> Path:
    path = folder / "old.csv.gz"
    path.write_bytes(gzip.compress(rows.to_csv(index=False).encode("utf-8")))
    return path


def _wide(folder: Path, rows: pd.DataFrame) -> Path:
    path = folder / "old.tsv"
    path.write_bytes(rows.to_csv(index=False, sep="\t").encode("utf-16"))
    return path


def _json(folder: Path, rows: pd.DataFrame) -> Path:
    path = folder / "old.json"
    path.write_text(
        json.dumps({"claims": rows.to_dict("records"), "n": len(rows)}), "utf-8"
    )
    return path


def _lines(folder: Path, rows: pd.DataFrame) -> Path:
    path = folder / "old.jsonl"
    path.write_text(
        "".join(json.dumps(row) + "\n" for row in rows.to_dict("records")), "utf-8"
    )
    return path


def _parquet(folder: Path, rows: pd.DataFrame) -> Path:
    path = folder / "old.parquet"
    rows.to_parquet(path)
    return path


def _book(folder: Path, rows: pd.DataFrame) -> Path:
    path = folder / "old.xlsx"
    rows.to_excel(path, index=False)
    return path


@pytest.mark.parametrize(
    "write", [_csv, _wide, _json, _lines, _parquet, _book], ids=lambda w: w.__name__
)
def test_an_old_export_of_any_shape_is_rewritten_and_brings_nothing_back(
    write: Writer, tmp_path: Path
) -> None:
    workspace = make(tmp_path / "w")
    for name in ("claims_1.csv", "claims_2.csv", "short.csv"):
        (workspace.folder / "inbox" / name).unlink()
    rows = pd.DataFrame(claims(newest=True)).fillna("")
    path = write(workspace.folder / "inbox", rows)
    kept = write(tmp_path, rows)
    workspace.ingest()
    assert sorted(found_in(strings_of(workspace.warehouse))) == sorted(SECRETS)
    told = workspace.erase(serials=SERIAL)
    assert path.name in " ".join(told["place"])
    assert shown(workspace) == {}
    before = strings_of(workspace.warehouse)
    again = workspace.ingest()
    assert again[["inserted", "updated", "erased"]].to_numpy().sum() == 0
    assert strings_of(workspace.warehouse) == before
    # the export as it was, from somewhere else
    account = workspace.ingest(kept)
    assert account["erased"].tolist() == [2]
    assert account[["inserted", "updated"]].to_numpy().sum() == 0
    assert found_in(strings_of(workspace.warehouse)) == []


def test_a_workbook_with_formulas_is_named_and_left(loaded: Workspace) -> None:
    path = loaded.folder / "inbox" / "sums.xlsx"
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["claim_no", "reported_on", "cost"])
    sheet.append([CLAIMS[0], "2025-03-03", 1])
    sheet.append(["sum", "", "=sum(C2:C2)"])
    book.save(path)
    before = path.read_bytes()
    told = loaded.erase(serials=SERIAL)
    line = told[told["place"] == "inbox/sums.xlsx"].iloc[0]
    assert line["what"] == "left"
    assert "formulas" in line["note"]
    assert path.read_bytes() == before


def test_numbers_of_a_sheet_are_known_as_serials(tmp_path: Path) -> None:
    workspace = make(tmp_path / "w")
    (workspace.folder / "inbox" / "more.csv").write_text(
        "serial,model,model_year\n770070,Roller,2024\n", encoding="utf-8"
    )
    path = workspace.folder / "inbox" / "book.xlsx"
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["serial", "model", "model_year"])
    sheet.append([770070, "Roller", 2024])
    sheet.append([770071, "Roller", 2024])
    book.save(path)
    workspace.ingest()
    workspace.erase(serials="770070")
    left = openpyxl.load_workbook(path).active
    assert left is not None
    values = [[cell.value for cell in row] for row in left.iter_rows()]
    assert values[1:] == [[None, None, None], [770071, "Roller", 2024]]


def test_the_proof_names_nobody_and_counts(loaded: Workspace) -> None:
    loaded.erase(serials=SERIAL, reason=f"letter about {SERIAL}")
    path = loaded.folder / "log" / "erasures.jsonl"
    (line,) = path.read_text(encoding="utf-8").splitlines()
    proof = json.loads(line)
    assert found_in(line) == []
    assert proof["reason"] == "letter about ERASED"
    assert len(proof["digests"]) == 3
    assert proof["rows_before"] == proof["rows_after"]
    assert proof["rows_touched"]["claims_versions"] >= 4
    assert proof["files"]["rewritten"] >= 8
    with duckdb.connect(str(loaded.warehouse), read_only=True) as connection:
        held = connection.execute("select proof from erasures").fetchall()
    assert json.loads(held[0][0])["digests"] == proof["digests"]


class KilledError(Exception):
    """Stands for a process that ends."""


def test_a_kill_before_the_warehouse_is_swapped_changes_nothing(
    loaded: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = texts_of_files(loaded.folder), loaded.warehouse.read_bytes()

    def killed(*given: object) -> None:
        raise KilledError

    with monkeypatch.context() as patch:
        patch.setattr("claimlens.db.session._swap_in", killed)
        with pytest.raises(KilledError):
            loaded.erase(serials=SERIAL)
    assert loaded.warehouse.read_bytes() == before[1]
    assert {
        name: text
        for name, text in texts_of_files(loaded.folder).items()
        if name in before[0]
    } == before[0]
    assert not list(loaded.folder.rglob("*.draft"))
    loaded.erase(serials=SERIAL)
    assert shown(loaded) == {}


def test_a_kill_that_leaves_drafts_behind_before_the_swap_is_cleared(
    loaded: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    def killed(*given: object) -> None:
        raise KilledError

    with monkeypatch.context() as patch:
        patch.setattr("claimlens.db.session._swap_in", killed)
        patch.setattr(erasing.Journal, "give_up", lambda journal: None)
        with pytest.raises(KilledError):
            loaded.erase(serials=SERIAL)
    assert (loaded.folder / "log" / "erasing.json").exists()
    loaded.erase(serials=SERIAL)
    assert shown(loaded) == {}
    assert not list(loaded.folder.rglob("*.draft"))
    assert not (loaded.folder / "log" / "erasing.json").exists()


@pytest.mark.parametrize("places", [0, 3])
def test_a_kill_after_the_swap_is_completed_by_erasing_again(
    places: int, loaded: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = erasing.Journal._place
    count = iter(range(100))

    def killed(journal: erasing.Journal, step: dict[str, str | int | None]) -> object:
        if next(count) >= places:
            raise KilledError
        return real(journal, step)

    with monkeypatch.context() as patch:
        patch.setattr(erasing.Journal, "_place", killed)
        with pytest.raises(KilledError):
            loaded.erase(serials=SERIAL)
    assert found_in(strings_of(loaded.warehouse)) == []
    assert len(shown(loaded)) > 3
    loaded.erase(serials=SERIAL)
    assert shown(loaded) == {}


def test_a_file_that_came_after_it_is_found_by_erasing_again(loaded: Workspace) -> None:
    loaded.erase(serials=SERIAL)
    again = loaded.folder / "inbox" / "claims_3.csv"
    again.write_text(text_of(claims(newest=False)), encoding="utf-8")
    told = loaded.erase(serials=SERIAL)
    assert told["place"].tolist() == ["inbox/claims_3.csv"]
    assert found_in(again.read_text(encoding="utf-8")) == []
    assert len(loaded.erase(serials=SERIAL)) == 0


def test_a_file_that_cannot_be_written_is_named(
    loaded: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = Path.write_bytes

    def refused(path: Path, contents: bytes) -> int:
        if "units.csv" in path.name:
            raise PermissionError(13, "Permission denied")
        return real(path, contents)

    with monkeypatch.context() as patch:
        patch.setattr(Path, "write_bytes", refused)
        told = loaded.erase(serials=SERIAL)
    left = told[told["what"] == "left"]
    assert left["place"].tolist() == ["inbox/units.csv"]
    assert "erase again" in left["note"].iloc[0]
    assert list(shown(loaded)) == ["inbox/units.csv"]
    loaded.erase(serials=SERIAL)
    assert shown(loaded) == {}
