"""What made a page, written into its head so that the next page can compare."""

from __future__ import annotations

from collections.abc import Iterator

from claimlens.language import _
from claimlens.monthly_inputs import Meta, MonthlyInputs
from claimlens.report import formats

__all__ = ["made_news", "made_words"]


def made_words(meta: Meta) -> str:
    """Return cut-off, version and digests of settings and terms, in this order."""
    return (
        f"{meta.as_of.isoformat()} {meta.version} {meta.settings_digest} "
        f"{meta.terms_digest}"
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
