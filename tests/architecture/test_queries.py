"""SQL files: headers tell the truth, and other engines can read the counting ones."""

from __future__ import annotations

import re
from pathlib import Path

import duckdb
import pytest
import sqlglot

QUERIES = Path(__file__).resolve().parents[2] / "queries"
FILES = sorted(QUERIES.rglob("*.sql"))
COUNTING = [path for path in FILES if path.parent.name in {"intermediate", "marts"}]


def name_of(path: Path) -> str:
    return str(path.relative_to(QUERIES))


def header_of(path: Path) -> str:
    lines = []
    for line in path.read_text(encoding="utf-8").splitlines():
        if not line.startswith("--"):
            break
        lines.append(line.removeprefix("--").strip())
    return "\n".join(lines)


def params_of(path: Path) -> set[str]:
    match = re.search(r"params:((?:.|\n)*?)(?:\n[a-z]+:|$)", header_of(path))
    if not match:
        return set()
    without_types = re.sub(r"\([^)]*\)", ",", match.group(1))
    return {name for name in re.split(r"[\s,]+", without_types) if name}


@pytest.mark.parametrize("path", FILES, ids=name_of)
def test_the_header_names_every_parameter_and_no_other(path: Path) -> None:
    taken: set[str] = set()
    for statement in duckdb.extract_statements(path.read_text(encoding="utf-8")):
        taken |= set(statement.named_parameters)
    assert params_of(path) == taken


@pytest.mark.parametrize("path", FILES, ids=name_of)
def test_a_file_opens_with_its_purpose(path: Path) -> None:
    first = header_of(path).splitlines()[0]
    assert len(first) > 20
    assert first.endswith((".", ",")) or not first.endswith(":")


@pytest.mark.parametrize("path", COUNTING, ids=name_of)
def test_counting_sql_can_be_translated_to_another_engine(path: Path) -> None:
    statements = sqlglot.transpile(
        path.read_text(encoding="utf-8"),
        read="duckdb",
        write="spark",
        unsupported_level=sqlglot.ErrorLevel.RAISE,
    )
    assert statements


@pytest.mark.parametrize("path", COUNTING, ids=name_of)
def test_ages_are_days_and_never_month_borders(path: Path) -> None:
    """date_diff('month') counts month ends crossed, not months elapsed."""
    assert "date_diff('month'" not in path.read_text(encoding="utf-8").replace(" ", "")


@pytest.mark.parametrize(
    "path", [p for p in FILES if p.parent.name == "marts"], ids=name_of
)
def test_a_mart_gives_its_rows_in_a_total_order(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    one_row = "grain:  one row\n" in text
    assert one_row or "order by" in text.lower().rsplit("from final", 1)[-1]
