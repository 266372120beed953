"""A chart drawn into a page as SVG."""

import re
from dataclasses import asdict

import altair as alt
import polars as pl
import pytest
import vl_convert
from lxml import etree

from reports.appraisal.band import band_chart
from reports.appraisal.waterfall import waterfall_chart
from reports.drawing import BROAD, NARROW, draw_chart
from reports.theme import VARIABLES
from tests.appraisals import common_pair, hostile_pair
from tests.golden.test_chart_specs import CASES as APPRAISAL
from tests.golden.test_decision_chart_specs import CASES as DECISION
from tests.golden.test_market_chart_specs import CASES as MARKET

CHARTS = {
    **{name: draw(pair()) for name, (draw, pair) in APPRAISAL.items()},
    **{name: draw() for name, draw in (DECISION | MARKET).items()},
}

HOSTILE = "</svg><script>alert(1)</script>\" onload='x' &amp; <b>"


def drawings(chart: alt.LayerChart) -> list[etree._Element]:
    """Return the drawings of a chart as trees; they are read as strictly as XML is."""
    return list(etree.fromstring(f"<both>{draw_chart(chart)}</both>"))


def said_of(words: str) -> alt.LayerChart:
    """Return a chart of one dot that says these words, beside them as text."""
    rows = alt.Chart(pl.DataFrame({"at": [1.0], "words": [words]}))
    dot = rows.mark_point(style="sale", filled=True).encode(
        x="at:Q", tooltip=[alt.Tooltip("words", title="title"), alt.Tooltip("at", title="place")]
    )
    return alt.LayerChart(layer=[dot, rows.mark_text().encode(x="at:Q", text="words:N")], title="A dot")


def test_a_chart_is_drawn_broad_and_narrow() -> None:
    boxes = [one.get("viewBox", "").split()[2] for one in drawings(band_chart(common_pair()))]
    assert boxes == [str(BROAD), str(NARROW)]


@pytest.fixture(autouse=True)
def drawn_afresh(monkeypatch: pytest.MonkeyPatch) -> None:
    """Draw every chart here by the library itself, not as another test left it."""
    monkeypatch.setattr(vl_convert, "vegalite_to_svg", vl_convert.vegalite_to_svg.__wrapped__)


def test_the_same_chart_gives_the_same_bytes() -> None:
    assert draw_chart(waterfall_chart(common_pair())) == draw_chart(waterfall_chart(common_pair()))


@pytest.mark.parametrize("name", CHARTS)
def test_every_colour_is_a_variable_of_the_page(name: str) -> None:
    colours = set(re.findall(r'(?:fill|stroke)="([^"]*)"', draw_chart(CHARTS[name])))
    variables = {colour for colour in asdict(VARIABLES).values() if colour in colours}
    assert colours - {"none", "transparent"} == variables


def test_no_coordinate_has_more_than_one_decimal() -> None:
    assert not re.search(
        r"\d\.\d\d", re.sub(r"<title>.*?</title>", "", draw_chart(waterfall_chart(common_pair())))
    )


def test_a_hostile_text_stays_text_in_a_drawing() -> None:
    broad, _ = drawings(said_of(HOSTILE))
    assert [text.text for text in broad.iter("text")][-1] == HOSTILE


def test_a_hostile_text_stays_text_where_a_mark_is_pointed_at() -> None:
    broad, _ = drawings(said_of(HOSTILE))
    assert [title.text for title in broad.iter("title")] == [f"{HOSTILE}\nplace: 1"]


def test_a_drawing_holds_nothing_but_shapes_and_texts() -> None:
    tags = {str(node.tag) for one in drawings(band_chart(hostile_pair())) for node in one.iter()}
    assert tags == {"svg", "g", "path", "circle", "line", "text", "title"}


def test_no_attribute_of_a_drawing_can_run_or_fetch() -> None:
    names = {
        str(name)
        for one in drawings(band_chart(hostile_pair()))
        for node in one.iter()
        for name in node.attrib
    }
    assert not {name for name in names if name.startswith("on") or "href" in name or name == "style"}


def test_a_phone_is_not_sent_words_that_it_cannot_point_at() -> None:
    _, narrow = drawings(said_of("words"))
    assert list(narrow.iter("title")) == []


def test_a_picture_in_a_chart_is_refused() -> None:
    picture = alt.Chart(pl.DataFrame({"url": ["data:,"]})).mark_image().encode(url="url:N")
    with pytest.raises(ValueError, match="a chart drew <image>, which a page does not take"):
        draw_chart(alt.LayerChart(layer=[picture]))
