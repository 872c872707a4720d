"""Erase from an older state of a workspace what the present one knows as erased."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import pandas as pd

from claimlens import pipeline
from claimlens.analysis.evidence import terms_of
from claimlens.analysis.kept_readings import KEPT_COLUMNS, readings_to_keep
from claimlens.analysis.learning import keep_model, model_of, pruned_model
from claimlens.classify.learned import Learned
from claimlens.classify.terms import Terms
from claimlens.db import Session, read_warehouse, write_warehouse
from claimlens.errors import WarehouseError
from claimlens.handover import write_bytes
from claimlens.ingest.erased import read_erased
from claimlens.ingest.traces import Phrases, Traces
from claimlens.settings import SETTINGS_FILE, Settings, read_settings
from claimlens.upkeep.erasure import Plan, erase_from, make_plan, plan_for_held
from claimlens.upkeep.erasure_files import digest_of_bytes, plan_files
from claimlens.upkeep.manifest import WAREHOUSE

__all__ = ["Again", "Remembered", "after_restore", "erase_folder", "remembered"]

_REASON = "erased again in an older state"


@dataclass(frozen=True, slots=True, kw_only=True)
class Remembered:
    """What a warehouse knows of its erasures.

    Parameters
    ----------
    erasures, keys, readings, files : pandas.DataFrame
        Rows of ``erasures``, ``erased_keys`` and ``kept_readings``, and the bytes of
        files ``before`` and ``after`` rows were taken out of them.
    """

    erasures: pd.DataFrame
    keys: pd.DataFrame
    readings: pd.DataFrame
    files: pd.DataFrame

    def without(self, erasure: str) -> Remembered:
        """Return the same without an erasure that found nothing."""
        return replace(
            self, erasures=self.erasures[self.erasures["erasure"] != erasure]
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """What was erased from an older state.

    Parameters
    ----------
    serials, claims : int
        Units and claims that stood there.
    files : int
        Files that named them and were written again.
    removed : tuple of str
        Files that named them and could not be written again: taken out.
    left : tuple of str
        Files that name them, and that a person has to see to.
    """

    serials: int = 0
    claims: int = 0
    files: int = 0
    removed: tuple[str, ...] = ()
    left: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Deciding:
    """What reads the claims of the older state."""

    settings: Settings
    terms: Terms
    learned: Learned | None


def after_restore(old: Path | None, draft: Path) -> Again | None:
    """Carry over what a restored warehouse must not forget; called before the swap.

    A backup may be older than an erasure: what the present warehouse knows of the
    erased has to hold for the restored one as well, before anybody can read it.

    Parameters
    ----------
    old : Path or None
        The present warehouse, whole and locked for writers; None where there is none.
    draft : Path
        The warehouse out of the backup, checked and not yet in its place; what else
        the backup holds lies beside it.

    Returns
    -------
    Again or None
        What was erased again; None where nothing tells of erasures since the backup.
    """
    if old is None:
        return None
    try:
        with read_warehouse(old) as session:
            known = remembered(session)
    except WarehouseError:
        # often the reason for a restore
        return None
    if known.erasures.empty:
        return Again()
    settings = read_settings(draft.parent / SETTINGS_FILE)
    return erase_folder(known, draft.parent, settings)


def remembered(session: Session) -> Remembered:
    """Return what a warehouse knows of its erasures.

    Parameters
    ----------
    session : Session
        On the warehouse.
    """
    return Remembered(
        erasures=session.frame("marts/erasures_told"),
        keys=session.frame("marts/erased_keys_told"),
        readings=session.frame("marts/readings_told"),
        files=session.frame("marts/files_told"),
    )


def erase_folder(
    known: Remembered,
    folder: Path,
    settings: Settings,
    *,
    limits: Mapping[str, str] | None = None,
) -> Again:
    """Erase from warehouse, model, settings and exports of a folder nobody uses.

    Parameters
    ----------
    known : Remembered
        Of the present warehouse.
    folder : Path
        Holds ``warehouse.duckdb`` as it was, and what belongs to it; a folder of
        drafts, which is thrown away if this fails.
    settings : Settings
        Of that state.
    limits : mapping, optional
        Of the engine.

    Returns
    -------
    Again
        What was found there.
    """
    deciding = _Deciding(
        settings=settings, terms=terms_of(settings, folder), learned=model_of(folder)
    )
    warehouse = folder / WAREHOUSE
    with write_warehouse(warehouse, limits=limits) as session, session.transaction():
        _carry(session, known)
        erased = read_erased(session)
        plan = make_plan(session, plan_for_held(session, erased))
        readings = _readings(warehouse, plan, deciding, limits)
        if not plan.targets.empty:
            erase_from(session, plan, erased, readings=readings, reason=_REASON)
        session.put("readings_known", known.readings)
        session.run("staging/carry_readings")
        texts_left = session.frame("marts/texts_left")["text"].tolist()
        learned = deciding.learned
        if learned is not None and plan.texts:
            pruned, count = pruned_model(learned, plan.texts, texts_left)
            learned = keep_model(pruned, folder) if count else learned
        pipeline.read_again(session, settings, deciding.terms, learned)
        phrases = Phrases(plan.texts)
        phrases.keep_own(texts_left)
        traces = Traces(erased, phrases, rejected=plan.rejected)
        told = _rewrite(session, known, folder, settings, traces)
        session.changed = session.compact = True
    kinds = plan.targets["kind"]
    return Again(
        serials=int((kinds == "serial").sum()),
        claims=int((kinds == "claim").sum()),
        files=told.files,
        removed=told.removed,
        left=told.left,
    )


def _carry(session: Session, known: Remembered) -> None:
    """Let the older state know every erasure, before it is looked at."""
    session.put("erasures_known", known.erasures)
    session.put("keys_known", known.keys)
    session.run("staging/carry_erasures")


def _readings(
    warehouse: Path,
    plan: Plan,
    deciding: _Deciding,
    limits: Mapping[str, str] | None,
) -> pd.DataFrame:
    """Read the claims that lose their texts, at every state of their past."""
    if not plan.claims:
        return pd.DataFrame(columns=list(KEPT_COLUMNS))
    with read_warehouse(warehouse, limits=limits) as session:
        return readings_to_keep(
            session,
            deciding.settings,
            deciding.terms,
            plan.claims,
            learned=deciding.learned,
        )


def _rewrite(
    session: Session,
    known: Remembered,
    folder: Path,
    settings: Settings,
    traces: Traces,
) -> Again:
    """Write the files of the folder again, and tell the warehouse their bytes."""
    bytes_of = [
        (str(before), str(after))
        for before, after in known.files.itertuples(index=False)
    ]
    n_files, removed, left = 0, [], []
    for work in plan_files(folder, settings, traces):
        place = work.path.relative_to(folder).as_posix()
        if work.contents is not None:
            before = digest_of_bytes(work.path)
            write_bytes(work.contents, work.path, overwrite=True)
            bytes_of.append((before, digest_of_bytes(work.path)))
            n_files += 1
        elif place.startswith("inbox/"):
            work.path.unlink()
            removed.append(place)
        else:
            left.append(place)
    frame = pd.DataFrame(dict(bytes_of).items(), columns=["before", "after"])
    session.put("files_rewritten", frame.astype("str"))
    session.run("staging/rewrite_files")
    return Again(files=n_files, removed=tuple(removed), left=tuple(left))
