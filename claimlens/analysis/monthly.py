"""Everything that the monthly report shows, counted and estimated."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import pandas as pd

from claimlens.analysis.arrivals import arrivals
from claimlens.analysis.events import put_events
from claimlens.analysis.figures import figures, no_figures
from claimlens.analysis.late import Report, delay_shares, late_months
from claimlens.analysis.late_counts import LateCounts, backlogs
from claimlens.analysis.late_months import months_back
from claimlens.analysis.late_reports import count_now
from claimlens.analysis.late_shares import WINDOW, tell
from claimlens.analysis.money import in_report_currency
from claimlens.analysis.monthly_open import open_inputs
from claimlens.analysis.monthly_outstanding import MonthAhead
from claimlens.analysis.monthly_rising import rising_inputs
from claimlens.analysis.quality import accuracy_of_all
from claimlens.analysis.rates import predelivery
from claimlens.analysis.report_meta import read_batches, report_meta
from claimlens.analysis.scope import Scope
from claimlens.analysis.signals import Judged
from claimlens.analysis.supplier_answers import supplier_answers
from claimlens.classify.terms import Terms
from claimlens.db import Session
from claimlens.monthly_inputs import (
    AuditedShare,
    Changes,
    LateReports,
    MadeBy,
    Money,
    MonthCounts,
    MonthlyInputs,
    Quality,
    SafetyClaim,
    ShownCounts,
    Thresholds,
)
from claimlens.settings import Settings

__all__ = ["monthly_inputs"]


def monthly_inputs(
    session: Session,
    settings: Settings,
    scope: Scope,
    *,
    terms: Terms,
    version: str,
    ahead: Callable[[Session, Scope], MonthAhead],
    last_made: MadeBy | None = None,
    earlier: Callable[[], Sequence[Report]] = tuple,
    judged: Judged | None = None,
) -> MonthlyInputs:
    """Gather the inputs of the monthly report.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        The workspace's.
    scope : Scope
        Cut-off in force.
    terms : Terms
        For the taxonomy that reviewed labels speak in.
    version : str
        Version of claimlens, for the foot of the page.
    ahead : callable
        Tells what is to come, with this session or without; called last.
    last_made : MadeBy, optional
        What the newest report before this one was made with.
    earlier : callable, optional
        Tells what the reports before this one showed.
    judged : Judged, optional
        The production at that cut-off, where it was judged already.

    Returns
    -------
    MonthlyInputs
        Frames and scalars, the same for the same warehouse and settings.
    """
    numbers = (
        figures(session, settings, scope)
        if session.count("int_units")
        else no_figures()
    )
    # the months count first failures of each component
    put_events(session, settings)
    costs = in_report_currency(
        session.frame("marts/component_costs"), settings.currency
    )
    classes = session.frame("marts/claim_classes")
    batches = read_batches(session, scope)
    months = _Months(session, settings, scope, costs)
    now = count_now(session, scope)
    open_claims = open_inputs(session, settings, scope)
    answers = supplier_answers(session, scope)
    shown = earlier()
    return MonthlyInputs(
        meta=replace(
            report_meta(settings, scope, batches, terms=terms, version=version),
            last_made=last_made,
        ),
        thresholds=Thresholds(
            unclassified_share=settings.report.unclassified_share,
            open_days=settings.report.open_days,
        ),
        changes=months.changes(_last_shown(shown, scope)),
        quality=_quality(session, settings, scope, terms),
        arrivals=arrivals(
            session, settings, as_of=scope.as_of, as_known=scope.as_known
        ),
        claims_read=int(classes["n_claims"].sum()),
        claims_by_month=months.by_month(),
        late=_late_reports(session, settings, scope, now),
        late_months=late_months(now, shown, settings, scope),
        delays=delay_shares(now, settings, scope),
        classes=classes.rename(columns={"claim_class": "class", "n_claims": "claims"}),
        ranking=_ranking(costs, numbers.events),
        rates_by_model_year=numbers.by_model_year,
        rates_by_component=numbers.by_component,
        build_months=numbers.by_build_month,
        curves=numbers.curves,
        life=numbers.lives,
        life_points=numbers.points,
        life_line=numbers.line,
        predelivery=predelivery(session, settings, scope),
        account=batches.drop(columns="sha256"),
        # last: they leave their own tables of events, builds and units
        rising=rising_inputs(session, settings, scope, terms, judged),
        to_come=(coming := ahead(session, scope)).to_come,
        reserve=coming.reserve,
        spares=coming.spares,
        open_claims=open_claims,
        answers=answers,
    )


def _last_shown(earlier: Sequence[Report], scope: Scope) -> ShownCounts | None:
    """Return the month before as its report showed it."""
    end = _month_start(scope.as_of) - timedelta(days=1)
    for report, counts in earlier:
        # months that end within one of the calendar have no such report
        if report.months_ago == 1 and report.as_of == end and counts is not None:
            return counts.shown
    return None


def _late_reports(
    session: Session, settings: Settings, scope: Scope, now: LateCounts
) -> LateReports:
    told = tell(now.frame, settings)
    return LateReports(
        claims=told.n_claims,
        fewest=settings.rates.lag_claims,
        undated_share=told.undated,
        speed_changed=told.speed_changed,
        backlogs=backlogs(session, months_back(scope.as_of, WINDOW)),
    )


def _month_start(day: date) -> date:
    return day.replace(day=1)


def _month_before(day: date) -> date:
    return _month_start(_month_start(day) - timedelta(days=1))


@dataclass(frozen=True, slots=True)
class _Months:
    """Counts of calendar months."""

    session: Session
    settings: Settings
    scope: Scope
    costs: pd.DataFrame

    def changes(self, last_shown: ShownCounts | None) -> Changes:
        """Return this month and the one before, and what stands out."""
        start = _month_start(self.scope.as_of)
        before = _month_before(start)
        this, too_long = self._month(start, self.scope.as_of)
        last, _ = self._month(before, start - timedelta(days=1))
        first = self.costs["month"].min()
        has_before = pd.notna(first) and first.date() <= before
        leaders, earlier = self._leaders(start), self._leaders(before)
        safety = self.session.frame(
            "marts/safety_claims", {"month_start": start, "month_end": self.scope.as_of}
        )
        return Changes(
            this_month=this,
            last_month=last if has_before else None,
            new_in_top_five=tuple(
                name for name in leaders if name not in earlier and has_before
            ),
            safety_claims=tuple(
                _safety_claim(row) for row in safety.to_dict("records")
            ),
            open_too_long=too_long,
            last_shown=last_shown if has_before else None,
        )

    def _month(self, start: date, end: date) -> tuple[MonthCounts, int]:
        days = timedelta(days=self.settings.report.open_days)
        row = self.session.frame(
            "marts/month_state",
            {"month_start": start, "month_end": end, "open_since": end - days},
        ).iloc[0]
        here = self.costs[self.costs["month"] == pd.Timestamp(start)]
        sums = here[here["currency"] != ""].groupby("currency")["cost"].sum()
        return (
            MonthCounts(
                month=start,
                claims_reported=int(row["n_reported"]),
                first_failures=int(row["n_first_failures"]),
                open_claims=int(row["n_open"]),
                units_in_service=round(float(row["n_units"])),
                cost=tuple(
                    Money(float(amount), str(currency))
                    for currency, amount in sums.items()
                ),
            ),
            int(row["n_open_too_long"]),
        )

    def _leaders(self, month: date) -> list[str]:
        """Return the five components with most claims of a month."""
        here = self.costs[
            (self.costs["month"] == pd.Timestamp(month))
            & (self.costs["component"] != "unclassified")
        ]
        claims = here.groupby("component")["n_claims"].sum()
        order = claims.sort_values(ascending=False, kind="stable")
        return [str(name) for name in order.index[:5]]

    def by_month(self) -> pd.DataFrame:
        """Return claims by month of report, gapless."""
        seen = self.session.frame("marts/claims_by_month")
        seen = seen[seen["n_reported"].cumsum() > 0]
        if seen.empty:
            return pd.DataFrame(columns=["month", "claims", "counted"])
        months = pd.date_range(
            seen["month"].min(), pd.Timestamp(self.scope.as_of), freq="MS"
        )
        table = seen.set_index("month").reindex(months, fill_value=0)
        return pd.DataFrame(
            {
                "month": months,
                "claims": table["n_reported"].to_numpy(),
                "counted": table["n_counted"].to_numpy(),
            }
        )


def _safety_claim(row: Mapping[Hashable, Any]) -> SafetyClaim:
    return SafetyClaim(
        claim_no=row["claim_no"],
        serial="" if pd.isna(row["serial"]) else row["serial"],
        component=row["component"],
        failure_mode=row["failure_mode"],
        reported_on=row["reported_on"].date(),
        told_on=row["told_on"].date(),
        words_read=row["words_read"],
        why=row["why"],
    )


def _ranking(costs: pd.DataFrame, events: pd.DataFrame) -> pd.DataFrame:
    """Return claims, failed units, repeats and cost by component and currency."""
    claims = costs.groupby("component")["n_claims"].sum()
    is_first = events["is_first"].astype(bool)
    firsts = events[is_first].groupby("component")["n"].sum()
    repeats = events[~is_first].groupby("component")["n"].sum()
    known = costs[costs["currency"] != ""]
    table = known.groupby(["component", "currency"], as_index=False)["cost"].sum()
    bare = [name for name in claims.index if name not in set(table["component"])]
    extra = pd.DataFrame({"component": bare, "currency": "", "cost": 0.0})
    table = pd.concat([table, extra], ignore_index=True)
    table["claims"] = table["component"].map(claims).astype(int)
    table["units_failed"] = _whole(table["component"].map(firsts))
    table["repeats"] = _whole(table["component"].map(repeats))
    table["share"] = table["claims"] / claims.sum()
    return table.sort_values(
        ["claims", "component", "currency"], ascending=[False, True, True]
    ).reset_index(drop=True)


def _whole(values: pd.Series) -> pd.Series:
    return values.fillna(0).round().astype(int)


def _quality(
    session: Session, settings: Settings, scope: Scope, terms: Terms
) -> Quality:
    row = session.frame("marts/quality_counts", {"as_of": scope.as_of}).iloc[0]
    reasons = session.frame("marts/reason_counts")
    claims = int(row["n_claims"])
    lists: Mapping[str, tuple[tuple[str, int], ...]] = {
        name: tuple(
            (str(reason), int(n))
            for reason, n in zip(part["reason"], part["n_rows"], strict=True)
        )
        for name, part in reasons.groupby("list")
    }
    counted = int(row["n_counted"])
    unknown = int(row["n_unknown_serial"])
    undated = 0 if pd.isna(row["n_undated_units"]) else int(row["n_undated_units"])
    return Quality(
        unclassified_claims=int(row["n_unclassified"]),
        unclassified_share=int(row["n_unclassified"]) / claims if claims else None,
        flags=lists.get("flag", ()),
        rejects=lists.get("reject", ()),
        undated_units=undated,
        undated_claims=int(row["n_undated_claims"]),
        undated_method=_lag_words(undated, scope.n_lag_units),
        unknown_serial_claims=unknown,
        unknown_serial_bound=unknown / counted if counted else None,
        units=0 if pd.isna(row["n_units"]) else int(row["n_units"]),
        accuracy=_accuracy(session, settings, terms),
    )


def _accuracy(
    session: Session, settings: Settings, terms: Terms
) -> AuditedShare | None:
    found = accuracy_of_all(session, settings, terms)
    if found is None:
        return None
    return AuditedShare(
        share=found.value,
        lower=found.lower,
        upper=found.upper,
        audited=found.n_audit,
        note=found.note,
    )


def _lag_words(undated: int, n_lag_units: int) -> str:
    if not undated:
        return "Every unit has its in-service date."
    if not n_lag_units:
        return (
            "No unit has both dates, so those without an in-service date are left out."
        )
    return (
        "Their in-service dates are spread over the sales lag of the "
        f"{n_lag_units:,} units that have both dates, corrected for units not sold by "
        "the cut-off."
    )
