"""The claims that reviewers looked at, with what each of them stands for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.classify.danger import danger_pairs
from claimlens.classify.taxonomy import UNCLASSIFIED, Taxonomy
from claimlens.db import Session

__all__ = [
    "NOT_MEASURED",
    "Audit",
    "put_samples",
    "read_audit",
    "read_labels",
    "settled",
]

NOT_MEASURED = (
    "accuracy not measured: no randomly drawn claim has been reviewed; draw some with "
    "claimlens review export FILE"
)

#: What a reviewer says where nothing tells: leaving such a claim open was right.
_NO_COMPONENT = frozenset((UNCLASSIFIED, "cannot tell"))
_SAMPLE_TEXTS = (
    "sample",
    "claim_no",
    "stratum",
    "component",
    "failure_mode",
    "source",
    "safety",
    "terms_digest",
)
#: Samples, newest first, that figures rest on (a rule of ours: a year of months).
_SAMPLES = 12
#: Audited claims of the newest version that make the older ones unneeded.
_ENOUGH = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Audit:
    """Reviewed claims of the samples that the figures rest on.

    Parameters
    ----------
    rows : DataFrame
        One row a sample and reviewed claim in sight: ``sample, claim_no, stratum,
        digest, source, confidence``, ``told`` and ``told_mode`` (as classified when
        drawn), ``told_danger``, ``true`` and ``true_mode`` (as reviewed),
        ``danger_judged`` (whether the reviewer said so), ``true_danger`` (the
        reviewer's word, else what component and mode make of it), ``weight`` (claims
        that it stands for).
    sizes : DataFrame
        By ``digest`` and ``stratum``: ``claims``, the claims in sight that were
        drawn from, and ``drawn``.
    """

    rows: pd.DataFrame
    sizes: pd.DataFrame

    @property
    def weights(self) -> NDArray[np.float64]:
        """Return the weight of each row."""
        return np.asarray(self.rows["weight"], dtype=np.float64)

    @property
    def by_chance(self) -> NDArray[np.bool_]:
        """Tell which rows were drawn at random, not picked for the queue."""
        return np.asarray(self.rows["stratum"] == "audit", dtype=bool)

    @property
    def n_audit(self) -> int:
        """Return how many randomly drawn claims were reviewed."""
        return int(self.by_chance.sum())

    @property
    def digests(self) -> list[str]:
        """Return the versions of terms and model, oldest first."""
        order = self.rows.groupby("digest")["sample"].max().sort_values(kind="stable")
        return [str(digest) for digest in order.index]

    def of_version(self, digest: str) -> Audit:
        """Return the claims read by one version."""
        return Audit(
            rows=self.rows[self.rows["digest"] == digest],
            sizes=self.sizes[self.sizes["digest"] == digest],
        )

    def randomly_drawn(self) -> pd.DataFrame:
        """Return the rows of the audit without those of the queue."""
        return self.rows[self.by_chance]


def put_samples(session: Session) -> None:
    """Make an empty ``review_samples`` where the warehouse is older than reviews.

    Parameters
    ----------
    session : Session
        On the warehouse.
    """
    if not session.frame("marts/review_tables")["is_there"].iloc[0]:
        texts = dict.fromkeys(_SAMPLE_TEXTS, pd.array([], dtype="str"))
        numbers = {name: np.array([]) for name in ("probability", "confidence")}
        session.put("review_samples", pd.DataFrame({**texts, **numbers}))


def read_labels(session: Session, taxonomy: Taxonomy) -> pd.DataFrame:
    """Return every label whose component the taxonomy knows.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    taxonomy : Taxonomy
        Gives free spellings their names.

    Returns
    -------
    DataFrame
        ``claim_no, reviewer, reviewed_on, true, true_mode, true_danger``.
    """
    labels = session.frame("marts/quality_labels")
    named = {text: _component(text, taxonomy) for text in labels["component"].unique()}
    modes = {text: taxonomy.mode_for(text) for text in labels["failure_mode"].unique()}
    labels["true"] = labels["component"].map(named)
    labels["true_mode"] = labels["failure_mode"].map(modes)
    told = labels["safety"].str.strip().str.lower()
    labels["true_danger"] = told.map({"yes": True, "no": False}).astype("boolean")
    known = labels["true"].notna()
    return labels.loc[known].drop(columns=["component", "failure_mode", "safety"])


def _component(text: object, taxonomy: Taxonomy) -> str | None:
    if isinstance(text, str) and text.strip().lower() in _NO_COMPONENT:
        return UNCLASSIFIED
    return taxonomy.component_for(text)


def settled(labels: pd.DataFrame) -> pd.DataFrame:
    """Return the label that stands for each claim: the newest, as in classifying.

    One that names a component goes before one that could not.
    """
    order = ["names_one", "reviewed_on", "reviewer", "true", "true_mode"]
    ranked = labels.assign(names_one=labels["true"] != UNCLASSIFIED).sort_values(
        order, na_position="first", kind="stable"
    )
    return ranked.drop_duplicates("claim_no", keep="last").drop(columns="names_one")


def read_audit(session: Session, labels: pd.DataFrame, taxonomy: Taxonomy) -> Audit:
    """Return the reviewed claims of the newest samples with their weights.

    A claim of the queue stands for itself, one of the audit for 1 / chance of being
    drawn; where some drawn claims of a sample were not reviewed, the reviewed ones
    of the same stratum stand for them too.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    labels : DataFrame
        Of ``read_labels``.
    taxonomy : Taxonomy
        Leads the names of an earlier one home.

    Returns
    -------
    Audit
        The newest twelve samples with reviewed claims; only those read by the newest
        version where a hundred randomly drawn claims of it were reviewed.
    """
    drawn = session.frame("marts/quality_sample")
    truth = settled(labels).drop(columns=["reviewer", "reviewed_on"])
    drawn = drawn.merge(truth, on="claim_no", how="left", validate="many_to_one")
    names = {name: taxonomy.component_for(name) for name in drawn["component"].unique()}
    drawn["component"] = drawn["component"].map(names).fillna(drawn["component"])
    drawn["stands_for"] = 1.0 / drawn["probability"].astype("float64")
    reviewed = drawn["true"].notna()
    newest = sorted(drawn.loc[reviewed, "sample"].unique())[-_SAMPLES:]
    drawn, reviewed = (part[drawn["sample"].isin(newest)] for part in (drawn, reviewed))
    by_draw = [drawn["sample"], drawn["stratum"]]
    whole = drawn["stands_for"].groupby(by_draw).transform("sum")
    seen = drawn["stands_for"].where(reviewed, 0.0).groupby(by_draw).transform("sum")
    rows = drawn.rename(
        columns={
            "component": "told",
            "failure_mode": "told_mode",
            "terms_digest": "digest",
        }
    )
    rows["weight"] = rows["stands_for"] * whole / seen.where(seen > 0)
    rows["told_danger"] = rows["safety"] == "yes"
    rows["danger_judged"] = rows["true_danger"].notna()
    rows["true_danger"] = rows["true_danger"].fillna(_in_pairs(rows)).astype(bool)
    in_sight = rows["is_in_sight"].astype(bool)
    sizes = (
        rows[in_sight]
        .groupby(["digest", "stratum"], as_index=False)
        .agg(claims=("stands_for", "sum"), drawn=("claim_no", "size"))
    )
    audit = Audit(
        rows=rows[in_sight & reviewed].reset_index(drop=True),
        sizes=sizes[sizes["digest"].isin(rows.loc[in_sight & reviewed, "digest"])],
    )
    if audit.digests:
        last = audit.of_version(audit.digests[-1])
        if last.n_audit >= _ENOUGH:
            return last
    return audit


def _in_pairs(rows: pd.DataFrame) -> pd.Series:
    """Tell whether the reviewed component and mode alone make a danger."""
    pairs = danger_pairs()
    told = zip(rows["true"], rows["true_mode"], strict=True)
    return pd.Series(
        [pair in pairs for pair in told], index=rows.index, dtype="boolean"
    )
