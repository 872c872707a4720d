"""What needs a decision: its four parts, the order, and what is not asked."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import date

import fixture_monthly
import fixture_rising
import fixture_to_come
import pandas as pd
import pytest
from page_reader import read

from claimlens.monthly_inputs import MonthlyInputs, Quality, Rising, Thresholds
from claimlens.report.decisions import danger, decisions
from claimlens.report.monthly import render_monthly
from claimlens.report.view import DecisionView


@pytest.fixture
def inputs() -> MonthlyInputs:
    return fixture_monthly.build()


def plain(text: str) -> str:
    return text.replace("\N{NO-BREAK SPACE}", " ")


def about(found: tuple[DecisionView, ...], word: str) -> DecisionView:
    [item] = [one for one in found if word in one.what]
    return item


def quiet(inputs: MonthlyInputs, **changes: object) -> MonthlyInputs:
    """Return a month in which nothing happened but what is handed over."""
    calm: dict[str, object] = {
        "changes": replace(
            inputs.changes, safety_claims=(), new_in_top_five=(), open_too_long=0
        ),
        "quality": Quality(
            unclassified_claims=0,
            unclassified_share=0.0,
            flags=(),
            rejects=(),
            undated_units=0,
            undated_claims=0,
            undated_method="",
            unknown_serial_claims=0,
            unknown_serial_bound=None,
        ),
        "rates_by_model_year": inputs.rates_by_model_year.iloc[:0],
        "build_months": inputs.build_months.iloc[:0],
        "rising": silent(),
    }
    return replace(inputs, **(calm | changes))  # type: ignore[arg-type]


def silent(**changes: object) -> Rising:
    rising = fixture_rising.build(signals=fixture_rising.signals())
    calm: dict[str, object] = {
        "windows": rising.windows.iloc[:0],
        "design_changes": rising.design_changes.iloc[:0],
    }
    return replace(rising, **(calm | changes))  # type: ignore[arg-type]


def alarm(component: str, **changes: object) -> Rising:
    row = fixture_rising.signal(component, level="alarm", state="new") | changes
    return silent(signals=fixture_rising.signals(row))


def test_a_quiet_month_asks_for_nothing(inputs: MonthlyInputs) -> None:
    found = decisions(quiet(inputs))
    assert found.now == found.later == ()
    page = read(render_monthly(quiet(inputs), {}))
    section = next(s for s in page.all("section") if s.attributes["id"] == "decisions")
    assert "Nothing in these numbers asks for a decision" in section.text


def test_every_decision_has_its_four_parts(inputs: MonthlyInputs) -> None:
    found = decisions(inputs)
    first = danger(inputs)
    assert first is not None
    for item in (first, *found.now, *found.later):
        for part in fields(DecisionView):
            if part.name not in ("sign", "where_text"):
                assert getattr(item, part.name), (item.what, part.name)
        assert item.what.count(". ") == 0  # one sentence
        for said in (item.what, item.sure, item.waiting, item.who):
            assert said.endswith("."), said
            assert "nan" not in said.lower()
    assert 1 <= len(found.now) <= 6


def test_danger_says_how_many_and_which(inputs: MonthlyInputs) -> None:
    item = danger(inputs)
    assert item is not None
    assert item.what.startswith("2 claims tell of a danger: battery pack (1) and brake")
    assert "local law" in item.who
    assert danger(quiet(inputs)) is None


def test_one_fault_seen_in_three_ways_is_one_decision(inputs: MonthlyInputs) -> None:
    """Window, build months and model year of the fixture are the same bad lot."""
    rising = silent(windows=inputs.rising.windows)
    found = decisions(replace(inputs, rising=rising))
    item = about(found.now, "Wiring harness")
    assert plain(item.what) == (
        "Wiring harness: units built March to June 2024 fail 6.1 times as often as "
        "other production."
    )
    assert plain(item.sure).startswith(
        "4.4 to 8.3 times with 95 % confidence (61 failures, 10.0 expected)."
    )
    assert "once in 710 such searches" in item.sure
    assert "The rate by month of build and the rate by model year find the same" in (
        item.sure
    )
    assert plain(item.waiting).startswith("1,589 of 1,650 such units have not failed")


def test_a_hint_of_a_window_asks_for_nothing(inputs: MonthlyInputs) -> None:
    found = decisions(
        quiet(inputs, rising=silent(windows=inputs.rising.windows.iloc[1:]))
    )
    assert found.now == ()


def test_a_model_year_alone_is_told_with_interval_and_denominator(
    inputs: MonthlyInputs,
) -> None:
    month = quiet(inputs, rates_by_model_year=inputs.rates_by_model_year)
    [item] = decisions(month).now
    row = inputs.rates_by_model_year.query(
        "component == 'wiring harness' and model_year == 2024"
    ).iloc[0]
    assert f"{100 * row['rate']:.1f} % (" in plain(item.sure)
    assert f"{int(row['claims'])} of 4,900 units" in plain(item.sure)
    assert "by 12 months in service" in item.sure


def test_new_alarms_come_first_and_what_is_acknowledged_is_silent(
    inputs: MonthlyInputs,
) -> None:
    first = decisions(inputs).now[0]
    assert first.sign == "▲"
    assert "a new alarm" in first.what
    assert "Chance alone brings" in first.sure
    known = quiet(inputs, rising=alarm("display", state="acknowledged"))
    assert decisions(known).now == ()
    watch = quiet(inputs, rising=alarm("display", level="watch"))
    assert decisions(watch).now == ()


def test_an_old_alarm_nobody_answered_asks_for_an_answer(
    inputs: MonthlyInputs,
) -> None:
    month = quiet(inputs, rising=alarm("display", state="steady"))
    [item] = decisions(month).now
    assert "an alarm that nobody has acknowledged, seen since January" in plain(
        item.what
    )
    assert "acknowledge the alarm with a reason" in item.who


def test_waiting_costs_what_the_forecast_knows_and_says_where_it_does_not(
    inputs: MonthlyInputs,
) -> None:
    frame = inputs.to_come.components_to_come
    row = frame.dropna(subset=["cost"]).iloc[0]
    months = len(inputs.to_come.months_to_come)
    month = quiet(inputs, rising=alarm(str(row["component"])))
    [item] = decisions(month).now
    money = f"{row['cost'] / months:,.0f} {row['currency']}"
    assert money in plain(item.waiting)
    assert f"{row['component']} claims a month to come" in item.waiting
    blind = replace(month, to_come=fixture_to_come.nothing("No claim is known yet."))
    [item] = decisions(blind).now
    assert "What is to come of it is not known" in item.waiting


def test_units_that_left_their_cover_are_said_to_cost_little(
    inputs: MonthlyInputs,
) -> None:
    window = inputs.rising.windows.iloc[:1].assign(
        from_date=pd.Timestamp(2022, 1, 1), to_date=pd.Timestamp(2022, 3, 1)
    )
    rising = silent(windows=window)
    for months, said in ((24.0, True), (60.0, False), (None, False)):
        meta = replace(inputs.meta, cover_months=months)
        [item] = decisions(quiet(inputs, rising=rising, meta=meta)).now
        assert ("most of these units have left it" in item.waiting) is said


def test_a_change_that_made_it_worse_asks_for_a_decision(inputs: MonthlyInputs) -> None:
    changes = inputs.rising.design_changes.iloc[:1]
    for verdict, said in (("worse", True), ("unchanged", True), ("improved", False)):
        rising = silent(design_changes=changes.assign(verdict=verdict, rate_ratio=1.4))
        assert bool(decisions(quiet(inputs, rising=rising)).now) is said


@pytest.mark.parametrize(("limit", "asked"), [(0.0395, True), (0.0396, False)])
def test_unclassified_claims_are_named_above_the_limit_only(
    inputs: MonthlyInputs, limit: float, asked: bool
) -> None:
    strict = replace(
        inputs, thresholds=Thresholds(unclassified_share=limit, open_days=30)
    )
    assert inputs.quality.unclassified_share == pytest.approx(0.03953, abs=1e-5)
    found = decisions(strict)
    said = [one for one in (*found.now, *found.later) if "no component" in one.what]
    assert bool(said) is asked


def test_no_percentage_is_made_of_fewer_than_ten(inputs: MonthlyInputs) -> None:
    few = quiet(
        inputs,
        quality=replace(
            inputs.quality, unclassified_claims=3, unclassified_share=3 / 7
        ),
        classes=pd.DataFrame({"class": ["counted"], "claims": [7]}),
        claims_read=7,
    )
    assert "(3 of 7)" in about(decisions(few).now, "no component").what


def test_more_than_six_go_below(inputs: MonthlyInputs) -> None:
    """The list is read; the rest is folded away, and none is lost."""
    base = inputs.rates_by_model_year
    frames = []
    for number in range(8):
        own = base[base["component"] == "wiring harness"]
        frames.append(own.assign(component=f"part {number}"))
    month = quiet(inputs, rates_by_model_year=pd.concat(frames, ignore_index=True))
    found = decisions(month)
    assert len(found.now) == 6
    assert len(found.later) == 2
    named = {one.what.split(":")[0] for one in (*found.now, *found.later)}
    assert named == {f"Part {number}" for number in range(8)}


def test_keeping_house_is_no_urgent_matter(inputs: MonthlyInputs) -> None:
    found = decisions(inputs)
    words = ("no register knows", "rejected")
    for word in words:
        assert not any(word in one.what for one in found.now)
        assert any(word in one.what for one in found.later)


def test_undated_failures_are_asked_for_only_where_they_are_many(
    inputs: MonthlyInputs,
) -> None:
    assert not any("failure date" in one.what for one in decisions(inputs).later)
    many = replace(inputs, late=replace(inputs.late, undated_share=0.27))
    item = about(decisions(many).later, "failure date")
    assert plain(item.sure).startswith("27 %")


def test_the_workspace_names_those_who_act(inputs: MonthlyInputs) -> None:
    named = quiet(
        inputs,
        meta=replace(inputs.meta, roles={"quality": "Quality, Lena Obst"}),
        rising=alarm("display"),
    )
    [item] = decisions(named).now
    assert item.who.startswith("Quality, Lena Obst: ")


def test_a_link_leads_to_a_section_that_is_there(inputs: MonthlyInputs) -> None:
    assert inputs.meta.as_of == date(2026, 3, 31)
    page = read(render_monthly(inputs, {}))
    ids = {s.attributes["id"] for s in page.all("section")}
    part = next(s for s in page.all("section") if s.attributes["id"] == "decisions")
    links = part.all("a")
    assert links
    for link in links:
        assert link.attributes["href"][1:] in ids
        assert link.text
