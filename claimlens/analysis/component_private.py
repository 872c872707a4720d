"""What of a dossier may leave the company."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from claimlens.analysis.component_texts import shown_part
from claimlens.monthly_inputs import Rising
from claimlens.redact import Redactor, Removal, counts
from claimlens.report_inputs.component import ComponentInputs, Example, RemovedCount

__all__ = ["for_others", "for_us"]


def for_us(inputs: ComponentInputs) -> ComponentInputs:
    """Return the inputs of a page that stays inside: texts whole, only cut.

    Parameters
    ----------
    inputs : ComponentInputs
        As counted.
    """
    return replace(inputs, examples=tuple(map(_cut, inputs.examples)))


def for_others(inputs: ComponentInputs, redactor: Redactor) -> ComponentInputs:
    """Return the inputs without what tells of persons and of other companies.

    Parameters
    ----------
    inputs : ComponentInputs
        As counted.
    redactor : Redactor
        Takes personal data out of texts, and knows how serials are shown.

    Returns
    -------
    ComponentInputs
        Texts redacted and cut, serials as the settings show them, suppliers
        numbered, nobody named who acknowledged a signal.
    """
    removed: list[Removal] = []

    def redacted(text: str) -> str:
        found = redactor.redact(text)
        removed.extend(found.removed)
        return found.text

    examples = tuple(
        _cut(replace(one, text=redacted(one.text))) for one in inputs.examples
    )
    dangers = tuple(
        replace(
            claim,
            serial=redactor.serial(claim.serial) if claim.serial else "",
            words_read=redacted(claim.words_read),
        )
        for claim in inputs.dangers
    )
    changes = inputs.rising.design_changes
    described = changes.assign(description=[*map(redacted, changes["description"])])
    return replace(
        inputs,
        rising=_unnamed(replace(inputs.rising, design_changes=described)),
        at_risk=_with_serials(inputs.at_risk, redactor),
        repeat_units=_with_serials(inputs.repeat_units, redactor),
        by_supplier=_numbered(inputs.by_supplier),
        dangers=dangers,
        examples=examples,
        removed=tuple(
            RemovedCount(kind, number) for kind, number in counts(removed).items()
        ),
    )


def _cut(one: Example) -> Example:
    text, goes_on = shown_part(one.text)
    return replace(one, text=text, is_cut=one.is_cut or goes_on)


def _unnamed(rising: Rising) -> Rising:
    signals = rising.signals.assign(acknowledged_by="", acknowledged_why="")
    return replace(rising, signals=signals)


def _with_serials(frame: pd.DataFrame, redactor: Redactor) -> pd.DataFrame:
    shown = [redactor.serial(str(value)) for value in frame["serial"]]
    return frame.assign(serial=shown)


def _numbered(frame: pd.DataFrame) -> pd.DataFrame:
    """Put a number in place of each supplier, in the order of the rows."""
    names = [f"supplier {place}" for place in range(1, len(frame) + 1)]
    return frame.assign(supplier=names)
