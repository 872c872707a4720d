"""What made a page, so that it can be made again."""

from __future__ import annotations

from claimlens.monthly_inputs import Meta
from claimlens.report import formats

__all__ = ["provenance"]


def provenance(meta: Meta) -> tuple[tuple[str, str], ...]:
    """Return the facts at the foot of a report, as name and value.

    Parameters
    ----------
    meta : Meta
        Where the report comes from.
    """
    read = sum(item.rows_read for item in meta.inputs)
    rejected = sum(item.rejected for item in meta.inputs)
    return (
        ("claimlens", meta.version),
        ("cut-off", meta.as_of.isoformat()),
        ("facts known by", meta.as_known.isoformat() if meta.as_known else "any date"),
        ("settings", meta.settings_digest),
        *([("terms", meta.terms_digest)] if meta.terms_digest else []),
        ("rows read", formats.count(read)),
        ("rows rejected", formats.count(rejected)),
        ("rows used", formats.count(read - rejected)),
    )
