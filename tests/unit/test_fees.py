"""What a venue takes: worked by hand at every tier edge, in the three currencies of the small market."""

from datetime import date
from decimal import Decimal

import polars as pl
import pytest

from pipeline.config import FeeSchedule, Market
from pipeline.errors import MarketFileError
from pipeline.fees import (
    all_in_column,
    all_in_from_hammer,
    buyer_fee,
    greatest_hammer,
    hammer_column,
    hammer_from_all_in,
    hammer_from_net,
    net_column,
    seller_net,
)

DAY = date(2024, 1, 5)


def schedule_of(market: Market, venue: str, party: str) -> FeeSchedule:
    """Return a party's schedule of a venue of the small market."""
    found = market.venue(venue).schedule("buyer" if party == "buyer" else "seller", DAY)
    assert found is not None
    return found


def whole_lot(*tiers: tuple[str | None, str], party: str = "buyer", **more: str) -> FeeSchedule:
    """Return a whole-lot schedule from (up_to, rate) pairs."""
    rows = [{"rate": rate} if up_to is None else {"up_to": up_to, "rate": rate} for up_to, rate in tiers]
    return FeeSchedule.model_validate(
        {"party": party, "starts_on": "2015-01-01", "method": "whole-lot", "tiers": rows, **more}
    )


# 25 % to 500, 20 % to 2000, 12 % beyond, each on its part; tax of 20 % on the fee. By hand:
# 500: 125 + 25 = 150. 500.01: 125.002 → 125.00, tax 25.00. 2000: 125 + 300 = 425, tax 85.
# 2000.01: 425.0012 → 425.00. 3000: 425 + 120 = 545, tax 109.
@pytest.mark.parametrize(
    ("hammer", "fee"),
    [
        ("0", "0.00"),
        ("0.01", "0.00"),
        ("0.02", "0.01"),
        ("100", "30.00"),
        ("499.99", "150.00"),
        ("500", "150.00"),
        ("500.01", "150.00"),
        ("500.03", "150.01"),
        ("2000", "510.00"),
        ("2000.01", "510.00"),
        ("3000", "654.00"),
    ],
)
def test_a_marginal_premium_takes_each_rate_on_its_part(market: Market, hammer: str, fee: str) -> None:
    schedule = schedule_of(market, "Holm Sound Auctions", "buyer")
    assert buyer_fee(Decimal(hammer), schedule, "EUR") == Decimal(fee)


# 15 % of the whole to 300, 10 % of the whole beyond, at least 15. By hand:
# 99.99: 14.9985 → 15 by the minimum. 100: 15. 300: 45. 300.01: 30.001 → 30.00.
@pytest.mark.parametrize(
    ("hammer", "net"),
    [("10", "-5.00"), ("99.99", "84.99"), ("100", "85.00"), ("300", "255.00"), ("300.01", "270.01")],
)
def test_a_whole_lot_commission_jumps_at_its_edge(market: Market, hammer: str, net: str) -> None:
    schedule = schedule_of(market, "Holm Sound Auctions", "seller")
    assert seller_net(Decimal(hammer), schedule, "EUR") == Decimal(net)


def test_a_flat_fee_is_added_to_the_percentage(market: Market) -> None:
    schedule = schedule_of(market, "Lantern Dock", "seller")
    assert seller_net(Decimal("10.00"), schedule, "GBP") == Decimal("8.80")


# 10 % and 10 % tax on it. 12345: 1234.5 → 1235, tax 123.5 → 124. 5: .5 → 1, tax .1 → 0.
# 4: .4 → 0. 150: 15, tax 1.5 → 2.
@pytest.mark.parametrize(("hammer", "all_in"), [("12345", "13704"), ("5", "6"), ("4", "4"), ("150", "167")])
def test_a_yen_fee_is_rounded_half_up_to_whole_yen(market: Market, hammer: str, all_in: str) -> None:
    schedule = schedule_of(market, "Umikaze Lots", "buyer")
    assert all_in_from_hammer(Decimal(hammer), schedule, "JPY") == Decimal(all_in)


@pytest.mark.parametrize(
    "hammer", ["0.01", "499.99", "500", "500.01", "1999.99", "2000", "2000.01", "98765.43"]
)
def test_a_hammer_price_comes_back_from_its_all_in(market: Market, hammer: str) -> None:
    schedule = schedule_of(market, "Holm Sound Auctions", "buyer")
    inverse = hammer_from_all_in(all_in_from_hammer(Decimal(hammer), schedule, "EUR"), schedule, "EUR")
    assert (inverse.hammer, inverse.exact) == (Decimal(hammer), True)


def test_an_all_in_within_a_jump_takes_the_edge_and_says_so() -> None:
    schedule = whole_lot(("100", "0.10"), (None, "0.20"))
    inverse = hammer_from_all_in(Decimal("115"), schedule, "EUR")
    assert (inverse.hammer, inverse.exact) == (Decimal("100.00"), False)
    assert "greatest that does not exceed" in inverse.why


def test_an_all_in_of_two_hammer_prices_names_both() -> None:
    schedule = whole_lot(("100", "0.20"), (None, "0.10"))
    inverse = hammer_from_all_in(Decimal("115.50"), schedule, "EUR")
    assert inverse.hammer == Decimal("105.00")
    assert inverse.also == (Decimal("96.25"),)


def test_no_hammer_price_has_an_all_in_below_the_least_fee() -> None:
    schedule = whole_lot((None, "0.10"), minimum="15")
    assert hammer_from_all_in(Decimal("14.99"), schedule, "EUR").hammer is None


def test_the_most_to_bid_is_a_multiple_of_the_increment(market: Market) -> None:
    schedule = schedule_of(market, "Holm Sound Auctions", "buyer")
    assert greatest_hammer(Decimal("650"), schedule, "EUR") == Decimal("500.00")
    assert greatest_hammer(Decimal("649"), schedule, "EUR", Decimal(20)) == Decimal("480.00")


def test_nothing_can_be_bid_under_the_minimum_fee() -> None:
    assert greatest_hammer(Decimal("15"), whole_lot((None, "0.10"), minimum="15"), "EUR") is None


def test_the_net_of_the_jump_is_reached_by_the_first_price_beyond_it(market: Market) -> None:
    schedule = schedule_of(market, "Holm Sound Auctions", "seller")
    inverse = hammer_from_net(Decimal("260"), schedule, "EUR")
    assert (inverse.hammer, inverse.exact) == (Decimal("300.01"), False)


def test_the_least_price_with_the_net_is_taken(market: Market) -> None:
    schedule = schedule_of(market, "Lantern Dock", "seller")
    inverse = hammer_from_net(Decimal("8.80"), schedule, "GBP")
    assert inverse.hammer == Decimal("10.00")
    assert all(seller_net(other, schedule, "GBP") == Decimal("8.80") for other in inverse.also)


def test_a_commission_that_takes_every_further_unit_is_refused() -> None:
    schedule = whole_lot((None, "0.9"), party="seller", tax_rate="0.2")
    with pytest.raises(MarketFileError, match="takes the whole of each further unit"):
        hammer_from_net(Decimal(10), schedule, "EUR")


def test_a_seller_schedule_is_no_buyer_fee(market: Market) -> None:
    schedule = schedule_of(market, "Holm Sound Auctions", "seller")
    with pytest.raises(ValueError, match="the schedule is the seller's, not the buyer's"):
        buyer_fee(Decimal(10), schedule, "EUR")


@pytest.mark.parametrize(("hammer", "fault"), [("-1", "nought or more"), ("1.00001", "at most 4 decimals")])
def test_a_hammer_price_that_is_none_is_refused(market: Market, hammer: str, fault: str) -> None:
    schedule = schedule_of(market, "Holm Sound Auctions", "buyer")
    with pytest.raises(ValueError, match=fault):
        buyer_fee(Decimal(hammer), schedule, "EUR")


def prices(name: str, *rows: tuple[str, date | None, str, str | None]) -> pl.DataFrame:
    """Return a frame of venue, day, currency and an amount called `name`."""
    schema = {"venue": pl.String, "day": pl.Date, "currency": pl.String, name: pl.String}
    return pl.DataFrame(rows, schema=schema, orient="row").with_columns(pl.col(name).cast(pl.Decimal(18, 4)))


def test_a_column_is_charged_each_venue_by_its_own_schedule(market: Market) -> None:
    hammers = prices(
        "hammer",
        ("Umikaze Lots", DAY, "JPY", "12345"),
        ("Holm Sound Auctions", DAY, "EUR", "500"),
        ("Lantern Dock", DAY, "GBP", "80"),
        ("Holm Sound Auctions", DAY, "EUR", None),
    )
    result = all_in_column(hammers, market)["all_in"].to_list()
    assert result == [Decimal(13704), Decimal(650), Decimal(80), None]


@pytest.mark.parametrize(
    ("row", "why"),
    [
        (("Holm Sound Auctions", date(2014, 12, 31), "EUR", "5"), "starts on 2015-01-01"),
        (("Holm Sound Auctions", None, "EUR", "5"), "without a day"),
        (("Holm Sound Auctions", DAY, "USD", "5"), "fees are in EUR"),
        (("Holm Sound Auctions", DAY, "EUR", "-5"), "below nought"),
        (("Nowhere", DAY, "EUR", "5"), "no venue"),
    ],
)
def test_a_price_that_no_schedule_fits_says_why(
    market: Market, row: tuple[str, date | None, str, str], why: str
) -> None:
    result = all_in_column(prices("hammer", row), market)
    assert result["all_in"].item() is None
    assert why in result["why"].item()


def test_a_venue_without_seller_fees_has_no_known_net(market: Market) -> None:
    result = net_column(prices("hammer", ("Umikaze Lots", DAY, "JPY", "5000")), market)
    assert result["why"].item() == "the venue has no seller's fee schedule"


def test_an_empty_column_stays_empty(market: Market) -> None:
    result = hammer_column(prices("price"), market, basis="all-in")
    assert result.schema["hammer"] == pl.Decimal(18, 4)
    assert result.is_empty()
