"""A night's job: what arrived comes first; lock, log, summary and kept reports."""

from __future__ import annotations

import email
import email.policy
import json
import os
import shutil
import stat
import subprocess
import sys
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pandas as pd
import pytest
from typer.testing import CliRunner, Result

import claimlens
from claimlens import answers, printing
from claimlens.classify.taxonomy import load_taxonomy
from claimlens.classify.terms import load_terms
from claimlens.cli import app
from claimlens.monthly_inputs import Arrivals
from claimlens.monthly_inputs.frames import ARRIVAL_COLUMNS
from claimlens.runs import run_lock
from claimlens.scheduled import Scheduled
from claimlens.start import create

SOURCE = """
[[source]]
name = "desk"
files = "desk_*.csv"
kind = "claims"
date_format = "yyyy-mm-dd"
{more}

[source.columns]
Nr = "claim_no"
Tag = "reported_on"
Stand = "status"
Betrag = "cost_total"
Waehrung = "currency"
Text = "narrative"

[source.values.status]
offen = "open"
erledigt = "closed"
"""
SECRET = "Frau Petersilie aus Unterhaching"


def run(folder: Path, *arguments: str) -> Result:
    return CliRunner().invoke(app, ["run", "--workspace", str(folder), *arguments])


def export(
    folder: Path,
    month: str,
    rows: int,
    *,
    status: str = "erledigt",
    currency: str = "EUR",
    left_out: str = "",
    name: str = "",
) -> None:
    """Write one month's file of the desk."""
    columns = ["Nr", "Tag", "Stand", "Betrag", "Waehrung", "Text"]
    lines = []
    for number in range(rows):
        day = number * 27 // max(rows - 1, 1) + 1
        cells = dict(
            zip(
                columns,
                (
                    *(f"{month}-{number}", f"{month}-{day:02d}", "offen", "12.50"),
                    *(currency, f"{SECRET} says: mudguard rattles"),
                ),
                strict=True,
            )
        )
        if number == 0:
            cells["Stand"] = status
        lines.append(cells)
    here = [column for column in columns if column != left_out]
    frame = pd.DataFrame(lines, columns=columns)[here]
    path = folder / "inbox" / (name or f"desk_{month}.csv")
    frame.to_csv(path, index=False)


@pytest.fixture(scope="module", autouse=True)
def quick() -> Iterator[None]:
    """Leave out what takes a run its time: counting, drawing, reading the terms."""
    terms = load_terms(load_taxonomy())

    def report(*given: object, **named: object) -> printing.MonthlyReport:
        as_of = given[2].as_of  # type: ignore[attr-defined]
        return printing.MonthlyReport(
            page=f"a page of {as_of}",
            workbook=f"a workbook of {as_of}".encode(),
            news=printing.MonthNews(
                title=f"Warranty claims, {as_of:%B %Y}: ws",
                as_of=as_of,
                decisions=("Mudguard: look at it.",),
                arrivals=Arrivals(
                    findings=(),
                    sources=pd.DataFrame(columns=ARRIVAL_COLUMNS["sources"]),
                ),
            ),
        )

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(printing, "monthly_report", report)
        patch.setattr(answers, "terms_of", lambda settings, folder: terms)
        yield


@pytest.fixture(scope="module")
def three_months(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a workspace that got January to March, 40 rows a month."""
    folder = tmp_path_factory.mktemp("run") / "ws"
    create(folder)
    settings = folder / "claimlens.toml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(text + SOURCE.format(more='every = "month"'), encoding="utf-8")
    for month in ("2026-01", "2026-02", "2026-03"):
        export(folder, month, 40)
    first = run(folder, "--fail-on-alarm")
    assert first.exit_code == 0, first.output
    assert "amiss" not in first.stderr
    return folder


@pytest.fixture
def folder(three_months: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(three_months, tmp_path / "ws"))


def log_of(folder: Path) -> list[dict[str, object]]:
    text = (folder / "log" / "run.jsonl").read_text(encoding="utf-8")
    return [json.loads(line) for line in text.splitlines()]


def test_a_month_that_came_whole_is_not_amiss(folder: Path) -> None:
    export(folder, "2026-04", 38)
    result = run(folder, "--fail-on-alarm", "--as-of", "2026-04-30")
    assert result.exit_code == 0, result.output
    assert "amiss" not in result.stderr
    summary = (folder / "out" / "summary.txt").read_text(encoding="utf-8")
    assert "Nothing is amiss." in summary


def test_a_file_that_is_missing_is_told_before_any_number(folder: Path) -> None:
    result = run(folder, "--fail-on-alarm", "--as-of", "2026-04-30")
    assert result.exit_code == 3
    line = "amiss: desk: nothing newer than 2026-03-28 has come; one file every month"
    assert line in result.stderr
    assert result.output.index(line) < result.output.index("rows_read")
    summary = (folder / "out" / "summary.txt").read_text(encoding="utf-8")
    assert "1 thing amiss with the files" in summary
    # it was told: the next run is not stopped by it again
    again = run(folder, "--fail-on-alarm", "--as-of", "2026-04-30")
    assert again.exit_code == 0
    assert line in again.stderr


def test_a_rhythm_nobody_stated_is_told_by_the_files(folder: Path) -> None:
    settings = folder / "claimlens.toml"
    text = settings.read_text(encoding="utf-8").replace('every = "month"\n\n', "\n")
    settings.write_text(text, encoding="utf-8")
    for month in ("2025-11", "2025-12"):
        export(folder, month, 40)
    assert "has come" not in run(folder, "--as-of", "2026-04-30").stderr
    late = run(folder, "--as-of", "2026-06-30")
    assert "about every 31 days (the settings state no rhythm)" in late.stderr


@pytest.mark.parametrize("contents", ["", "Nr,Tag,Stand,Betrag,Waehrung,Text\n"])
def test_an_empty_file_is_told_and_keeps_no_other_file_waiting(
    folder: Path, contents: str
) -> None:
    (folder / "inbox" / "desk_2026-04.csv").write_text(contents, encoding="utf-8")
    (folder / "inbox" / "claims.csv").write_text(
        "claim_no,reported_on\nX-1,2026-04-02\n", encoding="utf-8"
    )
    result = run(folder, "--fail-on-alarm", "--as-of", "2026-04-30")
    assert result.exit_code == 3, result.output
    assert "amiss: desk, desk_2026-04.csv: the file has no row" in result.stderr
    assert "claims.csv" in result.stdout
    export(folder, "2026-04", 40)
    mended = run(folder, "--fail-on-alarm", "--as-of", "2026-04-30")
    assert mended.exit_code == 0
    assert "amiss" not in mended.stderr


def test_half_a_file_is_much_smaller_than_usual(folder: Path) -> None:
    export(folder, "2026-04", 20)
    result = run(folder, "--fail-on-alarm")
    assert result.exit_code == 3
    assert (
        "amiss: desk, desk_2026-04.csv: 20 rows, much fewer than usual: the 3 files "
        "before had 40 in the middle (the settings state no size)"
    ) in result.stderr


def test_a_size_that_is_none_is_a_fault_of_the_settings(folder: Path) -> None:
    settings = folder / "claimlens.toml"
    text = settings.read_text(encoding="utf-8")
    for stated in (
        'every = "fortnight"',
        "every = 0",
        'rows = "many"',
        "rows = [9, 1]",
    ):
        settings.write_text(text + f"\n[[source]]\n{stated}\n", encoding="utf-8")
        result = run(folder)
        assert result.exit_code == 2
        assert "write" in result.stderr


def test_a_lost_column_is_told_by_its_header(folder: Path) -> None:
    export(folder, "2026-04", 40, left_out="Betrag")
    result = run(folder, "--fail-on-alarm")
    assert result.exit_code == 3
    assert (
        "amiss: desk, desk_2026-04.csv: no column 'Betrag', which the settings read "
        "as cost_total" in result.stderr
    )


def test_a_lost_column_of_a_file_without_source_is_told(folder: Path) -> None:
    for month, header in (("2026-03", "claim_no,reported_on,region"), ("2026-04", "")):
        cells = [f"R{month}-{n},{month}-{n + 1:02d}" for n in range(20)]
        head = header or "claim_no,reported_on"
        rows = [f"{cell},DE" if header else cell for cell in cells]
        path = folder / "inbox" / f"shop {month}.csv"
        path.write_text("\n".join([head, *rows, ""]), encoding="utf-8")
    result = run(folder, "--fail-on-alarm", "--as-of", "2026-04-30")
    assert "shop *.csv, shop 2026-04.csv: no region, which its earlier" in result.stderr


def test_a_lost_key_stops_the_run_after_everything_else_was_told(folder: Path) -> None:
    before = (folder / "out" / "summary.txt").read_bytes()
    export(folder, "2026-04", 40, left_out="Nr")
    export(folder, "2026-05", 9)
    result = run(folder, "--fail-on-alarm", "--as-of", "2026-05-31")
    assert result.exit_code == 2
    assert "amiss: inbox, desk_2026-04.csv: the file cannot be used" in result.stderr
    assert "amiss: desk, desk_2026-05.csv: 9 rows, much fewer" in result.stderr
    assert "report: " not in result.stdout
    told = (folder / "out" / "summary.txt").read_bytes()
    assert told != before
    assert b"the run FAILED" in told
    assert SECRET.encode() not in told
    end = log_of(folder)[-1]
    assert (end["event"], end["exit_code"]) == ("end", 2)
    # nothing of the load was kept
    assert len(claimlens.open(folder).classify()) == 120


def test_new_words_are_told_and_not_logged(folder: Path) -> None:
    export(folder, "2026-04", 40, status="zurückgestellt", currency="Taler")
    (folder / "inbox" / "desk_2026-04b.csv").write_text(
        "Nr,Tag,Stand,Betrag,Waehrung,Text\nA,2026-04-02,offen,1,EUR,x\n",
        encoding="utf-8",
    )
    # a file in which no currency is one is refused as a whole
    refused = run(folder, "--fail-on-alarm")
    assert refused.exit_code == 1
    assert "Taler" in refused.stderr
    export(folder, "2026-04", 40, status="zurückgestellt")
    path = folder / "inbox" / "desk_2026-04.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("EUR", "Taler", 1))
    result = run(folder, "--fail-on-alarm")
    assert result.exit_code == 3
    assert "new in currency, and nothing translates it: 'Taler' (1 row)" in (
        result.stderr
    )
    assert "new in status, and nothing translates it: 'zurückgestellt'" in (
        result.stderr
    )
    for name in ("log/run.jsonl", "out/summary.txt", "out/summary.eml"):
        text = (folder / name).read_text(encoding="utf-8")
        assert "zurückgestellt" not in text
        assert "Taler" not in text
    summary = (folder / "out" / "summary.txt").read_text(encoding="utf-8")
    assert "1 new word in status" in " ".join(summary.split())


def test_bytes_that_came_before_are_told(folder: Path) -> None:
    shutil.copy(
        folder / "inbox" / "desk_2026-03.csv", folder / "inbox" / "desk_2026-04.csv"
    )
    result = run(folder, "--as-of", "2026-03-31")
    assert "note: inbox, desk_2026-04.csv: the same bytes as desk_2026-03.csv" in (
        result.stderr
    )
    assert "no file is new since the last run" in result.stderr


def test_the_log_is_one_object_a_line_and_holds_nothing_that_people_wrote(
    folder: Path,
) -> None:
    export(folder, "2026-04", 20, name="desk_2026-04.csv")
    (folder / "inbox" / "danger.csv").write_text(
        "claim_no,reported_on,serial,narrative\n"
        f"D-1,2026-04-02,SN77,{SECRET}: smoke came out of the box\n",
        encoding="utf-8",
    )
    assert run(folder, "--fail-on-alarm").exit_code == 3
    lines = log_of(folder)
    events = [str(line["event"]) for line in lines]
    mine = events[len(events) - events[::-1].index("start") - 1 :]
    assert mine[0] == "start"
    assert mine[-1] == "end"
    assert {"arrival", "file", "alarm", "report"} <= set(mine)
    text = (folder / "log" / "run.jsonl").read_text(encoding="utf-8")
    for word in (SECRET, "smoke", "rattles", "SN77"):
        assert word not in text
    [alarm] = [line for line in lines if line["event"] == "alarm"]
    assert alarm["subject"] == "D-1"
    assert lines[-1] | {"at": "", "run": ""} == {
        "at": "",
        "run": "",
        "event": "end",
        "exit_code": 3,
        "reason": "a new alarm",
    }
    if os.name == "posix":
        mode = stat.S_IMODE((folder / "log" / "run.jsonl").stat().st_mode)
        assert mode == 0o600


def test_the_log_does_not_grow_without_end(folder: Path) -> None:
    path = folder / "log" / "run.jsonl"
    line = json.dumps({"event": "end", "text": "x" * 990}) + "\n"
    path.write_text(line * 1_100, encoding="utf-8")
    assert run(folder).exit_code == 0
    assert path.stat().st_size < 600_000
    assert all(entry["event"] for entry in log_of(folder))


def test_the_summary_is_a_message_and_the_same_each_time(folder: Path) -> None:
    settings = folder / "claimlens.toml"
    text = settings.read_text(encoding="utf-8")
    mail = '[mail]\nfrom = "claims@example.com"\nto = ["quality@example.com"]\n'
    settings.write_text(text.replace("[mail]\n", mail), encoding="utf-8")
    assert run(folder).exit_code == 0
    paths = sorted((folder / "out").glob("*.*"))
    assert {path.name for path in paths} == {
        ".reports.json",
        *("monthly-2026-02-28.html", "monthly-2026-02-28.xlsx"),
        *("summary.eml", "summary.txt"),
    }
    first = [path.read_bytes() for path in paths]
    assert run(folder).exit_code == 0
    assert [path.read_bytes() for path in paths] == first
    message = email.message_from_bytes(
        (folder / "out" / "summary.eml").read_bytes(), policy=email.policy.default
    )
    assert message["From"] == "claims@example.com"
    assert message["To"] == "quality@example.com"
    assert "Warranty claims" in message["Subject"]
    assert message["Message-ID"].endswith("@claimlens.invalid>")
    assert message["Date"] is not None
    body = message.get_content().replace("\r\n", "\n")
    assert body == (folder / "out" / "summary.txt").read_text(encoding="utf-8")
    assert "Mudguard: look at it." in body
    assert "out/monthly-" in body
    assert SECRET not in body
    assert max(len(line) for line in body.splitlines()) <= 76


def test_without_an_address_the_message_has_none_and_may_carry_the_page(
    folder: Path,
) -> None:
    settings = folder / "claimlens.toml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(
        text.replace("[mail]\n", "[mail]\nattach = true\n"), encoding="utf-8"
    )
    assert run(folder).exit_code == 0
    path = folder / "out" / "summary.eml"
    first = path.read_bytes()
    message = email.message_from_bytes(first, policy=email.policy.default)
    assert message["From"] is None
    assert message["To"] is None
    [page] = message.iter_attachments()
    assert page.get_filename().startswith("monthly-2026-")
    assert page.get_content().startswith("a page of")
    assert run(folder).exit_code == 0
    assert path.read_bytes() == first


def test_the_last_reports_are_kept_and_nothing_else_is_touched(folder: Path) -> None:
    settings = folder / "claimlens.toml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(
        text.replace("[report]\n", "[report]\nkeep = 2\n"), encoding="utf-8"
    )
    out = folder / "out"
    for path in out.iterdir():
        path.unlink()
    (out / "monthly-2020-01-31.html").write_text("a person's own")
    (out / "notes.html").write_text("a person's own")
    for day in ("2026-01-20", "2026-01-31", "2026-02-28"):
        run(folder, "--as-of", day)
    assert {path.name for path in out.glob("monthly-*")} == {
        "monthly-2020-01-31.html",
        *("monthly-2026-01-31.html", "monthly-2026-01-31.xlsx"),
        *("monthly-2026-02-28.html", "monthly-2026-02-28.xlsx"),
    }
    # one that a person changed is theirs from then on
    (out / "monthly-2026-01-31.html").write_text("with my remarks")
    last = run(folder, "--as-of", "2026-03-28")
    assert "removed: monthly-2026-01-31.xlsx" in last.stdout
    assert (out / "monthly-2026-01-31.html").exists()
    assert (out / "notes.html").exists()
    [removed] = [line for line in log_of(folder)[-3:] if line["event"] == "removed"]
    assert removed["files"] == ["monthly-2026-01-31.xlsx"]
    # an old month asked for is written, and stays until the next run
    run(folder, "--as-of", "2026-01-15")
    assert (out / "monthly-2026-01-15.html").exists()


_HOLD = """
import sys
from pathlib import Path
from claimlens.runs import run_lock
with run_lock(Path(sys.argv[1]), 0):
    print("held", flush=True)
    sys.stdin.readline()
"""


def test_a_second_run_is_told_who_holds_the_first(folder: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", _HOLD, str(folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as holder:
        assert holder.stdout is not None
        assert holder.stdin is not None
        assert holder.stdout.readline() == "held\n"
        before = (folder / "log" / "run.jsonl").read_bytes()
        refused = run(folder)
        assert refused.exit_code == 1
        assert f"process {holder.pid}, since 20" in refused.stderr
        assert "--wait" in refused.stderr
        # the log and the summary belong to the run that is at work
        assert (folder / "log" / "run.jsonl").read_bytes() == before
        holder.stdin.write("\n")
        holder.stdin.flush()
        assert run(folder, "--wait", "60").exit_code == 0
    with run_lock(folder, 0):
        pass


def killed_process() -> int:
    """Return the number of a process that runs no more."""
    process = subprocess.Popen([sys.executable, "-c", "pass"])
    process.wait()
    return process.pid


def test_a_run_that_was_killed_leaves_no_half_report(folder: Path) -> None:
    out = folder / "out"
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    script = (
        "import os, sys\n"
        "from claimlens import printing\n"
        "import claimlens\n"
        "printing.monthly_report = lambda *a, **k: os._exit(9)\n"
        "claimlens.open(sys.argv[1]).run()\n"
    )
    killed = subprocess.run(
        [sys.executable, "-c", script, str(folder)], capture_output=True, check=False
    )
    assert killed.returncode == 9, killed.stderr
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before
    gone, at_work = killed_process(), os.getpid()
    for name in (".monthly-2026-03-31.html", ".component motor.xlsx", "..reports.json"):
        (out / f"{name}.{gone}.draft").write_text("half a pa")
    (out / f".monthly-2026-03-31.html.{at_work}.draft").write_text("being written")
    (out / ".of a person.draft").write_text("mine")
    assert run(folder).exit_code == 0
    left = {path.name for path in out.iterdir() if path.suffix == ".draft"}
    assert left == {f".monthly-2026-03-31.html.{at_work}.draft", ".of a person.draft"}
    starts = [line for line in log_of(folder) if line["event"] == "start"]
    assert [line["earlier_run_was_cut_off"] for line in starts[-2:]] == [False, True]


def test_a_run_that_fails_says_why_and_leaves_no_old_summary(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*given: object, **named: object) -> None:
        raise RuntimeError(SECRET)

    monkeypatch.setattr(Scheduled, "_judged_if_any", fail)
    assert run(folder).exit_code == 1
    end = log_of(folder)[-1]
    assert (end["exit_code"], end["reason"]) == (1, "RuntimeError")
    for name in ("log/run.jsonl", "out/summary.txt", "out/summary.eml"):
        assert SECRET not in (folder / name).read_text(encoding="utf-8")
    summary = (folder / "out" / "summary.txt").read_text(encoding="utf-8")
    assert "the run FAILED" in " ".join(summary.split())


def test_python_gets_what_arrived(folder: Path) -> None:
    export(folder, "2026-04", 12)
    outcome = claimlens.open(folder).run(as_of=date(2026, 4, 30), fail_on_alarm=True)
    assert [finding.amiss for finding in outcome.arrivals.grave] == ["small"]
    row = outcome.arrivals.sources.iloc[0]
    assert (row["source"], row["rows"], row["usual_rows"]) == ("desk", 12, 40)
    assert row["state"] == "look"
    assert outcome.exit_code == 3
