"""What asks for a decision: what, how sure, what waiting costs, who acts.

Each rule is one function from the inputs to decisions. A decision states its
figure with its interval or says how often chance does the same; what waiting
costs is said where it is known, and that it is not known where it is not.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from claimlens.monthly_inputs import MonthlyInputs
from claimlens.report import formats
from claimlens.report.fault_decisions import fault_decisions
from claimlens.report.findings import join_words, money_text, opened
from claimlens.report.late_section import undated_failures
from claimlens.report.open_section import requested_late
from claimlens.report.supplier_answers_section import overdue_answers
from claimlens.report.to_come_sentences import missed_sentence
from claimlens.report.view import DecisionView
from claimlens.report.waiting import component_to_come, role

__all__ = ["Decisions", "danger", "decisions"]

# so many are read; more are looked up
_MOST = 6
_NAMED = 4
_NOT_KNOWN = "Not known: it depends on what comes out."
_COUNTED = "Certain: these are counted."


@dataclass(frozen=True, slots=True)
class Decisions:
    """What asks for a decision, gravest first.

    Parameters
    ----------
    now : tuple of DecisionView
        What the month must decide, six at most.
    later : tuple of DecisionView
        What can wait: keeping house, and what no longer costs much.
    """

    now: tuple[DecisionView, ...]
    later: tuple[DecisionView, ...]


def decisions(inputs: MonthlyInputs) -> Decisions:
    """Return what needs a decision; both lists are empty where nothing does.

    Parameters
    ----------
    inputs : MonthlyInputs
        Dangers are not among them: they stand above, see `danger`.
    """
    faults, past = fault_decisions(inputs)
    now = [
        *faults,
        *_worse_changes(inputs),
        *_missed(inputs),
        *_no_units(inputs),
        *_unclassified(inputs),
        *_open_too_long(inputs),
        *overdue_answers(inputs),
        *past,
    ]
    later = [
        *now[_MOST:],
        *_new_in_top_five(inputs),
        *_undated(inputs),
        *_unknown_serials(inputs),
        *_rejected(inputs),
    ]
    return Decisions(tuple(now[:_MOST]), tuple(later))


def _number(value: float, one: str, many: str) -> str:
    return f"{formats.count(value)} {one if value == 1 else many}"


def danger(inputs: MonthlyInputs) -> DecisionView | None:
    """Return what claims that tell of a danger ask for; None where none does."""
    claims = inputs.changes.safety_claims
    if not claims:
        return None
    seen = Counter(claim.component for claim in claims).most_common()
    named = [f"{name} ({number})" for name, number in sorted(seen, key=_most_first)]
    if len(named) > _NAMED + 1:
        rest = _number(len(named) - _NAMED, "more component", "more components")
        named = [*named[:_NAMED], rest]
    noun = "claim tells" if len(claims) == 1 else "claims tell"
    return DecisionView(
        sign="▲",
        what=f"{formats.count(len(claims))} {noun} of a danger: {join_words(named)}.",
        sure=(
            "Read in texts and findings by their words; nobody has judged them yet. "
            "Some will be harmless: treat none so until it was looked at."
        ),
        waiting=(
            "Somebody may be hurt. Nobody rides or charges such a unit until a "
            "qualified technician has looked at it; tell the owner so."
        ),
        who=(
            f"{role(inputs, 'quality')} and {role(inputs, 'management').lower()}, "
            "today: decide whether owners must be warned, and whether local law asks "
            "for a report to an authority."
        ),
        where="dangers",
        where_text=(
            "The claim, and all cautions"
            if len(claims) == 1
            else f"The {formats.count(len(claims))} claims, and all cautions"
        ),
    )


def _most_first(item: tuple[str, int]) -> tuple[int, str]:
    return (-item[1], item[0])


def _worse_changes(inputs: MonthlyInputs) -> Iterator[DecisionView]:
    frame = inputs.rising.design_changes
    for row in frame[frame["verdict"].isin(["worse", "unchanged"])].to_dict("records"):
        is_worse = row["verdict"] == "worse"
        said = "made it worse" if is_worse else "changed nothing that counts"
        after = formats.count(row["units_after"])
        yield DecisionView(
            sign="◇",
            what=f"{opened(row['component'])}: the change {row['change_no']} {said}.",
            sure=(
                f"The rate since is {formats.ratio(row['rate_ratio'])} times that "
                f"before ({formats.ratio(row['lower'], 'lower')} to "
                f"{formats.ratio(row['upper'], 'upper')}; "
                f"{formats.count(row['claims_after'])} failures in {after} units)."
            ),
            waiting=f"{component_to_come(inputs, str(row['component']))}.",
            who=(
                f"{role(inputs, 'quality')}: "
                + ("stop or undo it." if is_worse else "look for another remedy.")
            ),
            where="engineering-changes",
        )


def _missed(inputs: MonthlyInputs) -> Iterator[DecisionView]:
    missed = missed_sentence(inputs)
    if missed:
        yield DecisionView(
            what="Last year's forecast missed: plan neither money nor parts on this "
            "year's before it is known why.",
            sure=missed,
            waiting="Not known: the money and parts planned may be wrong by as much.",
            who=f"{role(inputs, 'management')}, with {role(inputs, 'quality').lower()}:"
            " find out what changed.",
            where="tested",
        )


def _open_too_long(inputs: MonthlyInputs) -> Iterator[DecisionView]:
    late = inputs.changes.open_too_long
    if not late:
        return
    days = inputs.thresholds.open_days
    noun = "claim has" if late == 1 else "claims have"
    yield DecisionView(
        what=f"{formats.count(late)} {noun} been open for more than {days} days.",
        sure=_COUNTED,
        waiting=_open_cost(inputs),
        who=f"{role(inputs, 'service')}: close, refuse or ask for what is missing.",
        where="open-claims",
    )


def _open_cost(inputs: MonthlyInputs) -> str:
    sums = requested_late(inputs)
    if not sums:
        return "Not known: they tell no amount. Owners wait meanwhile."
    return f"{money_text(sums)} requested and not settled. Owners wait meanwhile."


def _unclassified(inputs: MonthlyInputs) -> Iterator[DecisionView]:
    share = inputs.quality.unclassified_share
    limit = inputs.thresholds.unclassified_share
    if share is None or share <= limit:
        return
    claims = inputs.quality.unclassified_claims
    unit = formats.PER_CENT
    part = (
        f"{claims} of {inputs.claims_read}"
        # a percentage of so few would feign precision
        if inputs.claims_read < 10
        else f"{formats.rate(share, unit)}{unit.suffix}"
    )
    yield DecisionView(
        what=(
            f"{_number(claims, 'claim has', 'claims have')} no component ({part}), "
            f"more than the limit of {formats.rate(limit, unit)}{unit.suffix}."
        ),
        sure=_COUNTED,
        waiting="Every rate on this page may be too low, and a fault may hide in them.",
        who=f"{role(inputs, 'quality')}: have them reviewed.",
        where="quality",
    )


def _no_units(inputs: MonthlyInputs) -> Iterator[DecisionView]:
    if inputs.claims_read and inputs.rates_by_component.empty:
        yield DecisionView(
            what="No unit register is loaded, so nothing on this page is a rate.",
            sure=_COUNTED,
            waiting="Whether units fail more often than before cannot be told.",
            who=(
                f"{role(inputs, 'records')}: load a register with serial, model, model "
                "year and in-service date."
            ),
            where="account",
        )


def _new_in_top_five(inputs: MonthlyInputs) -> Iterator[DecisionView]:
    new = list(inputs.changes.new_in_top_five)
    if new:
        verb = "is" if len(new) == 1 else "are"
        yield DecisionView(
            what=(
                f"{opened(join_words(new))} {verb} new among the five components with "
                "most claims this month."
            ),
            sure="Weak: one month is a short time, and the order changes by chance.",
            waiting=_NOT_KNOWN,
            who=f"{role(inputs, 'quality')}: read some of these claims.",
            where="ranking",
        )


def _undated(inputs: MonthlyInputs) -> Iterator[DecisionView]:
    for said in undated_failures(inputs):
        yield DecisionView(
            what="Many claims have no failure date.",
            sure=said,
            waiting="Ages, lives and months of failure stay blurred.",
            who=f"{role(inputs, 'records')}: ask for the failure date in the export.",
            where="late",
        )


def _unknown_serials(inputs: MonthlyInputs) -> Iterator[DecisionView]:
    quality = inputs.quality
    bound = quality.unknown_serial_bound
    if quality.unknown_serial_claims and bound is not None:
        unit = formats.PER_CENT
        noun = "claim has" if quality.unknown_serial_claims == 1 else "claims have"
        yield DecisionView(
            what=(
                f"{formats.count(quality.unknown_serial_claims)} {noun} a serial that "
                "no register knows."
            ),
            sure=_COUNTED,
            waiting=(
                "The rates may be up to "
                f"{formats.rate(bound, unit, 'upper')}{unit.suffix} of their value "
                "higher."
            ),
            who=(
                f"{role(inputs, 'records')}: correct the serials or load the missing "
                "units."
            ),
            where="quality",
        )


def _rejected(inputs: MonthlyInputs) -> Iterator[DecisionView]:
    rows = sum(number for _, number in inputs.quality.rejects)
    if rows:
        noun = "row was" if rows == 1 else "rows were"
        yield DecisionView(
            what=(
                f"{formats.count(rows)} {noun} rejected and "
                f"{'is' if rows == 1 else 'are'} in no figure."
            ),
            sure=_COUNTED,
            waiting="What they tell is missing until they are read.",
            who=f"{role(inputs, 'records')}: correct the export and load it again.",
            where="account",
        )
