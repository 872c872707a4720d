"""Where two reviewers differ, and how far they agree beyond chance."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from claimlens.classify.taxonomy import Taxonomy
from claimlens.review.columns import CANNOT_TELL
from claimlens.stats.agreement import Agreement, cohen_kappa

__all__ = ["CONFLICT_COLUMNS", "DoubleReviews", "compare_reviewers"]

CONFLICT_COLUMNS = (
    "claim_no",
    *("first_reviewer", "first_reviewed_on", "first_component", "first_failure_mode"),
    *("last_reviewer", "last_reviewed_on", "last_component", "last_failure_mode"),
    "in_force",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubleReviews:
    """The claims that two persons or more have reviewed.

    Parameters
    ----------
    conflicts : DataFrame
        ``CONFLICT_COLUMNS``, one row a claim on which the first and the last
        answer differ; ``in_force`` is the component that counts.
    component : Agreement
        Of first and last answers, over all claims reviewed twice; an answer
        "cannot tell" is a class of its own.
    mode : Agreement
        Of component and failure mode together, where both gave a mode.
    """

    conflicts: pd.DataFrame
    component: Agreement
    mode: Agreement

    def text(self) -> str:
        """Return the agreement in two sentences; empty where nobody was second."""
        n = int(self.component.n)
        if n == 0:
            return ""
        lines = [f"reviewed by two: {n} claim{'' if n == 1 else 's'}"]
        for what, found in (
            ("component", self.component),
            ("component and failure mode", self.mode),
        ):
            if found.n:
                lines.append(f"  same {what}: {_sentence(found)}")
        return "\n".join(lines) + "\n"


def compare_reviewers(labels: pd.DataFrame, taxonomy: Taxonomy) -> DoubleReviews:
    """Compare the answers that several reviewers gave on the same claims.

    Parameters
    ----------
    labels : DataFrame
        The rows of ``marts/labels_held``: in each claim the earliest first.
    taxonomy : Taxonomy
        In force.

    Returns
    -------
    DoubleReviews
        Where more than two have reviewed a claim, the first and the last count.
    """
    components = _named(labels["component"], taxonomy.component_for)
    answers = labels.assign(
        component=[name or CANNOT_TELL for name in components],
        failure_mode=pd.array(
            _named(labels["failure_mode"], taxonomy.mode_for), dtype="str"
        ),
    ).astype({"component": "str"})
    several = answers[answers["claim_no"].duplicated(keep=False)]
    first = several.drop_duplicates("claim_no", keep="first").set_index("claim_no")
    last = several.drop_duplicates("claim_no", keep="last").set_index("claim_no")
    pairs = first.merge(
        last, left_index=True, right_index=True, suffixes=("_first", "_last")
    )
    one, other = pairs["component_first"], pairs["component_last"]
    mode, other_mode = pairs["failure_mode_first"], pairs["failure_mode_last"]
    both = mode.notna() & other_mode.notna()
    differs = one.ne(other) | (both & mode.ne(other_mode))
    return DoubleReviews(
        conflicts=_listed(
            pairs[differs], several[several["component"].isin(taxonomy.components)]
        ),
        component=cohen_kappa(_table(one, other)),
        mode=cohen_kappa(
            _table((one + " / " + mode)[both], (other + " / " + other_mode)[both])
        ),
    )


def _named(texts: pd.Series, known: Callable[[object], str | None]) -> list[str | None]:
    """Return words of the taxonomy; a text that it does not know stays as it is."""
    named = {
        text: known(text) or (text if isinstance(text, str) and text.strip() else None)
        for text in texts.unique()
    }
    return [named[text] for text in texts]


def _listed(differing: pd.DataFrame, telling: pd.DataFrame) -> pd.DataFrame:
    newest = telling.drop_duplicates("claim_no", keep="last")
    in_force = newest.set_index("claim_no")["component"]
    columns = {
        f"{when}_{name}": differing[f"{name}_{when}"]
        for when in ("first", "last")
        for name in ("reviewer", "reviewed_on", "component", "failure_mode")
    }
    listed = pd.DataFrame(columns).reset_index()
    listed["in_force"] = listed["claim_no"].map(in_force)
    return listed[list(CONFLICT_COLUMNS)]


def _table(first: pd.Series, last: pd.Series) -> np.ndarray:
    """Return the counts of both answers, classes in one order."""
    classes = sorted(set(first) | set(last)) or [""]
    table = pd.crosstab(first, last).reindex(
        index=classes, columns=classes, fill_value=0
    )
    return np.asarray(table.to_numpy(), dtype=np.int64)


def _sentence(found: Agreement) -> str:
    alike = round(found.agreement * found.n)
    said = f"{alike} of {int(found.n)} ({100 * found.agreement:.0f} %)"
    if found.note:
        return f"{said}, no kappa: {found.note}"
    lower, upper = found.interval
    return (
        f"{said}, Cohen's kappa {found.kappa:.2f} (95 % {lower:.2f} to {upper:.2f}; "
        f"s.e. {found.standard_error:.2f})"
    )
