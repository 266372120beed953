"""The pages of restoring and of an era in doubt in real Chromium, opened from disk with the network off."""

from collections.abc import Callable
from functools import cache

import pytest

from pipeline.answers.era_odds.answer import value_in_doubt
from pipeline.answers.era_odds.learned import learn_from_records
from pipeline.ledger import open_ledger
from pipeline.market.pair import Pair
from pipeline.market.seen import Seen
from reports.era_odds.page import era_odds_page
from reports.restoration.page import restoration_page
from sample_data import scenario
from tests.browser.conftest import Opened
from tests.browser.test_pages import serious_faults
from tests.demo_ledger import demo_ledger, demo_sales
from tests.restorations import VALUED_ON, demo_market_fitted, demo_report

pytestmark = pytest.mark.browser
Open = Callable[..., Opened]


def restoring() -> str:
    return restoration_page(demo_report(), business="Tidewrack Pairs")


def in_doubt() -> str:
    pair = Pair(
        silhouette="Gannet Hi", colourway="Buoy Red", grade=7.0, label="<script>document.title='owned'"
    )
    odds = {"first": 0.7, "late reissue": 0.3}
    doubt = value_in_doubt(pair, odds, demo_market_fitted(), demo_sales(), as_of=VALUED_ON)
    return era_odds_page(doubt, business="Tidewrack Pairs")


def learned() -> str:
    pair = Pair(silhouette="Gannet Hi", colourway="Buoy Red", grade=9.0, box="original")
    with open_ledger(demo_ledger()[0], read_only=True) as ledger:
        eras = learn_from_records(
            ledger.read("marts/era_records", as_of=VALUED_ON),
            ledger.read("marts/label_years", as_of=VALUED_ON),
            scenario.market(),
            as_of=VALUED_ON,
        )
    odds = eras.odds_of(pair, Seen(lasting="board", within={"first": 3.0, "second": 3.0}, years="1980–1989"))
    doubt = value_in_doubt(pair, odds.odds, demo_market_fitted(), demo_sales(), as_of=VALUED_ON, learned=odds)
    return era_odds_page(doubt, business="Tidewrack Pairs")


EVERY_PAGE = pytest.mark.parametrize("page", [restoring, in_doubt, learned])


@pytest.fixture(scope="module")
def look(open_page: Open) -> Open:
    """Return a function that opens a page once, for tests that leave it as it is."""

    @cache
    def look_at(page: Callable[[], str], *, width: int = 1280, dark: bool = False) -> Opened:
        return open_page(page(), width=width, dark=dark)

    return look_at


@EVERY_PAGE
def test_the_page_opens_from_disk_without_a_complaint(look: Open, page: Callable[[], str]) -> None:
    assert look(page).complaints == []


@EVERY_PAGE
def test_the_page_asks_the_network_for_nothing(look: Open, page: Callable[[], str]) -> None:
    assert [url for url in look(page).requests if not url.startswith(("file:", "data:"))] == []


@EVERY_PAGE
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_axe_finds_no_serious_fault(look: Open, page: Callable[[], str], dark: bool) -> None:
    opened = look(page, dark=dark)
    opened.page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")

    assert serious_faults(opened) == []


@EVERY_PAGE
def test_the_page_fits_a_phone(look: Open, page: Callable[[], str]) -> None:
    opened = look(page, width=390)
    opened.page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")

    assert opened.page.evaluate("document.documentElement.scrollWidth") <= 390


def test_every_treatment_and_era_has_its_bar(look: Open) -> None:
    bars = look(restoring).page.locator("#chart-effects .broad path[fill='var(--band-80)']")

    assert bars.count() == demo_report().effects.filter(demo_report().effects["grade"] == 6.0).height


@pytest.mark.parametrize(
    "said", ["Solvents", "ultraviolet", "Blades", "Dust", "local rules", "worthless pair"]
)
def test_the_page_says_what_must_be_said_before_work(look: Open, said: str) -> None:
    assert said in look(restoring).page.locator("section.notice").inner_text()


def test_what_the_owner_calls_a_pair_does_not_run(look: Open) -> None:
    assert look(in_doubt).page.title() != "owned"
