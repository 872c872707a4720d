"""Every kind of file is recognised by header words of several languages."""

from __future__ import annotations

from pathlib import Path

import pytest

from claimlens.ingest.describe import describe

# kind, header, and a row in which {n} is a running number
FILES = [
    (
        "units",
        "Fahrgestellnr;Modell;Modelljahr;Produktionsdatum;Auslieferungsdatum;Händler",
        "FG{n:06d};Lasto 3;2023;15.03.2023;20.03.2023;H{d}",
    ),
    (
        "units",
        "N° de série;Modèle;Millésime;Date de fabrication;Date d'expédition;Usine",
        "FG{n:06d};Lasto 3;2023;15.03.2023;20.03.2023;Nord",
    ),
    (
        "units",
        "Nº bastidor;Modelo;Año modelo;Fecha fabricación;Fecha envío;Concesionario",
        "FG{n:06d};Lasto 3;2023;15.03.2023;20.03.2023;C{d}",
    ),
    (
        "units",
        "Matricola;Modello;Anno modello;Data produzione;Data vendita;Concessionario",
        "{n:08d};Lasto 3;2023;15.03.2023;20.03.2023;C{d}",
    ),
    (
        "shipments",
        "Modell;Modelljahr;Monat;Menge;Land",
        "Lasto {d};2023;2024-03;{n};DE",
    ),
    (
        "claim_parts",
        "Antragsnr.;Teilenr.;Menge;Einzelpreis;Währung",
        "A{n:04d};P-{d};1;12,50;EUR",
    ),
    (
        "parts",
        "Teilenummer;Bezeichnung;Baugruppe;Lieferant;Ersetzt durch;Preis;Währung",
        "P-{n:04d};Motor hinten links;Motor;Nordtec;;12,50;EUR",
    ),
    (
        "parts",
        "Référence;Désignation;Fournisseur;Remplacé par;Prix unitaire;Devise",
        "P-{n:04d};Moteur arrière gauche;Nordtec;;12,50;EUR",
    ),
    (
        "findings",
        "N° dossier;Date d'expertise;Référence pièce;Résultat;Organe;Commentaire",
        "D{n:04d};15.03.2024;P-{d};aucun défaut;moteur;rien à signaler ici",
    ),
    (
        "findings",
        "Nº expediente;Fecha inspección;Pieza;Dictamen;Observaciones",
        "D{n:04d};15.03.2024;P-{d};fallo confirmado;nada que decir aquí",
    ),
    (
        "changes",
        "Numero modifica;Componente;Descrizione;Modello;Valido dal",
        "M-{n};motore;nuovo cuscinetto;Lasto 3;15.03.2024",
    ),
    (
        "unit_changes",
        "Framenummer;Wijzigingsnr;Uitgevoerd op",
        "F{n:05d};W-1;15.03.2024",
    ),
    (
        "fitted_parts",
        "Fahrgestellnummer;Komponente;Teilenummer;Lieferant;Charge;Einbaudatum",
        "F{n:05d};Motor;P-{d};Nordtec;L{d};15.03.2024",
    ),
    (
        "responses",
        "Lieferant;Anfragenummer;Komponente;gefragt am;fällig am;Antwort",
        "Nordtec;Q-{n};Motor;15.03.2024;29.03.2024;wir prüfen das noch",
    ),
    (
        "labels",
        "Claim No;Component;Failure Mode;Reviewer;Reviewed On",
        "A{n:04d};motor;worn;KM;2024-03-15",
    ),
]


@pytest.mark.parametrize(("kind", "header", "row"), FILES)
def test_the_kind_and_all_required_fields_are_found(
    tmp_path: Path, kind: str, header: str, row: str
) -> None:
    path = tmp_path / "export.csv"
    rows = [row.format(n=n, d=n % 7) for n in range(1, 60)]
    path.write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    described = describe(path)
    assert described.kind == kind
    assert described.proposal.kind.missing == ()
    assert len(described.proposal.kind.assignments) == header.count(";") + 1
