"""The commented settings that a new workspace starts with."""

from __future__ import annotations

import json

__all__ = ["starter_text"]


def starter_text(name: str) -> str:
    """Return the commented settings of a new workspace."""
    safe = json.dumps(name, ensure_ascii=False)
    return f"""\
# Settings of this claimlens workspace. Every line that starts with '#' shows a
# default or an example; take the '#' away to change it.

[workspace]
name = {safe}

[coverage]
months = 24                 # from the in-service date, last day included
# late_report_days = 60     # a failure inside the cover may be reported so much later

# Cover that differs; the most exact term wins.
# [[coverage.terms]]
# model = "MODEL"
# months = 36

[counting]
# Which claims enter the rates beside the covered ones (all are always shown).
# no_fault_found = false
# misuse = false
# transport_damage = false
# goodwill = false
# outside_coverage = false
# same_event_days = 3       # claims of one unit and component this close are one event

[rates]
# at_months = [1, 3, 6, 12, 18, 24]
# mature_units = 30         # units at risk that a trustworthy rate needs

[currency]
# report = "EUR"            # one currency for the reports; needs rates for the others
# [currency.rates."2026-01"]
# CHF = 1.05                # value of one CHF in the report currency in that month

[classify]
# threshold = 0.5           # below this confidence a claim stays unclassified

# One block for each shape of export. `claimlens describe FILE --source-block`
# writes a block; paste it (or append it) below.
"""
