"""The section on what arrived."""

from __future__ import annotations

import fixture_monthly
import pandas as pd

from claimlens.monthly_inputs import Arrivals, Finding
from claimlens.monthly_inputs.frames import ARRIVAL_COLUMNS
from claimlens.report.arrivals_section import arrival_sentences, arrivals_section
from claimlens.report.findings import changes
from claimlens.report.monthly import render_monthly

SMALL = Finding(
    amiss="small",
    source="desk",
    file="claims_2026_q1.csv",
    text="412 rows, where the settings say 600 to 1,200",
    short="412 rows, where the settings say 600 to 1,200",
    is_grave=True,
)
NOTE = Finding(
    amiss="word",
    source="desk",
    file="claims_2026_q1.csv",
    text="still unknown in status, and nothing translates it: '<b>later</b>'",
    short="1 still unknown word in status",
    is_grave=False,
)


def test_what_is_amiss_stands_above_everything() -> None:
    inputs = fixture_monthly.build(arrivals=fixture_monthly.arrivals(SMALL, NOTE))
    section = arrivals_section(inputs)
    assert section.banner.startswith("Before any number is believed: one thing is")
    assert section.lead[0] == (
        "desk, claims_2026_q1.csv: 412 rows, where the settings say 600 to 1,200."
    )
    assert arrival_sentences(inputs) == section.lead[:1]
    [table] = section.tables
    assert [row[0] for row in table.rows] == ["desk", "register"]
    assert table.rows[0][4:] == ("9,204", "8,900 (3 files before)", "every quarter")
    assert changes(inputs)[0].startswith("Amiss with what arrived, so that figures may")
    page = render_monthly(inputs, {})
    assert "412 rows, where" in page
    assert "<b>later" not in page
    assert page.index('id="arrivals"') < page.index('id="rising"')


def test_a_month_without_fault_says_so_without_a_banner() -> None:
    section = arrivals_section(fixture_monthly.build())
    assert section.banner == ""
    assert "Amiss" not in changes(fixture_monthly.build())[0]
    assert section.lead == (
        "Nothing is amiss: every file is as its source's files were before.",
    )


def test_without_a_file_there_is_no_table() -> None:
    nothing = Arrivals(
        findings=(), sources=pd.DataFrame(columns=ARRIVAL_COLUMNS["sources"])
    )
    section = arrivals_section(fixture_monthly.build(arrivals=nothing))
    assert section.tables == ()
    assert section.empty == "No file has been loaded."
