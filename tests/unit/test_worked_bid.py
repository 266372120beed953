"""A worked example says what a venue's fees come to, as an invoice states them."""

from datetime import date
from decimal import Decimal

from pipeline.answers.consignment.price_split import divide_hammer
from pipeline.config import Venue, load_market
from pipeline.desk.market_file.worked_bid import worked_prices
from pipeline.shipped import shipped

MARKET = load_market(shipped("sample_data") / "market.toml")
TODAY = date(2026, 9, 30)


def test_a_bid_of_500_pays_the_premium_and_the_tax_on_it() -> None:
    [_, worked, _] = worked_prices(MARKET.venue("Holm Sound Auctions"), as_of=TODAY)
    assert (worked.premium, worked.tax, worked.all_in) == (Decimal(125), Decimal(25), Decimal(650))


def test_the_seller_is_left_the_price_without_fee_and_flat() -> None:
    [_, worked, _] = worked_prices(MARKET.venue("Holm Sound Auctions"), as_of=TODAY)
    assert (worked.seller_fee, worked.seller_tax, worked.net) == (Decimal(63), Decimal(0), Decimal(437))


def test_the_least_premium_is_taken_of_a_small_bid() -> None:
    [worked] = worked_prices(MARKET.venue("Umikaze Lots"), [Decimal(100)], as_of=TODAY)
    assert (worked.premium, worked.tax) == (Decimal(1000), Decimal(100))


def test_the_schedule_of_the_day_is_taken() -> None:
    [worked] = worked_prices(MARKET.venue("Holm Sound Auctions"), [Decimal(500)], as_of=date(2020, 1, 1))
    assert worked.premium == Decimal(110)


def test_a_venue_without_fees_takes_nothing_from_buyers_and_leaves_sellers_unknown() -> None:
    free = Venue(name="Barn", kind="shop", currency="EUR")
    [worked] = worked_prices(free, [Decimal(100)], as_of=TODAY)
    assert (worked.all_in, worked.net) == (Decimal(100), None)


def test_it_is_the_split_of_a_consigned_price() -> None:
    venue = MARKET.venue("Holm Sound Auctions")
    for worked in worked_prices(venue, as_of=TODAY):
        split = divide_hammer(worked.hammer, venue, MARKET, rate=1.0, on=TODAY)
        assert (worked.all_in, worked.hammer - (worked.net or 0)) == (split.all_in, split.venue_fee)
