"""The walls of the house: who may import whom, how large a module may be."""

from __future__ import annotations

import ast
import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "claimlens"

# A room may import from rooms of a lower number, and from its own folder.
LEVELS = {
    "errors": 0,
    "currencies": 0,
    "language": 0,
    "marks": 0,
    "version": 0,
    "second": 0,
    "settings": 1,
    "tables": 1,
    "results": 1,
    "monthly_inputs": 1,
    "report_inputs": 1,
    "handover": 1,
    "resources": 1,
    "db": 2,
    "stats": 2,
    "ingest": 3,
    "classify": 3,
    "redact": 3,
    "analysis": 4,
    "charts": 5,
    "report": 5,
    "review": 5,
    "kept": 6,
    "pipeline": 6,
    "placing": 6,
    "printing": 6,
    "dossier": 6,
    "pack": 6,
    "upkeep": 6,
    "keeping": 7,
    "answers": 7,
    "diagnosis": 7,
    "outlook": 7,
    "reports": 7,
    "months": 7,
    "runs": 6,
    "scheduled": 7,
    "reviews": 7,
    "erasing": 7,
    "retention": 7,
    "workspace": 7,
    "start": 7,
    "demo": 8,
    "cli": 9,
    "__init__": 9,
    "__main__": 9,
}

# Rooms of one level that may look at each other, in this direction only.
SAME_LEVEL = {
    ("report_inputs", "monthly_inputs"),
    ("start", "workspace"),
    ("workspace", "reviews"),
    ("workspace", "keeping"),
    ("upkeep", "runs"),
    ("upkeep", "pipeline"),
    ("keeping", "reports"),
    ("scheduled", "retention"),
    ("retention", "erasing"),
    ("erasing", "answers"),
    ("workspace", "scheduled"),
    ("scheduled", "reports"),
    ("reports", "months"),
    ("months", "outlook"),
    ("outlook", "diagnosis"),
    ("outlook", "answers"),
    ("diagnosis", "answers"),
    ("reviews", "answers"),
    ("settings", "tables"),
    ("report_inputs", "monthly_inputs"),
    ("__main__", "cli"),
    ("cli", "__init__"),
}

OWNERS = {
    "babel": {"language"},
    "duckdb": {"db"},
    "altair": {"charts"},
    "vl_convert": {"charts"},
    "jinja2": {"report"},
    "typer": {"cli"},
    "rich": {"cli"},
    "pydantic": {"settings"},
    "sklearn": {"classify"},
}

FORBIDDEN = {
    "stats": {"pandas", "duckdb"},
}

# Where an import waits for the command that needs it, because the libraries behind
# it take longer to load than most answers: functions by module.
SEAMS = {
    "cli/jobs.py": ["demo_command"],
    "dossier.py": ["dossier_inputs", "component_report"],
    "ingest/records.py": ["open_records"],
    "ingest/rewriting.py": ["rewritten"],
    "pack.py": ["supplier_pack"],
    "printing.py": ["_count_month", "_draw_month", "_tables_of"],
    "review/returned.py": ["_open"],
}


def room_of(path: Path) -> str:
    relative = path.relative_to(PACKAGE)
    return relative.parts[0] if len(relative.parts) > 1 else relative.stem


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def imports_of(path: Path) -> list[tuple[str, int]]:
    found: list[tuple[str, int]] = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [(alias.name, node.lineno) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}:{node.lineno} imports relatively"
            name = node.module or ""
            if name == "claimlens":
                found += [(f"claimlens.{a.name}", node.lineno) for a in node.names]
            else:
                found.append((name, node.lineno))
    return found


def room_imported(name: str) -> str | None:
    parts = name.split(".")
    if parts[0] != "claimlens":
        return None
    if len(parts) == 1:
        return "__init__"
    return parts[1] if parts[1] in LEVELS else "__init__"


def test_every_module_belongs_to_a_room_of_the_map() -> None:
    assert {room_of(path) for path in modules()} <= set(LEVELS)


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_point_down_the_map(path: Path) -> None:
    room = room_of(path)
    for name, line in imports_of(path):
        other = room_imported(name)
        if other is None or other == room:
            continue
        allowed = LEVELS[other] < LEVELS[room] or (room, other) in SAME_LEVEL
        assert allowed, f"{path.name}:{line}: {room} must not import {other}"


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_a_library_has_one_room(path: Path) -> None:
    room = room_of(path)
    for name, line in imports_of(path):
        library = name.split(".")[0]
        owners = OWNERS.get(library)
        assert owners is None or room in owners, f"{path.name}:{line}: {library}"
        assert library not in FORBIDDEN.get(room, set()), f"{path.name}:{line}"


def test_the_terminal_has_one_door() -> None:
    """What is printed elsewhere would not go through ``visible``."""
    printing = re.compile(
        r"typer\.s?echo|errors\.print|sys\.std(?:out|err)\.write|"
        r"(?<![\w.])print\("
    )
    found = [
        path.name
        for path in sorted((PACKAGE / "cli").glob("*.py"))
        if printing.search(path.read_text(encoding="utf-8"))
    ]
    assert found == ["screen.py"]


def test_an_import_hides_inside_a_function_only_at_the_named_seams() -> None:
    found: dict[str, list[str]] = {}
    for path in modules():
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for function in ast.walk(tree):
            if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef) and any(
                isinstance(node, ast.Import | ast.ImportFrom)
                for node in ast.walk(function)
            ):
                name = path.relative_to(PACKAGE).as_posix()
                found.setdefault(name, []).append(function.name)
    assert found == SEAMS


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_a_module_stays_readable(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 400


def test_only_the_named_things_stand_at_the_top_level() -> None:
    names = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    ).stdout.splitlines()
    if not names:
        pytest.skip("not a checkout")
    top = {name.split("/")[0] for name in names}
    assert top <= {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "claimlens",
        "queries",
        "reports",
        "tests",
        "demo_data",
        ".ci",
        ".gitignore",
    }


def test_the_map_in_the_documents_is_the_map_of_the_tree() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    drawn = text.split("```text", 1)[1].split("```", 1)[0]
    named = set(re.findall(r"claimlens/([a-z_]+)(?:/|\.py)", drawn))
    assert named == set(LEVELS) | set()


def test_no_python_file_builds_long_sql() -> None:
    """Counting SQL lives in queries/; Python holds no SELECT beyond one line."""
    for path in modules():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                text = node.value.strip().lower()
                if text.startswith(("select ", "with ")) and " from " in text:
                    assert "\n" not in text, f"{path}:{node.lineno}"
