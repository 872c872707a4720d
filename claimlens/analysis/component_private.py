"""What of a dossier may leave the company."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pandas as pd

from claimlens.report_inputs.component import ComponentInputs

__all__ = ["for_others", "shortened"]

# letters and figures of a serial that are shown: enough to find it in a list that
# the reader has, not to name the unit to anybody else
_SHOWN = 6


def shortened(serial: str) -> str:
    """Return the end of a serial."""
    return serial if len(serial) <= _SHOWN else f"…{serial[-_SHOWN:]}"


def for_others(
    inputs: ComponentInputs, serial: Callable[[str], str] = shortened
) -> ComponentInputs:
    """Return the inputs without what tells of persons and of other companies.

    Parameters
    ----------
    inputs : ComponentInputs
        As counted.
    serial : callable
        How a serial is shown.

    Returns
    -------
    ComponentInputs
        Serials shortened, suppliers numbered, nobody named who acknowledged a
        signal.
    """
    rising = inputs.rising
    signals = rising.signals.assign(acknowledged_by="", acknowledged_why="")
    return replace(
        inputs,
        rising=replace(rising, signals=signals),
        at_risk=_with_serials(inputs.at_risk, serial),
        repeat_units=_with_serials(inputs.repeat_units, serial),
        by_supplier=_numbered(inputs.by_supplier),
        dangers=tuple(
            replace(claim, serial=serial(claim.serial) if claim.serial else "")
            for claim in inputs.dangers
        ),
    )


def _with_serials(frame: pd.DataFrame, serial: Callable[[str], str]) -> pd.DataFrame:
    return frame.assign(serial=[serial(str(value)) for value in frame["serial"]])


def _numbered(frame: pd.DataFrame) -> pd.DataFrame:
    """Put a number in place of each supplier, in the order of the rows."""
    names = [f"supplier {place}" for place in range(1, len(frame) + 1)]
    return frame.assign(supplier=names)
