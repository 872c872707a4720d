"""The frames of the monthly report: their columns, types and order of rows."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pandas as pd

from claimlens.errors import ReportError

__all__ = [
    "ARRIVAL_COLUMNS",
    "COLUMNS",
    "OPEN_COLUMNS",
    "RESERVE_COLUMNS",
    "RISING_COLUMNS",
    "SPARES_COLUMNS",
    "TO_COME_COLUMNS",
    "UNCLASSIFIED",
    "settle",
    "settled",
]

#: The component of claims where nothing decides; it has rows, but no panel.
UNCLASSIFIED = "unclassified"

_RATE_COLUMNS = (
    "units units_old_enough claims repeats rate lower upper effective_n "
    "plain_rate plain_lower plain_upper at_months mature note as_of"
)

#: Columns that each frame of ``MonthlyInputs`` must have; more may be there.
COLUMNS: dict[str, tuple[str, ...]] = {
    name: tuple(columns.split())
    for name, columns in {
        "claims_by_month": "month claims counted",
        "late_months": (
            "month claims share_reported completed lower upper first_shown "
            "last_shown restated note"
        ),
        "delays": "delay_months claims share_reported lower upper",
        "classes": "class claims",
        "ranking": "component claims units_failed repeats cost currency share",
        "rates_by_model_year": "component model_year " + _RATE_COLUMNS,
        "rates_by_component": "component " + _RATE_COLUMNS,
        "build_months": (
            "component build_month units claims rate lower upper mature at_months note"
        ),
        "curves": "component months share lower upper at_risk mature",
        "life": (
            "component units failures shape shape_lower shape_upper scale_months "
            "scale_lower scale_upper b1_months b1_lower b1_upper b10_months "
            "b10_lower b10_upper pattern fit_p_value note as_of"
        ),
        "life_points": "component months share lower upper",
        "life_line": "component months share lower upper beyond",
        "predelivery": "model units_shipped claims rate_per_thousand lower upper",
        "account": (
            "file kind rows_read inserted updated unchanged superseded rejected "
            "flagged skipped_lines batch"
        ),
    }.items()
}

#: Columns that each frame of ``Rising`` must have; more may be there.
RISING_COLUMNS: dict[str, tuple[str, ...]] = {
    name: tuple(columns.split())
    for name, columns in {
        "signals": (
            "component model level state since from_date to_date rate_ratio lower "
            "upper claims expected units cost currency models regions why "
            "acknowledged_by acknowledged_on acknowledged_why acknowledged_until "
            "detail_of note"
        ),
        "signal_months": "component model month observed expected level",
        "blind_spots": "component model expected multiple",
        "windows": (
            "component model from_date to_date rate_ratio lower upper p_value "
            "adjusted_p units claims expected not_yet_failed plausible_from "
            "plausible_to note"
        ),
        "window_months": "component month units observed expected inside",
        "design_changes": (
            "change_no component model description starts_on at_months units_before "
            "claims_before units_after claims_after expected_after rate_ratio lower "
            "upper verdict reason control control_ratio control_lower control_upper "
            "verdict_by note"
        ),
        "change_curves": "change_no side months share",
        "rising_words": (
            "word language texts recent_texts share earlier_share ratio adjusted_p "
            "window_months among means examples note"
        ),
    }.items()
}

_BANDS = "lower80 upper80 lower95 upper95"
_LIMITS = tuple(_BANDS.split())

#: Columns that each frame of ``ToCome`` must have; more may be there.
TO_COME_COLUMNS: dict[str, tuple[str, ...]] = {
    name: tuple(columns.split())
    for name, columns in {
        "claims_so_far": "month reported",
        "months_to_come": (
            f"month so_far expected {_BANDS} total total_lower80 total_upper80 "
            "total_lower95 total_upper95"
        ),
        "components_to_come": f"component reported expected {_BANDS} cost currency",
        "backtests": (
            f"months_back from_month to_month expected actual {_BANDS} error "
            "error_last_three error_last_year inside80 inside95 verdict"
        ),
        "backtest_months": (
            f"months_back month expected {_BANDS} last_three last_year actual"
        ),
    }.items()
}

#: Columns that each frame of ``Reserve`` must have; more may be there.
RESERVE_COLUMNS: dict[str, tuple[str, ...]] = {
    "reserve_years": (
        *["model_year", "part", "claims", "amount", "currency"],
        *_LIMITS,
    ),
    "reserve_all": (*["part", "claims", "amount", "currency"], *_LIMITS),
}

#: Columns that the frame of ``SpareParts`` must have; more may be there.
SPARES_COLUMNS: dict[str, tuple[str, ...]] = {
    "spare_parts": (
        *("part_no", "description", "component", "lead_time_days", "demand_mean"),
        *("quantity_to_hold", "unit_cost", "currency", "note"),
    )
}

#: Columns that each frame of ``OpenClaims`` must have; more may be there.
OPEN_COLUMNS: dict[str, tuple[str, ...]] = {
    "waiting": (
        *("waits_for", "days", "currency", "claims", "off_road"),
        *("requested_claims", "requested"),
    ),
    "decided": (
        *("span", "currency", "decided", "told", "denied", "cut"),
        *("requested", "approved"),
    ),
}

#: Columns that the frame of ``Arrivals`` must have; more may be there.
ARRIVAL_COLUMNS: dict[str, tuple[str, ...]] = {
    "sources": (
        *("source", "kind", "files", "newest_file", "known_on", "rows"),
        *("usual_rows", "usual_from", "every", "state"),
    )
}

_ACCOUNT_COUNTS = COLUMNS["account"][2:-1]
_LIFE_FIGURES = COLUMNS["life"][3:15]
_COUNTS = frozenset(
    {
        *("claims", "counted", "units", "units_failed", "units_old_enough"),
        *("repeats", "failures", "units_shipped", "delay_months", *_ACCOUNT_COUNTS),
        *("not_yet_failed", "texts", "recent_texts", "window_months"),
        *("months_back", "days", "off_road", "requested_claims"),
        *("decided", "told", "denied", "cut"),
        "files",
    }
)
_FIGURES = frozenset(
    {
        *("share", "cost", "rate", "lower", "upper", "effective_n"),
        *("plain_rate", "plain_lower", "plain_upper", "at_months", "months"),
        *("at_risk", "fit_p_value", "rate_per_thousand", "model_year"),
        *("share_reported", "completed", "first_shown", "last_shown"),
        *_LIFE_FIGURES,
        *("rate_ratio", "observed", "expected", "multiple", "p_value", "adjusted_p"),
        *("units_before", "claims_before", "units_after", "claims_after"),
        *("expected_after", "control_ratio", "control_lower", "control_upper"),
        *("earlier_share", "ratio", "reported", "actual", "last_three", "last_year"),
        *("error", "error_last_three", "error_last_year", "inside80", "inside95"),
        *TO_COME_COLUMNS["months_to_come"][1:],
        *("requested", "approved"),
        *("amount", "lead_time_days", "demand_mean", "quantity_to_hold", "unit_cost"),
        *("rows", "usual_rows"),
    }
)
_FLAGS = frozenset({"mature", "restated", "beyond", "inside"})
_DATES = frozenset(
    {
        *("month", "build_month", "since", "from_date", "to_date", "starts_on"),
        *("plausible_from", "plausible_to", "acknowledged_on", "acknowledged_until"),
        *("verdict_by", "from_month", "to_month", "known_on"),
    }
)
_TEXTS = frozenset(
    {
        *("component", "class", "model", "note", "file", "kind", "level", "state"),
        *("models", "regions", "why", "acknowledged_by", "acknowledged_why"),
        *("detail_of", "change_no", "description", "verdict", "reason", "control"),
        *("side", "word", "language", "among", "means", "examples"),
        *("part", "part_no", "waits_for", "span"),
        *("source", "newest_file", "usual_from", "every"),
    }
)
_ALL = (
    ARRIVAL_COLUMNS
    | COLUMNS
    | RISING_COLUMNS
    | TO_COME_COLUMNS
    | RESERVE_COLUMNS
    | SPARES_COLUMNS
    | OPEN_COLUMNS
)
# expected claims are no whole numbers
_EXPECTED_CLAIMS = frozenset(RESERVE_COLUMNS)
# rows are set in this order, so that no byte depends on how they arrived
_ORDER = (
    *(
        "change_no",
        "side",
        "months_back",
        "component",
        "model",
        "currency",
        "model_year",
        "month",
        "build_month",
    ),
    *("at_months", "months", "delay_months"),
)
# the order of these is the sender's to choose
_AS_GIVEN = frozenset(
    {
        *("classes", "account", "signals", "windows", "design_changes"),
        *("rising_words", "components_to_come", "reserve_all"),
        *("reserve_years", "spare_parts", "waiting", "decided", "sources"),
    }
)


def settle(owner: object, columns: Mapping[str, tuple[str, ...]]) -> None:
    """Check and settle every frame of a frozen value.

    Parameters
    ----------
    owner : object
        Has one frame a name.
    columns : mapping of str to tuple of str
        Columns that each frame must have.

    Raises
    ------
    ReportError
        If one lacks a column or holds a value of the wrong kind.
    """
    for name, wanted in columns.items():
        frame: pd.DataFrame = getattr(owner, name)
        missing = [column for column in wanted if column not in frame.columns]
        if missing:
            raise ReportError(
                f"The frame {name} lacks {', '.join(missing)}.",
                source="monthly report",
                column=missing[0],
                remedy="hand over every column that COLUMNS names",
            )
        # the frozen field gets the same rows with settled types
        object.__setattr__(owner, name, settled(name, frame))


def settled(name: str, frame: pd.DataFrame) -> pd.DataFrame:
    """Return a copy whose columns have one known type each.

    Counts are int64, figures float64 with NaN for what can't be estimated or
    is open, flags bool, dates datetime64, texts without missing values.
    """
    result = frame.copy()
    known = _ALL[name]
    for column in known:
        values = result[column]
        try:
            if column in _COUNTS and name not in _EXPECTED_CLAIMS:
                # half-units of the sales lag are rounded, not cut
                result[column] = pd.Series(
                    [round(value) for value in values],
                    index=result.index,
                    dtype="int64",
                )
            elif column in _FIGURES or column in _COUNTS:
                result[column] = pd.Series(
                    [_figure(value) for value in values],
                    index=result.index,
                    dtype="float64",
                )
            elif column in _FLAGS:
                result[column] = values.fillna(value=False).astype(bool)
            elif column in _DATES:
                result[column] = pd.to_datetime(values)
            elif column == "currency":
                codes = [None if pd.isna(code) else code or None for code in values]
                result[column] = pd.Series(codes, index=result.index, dtype="str")
            elif column in _TEXTS:
                texts = ["" if pd.isna(value) else str(value) for value in values]
                result[column] = pd.Series(texts, index=result.index, dtype="str")
        except (TypeError, ValueError) as error:
            raise ReportError(
                f"The column {column} of {name} holds a value of the wrong kind: "
                f"{error}.",
                source="monthly report",
                column=column,
                remedy="hand over counts as whole numbers and figures as numbers",
            ) from error
    keys = [key for key in _ORDER if key in known]
    if name not in _AS_GIVEN:
        result = result.sort_values(keys, kind="stable")
    return result.reset_index(drop=True)


def _figure(value: object) -> float:
    """Return a number; NaN for missing and for infinite ones."""
    if value is None or value is pd.NA:
        return math.nan
    number = float(str(value))
    return number if math.isfinite(number) else math.nan
