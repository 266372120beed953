"""Buying on the pricing page in real Chromium: the same answer as the list of lots, and controls that a dealer uses."""

from collections.abc import Callable, Sequence
from datetime import date
from decimal import Decimal
from functools import cache
from typing import Any

import polars as pl
import pytest

from pipeline.answers.lots.answer import Terms, value_lots
from pipeline.answers.lots.run import lot_terms
from pipeline.config import Import, Market, Venue
from pipeline.market.pair import Pair
from pipeline.schema import SALE_RECORD
from reports.pricing.page import pricing_page
from sample_data import scenario
from tests.browser.conftest import Opened
from tests.pricings import KINDS, RATES, VALUED_ON, as_document, market_fitted, pairs_of, some_sales

pytestmark = pytest.mark.browser
Open = Callable[..., Opened]

TOLERANCE = 1e-3
"""The 0.1 % that is promised; the chance is held to a tenth of a point."""

STALL = "Breakwater Stall"
HARD = Venue.model_validate(
    {
        "name": "Whole Lot Rooms",
        "kind": "auction",
        "currency": "GBP",
        "country": "Farland",
        "fees": [
            {
                "party": party,
                "starts_on": date(2015, 1, 1),
                "method": "whole-lot",
                "tiers": [
                    {"up_to": 80, "rate": rates[0]},
                    {"up_to": 300, "rate": rates[1]},
                    {"rate": rates[2]},
                ],
                "minimum": 7,
                "flat": Decimal("1.50"),
                "tax_rate": Decimal("0.19"),
            }
            for party, rates in (("buyer", ("0.3", "0.25", "0.125")), ("seller", ("0.1", "0.15", "0.08")))
        ],
        "increments": [{"up_to": 100, "step": 5}, {"up_to": 400, "step": 20}, {"step": 50}],
    }
)
"""A venue whose fees leap at the edges of its tiers, from a country with freight, duty and tax."""
IMPORT = Import(
    country="Farland", freight=Decimal("18.75"), duty_rate=Decimal("0.055"), tax_rate=Decimal("0.21")
)

MONEY = ("walk_away_bid", "walk_away_landed", "landed_cost", "resale_net")


@cache
def market(sells_at: str | None = scenario.COUNTER) -> Market:
    """Return the demo's market with a stall that takes no fees, and another venue for the resale."""
    stall = Venue(name=STALL, kind="shop", currency="EUR")
    demo = scenario.market()
    buying = demo.buying.model_copy(update={"sells_at": sells_at})
    return Market.model_construct(
        **{
            **dict(demo),
            "venues": (*demo.venues, stall, HARD),
            "imports": (*demo.imports, IMPORT),
            "buying": buying,
        }
    )


PLACES = tuple(venue.name for venue in market().venues)
ASKS = ("40", "125", "310.50", "999")


def as_record(pair: Pair, venue: str, ask: str) -> pl.DataFrame:
    """Return a pair as a list of one lot at a price, in the columns of a sale record."""
    stated: dict[str, Any] = {column.name: None for column in SALE_RECORD}
    stated |= {
        "venue": venue,
        "currency": market().venue(venue).currency,
        "price_native": Decimal(ask),
        "flags": [],
        **{
            name: getattr(pair, name)
            for name in (
                "silhouette",
                "colourway",
                "era",
                "foot_mm",
                "grade",
                "parts",
                "defects",
                "treatments",
            )
        },
        **{name: getattr(pair, name) or "unknown" for name in ("box", "tags", "overlay")},
    }
    stated |= {
        name: list(stated[name]) for name in ("parts", "defects", "treatments") if stated[name] is not None
    }
    schema = {column.name: column.dtype for column in SALE_RECORD}
    return pl.DataFrame([stated], schema=schema).with_columns(
        row_number=pl.lit(1),
        silhouette_origin=pl.lit("stated"),
        era_origin=pl.lit("stated"),
        unread=pl.lit([], dtype=pl.List(pl.String)),
    )


def listed(offers: Sequence[tuple[Pair, str, str]], kind: str, sells_at: str | None) -> list[dict[str, Any]]:
    """Return what the list of lots says of each pair at a venue and a price."""
    terms: Terms = lot_terms(market(sells_at), margin=None, confidence=None, sells_at=None)
    records = pl.concat([as_record(*offer) for offer in offers]).with_columns(
        row_number=pl.int_range(pl.len(), dtype=pl.Int64)
    )
    valued = value_lots(
        records, market_fitted(kind), market(sells_at), some_sales(), RATES, terms, as_of=VALUED_ON
    )
    return valued.sort("row_number").to_dicts()


WEIGH = """([offers]) => {
  const stored = JSON.parse(document.getElementById("pricing-document").textContent);
  const market = valuation.open(stored);
  const desk = buying.open(stored.buying);
  return offers.map(([pair, venue, ask]) => {
    const at = (name) => valuation.distribution(market, { ...pair, venue: name });
    const value = buying.weigh(desk, { venue, ask, fee: null, shipping: null }, at, false, false);
    return [value.most, value.mostLanded, value.landed, value.net, value.gain, value.loss];
  });
}"""


@pytest.mark.parametrize(
    ("kind", "sells_at"),
    [*((kind, scenario.COUNTER) for kind in KINDS), ("calibrated", None), ("calibrated", HARD.name)],
)
def test_a_price_is_weighed_as_in_a_list_of_lots(open_page: Open, kind: str, sells_at: str | None) -> None:
    pairs = pairs_of(kind)[:8]
    offers = [
        (pair, venue, ASKS[(number + place) % len(ASKS)])
        for number, pair in enumerate(pairs)
        for place, venue in enumerate(PLACES)
    ]
    html = pricing_page(market_fitted(kind), market(sells_at), some_sales(), as_of=VALUED_ON, rates=RATES)
    weighed = open_page(html).page.evaluate(WEIGH, [[[as_document(pair), *rest] for pair, *rest in offers]])

    found = listed(offers, kind, sells_at)
    for expected, (most, most_landed, landed, net, gain, loss) in zip(found, weighed, strict=True):
        assert [most, most_landed or 0, landed, net] == pytest.approx(
            [expected[name] or 0 for name in MONEY], rel=TOLERANCE, abs=1e-9
        )
        assert gain == pytest.approx(expected["expected_gain"], rel=TOLERANCE, abs=TOLERANCE * landed)
        assert loss == pytest.approx(expected["chance_of_loss"], abs=TOLERANCE)


def test_the_drawn_offers_try_prices_to_buy_and_to_pass() -> None:
    offers = [(pair, venue, "125") for pair in pairs_of("calibrated")[:4] for venue in (STALL, HARD.name)]
    most = [lot["walk_away_bid"] for lot in listed(offers, "calibrated", scenario.COUNTER)]
    assert 0 < min(most) < 125 < max(most)


@pytest.fixture(scope="module")
def opened_once(open_page: Open) -> Opened:
    """Return a page that the tests below work with one after the other, in light and at a phone's width."""
    html = pricing_page(market_fitted("calibrated"), market(), some_sales(), as_of=VALUED_ON, rates=RATES)
    return open_page(html, width=390)


@pytest.fixture
def desk(opened_once: Opened) -> Opened:
    """Return the page as it is when it has just been opened."""
    address = opened_once.page.url.split("#")[0]
    opened_once.page.goto("about:blank")
    opened_once.page.goto(address)
    return opened_once


def choose(opened: Opened, silhouette: str = "Gannet Hi", grade: str = "8, very good") -> None:
    """Choose a pair of a silhouette."""
    for label, choice in (("Silhouette", silhouette), ("Grade", grade)):
        opened.page.get_by_role("combobox", name=label, exact=True).select_option(label=choice)


def verdict(opened: Opened) -> str:
    """Return what the page says of buying."""
    return opened.page.locator("#verdict").inner_text()


def test_the_most_to_pay_stands_beside_the_value_without_an_asking_price(desk: Opened) -> None:
    choose(desk)
    assert verdict(desk).startswith("Most to pay €")


@pytest.mark.parametrize(
    ("ask", "told"), [("250", "Buy at €250: most to pay €"), ("2,500", "Pass at €2,500: most")]
)
def test_an_asking_price_is_to_buy_up_to_the_most_to_pay(desk: Opened, ask: str, told: str) -> None:
    choose(desk)
    desk.page.get_by_label("Asking price").fill(ask)
    assert verdict(desk).startswith(told)


def test_a_price_that_is_too_good_calls_for_a_look_first(desk: Opened) -> None:
    choose(desk)
    desk.page.get_by_label("Asking price").fill("40")
    assert verdict(desk).startswith("Look first (suspiciously cheap) at €40")


def test_a_pair_without_sales_calls_for_a_look_first(desk: Opened) -> None:
    choose(desk, "another silhouette (no sale of it)")
    desk.page.get_by_label("Asking price").fill("140")
    assert verdict(desk).startswith("Look first (too few sales) at €140")


def test_a_bid_at_an_auction_abroad_is_in_its_currency_with_its_costs(desk: Opened) -> None:
    choose(desk)
    auction = next(venue for venue in market().venues if venue.kind == "auction" and venue.currency == "JPY")
    desk.page.get_by_role("combobox", name="Bought at").select_option(label=auction.name)
    desk.page.get_by_label("Present bid, JPY").fill("20000")
    assert verdict(desk).startswith("Bid at JP¥20,000: maximum bid JP¥")


def test_a_fee_and_shipping_of_a_stall_lower_the_most_to_pay(desk: Opened) -> None:
    choose(desk)
    before = verdict(desk)
    desk.page.get_by_label("Fee, %").fill("10")
    desk.page.get_by_label("Shipping, EUR").fill("20")
    most = [float(text.removeprefix("Most to pay €").replace(",", "")) for text in (before, verdict(desk))]
    assert most[1] == pytest.approx((most[0] - 20) / 1.1, abs=1)


@pytest.mark.parametrize("ask", ["twelve", "12,34,5", "0", "-5"])
def test_what_is_no_amount_is_refused_and_left_out(desk: Opened, ask: str) -> None:
    choose(desk)
    desk.page.get_by_label("Asking price").fill(ask)
    assert "The price is no amount above zero" in desk.page.locator("#offer-says").inner_text()
    assert verdict(desk).startswith("Most to pay")


def test_the_address_brings_the_offer_back(desk: Opened) -> None:
    choose(desk)
    desk.page.get_by_label("Asking price").fill("310,50")
    desk.page.get_by_label("Shipping, EUR").fill("12")
    before = verdict(desk)
    desk.page.reload()
    assert verdict(desk) == before
    assert "ask=310.50&shipping=12" in desk.page.url


def test_a_venue_of_the_address_that_nobody_knows_is_said_to_be_taken_as_a_stall(desk: Opened) -> None:
    desk.page.goto(f"{desk.page.url}#silhouette=Gannet+Hi&ask=90&at=Nowhere+Rooms")
    desk.page.reload()
    said = desk.page.locator("#offer-says").inner_text()
    assert said == "No venue is called Nowhere Rooms: the price is taken as that of a stall."


def test_the_cost_of_a_currency_without_a_rate_is_said_to_be_unknown(open_page: Open) -> None:
    opened = open_page(pricing_page(market_fitted("calibrated"), market(), some_sales(), as_of=VALUED_ON))
    choose(opened)
    auction = next(venue for venue in market().venues if venue.currency == "JPY")
    opened.page.get_by_role("combobox", name="Bought at").select_option(label=auction.name)
    assert verdict(opened) == "Cost unknown: no exchange rate of JPY is known"


def test_the_warning_of_a_pair_outside_the_data_stands_above_the_number_on_a_phone(desk: Opened) -> None:
    choose(desk, "another silhouette (no sale of it)")
    desk.page.set_viewport_size({"width": 390, "height": 844})
    tops = [desk.page.locator(part).bounding_box()["y"] for part in ("#outside", "#median", "#range")]  # type: ignore[index]
    assert tops == sorted(tops)
    assert tops[-1] < 600


@pytest.mark.parametrize(
    ("silhouette", "part", "told"),
    [
        ("Razorbill", "#thin", "Only 3 sales of this silhouette"),
        ("Gannet Hi", "#old", "run pairband fit again"),
    ],
)
def test_thin_and_old_records_are_said_above_the_number_on_a_phone(
    open_page: Open, silhouette: str, part: str, told: str
) -> None:
    few = pl.concat(
        [
            some_sales().filter(pl.col("silhouette") != "Razorbill"),
            some_sales().filter(pl.col("silhouette") == "Razorbill").head(3),
        ]
    )
    stale = "The records have changed since the fit: run `pairband fit` again."
    html = pricing_page(market_fitted("calibrated"), market(), few, as_of=VALUED_ON, rates=RATES, stale=stale)
    opened = open_page(html, width=390)
    choose(opened, silhouette)
    warned, number = (opened.page.locator(one).bounding_box() for one in (part, "#median"))
    assert told in opened.page.locator(part).inner_text()
    assert warned["y"] < number["y"] < 600  # type: ignore[index]


def test_the_control_in_focus_is_never_behind_the_number_on_a_phone(desk: Opened) -> None:
    choose(desk)
    page = desk.page
    page.set_viewport_size({"width": 390, "height": 844})
    page.get_by_role("button", name="Clear").focus()
    hidden = []
    for _ in range(25):
        page.keyboard.press("Shift+Tab")
        behind = page.evaluate(
            """() => {
              const one = document.activeElement;
              const answer = document.querySelector(".value").getBoundingClientRect();
              return one.closest("#pair") && one.getBoundingClientRect().top < answer.bottom - 1 ? one.name : null;
            }"""
        )
        hidden += [behind] if behind is not None else []
    assert hidden == []
