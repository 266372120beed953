"""A pair whose era is in doubt on the pricing page in real Chromium: the same numbers as the Python."""

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import polars as pl
import pytest

from pipeline.answers.era_odds.answer import EraInDoubt, value_in_doubt
from pipeline.answers.era_odds.tables import finding_out_words, state_doubt
from pipeline.market.pair import Pair
from tests.browser.conftest import Opened
from tests.browser.test_pages import serious_faults
from tests.pricings import KINDS, VALUED_ON, as_document, market_fitted, page_of, pairs_of, some_sales

pytestmark = pytest.mark.browser
Open = Callable[..., Opened]

CLOSE = pytest.approx
TOLERANCE = 1e-5
ODDS = (
    {"first": 0.7, "late reissue": 0.3},
    {"first": 0.2, "second": 0.5, "late reissue": 0.3},
    {"second": 1.0},
)
EVERY_KIND = pytest.mark.parametrize("kind", KINDS)


@cache
def drawn(kind: str) -> tuple[tuple[Pair, dict[str, float]], ...]:
    """Return pairs of a kind of fit, each with odds over its eras."""
    pairs = pairs_of(kind)[:9]
    return tuple((replace(pair, era=None), ODDS[number % len(ODDS)]) for number, pair in enumerate(pairs))


@cache
def expected(kind: str, number: int, price: float | None) -> EraInDoubt:
    pair, odds = drawn(kind)[number]
    own = some_sales().filter(pl.col("silhouette") == pair.silhouette)
    return value_in_doubt(pair, odds, market_fitted(kind), own, as_of=VALUED_ON, at_price=price)


@pytest.fixture(scope="module")
def computed(open_page: Open) -> Callable[[str, float | None], list[dict[str, Any]]]:
    """Return a function that gives what the page computes for every drawn pair of a kind, at a price."""
    page = cache(lambda kind: open_page(page_of(kind)).page)

    @cache
    def compute(kind: str, price: float | None) -> list[dict[str, Any]]:
        values: list[dict[str, Any]] = page(kind).evaluate(
            """([pairs, price]) => {
              const market = valuation.open(JSON.parse(document.getElementById("pricing-document").textContent));
              return pairs.map(([pair, odds]) => eraOdds.valueInDoubt(market, pair, odds, price));
            }""",
            [[[as_document(pair), list(odds.items())] for pair, odds in drawn(kind)], price],
        )
        return values

    return compute


@EVERY_KIND
def test_the_bands_of_the_mixture_are_those_of_the_python(computed: Callable[..., Any], kind: str) -> None:
    for number, value in enumerate(computed(kind, None)):
        doubt = expected(kind, number, None)
        assert [value["median"], *(band[end] for band in value["bands"] for end in ("low", "high"))] == CLOSE(
            [doubt.median, *(end for band in doubt.bands for end in (band.low, band.high))], rel=TOLERANCE
        )


@EVERY_KIND
def test_each_era_is_worth_what_the_python_says(computed: Callable[..., Any], kind: str) -> None:
    for number, value in enumerate(computed(kind, None)):
        eras = expected(kind, number, None).eras
        assert [(one["era"], one["sales"]) for one in value["eras"]] == [(one.era, one.sales) for one in eras]
        assert [one[name] for one in value["eras"] for name in ("chance", "median", "low", "high")] == CLOSE(
            [size for one in eras for size in (one.chance, one.median, one.low, one.high)], rel=TOLERANCE
        )


@pytest.mark.parametrize("price", [None, 180.0])
def test_finding_out_is_worth_what_the_python_says(computed: Callable[..., Any], price: float | None) -> None:
    for number, value in enumerate(computed("calibrated", price)):
        doubt = expected("calibrated", number, price)
        assert [value[name] for name in ("average", "price", "findingOut", "most")] == CLOSE(
            [doubt.average, doubt.at_price, doubt.finding_out, doubt.most], rel=TOLERANCE, abs=1e-3
        )


def test_the_cautions_of_a_doubt_are_those_of_the_python(computed: Callable[..., Any]) -> None:
    for number, value in enumerate(computed("calibrated", None)):
        assert value["cautions"] == list(expected("calibrated", number, None).cautions)


@pytest.fixture(scope="module")
def opened_once(open_page: Open) -> Opened:
    return open_page(page_of())


@pytest.fixture
def desk(opened_once: Opened) -> Opened:
    """Return the page with a silhouette chosen and its era in doubt."""
    page = opened_once.page
    address = page.url.split("#")[0]
    page.goto("about:blank")
    page.goto(address)
    page.get_by_role("combobox", name="Silhouette", exact=True).select_option(label="Gannet Hi")
    page.get_by_role("combobox", name="Era", exact=True).select_option(label="in doubt: give the odds")
    return opened_once


def give(opened: Opened, **chances: str) -> None:
    """Write the chance of each era, in per cent."""
    for era, chance in chances.items():
        opened.page.get_by_label(era.replace("_", " "), exact=True).fill(chance)


def in_doubt(**odds: float) -> EraInDoubt:
    own = some_sales().filter(pl.col("silhouette") == "Gannet Hi")
    named = {era.replace("_", " "): chance for era, chance in odds.items()}
    return value_in_doubt(Pair("Gannet Hi"), named, market_fitted("calibrated"), own, as_of=VALUED_ON)


def test_the_page_states_the_mixture_as_the_command_does(desk: Opened) -> None:
    give(desk, first="70", late_reissue="30")
    assert desk.page.locator("#sentence").inner_text() == state_doubt(in_doubt(first=0.7, late_reissue=0.3))


def test_the_page_says_what_finding_out_is_worth(desk: Opened) -> None:
    give(desk, first="70", late_reissue="30")
    told = desk.page.locator("#finding-out").inner_text()
    assert told == finding_out_words(in_doubt(first=0.7, late_reissue=0.3))


def test_odds_that_do_not_come_to_100_leave_the_era_unknown_and_say_so(desk: Opened) -> None:
    give(desk, first="70", late_reissue="20")
    assert "They come to 90\u00a0%" in desk.page.locator("#odds-says").inner_text()
    assert "about" in desk.page.locator("#sentence").inner_text()


def test_a_chance_that_is_no_number_is_refused(desk: Opened) -> None:
    give(desk, first="often")
    assert "A chance is a number from 0 to 100." in desk.page.locator("#odds-says").inner_text()


def test_the_address_keeps_the_odds_in_the_words_of_the_command(desk: Opened) -> None:
    give(desk, first="70", late_reissue="30")
    assert "era-odds=first%3D0.7%2Clate+reissue%3D0.3" in desk.page.url


def test_an_address_with_odds_brings_them_back(desk: Opened) -> None:
    give(desk, first="62.5", late_reissue="37.5")
    before = desk.page.locator("#sentence").inner_text()
    desk.page.reload()
    assert desk.page.locator("#sentence").inner_text() == before


def test_the_steps_of_a_doubt_are_said_to_be_those_of_the_likeliest_era(desk: Opened) -> None:
    give(desk, first="30", late_reissue="70")
    notes = desk.page.locator(".as-if").all_inner_texts()
    assert notes == ["As if it were late reissue, the likeliest era."] * 2


def test_the_most_to_pay_with_the_era_in_doubt_lies_between_those_of_its_eras(desk: Opened) -> None:
    def most() -> float:
        told = desk.page.locator("#verdict").inner_text()
        return float(told.removeprefix("Most to pay €").replace(",", ""))

    found = []
    for first, late in (("0", "100"), ("50", "50"), ("100", "0")):
        give(desk, first=first, late_reissue=late)
        found.append(most())
    assert found[0] < found[1] < found[2]


def test_axe_finds_no_serious_fault_with_the_era_in_doubt(desk: Opened) -> None:
    give(desk, first="70", late_reissue="30")
    assert serious_faults(desk) == []
