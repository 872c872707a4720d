"""The terms in force against themselves and against the claims at hand."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from claimlens.classify.terms import Terms
from claimlens.classify.terms_check import check_terms
from claimlens.db import Session
from claimlens.settings import Settings

__all__ = ["terms_health"]

# enough to tell a misfiring term; more would only take longer
_MOST_CLAIMS = 20_000


def terms_health(
    session: Session | None, settings: Settings, terms: Terms, folder: Path
) -> pd.DataFrame:
    """Return what is wrong with the terms in force.

    Parameters
    ----------
    session : Session or None
        With ``classified_known``; None where nothing has been loaded, and then
        no term is tried.
    settings : Settings
        The workspace's terms, and the level of confidence.
    terms : Terms
        Compiled from them.
    folder : Path
        The workspace.

    Returns
    -------
    pandas.DataFrame
        See `claimlens.classify.terms_check.check_terms`; tried on the newest
        20,000 claims whose component is known without their texts.
    """
    own = settings.classify
    claims = (
        session.frame("marts/established_texts", {"most": _MOST_CLAIMS})
        if session is not None
        else None
    )
    return check_terms(
        terms,
        folder / own.terms if own.terms else None,
        replace=own.replace_terms,
        claims=claims,
        confidence=settings.rates.confidence,
    )
