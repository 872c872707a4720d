"""What persons answer: claims handed out for review, and labels taken back."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from claimlens.analysis.label_map import orphans_among
from claimlens.analysis.question import Day, as_day
from claimlens.analysis.scope import open_known
from claimlens.answers import Answers
from claimlens.db import read_warehouse, write_warehouse
from claimlens.errors import InputError
from claimlens.handover import placing
from claimlens.review.agreement import DoubleReviews, compare_reviewers
from claimlens.review.apply import Applied, apply_review, held_labels
from claimlens.review.export import Exported, export_review
from claimlens.review.sample import Sizes

__all__ = ["Reviews"]


class Reviews(Answers):
    """The review of claims by persons."""

    def review_export(
        self,
        path: str | Path,
        *,
        queue: int | None = None,
        audit: int | None = None,
        again: int | None = None,
        as_of: Day = None,
        redraw: bool = False,
        overwrite: bool = False,
        wait: float = 0.0,
    ) -> Exported:
        """Write the claims worth a person's time as a workbook.

        The sample of a cut-off is drawn once and kept; asked for again, it gives
        the same rows and the same bytes.

        Parameters
        ----------
        path : str or Path
            Target, ending in .xlsx.
        queue : int, optional
            Dangerous, dear and unsure claims; 60 where nothing is said.
        audit : int, optional
            Claims drawn by chance from all the rest; 40 where nothing is said.
        again : int, optional
            In place of both: so many reviewed claims, drawn by chance, for a second
            reviewer.
        as_of : date, optional
            Cut-off; by default the last month-end not after the newest report.
        redraw : bool, default False
            Draw anew what was drawn before and has not come back.
        overwrite : bool, default False
            Whether the target may be replaced.
        wait : float, default 0
            Seconds to wait for another writer.

        Returns
        -------
        Exported
            Path, sample, and how many claims for which reason.

        Raises
        ------
        InputError
            If the target or a size does not go, or nothing is left to review.
        """
        target = Path(path)
        if target.suffix.lower() != ".xlsx":
            raise InputError(
                f"A review is a workbook; got the name {target.name!r}.",
                remedy="choose a name that ends in .xlsx",
            )
        with (
            placing(target, overwrite=overwrite) as write,
            write_warehouse(self.warehouse, wait=wait, limits=self._limits) as session,
        ):
            book, told = export_review(
                session,
                self.settings,
                self._terms,
                path=target,
                as_of=as_day(as_of),
                sizes=Sizes(queue=queue, audit=audit, again=again),
                redraw=redraw,
                learned=self._learned,
            )
            write(book)
        return told

    def review_apply(
        self,
        path: str | Path,
        *,
        reviewer: str | None = None,
        reviewed_on: Day = None,
        wait: float = 0.0,
    ) -> Applied:
        """Take the answers of a filled workbook back, all or none.

        Parameters
        ----------
        path : str or Path
            The workbook, as saved by any spreadsheet program.
        reviewer : str, optional
            Who answered, where a row names nobody.
        reviewed_on : date, optional
            When, where a row tells no day.
        wait : float, default 0
            Seconds to wait for another writer.

        Returns
        -------
        Applied
            What changed, and where reviewers differ.

        Raises
        ------
        SourceError
            If the file is no such workbook, or an answer is not right.
        """
        day = as_day(reviewed_on)
        with write_warehouse(self.warehouse, wait=wait, limits=self._limits) as session:
            return apply_review(
                session,
                self.settings,
                self._terms,
                path=Path(path),
                folder=self.folder,
                reviewer=reviewer,
                reviewed_on=day,
                learned=self._learned,
            )

    def review_conflicts(self) -> DoubleReviews:
        """Return where reviewers differ, with Cohen's kappa.

        Returns
        -------
        DoubleReviews
            Conflicts, one row a claim, and the agreement on component and mode.
        """
        with read_warehouse(self.warehouse, limits=self._limits) as session:
            open_known(session, None)
            return compare_reviewers(held_labels(session), self._terms.taxonomy)

    def review_orphans(self) -> pd.DataFrame:
        """Return the labels that name what is not in the taxonomy.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.label_map.orphans_among`.
        """
        with read_warehouse(self.warehouse, limits=self._limits) as session:
            open_known(session, None)
            return orphans_among(held_labels(session), self._terms.taxonomy)
