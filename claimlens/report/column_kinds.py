"""What the columns of answers hold, by their names, and a table made from one."""

from __future__ import annotations

import pandas as pd

from claimlens.handover import Kind, Sheet

__all__ = ["kind_of", "make_sheet"]

_NAMES: dict[Kind, str] = {
    "text": (
        "component failure_mode class model models region regions supplier "
        "description level state why acknowledged_by acknowledged_why detail_of "
        "pattern verdict reason control side word language among means part currency "
        "kind count examples words_read other_parts lead_time_source generation "
        "source amiss usual_from every"
    ),
    "key": "claim_no serial part_no change_no file digest sha256 replaces lot "
    "newest_file",
    "note": "note",
    "flag": "mature restated beyond inside",
    "count": (
        "claims counted units units_failed units_old_enough repeats failures "
        "units_shipped units_claimed delay_months rows_read inserted updated "
        "unchanged superseded rejected flagged skipped_lines batch not_yet_failed "
        "texts recent_texts window_months months_back lag_claims first_shown "
        "last_shown observed reported actual so_far at_risk units_before "
        "claims_before units_after claims_after quantity_to_hold on_hand on_order "
        "order last_buy lead_time_days rows files "
        "usual_rows"
    ),
    "number": (
        "completed expected expected_after last_three last_year error "
        "error_last_three error_last_year monthly_error monthly_error_last_three "
        "monthly_error_last_year score80 score95 total effective_n demand_mean "
        "lower80 upper80 lower95 upper95 total_lower80 total_upper80 total_lower95 "
        "total_upper95 rate_per_thousand"
    ),
    "ratio": (
        "rate_ratio shrunk_ratio ratio factor factor_lower factor_upper multiple "
        "control_ratio control_lower control_upper shape shape_lower shape_upper "
        "ratio_without_bad_months upper_without_bad_months"
    ),
    "share": (
        "share share_reported rate plain_rate plain_lower plain_upper earlier_share "
        "inside80 inside95 bias field_share"
    ),
    "chance": "p_value p_error adjusted_p fit_p_value runs_out runs_out_at_half",
    "money": "cost amount unit_cost order_cost",
    "months": (
        "months at_months scale_months scale_lower scale_upper b1_months b1_lower "
        "b1_upper b10_months b10_lower b10_upper"
    ),
    "year": "model_year",
    "month": "month build_month from_month to_month",
    "date": (
        "since from_date to_date starts_on plausible_from plausible_to "
        "acknowledged_on acknowledged_until verdict_by as_of reported_on told_on "
        "known_on core_from core_to failed_on in_service_date build_date last_buy_until"
    ),
}
_KINDS: dict[str, Kind] = {
    name: kind for kind, names in _NAMES.items() for name in names.split()
}


def kind_of(name: str, values: pd.Series) -> Kind:
    """Return what a column of an answer holds.

    Parameters
    ----------
    name : str
        Of the column; the same name means the same in every answer.
    values : Series
        The type of these decides where the name is not known.

    Returns
    -------
    Kind
        As `claimlens.handover.Kind`.
    """
    known = _KINDS.get(name)
    if known is not None:
        return known
    kinds = pd.api.types
    if kinds.is_bool_dtype(values):
        return "flag"
    if kinds.is_integer_dtype(values):
        return "count"
    if kinds.is_numeric_dtype(values):
        return "number"
    return "date" if kinds.is_datetime64_any_dtype(values) else "text"


def make_sheet(
    id: str,
    title: str,
    frame: pd.DataFrame,
    *,
    basis: str,
    note: str = "",
    currency: str = "currency",
    **kinds: Kind,
) -> Sheet:
    """Return an answer as a table of a report.

    Parameters
    ----------
    id, title : str
        Name of its file, and what the rows are.
    frame : DataFrame
        All columns of the answer, in its order.
    basis : str
        Population, period and cut-off.
    note : str, optional
        Why it is empty, or what must be kept in mind.
    currency : str, optional
        Column with the currency of the amounts, or its code.
    **kinds
        What columns hold that mean something else in each answer, such as
        ``lower`` and ``upper``; ``limits`` stands for both.

    Returns
    -------
    Sheet
        Ready to leave.
    """
    limits = kinds.pop("limits", None)
    if limits is not None:
        kinds = {"lower": limits, "upper": limits, **kinds}
    return Sheet(
        id=id,
        title=title,
        basis=basis,
        frame=frame,
        kinds={
            str(name): kinds.get(str(name)) or kind_of(str(name), frame[name])
            for name in frame.columns
        },
        currency=currency,
        note=note,
    )
