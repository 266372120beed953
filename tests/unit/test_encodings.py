"""How charts show things: one form for one meaning, marks that can be seen, axes that say what they are."""

from dataclasses import replace
from typing import Any

import altair as alt
import polars as pl
import pytest

from reports.appraisal.band import band_chart
from reports.appraisal.comparables import comparables_chart
from reports.appraisal.waterfall import waterfall_chart
from reports.charts.intervals import FORMS, Form, interval_chart
from reports.charts.percent_axis import percent_axis
from reports.charts.price_axis import price_axis
from reports.charts.rows import figure_room
from reports.era_odds.chart import era_odds_chart
from reports.export import chart_spec
from reports.market_view.page import market_figures
from reports.theme import DARK, LIGHT, Palette, chart_config
from tests.appraisals import common_pair, rare_pair
from tests.golden.test_decision_chart_specs import some_eras
from tests.market_views import usual_market

NOT_MARKS = ("foot", "touch")
"""A base line under bars, like a grid line; and what is pointed at, unseen."""


def luminance(colour: str) -> float:
    """Return the relative luminance of a colour as #rrggbb (WCAG 2.2)."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours (WCAG 2.2)."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def layers_of(chart: alt.LayerChart, style: str) -> list[dict[str, Any]]:
    return [layer for layer in chart_spec(chart)["layer"] if layer["mark"].get("style") == style]


def rows_of(chart: alt.LayerChart, style: str) -> list[dict[str, Any]]:
    """Return the rows that the layers of a style draw."""
    data = chart_spec(chart)["datasets"]
    return [row for layer in layers_of(chart, style) for row in data[layer["data"]["name"]]]


def intervals(*highs: float) -> pl.DataFrame:
    """Return estimates at zero whose intervals reach up to these per cents."""
    return pl.DataFrame(
        [
            {"words": f"row {high}", "figure": "0 %", "middle": 0.0, "low": -2.0, "high": high, "said": "so"}
            for high in highs
        ]
    )


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_every_mark_stands_out_from_the_page_three_to_one(palette: Palette) -> None:
    styles = chart_config(palette)["style"]
    best = {
        name: max(
            contrast(look[part], palette.paper)
            for part in ("color", "stroke")
            if look.get(part, "transparent") != "transparent"
        )
        for name, look in styles.items()
        if "fontSize" not in look and name not in NOT_MARKS
    }
    assert {name: round(found, 2) for name, found in best.items() if found < 3} == {}


def test_a_band_an_error_and_a_95_percent_interval_are_drawn_in_three_forms() -> None:
    styles = chart_config(LIGHT)["style"]
    looks = set()
    for form in FORMS:
        mark = layers_of(interval_chart(intervals(2.0), "t", "Per cent", form=form), form)[0]["mark"]
        looks.add((mark["type"], styles[form]["color"] == "transparent"))
    assert looks == {("rect", False), ("rule", False), ("rect", True)}


@pytest.mark.parametrize("form", FORMS)
def test_an_interval_is_drawn_in_its_form_alone(form: Form) -> None:
    chart = interval_chart(intervals(2.0, 3.0), "t", "Per cent", form=form)
    assert [other for other in FORMS if layers_of(chart, other)] == [form]


def test_the_zero_line_of_intervals_is_one_line_through_all_rows() -> None:
    chart = interval_chart(intervals(2.0, 3.0), "t", "Per cent", form="band-80")
    assert [("y" in one["encoding"], len(rows_of(chart, "zero"))) for one in layers_of(chart, "zero")] == [
        (False, 1)
    ]


def test_the_line_at_the_median_is_one_line_through_all_rows() -> None:
    assert [sorted(one["encoding"]) for one in layers_of(band_chart(common_pair()), "median")] == [["x"]]


def test_a_step_that_changes_nothing_is_marked_and_says_so() -> None:
    still = rows_of(waterfall_chart(rare_pair()), "no-change")
    assert [(row["words"], row["figure"]) for row in still] == [("Size: not known", "no change")]


def test_the_words_of_the_start_are_whole_on_several_lines_of_the_waterfall() -> None:
    start = "an average silhouette, era second, size 270 mm, grade 7, box none, tags none, overlay not known"
    words = [row["words"] for row in rows_of(waterfall_chart(replace(rare_pair(), start=start)), "row-words")]
    lines = words[: words.index("Silhouette: Plover Lo")]
    assert (" ".join(lines), max(map(len, lines)) <= 42) == (f"Start: {start}", True)


def test_a_log_axis_says_that_it_is_one() -> None:
    assert price_axis([100.0, 1200.0]).encode("at", "Price").to_dict()["title"] == "Price, log scale"


def test_a_linear_axis_needs_no_such_word() -> None:
    assert price_axis([900.0, 1200.0]).encode("at", "Price").to_dict()["title"] == "Price"


@pytest.mark.parametrize("axis", [price_axis([1.0, 2.0], room=90), percent_axis([1.0], "t", room=90)])
def test_an_axis_leaves_the_room_of_the_figures_at_its_right(axis: Any) -> None:
    encode = getattr(axis, "across", None) or (lambda field: axis.encode(field, "t"))
    assert encode("at").to_dict()["scale"]["range"] == [0, {"expr": "width - 90"}]


def test_the_room_is_that_of_the_longest_figure() -> None:
    assert figure_room(["€1", "€1,230 – €2,010"]) == figure_room(["€1,230 – €2,010"]) > figure_room(["€1"])


def test_a_sale_far_off_does_not_squeeze_the_bands() -> None:
    usual = common_pair()
    far = replace(usual.comparables[0], adjusted_price=usual.median * 20)
    odd = replace(usual, comparables=(far, *usual.comparables[1:]))
    domain = layers_of(band_chart(odd), "band-95")[0]["encoding"]["x"]["scale"]["domain"]
    assert domain[1] < usual.median * 2


def test_a_sale_far_off_is_written_at_the_edge_with_an_arrow() -> None:
    usual = common_pair()
    far = replace(usual.comparables[0], adjusted_price=usual.median * 20)
    chart = band_chart(replace(usual, comparables=(far, *usual.comparables[1:])))
    assert [row["beyond"] for row in rows_of(chart, "edge-high")] == ["→ €31,400"]


def test_a_sale_far_off_is_not_drawn_as_a_dot() -> None:
    usual = common_pair()
    far = replace(usual.comparables[0], price_paid=usual.median / 20)
    chart = comparables_chart(replace(usual, comparables=(far, *usual.comparables[1:])))
    assert len(rows_of(chart, "paid")) == len(usual.comparables) - 1


def test_what_one_was_paid_far_off_is_written_at_the_edge_with_an_arrow() -> None:
    usual = common_pair()
    far = replace(usual.comparables[0], price_paid=50.0)
    chart = comparables_chart(replace(usual, comparables=(far, *usual.comparables[1:])))
    assert [row["beyond"] for row in rows_of(chart, "edge-low")] == ["€50 ←"]


def test_sales_near_the_bands_are_all_dots() -> None:
    assert layers_of(band_chart(common_pair()), "edge-high") == []


def test_one_wide_interval_does_not_squeeze_the_others() -> None:
    chart = interval_chart(intervals(2.0, 2.0, 2.0, 900.0), "t", "Per cent", form="error")
    assert layers_of(chart, "error")[0]["encoding"]["x"]["scale"]["domain"][1] < 30


def test_a_wide_interval_is_marked_where_it_is_cut() -> None:
    chart = interval_chart(intervals(2.0, 2.0, 2.0, 900.0), "t", "Per cent", form="error")
    assert [row["far_high"] for row in rows_of(chart, "edge-high")] == [900.0]


def test_a_tall_chart_has_its_axis_in_the_first_screen() -> None:
    tall = interval_chart(intervals(*[2.0] * 20), "t", "Per cent", form="band-80")
    assert layers_of(tall, "band-80")[0]["encoding"]["x"]["axis"]["orient"] == "top"


def test_a_mixture_of_eras_shows_a_bar_for_each() -> None:
    chart = era_odds_chart(some_eras(), "EUR")
    bars = [*rows_of(chart, "band-80"), *rows_of(chart, "band-80-weak")]
    first_row = [row for row in bars if row["mark_top"] < 1]
    assert [(row["low"], row["high"]) for row in first_row] == [(600.0, 1040.0), (220.0, 400.0)]


def test_a_bar_in_a_mixture_is_as_thick_as_its_chance() -> None:
    chart = era_odds_chart(some_eras(), "EUR")
    (first, whole), (second, _) = (
        [row["mark_bottom"] - row["mark_top"] for row in rows_of(chart, style)]
        for style in ("band-80", "band-80-weak")
    )
    assert (first / whole, second / whole) == pytest.approx((0.7, 0.3))


def test_sell_through_bars_stand_between_zero_and_a_hundred_percent() -> None:
    sell_through = next(figure for figure in market_figures(usual_market()) if figure.key == "sell-through")
    texts = [row["scale_text"] for row in rows_of(sell_through.chart, "scale-words")]
    assert texts == ["100 %", "0"] * 2


def test_each_group_of_the_index_has_its_line_at_100() -> None:
    eras = next(figure for figure in market_figures(usual_market()) if figure.key == "groups-era")
    assert [row["scale_text"] for row in rows_of(eras.chart, "scale-words")] == ["100", "100"]
