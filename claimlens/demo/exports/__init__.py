"""The demo's messy exports, and the account that a load of them must give."""

from __future__ import annotations

import gzip
import io
from datetime import date, timedelta
from pathlib import Path

import pandas as pd

from claimlens.demo.exports.claims_app import app_blocks, app_export
from claimlens.demo.exports.claims_book import book_block, book_export
from claimlens.demo.exports.claims_text import TextForm, claims_export
from claimlens.demo.exports.forms import BRITISH, FRENCH, GERMAN, US
from claimlens.demo.exports.model import Export, FileTruth, RowTruth
from claimlens.demo.exports.registers import register_block, register_export, registers
from claimlens.demo.exports.snapshot import as_of
from claimlens.demo.exports.workspace_file import settings_text
from claimlens.demo.world import World

__all__ = [
    "Export",
    "FileTruth",
    "RowTruth",
    "expected_flags",
    "make_exports",
    "write_exports",
    "write_settings",
]

SUPERSEDED = 3  # earlier states of claims in the same file
OVERLAP_DAYS = 183


def make_exports(world: World) -> list[Export]:
    """Return every messy export of a world, with its account.

    Parameters
    ----------
    world : World
        From ``make_world``.

    Returns
    -------
    list of Export
        In the order in which a year's work would bring them: the older German
        claims export before the newer one that overlaps it.
    """
    end = world.truth.data_end
    earlier = date(end.year - 2, 12, 31)
    exports = [register_export(form, world.table(form.kind)) for form in registers()]
    german = _of(world, GERMAN.regions)
    first = as_of(german, earlier)
    exports.append(_text(world, GERMAN, f"claims_de_{earlier.year}.csv.gz", first))
    recent = german["reported_on"] >= pd.Timestamp(
        earlier - timedelta(days=OVERLAP_DAYS)
    )
    changed = german["updated_at"] >= pd.Timestamp(earlier + timedelta(days=1))
    last = german[recent | changed]
    exports.append(_text(world, GERMAN, f"claims_de_{end.year}.csv", last))
    for form, name in (
        (FRENCH, f"dossiers_fr_{end.year}.txt"),
        (BRITISH, f"claims_gb_{end.year}.csv"),
        (US, f"claims_us_{end.year}.csv"),
    ):
        exports.append(_text(world, form, name, _of(world, form.regions)))
    swiss = _of(world, ("CH",))
    exports.append(book_export(f"claims_ch_{end.year}.xlsx", swiss, world.seed, end))
    app = _of(world, ("BE", "ES", "NL"))
    exports.append(app_export(f"service_app_{end.year}.jsonl", app, world.claim_parts))
    return exports


def expected_flags(world: World, exports: list[Export]) -> pd.DataFrame:
    """Return what a load of every export must flag.

    Parameters
    ----------
    world : World
        Whose own claims hold faults found before delivery, serials in
        nobody's register, and failures without a date.
    exports : list of Export
        From ``make_exports``; their dirty copies carry one flag each.

    Returns
    -------
    DataFrame
        claim_no, column_name, why; one row a flag.
    """
    claims = world.claims
    early = claims["failed_on"] < claims["in_service_date"]
    unknown = ~claims["serial"].isin(set(world.units["serial"]))
    groups = (
        (claims["failed_on"].isna(), "failed_on", "no failure date"),
        (early, "failed_on", "failed before in service"),
        (unknown, "serial", "serial in nobody's register"),
    )
    rows = [
        (number, column, why)
        for mask, column, why in groups
        for number in claims["claim_no"][mask]
    ]
    for export in exports:
        for truth in export.truths:
            rows += [
                (number, dirt.column or "", dirt.why)
                for number, dirt in zip(truth.added, truth.flagged, strict=True)
            ]
    return pd.DataFrame(rows, columns=["claim_no", "column_name", "why"])


def _of(world: World, regions: tuple[str, ...]) -> pd.DataFrame:
    claims = world.claims
    return claims[claims["region"].isin(regions)].reset_index(drop=True)


def _text(world: World, form: TextForm, name: str, claims: pd.DataFrame) -> Export:
    """Write a text export, a few claims twice: the earlier state stands above."""
    closed = claims[claims["status"] == "closed"]
    count = SUPERSEDED if len(closed) > SUPERSEDED + 1 else 0
    twice = [closed.iloc[[len(closed) * k // 5]] for k in range(1, 1 + count)]
    states = [as_of(row, row["reported_on"].iloc[0].date()) for row in twice]
    older = pd.concat(states, ignore_index=True) if states else claims.iloc[:0]
    return claims_export(form, name, claims, world.seed, older)


def write_exports(world: World, folder: Path) -> list[Path]:
    """Write the messy exports.

    Parameters
    ----------
    world : World
        From ``make_world``.
    folder : Path
        Made if missing; files of the same names are replaced.

    Returns
    -------
    list of Path
        The files, in the order of writing. The same world gives the same
        contents: neither clock nor folder enters them.
    """
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    for export in make_exports(world):
        path = folder / export.name
        packed = export.name.endswith(".gz")
        path.write_bytes(_pack(export.content) if packed else export.content)
        paths.append(path)
    return paths


def _pack(content: bytes) -> bytes:
    stream = io.BytesIO()
    with gzip.GzipFile(filename="", mode="wb", fileobj=stream, mtime=0) as packed:
        packed.write(content)
    return stream.getvalue()


def write_settings(world: World, folder: Path, *, sources: bool = True) -> Path:
    """Write the ``claimlens.toml`` of a workspace for this world.

    Parameters
    ----------
    world : World
        From ``make_world``.
    folder : Path
        The workspace; made if missing.
    sources : bool, default True
        With the blocks that read the messy exports; canonical files need
        none, only the coverage terms and the exchange rates.

    Returns
    -------
    Path
        The settings file.
    """
    folder.mkdir(parents=True, exist_ok=True)
    blocks = [register_block(form) for form in registers()]
    blocks += [form.block() for form in (GERMAN, FRENCH, BRITISH, US)]
    blocks += [book_block(), *app_blocks()]
    path = folder / "claimlens.toml"
    path.write_text(
        settings_text(world.truth, blocks if sources else []), encoding="utf-8"
    )
    return path
