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
months = 24                 # from the in-service date, last day included; 0: none
# late_report_days = 60     # a failure inside the cover may be reported so much later
# distance = 10000          # cover ends at this distance, if that comes first
# distance_unit = "km"      # or "mi"; also of readings that come without a unit
# restart = "part"          # a replaced part has its own cover, from the end of the
#                           # repair: "part" where the claim names a part, "repair"
#                           # after every repair, "none" (the default)
# restart_months = 12       # how long it then lasts; else as long as the cover itself
# usage_readings = 30       # readings of distance that a model's usage rate needs

# Cover that differs by model, model_year, component or region. Of months, distance
# and restart, each is taken from the most exact term that states it: component before
# model, model before model_year, model_year before region; of equals the later one.
# [[coverage.terms]]
# model = "MODEL"
# months = 36
# distance = "none"         # no limit by distance

# Rules that prolong a cover, such as those of law. Law differs from place to place
# and changes: have someone who knows it check what you write here. A rule states one
# effect, and may be kept to a model, model_year, component or region and to units in
# service from one date to another (both included). It moves dates, not distances.
# [[coverage.extensions]]
# name = "rule of ..."
# region = "REGION"
# in_service_from = 2025-01-01
# in_service_to = 2027-12-31
# at_least_months = 36      # the cover lasts at least so long from the in-service date
# more_months = 12          # or: so much longer than it would
# after_repair_months = 12  # or: at least so long after a repair under cover
# add_repair_days = true    # or: longer by the days in repair, from report to end
# whole_unit = true         # a repair prolongs the whole unit, not the component alone

# How far units go, where you know it better than the claims' readings can tell.
# [[coverage.usage]]
# model = "MODEL"           # left out: every model
# per_year = 3000           # median distance a year
# spread = 0.6              # standard deviation of its logarithm between units

[counting]
# Which claims enter the rates beside the covered ones (all are always shown).
# no_fault_found = false
# misuse = false
# transport_damage = false
# goodwill = false
# outside_coverage = false
# same_event_days = 3       # claims of one unit and component this close are one event
# recorded_from = 2021-01-01  # failures before that day were not recorded

[rates]
# at_months = [1, 3, 6, 12, 18, 24]
# mature_units = 30         # units at risk that a trustworthy rate needs

[shipments]
# For models whose units no register lists, only a file of shipments by month.
# sales_lag_months = 3      # mean time from shipment to first use; where it is left
#                           # out, the in-service dates of the claims tell it

[spares]
# service_level = 0.95      # chance that what is held lasts until the next delivery
# review_months = 1         # from one order to the next
# lead_time_days = 60       # of a part whose lead time nobody tells
# returned_to_stock = false # parts of claims found without fault go back to stock
# How long parts must be to be had once no unit is under cover any more: by law or by
# your own promise. Law differs from place to place: have someone who knows it check.
# service_years = 0
# service_from = "coverage" # years after the last cover, or "last_sale": after the
#                           # last unit came into service
# after_cover_share = 1.0   # claims per unit then, against those under cover

[currency]
# report = "EUR"            # one currency for the reports; needs rates for the others
# [currency.rates."2026-01"]
# CHF = 1.05                # value of one CHF in the report currency in that month

[classify]
# threshold = 0.65          # below this confidence a claim stays unclassified
# label_map = "label_map.csv"  # what an earlier taxonomy called otherwise: columns
#                           # kind (component, failure_mode), old, new; holds for
#                           # labels, parts and findings
# languages = ["en", "de", "fr", "nl", "es"]   # those your claims come in
# terms = "terms.csv"       # your own words: group,component,failure_mode,weight,terms
# replace_terms = ["de"]    # languages in which only your own words count

[report]
# keep = 24                 # reports that `run` leaves in out/, by cut-off; 0: all
# language = "en"           # of the pages: "en", "de" or "fr"
# open_days = 30            # a claim open for longer asks for a decision
# return_days = 90          # so long after closing a claim its part is waited for
# off_road_column = "..."   # a column of your claims that says yes where the vehicle
#                           # cannot be used; without it that is guessed
# roles = {{ quality = "...", service = "..." }}  # who acts, as your people say it;
#                           # also purchasing, management, records

[redaction]
# What leaves the company (supplier packs, component reports) holds no personal data.
# serial_characters = 4     # of a serial only so many stay, at its end
# names = []                # further names that must not leave
# keep = []                 # words that may stay though they look personal

[privacy]
# Off unless you set it; ask what the law where you work demands. It cannot be undone,
# and backups and copies elsewhere keep what they hold.
# keep_months = 36          # claims reported longer ago lose texts and number with the
#                           # next `run`, in the exports of this folder too; the unit
#                           # and all counts stay

# What a supplier pays of the claims on his parts; the first block that fits counts.
# [[agreement]]
# supplier = "..."
# parts = ["4711*"]         # part numbers, * for any ending; all without this line
# since = 2026-01-01        # first and last day of failure
# until = 2026-12-31
# within_months = 24        # months in service
# share = 0.5               # of the parts' cost
# labour = true             # shared too
# freight = false
# confirmed = false         # true: only claims whose part was found faulty

[mail]
# The summary of a run is written ready to be mailed; claimlens itself sends nothing.
# from = "claims@example.com"
# to = ["quality@example.com"]
# attach = false            # true: the page goes with it

[limits]
# What a file may be at most; beyond that it is refused before it fills the memory.
# line_characters = 16_000_000   # of one line, and of one record over several lines
# document_mb = 256         # JSON that is one document
# workbook_mb = 1000        # all parts of a workbook unpacked; texts of a Parquet file
# unpacked_mb = 8000        # packed text
# ratio = 200               # how many times its size a packed file may unpack to,
# ratio_from_mb = 50        # once it has passed this size
# cells = 50_000_000        # rows times columns that a sheet or Parquet file spans

# One block for each shape of export. `claimlens describe FILE --source-block`
# writes a block; paste it (or append it) below. What a block may also say, so that
# `run` tells at once when something is missing:
# every = "month"           # its rhythm: "week", "month", "quarter", or days
# rows = 800                # rows a file has, or the least and the most: [600, 1200]
# least_share = 0.6         # up to this share of the usual a file is much smaller
"""
