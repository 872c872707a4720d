"""The charts: what is drawn, with which words, the same bytes each time."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator

import altair as alt
import fixture_monthly
import numpy as np
import pandas as pd
import pytest
from scipy import stats

from claimlens.charts import embed, late, lives, panels, rates, theme, volume
from claimlens.charts.monthly import build
from claimlens.charts.theme import NARROW, WIDE
from claimlens.monthly_inputs import MonthlyInputs
from claimlens.results import ChartHtml

NAMES = [
    "signal-courses",
    "production-windows",
    "change-curves",
    "claims-by-month",
    "claims-by-failure-month",
    "claims-to-come",
    "forecast-tested",
    "reserve-by-model-year",
    "ranking",
    "rate-by-model-year",
    "rate-by-build-month",
    "cumulative-share",
    "probability-plot",
]


@pytest.fixture(scope="module")
def inputs() -> MonthlyInputs:
    return fixture_monthly.build()


@pytest.fixture(scope="module")
def charts(inputs: MonthlyInputs) -> dict[str, ChartHtml]:
    return build(inputs)


def walk(node: object) -> Iterator[dict[str, object]]:
    """Yield every mapping of a spec."""
    if isinstance(node, dict):
        yield node
        for value in node.values():
            yield from walk(value)
    elif isinstance(node, list):
        for value in node:
            yield from walk(value)


def marks(spec: dict[str, object]) -> list[str]:
    """Return the mark types of a spec."""
    found = []
    for node in walk(spec):
        mark = node.get("mark")
        if isinstance(mark, dict):
            found.append(str(mark["type"]))
    return found


def test_the_month_has_its_charts_in_order(charts: dict[str, ChartHtml]) -> None:
    assert list(charts) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_no_default_colour_scheme_is_used(
    name: str, charts: dict[str, ChartHtml]
) -> None:
    """Tableau's ten colours are what Vega draws with when nothing is said."""
    allowed = {light for light, _ in theme.TOKENS.values()} | {"transparent", "none"}
    for svg in (charts[name].svg, charts[name].svg_narrow):
        used = set(re.findall(r'(?:fill|stroke)="([^"]+)"', svg))
        plain = {colour for colour in used if not colour.startswith("var(--chart-")}
        assert plain <= allowed


@pytest.mark.parametrize("name", NAMES)
def test_every_axis_has_a_title(name: str, charts: dict[str, ChartHtml]) -> None:
    spec = json.loads(charts[name].spec)
    titled = 0
    for node in walk(spec):
        for channel in ("x", "y"):
            encoded = node.get(channel)
            # an axis that is drawn is told so; names of components need no title
            if (
                isinstance(encoded, dict)
                and encoded.get("axis")
                and encoded.get("field") != "name"
            ):
                assert encoded["title"]
                titled += 1
    assert titled >= 2


@pytest.mark.parametrize("name", NAMES)
def test_a_spec_describes_itself_and_holds_no_address(
    name: str, charts: dict[str, ChartHtml]
) -> None:
    for text in (charts[name].spec, charts[name].spec_narrow):
        spec = json.loads(text)
        assert len(spec["description"]) > 30
        spec.pop("$schema")
        assert "http" not in json.dumps(spec)
        assert "NaN" not in text
        assert "Infinity" not in text


def test_every_rate_is_drawn_with_its_interval(charts: dict[str, ChartHtml]) -> None:
    for name in ("rate-by-model-year", "rate-by-build-month", "probability-plot"):
        kinds = marks(json.loads(charts[name].spec))
        assert kinds.count("rule") >= kinds.count("point") > 0
    curves = marks(json.loads(charts["cumulative-share"].spec))
    assert curves.count("area") == 6


def test_rate_axes_start_at_zero(charts: dict[str, ChartHtml]) -> None:
    for name in ("rate-by-model-year", "rate-by-build-month", "cumulative-share"):
        for node in walk(json.loads(charts[name].spec)):
            field = node.get("field")
            if field in ("rate", "share", "lower") and "scale" in node:
                assert node["scale"]["domain"][0] == 0  # type: ignore[index]  # JSON


def test_sample_sizes_are_visible(charts: dict[str, ChartHtml]) -> None:
    assert ">n 4,900<" in charts["rate-by-model-year"].svg
    assert "units built" in charts["rate-by-build-month"].svg
    assert "20,540 units; along the top: at risk" in charts["cumulative-share"].svg
    assert ">496 failures; shape 1.4</text>" in charts["probability-plot"].svg


def test_late_months_carry_their_share_and_a_key_in_words(
    charts: dict[str, ChartHtml],
) -> None:
    svg = charts["claims-by-failure-month"].svg
    for share in ("35", "75", "90", "95", "98"):
        assert f">{share}\N{NO-BREAK SPACE}%</text>" in svg
    assert "Striped: still to come, with its interval." in svg


def test_late_months_are_drawn_up_to_what_is_expected(inputs: MonthlyInputs) -> None:
    frame = inputs.late_months
    spec = late.claims_by_failure_month(frame, layout=WIDE).to_dict()
    marks = [layer["mark"]["type"] for layer in spec["layer"]]
    assert marks.count("rule") == 1
    assert marks.count("tick") == 2
    scale = spec["layer"][0]["encoding"]["y"]["scale"]["domain"]
    assert scale[0] == 0
    assert scale[1] > frame["upper"].max()
    stripes = spec["datasets"][spec["layer"][2]["data"]["name"]]
    for row in frame.tail(5).to_dict("records"):
        month = f"{row['month']:%Y-%m}"
        heights = [item["above"] for item in stripes if item["month"] == month]
        assert all(row["claims"] < at < row["completed"] for at in heights)
    assert len([item for item in stripes if item["month"] == "2026-03"]) > 5


def test_without_a_known_lag_the_bars_stand_alone(inputs: MonthlyInputs) -> None:
    frame = inputs.late_months.assign(
        completed=math.nan, lower=math.nan, upper=math.nan, share_reported=math.nan
    )
    for layout in (WIDE, NARROW):
        spec = late.claims_by_failure_month(frame, layout=layout).to_dict()
        assert {layer["mark"]["type"] for layer in spec["layer"]} == {"bar"}
        assert embed.to_svg(late.claims_by_failure_month(frame, layout=layout))


def test_young_rates_are_told_by_shape_and_word(charts: dict[str, ChartHtml]) -> None:
    assert ">too young to trust</text>" in charts["rate-by-model-year"].svg
    assert ">none that old</text>" in charts["rate-by-model-year"].svg


def test_a_drawing_has_the_same_bytes_at_each_call(inputs: MonthlyInputs) -> None:
    chart = volume.claims_by_month(inputs.claims_by_month, layout=WIDE)
    assert embed.to_svg(chart) == embed.to_svg(chart)


def test_a_whole_spec_is_valid_vega_lite(inputs: MonthlyInputs) -> None:
    for chart in (
        volume.claims_by_month(inputs.claims_by_month, layout=NARROW),
        volume.ranking_bars(inputs.ranking, layout=WIDE),
        rates.rate_dots(
            inputs.rates_by_model_year, layout=WIDE, components=["charger"]
        ),
        lives.cumulative_share(
            inputs.curves, layout=WIDE, components=["charger"], units={}
        ),
    ):
        checked = embed.to_spec(chart, validate=True)
        assert checked == embed.to_spec(chart)


def test_slimming_leaves_texts_alone_and_names_the_font_once() -> None:
    number = "pump 1.23456 <b>"
    ranking = fixture_monthly.build().ranking.replace({"component": {"frame": number}})
    svg = embed.to_svg(volume.ranking_bars(ranking, layout=WIDE))
    assert ">pump 1.23456 &lt;b&gt;</text>" in svg
    assert svg.count("font-family") == 1
    assert not re.search(r'="[^"]*\d\.\d{3}', svg)
    # the drawing engine alone writes 19,000 bytes
    assert len(svg) < 14_000


def test_ids_inside_a_drawing_carry_its_prefix(inputs: MonthlyInputs) -> None:
    chart = lives.cumulative_share(
        inputs.curves, layout=WIDE, components=["charger"], units={}
    )
    svg = embed.to_svg(chart, prefix="mine")
    for found in re.findall(r'\bid="([^"]+)"|url\(#([^)]+)\)', svg):
        assert "".join(found).startswith("mine-")


def test_a_component_named_like_a_colour_keeps_its_name(
    inputs: MonthlyInputs, charts: dict[str, ChartHtml]
) -> None:
    ranking = inputs.ranking.replace({"component": {"controller": theme.MARK}})
    chart = volume.ranking_bars(ranking, layout=WIDE)
    drawn = embed.chart_html(
        "x",
        wide=chart,
        narrow=chart,
        summary="",
        table=charts["ranking"].table,
    )
    assert f">{theme.MARK}</text>" in drawn.svg
    assert f'"{theme.MARK}"' in drawn.spec


def test_marks_that_only_catch_the_pointer_are_not_in_the_picture(
    charts: dict[str, ChartHtml],
) -> None:
    assert 'opacity="0"/>' not in charts["cumulative-share"].svg
    assert '"opacity":0' in charts["cumulative-share"].spec


def test_the_library_comes_with_an_interpreter_and_no_closing_tag() -> None:
    library = embed.library_bundle()
    assert "expressionInterpreter" in library
    assert "</script" not in library.lower()
    assert 500_000 < len(library) < 1_200_000


def test_the_theme_is_not_left_switched_on(inputs: MonthlyInputs) -> None:
    """Whoever imports claimlens in a notebook keeps their own theme."""
    embed.to_spec(volume.claims_by_month(inputs.claims_by_month, layout=WIDE))
    assert alt.theme.active != theme.NAME


def test_weibull_failures_lie_on_a_straight_line_with_the_shape_as_slope() -> None:
    """The probability plot of NIST/SEMATECH e-Handbook 1.3.3.30, live with scipy."""
    months = np.geomspace(0.5, 60, 25)
    share = stats.weibull_min.cdf(months, 1.7, scale=40)
    positions = lives._weibull_scale(pd.Series(share))
    slope, intercept = np.polyfit(np.log(months), positions, 1)
    assert slope == pytest.approx(1.7, rel=1e-9)
    # the line crosses zero at the characteristic life, 63.2 per cent
    assert np.exp(-intercept / slope) == pytest.approx(40, rel=1e-9)


def test_shares_of_zero_and_one_have_no_place_on_the_probability_plot() -> None:
    positions = lives._weibull_scale(pd.Series([0.0, 0.5, 1.0, np.nan]))
    assert np.isnan(positions).tolist() == [True, False, True, True]


def test_thinning_keeps_first_last_and_the_value_in_force() -> None:
    months = np.arange(0, 24, 1 / 30.4375)
    curve = pd.DataFrame({"months": months, "share": months / 100})
    thin = lives.thin_curve(curve)
    assert thin["months"].iloc[0] == 0
    assert thin["months"].iloc[-1] == months[-1]
    assert 90 < len(thin) < 100
    for age in (3.0, 11.5, 20.25):
        full = curve[curve["months"] <= age]["share"].iloc[-1]
        kept = thin[thin["months"] <= age]["share"].iloc[-1]
        assert abs(full - kept) < 0.25 / 100


@pytest.mark.parametrize(
    ("count", "room", "step"), [(6, 12, 1), (30, 12, 3), (51, 12, 6), (140, 12, 12)]
)
def test_month_labels_fit_and_show_where_years_begin(
    count: int, room: int, step: int
) -> None:
    domain = [str(m) for m in pd.period_range("2019-04", periods=count, freq="M")]
    labels = panels.month_labels(domain, room=room)
    assert len(labels) <= room
    januaries = [month for month in domain if month.endswith("-01")]
    assert step == 1 or set(januaries) <= set(labels)


def test_build_months_without_units_still_take_their_place(
    inputs: MonthlyInputs,
) -> None:
    domain = panels.domain_of_months(pd.Series(["2024-11", "2025-02"]))
    assert domain == ["2024-11", "2024-12", "2025-01", "2025-02"]


def test_costs_of_each_currency_have_a_panel(inputs: MonthlyInputs) -> None:
    other = inputs.ranking.assign(currency="SEK", cost=7.0)
    both = pd.concat([inputs.ranking, other], ignore_index=True)
    spec = json.loads(embed.to_spec(volume.ranking_bars(both, layout=WIDE)))
    titles = [panel["title"]["text"] for panel in spec["concat"]]
    assert titles == ["claims", "cost in EUR", "cost in SEK"]
    first = spec["concat"][0]["data"]["name"]
    counted = sum(row["figure"] for row in spec["datasets"][first])
    assert counted == inputs.ranking["claims"].sum()


def test_the_table_of_model_years_has_every_component(
    charts: dict[str, ChartHtml], inputs: MonthlyInputs
) -> None:
    rows = charts["rate-by-model-year"].table.rows
    assert {row[0] for row in rows} == set(fixture_monthly.COMPONENTS)
    source = inputs.rates_by_model_year
    for row in rows[:20]:
        own = source[
            (source["component"] == row[0]) & (source["model_year"] == int(str(row[1])))
        ].iloc[0]
        assert row[2] == own["units"]
        assert row[4] == (None if np.isnan(own["rate"]) else own["rate"])


def test_the_table_of_curves_gives_the_step_in_force(
    charts: dict[str, ChartHtml], inputs: MonthlyInputs
) -> None:
    rows = [r for r in charts["cumulative-share"].table.rows if r[0] == "charger"]
    assert [row[1] for row in rows] == [3, 6, 9, 12, 15, 18, 21, 24]
    own = inputs.curves[inputs.curves["component"] == "charger"]
    assert rows[3][2] == own[own["months"] <= 12]["share"].iloc[-1]


def test_components_that_stand_out_have_the_first_panels(
    charts: dict[str, ChartHtml],
) -> None:
    """Controllers have most claims; the planted fact is in the harness."""
    for name in ("rate-by-model-year", "rate-by-build-month"):
        spec = json.loads(charts[name].spec)
        titles = [panel["title"]["text"] for panel in spec["concat"]]
        assert titles[:2] == ["wiring harness", "controller"]


def test_unclassified_claims_have_a_bar_but_no_panel(inputs: MonthlyInputs) -> None:
    renamed = {"controller": "unclassified"}
    frames = {
        name: getattr(inputs, name).replace({"component": renamed})
        for name in ("ranking", "rates_by_model_year", "curves", "life_points")
    }
    charts = build(fixture_monthly.build(**frames))
    assert ">unclassified</text>" in charts["ranking"].svg
    for name in ("rate-by-model-year", "cumulative-share", "probability-plot"):
        assert ">unclassified</text>" not in charts[name].svg
    rows = charts["rate-by-model-year"].table.rows
    assert any(row[0] == "unclassified" for row in rows)


def test_the_sum_of_the_other_components_is_written_without_a_bar(
    inputs: MonthlyInputs,
) -> None:
    spec = json.loads(
        embed.to_spec(volume.ranking_bars(inputs.ranking, layout=WIDE, shown=3))
    )
    rows = spec["datasets"][spec["concat"][0]["data"]["name"]]
    (others,) = [row for row in rows if row["name"] == "11 other components"]
    assert others["end"] == 0
    ranked = inputs.ranking.sort_values("claims", ascending=False)
    assert others["figure"] == ranked["claims"].iloc[3:].sum()


def test_a_component_without_cost_has_claims_but_no_currency(
    inputs: MonthlyInputs,
) -> None:
    ranking = inputs.ranking.astype({"currency": object})
    ranking.loc[0, "currency"] = ""
    settled = fixture_monthly.build(ranking=ranking).ranking
    spec = json.loads(embed.to_spec(volume.ranking_bars(settled, layout=WIDE)))
    titles = [panel["title"]["text"] for panel in spec["concat"]]
    assert titles == ["claims", "cost in EUR"]


def test_a_curve_begins_at_birth(inputs: MonthlyInputs) -> None:
    late = inputs.curves[inputs.curves["months"] >= 1]
    chart = lives.cumulative_share(
        late, layout=WIDE, components=["charger"], units={"charger": 12}
    )
    spec = json.loads(embed.to_spec(chart))
    longest = max(spec["datasets"].values(), key=len)
    assert longest[0]["months"] == 0
    assert longest[0]["share"] == longest[0]["upper"] == 0
    assert ">12 units; along the top: at risk<" in embed.to_svg(chart)
