"""The pages of buying and consigning in real Chromium, opened from disk with the network off."""

from collections.abc import Callable
from dataclasses import replace

import polars as pl
import pytest

from pipeline.answers.consignment.tickets import make_tickets
from pipeline.config import Tickets
from reports.backtest.page import backtest_page
from reports.changed.page import changed_page
from reports.consignment.page import consignment_page
from reports.consignment.tickets import tickets_page
from reports.lots.bid_sheet import bid_sheet_page
from reports.lots.page import lots_page
from sample_data import scenario
from tests.appraisals import HOSTILE
from tests.backtests import drawn_backtest
from tests.browser.conftest import Opened
from tests.browser.test_pages import OVERLAPS, serious_faults
from tests.changes import some_changed
from tests.upcoming import COMMON, demo_consignment, demo_lots

pytestmark = pytest.mark.browser
Open = Callable[..., Opened]
ROWS = "#lot-table tbody tr:not([hidden])"


def lots() -> str:
    return lots_page(demo_lots(), business="Tidewrack Pairs")


def bid_sheet() -> str:
    return bid_sheet_page(demo_lots(), business="Tidewrack Pairs")


def tickets() -> str:
    made = make_tickets([demo_consignment()], [None], scenario.market())
    return tickets_page(made * 5, Tickets(), business="Tidewrack Pairs")


def hostile_lots() -> str:
    listed = demo_lots()
    return lots_page(replace(listed, lots=listed.lots.with_columns(title=pl.lit(HOSTILE))), business=HOSTILE)


def sheet() -> str:
    return consignment_page(demo_consignment(), business="Tidewrack Pairs")


def hostile_sheet() -> str:
    return consignment_page(demo_consignment(replace(COMMON, label=HOSTILE)), business=HOSTILE)


def changed() -> str:
    return changed_page(some_changed(), business="Tidewrack Pairs")


def hostile_changed() -> str:
    return changed_page(some_changed(HOSTILE), business=HOSTILE)


def backtest() -> str:
    return backtest_page(drawn_backtest(), business="Tidewrack Pairs")


EVERY_PAGE = pytest.mark.parametrize(
    "page", [lots, hostile_lots, bid_sheet, tickets, sheet, hostile_sheet, changed, hostile_changed, backtest]
)


def column(opened: Opened, number: int) -> list[float]:
    """Return the keys by which the shown rows sort in a column."""
    keys: list[str] = opened.page.eval_on_selector_all(
        ROWS, f"rows => rows.map((row) => row.cells[{number}].dataset.key)"
    )
    return [float(key) for key in keys if key]


@EVERY_PAGE
def test_a_page_opens_without_a_complaint_or_a_request(open_page: Open, page: Callable[[], str]) -> None:
    opened = open_page(page())

    assert opened.complaints == []
    assert [url for url in opened.requests if not url.startswith(("file:", "data:"))] == []


@EVERY_PAGE
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_axe_finds_no_serious_fault(open_page: Open, page: Callable[[], str], dark: bool) -> None:
    assert serious_faults(open_page(page(), dark=dark)) == []


@EVERY_PAGE
def test_a_page_fits_a_phone(open_page: Open, page: Callable[[], str]) -> None:
    opened = open_page(page(), width=390)

    assert opened.page.evaluate("document.documentElement.scrollWidth") <= 390


def test_a_phone_shows_the_maximum_bid_without_scrolling_aside(open_page: Open) -> None:
    opened = open_page(lots(), width=390)

    box = opened.page.locator("#lot-table td[data-label='Maximum bid']").first.bounding_box()
    assert box is not None
    assert box["x"] + box["width"] <= 390


def test_a_lot_is_one_line_on_a_phone(open_page: Open) -> None:
    opened = open_page(lots(), width=390)
    heights = opened.page.eval_on_selector_all(
        "#lot-table tbody tr", "rows => rows.map((row) => row.getBoundingClientRect().height)"
    )
    assert max(heights) < 45


def test_the_line_of_a_lot_opens_on_a_phone(open_page: Open) -> None:
    opened = open_page(lots(), width=390)
    opened.page.locator("#lot-table .fold").first.click()
    assert opened.page.locator("#lot-table td[data-label='Fair value there']").first.is_visible()


def test_an_unopened_lot_keeps_its_costs_to_itself_on_a_phone(open_page: Open) -> None:
    opened = open_page(lots(), width=390)
    assert not opened.page.locator("#lot-table td[data-label='Fair value there']").first.is_visible()


def test_a_desk_shows_all_of_a_lot_without_opening_it(open_page: Open) -> None:
    opened = open_page(lots())
    assert not opened.page.locator("#lot-table .fold").first.is_visible()
    assert opened.page.locator("#lot-table td[data-label='Fair value there']").first.is_visible()


def test_the_search_leaves_only_lots_with_every_word(open_page: Open) -> None:
    opened = open_page(lots())
    opened.page.locator("#search").fill("gannet buoy")

    shown = opened.page.locator(ROWS).all_inner_texts()
    assert 0 < len(shown) < 40
    assert all("gannet" in text.lower() and "buoy" in text.lower() for text in shown)


def test_the_count_of_shown_lots_is_shown(open_page: Open) -> None:
    opened = open_page(lots())
    opened.page.locator("#search").fill("nothing is called this")

    assert opened.page.locator("#shown").inner_text() == "0 of 40 lots"


def test_a_verdict_can_be_picked(open_page: Open) -> None:
    opened = open_page(lots())
    opened.page.locator("#verdict").select_option("look first")

    assert opened.page.locator(ROWS).count() == demo_lots().lots.filter(verdict="look first").height


def test_flagged_lots_can_be_left_out(open_page: Open) -> None:
    opened = open_page(lots())
    opened.page.locator("#unflagged").check()

    assert (
        opened.page.locator(ROWS).count() == demo_lots().lots.filter(pl.col("flags").list.len() == 0).height
    )


def test_a_heading_sorts_the_most_expensive_first_and_then_the_cheapest(open_page: Open) -> None:
    opened = open_page(lots())
    heading = opened.page.locator("#lot-table thead th", has_text="cost if won now")

    heading.locator("button").click()
    first = column(opened, 4)
    heading.locator("button").click()
    assert first == sorted(first, reverse=True)
    assert column(opened, 4) == sorted(first)
    assert heading.get_attribute("aria-sort") == "ascending"


def test_the_lots_sort_by_keyboard(open_page: Open) -> None:
    opened = open_page(lots())
    opened.page.locator("#lot-table thead button", has_text="chance of a loss").focus()
    opened.page.keyboard.press("Enter")

    assert column(opened, 8) == sorted(column(opened, 8), reverse=True)


@pytest.mark.parametrize("width", [390, 1280])
def test_the_names_of_the_curves_stand_beside_them(open_page: Open, width: int) -> None:
    opened = open_page(sheet(), width=width)
    assert opened.page.evaluate(OVERLAPS, ["text:not([fill='var(--muted)'])", ":is(path, circle)"]) == []


def test_the_curves_of_the_sheet_are_three(open_page: Open) -> None:
    assert open_page(sheet()).page.locator("#chart-asks .broad path[stroke='var(--band-50)']").count() == 3
