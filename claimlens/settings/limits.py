"""What a file may be at most, so that no stranger's file fills the memory."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from claimlens.settings.sections import Section

__all__ = ["MEGA", "LimitSettings"]

#: Bytes of a megabyte, as people who look at file sizes count them.
MEGA = 1_000_000

_Megabytes = Annotated[int, Field(ge=1, le=1_000_000)]


class LimitSettings(Section):
    """Where a file is refused instead of read.

    ``line_characters``: of one line of text, or of one record that runs over
    several. ``document_mb``: of JSON that is one document, which must be held as a
    whole. ``workbook_mb``: of all parts of a workbook unpacked, and of the texts of
    its cells or of a Parquet file. ``unpacked_mb``: of packed text, which is
    streamed. ``ratio``: how many times its size a packed file may unpack to, once
    it has passed ``ratio_from_mb``. ``cells``: rows times columns that the filled
    part of a sheet spans, or of a Parquet file.
    """

    line_characters: Annotated[int, Field(ge=1_000, le=1_000_000_000)] = 16_000_000
    document_mb: _Megabytes = 256
    workbook_mb: _Megabytes = 1_000
    unpacked_mb: _Megabytes = 8_000
    ratio: Annotated[int, Field(ge=2, le=100_000)] = 200
    ratio_from_mb: _Megabytes = 50
    cells: Annotated[int, Field(ge=1_000, le=10_000_000_000)] = 50_000_000
