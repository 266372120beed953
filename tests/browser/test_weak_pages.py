"""Weak evidence on the pages: the warning stands above the number, in the first screen of a desk and of a phone."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from pipeline.answers.appraisal.cautions import Caution
from pipeline.answers.era_odds.answer import value_in_doubt
from pipeline.market.pair import Pair
from reports.appraisal.page import appraisal_page
from reports.consignment.page import consignment_page
from reports.era_odds.page import era_odds_page
from reports.lots.page import lots_page
from reports.pricing.page import pricing_page
from reports.restoration.page import restoration_page
from sample_data import scenario
from tests.appraisals import pair_outside_the_data, rare_pair
from tests.browser.conftest import Opened
from tests.browser.test_pages import serious_faults
from tests.demo_ledger import demo_sales
from tests.pricings import VALUED_ON, market_fitted, some_sales
from tests.restorations import demo_market_fitted, demo_report
from tests.upcoming import demo_consignment, demo_lots

pytestmark = pytest.mark.browser
Open = Callable[..., Opened]

BUSINESS = "Tidewrack Pairs"
WEAK = (
    Caution("Only 2 sales of this silhouette: much of its value comes from similar models.", "too few sales"),
    Caution("The band is uncalibrated: it rests on the model alone.", "bands not tested"),
    Caution("Valued 5 months after the last sale (30 Sept 2026).", "no recent sales"),
)
SCREENS = pytest.mark.parametrize(("width", "height"), [(1280, 900), (390, 844)], ids=["desk", "phone"])


def appraisal() -> str:
    return appraisal_page(replace(rare_pair(), weak=WEAK), business=BUSINESS)


def outside() -> str:
    return appraisal_page(pair_outside_the_data(), business=BUSINESS)


def consignment() -> str:
    return consignment_page(replace(demo_consignment(), weak=WEAK), business=BUSINESS)


def lots() -> str:
    return lots_page(replace(demo_lots(), weak=WEAK), business=BUSINESS)


def restoration() -> str:
    return restoration_page(replace(demo_report(), weak=WEAK), business=BUSINESS)


def in_doubt() -> str:
    pair = Pair(silhouette="Gannet Hi", colourway="Buoy Red", grade=7.0)
    odds = {"first": 0.7, "late reissue": 0.3}
    doubt = value_in_doubt(pair, odds, demo_market_fitted(), demo_sales(), as_of=VALUED_ON)
    return era_odds_page(replace(doubt, weak=(*doubt.weak, *WEAK)), business=BUSINESS)


PAGES = pytest.mark.parametrize(
    ("page", "number"),
    [
        (appraisal, ".median .amount"),
        (in_doubt, ".median .amount"),
        (outside, ".median .amount"),
        (consignment, ".median .amount"),
        (lots, ".answer .sentence"),
        (restoration, ".median .amount"),
    ],
)


def box_of(opened: Opened, part: str) -> dict[str, float]:
    box = opened.page.locator(part).first.bounding_box()
    assert box is not None, part
    return dict(box)


@PAGES
@SCREENS
def test_the_warning_stands_above_the_number_in_the_first_screen(
    open_page: Open, page: Callable[[], str], number: str, width: int, height: int
) -> None:
    opened = open_page(page(), width=width)
    warned, answer = box_of(opened, ".weak-evidence"), box_of(opened, number)

    assert warned["y"] + warned["height"] <= min(answer["y"], height)
    if page is not consignment:  # the sheet to sign describes the pair before it names a price
        assert answer["y"] + answer["height"] <= height


def weak_pricing() -> str:
    few = some_sales().filter(~(some_sales()["silhouette"] == "Razorbill"))
    three = some_sales().filter(some_sales()["silhouette"] == "Razorbill").head(3)
    return pricing_page(market_fitted("calibrated"), scenario.market(), few.vstack(three), as_of=VALUED_ON)


def choose(opened: Opened, silhouette: str) -> None:
    box = opened.page.get_by_role("combobox", name="Silhouette", exact=True)
    box.select_option(label=silhouette)


@SCREENS
def test_the_pricing_page_says_why_a_value_is_weak_above_it_in_its_own_block(
    open_page: Open, width: int, height: int
) -> None:
    opened = open_page(weak_pricing(), width=width)
    choose(opened, "Razorbill")
    shown = [box for box in opened.page.locator(".answer .names").all() if box.is_visible()]
    answer = box_of(opened, "#median")

    assert [box.inner_text() for box in shown] == ["too few sales; era in doubt"]
    told = shown[0].bounding_box()
    assert told is not None
    assert told["y"] + told["height"] <= answer["y"]
    assert answer["y"] + answer["height"] <= height


def test_the_reason_stays_with_the_number_as_a_phone_scrolls(open_page: Open) -> None:
    opened = open_page(weak_pricing(), width=390)
    choose(opened, "Razorbill")
    opened.page.get_by_role("button", name="Keep this pair").scroll_into_view_if_needed()
    told, answer = box_of(opened, "#weak"), box_of(opened, "#median")

    assert 0 <= told["y"] < answer["y"] < 120


def test_a_weak_value_of_the_pricing_page_is_about_so_much_on_hollow_bars(open_page: Open) -> None:
    opened = open_page(weak_pricing())
    choose(opened, "Razorbill")

    assert opened.page.locator("#about").is_visible()
    bars = opened.page.eval_on_selector_all(
        "#chart-band .mark.bar",
        "bars => bars.map((bar) => getComputedStyle(bar).borderTopStyle + ' ' + getComputedStyle(bar).backgroundColor)",
    )
    assert bars == ["dashed rgba(0, 0, 0, 0)"] * 3


def test_a_sound_value_of_the_pricing_page_has_no_warning(open_page: Open) -> None:
    opened = open_page(weak_pricing())
    choose(opened, "Gannet Hi")
    opened.page.get_by_role("combobox", name="Era", exact=True).select_option(index=1)

    assert not opened.page.locator("#alerts").is_visible()
    assert not opened.page.locator("#about").is_visible()


def test_the_bars_of_a_weak_value_are_dashed_and_those_of_a_sound_one_are_not(open_page: Open) -> None:
    dashed = [
        open_page(appraisal_page(pair, business=BUSINESS))
        .page.locator("#chart-band .broad path[stroke-dasharray]")
        .count()
        for pair in (replace(rare_pair(), weak=WEAK), rare_pair())
    ]

    assert dashed == [3, 0]


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("page", [appraisal, consignment, lots, restoration])
def test_axe_finds_no_serious_fault_in_a_page_of_weak_values(
    open_page: Open, page: Callable[[], str], dark: bool
) -> None:
    assert serious_faults(open_page(page(), dark=dark)) == []
