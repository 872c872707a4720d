"""What made a page, so that it can be made again."""

from __future__ import annotations

from claimlens.language import _
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
    known = meta.as_known.isoformat() if meta.as_known else _("any date")
    return (
        ("claimlens", meta.version),
        (_("cut-off"), meta.as_of.isoformat()),
        (_("facts known by"), known),
        (_("settings"), meta.settings_digest),
        *([(_("terms"), meta.terms_digest)] if meta.terms_digest else []),
        (_("learned model"), meta.model_digest or _("none")),
        (_("digest of all files"), meta.loaded.digest),
        (_("rows read"), formats.count(read)),
        (_("rows rejected"), formats.count(rejected)),
        (_("rows used"), formats.count(read - rejected)),
    )
