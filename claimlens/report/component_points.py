"""What the dossier of a component says first: what is wrong, how sure, what to do."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from claimlens.report import formats
from claimlens.report.component_words import (
    claims_of,
    cost_ahead,
    cost_per_claim,
    cost_so_far,
    money_of,
    nth,
    open_claims,
    share_with_limits,
    standing_signal,
    usual_rate,
)
from claimlens.report.document import PointView
from claimlens.report.findings import join_words, opened
from claimlens.report.production_section import span
from claimlens.report.rising_section import SHAPES
from claimlens.report.rising_sentences import month_end, times
from claimlens.report.to_come_sentences import month_of
from claimlens.report.waiting import role
from claimlens.report_inputs.component import ComponentInputs

__all__ = ["points"]

_SHOWN = 0.05
_LOTS = 6
# What each pattern asks for first (common practice, no source).
_BY_PATTERN = {
    "early-life": (
        "{quality}: look at how the part is made, fitted and checked; it fails early, "
        "not by use."
    ),
    "random": (
        "{quality}: look at what happens to it in use (load, water, handling); age "
        "tells nothing about when it fails."
    ),
    "wear-out": (
        "{quality}: look at material, load and sealing; the risk grows with age. "
        "{purchasing}: ask the supplier for its life at this use."
    ),
}
_UNDECIDED = (
    "{quality}: inspect returned parts before deciding; the pattern of failures does "
    "not tell the cause yet."
)


def points(inputs: ComponentInputs) -> tuple[PointView, ...]:
    """Return what stands first, a danger before everything else.

    Parameters
    ----------
    inputs : ComponentInputs
        Frames and scalars.
    """
    if not inputs.place.claims:
        return ()
    return (
        *_danger(inputs),
        *_fault(inputs),
        *_rising(inputs),
        *_window(inputs),
        *_change(inputs),
    )


def _danger(inputs: ComponentInputs) -> Iterator[PointView]:
    claims = inputs.dangers
    if not claims:
        return
    still = open_claims(inputs)
    verb = "tells" if len(claims) == 1 else "tell"
    yield PointView(
        sign=SHAPES["alarm"],
        what=(
            f"{opened(claims_of(len(claims)))} {verb} of a danger, the newest of "
            f"{formats.day(claims[0].reported_on)}; "
            + (f"{formats.count(still)} still open." if still else "none still open.")
        ),
        sure=(
            "Read in texts and findings by rules; a danger told unclearly is missed."
        ),
        cost="Somebody can be hurt; that is not set against money.",
        act=(
            f"{role(inputs, 'quality')} and {role(inputs, 'management').lower()}: look "
            "at each claim of the list below now, decide whether units must stand "
            "still and whether local law asks for a report."
        ),
    )


def _fault(inputs: ComponentInputs) -> Iterator[PointView]:
    place = inputs.place
    rank = (
        f", the {nth(place.by_claims)}most of {formats.count(place.components)} "
        "components"
        if place.by_claims
        else ""
    )
    yield PointView(
        what=(
            f"{formats.count(place.claims)} of {claims_of(place.all_claims)}{rank}. "
            f"{_rate_words(inputs)}"
        ),
        sure=_rate_sure(inputs),
        cost=" ".join([cost_so_far(inputs), cost_ahead(inputs)]),
        act=_by_pattern(inputs),
    )


def _rate_words(inputs: ComponentInputs) -> str:
    row, place = usual_rate(inputs), inputs.place
    if row is None:
        return "No rate can be told."
    unit = formats.rate_unit([row["rate"], place.median_rate])
    rank = ""
    if place.by_rate and place.median_rate is not None:
        rank = (
            f", the {nth(place.by_rate)}highest rate of "
            f"{formats.count(place.rated)} (the middle one: "
            f"{formats.rate(place.median_rate, unit)})"
        )
    return (
        f"{formats.rate(row['rate'], unit)}{unit.suffix} of the units fail by "
        f"{formats.decimal_text(row['at_months'], 0)} months in service{rank}."
    )


def _rate_sure(inputs: ComponentInputs) -> str:
    row = usual_rate(inputs)
    if row is None:
        return "Counts of claims only: no unit is that old, or no register is loaded."
    unit = formats.rate_unit([row["rate"], inputs.place.median_rate])
    ripe = "mature" if row["mature"] else "too young to trust yet"
    return (
        f"{formats.count(row['claims'])} of {formats.count(row['units'])} units by "
        f"that age ({share_with_limits(row, unit)}), {ripe}. {_shape_words(inputs)}"
    )


def _shape_words(inputs: ComponentInputs) -> str:
    if inputs.life.empty:
        return "No life can be fitted."
    row = inputs.life.iloc[0]
    if pd.isna(row["shape"]):
        return f"No life can be fitted: {row['note'] or 'too few failures'}."
    return (
        f"Pattern {row['pattern'] or 'undecided'}: shape "
        f"{times(row['shape'], row['shape_lower'], row['shape_upper'])}, "
        f"{formats.count(row['failures'])} failures."
    )


def _by_pattern(inputs: ComponentInputs) -> str:
    pattern = "" if inputs.life.empty else str(inputs.life["pattern"].iloc[0])
    said = _BY_PATTERN.get(pattern, _UNDECIDED)
    return said.replace("{quality}", role(inputs, "quality")).replace(
        "{purchasing}", role(inputs, "purchasing")
    )


def _rising(inputs: ComponentInputs) -> Iterator[PointView]:
    rising = inputs.rising
    if rising.judged_on is None:
        return
    row = standing_signal(inputs)
    if row is None:
        yield PointView(
            what="It is not rising beyond what chance explains.",
            sure=_unseen(inputs),
            cost="None beyond what stands above.",
            act="Nobody has to act on a rise; the next month is judged anew.",
        )
        return
    model = f" of the {row['model']}" if row["model"] else ""
    known = row["state"] == "acknowledged"
    yield PointView(
        sign=SHAPES[row["level"]],
        what=(
            f"It is rising: {row['level']} since {month_end(row['since'])}. Units"
            f"{model} built in {span(row['from_date'], row['to_date'])} had "
            f"{formats.count(row['claims'])} first failures where "
            f"{formats.decimal_text(row['expected'], 1)} were expected."
        ),
        sure=(
            f"{times(row['rate_ratio'], row['lower'], row['upper'])} times as "
            f"expected, state {row['state']}. The months were searched for, so that is "
            "too high on average; more likely it is about "
            f"{formats.ratio(row['shrunk_ratio'])}."
        ),
        cost=f"{money_of(row['cost'], row['currency'])} for the claims behind it.",
        act=(
            f"Known, and judged so: {row['acknowledged_why']}."
            if known and inputs.internal
            else "Known and acknowledged; act where the plan behind that says so."
            if known
            else f"{role(inputs, 'quality')}: decide on these units and on what is "
            "being built, or acknowledge the signal with a reason."
        ),
    )


def _unseen(inputs: ComponentInputs) -> str:
    spots = inputs.rising.blind_spots
    own = spots[(spots["component"] == inputs.component) & (spots["model"] == "")]
    judged = (
        f"Judged up to {formats.day(inputs.rising.judged_on)}."
        if (inputs.rising.judged_on)
        else ""
    )
    if own.empty or pd.isna(own["multiple"].iloc[0]):
        return judged
    return (
        f"{judged} A rise to {formats.ratio(own['multiple'].iloc[0])} times or more in "
        "three build months would be seen within a year in 4 of 5 cases; a smaller one "
        "can be missed."
    )


def _window(inputs: ComponentInputs) -> Iterator[PointView]:
    frame = inputs.rising.windows
    frame = frame[frame["p_value"] <= _SHOWN]
    if frame.empty:
        return
    row = frame.iloc[0]
    hint = row["adjusted_p"] > _SHOWN
    more = len(frame) - 1
    others = (
        f" {formats.count(more)} further {'window' if more == 1 else 'windows'} below."
        if more
        else ""
    )
    yield PointView(
        sign="" if hint else SHAPES["alarm"],
        what=(
            f"Units built in {span(row['from_date'], row['to_date'])} fail "
            f"{times(row['rate_ratio'], row['lower'], row['upper'])} times as often "
            "as other production at equal ages; "
            f"{formats.count(row['not_yet_failed'])} of "
            f"{formats.count(row['units'])} have not failed yet.{others}"
        ),
        sure=(
            f"{formats.count(row['claims'])} failures, "
            f"{formats.decimal_text(row['expected'], 1)} expected; p "
            f"{formats.p_value(row['p_value'])}, adjusted for looking at all "
            f"components {formats.p_value(row['adjusted_p'])}"
            + (": no more than a hint. " if hint else ". ")
            + "The true window lies in "
            f"{span(row['plausible_from'], row['plausible_to'])}."
        ),
        cost=(
            f"{opened(cost_per_claim(inputs) or 'the cost of a claim')} for each of "
            "them that fails under cover."
        ),
        act=_for_window(inputs, hint),
    )


def _for_window(inputs: ComponentInputs, hint: bool) -> str:
    if hint:
        return (
            f"{role(inputs, 'quality')}: compare returned parts from these months with "
            "others before anything is decided."
        )
    lots = [
        str(lot) for lot in dict.fromkeys(inputs.at_risk["build_lot"].dropna()) if lot
    ]
    stock = int((inputs.at_risk["state"] == "not in service yet").sum())
    held = f"Hold {formats.count(stock)} not yet in service. " if stock else ""
    asked = (
        f" (lots {join_words(lots)})"
        if 0 < len(lots) <= _LOTS
        else f" ({formats.count(len(lots))} lots)"
        if lots
        else ""
    )
    return (
        f"{held}{role(inputs, 'quality')} and {role(inputs, 'purchasing').lower()}: "
        f"find what differed in these months{asked}. {role(inputs, 'service')}: check "
        "listed units when they come in; the list is below."
    )


def _change(inputs: ComponentInputs) -> Iterator[PointView]:
    frame = inputs.rising.design_changes
    judged = frame[frame["verdict"] != ""]
    if judged.empty:
        return
    row = judged.iloc[0]
    verdict = str(row["verdict"])
    spared = row["expected_after"] - row["claims_after"]
    effect = (
        f"About {formats.count(spared)} failures fewer so far than at the rate before."
        if spared >= 1
        else f"About {formats.count(-spared)} failures more so far than at the rate "
        "before."
        if spared <= -1
        else "As many failures so far as at the rate before."
    )
    yield PointView(
        what=(
            f"Engineering change {row['change_no']} of {month_of(row['starts_on'])}: "
            f"{verdict}. The rate since is "
            f"{times(row['rate_ratio'], row['lower'], row['upper'])} times that before."
        ),
        sure=(
            f"{formats.count(row['claims_after'])} failures in "
            f"{formats.count(row['units_after'])} units since, "
            f"{formats.decimal_text(row['expected_after'], 1)} expected at the rate "
            f"before, up to {formats.count(row['at_months'])} months in service. "
            f"{opened(str(row['reason']))}."
        ),
        cost=effect,
        act=_after_change(verdict, row["verdict_by"], role(inputs, "quality")),
    )


def _after_change(verdict: str, by: object, who: str) -> str:
    said = {
        "improved": f"{who}: close the change; watch that it stays so.",
        "worse": f"{who}: open the change again, and stop it where that is safe.",
        "unchanged": f"{who}: the cause is another one; look for it anew.",
    }
    if verdict in said:
        return said[verdict]
    if not pd.isna(by):
        return f"Wait: a verdict is likely by {month_of(by)}."
    return "Wait for older units; ask again in some months."
