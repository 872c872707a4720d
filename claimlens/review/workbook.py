"""Write the workbook that a reviewer fills."""

from __future__ import annotations

import io
import re
from datetime import date, datetime
from typing import Any

import pandas as pd
import xlsxwriter

from claimlens.classify.taxonomy import Taxonomy
from claimlens.handover import neutral
from claimlens.marks import visible
from claimlens.review.columns import (
    CANNOT_TELL,
    COLUMNS,
    GUIDE_SHEET,
    LISTS_SHEET,
    REVIEW_SHEET,
    YES_NO,
    Column,
    position,
)
from claimlens.review.fingerprint import check_word
from claimlens.review.guide_sheet import write_guide
from claimlens.review.heights import height_of
from claimlens.review.sample import Sample

__all__ = ["HEADER_ROW", "workbook_bytes"]

HEADER_ROW = 2
"""Row of the headers, counted from 1; above them stands whose columns they are."""

_TEXTS = (
    ("narrative", "Owner", 500),
    ("technician_note", "Technician", 400),
    ("resolution", "Resolution", 300),
)
_OPTIONS = {
    "in_memory": True,
    "strings_to_formulas": False,
    "strings_to_urls": False,
    "strings_to_numbers": False,
}
# greys, and the blue of Okabe and Ito (2008) for what the reviewer fills
_DARK, _PALE, _LINE, _BLUE = "#404040", "#EFEFEF", "#BFBFBF", "#0072B2"
_DATE_FORM = "yyyy-mm-dd"

Looks = dict[str, Any]


def workbook_bytes(sample: Sample, facts: pd.DataFrame, taxonomy: Taxonomy) -> bytes:
    """Return the workbook of a sample; the same sample gives the same bytes.

    Parameters
    ----------
    sample : Sample
        Claims in the order of their rows.
    facts : DataFrame
        The rows of ``marts/review_facts``, one for each claim of the sample.
    taxonomy : Taxonomy
        In force; its words are the lists to choose from.

    Returns
    -------
    bytes
        An .xlsx file: instructions, the review sheet, and a hidden sheet of
        lists. Texts that start like a formula are text, marked as such.
    """
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, _OPTIONS) as book:
        # a fixed date: the same results give the same file
        book.set_properties({"created": datetime(2000, 1, 1), "title": "claim review"})
        looks = _Looks(book)
        guide = book.add_worksheet(GUIDE_SHEET)
        page = book.add_worksheet(REVIEW_SHEET)
        lists = book.add_worksheet(LISTS_SHEET)
        write_guide(guide, book, sample, taxonomy)
        words = {
            "component": [*taxonomy.components, CANNOT_TELL],
            "failure_mode": list(taxonomy.modes),
            "dangerous": list(YES_NO),
        }
        _write_lists(lists, words)
        rows = sample.rows.merge(facts, on="claim_no", how="inner")
        _write_head(page, looks)
        for at, row in enumerate(rows.to_dict("records"), start=HEADER_ROW):
            _write_row(page, at, {str(k): v for k, v in row.items()}, sample, looks)
        _add_choices(page, len(rows), words)
        _set_page(page, len(rows))
    return out.getvalue()


class _Looks:
    """The formats of the review sheet, each made once."""

    def __init__(self, book: Any) -> None:
        self._book = book
        self._made: dict[str, Any] = {}

    def get(self, **wanted: Any) -> Any:
        """Return the format with these properties."""
        key = repr(sorted(wanted.items()))
        if key not in self._made:
            base: Looks = {
                "valign": "top",
                "text_wrap": True,
                "border": 1,
                "border_color": _LINE,
                "bg_color": _PALE,
            }
            self._made[key] = self._book.add_format({**base, **wanted})
        return self._made[key]

    def plain(self, **wanted: Any) -> Any:
        """Return a format without the grid of the rows."""
        key = "plain" + repr(sorted(wanted.items()))
        if key not in self._made:
            self._made[key] = self._book.add_format(wanted)
        return self._made[key]


def _write_lists(page: Any, words: dict[str, list[str]]) -> None:
    """Write the allowed words on a sheet that is hidden and locked."""
    for column, (name, listed) in enumerate(words.items()):
        page.write_string(0, column, name)
        for row, word in enumerate(listed, start=1):
            page.write_string(row, column, neutral(word))
    page.protect()
    page.hide()


def _write_head(page: Any, looks: _Looks) -> None:
    """Write whose columns they are, and the headers."""
    bold = {"bold": True, "font_color": _DARK}
    page.write_string(
        0, 0, "what the claim says, and what was read in it", looks.plain(**bold)
    )
    page.write_string(
        0,
        position("component"),
        "your answer",
        looks.plain(bold=True, font_color=_BLUE),
    )
    page.write_string(0, position("sample"), "leave as it is", looks.plain(**bold))
    for at, column in enumerate(COLUMNS):
        colour = _BLUE if column.is_input else _DARK
        head = looks.get(
            bold=True, font_color="#FFFFFF", bg_color=colour, valign="vcenter"
        )
        page.write_string(HEADER_ROW - 1, at, column.name, head)
        page.set_column(at, at, column.width)
    page.set_row(HEADER_ROW - 1, 20)


def _write_row(
    page: Any, at: int, row: dict[str, Any], sample: Sample, looks: _Looks
) -> None:
    """Write one claim."""
    values = {
        **row,
        "text": _texts(row),
        "suggested_component": row.get("component"),
        "suggested_mode": row.get("failure_mode"),
        "sample": sample.name,
        "check": check_word(sample.name, str(row["claim_no"])),
    }
    told = [str(values.get(one.name) or "") for one in COLUMNS]
    page.set_row(at, height_of(told, [one.width for one in COLUMNS]))
    for column, one in enumerate(COLUMNS):
        if one.is_input:
            page.write_blank(at, column, None, _input_look(one, looks))
            continue
        value = values.get(one.name)
        if pd.isna(value):
            page.write_blank(at, column, None, looks.get())
        elif isinstance(value, date):
            page.write_datetime(at, column, value, looks.get(num_format=_DATE_FORM))
        elif isinstance(value, float):
            form = _cost_form(row) if one.name == "cost" else "0.00"
            page.write_number(at, column, value, looks.get(num_format=form))
        else:
            _write_text(page, at, column, str(value), looks, key=one.name == "claim_no")


def _write_text(
    page: Any, row: int, column: int, text: str, looks: _Looks, *, key: bool
) -> None:
    """Write a text as text, whatever it starts with."""
    wanted: Looks = {"bold": True} if key else {}
    if key:
        wanted["num_format"] = "@"
    if neutral(text) != text:
        # the mark that a spreadsheet keeps for "this is text"; the value stays exact
        wanted["quote_prefix"] = True
    # a key goes back as it came; all else is there to be read
    shown = text if key else visible(text)
    page.write_string(row, column, shown, looks.get(**wanted))


def _input_look(column: Column, looks: _Looks) -> Any:
    form = {"reviewed_on": _DATE_FORM}.get(column.name, "General")
    return looks.get(bg_color="#FFFFFF", locked=False, num_format=form)


def _cost_form(row: dict[str, Any]) -> str:
    currency = re.sub(r"[^A-Z]", "", str(row.get("currency") or ""))
    return f'#,##0.00 "{currency}"' if currency else "#,##0.00"


def _texts(row: dict[str, Any]) -> str:
    """Return the texts of a claim, each under whose it is, cut to a length."""
    lines = []
    for name, whose, most in _TEXTS:
        said = row.get(name)
        if not isinstance(said, str):
            continue
        text = " ".join(re.sub(r"[\x00-\x1f\x7f]", " ", said).split())
        if text:
            shown = text if len(text) <= most else text[: most - 3].rstrip() + " .."
            lines.append(f"{whose}: {shown}")
    return "\n".join(lines)


def _add_choices(page: Any, n_rows: int, words: dict[str, list[str]]) -> None:
    """Let the reviewer choose words from the lists, and write nothing else."""
    first, last = HEADER_ROW, HEADER_ROW + n_rows - 1
    for column, (name, listed) in zip("ABC", words.items(), strict=True):
        at = position(name)
        page.data_validation(
            *(first, at, last, at),
            {
                "validate": "list",
                "source": f"={LISTS_SHEET}!${column}$2:${column}${len(listed) + 1}",
                "input_title": name,
                "input_message": "Choose from the list.",
                "error_title": f"not in the list of {name}",
                "error_message": "Choose a word from the list; the sheet "
                f"'{GUIDE_SHEET}' says where components meet.",
            },
        )
    at = position("reviewed_on")
    page.data_validation(
        *(first, at, last, at),
        {
            "validate": "date",
            "criteria": ">=",
            "value": date(2000, 1, 1),
            "input_title": "reviewed_on",
            "input_message": "Day of your answer, as YYYY-MM-DD.",
            "error_title": "no date",
            "error_message": "Write a date such as 2026-05-31.",
        },
    )


def _set_page(page: Any, n_rows: int) -> None:
    """Freeze, filter, protect, and make it fit a printed page."""
    last = HEADER_ROW + n_rows - 1
    page.freeze_panes(HEADER_ROW, 1)
    page.autofilter(HEADER_ROW - 1, 0, last, len(COLUMNS) - 1)
    page.protect("", {"autofilter": True, "format_columns": True, "format_rows": True})
    page.set_zoom(85)
    page.set_landscape()
    page.set_paper(9)
    page.fit_to_pages(1, 0)
    page.repeat_rows(0, HEADER_ROW - 1)
    page.set_footer("&L&A&RPage &P of &N")
