"""One figure of a page as a file, by its name."""

import json
from pathlib import Path

import polars as pl
import pytest

from pipeline.errors import ReportError, UnknownName
from reports.appraisal.page import appraisal_figures
from reports.audit.page import audit_figures
from reports.figure_file import FORMATS, FigureFormat, figure_bytes, pick_figure, write_figure
from reports.market_view.page import market_figures
from tests.appraisals import common_pair, hostile_pair
from tests.audits import usual_audit
from tests.market_views import usual_market
from tests.unit.test_decision_commands import buyer, called, lots_of

OPENINGS: dict[FigureFormat, bytes] = {
    "svg": b"<svg",
    "png": b"\x89PNG\r\n",
    "pdf": b"%PDF-",
    "csv": b'\xef\xbb\xbf"level","low","high","median"\r\n',
    "json": b"{",
}
PAIR = ("--silhouette", "Gannet Hi", "--era", "first", "--on", "2024-10-15")


@pytest.mark.parametrize("format", OPENINGS)
def test_a_figure_is_written_in_each_format(format: FigureFormat) -> None:
    band = pick_figure(appraisal_figures(common_pair()), "band")

    assert figure_bytes(band, format).startswith(OPENINGS[format])


def test_every_format_is_tried_above() -> None:
    assert tuple(OPENINGS) == FORMATS


def test_the_figure_elsewhere_is_the_chart_of_the_page() -> None:
    band = pick_figure(appraisal_figures(common_pair()), "band")
    layers = json.loads(figure_bytes(band, "json"))["layer"]

    assert len(layers) == len(band.chart.to_dict()["layer"])


def test_a_figure_that_leaves_its_page_says_where_its_numbers_come_from() -> None:
    pair = common_pair()
    elsewhere = json.loads(figure_bytes(pick_figure(appraisal_figures(pair), "band"), "json"))

    assert f"fit {pair.source.fit_id}." in " ".join(elsewhere["title"]["subtitle"])


def test_a_name_that_is_no_figure_brings_the_list_of_those_that_are() -> None:
    with pytest.raises(UnknownName, match="called 'bands'\nthere are: band, waterfall, comparables"):
        pick_figure(appraisal_figures(common_pair()), "bands")


def test_a_page_without_figures_says_so() -> None:
    with pytest.raises(UnknownName, match="it has none"):
        pick_figure((), "band")


def test_the_figures_of_a_page_have_names_of_their_own() -> None:
    for drawn in (
        appraisal_figures(common_pair()),
        market_figures(usual_market()),
        audit_figures(usual_audit()),
    ):
        names = [figure.key for figure in drawn]
        assert names != []
        assert sorted(set(names)) == sorted(names)


def test_the_numbers_of_every_figure_are_numbers() -> None:
    for figure in (*market_figures(usual_market()), *audit_figures(usual_audit())):
        assert figure.rows.height > 0
        assert any(dtype.is_numeric() for dtype in figure.rows.dtypes)


def test_the_ending_of_the_file_names_the_format(tmp_path: Path) -> None:
    path = write_figure(appraisal_figures(common_pair()), "waterfall", None, tmp_path / "deep" / "steps.CSV")

    assert pl.read_csv(path).columns == ["words", "before", "after", "low", "high", "sales"]


def test_a_format_that_is_none_is_told_with_those_that_are(tmp_path: Path) -> None:
    with pytest.raises(ReportError, match="as 'gif'\nchoose --format svg, png, pdf, csv or json"):
        write_figure(appraisal_figures(common_pair()), "band", "gif", tmp_path / "band")


def test_a_place_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "taken").touch()
    with pytest.raises(ReportError, match="cannot be written"):
        write_figure(appraisal_figures(common_pair()), "band", "csv", tmp_path / "taken" / "band.csv")


def test_a_hostile_title_is_no_formula_in_the_numbers() -> None:
    rows = figure_bytes(pick_figure(appraisal_figures(hostile_pair()), "waterfall"), "csv").decode(
        "utf-8-sig"
    )

    assert [line for line in rows.splitlines() if line.startswith(("=", "+", "@"))] == []


def test_the_command_writes_a_figure_and_says_where(tmp_path: Path) -> None:
    target = tmp_path / "band.svg"
    result = called("appraise", *PAIR, "--figure", "band", "--to", str(target), folder=buyer())

    assert result.exit_code == 0
    assert f"wrote {target}" in result.output
    assert target.read_text(encoding="utf-8").startswith("<svg")


def test_the_lots_have_a_figure_of_the_room_to_bid(tmp_path: Path) -> None:
    target = tmp_path / "room.csv"
    lots_of("--figure", "room", "--to", str(target))

    assert pl.read_csv(target).select("rank", "silhouette", "era").rows() == [(1, "Gannet Hi", "first")]


def test_a_format_without_a_figure_is_wrong_usage() -> None:
    result = called("appraise", *PAIR, "--format", "svg", folder=buyer())

    assert result.exit_code == 2
    assert "name it" in result.output
