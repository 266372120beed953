"""What a venue takes: worked by hand at every tier edge, in the three currencies of the small market."""

import re
from collections.abc import Callable
from datetime import date
from decimal import Decimal

import polars as pl
import pytest

from pipeline.config import FeeSchedule, Market
from pipeline.errors import MarketFileError
from pipeline.fees import (
    Inverse,
    all_in_column,
    all_in_from_hammer,
    buyer_fee,
    fee_of,
    greatest_hammer,
    hammer_column,
    hammer_from_all_in,
    hammer_from_net,
    net_column,
    seller_net,
)
from pipeline.fees.amounts import decimals

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


@pytest.mark.parametrize(
    ("currency", "hammer", "fee"),
    [("JPY", "12345", "1235"), ("EUR", "12345", "1234.50"), ("KWD", "0.005", "0.001")],
)
def test_a_fee_of_either_party_is_in_the_minor_unit_of_its_currency(
    currency: str, hammer: str, fee: str
) -> None:
    """A tenth: 1234.5 yen make 1235, and .0005 dinar one fils."""
    for party in ("buyer", "seller"):
        assert str(fee_of(Decimal(hammer), whole_lot((None, "0.10"), party=party), currency)) == fee


@pytest.mark.parametrize(
    ("limit", "increment", "said"),
    [
        ("100", "0", "the increment must be above nought, not 0"),
        ("100", "-5", "the increment must be nought or more, not -5"),
        ("100", "NaN", "the increment must be nought or more, not NaN"),
        ("100", "0.00001", "the increment must have at most 4 decimals, not 0.00001"),
        ("-100", "5", "the limit must be nought or more, not -100"),
        ("Infinity", "5", "the limit must be nought or more, not Infinity"),
    ],
)
def test_a_bid_within_no_limit_or_by_no_increment_is_refused(limit: str, increment: str, said: str) -> None:
    with pytest.raises(ValueError, match=f"^{re.escape(said)}$"):
        greatest_hammer(Decimal(limit), whole_lot((None, "0.10")), "EUR", Decimal(increment))


def test_the_finest_increment_is_a_ten_thousandth() -> None:
    free = whole_lot((None, "0"))
    finest = Decimal("0.0001")
    assert greatest_hammer(Decimal("1.2"), free, "EUR", finest) == Decimal("1.2")
    assert greatest_hammer(finest, free, "EUR", finest) == finest
    assert greatest_hammer(Decimal(0), free, "EUR", finest) is None


@pytest.mark.parametrize(
    ("amount", "said"),
    [
        ("-0.01", "must be nought or more, not -0.01"),
        ("Infinity", "must be nought or more, not Infinity"),
        ("1.00001", "must have at most 4 decimals, not 1.00001"),
    ],
)
def test_an_amount_that_is_none_is_named_and_refused(amount: str, said: str) -> None:
    buyers, sellers = whole_lot((None, "0.1")), whole_lot((None, "0.1"), party="seller")
    with pytest.raises(ValueError, match=f"^the hammer price {re.escape(said)}$"):
        buyer_fee(Decimal(amount), buyers, "EUR")
    with pytest.raises(ValueError, match=f"^the all-in price {re.escape(said)}$"):
        hammer_from_all_in(Decimal(amount), buyers, "EUR")
    with pytest.raises(ValueError, match=f"^the net {re.escape(said)}$"):
        hammer_from_net(Decimal(amount), sellers, "EUR")


def test_four_decimals_and_noughts_after_them_are_an_amount() -> None:
    assert buyer_fee(Decimal("1.00010000"), whole_lot((None, "0")), "EUR") == 0


@pytest.mark.parametrize("worked_out", [hammer_from_all_in, greatest_hammer, buyer_fee])
def test_what_a_buyer_pays_wants_the_buyers_schedule(worked_out: Callable[..., object]) -> None:
    with pytest.raises(ValueError, match=r"^the schedule is the seller's, not the buyer's$"):
        worked_out(Decimal(10), whole_lot((None, "0.1"), party="seller"), "EUR")


@pytest.mark.parametrize("worked_out", [hammer_from_net, seller_net])
def test_what_a_seller_is_left_wants_the_sellers_schedule(worked_out: Callable[..., object]) -> None:
    with pytest.raises(ValueError, match=r"^the schedule is the buyer's, not the seller's$"):
        worked_out(Decimal(10), whole_lot((None, "0.1")), "EUR")


# A tenth of the whole to 100, a fifth beyond: 100 costs 110 and 100.01 costs 120.01, and nothing costs 115.
def test_an_inverse_says_in_full_why_it_is_not_exact() -> None:
    jump = whole_lot(("100", "0.10"), (None, "0.20"))
    assert hammer_from_all_in(Decimal("115"), jump, "EUR") == Inverse(
        Decimal("100.00"), exact=False, also=(),
        why="no hammer price has this all-in; this is the greatest that does not exceed it",
    )  # fmt: skip
    assert hammer_from_all_in(Decimal("110"), jump, "EUR") == Inverse(
        Decimal(100), exact=True, also=(), why=""
    )
    least = whole_lot((None, "0.10"), minimum="15")
    assert hammer_from_all_in(Decimal("14.99"), least, "EUR") == Inverse(
        None, exact=False, also=(), why="the least fee alone exceeds this all-in"
    )
    assert hammer_from_all_in(Decimal("15"), least, "EUR").hammer == 0


# A fifth of the whole to 100, a tenth beyond: 100 leaves 80 and 100.01 leaves 90.01, and nothing leaves 85.
def test_an_inverse_of_a_net_says_in_full_why_it_is_not_exact() -> None:
    jump = whole_lot(("100", "0.20"), (None, "0.10"), party="seller")
    assert hammer_from_net(Decimal("85"), jump, "EUR") == Inverse(
        Decimal("100.01"), exact=False, also=(),
        why="no hammer price leaves exactly this net; this is the least that leaves more",
    )  # fmt: skip
    assert hammer_from_net(Decimal("80"), jump, "EUR") == Inverse(Decimal(100), exact=True, also=(), why="")


# A tenth of the whole to 100, a fifth beyond: 100 leaves 90, as does 112.50, and so do their neighbours by a cent:
# 112.49 leaves 112.49 - 22.50 = 89.99, 112.51 leaves 90.01. 99.99 leaves 89.99.
def test_a_net_of_two_hammer_prices_takes_the_least_and_names_the_other() -> None:
    jump = whole_lot(("100", "0.10"), (None, "0.20"), party="seller")
    found = hammer_from_net(Decimal("90"), jump, "EUR")
    assert (found.hammer, found.also) == (Decimal("100.00"), (Decimal("112.50"),))


def test_a_commission_of_everything_is_refused_and_one_just_below_is_not() -> None:
    whole = whole_lot((None, "0.8"), party="seller", tax_rate="0.25")
    with pytest.raises(MarketFileError) as refused:
        hammer_from_net(Decimal(10), whole, "EUR")
    assert str(refused.value) == (
        "a seller's fee schedule takes the whole of each further unit of the price, tax included\n"
        "mend `rate` and `tax_rate` of that schedule, so that rate × (1 + tax_rate) is below 1."
    )
    nearly = whole_lot((None, "0.8"), party="seller", tax_rate="0.24")
    # .8 and .24 of it make .992: 1250 leaves 1250 - 1000 - 240 = 10.
    found = hammer_from_net(Decimal(10), nearly, "EUR")
    assert Decimal("1250.00") in (found.hammer, *found.also)


def test_a_tier_edge_of_five_decimals_is_refused() -> None:
    with pytest.raises(MarketFileError) as refused:
        buyer_fee(Decimal(1), whole_lot(("1.00001", "0.1"), (None, "0.2")), "EUR")
    assert str(refused.value) == (
        "a fee schedule has `up_to` 1.00001: more than 4 decimals\nmend that `up_to`."
    )
    assert buyer_fee(Decimal(1), whole_lot(("1.0001", "0.1"), (None, "0.2")), "EUR") == Decimal("0.1")


@pytest.mark.parametrize(
    ("hammer", "currency", "all_in"),
    [("100", "EUR", "110.00"), ("100", "JPY", "110"), ("100", "KWD", "110.000"), ("0.005", "EUR", "0.005")],
)
def test_an_all_in_is_written_to_the_minor_unit_where_it_suffices(
    hammer: str, currency: str, all_in: str
) -> None:
    assert str(all_in_from_hammer(Decimal(hammer), whole_lot((None, "0.10")), currency)) == all_in
    inverse = hammer_from_all_in(Decimal("110"), whole_lot((None, "0.10")), currency)
    assert str(inverse.hammer) == {"EUR": "100.00", "JPY": "100", "KWD": "100.000"}[currency]


def test_a_bid_finer_than_the_minor_unit_keeps_its_decimals() -> None:
    assert (
        str(greatest_hammer(Decimal("1.2345"), whole_lot((None, "0")), "EUR", Decimal("0.0001"))) == "1.2345"
    )
    assert str(greatest_hammer(Decimal("1.5"), whole_lot((None, "0")), "EUR", Decimal("0.0001"))) == "1.50"


# Marginal tiers of a fourth to 500, a fifth to 2000 and an eighth beyond, with 2 flat and a tenth of tax.
@pytest.mark.parametrize(
    ("hammer", "net"),
    [
        ("100", "70.30"),  # 25 + 2, tax 2.70
        ("500", "360.30"),  # 125 + 2, tax 12.70
        ("2000", "1530.30"),  # 125 + 300 + 2, tax 42.70
        ("4000", "3255.30"),  # 125 + 300 + 250 + 2, tax 67.70
    ],
)
def test_a_net_comes_back_through_every_tier(hammer: str, net: str) -> None:
    tiers = [{"up_to": 500, "rate": "0.25"}, {"up_to": 2000, "rate": "0.2"}, {"rate": "0.125"}]
    schedule = FeeSchedule.model_validate(
        {"party": "seller", "starts_on": "2015-01-01", "tiers": tiers, "flat": "2", "tax_rate": "0.1"}
    )
    assert seller_net(Decimal(hammer), schedule, "EUR") == Decimal(net)
    found = hammer_from_net(Decimal(net), schedule, "EUR")
    assert found.exact
    assert Decimal(hammer) in (found.hammer, *found.also)


def test_the_first_bid_of_a_tier_is_a_multiple_of_the_increment() -> None:
    """A fifth of the whole to 25, a tenth beyond: 20 costs 24 and 30 costs 33."""
    falling = whole_lot(("25", "0.2"), (None, "0.1"))
    assert greatest_hammer(Decimal("33"), falling, "EUR", Decimal(10)) == 30
    assert greatest_hammer(Decimal("32.99"), falling, "EUR", Decimal(10)) == 20


def test_a_tier_of_one_bid_is_bid() -> None:
    tiers = whole_lot(("10", "0"), ("20", "0"), (None, "0.5"))
    assert greatest_hammer(Decimal("20"), tiers, "EUR", Decimal(10)) == 20


def test_nothing_asked_is_nothing_bid() -> None:
    assert hammer_from_all_in(Decimal(0), whole_lot((None, "0.1")), "EUR") == Inverse(Decimal(0), exact=True)


# Four fifths: .03 pays .024, so .02, and leaves .01, as do .04 (.03) to .07 (.06); .02 pays .016, so .02.
def test_rounding_can_leave_a_net_to_a_lower_price_than_the_rate_does() -> None:
    found = hammer_from_net(Decimal("0.01"), whole_lot((None, "0.8"), party="seller"), "EUR")
    assert (found.hammer, found.also) == (
        Decimal("0.03"),
        (Decimal("0.04"), Decimal("0.05"), Decimal("0.06"), Decimal("0.07")),
    )


@pytest.mark.parametrize(
    ("rate", "tax", "net"), [("0.5", "0.9", "0.17"), ("0.48", "0.77", "0.28"), ("0.1", "0.77", "0.11")]
)
def test_every_price_with_a_net_is_named_as_walking_through_all_prices_finds_them(
    rate: str, tax: str, net: str
) -> None:
    schedule = whole_lot((None, rate), party="seller", tax_rate=tax)
    prices = [Decimal(cents).scaleb(-2) for cents in range(1000)]
    walked = [price for price in prices if seller_net(price, schedule, "EUR") == Decimal(net)]
    found = hammer_from_net(Decimal(net), schedule, "EUR")
    assert [found.hammer, *found.also] == walked


def test_about_a_marginal_edge_every_price_with_a_net_is_named_once() -> None:
    """A fourth to 5 and a fifth beyond, walked through from 4.80 to 5.20."""
    tiers = [{"up_to": 5, "rate": "0.25"}, {"rate": "0.2"}]
    schedule = FeeSchedule.model_validate({"party": "seller", "starts_on": "2015-01-01", "tiers": tiers})
    prices = [Decimal(cents).scaleb(-2) for cents in range(1000)]
    walked: dict[Decimal, list[Decimal]] = {}
    for price in prices:
        walked.setdefault(seller_net(price, schedule, "EUR"), []).append(price)
    for net in (Decimal(cents).scaleb(-2) for cents in range(360, 392)):
        found = hammer_from_net(net, schedule, "EUR")
        assert [found.hammer, *found.also] == walked[net]


def test_a_net_above_what_a_tier_leaves_takes_the_next_tiers_first_price() -> None:
    """15 % of the whole to 300 leave 255 at most; a tenth of 300.01 leaves 270.01."""
    schedule = whole_lot(("300", "0.15"), (None, "0.1"), party="seller")
    found = hammer_from_net(Decimal("255.01"), schedule, "EUR")
    assert (found.hammer, found.exact) == (Decimal("300.01"), False)


@pytest.mark.parametrize(
    ("number", "places"),
    [("5", 0), ("500", 0), ("1.50", 1), ("0.0001", 4), ("0", 0), ("Infinity", 0), ("NaN", 0)],
)
def test_noughts_at_the_end_are_no_decimals(number: str, places: int) -> None:
    assert decimals(Decimal(number)) == places
