"""What a venue takes: worked by hand at every tier edge, in the three currencies of the small market."""

import re
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

import numpy as np
import polars as pl
import pytest

from pipeline.answers.lots.landed import landing
from pipeline.config import FeeSchedule, Market
from pipeline.errors import MarketFileError
from pipeline.fees import all_in_column, fee_of, hammer_column, hammer_from_all_in, net_column
from pipeline.fees.amounts import POINTS, decimals
from pipeline.fees.schedule import CompiledSchedule, Whole

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
    assert fee_of(Decimal(hammer), schedule, "EUR") == Decimal(fee)


# 15 % of the whole to 300, 10 % of the whole beyond, at least 15. By hand:
# 99.99: 14.9985 → 15 by the minimum. 100: 15. 300: 45. 300.01: 30.001 → 30.00.
@pytest.mark.parametrize(
    ("hammer", "net"),
    [("10", "-5.00"), ("99.99", "84.99"), ("100", "85.00"), ("300", "255.00"), ("300.01", "270.01")],
)
def test_a_whole_lot_commission_jumps_at_its_edge(market: Market, hammer: str, net: str) -> None:
    schedule = schedule_of(market, "Holm Sound Auctions", "seller")
    assert Decimal(hammer) - fee_of(Decimal(hammer), schedule, "EUR") == Decimal(net)


def test_a_flat_fee_is_added_to_the_percentage(market: Market) -> None:
    schedule = schedule_of(market, "Lantern Dock", "seller")
    assert fee_of(Decimal("10.00"), schedule, "GBP") == Decimal("1.20")


# 10 % and 10 % tax on it. 12345: 1234.5 → 1235, tax 123.5 → 124. 5: .5 → 1, tax .1 → 0.
# 4: .4 → 0. 150: 15, tax 1.5 → 2.
@pytest.mark.parametrize(("hammer", "all_in"), [("12345", "13704"), ("5", "6"), ("4", "4"), ("150", "167")])
def test_a_yen_fee_is_rounded_half_up_to_whole_yen(market: Market, hammer: str, all_in: str) -> None:
    schedule = schedule_of(market, "Umikaze Lots", "buyer")
    assert Decimal(hammer) + fee_of(Decimal(hammer), schedule, "JPY") == Decimal(all_in)


@pytest.mark.parametrize(
    "hammer", ["0.01", "499.99", "500", "500.01", "1999.99", "2000", "2000.01", "98765.43"]
)
def test_a_hammer_price_comes_back_from_its_all_in(market: Market, hammer: str) -> None:
    schedule = schedule_of(market, "Holm Sound Auctions", "buyer")
    all_in = Decimal(hammer) + fee_of(Decimal(hammer), schedule, "EUR")
    assert hammer_from_all_in(all_in, schedule, "EUR") == Decimal(hammer)


def test_an_all_in_within_a_jump_takes_the_edge() -> None:
    """A tenth of the whole to 100, a fifth beyond: 100 costs 110, 100.01 costs 120.01, and nothing costs 115."""
    schedule = whole_lot(("100", "0.10"), (None, "0.20"))
    assert hammer_from_all_in(Decimal("115"), schedule, "EUR") == Decimal("100.00")


def test_of_two_hammer_prices_of_an_all_in_the_greater_is_taken() -> None:
    """A fifth on 96.25 makes 115.50, as does a tenth on 105."""
    schedule = whole_lot(("100", "0.20"), (None, "0.10"))
    assert hammer_from_all_in(Decimal("115.50"), schedule, "EUR") == Decimal("105.00")


def test_no_hammer_price_has_an_all_in_below_the_least_fee() -> None:
    schedule = whole_lot((None, "0.10"), minimum="15")
    assert hammer_from_all_in(Decimal("14.99"), schedule, "EUR") is None


def test_the_least_fee_alone_is_the_all_in_of_nothing() -> None:
    assert hammer_from_all_in(Decimal("15"), whole_lot((None, "0.10"), minimum="15"), "EUR") == 0


def test_the_hammer_price_of_an_all_in_wants_the_buyers_schedule() -> None:
    with pytest.raises(ValueError, match=r"^the schedule is the seller's, not the buyer's$"):
        hammer_from_all_in(Decimal(10), whole_lot((None, "0.1"), party="seller"), "EUR")


@pytest.mark.parametrize(("hammer", "fault"), [("-1", "zero or more"), ("1.00001", "at most 4 decimals")])
def test_a_hammer_price_that_is_none_is_refused(market: Market, hammer: str, fault: str) -> None:
    schedule = schedule_of(market, "Holm Sound Auctions", "buyer")
    with pytest.raises(ValueError, match=fault):
        fee_of(Decimal(hammer), schedule, "EUR")


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
        (("Holm Sound Auctions", DAY, "EUR", "-5"), "below zero"),
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
    ("amount", "said"),
    [
        ("-0.01", "must be zero or more, not -0.01"),
        ("Infinity", "must be zero or more, not Infinity"),
        ("1.00001", "must have at most 4 decimals, not 1.00001"),
    ],
)
def test_an_amount_that_is_none_is_named_and_refused(amount: str, said: str) -> None:
    buyers = whole_lot((None, "0.1"))
    with pytest.raises(ValueError, match=f"^the hammer price {re.escape(said)}$"):
        fee_of(Decimal(amount), buyers, "EUR")
    with pytest.raises(ValueError, match=f"^the all-in price {re.escape(said)}$"):
        hammer_from_all_in(Decimal(amount), buyers, "EUR")


def test_four_decimals_and_zeros_after_them_are_an_amount() -> None:
    assert fee_of(Decimal("1.00010000"), whole_lot((None, "0")), "EUR") == 0


def test_a_tier_edge_of_five_decimals_is_refused() -> None:
    with pytest.raises(MarketFileError) as refused:
        fee_of(Decimal(1), whole_lot(("1.00001", "0.1"), (None, "0.2")), "EUR")
    assert str(refused.value) == (
        "a fee schedule has `up_to` 1.00001: more than 4 decimals\nfix that `up_to`."
    )
    assert fee_of(Decimal(1), whole_lot(("1.0001", "0.1"), (None, "0.2")), "EUR") == Decimal("0.1")


@pytest.mark.parametrize(
    ("hammer", "currency", "all_in"),
    [("100", "EUR", "110.00"), ("100", "JPY", "110"), ("100", "KWD", "110.000"), ("0.005", "EUR", "0.005")],
)
def test_an_all_in_is_written_to_the_minor_unit_where_it_suffices(
    hammer: str, currency: str, all_in: str
) -> None:
    assert str(Decimal(hammer) + fee_of(Decimal(hammer), whole_lot((None, "0.10")), currency)) == all_in
    inverse = hammer_from_all_in(Decimal("110"), whole_lot((None, "0.10")), currency)
    assert str(inverse) == {"EUR": "100.00", "JPY": "100", "KWD": "100.000"}[currency]


def test_nothing_asked_is_nothing_bid() -> None:
    assert hammer_from_all_in(Decimal(0), whole_lot((None, "0.1")), "EUR") == 0


@pytest.mark.parametrize(
    ("number", "places"),
    [("5", 0), ("500", 0), ("1.50", 1), ("0.0001", 4), ("0", 0), ("Infinity", 0), ("NaN", 0)],
)
def test_zeros_at_the_end_are_no_decimals(number: str, places: int) -> None:
    assert decimals(Decimal(number)) == places


WITH_TAX = whole_lot((None, "0.10"), tax_rate="0.20")
HOUSE = Market.model_validate(
    {
        "base_currency": "EUR",
        "eras": [{"name": "first", "run": "original", "first_year": 1984}],
        "venues": [
            {
                "name": "Quay", "kind": "auction", "currency": "EUR",
                "fees": [WITH_TAX.model_dump(), WITH_TAX.model_dump() | {"party": "seller"}],
            }
        ],
    }
)  # fmt: skip
MONEY = pl.Decimal(18, 4)
HUNDRED = pl.DataFrame(
    [("Quay", DAY, "EUR", Decimal(100), Decimal(100))],
    schema={"venue": pl.String, "day": pl.Date, "currency": pl.String, "hammer": MONEY, "price": MONEY},
    orient="row",
)


def cost_of_a_hundred() -> int:
    """Return the landed cost of a bid of 100, in cents."""
    return int(landing(HOUSE.venues[0], HOUSE, rate=1.0, on=DAY).cost(np.array([100 * 10**POINTS]))[0])


def bid_within_112() -> int:
    """Return the highest bid that costs 112 at most."""
    return (
        int(landing(HOUSE.venues[0], HOUSE, rate=1.0, on=DAY).greatest_bid(np.array([11200]))[0])
        // 10**POINTS
    )


@pytest.mark.parametrize(
    ("asked", "before", "after"),
    [
        (lambda: fee_of(Decimal(100), WITH_TAX, "EUR"), "12", "12.01"),
        (lambda: all_in_column(HUNDRED, HOUSE)["all_in"].item(), "112", "112.01"),
        (lambda: net_column(HUNDRED, HOUSE)["net"].item(), "88", "87.99"),
        (lambda: hammer_from_all_in(Decimal(112), WITH_TAX, "EUR"), "100", "99.99"),
        (
            lambda: hammer_column(HUNDRED.drop("hammer"), HOUSE, basis="all-in")["hammer"].item(),
            "89.28",
            "89.27",
        ),
        (
            lambda: hammer_column(HUNDRED.drop("hammer"), HOUSE, basis="net")["hammer"].item(),
            "113.63",
            "113.64",
        ),
        (cost_of_a_hundred, "11200", "11201"),
        (bid_within_112, "100", "99"),
    ],
)
def test_one_arithmetic_charges_single_prices_columns_bids_and_inverses(
    asked: Callable[[], Any], before: str, after: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A cent more in that one place is a cent more everywhere."""
    assert asked() == Decimal(before)
    charged = CompiledSchedule.charges_on

    def a_cent_more(fees: CompiledSchedule, *columns: Whole) -> tuple[Whole, Whole]:
        fee, tax = charged(fees, *columns)
        return (fee + 100 if fees.unit == 100 else fee), tax  # the import's duty and tax have another unit

    monkeypatch.setattr(CompiledSchedule, "charges_on", a_cent_more)
    assert asked() == Decimal(after)
