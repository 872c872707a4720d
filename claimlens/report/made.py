"""What made a page, written into its head: it can be made again and compared."""

from __future__ import annotations

from collections.abc import Iterator

from claimlens.language import _, language
from claimlens.monthly_inputs import MadeBy, Meta, MonthlyInputs
from claimlens.report import formats

__all__ = ["made", "made_news"]


def made(
    meta: Meta, *, report: str = "monthly", subject: str = "", internal: bool = False
) -> MadeBy:
    """Say what makes a page, in the language that is spoken.

    Parameters
    ----------
    meta : Meta
        Where the report comes from.
    report : str, default "monthly"
        Which one it is.
    subject : str, optional
        The component or supplier.
    internal : bool, default False
        Whether texts and serials are kept as they are.
    """
    return MadeBy(
        report=report,
        subject=subject,
        as_of=meta.as_of,
        as_known=meta.as_known,
        language=language(),
        internal=internal,
        version=meta.version,
        settings=meta.settings_digest,
        terms=meta.terms_digest,
        model=meta.model_digest,
        inputs=meta.loaded,
        figures=meta.figures,
        last=meta.last_made,
    )


def made_news(inputs: MonthlyInputs) -> Iterator[str]:
    """Say where terms, settings or claimlens changed since the last report."""
    meta, last = inputs.meta, inputs.meta.last_made
    if last is None:
        return
    report = formats.day(last.as_of)
    told = [
        _("{name} ({before} then, {now} now)").format(name=name, before=before, now=now)
        for name, before, now in (
            (_("the settings"), last.settings, meta.settings_digest),
            (_("the terms that read texts"), last.terms, meta.terms_digest),
            (_("claimlens itself"), last.version, meta.version),
        )
        if before != now
    ]
    if told:
        changed = ", ".join(told)
        yield _(
            "Changed since the report of {day}: {changed}. Figures may differ from "
            "those of that report for this reason alone."
        ).format(day=report, changed=changed)
