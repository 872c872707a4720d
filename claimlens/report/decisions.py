"""What asks for a decision: what, how sure, what waiting costs, who acts.

Each rule is one function from the inputs to decisions. A decision states its
figure with its interval or says how often chance does the same; what waiting
costs is said where it is known, and that it is not known where it is not.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from claimlens.language import N_, _, ngettext
from claimlens.monthly_inputs import MonthlyInputs
from claimlens.report import formats
from claimlens.report.fault_decisions import fault_decisions
from claimlens.report.findings import join_words, money_text, opened
from claimlens.report.late_section import undated_failures
from claimlens.report.open_section import requested_late
from claimlens.report.supplier_answers_section import overdue_answers
from claimlens.report.to_come_sentences import missed_sentence
from claimlens.report.view import DecisionView
from claimlens.report.waiting import beside, component_to_come, role

__all__ = ["Decisions", "danger", "decisions"]

# so many are read; more are looked up
_MOST = 6
_NAMED = 4
_NOT_KNOWN = N_("Not known: it depends on what comes out.")
_COUNTED = N_("Certain: these are counted.")


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


def danger(inputs: MonthlyInputs) -> DecisionView | None:
    """Return what claims that tell of a danger ask for; None where none does."""
    claims = inputs.changes.safety_claims
    if not claims:
        return None
    seen = Counter(claim.component for claim in claims).most_common()
    named = [f"{name} ({number})" for name, number in sorted(seen, key=_most_first)]
    if len(named) > _NAMED + 1:
        more = len(named) - _NAMED
        rest = ngettext("{number} more component", "{number} more components", more)
        named = [*named[:_NAMED], rest.format(number=formats.count(more))]
    number = len(claims)
    return DecisionView(
        sign="▲",
        what=ngettext(
            "{number} claim tells of a danger: {components}.",
            "{number} claims tell of a danger: {components}.",
            number,
        ).format(number=formats.count(number), components=join_words(named)),
        sure=_(
            "Read in texts and findings by their words; nobody has judged them yet. "
            "Some will be harmless: treat none so until it was looked at."
        ),
        waiting=_(
            "Somebody may be hurt. Nobody rides or charges such a unit until a "
            "qualified technician has looked at it; tell the owner so."
        ),
        who=_(
            "{quality} and {management}, today: decide whether owners must be warned, "
            "and whether local law asks for a report to an authority."
        ).format(
            quality=role(inputs, "quality"), management=beside(inputs, "management")
        ),
        where="dangers",
        where_text=ngettext(
            "The claim, and all cautions",
            "The {number} claims, and all cautions",
            number,
        ).format(number=formats.count(number)),
    )


def _most_first(item: tuple[str, int]) -> tuple[int, str]:
    return (-item[1], item[0])


def _worse_changes(inputs: MonthlyInputs) -> Iterator[DecisionView]:
    frame = inputs.rising.design_changes
    for row in frame[frame["verdict"].isin(["worse", "unchanged"])].to_dict("records"):
        is_worse = row["verdict"] == "worse"
        said = (
            _("{component}: the change {change} made it worse.")
            if is_worse
            else _("{component}: the change {change} changed nothing that counts.")
        )
        who = (
            _("{quality}: stop or undo it.")
            if is_worse
            else _("{quality}: look for another remedy.")
        )
        yield DecisionView(
            sign="◇",
            what=said.format(
                component=opened(row["component"]), change=row["change_no"]
            ),
            sure=_(
                "The rate since is {ratio} times that before ({lower} to {upper}; "
                "{claims} failures in {units} units)."
            ).format(
                ratio=formats.ratio(row["rate_ratio"]),
                lower=formats.ratio(row["lower"], "lower"),
                upper=formats.ratio(row["upper"], "upper"),
                claims=formats.count(row["claims_after"]),
                units=formats.count(row["units_after"]),
            ),
            waiting=component_to_come(inputs, str(row["component"])),
            who=who.format(quality=role(inputs, "quality")),
            where="engineering-changes",
        )


def _missed(inputs: MonthlyInputs) -> Iterator[DecisionView]:
    missed = missed_sentence(inputs)
    if missed:
        yield DecisionView(
            what=_(
                "Last year's forecast missed: plan neither money nor parts on this "
                "year's before it is known why."
            ),
            sure=missed,
            waiting=_(
                "Not known: the money and parts planned may be wrong by as much."
            ),
            who=_("{management}, with {quality}: find out what changed.").format(
                management=role(inputs, "management"), quality=beside(inputs, "quality")
            ),
            where="tested",
        )


def _open_too_long(inputs: MonthlyInputs) -> Iterator[DecisionView]:
    late = inputs.changes.open_too_long
    if not late:
        return
    days = inputs.thresholds.open_days
    yield DecisionView(
        what=ngettext(
            "{number} claim has been open for more than {days} days.",
            "{number} claims have been open for more than {days} days.",
            late,
        ).format(number=formats.count(late), days=days),
        sure=_(_COUNTED),
        waiting=_open_cost(inputs),
        who=_("{service}: close, refuse or ask for what is missing.").format(
            service=role(inputs, "service")
        ),
        where="open-claims",
    )


def _open_cost(inputs: MonthlyInputs) -> str:
    sums = requested_late(inputs)
    if not sums:
        return _("Not known: they tell no amount. Owners wait meanwhile.")
    return _("{money} requested and not settled. Owners wait meanwhile.").format(
        money=money_text(sums)
    )


def _unclassified(inputs: MonthlyInputs) -> Iterator[DecisionView]:
    share = inputs.quality.unclassified_share
    limit = inputs.thresholds.unclassified_share
    if share is None or share <= limit:
        return
    claims = inputs.quality.unclassified_claims
    unit = formats.PER_CENT
    part = (
        _("{number} of {all}").format(number=claims, all=inputs.claims_read)
        # a percentage of so few would feign precision
        if inputs.claims_read < 10
        else f"{formats.rate(share, unit)}{unit.suffix}"
    )
    yield DecisionView(
        what=ngettext(
            "{number} claim has no component ({share}), more than the limit of "
            "{limit}.",
            "{number} claims have no component ({share}), more than the limit of "
            "{limit}.",
            claims,
        ).format(
            number=formats.count(claims),
            share=part,
            limit=f"{formats.rate(limit, unit)}{unit.suffix}",
        ),
        sure=_(_COUNTED),
        waiting=_(
            "Every rate on this page may be too low, and a fault may hide in them."
        ),
        who=_("{quality}: have them reviewed.").format(quality=role(inputs, "quality")),
        where="quality",
    )


def _no_units(inputs: MonthlyInputs) -> Iterator[DecisionView]:
    if inputs.claims_read and inputs.rates_by_component.empty:
        yield DecisionView(
            what=_("No unit register is loaded, so nothing on this page is a rate."),
            sure=_(_COUNTED),
            waiting=_("Whether units fail more often than before cannot be told."),
            who=_(
                "{records}: load a register with serial, model, model year and "
                "in-service date."
            ).format(records=role(inputs, "records")),
            where="account",
        )


def _new_in_top_five(inputs: MonthlyInputs) -> Iterator[DecisionView]:
    new = list(inputs.changes.new_in_top_five)
    if new:
        yield DecisionView(
            what=ngettext(
                "{components} is new among the five components with most claims this "
                "month.",
                "{components} are new among the five components with most claims this "
                "month.",
                len(new),
            ).format(components=opened(join_words(new))),
            sure=_("Weak: one month is a short time, and the order changes by chance."),
            waiting=_(_NOT_KNOWN),
            who=_("{quality}: read some of these claims.").format(
                quality=role(inputs, "quality")
            ),
            where="ranking",
        )


def _undated(inputs: MonthlyInputs) -> Iterator[DecisionView]:
    for said in undated_failures(inputs):
        yield DecisionView(
            what=_("Many claims have no failure date."),
            sure=said,
            waiting=_("Ages, lives and months of failure stay blurred."),
            who=_("{records}: ask for the failure date in the export.").format(
                records=role(inputs, "records")
            ),
            where="late",
        )


def _unknown_serials(inputs: MonthlyInputs) -> Iterator[DecisionView]:
    quality = inputs.quality
    bound = quality.unknown_serial_bound
    if quality.unknown_serial_claims and bound is not None:
        unit = formats.PER_CENT
        yield DecisionView(
            what=ngettext(
                "{number} claim has a serial that no register knows.",
                "{number} claims have a serial that no register knows.",
                quality.unknown_serial_claims,
            ).format(number=formats.count(quality.unknown_serial_claims)),
            sure=_(_COUNTED),
            waiting=_("The rates may be up to {share} of their value higher.").format(
                share=f"{formats.rate(bound, unit, 'upper')}{unit.suffix}"
            ),
            who=_("{records}: correct the serials or load the missing units.").format(
                records=role(inputs, "records")
            ),
            where="quality",
        )


def _rejected(inputs: MonthlyInputs) -> Iterator[DecisionView]:
    rows = sum(number for _, number in inputs.quality.rejects)
    if rows:
        yield DecisionView(
            what=ngettext(
                "{number} row was rejected and is in no figure.",
                "{number} rows were rejected and are in no figure.",
                rows,
            ).format(number=formats.count(rows)),
            sure=_(_COUNTED),
            waiting=_("What they tell is missing until they are read."),
            who=_("{records}: correct the export and load it again.").format(
                records=role(inputs, "records")
            ),
            where="account",
        )
