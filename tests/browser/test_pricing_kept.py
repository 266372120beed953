"""The pairs that a reader of the pricing page keeps, in real Chromium: a list on the device, and its CSV."""

import re
from collections.abc import Callable
from datetime import date
from pathlib import Path

import polars as pl
import pytest

from pipeline.config import ExportMap, Market
from pipeline.csv_guard import guarded
from pipeline.ingest.lots import read_lots
from pipeline.toml_text import parse_toml
from reports.pricing.page import pricing_page
from reports.pricing.seen import seen_map
from sample_data import scenario
from tests.appraisals import HOSTILE
from tests.browser.conftest import Opened
from tests.browser.test_pages import serious_faults
from tests.pricings import VALUED_ON, market_fitted, page_of, some_sales

pytestmark = pytest.mark.browser
Open = Callable[..., Opened]

PAIR = (
    "silhouette=Gannet+Hi&colourway=Slate+Tide&era=first&grade=8&box=original&size=UK+9&defects=none"
    "&treatments=deep+clean%2Csole+swap&ask=310.50&at=Lantern+Dock"
)


@pytest.fixture(scope="module")
def opened_once(open_page: Open) -> Opened:
    return open_page(page_of(), width=390)


@pytest.fixture
def desk(opened_once: Opened) -> Opened:
    """Return the page with PAIR described and nothing kept."""
    return describe(opened_once)


def describe(opened: Opened, pair: str = PAIR) -> Opened:
    address = opened.page.url.split("#")[0]
    opened.page.evaluate("localStorage.clear()")
    opened.page.goto("about:blank")
    opened.page.goto(f"{address}#{pair}")
    return opened


def press(opened: Opened, name: str | re.Pattern[str]) -> None:
    opened.page.get_by_role("button", name=name).first.click()


def kept(opened: Opened) -> list[str]:
    return opened.page.locator("#kept-list a").all_inner_texts()


def exported(opened: Opened, folder: Path) -> Path:
    """Return where the exported list was saved."""
    with opened.page.expect_download() as waiting:
        press(opened, "Export as CSV")
    path = folder / waiting.value.suggested_filename
    waiting.value.save_as(path)
    return path


def test_a_kept_pair_is_listed_with_its_value_and_the_most_to_pay(desk: Opened) -> None:
    press(desk, "Keep this pair")
    line = desk.page.locator("#kept-list span").inner_text()
    assert kept(desk) == ["Gannet Hi Slate Tide"]
    assert "era first, size UK 9, 271 mm foot" in line
    assert "most to pay" in line


def test_the_list_stays_on_the_device(desk: Opened) -> None:
    press(desk, "Keep this pair")
    desk.page.reload()
    assert kept(desk) == ["Gannet Hi Slate Tide"]


def test_the_page_opens_without_a_pair_though_some_are_kept(desk: Opened) -> None:
    press(desk, "Keep this pair")
    address = desk.page.url.split("#")[0]
    desk.page.goto("about:blank")
    desk.page.goto(address)
    assert desk.page.locator("#choose").is_visible()


def test_the_name_of_a_kept_pair_brings_it_back(desk: Opened) -> None:
    press(desk, "Keep this pair")
    before = desk.page.locator("#sentence").inner_text()
    press(desk, "Clear")
    desk.page.locator("#choose").wait_for()
    desk.page.locator("#kept-list a").click()
    desk.page.locator("#median").wait_for()
    assert desk.page.locator("#sentence").inner_text() == before


def test_a_pair_that_is_removed_is_gone_from_the_device(desk: Opened) -> None:
    press(desk, "Keep this pair")
    press(desk, re.compile("^Remove Gannet Hi"))
    desk.page.reload()
    assert kept(desk) == []


def test_what_was_removed_can_be_put_back(desk: Opened) -> None:
    press(desk, "Keep this pair")
    press(desk, "Remove all")
    press(desk, "Put back")
    desk.page.reload()
    assert kept(desk) == ["Gannet Hi Slate Tide"]


def test_how_the_list_is_read_is_shown_once_a_pair_is_kept(desk: Opened) -> None:
    shown = [desk.page.locator("#kept-map").is_visible()]
    press(desk, "Keep this pair")
    assert [*shown, desk.page.locator("#kept-map").is_visible()] == [False, True]


def test_an_empty_page_says_in_three_lines_what_to_do(desk: Opened) -> None:
    desk.page.set_viewport_size({"width": 1280, "height": 900})
    press(desk, "Clear")
    desk.page.locator("#choose").wait_for()
    assert len(desk.page.locator("#choose").inner_text().splitlines()) == 3


def test_without_a_pair_there_is_nothing_to_keep(desk: Opened) -> None:
    press(desk, "Clear")
    desk.page.locator("#choose").wait_for()
    press(desk, "Keep this pair")
    assert desk.page.locator("#kept-says").inner_text() == "Choose a silhouette first."


def test_a_browser_that_keeps_nothing_still_lists_and_says_so(open_page: Open) -> None:
    opened = open_page(page_of())
    opened.page.add_init_script(
        "Object.defineProperty(window, 'localStorage', { get() { throw new Error('not here'); } })"
    )
    opened.page.goto(f"{opened.page.url.split('#')[0]}#{PAIR}")
    opened.page.reload()
    press(opened, "Keep this pair")
    assert kept(opened) == ["Gannet Hi Slate Tide"]
    assert "This browser keeps nothing for this page" in opened.page.locator("#kept-says").inner_text()


def test_what_another_program_left_under_the_name_of_the_list_is_passed_over(desk: Opened) -> None:
    press(desk, "Keep this pair")
    desk.page.evaluate(
        "Object.keys(localStorage).forEach((name) => localStorage.setItem(name, '[null, 7, {\"title\": 3}]'))"
    )
    desk.page.reload()
    assert kept(desk) == []
    assert desk.complaints == []


def with_seen_map(market: Market) -> Market:
    """Return a market with the map that the page shows."""
    own = parse_toml(seen_map(market), where="the page")["maps"]["pairs_seen"]
    maps = {**market.maps, "pairs_seen": ExportMap.model_validate(own)}
    return Market.model_construct(**{**dict(market), "maps": maps})


def test_the_exported_list_is_read_as_lots_by_the_map_that_the_page_shows(
    desk: Opened, tmp_path: Path
) -> None:
    press(desk, "Keep this pair")
    path = exported(desk, tmp_path)
    lots, refused, *_ = read_lots(path, with_seen_map(scenario.market()), as_of=date.today())
    lot = lots.row(0, named=True)

    assert refused.height == 0
    assert {
        name: lot[name]
        for name in (
            "venue",
            "silhouette",
            "colourway",
            "era",
            "foot_mm",
            "grade",
            "box",
            "defects",
            "treatments",
        )
    } == {
        "venue": "Lantern Dock",
        "silhouette": "Gannet Hi",
        "colourway": "Slate Tide",
        "era": "first",
        "foot_mm": 271,
        "grade": 8.0,
        "box": "original",
        "defects": [],
        "treatments": ["deep clean", "sole swap"],
    }
    assert str(lot["price_native"]) == "310.5000"


def test_a_kept_pair_from_a_stall_is_read_at_the_venue_of_the_map(desk: Opened, tmp_path: Path) -> None:
    describe(desk, "silhouette=Gannet+Hi&ask=90")
    press(desk, "Keep this pair")
    lots, refused, *_ = read_lots(
        exported(desk, tmp_path), with_seen_map(scenario.market()), as_of=date.today()
    )

    assert refused.height == 0
    assert lots["venue"].to_list() == [scenario.COUNTER]


FORMULAS = [
    "=1+1",
    "a;=1+1",
    'a;"=1',
    "+49",
    "-9",
    "@x",
    "|x",
    "x|=y",
    "\ta",
    "a\n=b",
    "\x1b[2J",
    "＝1",
    HOSTILE,
    "9",
    "",
]


def test_texts_of_the_list_are_guarded_as_in_every_other_csv(desk: Opened) -> None:
    written = desk.page.evaluate("(texts) => texts.map(keptPairs.guarded)", FORMULAS)
    expected = pl.DataFrame({"text": FORMULAS}).select(guarded(pl.col("text"))).to_series().to_list()
    assert written == expected


def test_a_hostile_name_is_guarded_in_the_exported_list(open_page: Open, tmp_path: Path) -> None:
    market = scenario.market()
    silhouette = market.silhouettes[0].model_copy(update={"name": "=HYPERLINK(1)"})
    hostile = Market.model_construct(**{**dict(market), "silhouettes": (silhouette,)})
    opened = open_page(pricing_page(market_fitted("calibrated"), hostile, some_sales(), as_of=VALUED_ON))
    opened.page.locator("select[name=silhouette]").select_option(label="=HYPERLINK(1)")
    press(opened, "Keep this pair")

    assert '"\'=HYPERLINK(1)"' in exported(opened, tmp_path).read_text(encoding="utf-8")


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_axe_finds_no_serious_fault_in_the_list(open_page: Open, dark: bool) -> None:
    opened = describe(open_page(page_of(), width=320, dark=dark))
    press(opened, "Keep this pair")
    opened.page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    assert serious_faults(opened) == []
    assert opened.page.evaluate("document.documentElement.scrollWidth") <= 320
