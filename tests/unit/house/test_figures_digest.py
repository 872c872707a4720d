"""Equal figures have one digest; another figure has another, other words have not."""

from __future__ import annotations

import pandas as pd
import pytest

from claimlens.handover import ReportTables, Sheet, figures_digest


def tables(sheet_id: str = "rates", **changed: object) -> ReportTables:
    row = {"component": "motor", "claims": 12, "rate": 0.125, "said": "rising"}
    frame = pd.DataFrame([row | changed])
    kinds = {"component": "key", "claims": "count", "rate": "share", "said": "text"}
    sheet = Sheet(id=sheet_id, title="Rates", basis="All.", frame=frame, kinds=kinds)
    return ReportTables(
        report="monthly", title="T", about=(), sheets=(sheet,), definitions=()
    )


@pytest.mark.parametrize(
    "changed", [{"claims": 13}, {"rate": 0.1251}, {"rate": None}, {"component": "x"}]
)
def test_another_figure_has_another_digest(changed: dict[str, object]) -> None:
    assert figures_digest(tables(**changed)) != figures_digest(tables())


def test_words_and_the_last_digits_do_not_count() -> None:
    same = tables(said="steigt", rate=0.125 + 1e-15)
    assert figures_digest(same) == figures_digest(tables())
    assert len(figures_digest(same)) == 12


def test_the_list_of_files_does_not_count() -> None:
    assert figures_digest(tables("files", claims=1)) == figures_digest(tables("files"))
