"""From a warehouse to the pack for a supplier: counted, drawn, looked through."""

from __future__ import annotations

from dataclasses import dataclass, replace

from claimlens.analysis.scope import Scope
from claimlens.classify.terms import Terms
from claimlens.db import Session
from claimlens.handover import ReportTables, figures_digest, workbook_bytes
from claimlens.handover.file_names import file_name_of
from claimlens.settings import Settings
from claimlens.version import __version__

__all__ = ["SupplierPack", "supplier_pack"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplierPack:
    """The pack for a supplier as it leaves.

    Parameters
    ----------
    file_name : str
        What the page is called where nobody names it.
    page : str
        One self-contained HTML page; empty where only the tables are wanted.
    tables : ReportTables
        What it tells, as raw data.
    workbook : bytes or None
        The tables as a workbook; None where it is not wanted.
    """

    file_name: str
    page: str
    tables: ReportTables
    workbook: bytes | None


def supplier_pack(
    session: Session,
    settings: Settings,
    scope: Scope,
    *,
    name: str,
    terms: Terms,
    with_page: bool = True,
    with_workbook: bool = True,
) -> SupplierPack:
    """Count, estimate, draw and render the pack, and look it through once more.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``, without filters.
    settings : Settings
        The workspace's.
    scope : Scope
        Cut-off in force.
    name : str
        The supplier.
    terms : Terms
        For the names of components.
    with_page, with_workbook : bool, default True
        What is wanted beside the tables.

    Returns
    -------
    SupplierPack

    Raises
    ------
    InputError
        If there is no such supplier.
    ReportError
        If something personal is left in what was made.
    """
    # what only this report needs takes long to load
    from claimlens.analysis.supplier_pack import supplier_inputs
    from claimlens.report.leaks import refuse_leaks
    from claimlens.report.supplier_data import supplier_tables

    inputs, redactor = supplier_inputs(
        session,
        settings,
        scope,
        name=name,
        terms=terms,
        version=__version__,
    )
    tables = supplier_tables(inputs)
    page = ""
    if with_page:
        figures = figures_digest(tables)
        inputs = replace(inputs, meta=replace(inputs.meta, figures=figures))
        from claimlens.charts import supplier as charts_of
        from claimlens.charts.embed import library_bundle
        from claimlens.report.supplier import render_supplier

        page = render_supplier(
            inputs, charts_of.build(inputs), library=library_bundle()
        )
    refuse_leaks(page, tables, redactor)
    known = f"-known-{scope.as_known}" if scope.as_known else ""
    return SupplierPack(
        file_name=(
            f"supplier-{file_name_of(inputs.supplier.casefold())}-{scope.as_of}{known}.html"
        ),
        page=page,
        tables=tables,
        workbook=workbook_bytes(tables) if with_workbook else None,
    )
