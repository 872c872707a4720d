"""The one way out: CSV, workbooks and JSON that are safe to open anywhere."""

from claimlens.handover.cells import Cell, nested, neutral, records, to_csv, to_json
from claimlens.handover.figures import figures_digest
from claimlens.handover.files import (
    check_target,
    make_private,
    placing,
    placing_all,
    write_bytes,
    write_text,
)
from claimlens.handover.sheets import (
    Kind,
    ReportTables,
    Sheet,
    columns_sheet,
    contents_sheet,
    definitions_sheet,
    sheet_document,
    typed,
)
from claimlens.handover.workbook import workbook_bytes, write_workbook

__all__ = [
    "Cell",
    "Kind",
    "ReportTables",
    "Sheet",
    "check_target",
    "columns_sheet",
    "contents_sheet",
    "definitions_sheet",
    "figures_digest",
    "make_private",
    "nested",
    "neutral",
    "placing",
    "placing_all",
    "records",
    "sheet_document",
    "to_csv",
    "to_json",
    "typed",
    "workbook_bytes",
    "write_bytes",
    "write_text",
    "write_workbook",
]
