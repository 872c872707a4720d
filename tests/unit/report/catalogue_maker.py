"""Gather the messages of the source, and bring the catalogues up to date.

To be run from the root of a checkout after messages were added or changed; new ones
stand untranslated at the end, those that are no longer said are left out:

    python tests/unit/report/catalogue_maker.py
"""

from __future__ import annotations

import ast
import re
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po, write_po

ROOT = Path(__file__).resolve().parents[3]
LOCALE = ROOT / "claimlens" / "locale"
# what is said through these is a message; of the first group every text is one
_ALL = frozenset({"_", "N_", "text_columns", "number_columns"})
_FIRST = frozenset({"ChartColumn"})
_IN_TEMPLATE = re.compile(r"""\b_\((["'])(.+?)\1\)""")

# modules of which the headings are translated, though their sentences are not yet
_HEADINGS = frozenset(
    {"monthly_tables.py", "safety_section.py", "tabulate.py"}
    | {"tabulate_rising.py", "tabulate_to_come.py"}
)

Message = str | tuple[str, str]


def _text(node: ast.expr) -> str | None:
    is_text = isinstance(node, ast.Constant) and isinstance(node.value, str)
    return node.value if is_text and isinstance(node, ast.Constant) else None


def _messages_of(call: ast.Call) -> list[Message]:
    """Return what a call says."""
    name = getattr(call.func, "id", "")
    texts = [_text(node) for node in call.args]
    if name == "ngettext":
        assert texts[0] is not None, ast.dump(call)
        assert texts[1] is not None, ast.dump(call)
        return [(texts[0], texts[1])]
    if name in _FIRST:
        titles = [_text(k.value) for k in call.keywords if k.arg == "title"]
        texts = [*texts[:1], *titles]
    elif name not in _ALL:
        return []
    return [text for text in texts if text]


def messages() -> dict[Message, list[str]]:
    """Return every message of the source with the files that say it."""
    found: dict[Message, list[str]] = {}
    for path in sorted((ROOT / "claimlens").rglob("*.py")):
        source = path.read_text(encoding="utf-8")
        tree = ast.parse(source)
        # headings count where a module speaks through the catalogue
        speaks = "claimlens.language" in source or path.name in _HEADINGS
        place = path.relative_to(ROOT).as_posix()
        for node in ast.walk(tree):
            if path.name == "language.py":
                break
            if isinstance(node, ast.Call) and speaks:
                for message in _messages_of(node):
                    found.setdefault(message, []).append(place)
    for path in sorted((ROOT / "reports").glob("*.j2")):
        for match in _IN_TEMPLATE.finditer(path.read_text(encoding="utf-8")):
            place = path.relative_to(ROOT).as_posix()
            found.setdefault(match[2], []).append(place)
    return found


def catalogue(language: str) -> Catalog:
    """Return the shipped catalogue of a language, empty where there is none."""
    path = LOCALE / f"{language}.po"
    raw = path.read_bytes() if path.exists() else b""
    return read_po(BytesIO(raw), locale=language)


def main() -> None:
    """Write the catalogue of each language."""
    for language in ("de", "fr"):
        old = catalogue(language)
        new = Catalog(
            locale=language,
            project="claimlens",
            version="1",
            header_comment=_HEAD,
            msgid_bugs_address="the developers",
            creation_date=_DAY,
            revision_date=_DAY,
            last_translator="the claimlens developers",
            language_team="the claimlens developers",
            fuzzy=False,
        )
        # one and many, as gettext has it; CLDR has a form for millions in French
        new.mime_headers = [("Plural-Forms", f"nplurals=2; plural={_MANY[language]};")]
        for message, places in messages().items():
            key = message if isinstance(message, str) else message[0]
            known = old.get(key)
            said = known.string if known is not None else ""
            if isinstance(message, tuple) and not isinstance(said, tuple):
                said = ("", "")
            new.add(message, said, locations=[(p, None) for p in sorted(set(places))])
        with (LOCALE / f"{language}.po").open("wb") as file:
            write_po(file, new, width=88, omit_header=False)


# the same bytes for the same messages
_DAY = datetime(2026, 4, 30, tzinfo=UTC)
_MANY = {"de": "(n != 1)", "fr": "(n > 1)"}
_HEAD = "# Messages of the reports; tests/unit/report/catalogue_maker.py gathers them."

if __name__ == "__main__":
    main()
