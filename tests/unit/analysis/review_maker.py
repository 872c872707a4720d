"""A workspace whose claims were drawn for review and judged, all of it invented."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd
from fleet_maker import Fleet, Row, workspace_of, write_csv
from openpyxl import load_workbook

from claimlens.workspace import Workspace

MONTHS = 30
PER_MONTH = 24
TEXTS = {
    "motor": "the motor makes a grinding noise",
    "battery pack": "the battery does not charge any more",
    "display": "the display stays black",
}
PARTS = {"motor": "P-10", "battery pack": "P-20", "display": "P-30"}
# words that say nothing of a fault; a year of months uses all of them
FILLER = (
    *("yesterday", "morning", "evening", "weekend", "school", "office", "market"),
    *("station", "village", "bridge", "river", "garden", "kitchen", "window"),
    *("summer", "winter", "spring", "autumn", "monday", "friday", "holiday"),
    *("neighbour", "daughter", "brother", "teacher", "doctor", "baker", "postman"),
)
NEW_WORD = "zephyr"


def reviewed_fleet(*, odd_last_month: bool = False, seed: int = 20240607) -> Fleet:
    """Return claims of thirty months: by part, by text, and some that say nothing.

    Parameters
    ----------
    odd_last_month : bool
        Whether the texts of the last month say nothing, in a word never used before.
    seed : int
        Of the draw.
    """
    rng = np.random.default_rng(seed)
    units: list[Row] = []
    claims: list[Row] = []
    for number in range(MONTHS * PER_MONTH):
        month = number // PER_MONTH
        # the last day of a month, so that the last month lies before the cut-off
        reported = (pd.Period("2022-01") + month).end_time.date()
        serial = f"U{number:04d}"
        units.append(
            {
                "serial": serial,
                "model": ("Trike", "Scooter")[number % 2],
                "model_year": 2021,
                "in_service_date": reported - timedelta(days=200),
            }
        )
        component = ("motor", "battery pack", "display")[int(rng.integers(3))]
        kind = number % 12
        words = " ".join(rng.choice(FILLER, 3))
        text = TEXTS[component] if 6 <= kind < 11 else "please call me back"
        if odd_last_month and month == MONTHS - 1 and kind >= 6:
            text = f"please call me back {NEW_WORD}"
        claims.append(
            {
                "claim_no": f"C{number:04d}",
                "serial": serial,
                "reported_on": reported,
                "failed_on": reported - timedelta(days=5),
                "status": "approved",
                "narrative": f"{text} {words}",
                "part_no": PARTS[component] if kind < 6 else None,
            }
        )
    return Fleet(units=units, claims=claims)


def make_workspace(folder: Path, fleet: Fleet) -> Workspace:
    """Load a fleet and its list of parts."""
    workspace = workspace_of(fleet, folder, load=False)
    parts: list[Row] = [
        {"part_no": number, "description": name, "component": name}
        for name, number in PARTS.items()
    ]
    write_csv(folder / "inbox" / "parts.csv", parts)
    workspace.ingest()
    return workspace


def draw(workspace: Workspace, book: Path, *, queue: int, audit: int) -> pd.DataFrame:
    """Hand claims out for review; return them as they stood when drawn."""
    workspace.review_export(book, queue=queue, audit=audit)
    with duckdb.connect(str(workspace.warehouse), read_only=True) as connection:
        return connection.execute("from review_samples order by place").df()


def judge(drawn: pd.DataFrame) -> pd.DataFrame:
    """Return what a reviewer says: every ninth claim was read wrongly.

    A claim that was left open is a motor.
    """
    other = {"motor": "display", "display": "battery pack", "battery pack": "motor"}
    place = np.arange(len(drawn))
    read = drawn["component"].replace("unclassified", "motor").astype(object)
    wrong = (place % 9 == 0) & (drawn["component"] != "unclassified")
    true = read.where(~wrong, read.map(other))
    return pd.DataFrame(
        {
            "claim_no": drawn["claim_no"],
            "component": true,
            "failure_mode": "no power",
            "dangerous": np.where(place % 10 == 0, "yes", "no"),
            "reviewer": "Ana",
            "reviewed_on": "2024-07-02",
        }
    )


def fill(book: Path, labels: pd.DataFrame) -> None:
    """Write what a reviewer says into the workbook, as a person would."""
    workbook = load_workbook(book)
    page = workbook["review"]
    [first] = [row[0].row for row in page.iter_rows() if row[0].value == "claim_no"]
    header = {cell.value: cell.column for cell in page[first]}
    said = labels.set_index("claim_no")
    for row in range(first + 1, page.max_row + 1):
        claim_no = page.cell(row, header["claim_no"]).value
        if claim_no not in said.index:
            continue
        for name in said.columns:
            page.cell(row, header[name]).value = said.loc[claim_no, name]
    workbook.save(book)
