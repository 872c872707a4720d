"""Write the claims' texts."""

from __future__ import annotations

import numpy as np
import pandas as pd

from claimlens.demo.claims import Facts
from claimlens.demo.draws import Texts

__all__ = ["make_notes", "make_texts"]


def make_texts(facts: Facts, seed: int) -> tuple[Texts, Texts, Texts]:
    """Return narrative, technician's note and resolution of each claim."""
    narrative = np.array(
        [f"{c}: {m}" for c, m in zip(facts.component, facts.mode, strict=True)],
        dtype=object,
    )
    note = np.where(facts.closed, narrative, None)
    return narrative, note, np.where(facts.closed, "replaced", None)


def make_notes(findings: pd.DataFrame, seed: int) -> Texts:
    """Return the inspector's note of each finding."""
    return np.full(len(findings), None, dtype=object)
