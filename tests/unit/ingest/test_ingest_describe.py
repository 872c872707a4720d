"""A described file loads with the proposed block, in six languages."""

from __future__ import annotations

import tomllib
from dataclasses import fields
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from claimlens.ingest import dates, numbers
from claimlens.ingest.describe import Description, describe
from claimlens.ingest.header_words import match_header
from claimlens.ingest.records import SourceBlock, open_records
from claimlens.tables import TABLES

LANGUAGES = {
    "en": (
        "Case Number,Date Opened,Serial #,Product,MY,Purchase Date,Breakdown Date,"
        "Case Status,Issue Description,Claim Amount",
        ("open", "approved", "denied", "closed", "withdrawn"),
    ),
    "de": (
        "Reklamationsnr.;Eingangsdatum;Fahrgestell-Nr.;Typ;Mod.-Jahr;Verkauft am;"
        "Schadentag;Bearbeitungsstatus;Kundenaussage;Betrag in EUR",
        ("in Prüfung", "bewilligt", "abgelehnt", "erledigt", "storniert"),
    ),
    "fr": (
        "Réf. dossier;Date d'ouverture;N° châssis;Modèle;Millésime;Date d'achat;"
        "Date de la panne;État du dossier;Plainte client;Montant total (EUR)",
        ("en cours", "accepté", "refusé", "clôturé", "annulé"),
    ),
    "nl": (
        "Dossiernr;Meldingsdatum;Framenr.;Type;Bouwjaar;Aankoopdatum;Datum storing;"
        "Status;Klachtomschrijving;Totaalbedrag (EUR)",
        ("in behandeling", "goedgekeurd", "afgewezen", "afgehandeld", "ingetrokken"),
    ),
    "es": (
        "Nº de solicitud;Fecha de recepción;Nº de bastidor;Modelo;Año;"
        "Fecha de entrega;Fecha de la avería;Situación;Descripción de la avería;"
        "Importe total (EUR)",
        ("pendiente", "aprobada", "rechazada", "cerrada", "anulada"),
    ),
    "it": (
        "N. richiesta;Data segnalazione;Numero telaio;Modello;Anno modello;"
        "Data di consegna;Data del guasto;Stato;Difetto lamentato;Importo totale (EUR)",
        ("in lavorazione", "approvata", "respinta", "chiusa", "annullata"),
    ),
}
STATUSES = ("open", "approved", "denied", "closed", "cancelled")
FIELDS = (
    *("claim_no", "reported_on", "serial", "model", "model_year"),
    *("in_service_date", "failed_on", "status", "narrative"),
)


def _truth(n: int) -> list[tuple[str, date, str, date, date, int, int]]:
    """Return claim, reported, serial, in service, failed, cents, status."""
    rng = np.random.default_rng(20240607)
    rows = []
    for number in range(n):
        sold = date(2023, 1, 1) + timedelta(days=int(rng.integers(0, 500)))
        failed = sold + timedelta(days=int(rng.integers(1, 300)))
        told = failed + timedelta(days=int(rng.integers(0, 30)))
        serial = f"{rng.integers(0, 10**7):09d}"
        cents, status = int(rng.integers(100, 300_000)), int(rng.integers(0, 5))
        rows.append((f"K-{number:05d}", told, serial, sold, failed, cents, status))
    return rows


def _amount(cents: int, language: str) -> str:
    text = f"{cents / 100:,.2f}"
    if language == "en":
        return f"${text}"
    return text.replace(",", "_").replace(".", ",").replace("_", ".")


def _day(day: date, language: str) -> str:
    if language == "en":
        return f"{day.month}/{day.day}/{day.year}"
    return day.strftime("%d-%m-%Y" if language == "nl" else "%d.%m.%Y")


def _export(folder: Path, language: str) -> Path:
    header, words = LANGUAGES[language]
    mark = "," if language == "en" else ";"
    lines = ["Warranty overview", "", header]
    for claim, told, serial, sold, failed, cents, status in _truth(200):
        cells = [
            *(claim, _day(told, language), serial, "Lasto 3", "2023"),
            *(_day(sold, language), _day(failed, language), words[status]),
            *("it rattles when riding", _amount(cents, language)),
        ]
        lines.append(mark.join(f'"{c}"' if mark in c else c for c in cells))
    lines.append(mark.join(["Total", *[""] * 8, _amount(99, language)]))
    path = folder / f"export_{language}.csv"
    encoding = {"de": "cp1252", "fr": "utf-16", "es": "latin-1"}.get(language, "utf-8")
    path.write_bytes("\r\n".join(lines).encode(encoding))
    return path


def _block(described: Description) -> SourceBlock:
    """Return the first proposed block as the settings would build it."""
    table = tomllib.loads(described.source_block())["source"][0]
    known = {field.name for field in fields(SourceBlock)}
    return SourceBlock(**{name: v for name, v in table.items() if name in known})


@pytest.mark.parametrize("language", LANGUAGES)
def test_an_export_loads_with_the_proposed_block_unedited(
    tmp_path: Path, language: str
) -> None:
    described = describe(_export(tmp_path, language))
    block = _block(described)
    assert described.kind == block.kind == "claims"
    by_field = {field: header for header, field in block.columns.items()}
    assert set(FIELDS) <= set(by_field)
    amount = by_field.get("cost_total") or by_field["amount_requested"]
    assert block.currency == ("USD" if language == "en" else "EUR")
    records = open_records(described.path, source=block)
    columns: dict[str, list[str | None]] = {name: [] for name in records.headers}
    for chunk in records.chunks():
        for name, values in chunk.values.items():
            columns[name] += values
    assert (records.rejected, records.skipped_lines) == ([], 3)
    truth = _truth(200)
    assert columns[by_field["claim_no"]] == [row[0] for row in truth]
    assert columns[by_field["serial"]] == [row[2] for row in truth]
    for field, position in (
        ("reported_on", 1),
        ("in_service_date", 3),
        ("failed_on", 4),
    ):
        texts = [text or "" for text in columns[by_field[field]]]
        parsed = dates.parse(set(texts), block.date_format)
        assert [parsed[text] for text in texts] == [row[position] for row in truth]
    texts = [text or "" for text in columns[amount]]
    read = numbers.parse(set(texts), block.decimal)
    assert [int((read[text] or 0) * 100) for text in texts] == [row[5] for row in truth]
    words = {STATUSES[i]: STATUSES[i] for i in range(5)} | dict(
        block.values.get("status", {})
    )
    found = [words[text or ""] for text in columns[by_field["status"]]]
    assert found == [STATUSES[row[6]] for row in truth]


def test_an_ambiguous_order_is_asked_for_and_not_proposed(tmp_path: Path) -> None:
    path = tmp_path / "claims.csv"
    path.write_text("claim no,reported on,serial\nC1,03/04/2024,S1\nC2,05/06/2024,S2\n")
    described = describe(path)
    assert described.ambiguous_dates == ("reported on",)
    block = described.source_block()
    assert (
        '# date_format = "dd/mm/yyyy"  or "mm/dd/yyyy": the file does not decide'
        in block
    )
    assert "date_format" not in tomllib.loads(block)["source"][0]


def test_another_column_with_the_same_separator_decides_the_order(
    tmp_path: Path,
) -> None:
    path = tmp_path / "claims.csv"
    path.write_text(
        "claim no,reported on,failed on\nC1,03/04/2024,01/30/2024\nC2,05/06/2024,"
        "02/28/2024\n"
    )
    described = describe(path)
    assert described.ambiguous_dates == ()
    assert _block(described).date_format == "mm/dd/yyyy"
    assert "the order is taken from failed on" in described.source_block()


def test_another_separator_does_not_decide_the_order(tmp_path: Path) -> None:
    path = tmp_path / "claims.csv"
    path.write_text(
        "claim no,reported on,failed on\nC1,03/04/2024,30.01.2024\nC2,05/06/2024,"
        "28.02.2024\n"
    )
    described = describe(path)
    assert described.ambiguous_dates == ("reported on",)
    source = tomllib.loads(described.source_block())["source"][0]
    assert source["date_formats"] == {"failed_on": "dd.mm.yyyy"}


def test_an_open_decimal_sign_is_asked_for(tmp_path: Path) -> None:
    path = tmp_path / "claims.csv"
    path.write_text(
        "claim no;reported on;amount\nC1;2024-03-15;1.234\nC2;2024-03-16;2.500\n"
    )
    block = describe(path).source_block()
    assert '# decimal = ","  or ".": the file does not decide' in block


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("claim no;reported on;amount (CHF)\nC1;2024-03-15;12.50\n", "CHF"),
        (
            "All amounts in GBP\nclaim no;reported on;amount\nC1;2024-03-15;12.50\n",
            "GBP",
        ),
        ("claim no;reported on;amount\nC1;2024-03-15;€ 12.50\n", "EUR"),
        ("claim no;reported on;amount\nC1;2024-03-15;12.50\n", None),
    ],
)
def test_the_currency_is_found_where_the_file_names_it(
    tmp_path: Path, text: str, code: str | None
) -> None:
    path = tmp_path / "claims.csv"
    path.write_bytes(text.encode())
    assert _block(describe(path)).currency == code


@pytest.mark.parametrize("kind", TABLES)
def test_each_kind_is_recognised_by_its_canonical_fields(
    tmp_path: Path, kind: str
) -> None:
    table = TABLES[kind]
    samples = {
        "date": "2024-03-15",
        "timestamp": "2024-03-15 10:00",
        "integer": "2024",
        "number": "3",
        "money": "12.50",
        "key": "A-17",
        "text": "motor",
    }
    path = tmp_path / "export.csv"
    cells = [
        field.allowed[0]
        if field.allowed
        else "EUR"
        if field.name == "currency"
        else samples[field.type]
        for field in table.fields
    ]
    path.write_text(",".join(table.field_names) + "\n" + ",".join(cells) + "\n")
    described = describe(path)
    assert described.kind == kind
    columns = _block(described).columns
    assert all(columns[name] == name for name in table.required)


def test_a_list_inside_json_records_gets_its_own_block(tmp_path: Path) -> None:
    path = tmp_path / "feed.jsonl"
    path.write_text(
        "".join(
            f'{{"claimId":"C{n}","createdAt":"2024-03-{n:02d}T10:00:00Z",'
            f'"vehicle":{{"vin":"00{n}"}},'
            f'"items":[{{"partNumber":"P-{n}","qty":1,"unitPrice":12.5}}]}}\n'
            for n in range(1, 10)
        )
    )
    described = describe(path)
    first, second = tomllib.loads(described.source_block())["source"]
    assert (first["kind"], second["kind"]) == ("claims", "claim_parts")
    assert second["records"] == "items"
    assert second["columns"]["^claimId"] == "claim_no"
    assert first["name"] != second["name"]


def test_the_text_says_how_sure_and_why(tmp_path: Path) -> None:
    text = describe(_export(tmp_path, "de")).text()
    assert "cp1252" in text
    assert "semicolon" in text
    assert "Reklamationsnr." in text
    assert "claim_no" in text
    assert "% sure" in text


def test_a_strange_file_name_is_escaped_in_the_pattern(tmp_path: Path) -> None:
    path = tmp_path / 'claims "north" [1].csv'
    path.write_text("claim no,reported on\nC1,2024-03-15\n")
    source = tomllib.loads(describe(path).source_block())["source"][0]
    assert source["files"] == 'claims "north" [[]1].csv'


@pytest.mark.parametrize(
    ("header", "field"),
    [
        ("Antragsnr.", "claim_no"),
        ("Reklamationsnummer", "claim_no"),
        ("CLAIM_NO", "claim_no"),
        ("Numéro de dossier", "claim_no"),
        ("Nº expediente", "claim_no"),
        ("Fahrgestellnummer", "serial"),
        ("Rahmennr", "serial"),
        ("FIN", "serial"),
        ("VIN", "serial"),
        ("N° de série", "serial"),
        ("chassisnummer", "serial"),
        ("número de bastidor", "serial"),
        ("telaio", "serial"),
        ("date de panne", "failed_on"),
        ("Schadensdatum", "failed_on"),
        ("data guasto", "failed_on"),
        ("Datum van storing", "failed_on"),
        ("Meldedatum", "reported_on"),
        ("createdAt", "reported_on"),
        ("Betrag (EUR)", "cost_total"),
        ("Kosten Material CHF", "cost_parts"),
        ("Main d'oeuvre", "cost_labour"),
        ("Waehrung", "currency"),
        ("Währung", "currency"),
        ("unit.serialNumber", "serial"),
    ],
)
def test_header_words_are_known_in_any_spelling(header: str, field: str) -> None:
    assert match_header(header)[0].field == field
