"""The reports of a workspace: pages, and their tables as raw data."""

from __future__ import annotations

from pathlib import Path

from claimlens import dossier, placing
from claimlens.analysis.question import Day, ask
from claimlens.handover import ReportTables, make_private
from claimlens.handover.file_names import file_name_of
from claimlens.language import Language
from claimlens.months import Months
from claimlens.pack import supplier_pack
from claimlens.runs import remember

__all__ = ["Reports"]


class Reports(Months):
    """What a workspace reports.

    Parameters
    ----------
    folder : Path
        Holds the warehouse.
    settings : Settings
        Rules and limits.
    """

    def report_monthly(
        self,
        path: str | Path | None = None,
        *,
        as_of: Day = None,
        as_known: Day = None,
        overwrite: bool = False,
        workbook: bool = True,
        language: Language | None = None,
    ) -> Path:
        """Write the monthly report, and its tables as a workbook beside it.

        Parameters
        ----------
        path : str or Path, optional
            Target; by default ``out/monthly-YYYY-MM-DD.html`` of the cut-off
            (with the known-by date behind it), replacing its earlier version.
        as_of, as_known : date, optional
            Cut-off and known-by date.
        overwrite : bool, default False
            Whether a named target may be replaced.
        workbook : bool, default True
            Whether to write the workbook; it has the name of the page with the
            ending ``.xlsx``.
        language : {"en", "de", "fr"}, optional
            That of the page; by default the one of the settings.

        Returns
        -------
        Path
            The page written.
        """
        target = None if path is None else Path(path)
        if target is not None:
            placing.check_report(target, with_workbook=workbook, overwrite=overwrite)
        question = ask(as_of=as_of, as_known=as_known)
        report, usual = self._make_report(
            question, workbook=workbook, language=language
        )
        page = target or usual
        if target is None:
            make_private(self.out)
        placing.place_report(
            page,
            report.page,
            report.workbook,
            overwrite=overwrite or target is None,
        )
        if target is None:
            written = (page, page.with_suffix(".xlsx")) if workbook else (page,)
            remember(self.out, written)
        return page

    def monthly_tables(
        self, *, as_of: Day = None, as_known: Day = None
    ) -> ReportTables:
        """Return every table of the monthly report as raw data.

        Parameters
        ----------
        as_of, as_known : date, optional
            Cut-off and known-by date.

        Returns
        -------
        ReportTables
            Sheets with their frames, ids, captions and kinds of columns.
        """
        return self._month_tables(ask(as_of=as_of, as_known=as_known))

    def write_monthly_tables(
        self,
        folder: str | Path,
        form: placing.TableForm = "csv",
        *,
        as_of: Day = None,
        as_known: Day = None,
        overwrite: bool = False,
    ) -> tuple[Path, ...]:
        """Write each table of the monthly report to a file of its own.

        Parameters
        ----------
        folder : str or Path
            Made where it is not there.
        form : {"csv", "json", "parquet"}, default "csv"
            How they are written.
        as_of, as_known : date, optional
            Cut-off and known-by date.
        overwrite : bool, default False
            Whether files that are there may be replaced.

        Returns
        -------
        tuple of Path
            The files: the list of contents first, each table by its id, then the
            list of columns and the definitions.
        """
        placing.check_tables(Path(folder), form, overwrite=overwrite)
        tables = self.monthly_tables(as_of=as_of, as_known=as_known)
        return placing.write_tables(tables, Path(folder), form, overwrite=overwrite)

    def report_component(
        self,
        name: str,
        path: str | Path | None = None,
        *,
        as_of: Day = None,
        as_known: Day = None,
        overwrite: bool = False,
        internal: bool = False,
        workbook: bool = True,
    ) -> Path:
        """Write the dossier of one component, and its tables as a workbook.

        Parameters
        ----------
        name : str
            The component; any spelling that the taxonomy knows.
        path : str or Path, optional
            Target; by default ``out/component-NAME-YYYY-MM-DD.html`` of the cut-off
            (with the known-by date behind it), replacing its earlier version.
        as_of, as_known : date, optional
            Cut-off and known-by date.
        overwrite : bool, default False
            Whether a named target may be replaced.
        internal : bool, default False
            Keep texts, serials and names as they are: such a page must not leave
            the company, and its name ends in ``-internal``.
        workbook : bool, default True
            Whether to write the workbook; it has the name of the page with the
            ending ``.xlsx``.

        Returns
        -------
        Path
            The page written.

        Raises
        ------
        InputError
            If there is no such component, or the target is there already.
        """
        target = None if path is None else Path(path)
        if target is not None:
            placing.check_report(target, with_workbook=workbook, overwrite=overwrite)
        question = ask(as_of=as_of, as_known=as_known)
        report = dossier.component_report(
            self._reading,
            self.settings,
            question,
            component=name,
            terms=self._terms,
            internal=internal,
            with_workbook=workbook,
        )
        if target is None:
            known = f"-known-{question.as_known}" if question.as_known else ""
            inside = "-internal" if internal else ""
            file = f"component-{file_name_of(report.component)}-{report.as_of}{known}"
            target, overwrite = self.out / f"{file}{inside}.html", True
            make_private(self.out)
        placing.place_report(target, report.page, report.workbook, overwrite=overwrite)
        return target

    def component_tables(
        self,
        name: str,
        *,
        as_of: Day = None,
        as_known: Day = None,
        internal: bool = False,
    ) -> ReportTables:
        """Return every table of the dossier of one component as raw data.

        Parameters
        ----------
        name : str
            The component.
        as_of, as_known : date, optional
            Cut-off and known-by date.
        internal : bool, default False
            Keep serials and names as they are.

        Returns
        -------
        ReportTables
            Sheets with their frames, ids, captions and kinds of columns.
        """
        return dossier.component_report(
            self._reading,
            self.settings,
            ask(as_of=as_of, as_known=as_known),
            component=name,
            terms=self._terms,
            internal=internal,
            with_page=False,
            with_workbook=False,
        ).tables

    def report_supplier(
        self,
        name: str,
        path: str | Path | None = None,
        *,
        as_of: Day = None,
        as_known: Day = None,
        overwrite: bool = False,
        workbook: bool = True,
    ) -> Path:
        """Write the pack for a supplier, and the claims behind it as a workbook.

        Parameters
        ----------
        name : str
            The supplier.
        path : str or Path, optional
            Target; by default ``out/supplier-NAME-YYYY-MM-DD.html`` of the cut-off
            (with the known-by date behind it), replacing its earlier version.
        as_of, as_known : date, optional
            Cut-off and known-by date.
        overwrite : bool, default False
            Whether a named target may be replaced.
        workbook : bool, default True
            Whether to write the workbook; it has the name of the page with the
            ending ``.xlsx``.

        Returns
        -------
        Path
            The page written.

        Raises
        ------
        InputError
            If there is no such supplier, or the target is there already.
        ReportError
            If something personal would be left in it.
        """
        target = None if path is None else Path(path)
        if target is not None:
            placing.check_report(target, with_workbook=workbook, overwrite=overwrite)
        question = ask(as_of=as_of, as_known=as_known)
        with self._reading(question) as (session, scope):
            pack = supplier_pack(
                session,
                self.settings,
                scope,
                name=name,
                terms=self._terms,
                with_workbook=workbook,
            )
        if target is None:
            target, overwrite = self.out / pack.file_name, True
            make_private(self.out)
        placing.place_report(target, pack.page, pack.workbook, overwrite=overwrite)
        return target

    def supplier_tables(
        self, name: str, *, as_of: Day = None, as_known: Day = None
    ) -> ReportTables:
        """Return every table of the pack for a supplier as raw data.

        Parameters
        ----------
        name : str
            The supplier.
        as_of, as_known : date, optional
            Cut-off and known-by date.

        Returns
        -------
        ReportTables
            Free of personal data, as the page.
        """
        with self._reading(ask(as_of=as_of, as_known=as_known)) as (session, scope):
            return supplier_pack(
                session,
                self.settings,
                scope,
                name=name,
                terms=self._terms,
                with_page=False,
                with_workbook=False,
            ).tables
