"""The index page."""

from dataclasses import replace

import pytest

from pipeline.answers.appraisal.cautions import Caution
from pipeline.errors import ReportError
from reports.report.index import Entry, appraisal_entry, index_page
from reports.report.stock import StockPair, state_weak
from tests.appraisals import AS_OF, SOURCE, common_pair, hostile_pair
from tests.upcoming import demo_consignment


def index_of(*entries: Entry) -> str:
    return index_page(entries, business="Tidewrack Pairs", as_of=AS_OF, source=SOURCE)


def test_the_index_links_each_page_with_its_line() -> None:
    html = index_of(appraisal_entry(common_pair(), "common.html"))
    assert '<a href="./common.html"><bdi>Gannet Hi Buoy Red, Stock 0417</bdi></a>' in html
    assert "between €1,230 and €2,010." in html


def test_pages_of_a_kind_stand_together() -> None:
    html = index_of(Entry("A", "", "a.html"), Entry("M", "", "m.html", "Market"), Entry("B", "", "b.html"))
    assert html.count("<h2 id=") - html.count('<h2 id="source"') - html.count('<h2 id="limits"') == 2
    assert html.index("./b.html") < html.index("./m.html")


def test_an_empty_index_says_so() -> None:
    assert "There is no page yet." in index_of()


def test_a_file_name_with_odd_signs_is_still_a_file_name() -> None:
    assert Entry("x", "", "lots/a b#1?.html").href == "./lots/a%20b%231%3F.html"


def test_a_file_name_that_looks_like_a_script_is_still_a_file_name() -> None:
    assert Entry("x", "", "javascript:alert(1)").href == "./javascript%3Aalert%281%29"


@pytest.mark.parametrize("file", ["", "/etc/x.html", "../x.html", "a/../../x.html", "..\\x.html"])
def test_the_index_links_to_nothing_outside_its_folder(file: str) -> None:
    with pytest.raises(ReportError, match="name a page in the index's own folder"):
        index_of(Entry("x", "", file))


def test_a_hostile_entry_stays_text() -> None:
    assert "<script>" not in index_of(appraisal_entry(hostile_pair(), "x.html"))


def test_the_index_runs_no_script() -> None:
    assert "<script" not in index_of(Entry("A", "", "a.html"))


def test_the_totals_of_the_stock_say_how_many_values_rest_on_weak_evidence() -> None:
    doubted = replace(common_pair(), weak=(Caution("Few sales.", "few sales"),))
    pairs = [
        StockPair(appraisal, "a.html", demo_consignment(), "b.html", 100.0)
        for appraisal in (common_pair(), doubted)
    ]
    assert state_weak(pairs) == "1 of 2 values rests on weak evidence."
