"""Links between the pages of a folder."""

import re

import pytest

from pipeline.errors import ReportError
from reports.appraisal.page import appraisal_page
from reports.links import link_to, links_of
from reports.market_view.page import market_page
from tests.appraisals import rare_pair
from tests.market_views import usual_market


def test_a_link_leads_from_one_folder_to_the_other() -> None:
    assert link_to("Sheet", "sheets/1.html", on="stock/1.html").href == "../sheets/1.html"


def test_a_link_to_a_neighbour_stays_in_the_folder() -> None:
    assert link_to("Next", "stock/2.html", on="stock/1.html").href == "./2.html"


@pytest.mark.parametrize("page", ["", "/etc/x.html", "../x.html", "a/../../x.html", "..\\x.html"])
def test_no_link_leads_out_of_the_folder(page: str) -> None:
    with pytest.raises(ReportError, match="no page can link to"):
        link_to("x", page, on="index.html")


def test_the_first_of_several_pairs_has_no_pair_before_it() -> None:
    words = [link.words for link in links_of(0, ["a.html", "b.html"], index="index.html")]
    assert words == ["All pages", "Next pair →"]


def test_the_last_of_several_pairs_has_no_pair_after_it() -> None:
    words = [link.words for link in links_of(1, ["a.html", "b.html"], index="index.html")]
    assert words == ["All pages", "← Previous pair"]


def test_a_page_made_alone_links_to_no_other_page() -> None:
    html = appraisal_page(rare_pair(), business="Tidewrack Pairs")
    assert re.findall(r'<a [^>]*href="([^#][^"]*)"', html) == []


def test_every_jump_of_the_market_lands_on_its_page() -> None:
    html = market_page(usual_market(), business="Tidewrack Pairs")
    jumps = re.findall(r'<a href="#([^"]+)"', html)
    assert len(jumps) > 8
    assert [jump for jump in jumps if f'id="{jump}"' not in html] == []
