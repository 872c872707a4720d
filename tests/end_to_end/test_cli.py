"""The command line as its users meet it: results, messages and exit codes."""

from __future__ import annotations

import hashlib
import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import duckdb
import pytest
import typer
from typer.testing import CliRunner, Result

import claimlens
from claimlens.cli import app
from claimlens.cli.app import app as whole_app


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


@pytest.fixture
def own(filled: Path, tmp_path: Path) -> Path:
    """Copy the workspace, for tests that spoil it."""
    return Path(shutil.copytree(filled, tmp_path / "ws"))


def message_of(result: Result) -> str:
    """Return the message and prove that it is one, and no traceback."""
    assert result.stderr.startswith("claimlens: ")
    assert "Traceback" not in result.stderr
    return result.stderr


def test_ingest_gives_the_account_with_its_documented_keys(filled: Path) -> None:
    result = run("--workspace", filled, "ingest", "--format", "json")
    rows = json.loads(result.stdout)
    assert list(rows[0]) == [
        "file",
        "kind",
        "rows_read",
        "inserted",
        "updated",
        "unchanged",
        "superseded",
        "rejected",
        "flagged",
        "skipped_lines",
        "batch",
        "erased",
    ]
    for row in rows:
        assert row["rows_read"] == sum(
            row[name]
            for name in ["inserted", "updated", "unchanged", "superseded", "rejected"]
        )
        assert row["inserted"] == row["updated"] == row["erased"] == 0


def test_rates_give_their_documented_keys(filled: Path) -> None:
    result = run(
        "rates",
        "--by",
        "component,model_year",
        "--at",
        "12",
        "--format",
        "json",
        "--workspace",
        filled,
    )
    rows = json.loads(result.stdout)
    assert list(rows[0]) == [
        "component",
        "model_year",
        "units",
        "units_old_enough",
        "claims",
        "repeats",
        "rate",
        "lower",
        "upper",
        "effective_n",
        "plain_rate",
        "plain_lower",
        "plain_upper",
        "at_months",
        "mature",
        "note",
        "as_of",
    ]
    for row in rows:
        if row["rate"] is not None:
            assert 0 <= row["lower"] <= row["rate"] <= row["upper"] <= 1
        else:
            assert row["note"]


def test_life_gives_its_documented_keys(filled: Path) -> None:
    rows = json.loads(run("life", "--format", "json", "--workspace", filled).stdout)
    assert list(rows[0]) == [
        "component",
        "units",
        "failures",
        "shape",
        "shape_lower",
        "shape_upper",
        "scale_months",
        "scale_lower",
        "scale_upper",
        "b1_months",
        "b1_lower",
        "b1_upper",
        "b10_months",
        "b10_lower",
        "b10_upper",
        "pattern",
        "fit_p_value",
        "note",
        "as_of",
    ]
    assert {row["pattern"] for row in rows} <= {
        "early-life",
        "random",
        "wear-out",
        "undecided",
        None,
    }
    assert all(row["note"] for row in rows if row["shape"] is None)


@pytest.fixture(scope="module")
def listed(filled: Path) -> list[dict[str, object]]:
    """List the claims of the workspace once."""
    done = run("classify", "--format", "json", "--workspace", filled)
    return list(json.loads(done.stdout))


def test_classify_lists_each_claim_once(
    filled: Path, listed: list[dict[str, object]]
) -> None:
    rows = listed
    with duckdb.connect(str(filled / "warehouse.duckdb"), read_only=True) as open_file:
        n = open_file.execute("select count(*) from claims_now").fetchall()[0][0]
    assert len(rows) == len({row["claim_no"] for row in rows}) == n
    assert list(rows[0]) == [
        "claim_no",
        "component",
        "failure_mode",
        "other_components",
        "safety",
        "source",
        "confidence",
        "evidence",
    ]


def test_explain_tells_what_decided(
    filled: Path, listed: list[dict[str, object]]
) -> None:
    claim = next(row for row in listed if row["component"] != "unclassified")
    number, component = str(claim["claim_no"]), str(claim["component"])
    result = run("classify", "--explain", number, "--workspace", filled)
    assert component in result.stdout


def test_python_gives_the_columns_of_the_command_line(filled: Path) -> None:
    frame = claimlens.open(filled).rates(by=["component"], at=12)
    rows = json.loads(
        run("rates", "--at", "12", "--format", "json", "--workspace", filled).stdout
    )
    assert list(frame.columns) == list(rows[0])
    assert frame["claims"].tolist() == [row["claims"] for row in rows]


@pytest.mark.parametrize("form", ["csv", "parquet", "json", "table"])
def test_a_result_goes_to_a_file_once(filled: Path, tmp_path: Path, form: str) -> None:
    target = tmp_path / f"rates.{form}"
    arguments = ["rates", "--workspace", filled, "--format", form, "--output", target]
    assert run(*arguments).exit_code == 0
    assert target.stat().st_size > 100
    again = run(*arguments)
    assert again.exit_code == 2
    assert "--replace" in message_of(again)
    assert run(*arguments, "--replace").exit_code == 0


def test_a_formula_in_a_claim_is_inert_on_the_way_out(
    own: Path, tmp_path: Path
) -> None:
    hostile = tmp_path / "claims.csv"
    hostile.write_text(
        "claim_no,reported_on,serial\n\"=cmd|' /C calc'!A0\",2026-01-05,X1\n",
        encoding="utf-8",
    )
    assert run("ingest", hostile, "--workspace", own).exit_code == 0
    out = run("classify", "--format", "csv", "--workspace", own).stdout
    assert "'=cmd|" in out
    assert "\n=cmd" not in out


BAD_FILES = {
    "empty": (b"", "empty"),
    "picture": (b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 8, "PNG"),
    "two equal names": (
        b"claim_no,claim_no,reported_on\n1,2,2024-01-05\n",
        "columns 1 and 2",
    ),
    "required field nowhere": (
        b"claim_no,serial,failed_on\n1,2,2024-01-05\n",
        "reported_on",
    ),
    "unknown currency": (
        b"claim_no,reported_on,cost_total,currency\n1,2024-01-15,5,DUBLOON\n",
        "DUBLOON",
    ),
    "ambiguous dates": (
        b"claim_no,reported_on\n1,03/04/2024\n2,05/06/2024\n",
        "date_format",
    ),
    "nobody's columns": (b"colour,size\nred,4\n", "describe"),
}


@pytest.mark.parametrize("name", BAD_FILES)
def test_a_bad_file_gets_one_message_and_changes_nothing(
    own: Path, tmp_path: Path, name: str
) -> None:
    content, word = BAD_FILES[name]
    path = tmp_path / "bad.csv"
    path.write_bytes(content)
    before = hashlib.sha256((own / "warehouse.duckdb").read_bytes()).hexdigest()
    result = run("ingest", path, "--workspace", own)
    assert result.exit_code in {1, 2}
    message = message_of(result)
    assert word in message
    assert "where:" in message
    assert "to do:" in message
    after = hashlib.sha256((own / "warehouse.duckdb").read_bytes()).hexdigest()
    assert after == before


def test_a_good_file_beside_a_bad_one_is_not_half_loaded(
    own: Path, tmp_path: Path
) -> None:
    good, bad = tmp_path / "a.csv", tmp_path / "b.csv"
    good.write_text("claim_no,reported_on\nNEW-1,2026-01-05\n", encoding="utf-8")
    bad.write_bytes(b"")
    assert run("ingest", good, bad, "--workspace", own).exit_code == 1
    assert "NEW-1" not in run("classify", "--format", "csv", "--workspace", own).stdout


def test_a_missing_file_is_named(filled: Path) -> None:
    result = run("ingest", "nowhere.csv", "--workspace", filled)
    assert result.exit_code == 1
    assert "nowhere.csv" in message_of(result)


def test_a_foreign_file_in_a_folder_is_skipped_with_a_warning(
    own: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "mixed"
    folder.mkdir()
    (folder / "notes.txt").write_text("call the dealer back\n", encoding="utf-8")
    (folder / "claims.csv").write_text(
        "claim_no,reported_on\nNEW-2,2026-01-05\n", encoding="utf-8"
    )
    result = run("ingest", folder, "--workspace", own)
    assert result.exit_code == 0
    assert "skipped notes.txt" in result.stderr


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (["rates", "--as-of", "2001-01-01"], "before the first claim"),
        (["rates", "--by", "colour"], "group by one or more of"),
        (["rates", "--by", "model,model"], "twice"),
        (["rates", "--at", "soon"], "--at 3,6,12"),
        (["rates", "--at", "-3"], "above 0"),
        (["life", "--min-failures", "2"], "at least 3"),
        (["rates", "--format", "parquet"], "--output"),
        (["classify", "--explain", "NO-SUCH"], "NO-SUCH"),
    ],
)
def test_a_wrong_question_gets_a_readable_answer(
    filled: Path, arguments: list[str], word: str
) -> None:
    result = run(*arguments, "--workspace", filled)
    assert result.exit_code == 2
    assert word in message_of(result)


def test_a_date_that_is_none_is_a_usage_error(filled: Path) -> None:
    result = run("rates", "--as-of", "2024-13-01", "--workspace", filled)
    assert result.exit_code == 2
    assert "YYYY-MM-DD" in result.stderr


def test_a_report_needs_a_rate_for_each_currency_and_month(own: Path) -> None:
    settings = own / "claimlens.toml"
    settings.write_text('[currency]\nreport = "EUR"\n', encoding="utf-8")
    result = run("report", "monthly", "--workspace", own)
    assert result.exit_code == 2
    assert re.search(r"no rate for [A-Z]{3} in \d{4}-\d{2}", message_of(result))


def test_debug_shows_where_an_error_arose(filled: Path) -> None:
    result = run("rates", "--by", "colour", "--workspace", filled, "--debug")
    assert result.exit_code == 2
    assert "Traceback" in result.stderr


def test_rejected_rows_can_be_read_back_in_full(own: Path, tmp_path: Path) -> None:
    claims = tmp_path / "claims.csv"
    claims.write_text(
        "claim_no,reported_on,serial\n"
        "R-1,2026-01-05,X\n,2026-01-05,Y\nR-3,31.02.2026,Z\nR-4\n",
        encoding="utf-8",
    )
    listed = tmp_path / "rejects.csv"
    result = run("ingest", claims, "--rejects", listed, "--workspace", own)
    assert result.exit_code == 0
    lines = listed.read_text(encoding="utf-8").splitlines()
    assert lines[0] == "file,row,column_name,value,reason"
    mine = [line for line in lines if line.startswith("claims.csv,")]
    assert [line.split(",")[1] for line in mine] == ["3", "4", "5"]
    assert "31.02.2026" in mine[1]


def test_every_command_and_option_has_help() -> None:
    def commands(group: object) -> list[object]:
        found = []
        for command in group.commands.values():  # type: ignore[attr-defined]
            found += commands(command) if hasattr(command, "commands") else [command]
        return found

    for command in commands(typer.main.get_command(whole_app)):
        assert command.help, command.name  # type: ignore[attr-defined]
        for parameter in command.params:  # type: ignore[attr-defined]
            assert getattr(parameter, "help", None), (command, parameter.name)


def test_the_readme_lists_the_commands_with_their_own_words() -> None:
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    root = typer.main.get_command(whole_app)
    listed = re.findall(r"^\| `([a-z ]+)` \| (.+) \|$", readme, flags=re.MULTILINE)
    actual = []
    for name, command in root.commands.items():  # type: ignore[attr-defined]
        inner = getattr(command, "commands", None)
        if inner:
            actual += [(f"{name} {key}", value.help) for key, value in inner.items()]
        # a group may answer a question of its own
        if not inner or command.invoke_without_command:
            actual.append((name, command.help))
    assert {
        (name, text.split("\n\n")[0].replace("\n", " ")) for name, text in actual
    } == set(listed)


def test_it_runs_as_a_module_and_prints_its_version() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "claimlens", "--version"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip() == f"claimlens {claimlens.__version__}"
