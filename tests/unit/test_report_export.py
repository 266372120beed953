"""Figures for elsewhere."""

import json

import polars as pl
import pytest

from pipeline.errors import ReportError
from reports.appraisal.band import band_chart
from reports.appraisal.waterfall import waterfall_chart
from reports.export import Format, chart_bytes, table_bytes
from tests.appraisals import common_pair, hostile_pair


@pytest.mark.parametrize(
    ("format", "opening"), [("svg", b"<svg"), ("png", b"\x89PNG\r\n"), ("pdf", b"%PDF-"), ("json", b"{")]
)
def test_a_chart_is_written_in_each_format(format: Format, opening: bytes) -> None:
    assert chart_bytes(band_chart(common_pair()), format).startswith(opening)


def test_a_chart_carries_its_source_under_its_title() -> None:
    spec = json.loads(chart_bytes(band_chart(common_pair()), "json", note="5,321 sale records"))
    assert spec["title"] == {"text": "What pairs like it sell for", "subtitle": ["5,321 sale records"]}


def test_a_hostile_name_in_a_figure_stays_text() -> None:
    assert b"<script" not in chart_bytes(waterfall_chart(hostile_pair()), "svg")


def test_an_unknown_format_is_refused_with_those_known() -> None:
    with pytest.raises(ReportError, match=r"no chart can be written as 'gif'\nknown: svg, png, pdf, json"):
        chart_bytes(band_chart(common_pair()), "gif")  # type: ignore[arg-type]


@pytest.mark.parametrize("cell", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", " =1", "\r=1", "＝1", "|cmd"])
def test_no_cell_is_taken_for_a_formula(cell: str) -> None:
    table = table_bytes(pl.DataFrame({"title": [cell]})).decode("utf-8-sig")
    assert table.removeprefix('"title"\r\n').lstrip('"').startswith("'")


def test_figures_and_plain_words_stay_as_they_are() -> None:
    rows = pl.DataFrame({"title": ["Gannet Hi", None], "price": [-1.5, None]})
    assert table_bytes(rows) == b'\xef\xbb\xbf"title","price"\r\n"Gannet Hi",-1.5\r\n,\r\n'


def test_a_heading_is_not_taken_for_a_formula_either() -> None:
    assert table_bytes(pl.DataFrame({"=x": [1]})).decode("utf-8-sig") == '"\'=x"\r\n1\r\n'
