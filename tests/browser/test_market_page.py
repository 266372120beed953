"""The page of the market in real Chromium, opened from disk with the network off."""

from collections.abc import Callable
from functools import cache

import pytest

from pipeline.answers.market_view.answer import MarketView
from reports.market_view.page import market_page
from tests.browser.conftest import Opened
from tests.browser.test_pages import serious_faults
from tests.market_views import hostile_market, usual_market, young_market

pytestmark = pytest.mark.browser
Open = Callable[..., Opened]
EVERY_MARKET = pytest.mark.parametrize("view", [usual_market, young_market, hostile_market])


@pytest.fixture(scope="module")
def look(open_page: Open) -> Open:
    """Return a function that opens the page of a market once, for tests that leave it as it is."""

    @cache
    def look_at(view: Callable[[], MarketView], *, width: int = 1280, dark: bool = False) -> Opened:
        return open_page(market_page(view(), business="Tidewrack Pairs"), width=width, dark=dark)

    return look_at


@EVERY_MARKET
def test_the_page_opens_from_disk_without_a_complaint(look: Open, view: Callable[[], MarketView]) -> None:
    assert look(view).complaints == []


def test_the_page_asks_the_network_for_nothing(look: Open) -> None:
    asked = look(usual_market).requests
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []


def test_every_chart_of_the_market_draws_marks(look: Open) -> None:
    marks = look(usual_market).page.eval_on_selector_all(
        ".chart", "charts => charts.map((chart) => chart.querySelectorAll('.broad :is(path, line)').length)"
    )
    assert len(marks) == 12
    assert min(marks) >= 4


def test_resales_stand_beside_the_index_as_rings(look: Open) -> None:
    rings = look(usual_market).page.locator(
        "#chart-index .broad :is(path, circle)[fill='var(--paper)'][stroke='var(--muted)']"
    )
    assert rings.count() == 9


def test_a_market_without_an_index_says_why(look: Open) -> None:
    text = look(young_market).page.inner_text("main")
    assert "too few to compare months" in text
    assert "No offer has ended yet." in text


def test_a_hostile_venue_does_not_run(look: Open) -> None:
    opened = look(hostile_market)
    assert opened.page.title() != "owned"
    assert opened.page.locator("img").count() == 0


@EVERY_MARKET
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_axe_finds_no_serious_fault_in_the_market(
    look: Open, view: Callable[[], MarketView], dark: bool
) -> None:
    opened = look(view, dark=dark)
    opened.page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    assert serious_faults(opened) == []


@EVERY_MARKET
def test_the_page_of_the_market_fits_a_phone(look: Open, view: Callable[[], MarketView]) -> None:
    opened = look(view, width=390)
    opened.page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    assert opened.page.evaluate("document.documentElement.scrollWidth") <= 390


@pytest.mark.parametrize("width", [320, 577, 768])
def test_the_page_of_the_market_is_no_wider_than_the_screen(look: Open, width: int) -> None:
    assert look(usual_market, width=width).page.evaluate("document.documentElement.scrollWidth") <= width


def test_a_jump_leads_to_its_part_of_the_market(open_page: Open) -> None:
    opened = open_page(market_page(usual_market(), business="Tidewrack Pairs"))
    opened.page.get_by_role("link", name="What moved").click()
    box = opened.page.locator("#moves").bounding_box()
    assert box is not None
    assert 0 <= box["y"] < 900
