"""The pages on paper, in real Chromium: nothing runs off the sheet, and what is for the screen stays there."""

from collections.abc import Callable
from dataclasses import replace
from io import BytesIO

import polars as pl
import pytest
from pypdf import PageObject, PdfReader

from pipeline.answers.consignment.tickets import make_tickets
from pipeline.config import Tickets
from pipeline.phrases.languages import own_terms, phrases_of
from pipeline.pictures.photograph import make_photograph
from reports.appraisal.page import appraisal_page
from reports.audit.page import audit_page
from reports.consignment.page import consignment_page
from reports.consignment.tickets import tickets_page
from reports.lots.bid_sheet import bid_sheet_page
from reports.lots.page import lots_page
from reports.market_view.page import market_page
from reports.restoration.page import restoration_page
from reports.understood.page import understood_page
from sample_data import scenario
from tests.appraisals import common_pair, hostile_pair
from tests.audits import usual_audit
from tests.browser.conftest import Opened
from tests.market_views import usual_market
from tests.restorations import demo_report
from tests.understandings import usual_file
from tests.unit.test_photograph import picture_file
from tests.upcoming import demo_consignment, demo_lots

pytestmark = pytest.mark.browser
Open = Callable[..., Opened]

MARGINS_MM = 30
PX_PER_MM = 96 / 25.4
SHEETS = {"A4": (210, 297), "Letter": (215.9, 279.4)}
PAGES: dict[str, Callable[[], str]] = {
    "appraisal": lambda: appraisal_page(common_pair(), business="Tidewrack Pairs"),
    "hostile": lambda: appraisal_page(hostile_pair(), business="Tidewrack Pairs"),
    "market": lambda: market_page(usual_market(), business="Tidewrack Pairs"),
    "audit": lambda: audit_page(usual_audit(), business="Tidewrack Pairs"),
    "understood": lambda: understood_page(usual_file(), business="Tidewrack Pairs"),
    "lots": lambda: lots_page(demo_lots(), business="Tidewrack Pairs"),
    "bid sheet": lambda: bid_sheet_page(demo_lots(), business="Tidewrack Pairs"),
    "consignment": lambda: consignment_page(
        demo_consignment(),
        business="Tidewrack Pairs",
        house=scenario.market().business,
        venue="Umikaze Lots",
    ),
    "restoration": lambda: restoration_page(demo_report(), business="Tidewrack Pairs"),
}
FOOT = 0.07
"""The share of a printed page below which only the running foot stands."""

LEAST_PX = 12 - 0.05
"""Nine points, the least type of a printed page, in px."""

TYPE_SIZES = """least => {
  const found = [];
  const seen = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (seen.nextNode()) {
    const holder = seen.currentNode.parentElement;
    const apart = holder.closest("script, title, .unseen") || !holder.getClientRects().length;
    if (apart || !seen.currentNode.data.trim()) continue;
    const drawn = holder.ownerSVGElement ? Math.hypot(holder.getScreenCTM().a, holder.getScreenCTM().b) : 1;
    const size = parseFloat(getComputedStyle(holder).fontSize) * drawn;
    if (size < least) found.push(`${size.toFixed(1)} px: ${seen.currentNode.data.trim().slice(0, 40)}`);
  }
  return found;
}"""
"""Returns the texts of a page that are set smaller than so many px, those of charts as large as they are drawn."""


def printed(open_page: Open, html: str, sheet: str = "A4") -> Opened:
    """Open a page as wide and high as what a sheet leaves between its margins, in the look of paper."""
    width, height = (int((side - MARGINS_MM) * PX_PER_MM) for side in SHEETS[sheet])
    opened = open_page(html, width=width)
    opened.page.set_viewport_size({"width": width, "height": height})
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


def sheets_of(opened: Opened, sheet: str = "A4") -> PdfReader:
    """Print a page as Chromium does to a file."""
    return PdfReader(BytesIO(opened.page.pdf(format=sheet)))


@pytest.mark.parametrize("pictured", [False, True])
@pytest.mark.parametrize("language", ["en", "de", "ja"])
def test_a_consignment_sheet_takes_two_pages_in_every_language(
    open_page: Open, language: str, pictured: bool
) -> None:
    market = scenario.market()
    phrases = phrases_of(language, market)
    terms = own_terms(market, phrases)
    assert terms
    picture = make_photograph(picture_file((1200, 900)), 640)
    html = consignment_page(
        demo_consignment(),
        business="Tidewrack Pairs",
        house=market.business.model_copy(update={"terms": terms}),
        venue="Umikaze Lots",
        pictures=[picture] * pictured,
        language=phrases,
    )
    assert len(sheets_of(open_page(html)).pages) == 2


def test_a_photograph_stands_on_the_printed_page(open_page: Open) -> None:
    picture = make_photograph(picture_file((1200, 900)), 640)
    html = appraisal_page(common_pair(), business="Tidewrack Pairs", pictures=[picture])
    assert len(sheets_of(open_page(html)).pages[0].images) == 1


def filled(sheet: PageObject) -> float:
    """Return how far down a printed page its text reaches, above the running foot, as a share of the page."""
    lowest = [1.0]

    def note(text: str, page: list[float], at: list[float], *_font: object) -> None:
        height = (at[4] * page[1] + at[5] * page[3] + page[5]) / float(sheet.mediabox.height)
        if text.strip() and height > FOOT:
            lowest.append(height)

    sheet.extract_text(visitor_text=note)
    return 1 - min(lowest)


@pytest.mark.parametrize("name", PAGES)
def test_no_printed_text_is_smaller_than_nine_points(open_page: Open, name: str) -> None:
    page = printed(open_page, PAGES[name]()).page

    assert page.evaluate(TYPE_SIZES, LEAST_PX) == []


def test_a_printed_page_says_whose_it_is_and_which_of_how_many(open_page: Open) -> None:
    sheets = sheets_of(open_page(PAGES["audit"]())).pages

    for number, sheet in enumerate(sheets, start=1):
        words = " ".join(sheet.extract_text().split())
        assert "Tidewrack Pairs · The audit · 1 Jun 2024" in words
        assert f"Page {number} of {len(sheets)}" in words


def test_a_hostile_name_stays_text_in_the_running_title(open_page: Open) -> None:
    opened = open_page(appraisal_page(hostile_pair(), business='Tide"; } body { display: none } </style>'))

    assert 'Tide"; } body { display: none } </style>' in " ".join(
        sheets_of(opened).pages[0].extract_text().split()
    )


@pytest.mark.parametrize("name", ["appraisal", "market", "audit", "lots", "restoration"])
def test_no_printed_page_but_the_last_is_half_empty(open_page: Open, name: str) -> None:
    sheets = sheets_of(open_page(PAGES[name]())).pages

    assert [round(filled(sheet), 2) for sheet in sheets[:-1] if filled(sheet) < 0.5] == []


def test_the_heading_of_a_table_is_repeated_on_each_sheet_that_it_runs_on(open_page: Open) -> None:
    texts = [sheet.extract_text().lower() for sheet in sheets_of(open_page(PAGES["lots"]())).pages]
    with_lots = [text for text in texts if text.count("closes") > 3]

    assert len(with_lots) > 2
    assert all("verdict" in text and "present" in text for text in with_lots)


def test_what_is_for_the_screen_is_not_printed(open_page: Open) -> None:
    page = printed(open_page, PAGES["lots"]()).page

    assert not page.locator("#controls").is_visible()


@pytest.mark.parametrize("sheet", SHEETS)
def test_the_consignment_sheet_is_two_sheets_and_the_first_is_the_one_to_sign(
    open_page: Open, sheet: str
) -> None:
    first, second = sheets_of(open_page(PAGES["consignment"]()), sheet).pages

    assert first.extract_text().count("Signature") == 2
    assert "Prices we suggest" in second.extract_text()


def test_the_settlement_is_not_cut_on_a_phone(open_page: Open) -> None:
    page = open_page(PAGES["consignment"](), width=390).page

    assert (
        page.evaluate(
            "[...document.querySelectorAll('table td')].filter((cell) => cell.closest('.settled, .behind section')"
            " && !cell.closest('details') && cell.getBoundingClientRect().right > innerWidth).length"
        )
        == 0
    )


def test_a_bid_sheet_has_thirty_lots_of_one_sale_on_a_sheet(open_page: Open) -> None:
    lots = demo_lots().lots.filter(verdict="bid").head(1)
    sale = pl.concat([lots.with_columns(lot_ref=pl.lit(f"L{number}")) for number in range(1, 46)])
    opened = open_page(bid_sheet_page(replace(demo_lots(), lots=sale), business="Tidewrack Pairs"))

    assert "L30" in sheets_of(opened).pages[0].extract_text()


def tickets(count: int, layout: Tickets) -> str:
    made = make_tickets([demo_consignment()], [None], scenario.market())
    return tickets_page(made * count, layout, business="Tidewrack Pairs")


LAYOUTS = [Tickets(), Tickets(paper="Letter", rows=7), Tickets(columns=4, rows=8, width_mm=52, height_mm=34)]


@pytest.mark.parametrize(
    "layout", LAYOUTS, ids=lambda layout: f"{layout.paper} {layout.columns}×{layout.rows}"
)
def test_tickets_stand_on_the_sheets_of_the_layout(open_page: Open, layout: Tickets) -> None:
    most = layout.columns * layout.rows
    opened = open_page(tickets(most + 1, layout))
    content = opened.page.pdf(prefer_css_page_size=True)
    sheets = PdfReader(BytesIO(content)).pages

    assert [sheet.extract_text().count("Gannet Hi") for sheet in sheets] == [most, 1]
    assert "Page" not in sheets[0].extract_text()


@pytest.mark.parametrize(
    "layout", LAYOUTS, ids=lambda layout: f"{layout.paper} {layout.columns}×{layout.rows}"
)
def test_no_text_of_a_ticket_is_clipped(open_page: Open, layout: Tickets) -> None:
    opened = open_page(tickets(1, layout))
    opened.page.emulate_media(media="print")

    assert opened.page.evaluate(
        "[...document.querySelectorAll('.ticket')].every((one) => one.scrollHeight <= one.clientHeight"
        " && one.scrollWidth <= one.clientWidth)"
    )
