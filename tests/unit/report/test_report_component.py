"""The dossier of one component: what it says, and what it must not show."""

from __future__ import annotations

import re
from dataclasses import replace

import fixture_component
import fixture_rising
import pandas as pd
import pytest

from claimlens.analysis.component_private import for_others
from claimlens.charts.component import build as draw
from claimlens.errors import ReportError
from claimlens.handover.file_names import file_name_of
from claimlens.redact import Known, Redactor
from claimlens.report.component import component_view, render_component
from claimlens.report_inputs.component import ComponentInputs

STRICT = Redactor(Known(names=("Mossgate", "Tarnwick"), serial_keeps=3))
HOSTILE = "<img src=x onerror=alert(1)>/../../etc"


def page_of(inputs: ComponentInputs) -> str:
    return render_component(inputs, draw(inputs))


def first_screen(inputs: ComponentInputs) -> list[str]:
    """Return the points, each as one text."""
    view = component_view(inputs, {})
    return [
        " ".join((point.what, point.sure, point.cost, point.act))
        for point in view.points
    ]


def test_a_danger_stands_before_the_fault_itself() -> None:
    danger, fault, *_ = first_screen(fixture_component.build())
    assert danger.startswith("1 claim tells of a danger, the newest of 19")
    assert "1 still open" in danger
    assert fault.startswith("1,000 of 9,000 claims, the most of 14 components.")


def test_the_fault_says_rate_limits_pattern_and_cost() -> None:
    fault = first_screen(fixture_component.build())[1]
    assert "the 2nd highest rate of 14 (the middle one: 2.1)" in fault
    assert re.search(r"\(interval [\d.]+–[\d.]+\N{NO-BREAK SPACE}%\), mature", fault)
    assert "Pattern undecided: shape 1.0 (0.90–1.2)" in fault
    assert "17,760\N{NO-BREAK SPACE}EUR so far" in fault
    assert "Next 12 months" in fault


def test_nothing_rising_is_said_too() -> None:
    quiet = replace(
        fixture_component.rising(), signals=fixture_rising.build().signals.iloc[:0]
    )
    told = first_screen(fixture_component.build(rising=quiet))
    assert any("not rising beyond what chance explains" in point for point in told)


def test_a_window_that_only_chance_made_is_no_point() -> None:
    rising = fixture_component.rising()
    weak = rising.windows.assign(p_value=0.3, adjusted_p=0.3)
    inputs = fixture_component.build(rising=replace(rising, windows=weak))
    assert not any("times as often" in point for point in first_screen(inputs))
    assert "No window of build months fails more than chance" in page_of(inputs)


def test_a_window_that_many_components_explain_is_a_hint() -> None:
    rising = fixture_component.rising()
    weak = rising.windows.assign(p_value=0.03, adjusted_p=0.4)
    inputs = fixture_component.build(rising=replace(rising, windows=weak))
    [window] = [one for one in first_screen(inputs) if "times as often" in one]
    assert "no more than a hint" in window


def test_the_same_inputs_give_the_same_bytes() -> None:
    assert page_of(fixture_component.build()) == page_of(fixture_component.build())


def test_the_page_lists_two_hundred_units_and_says_how_many_there_are() -> None:
    page = page_of(fixture_component.build())
    listed = page.split('id="units-at-risk-table"')[1].split("</table>")[0]
    assert listed.count("<tr>") == 201
    assert "the first 200 of 249" in listed
    assert "1 more are out of service" in page


def test_every_text_reads_in_its_own_direction() -> None:
    page = page_of(fixture_component.build())
    assert page.count('<blockquote dir="auto">') == 2
    assert "נדלק […]" in page


def test_a_hostile_name_is_text_everywhere() -> None:
    inputs = fixture_component.build()
    names = {fixture_component.COMPONENT: HOSTILE}
    hostile = replace(
        inputs,
        component=HOSTILE,
        build_months=inputs.build_months.replace({"component": names}),
        curves=inputs.curves.replace({"component": names}),
        by_year=inputs.by_year.replace({"component": names}),
        causes=inputs.causes.replace({"component": names}),
        life_points=inputs.life_points.replace({"component": names}),
        life_line=inputs.life_line.replace({"component": names}),
    )
    page = page_of(hostile)
    assert "<img" not in page
    assert "&lt;img" in page


def test_a_component_without_claims_says_so_and_shows_no_section() -> None:
    inputs = fixture_component.build()
    none = replace(
        inputs,
        place=replace(inputs.place, claims=0, by_claims=None, by_rate=None),
        dangers=(),
        rising=replace(
            inputs.rising,
            judged_on=None,
            windows=inputs.rising.windows.iloc[:0],
            design_changes=inputs.rising.design_changes.iloc[:0],
        ),
    )
    view = component_view(none, {})
    assert view.points == ()
    assert view.sections == ()
    assert "No claim of the wiring harness" in view.quiet


def test_outside_the_company_serials_and_suppliers_are_not_named() -> None:
    inputs = fixture_component.build()
    assert "TRK-2403117" in page_of(inputs)
    page = page_of(for_others(inputs, STRICT))
    assert "TRK-2403117" not in page
    assert "TRK-24" not in page
    assert "Mossgate" not in page
    assert "Tarnwick" not in page
    assert "supplier 2" in page


def test_whoever_acknowledged_a_signal_is_not_named_outside() -> None:
    rising = fixture_component.rising()
    known = rising.signals.assign(
        state="acknowledged",
        acknowledged_by="R. Quennell",
        acknowledged_why="R. Quennell wrote to the supplier",
    )
    inputs = fixture_component.build(rising=replace(rising, signals=known))
    assert "Quennell" not in page_of(for_others(inputs, STRICT))


def test_an_internal_page_says_that_it_must_stay_inside() -> None:
    assert "not to leave the company" in page_of(fixture_component.build(internal=True))


def test_a_frame_without_a_column_is_refused_by_name() -> None:
    with pytest.raises(ReportError, match=r"at_risk lacks .*window"):
        fixture_component.build(at_risk=pd.DataFrame({"serial": []}))


def test_a_name_of_plain_words_is_its_own_file_name() -> None:
    assert file_name_of("wiring harness") == "wiring-harness"


@pytest.mark.parametrize(
    "name",
    [HOSTILE, "../../etc/passwd", "CON", "brake pad/rotor", "לוח", "a" * 500, "", "."],
)
def test_a_file_name_holds_letters_digits_and_hyphens(name: str) -> None:
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", file_name_of(name))
    assert len(file_name_of(name)) <= 70


def test_names_that_differ_never_share_a_file() -> None:
    names = [
        "brake pad rotor",
        "brake pad/rotor",
        "Brake pad rotor",
        "brake-pad rotor",
        "brake  pad rotor",
        "bräke pad rotor",
        "brake pad rotor ",
        "x" * 100,
        "x" * 101,
        "",
    ]
    names += [file_name_of(name).replace("-", " ") for name in names]
    distinct = list(dict.fromkeys(names))
    files = {file_name_of(name) for name in distinct}
    assert len(files) == len(distinct)
