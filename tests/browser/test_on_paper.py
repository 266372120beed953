"""The pages on paper, in real Chromium: nothing runs off the sheet, and what is for the screen stays there."""

from collections.abc import Callable

import pytest

from reports.appraisal.page import appraisal_page
from reports.audit.page import audit_page
from reports.market_view.page import market_page
from reports.understood.page import understood_page
from tests.appraisals import common_pair, hostile_pair
from tests.audits import usual_audit
from tests.browser.conftest import Opened
from tests.market_views import usual_market
from tests.understandings import usual_file

pytestmark = pytest.mark.browser
Open = Callable[..., Opened]

MARGINS_MM = 36
PX_PER_MM = 96 / 25.4
SHEETS = {"A4": 210, "Letter": 215.9}
PAGES: dict[str, Callable[[], str]] = {
    "appraisal": lambda: appraisal_page(common_pair(), business="Tidewrack Pairs"),
    "hostile": lambda: appraisal_page(hostile_pair(), business="Tidewrack Pairs"),
    "market": lambda: market_page(usual_market(), business="Tidewrack Pairs"),
    "audit": lambda: audit_page(usual_audit(), business="Tidewrack Pairs"),
    "understood": lambda: understood_page(usual_file(), business="Tidewrack Pairs"),
}


def printed(open_page: Open, html: str, sheet: str = "A4") -> Opened:
    """Open a page as wide as what a sheet leaves between its margins, in the look of paper."""
    opened = open_page(html, width=int((SHEETS[sheet] - MARGINS_MM) * PX_PER_MM))
    opened.page.emulate_media(media="print")
    return opened


@pytest.mark.parametrize("sheet", SHEETS)
@pytest.mark.parametrize("name", PAGES)
def test_nothing_runs_off_the_sheet(open_page: Open, name: str, sheet: str) -> None:
    page = printed(open_page, PAGES[name](), sheet).page

    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_paper_is_white_in_the_dark_too(open_page: Open) -> None:
    opened = open_page(PAGES["appraisal"](), dark=True)
    opened.page.emulate_media(media="print")

    assert opened.page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"


def test_the_lines_of_each_comparable_are_printed_though_folded_on_the_screen(open_page: Open) -> None:
    opened = printed(open_page, PAGES["appraisal"]())
    opened.page.evaluate("dispatchEvent(new Event('beforeprint'))")

    assert opened.page.locator("details.sale table").first.is_visible()


def test_a_page_makes_a_document_of_several_sheets(open_page: Open) -> None:
    content = open_page(PAGES["appraisal"]()).page.pdf(format="Letter")

    assert content.startswith(b"%PDF-")
    assert content.count(b"/Type /Page\n") >= 2
