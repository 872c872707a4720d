"""The sections of a dossier on what was told: dangers, symptoms, causes, texts."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from claimlens.report import formats
from claimlens.report.component_words import claims_of, cut_off, named
from claimlens.report.findings import join_words, opened
from claimlens.report.formats import MISSING
from claimlens.report.view import (
    QuoteView,
    SectionView,
    TableView,
    number_columns,
    text_columns,
)
from claimlens.report_inputs.component import ComponentInputs, Example

__all__ = ["danger_section", "example_section", "mode_section", "told_section"]

#: Rows of the lists of single claims.
SHOWN = 40
_TOLD = 12
# a longer list is folded away on a screen
_FOLDED = 12
_UNREAD = "nothing that could be read"


def danger_section(inputs: ComponentInputs) -> SectionView:
    """List the claims that tell of a danger."""
    claims = inputs.dangers
    listed = claims[:SHOWN]
    more = len(claims) - len(listed)
    return SectionView(
        id="dangers",
        heading="Claims that tell of a danger",
        basis=f"Claims of any class, newest first; {cut_off(inputs)}.",
        reading=(
            "Shown are only the few words that told of the danger. claimlens informs "
            "the decision; it never makes it.",
        )
        if claims
        else (),
        tables=(
            TableView(
                "dangers-table",
                f"{opened(claims_of(len(claims)))} that "
                f"{'tells' if len(claims) == 1 else 'tell'} of injury, fire, smoke, "
                "melting, swelling, shock, loss of braking or steering, uncommanded "
                "motion, or a break in a load-bearing part"
                + (
                    f"; {formats.count(more)} older ones are not listed" if more else ""
                ),
                text_columns("claim", "unit", "reported", "state", "mode", "read"),
                tuple(
                    (
                        claim.claim_no,
                        claim.serial or MISSING,
                        formats.day(claim.reported_on),
                        "open" if claim.why == "open" else "closed",
                        claim.failure_mode or MISSING,
                        claim.words_read.replace(f"{claim.component}, ", "", 1)
                        or "see the claim",
                    )
                    for claim in listed
                ),
            ),
        )
        if claims
        else (),
        fold=f"The list of {claims_of(len(claims))}" if len(claims) > _FOLDED else "",
        empty=(
            "No claim was recognised as telling of a danger. Texts can be unclear: act "
            "on any claim that worries you."
        ),
    )


def told_section(inputs: ComponentInputs) -> SectionView:
    """Build the section from symptom to cause and back."""
    tables = [
        *([_causes(inputs)] if len(inputs.causes) else []),
        *([_symptoms(inputs)] if len(inputs.symptoms) or inputs.unread else []),
    ]
    return SectionView(
        id="symptoms",
        heading="What owners report, and what it turned out to be",
        basis=(
            "Claims whose cause a reviewed label, an inspection or a replaced part "
            f"establishes, in texts of any language; {cut_off(inputs)}."
        ),
        lead=tuple(_told(inputs)),
        tables=tuple(tables),
        empty=(
            "No claim tells: either no cause is established by more than the owner's "
            "words, or no owner named this part."
        ),
    )


def _told(inputs: ComponentInputs) -> Iterator[str]:
    name, causes = named(inputs.component), inputs.causes
    if len(causes):
        total = int(causes["claims"].sum())
        own = causes[causes["component"] == inputs.component]
        hit = int(own["claims"].sum())
        others = causes[causes["component"] != inputs.component].head(2)
        said = (
            f"Of {claims_of(total)} in which the owner complained of the {name}, "
            f"{formats.count(hit)} turned out to be that"
        )
        if len(others):
            said += "; others were " + join_words(
                [
                    f"{row['component']} ({formats.count(row['claims'])})"
                    for row in others.to_dict("records")
                ]
            )
        yield f"{said}."
    if len(inputs.symptoms):
        top = [
            f"{row['symptom']} ({formats.count(row['claims'])})"
            for row in inputs.symptoms.head(3).to_dict("records")
        ]
        yield (
            f"Where the {name} was the cause ({claims_of(inputs.cause_claims)}), "
            f"owners most often told of {join_words(top)}."
        )


def _causes(inputs: ComponentInputs) -> TableView:
    frame = inputs.causes
    unit = formats.PER_CENT
    return TableView(
        "causes-table",
        f"Owners complained of the {named(inputs.component)}: what it turned out to "
        f"be; shares in {unit.name}",
        text_columns("cause")
        + number_columns("claims", "without a fault found", "share", "interval"),
        tuple(
            (
                str(row["component"]),
                formats.count(row["claims"]),
                formats.count(row["no_fault_found"]),
                formats.rate(row["share"], unit),
                formats.interval(row["lower"], row["upper"], unit),
            )
            for row in frame.to_dict("records")
        ),
        total=("all", formats.count(frame["claims"].sum()), "", "", ""),
    )


def _symptoms(inputs: ComponentInputs) -> TableView:
    unit, whole = formats.PER_CENT, inputs.cause_claims
    shown = inputs.symptoms.head(_TOLD)
    rows = [
        (
            str(row["symptom"]),
            formats.count(row["claims"]),
            formats.rate(row["share"], unit),
            formats.interval(row["lower"], row["upper"], unit),
        )
        for row in shown.to_dict("records")
    ]
    if inputs.unread:
        share = formats.rate(inputs.unread / whole, unit)
        rows.append((_UNREAD, formats.count(inputs.unread), share, MISSING))
    return TableView(
        "symptoms-table",
        f"The {named(inputs.component)} was the cause: what owners complained of; one "
        f"claim may tell of several things; shares of {claims_of(whole)} in "
        f"{unit.name}",
        text_columns("told") + number_columns("claims", "share", "interval"),
        tuple(rows),
    )


def mode_section(inputs: ComponentInputs) -> SectionView:
    """Build the section on failure modes and on what the rates leave out."""
    modes, classes = inputs.modes, inputs.classes
    tables = (_mode_table(modes), _class_table(classes)) if len(modes) else ()
    lead = ""
    if len(modes):
        top = modes.iloc[0]
        lead = (
            f"Most often {_mode(top['failure_mode'])}: {formats.count(top['claims'])} "
            f"of {claims_of(modes['claims'].sum())}."
        )
    return SectionView(
        id="modes",
        heading="How it fails",
        basis=f"Claims of every class; {cut_off(inputs)}.",
        lead=(lead,) if lead else (),
        tables=tables,
        empty="There is no claim of this component up to the cut-off.",
    )


def _mode(value: object) -> str:
    return "not told" if pd.isna(value) or not value else str(value)


def _mode_table(modes: pd.DataFrame) -> TableView:
    unit = formats.PER_CENT
    return TableView(
        "modes-table",
        f"Claims by failure mode; shares in {unit.name}",
        text_columns("failure mode")
        + number_columns("claims", "counted in the rates", "share of claims"),
        tuple(
            (
                _mode(row["failure_mode"]),
                formats.count(row["claims"]),
                formats.count(row["claims_counted"]),
                formats.rate(row["share"], unit),
            )
            for row in modes.to_dict("records")
        ),
        total=(
            "all",
            formats.count(modes["claims"].sum()),
            formats.count(modes["claims_counted"].sum()),
            "",
        ),
    )


def _class_table(classes: pd.DataFrame) -> TableView:
    return TableView(
        "classes-table",
        "The same claims by the class that says whether the rates count them",
        text_columns("class") + number_columns("claims"),
        tuple(
            (str(row["claim_class"]), formats.count(row["claims"]))
            for row in classes.to_dict("records")
        ),
        total=("all", formats.count(classes["claims"].sum())),
    )


def example_section(inputs: ComponentInputs) -> SectionView:
    """Show some texts of owners."""
    removed = ", ".join(
        f"{one.kind} {formats.count(one.pieces)}" for one in inputs.removed
    )
    told = (
        "The texts stand as they were written."
        if inputs.internal
        else f"Pieces removed from the texts of this page, by kind: {removed}."
        if removed
        else "Nothing personal was found in the texts of this page."
    )
    return SectionView(
        id="examples",
        heading="What owners wrote",
        basis=(
            "The newest text of each leading failure mode, in its own language; "
            f"{cut_off(inputs)}."
        ),
        reading=(told,) if inputs.examples else (),
        quotes=tuple(_quote(one) for one in inputs.examples),
        empty="No claim of this component has a text.",
    )


def _quote(one: Example) -> QuoteView:
    facts = [
        one.failure_mode or "mode not told",
        one.model,
        f"claim {one.claim_no}",
        formats.day(one.reported_on),
        one.language,
    ]
    return QuoteView(
        source="; ".join(fact for fact in facts if fact),
        text=f"{one.text} […]" if one.is_cut else one.text,
    )
