"""The one way out: CSV, workbooks and JSON that are safe to open anywhere."""

from claimlens.handover.cells import Cell, nested, neutral, records, to_csv, to_json
from claimlens.handover.figures import figures_digest
from claimlens.handover.files import (
    append_private,
    check_target,
    draft_beside,
    make_private,
    placing,
    placing_all,
    private_draft,
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
    "append_private",
    "check_target",
    "columns_sheet",
    "contents_sheet",
    "definitions_sheet",
    "draft_beside",
    "figures_digest",
    "make_private",
    "nested",
    "neutral",
    "placing",
    "placing_all",
    "private_draft",
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
