"""The parts that fit one unit today: by generation, supersession followed."""

from __future__ import annotations

import pandas as pd

from claimlens.analysis.one_unit import UnitCard
from claimlens.analysis.supersession import chain_of
from claimlens.db import Session

__all__ = ["Record", "parts_for"]

Record = dict[str, object]


def parts_for(session: Session, card: UnitCard) -> list[Record]:
    """Return the part to send today for each component of a unit.

    A part that is listed for the unit's model, model year and generation fits; where
    it was superseded, its successor is sent in its place.

    Parameters
    ----------
    session : Session
        With ``component_words``.
    card : UnitCard
        The unit.

    Returns
    -------
    list of dict
        ``component, part_no, description, replaces, note`` by component and part
        number; ``replaces`` names the parts that it stands for, oldest first.
    """
    year = card.row["model_year"]
    listed = session.frame(
        "marts/fitting_parts",
        {
            "model": card.text("model"),
            "model_year": None if pd.isna(year) else int(year),
            "generation": card.text("generation"),
        },
    )
    by_key = {str(row["part_no"]).upper(): row for row in listed.to_dict("records")}
    followed_by = {
        key: str(row["superseded_by"]).upper()
        for key, row in by_key.items()
        if not pd.isna(row["superseded_by"])
    }
    sent: dict[str, tuple[str, list[str], str]] = {}
    for key, row in by_key.items():
        if not row["fits"] or pd.isna(row["component"]):
            continue
        chain, circle = chain_of(key, followed_by)
        component = str(row["component"])
        old = sent.setdefault(f"{component}\x1f{chain[-1]}", (component, [], ""))
        old[1].extend(number for number in chain[:-1] if number not in old[1])
        if circle:
            sent[f"{component}\x1f{chain[-1]}"] = (
                component,
                old[1],
                "its superseding parts run in a circle: check the parts list",
            )
    records = [
        _record(key.split("\x1f")[1], *told, by_key) for key, told in sent.items()
    ]
    return sorted(records, key=lambda row: (str(row["component"]), str(row["part_no"])))


def _record(
    key: str,
    component: str,
    older: list[str],
    note: str,
    by_key: dict[str, dict[str, object]],
) -> Record:
    row = by_key.get(key, {})

    def number(of: str) -> str:
        return str(by_key[of]["part_no"]) if of in by_key else of

    description = row.get("description")
    told = note
    if not row:
        told = "not in the parts list"
    elif not note and older and not row.get("fits"):
        told = "takes the place of an older part; listed for other units: check the fit"
    return {
        "component": component,
        "part_no": number(key),
        "description": None
        if description is None or pd.isna(description)
        else str(description),
        "replaces": ", ".join(number(of) for of in older) or None,
        "note": told,
    }
