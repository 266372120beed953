"""A pair on consignment: who gets what, and what to ask."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import numpy as np
import polars as pl
import pytest

from pipeline.answers.consignment.answer import (
    Consignment,
    VenueOffer,
    ask_curve,
    consign,
    least_to_take,
    venue_doubts,
)
from pipeline.answers.consignment.price_split import divide_hammer, divide_price
from pipeline.answers.consignment.time_to_sale import TimeToSale
from pipeline.config import Venue
from sample_data import scenario
from tests.demo_ledger import demo_sales
from tests.drawn import with_trees
from tests.restorations import demo_market_fitted
from tests.upcoming import COMMON, LAST_SOLD, RATES, VALUED_ON, demo_consignment, demo_pace

NO_PACE = TimeToSale(None, "The records hold 0 sold and 0 unsold offers.")


def offer(venue: str, consignment: Consignment | None = None) -> VenueOffer:
    found = consignment or demo_consignment()
    return next(one for one in found.offers if one.venue == venue)


def suggested(venue: str, name: str) -> Decimal:
    return next(one.amount for one in offer(venue).suggestions if one.name == name)


def with_no_pace() -> Consignment:
    return consign(
        COMMON,
        demo_market_fitted(),
        scenario.market(),
        demo_sales(),
        NO_PACE,
        RATES,
        {},
        last_sold=LAST_SOLD,
        as_of=VALUED_ON,
        patience_days=60,
    )


def test_the_counters_commission_by_hand() -> None:
    counter = scenario.market().venue(scenario.COUNTER)

    parts = divide_hammer(Decimal(600), counter, scenario.market(), rate=1.0, on=VALUED_ON)
    assert (parts.commission, parts.to_consignor) == (Decimal("136.00"), Decimal("464.00"))


def test_a_price_at_an_auction_by_hand() -> None:
    house = scenario.market().venue(scenario.HOLM)

    parts = divide_hammer(Decimal(500), house, scenario.market(), rate=1.0, on=VALUED_ON)
    assert parts.buyer_fee == Decimal("150.00")  # 25 % and a fifth of it
    assert parts.venue_fee == Decimal("63.00")  # 12 % and 3
    assert (parts.commission, parts.commission_tax) == (Decimal("56.00"), Decimal("11.20"))  # 48 + 8
    assert parts.to_consignor == Decimal("369.80")


def test_an_all_in_price_is_divided_by_the_hammer_price_behind_it() -> None:
    house = scenario.market().venue(scenario.HOLM)

    assert divide_price(650.0, house, scenario.market(), rate=1.0, on=VALUED_ON).hammer == Decimal("500.00")


def test_every_venue_is_weighed_and_the_best_for_the_consignor_comes_first() -> None:
    nets = [one.at_median.to_consignor for one in demo_consignment().offers]

    assert {one.venue for one in demo_consignment().offers} == set(scenario.market().venue_by_name)
    assert nets == sorted(nets, reverse=True)


def test_a_more_expensive_venue_shows_a_higher_median() -> None:
    assert offer(scenario.COUNTER).median > offer(scenario.UMIKAZE).median


@pytest.mark.parametrize("venue", [scenario.HOLM, scenario.UMIKAZE])
def test_a_reserve_is_never_above_the_low_estimate(venue: str) -> None:
    assert suggested(venue, "reserve") <= suggested(venue, "low estimate") < suggested(venue, "high estimate")


def test_estimates_are_valid_bid_steps() -> None:
    assert [suggested(scenario.HOLM, name) % 5 for name in ("reserve", "low estimate", "high estimate")] == [
        0
    ] * 3


def test_the_suggested_ask_leaves_more_than_any_other_on_the_curve() -> None:
    best = max(offer(scenario.COUNTER).curve, key=lambda point: point.expected_net)

    assert float(suggested(scenario.COUNTER, "ask")) == pytest.approx(best.ask, rel=0.01)


def test_an_ask_that_is_rare_in_the_records_is_not_weighed() -> None:
    hazard = demo_pace().hazard
    assert hazard is not None

    ratios = [point.ratio for point in offer(scenario.COUNTER).curve]
    assert hazard.lowest <= min(ratios) < max(ratios) <= hazard.highest


def test_who_can_wait_longer_asks_no_less() -> None:
    asks = [
        max(
            offer(scenario.COUNTER, demo_consignment(COMMON, days)).curve, key=lambda one: one.expected_net
        ).ask
        for days in (14, 60, 240)
    ]

    assert asks == sorted(asks)


def test_the_expected_net_of_an_ask_weighs_a_sale_against_the_auction_afterwards() -> None:
    hazard = demo_pace().hazard
    assert hazard is not None
    counter = scenario.market().venue(scenario.COUNTER)

    curve = ask_curve(
        500.0, counter, scenario.market(), hazard, after=300.0, rate=1.0, patience=60, on=VALUED_ON
    )
    point = curve[10]
    price = divide_price(point.ask * hazard.paid_to_ask, counter, scenario.market(), rate=1.0, on=VALUED_ON)
    chance = float(hazard.chance(point.ratio, 60))
    assert point.expected_net == pytest.approx(chance * float(price.to_consignor) + (1 - chance) * 300.0)


def test_the_least_to_take_leaves_the_net_and_a_unit_less_does_not() -> None:
    counter, market = scenario.market().venue(scenario.COUNTER), scenario.market()

    least = least_to_take(400.0, counter, market, rate=1.0, on=VALUED_ON)
    nets = [
        divide_hammer(price, counter, market, rate=1.0, on=VALUED_ON).to_consignor
        for price in (least, least - 1)
    ]
    assert nets[0] >= 400 > nets[1]


def test_without_offers_to_learn_from_the_ask_is_fair_value_and_says_so() -> None:
    found = offer(scenario.COUNTER, with_no_pace())

    assert found.curve == ()
    assert "too little" in found.suggestions[0].how
    assert float(found.suggestions[0].amount) == pytest.approx(found.median, abs=1)


def test_what_the_records_say_too_little_of_is_a_caution() -> None:
    assert NO_PACE.why_not in with_no_pace().cautions


def test_a_venue_whose_currency_has_no_rate_is_left_out() -> None:
    found = consign(
        COMMON,
        demo_market_fitted(),
        scenario.market(),
        demo_sales(),
        demo_pace(),
        {"EUR": 1.0},
        {},
        last_sold=LAST_SOLD,
        as_of=VALUED_ON,
        patience_days=60,
    )

    assert {one.venue for one in found.offers} == {scenario.HOLM, scenario.COUNTER}


def test_an_ask_promises_no_more_than_buyers_typically_pay_however_little_is_known() -> None:
    """Silhouettes that differ by a factor of e^3.7: the mean price of a new one is set by its rarest sales."""
    fitted = demo_market_fitted()
    wide = replace(fitted, fit=replace(fitted.fit, lambdas=fitted.fit.lambdas | {"silhouette": 0.005}))
    unknown = replace(COMMON, silhouette="Great Auk Hi", colourway=None)
    found = consign(
        unknown,
        wide,
        scenario.market(),
        demo_sales().clear(),
        demo_pace(),
        RATES,
        {},
        last_sold=LAST_SOLD,
        as_of=VALUED_ON,
        patience_days=60,
    )

    [counter] = [one for one in found.offers if one.venue == scenario.COUNTER]
    typical = max(one.median for one in found.offers)
    assert counter.high > 50 * counter.median  # little is known
    assert all(point.expected_net < typical for point in counter.curve)


def test_every_venue_is_compared_by_what_half_of_its_sales_leave() -> None:
    holm = offer(scenario.HOLM)
    market = scenario.market()
    by_hand = divide_price(holm.median, market.venue(scenario.HOLM), market, rate=1.0, on=VALUED_ON)

    assert holm.net == float(by_hand.to_consignor)


def test_sales_after_the_day_of_valuation_change_nothing_of_a_consignment() -> None:
    day = date(2022, 1, 1)
    fitted = with_trees(demo_market_fitted(), demo_sales())
    until = demo_sales().filter(pl.col("sold_on") <= day)

    all_known, known_then = (
        consign(
            COMMON,
            fitted,
            scenario.market(),
            sales,
            NO_PACE,
            RATES,
            {},
            last_sold=LAST_SOLD,
            as_of=day,
            patience_days=60,
        )
        for sales in (demo_sales(), until)
    )
    assert all_known == known_then


def test_a_consignment_says_when_the_silhouette_was_first_sold_after_its_day() -> None:
    market, day = scenario.market(), date(2016, 1, 1)
    found = consign(
        COMMON,
        demo_market_fitted(),
        market,
        demo_sales(),
        NO_PACE,
        RATES,
        {},
        last_sold=LAST_SOLD,
        as_of=day,
        patience_days=60,
    )

    assert any("its effect rests on later sales" in caution for caution in found.cautions)


def test_a_size_outside_those_sold_is_a_caution() -> None:
    found = demo_consignment(replace(COMMON, foot_mm=335))

    assert any("lies outside those sold" in caution for caution in found.cautions)


def test_a_pair_of_which_nothing_is_known_is_priced_with_a_wide_band() -> None:
    unknown = demo_consignment(replace(COMMON, silhouette="Great Auk Hi", label=""))

    wide, narrow = (np.log(one.offers[0].high / one.offers[0].low) for one in (unknown, demo_consignment()))
    assert wide > narrow


def with_venues(*venues: Venue, last_sold: dict[str, date] = LAST_SOLD) -> Consignment:
    market = scenario.market().model_copy(update={"venues": venues})
    return consign(
        COMMON,
        demo_market_fitted(),
        market,
        demo_sales(),
        demo_pace(),
        RATES,
        {},
        last_sold=last_sold,
        as_of=VALUED_ON,
        patience_days=60,
    )


def venue(name: str, **changed: object) -> Venue:
    return scenario.market().venue(name).model_copy(update=changed)


def test_a_venue_that_is_not_for_consignment_is_not_offered() -> None:
    found = with_venues(venue(scenario.HOLM), venue(scenario.COUNTER, consignment=False))
    assert [one.venue for one in found.offers] == [scenario.HOLM]


def test_a_venue_without_a_sellers_fee_does_not_qualify_and_says_so() -> None:
    found = with_venues(venue(scenario.HOLM, fees=()), venue(scenario.COUNTER))
    assert (offer(scenario.HOLM, found).qualifies, offer(scenario.HOLM, found).doubts) == (
        False,
        ("no seller's fee is written for it, so what is left counts none",),
    )


def test_a_venue_that_leaves_most_for_want_of_a_fee_is_not_the_best() -> None:
    found = with_venues(venue(scenario.HOLM, fees=()), venue(scenario.COUNTER))
    assert found.offers[0].venue == scenario.COUNTER


def test_a_venue_whose_last_sale_is_more_than_a_year_ago_does_not_qualify_and_says_when() -> None:
    old = LAST_SOLD | {scenario.HOLM: date(2023, 5, 3)}
    found = with_venues(venue(scenario.HOLM), venue(scenario.COUNTER), last_sold=old)
    assert offer(scenario.HOLM, found).doubts == (
        "its last sale in your records was on 3 May 2023, more than a year before",
    )


def test_a_sale_a_year_ago_to_the_day_is_recent_enough() -> None:
    assert venue_doubts(venue(scenario.HOLM), date(2025, 10, 1), as_of=date(2026, 10, 1)) == ()


def test_a_venue_without_any_sale_does_not_qualify() -> None:
    assert venue_doubts(venue(scenario.HOLM), None, as_of=VALUED_ON) == ("no sale there is in your records",)


def test_a_venue_that_the_owner_chose_qualifies_and_its_doubts_are_said_all_the_same() -> None:
    found = with_venues(venue(scenario.HOLM, fees=(), consignment=True))
    assert (found.offers[0].qualifies, len(found.offers[0].doubts)) == (True, 1)


def test_unsold_pairs_are_not_sent_to_an_auction_that_does_not_qualify() -> None:
    found = with_venues(venue(scenario.HOLM, fees=()), venue(scenario.COUNTER))
    assert scenario.HOLM not in offer(scenario.COUNTER, found).suggestions[0].how
