"""Where a report comes from: workspace, cut-off, settings, files."""

from __future__ import annotations

from datetime import date

import pandas as pd

from claimlens.analysis.cover_terms import cover_words
from claimlens.analysis.scope import Scope
from claimlens.classify.terms import Terms
from claimlens.db import Session
from claimlens.monthly_inputs import InputFile, Meta, input_digest
from claimlens.settings import Settings, digest

__all__ = ["batch_words", "known_batches", "read_batches", "report_meta"]


def read_batches(session: Session, scope: Scope) -> pd.DataFrame:
    """Return the batches known by the question's date, with their row accounts."""
    return known_batches(session, scope.as_known)


def known_batches(session: Session, as_known: date | None) -> pd.DataFrame:
    """Return the batches known by a date, in the order of loading.

    Parameters
    ----------
    session : Session
        On the warehouse.
    as_known : date or None
        None for all that was loaded.
    """
    return session.frame("marts/batches", {"as_known": as_known or date.max})


def batch_words(batches: pd.DataFrame) -> list[str]:
    """Return kind and digest of each batch, in the order of loading.

    Parameters
    ----------
    batches : DataFrame
        From `read_batches`.
    """
    kinds, digests = batches["kind"], batches["sha256"]
    return [f"{kind} {digest}" for kind, digest in zip(kinds, digests, strict=True)]


def report_meta(
    settings: Settings,
    scope: Scope,
    batches: pd.DataFrame,
    *,
    terms: Terms,
    version: str,
) -> Meta:
    """Say where a report comes from, so that it can be made again.

    Parameters
    ----------
    settings : Settings
        The workspace's.
    scope : Scope
        Cut-off in force.
    batches : DataFrame
        From `read_batches`.
    terms : Terms
        That read texts.
    version : str
        Version of claimlens.
    """
    return Meta(
        workspace=settings.workspace.name,
        as_of=scope.as_of,
        as_known=scope.as_known,
        version=version,
        settings_digest=digest(settings)[:12],
        terms_digest=terms.digest[:12],
        model_digest=scope.model_digest[:12],
        loaded=input_digest(batch_words(batches)),
        inputs=tuple(
            InputFile(row.file, row.kind, row.sha256[:12], row.rows_read, row.rejected)
            for row in batches.itertuples()
        ),
        report_currency=settings.currency.report,
        coverage=cover_words(settings.coverage),
        confidence=settings.rates.confidence,
        cover_months=settings.coverage.months,
        roles={str(key): name for key, name in settings.report.roles.items()},
    )
