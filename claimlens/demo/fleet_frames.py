"""The fleet in canonical fields: units, parts, fitted parts, changes."""

from __future__ import annotations

import numpy as np
import pandas as pd

from claimlens.demo.fleet import (
    GENERATION_STARTS,
    Fleet,
    generation_of,
    part_number,
)
from claimlens.demo.truth import ComponentTruth, ModelTruth, Truth
from claimlens.tables import TABLES

__all__ = [
    "CONSUMABLES",
    "changes_frame",
    "fitted_frame",
    "parts_frame",
    "responses_frame",
    "units_frame",
]

_NAT = np.datetime64("NaT", "D")


def units_frame(truth: Truth, fleet: Fleet) -> pd.DataFrame:
    """Return the register, as known on the day the data end."""
    shipped = fleet.ship <= np.datetime64(truth.data_end, "D")
    week = (fleet.build - fleet.build.astype("datetime64[Y]")).astype(int) // 7 + 1
    frame = pd.DataFrame(
        {
            "serial": fleet.serial,
            "model": np.array([m.name for m in truth.models], dtype=object)[
                fleet.model
            ],
            "model_year": fleet.model_year,
            "generation": [f"G{g + 1}" for g in generation_of(truth, fleet.model_year)],
            "build_date": fleet.build,
            "build_lot": [
                f"L{y % 100:02d}-{w:02d}"
                for y, w in zip(
                    fleet.build.astype("datetime64[Y]").astype(int) + 1970,
                    week,
                    strict=True,
                )
            ],
            "plant": np.where(fleet.model <= 1, "North", "South"),
            "ship_date": fleet.ship,
            "in_service_date": np.where(fleet.dated, fleet.in_service, _NAT),
            "region": np.array([r.code for r in truth.regions], dtype=object)[
                fleet.region
            ],
            "dealer": fleet.dealer,
            "retired_on": fleet.retired,
        }
    )
    return frame[shipped].reset_index(drop=True)


def parts_frame(truth: Truth) -> pd.DataFrame:
    """Return the parts list: generations, supersession, suppliers, prices."""
    rows = []
    last = len(GENERATION_STARTS) - 1
    for component in truth.components:
        models = truth.models if component.part_per_model else (None,)
        for position, model in enumerate(models):
            for generation in range(last + 1):
                rows.append(_part_row(truth, component, position, model, generation))
    for planted in truth.suppliers:
        component = truth.component(planted.component)
        for source in range(1, len(planted.suppliers)):
            for generation in range(last + 1):
                row = _part_row(truth, component, 0, None, generation)
                row["part_no"] = part_number(component, 0, generation, source)[0]
                if generation < last:
                    row["superseded_by"] = part_number(
                        component, 0, generation + 1, source
                    )[0]
                row["supplier"] = planted.suppliers[source]
                rows.append(row)
    for number, name, cost in CONSUMABLES:
        rows.append(
            {
                "part_no": number,
                "description": name,
                "supplier": "Nedrick Parts",
                "unit_cost": cost,
                "currency": truth.currency,
                "lead_time_days": 10,
            }
        )
    frame = pd.DataFrame(rows)
    for column in ("fits_from_year", "fits_to_year", "lead_time_days"):
        frame[column] = frame[column].astype("Int64")
    return frame


CONSUMABLES = (
    ("00090001", "cable tie 200 mm, pack of 10", 0.9),
    ("00090002", "stainless screw kit M5/M6", 2.4),
    ("00090003", "contact grease, tube", 3.1),
    ("00090004", "brake fluid, mineral, 100 ml", 4.2),
)


def _part_row(
    truth: Truth,
    component: ComponentTruth,
    position: int,
    model: ModelTruth | None,
    generation: int,
) -> dict[str, object]:
    last = len(GENERATION_STARTS) - 1
    first_year = truth.first_model_year + GENERATION_STARTS[generation]
    end = (
        truth.first_model_year + truth.model_years
        if generation == last
        else truth.first_model_year + GENERATION_STARTS[generation + 1]
    )
    name = model.name if model else None
    following = (
        None
        if generation == last
        else part_number(component, position, generation + 1)[0]
    )
    label = (
        f"{component.part_description}, {name}"
        if name
        else (component.part_description)
    )
    return {
        "part_no": part_number(component, position, generation)[0],
        "description": label,
        "component": component.name,
        "supplier": component.supplier,
        "generation": f"G{generation + 1}",
        "superseded_by": following,
        "fits_model": name,
        "fits_from_year": first_year,
        "fits_to_year": end - 1,
        "unit_cost": round(component.part_cost * (1 + 0.04 * generation), 2),
        "currency": truth.currency,
        "lead_time_days": 20 + component.part_group % 7 * 8,
    }


def changes_frame(truth: Truth) -> pd.DataFrame:
    """Return the engineering changes on record."""
    return pd.DataFrame(
        {
            "change_no": [c.change_no for c in truth.changes],
            "component": [c.component for c in truth.changes],
            "description": [c.description for c in truth.changes],
            "effective_build_date": pd.to_datetime(
                [str(c.effective_build_date) for c in truth.changes]
            ),
        }
    )


def responses_frame(truth: Truth) -> pd.DataFrame:
    """Return what suppliers were asked and answered."""
    table = TABLES["responses"]
    frame = pd.DataFrame(list(truth.responses), columns=list(table.field_names))
    for name in frame.columns:
        if table.field(name).type == "date":
            frame[name] = pd.to_datetime(frame[name].astype("str"))
    return frame


def fitted_frame(truth: Truth, fleet: Fleet) -> pd.DataFrame:
    """Return whose part each unit carries, for components of many suppliers."""
    frames = []
    for planted in truth.suppliers:
        component = truth.component(planted.component)
        chosen = fleet.supplier[planted.component]
        generation = generation_of(truth, fleet.model_year)
        month = fleet.build.astype("datetime64[M]").astype(str)
        frames.append(
            pd.DataFrame(
                {
                    "serial": fleet.serial,
                    "component": component.name,
                    "part_no": part_number(component, fleet.model, generation, chosen),
                    "supplier": np.array(planted.suppliers, dtype=object)[chosen],
                    "lot": [
                        f"{planted.suppliers[s][:2].upper()}{m[2:4]}{m[5:]}"
                        for s, m in zip(chosen, month, strict=True)
                    ],
                    "fitted_on": fleet.build,
                }
            )
        )
    return pd.concat(frames, ignore_index=True) if frames else pd.DataFrame()
