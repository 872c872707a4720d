"""Faults that a second reading of the code found, each kept from coming back."""

from __future__ import annotations

import csv
import os
import re
import subprocess
import sys
from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

import claimlens
from claimlens.analysis.evidence import terms_of
from claimlens.analysis.question import ask
from claimlens.analysis.scope import prepare
from claimlens.charts import embed, monthly
from claimlens.cli import app
from claimlens.db import read_warehouse
from claimlens.errors import InputError, SettingsError, SourceError
from claimlens.start import create
from claimlens.workspace import Workspace

CLAIM_HEAD = (
    "claim_no reported_on serial failed_on narrative part_no status cost_total currency"
)


def write(path: Path, head: str, rows: Sequence[Sequence[object]]) -> Path:
    with path.open("w", newline="", encoding="utf-8") as handle:
        csv.writer(handle).writerows([head.split(), *rows])
    return path


def claim(
    number: int,
    text: str = "battery dead",
    *,
    serial: str | None = None,
    failed_on: str = "2023-03-20",
    reported_on: str = "2023-12-30",
    part_no: str = "",
    status: str = "approved",
    cost: str = "10.50",
    currency: str = "EUR",
) -> list[object]:
    """Return a row under ``CLAIM_HEAD``, by default on unit ``number``."""
    return [
        f"C{number}",
        reported_on,
        serial or f"SN{number:04d}",
        failed_on,
        text,
        part_no,
        status,
        cost,
        currency,
    ]


@pytest.fixture
def fleet(tmp_path: Path) -> Workspace:
    """Return a workspace with 100 units put into service in 2022."""
    workspace = create(tmp_path / "ws")
    built = [date(2022, 1, 5) + timedelta(days=3 * i) for i in range(100)]
    write(
        workspace.inbox / "units.csv",
        "serial model model_year build_date ship_date in_service_date region",
        [
            (f"SN{i:04d}", "Trike", 2022, day, day, day + timedelta(days=30), "NL")
            for i, day in enumerate(built)
        ],
    )
    return workspace


@pytest.fixture
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave out the drawings, which take a page its time, where words are read."""
    monkeypatch.setattr(monthly, "build", lambda inputs: {})
    monkeypatch.setattr(embed, "library_bundle", lambda: "")


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


def reopened(workspace: Workspace) -> Workspace:
    return claimlens.open(workspace.folder)


@pytest.mark.parametrize("by", [("component", "supplier"), ("supplier",)])
def test_no_supplier_has_failures_of_units_outside_its_register(
    fleet: Workspace, by: tuple[str, ...]
) -> None:
    """Ten units carry the supplier's battery; twenty others had one replaced."""
    write(
        fleet.inbox / "fitted.csv",
        "serial component supplier fitted_on",
        [(f"SN{i:04d}", "battery pack", "S1", "2022-01-05") for i in range(10)],
    )
    write(
        fleet.inbox / "parts.csv",
        "part_no description component supplier",
        [("B1", "battery pack", "battery pack", "S1"), ("M1", "motor", "motor", "S1")],
    )
    rows = [claim(i, part_no="B1") for i in range(20, 40)]
    rows.append(claim(50, "motor dead", part_no="M1"))
    write(fleet.inbox / "claims.csv", CLAIM_HEAD, rows)
    fleet.ingest()

    table = fleet.rates(by=by, at=12)

    known = table[table["units"] > 0]
    assert list(known["supplier"]) == ["S1"]
    assert known["claims"].tolist() == [0]
    assert table["claims"].sum() == 21
    assert table["plain_rate"].dropna().le(1).all()
    only_claims = table[table["units"] == 0]
    assert only_claims["rate"].isna().all()
    assert only_claims["note"].str.contains("claims only").all()


def test_component_filter_holds_for_the_list_of_claims(fleet: Workspace) -> None:
    rows = [claim(1, "battery dead"), claim(2, "motor makes a grinding noise")]
    write(fleet.inbox / "claims.csv", CLAIM_HEAD, rows)
    fleet.ingest()

    assert fleet.classify(component="motor")["claim_no"].tolist() == ["C2"]
    assert fleet.classify(component="Motor")["claim_no"].tolist() == ["C2"]
    assert fleet.classify(supplier="nobody").empty


def test_component_filter_holds_for_claims_before_delivery(fleet: Workspace) -> None:
    rows = [claim(1, failed_on="2022-01-20"), claim(2)]
    write(fleet.inbox / "claims.csv", CLAIM_HEAD, rows)
    fleet.ingest()

    assert fleet.predelivery()["claims"].tolist() == [1]
    assert fleet.predelivery(component="motor")["claims"].tolist() == [0]
    with pytest.raises(InputError, match="supplier"):
        fleet.predelivery(supplier="S1")


def test_unknown_component_is_refused_and_not_shown_as_never_failing(
    fleet: Workspace,
) -> None:
    write(fleet.inbox / "claims.csv", CLAIM_HEAD, [claim(1)])
    fleet.ingest()

    with pytest.raises(InputError, match="flux capacitor") as caught:
        fleet.rates(component="flux capacitor")
    assert "battery pack" in str(caught.value)
    assert fleet.rates(component="Batery pack")["claims"].max() == 1


def test_cover_for_an_unknown_component_is_refused(fleet: Workspace) -> None:
    """Otherwise the term would silently do nothing."""
    write(fleet.inbox / "claims.csv", CLAIM_HEAD, [claim(1)])
    fleet.ingest()
    settings = fleet.folder / "claimlens.toml"
    term = '\n[[coverage.terms]]\ncomponent = "batterie pakc"\nmonths = 1\n'
    settings.write_text(settings.read_text("utf-8") + term, "utf-8")

    with pytest.raises(SettingsError, match="batterie pakc"):
        reopened(fleet).rates()


def test_amount_beyond_all_digits_is_flagged_and_stops_nothing(
    fleet: Workspace,
) -> None:
    rows = [claim(1, cost="9" * 30), claim(2, cost="123456789012345678.55")]
    write(fleet.inbox / "claims.csv", CLAIM_HEAD, [*rows, claim(3)])
    account = fleet.ingest()

    assert account.set_index("kind").loc["claims", "inserted"] == 3
    flags = fleet.flags()
    assert flags["claim_no"].tolist() == ["C1", "C2"]
    assert set(flags["reason"]) == {"cost_total is not an amount"}


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("EUR", "KLINGON", "No currency"),
        ("part_no", "serial", "stands in columns"),
    ],
)
def test_broken_file_of_ours_in_the_inbox_stops_the_load(
    fleet: Workspace, old: str, new: str, message: str
) -> None:
    """Skipped with a warning, its claims would be missing from every figure."""
    claims = write(fleet.inbox / "claims.csv", CLAIM_HEAD, [claim(1), claim(2)])
    claims.write_text(claims.read_text("utf-8").replace(old, new), "utf-8")

    with pytest.raises(SourceError, match=message):
        fleet.ingest()


def test_run_tells_what_it_skipped_even_where_the_report_fails(
    fleet: Workspace,
) -> None:
    (fleet.inbox / "notes.txt").write_text("call Ana\nabout the tyres\n", "utf-8")
    result = run("run", "--workspace", fleet.folder)

    assert result.exit_code == 2
    assert "skipped notes.txt" in result.stderr
    assert "There is no claim" in result.stderr
    assert "units.csv" in result.stdout


def test_list_of_rejects_never_replaces_a_file_unasked(fleet: Workspace) -> None:
    """``ingest --rejects claims.csv`` took a slip of the pen for an order."""
    export = write(fleet.folder / "claims.csv", CLAIM_HEAD, [claim(1)])
    before = export.read_bytes()
    asked = ("ingest", "--workspace", fleet.folder, "--rejects", export)

    refused = run(*asked)
    assert refused.exit_code == 2
    assert "there already" in refused.stderr
    assert export.read_bytes() == before
    assert not fleet.warehouse.exists()
    assert run(*asked, "--replace").exit_code == 0


def test_parquet_into_a_missing_folder_is_a_message(fleet: Workspace) -> None:
    write(fleet.inbox / "claims.csv", CLAIM_HEAD, [claim(1)])
    fleet.ingest()
    target = fleet.folder / "nowhere" / "rates.parquet"
    result = run(
        "rates", "--workspace", fleet.folder, "--format", "parquet", "--output", target
    )

    assert result.exit_code == 2
    assert result.stderr.startswith("claimlens: The file cannot be written: No such")


@pytest.mark.usefixtures("undrawn")
def test_an_out_tray_that_is_no_folder_is_one_message_and_exit_code_1(
    fleet: Workspace,
) -> None:
    write(fleet.inbox / "claims.csv", CLAIM_HEAD, [claim(1)])
    fleet.ingest()
    fleet.out.rmdir()
    fleet.out.write_text("no folder", "utf-8")
    result = run("report", "monthly", "--workspace", fleet.folder)

    assert result.exit_code == 1
    assert result.stderr.startswith("claimlens: ")
    assert "Traceback" not in result.stderr


@pytest.mark.usefixtures("undrawn")
def test_a_component_with_one_failure_has_a_page(fleet: Workspace) -> None:
    """No window was looked for, and its row had no numbers that a page could take."""
    write(fleet.inbox / "claims.csv", CLAIM_HEAD, [claim(1)])
    fleet.ingest()
    page = fleet.report_component("battery pack").read_text(encoding="utf-8")
    assert "1 failure, 5 needed" in page
    (row,) = fleet.windows(component="battery pack").to_dict("records")
    assert (row["units"], row["claims"], row["not_yet_failed"]) == (100, 1, 99)


def test_report_as_known_never_learns_what_was_loaded_later(
    fleet: Workspace,
) -> None:
    """Flags and rejects of later batches stood in reports of earlier knowledge."""
    fleet.ingest(known_on="2022-01-01")
    first = write(
        fleet.folder / "first.csv",
        CLAIM_HEAD,
        [claim(1), claim(2), claim(3, reported_on="no date")],
    )
    fleet.ingest(first, known_on="2024-01-05")
    asked = {"as_of": "2023-12-31", "as_known": "2024-01-31"}
    before = fleet.report_monthly(**asked).read_bytes()

    later = write(
        fleet.folder / "later.csv",
        CLAIM_HEAD,
        [
            claim(1, serial="XX", cost="-10.50", status="cancelled"),
            claim(8, reported_on="no date"),
            claim(9, serial="YY", reported_on="2023-12-01"),
        ],
    )
    fleet.ingest(later, known_on="2024-03-01")

    assert fleet.report_monthly(**asked).read_bytes() == before
    everything = fleet.report_monthly(as_of="2023-12-31")
    assert everything.name == "monthly-2023-12-31.html"
    assert everything.read_bytes() != before


@pytest.mark.usefixtures("undrawn")
def test_cost_as_defined_leaves_out_what_the_sums_leave_out(fleet: Workspace) -> None:
    rows = [claim(1, status="denied", cost="8765.00"), claim(2, cost="12.00")]
    write(fleet.inbox / "claims.csv", CLAIM_HEAD, rows)
    page = fleet.run().report.read_text("utf-8")

    assert "all claims but those cancelled or denied" in page
    text = re.sub(r"<(script|svg|style).*?</\1>", "", page, flags=re.DOTALL)
    assert "8,7" not in text
    assert "12\xa0EUR" in text


@pytest.mark.parametrize(
    ("told", "message"),
    [
        ('date_formats = {raported_on = "dd.mm.yyyy"}', "'raported_on'"),
        ('[source.values.staus]\n"neu" = "open"', "'staus'"),
        ('[source.values.status]\n"neu" = "oepn"', "'oepn'"),
        ('delimiter = "ab"', "delimiter"),
    ],
)
def test_source_setting_that_could_do_nothing_is_refused(
    fleet: Workspace, told: str, message: str
) -> None:
    settings = fleet.folder / "claimlens.toml"
    source = '\n[[source]]\nname = "a"\nfiles = "claims.csv"\nkind = "claims"\n'
    settings.write_text(settings.read_text("utf-8") + source + told + "\n", "utf-8")

    with pytest.raises(SettingsError, match=message):
        reopened(fleet)


def classes_of(workspace: Workspace) -> dict[str, int]:
    """Return the classes that the report's foot adds up."""
    with read_warehouse(workspace.warehouse) as session:
        terms = terms_of(workspace.settings, workspace.folder)
        prepare(session, workspace.settings, terms, ask(as_of="2024-01-31"))
        frame = session.frame("marts/claim_classes")
    return dict(zip(frame["claim_class"], frame["n_claims"], strict=True))


def test_claim_of_a_unit_without_any_date_is_not_called_counted(
    fleet: Workspace,
) -> None:
    """It is in no rate, so it stands in a row of its own."""
    write(
        fleet.inbox / "units.csv",
        "serial model model_year ship_date in_service_date",
        [
            ("SN0001", "Trike", 2022, "", ""),
            ("SN0002", "Trike", 2022, "2022-03-01", "2022-04-01"),
            ("SN0003", "Trike", 2022, "2022-03-01", ""),
        ],
    )
    rows = [claim(1), claim(2), claim(3, failed_on="2022-03-02")]
    write(fleet.inbox / "claims.csv", CLAIM_HEAD, rows)
    fleet.ingest()

    assert classes_of(fleet) == {"counted": 1, "no in-service date": 2}
    assert fleet.rates(at=12, as_of="2024-01-31")["claims"].sum() == 1


def test_no_claim_counts_where_nothing_is_covered(fleet: Workspace) -> None:
    settings = fleet.folder / "claimlens.toml"
    text = settings.read_text("utf-8").replace("months = 24 ", "months = 0 ")
    settings.write_text(text, "utf-8")
    first_day = claim(0, failed_on="2022-02-04", reported_on="2022-02-05")
    write(fleet.inbox / "claims.csv", CLAIM_HEAD, [first_day])
    nothing = reopened(fleet)
    nothing.ingest()

    assert classes_of(nothing) == {"outside coverage": 1}
    assert nothing.rates(at=1)["units"].tolist() == [0]


def test_filter_that_no_unit_fits_is_refused_with_what_there_is(
    fleet: Workspace,
) -> None:
    write(fleet.inbox / "claims.csv", CLAIM_HEAD, [claim(1)])
    fleet.ingest()

    for wrong in ({"model": "Trik"}, {"model_year": 1999}, {"region": "XX"}):
        with pytest.raises(InputError, match="No unit has the") as caught:
            fleet.rates(**wrong)
        assert caught.value.remedy


def test_model_without_any_claim_has_no_component_and_no_fault(
    fleet: Workspace,
) -> None:
    write(
        fleet.inbox / "others.csv",
        "serial model model_year in_service_date",
        [("X1", "Scooter", 2022, "2022-03-01")],
    )
    write(fleet.inbox / "claims.csv", CLAIM_HEAD, [claim(1)])
    fleet.ingest()

    assert fleet.rates(model="Scooter").empty
    assert fleet.life(model="Scooter").empty
    assert fleet.rates(by="model", model="Scooter", at=1)["units"].tolist() == [1]


def test_output_is_utf8_whatever_the_locale(fleet: Workspace) -> None:
    """A pipe under ``LC_ALL=C`` could not hold a model called after a picture."""
    write(
        fleet.inbox / "units.csv",
        "serial model model_year in_service_date",
        [("SN0001", "Trike 🛵", 2022, "2022-03-01")],
    )
    write(fleet.inbox / "claims.csv", CLAIM_HEAD, [claim(1)])
    fleet.ingest()
    plain = {"LC_ALL": "C", "PYTHONCOERCECLOCALE": "0", "PYTHONUTF8": "0"}
    done = subprocess.run(
        [sys.executable, "-m", "claimlens", "rates", "--by", "model", "--at", "12"],
        cwd=fleet.folder,
        env=os.environ | plain | {"PYTHONIOENCODING": "ascii"},
        capture_output=True,
        check=True,
    )

    assert "Trike 🛵" in done.stdout.decode("utf-8")


@pytest.mark.usefixtures("undrawn")
def test_units_built_after_the_cut_off_are_not_counted_as_undated(
    fleet: Workspace,
) -> None:
    rows = [claim(1, reported_on="2023-06-01"), claim(2)]
    write(fleet.inbox / "claims.csv", CLAIM_HEAD, rows)
    write(
        fleet.inbox / "later.csv",
        "serial model model_year ship_date in_service_date",
        [("X1", "Trike", 2024, "2023-08-05", ""), ("X2", "Trike", 2022, "", "")],
    )
    fleet.ingest()
    page = fleet.report_monthly(as_of="2023-06-30").read_text("utf-8")

    # the hundred of the fleet and the one built by then without a date
    told = "units whose in-service date is known</th><td>100</td><td>101</td>"
    assert told in page
    assert "claims without an in-service date</th><td>0</td><td>1</td>" in page
