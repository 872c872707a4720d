"""The dossier of a component with a name and texts that nobody expects."""

from __future__ import annotations

import csv
import re
import shutil
from datetime import date, timedelta
from pathlib import Path

import pytest
from typer.testing import CliRunner

import claimlens
from claimlens import resources
from claimlens.cli import app
from claimlens.errors import ClaimlensError, ReportError

AS_OF = "2024-06-30"
NAME = '<b onclick="x">../lamp & co</b>'
SECRETS = (
    "Marieke Vandenbosch",
    "marieke.v@example.org",
    "+31 6 1234 5678",
    "NL91 ABNA 0417 1643 00",
)
RIGHT_TO_LEFT = "הפנס לא נדלק אחרי הגשם"


def invoke(*arguments: str | Path) -> tuple[int, str]:
    result = CliRunner().invoke(app, [str(each) for each in arguments])
    return result.exit_code, result.output


def write(path: Path, header: str, rows: list[tuple[object, ...]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(header.split())
        writer.writerows(rows)


def texts() -> list[str]:
    """Return texts by claim: the newest are shown."""
    person, mail, phone, account = SECRETS
    return ["The lamp went dark." for _ in range(8)] + [
        f"Lamp dead. Regards, {person}, {mail}",
        f"Call me at {phone}, or pay to {account}. The lamp flickers.",
        RIGHT_TO_LEFT,
        "Dark again. " * 90_000 + f"Signed {person}",
        "Ask at Fietsenhuis Oudwater, they sold it. Kind regards, Wilson",
    ]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a workspace whose own taxonomy names a component like an attack."""
    folder = tmp_path_factory.mktemp("hostile") / "ws"
    assert invoke("init", folder)[0] == 0
    shipped = resources.find("classify/data/components.csv").read_text("utf-8")
    quoted = NAME.replace('"', '""')
    (folder / "components.csv").write_text(
        f'{shipped.rstrip()}\n"{quoted}",electrical,no power,no,no,no\n',
        encoding="utf-8",
    )
    settings = folder / "claimlens.toml"
    text = settings.read_text(encoding="utf-8")
    changed = text.replace(
        "[classify]\n", '[classify]\ncomponents = "components.csv"\n'
    )
    changed = changed.replace("[redaction]\n", "[redaction]\nserial_characters = 3\n")
    assert changed != text
    settings.write_text(changed, encoding="utf-8")
    first = date(2023, 1, 2)
    write(
        folder / "inbox" / "units.csv",
        "serial model model_year build_date in_service_date dealer",
        [
            (
                f"LMP-{number:05}",
                "Heron",
                2023,
                first + timedelta(days=number),
                first + timedelta(days=number + 20),
                "Fietsenhuis Oudwater",
            )
            for number in range(300)
        ],
    )
    write(
        folder / "inbox" / "claims.csv",
        "claim_no reported_on serial failed_on status narrative part_no cost_total "
        "currency",
        [
            (
                f"K{number:03}",
                first + timedelta(days=250 + 20 * number),
                f"LMP-{20 * number:05}",
                first + timedelta(days=240 + 20 * number),
                "closed",
                text,
                "4411-20",
                80 + number,
                "EUR",
            )
            for number, text in enumerate(texts())
        ],
    )
    write(
        folder / "inbox" / "parts.csv",
        "part_no description component supplier",
        [("4411-20", "lamp", NAME, "Mossgate Lighting")],
    )
    code, output = invoke("ingest", "--workspace", folder)
    assert code == 0, output
    return folder


@pytest.fixture(scope="module")
def written(folder: Path) -> Path:
    code, output = invoke(
        "report", "component", NAME, "--as-of", AS_OF, "--workspace", folder
    )
    assert code == 0, output
    return Path(output.splitlines()[0])


@pytest.fixture(scope="module")
def page(written: Path) -> str:
    return written.read_text(encoding="utf-8")


def test_the_file_stays_in_out_under_a_safe_name(folder: Path, written: Path) -> None:
    assert written.parent == folder / "out"
    assert re.fullmatch(
        r"component-b-onclick-x-lamp-co-b-[0-9a-f]{8}-\d{4}-\d\d-\d\d\.html",
        written.name,
    )
    assert written.with_suffix(".xlsx").exists()


def test_the_name_is_shown_and_never_becomes_an_element(page: str) -> None:
    assert "<b onclick" not in page
    assert "&lt;b onclick=" in page


def test_the_page_holds_nobodys_personal_data(page: str) -> None:
    for secret in SECRETS:
        assert secret not in page
        for word in secret.split():
            if len(word) > 4:
                assert word not in page
    assert "Fietsenhuis" not in page
    assert "Mossgate" not in page
    assert "[name]" in page
    assert re.search(r"by kind: .*person \d", page)


def test_serials_are_shortened_as_the_settings_say(page: str) -> None:
    assert "LMP-" not in page


def test_a_text_of_a_megabyte_is_cut_with_a_mark(page: str) -> None:
    quotes = re.findall(r'<blockquote dir="auto">(.*?)</blockquote>', page, re.DOTALL)
    [long] = [quote for quote in quotes if quote.startswith("Dark again.")]
    assert long.endswith("[…]")
    assert len(long) < 620


def test_a_text_from_right_to_left_keeps_its_direction(page: str) -> None:
    assert f'<blockquote dir="auto">{RIGHT_TO_LEFT}</blockquote>' in page


def test_a_name_that_the_definitions_hold_too_stops_nothing(page: str) -> None:
    """Somebody called Wilson signed: the interval of that name stays."""
    assert "Kind regards, [name]" in page
    assert "Wilson on the effective sample size" in page


def test_inside_the_company_texts_stay_as_they_are(folder: Path) -> None:
    code, output = invoke(
        *("report", "component", NAME, "--as-of", AS_OF),
        *("--internal", "--workspace", folder),
    )
    assert code == 0, output
    inside = Path(output.splitlines()[0]).read_text(encoding="utf-8")
    assert SECRETS[0] in inside
    assert "Kind regards, Wilson" in inside
    assert "not to leave the company" in inside


def test_without_its_template_nothing_is_written(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lacking = tmp_path / "package"
    shutil.copytree(resources.find("reports"), lacking / "reports")
    (lacking / "reports" / "document.html.j2").unlink()
    found = resources.find

    def find(relative: str) -> Path:
        is_page = relative.startswith("reports")
        return lacking / relative if is_page else found(relative)

    monkeypatch.setattr("claimlens.report.render.find", find)
    target = tmp_path / "page.html"
    with pytest.raises(ReportError, match=r"document\.html\.j2") as caught:
        claimlens.open(folder).report_component(NAME, target)
    assert caught.value.remedy
    assert not target.exists()


def test_a_component_that_is_not_there_is_refused_before_anything_is_written(
    folder: Path, tmp_path: Path
) -> None:
    target = tmp_path / "page.html"
    with pytest.raises(ClaimlensError, match="There is no component"):
        claimlens.open(folder).report_component("<script>", target)
    assert not target.exists()
