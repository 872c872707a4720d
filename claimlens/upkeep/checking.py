"""The checks of one warehouse, from its rows to the counts of the usual cut-off."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from claimlens.analysis.question import Question
from claimlens.analysis.scope import prepare
from claimlens.classify.learned import Learned
from claimlens.classify.terms import Terms
from claimlens.db import read_warehouse
from claimlens.db.schema import SCHEMA_VERSION
from claimlens.errors import CheckError, ClaimlensError, InputError
from claimlens.settings import Settings
from claimlens.upkeep.checks import (
    Identity,
    check_counts,
    check_rows,
    not_judged,
    told_broken,
)

__all__ = ["check_warehouse", "refuse_broken"]


def check_warehouse(
    warehouse: Path,
    deciding: tuple[Settings, Terms, Learned | None],
    *,
    question: Question | None = None,
    limits: Mapping[str, str] | None = None,
    refold: bool = True,
) -> list[Identity]:
    """Judge every identity.

    Parameters
    ----------
    warehouse : Path
        The warehouse file; read only.
    deciding : tuple of Settings, Terms and Learned or None
        What counts and classifies.
    question : Question, optional
        Cut-off of the counts; the usual one by default.
    limits : mapping, optional
        Of the engine.
    refold : bool, default True
        Whether every version is folded again.

    Returns
    -------
    list of Identity
        In a fixed order; identities of counts are not judged where there is no claim
        to count.
    """
    settings, terms, learned = deciding
    with read_warehouse(warehouse, limits=limits) as session:
        version = int(session.frame("checks/schema_version").iloc[0, 0])
        judged = list(
            check_rows(session, is_newest=version == SCHEMA_VERSION, refold=refold)
        )
    with read_warehouse(warehouse, limits=limits) as session:
        try:
            scope = prepare(session, settings, terms, question or Question(), learned)
            judged.extend(check_counts(session, settings, scope))
        except InputError as error:
            judged.append(not_judged("counts", error.problem))
        except ClaimlensError:
            # rows that break a rule can break a query: the rule is the message
            if all(one.is_held for one in judged):
                raise
            judged.append(not_judged("counts", "the rows do not hold together"))
    return judged


def refuse_broken(judged: list[Identity], warehouse: Path) -> None:
    """Raise where an identity is broken.

    Parameters
    ----------
    judged : list of Identity
        All of them.
    warehouse : Path
        For the message.

    Raises
    ------
    CheckError
        With every broken identity.
    """
    broken = [one for one in judged if not one.is_held]
    if broken:
        names = ", ".join(one.name for one in broken)
        raise CheckError(
            f"The warehouse does not hold together, see the checks {names}: "
            f"{told_broken(broken)}.",
            source=str(warehouse),
            remedy="restore a backup (claimlens restore FILE), or move the warehouse "
            "away and load all exports again; see claimlens check",
        )
