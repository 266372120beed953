"""Fees over whole columns, by hand: each row by its venue and day, in the order given, and why where none fits."""

from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

import numpy as np
import polars as pl
import pytest

from pipeline.config import FeeSchedule, Market
from pipeline.errors import MarketFileError
from pipeline.fees import all_in_column, fee_of, hammer_column, hammer_from_all_in, net_column
from pipeline.fees.inverse import NONE, hammers_behind
from pipeline.fees.schedule import compile_schedule

EARLY, EVE, TURN, LATE = date(2015, 1, 1), date(2020, 6, 30), date(2020, 7, 1), date(2024, 1, 5)
MONEY = pl.Decimal(18, 4)


def schedule(party: str, starts_on: date, *tiers: tuple[str | None, str], **more: str) -> dict[str, Any]:
    """Return a schedule from (up_to, rate) pairs."""
    rows = [{"rate": rate} if up_to is None else {"up_to": up_to, "rate": rate} for up_to, rate in tiers]
    return {"party": party, "starts_on": starts_on, "tiers": rows, **more}


def market_of(*venues: dict[str, Any]) -> Market:
    """Return a market of auction houses in euros, unless a venue says otherwise."""
    era = {"name": "first", "run": "original", "first_year": 1984}
    houses = [{"kind": "auction", "currency": "EUR", **venue} for venue in venues]
    return Market.model_validate({"base_currency": "EUR", "eras": [era], "venues": houses})


# Holm Sound takes a tenth from buyers, a fifth from July 2020 on; 6 % from sellers, then 15 % up to 300 of the
# whole and 10 % of the whole beyond, at least 15. Lantern Dock takes from no buyer, 12.5 % and .40 from sellers.
HOLM = {
    "name": "Holm Sound Auctions",
    "fees": [
        schedule("buyer", EARLY, (None, "0.10")),
        schedule("seller", EARLY, (None, "0.06")),
        schedule("buyer", TURN, ("1000", "0.20"), (None, "0.10"), tax_rate="0.25"),
        schedule("seller", TURN, ("300", "0.15"), (None, "0.10"), method="whole-lot", minimum="15"),
    ],
}
DOCK = {
    "name": "Lantern Dock",
    "currency": "GBP",
    "fees": [schedule("seller", EARLY, (None, "0.125"), flat="0.40")],
}
LEAST = {"name": "Quay", "fees": [schedule("buyer", EARLY, (None, "0.1"), minimum="15")]}
MARKET = market_of(HOLM, DOCK, LEAST)
ROWS: tuple[tuple[str, date, str, str], ...] = (
    ("Holm Sound Auctions", LATE, "EUR", "2000"),
    ("Lantern Dock", LATE, "GBP", "80"),
    ("Holm Sound Auctions", EVE, "EUR", "2000"),
    ("Holm Sound Auctions", TURN, "EUR", "100"),
    ("Holm Sound Auctions", EARLY, "EUR", "100"),
    ("Holm Sound Auctions", LATE, "EUR", "2000"),
)


def frame(name: str, *rows: tuple[str | None, date | None, str | None, str | None]) -> pl.DataFrame:
    """Return venue, day, currency and an amount called `name`."""
    schema = {"venue": pl.String, "day": pl.Date, "currency": pl.String, name: pl.String}
    return pl.DataFrame(rows, schema=schema, orient="row").with_columns(pl.col(name).cast(MONEY))


def decimals(*amounts: str | None) -> list[Decimal | None]:
    return [None if one is None else Decimal(one) for one in amounts]


def test_each_row_pays_by_the_schedule_of_its_venue_and_day() -> None:
    """2000: 200 + 100, and 75 tax; by the first schedule 200. 100: 20 + 5; by the first 10."""
    found = all_in_column(frame("hammer", *ROWS), MARKET)
    assert found["all_in"].to_list() == decimals("2375", "80", "2200", "125", "110", "2375")
    assert found["why"].to_list() == [None] * 6


def test_each_row_is_paid_out_by_the_schedule_of_its_venue_and_day() -> None:
    """2000 less a tenth; 80 less 10 and .40; 2000 less 120; 100 less 15; 100 less 6."""
    found = net_column(frame("hammer", *ROWS), MARKET)
    assert found["net"].to_list() == decimals("1800", "69.60", "1880", "85", "94", "1800")
    assert found["why"].to_list() == [None] * 6


def test_the_rows_given_stand_before_what_is_added() -> None:
    given = frame("hammer", *ROWS)
    found = all_in_column(given, MARKET)
    assert found.select(given.columns).equals(given)
    assert found.columns == ["venue", "day", "currency", "hammer", "all_in", "why"]
    assert found.schema["all_in"] == MONEY
    assert net_column(given, MARKET).columns == ["venue", "day", "currency", "hammer", "net", "why"]


def test_a_hammer_price_comes_back_from_each_all_in_of_a_column() -> None:
    """A house that takes nothing asks the price itself. 2.55 pays .51 and, of .1275, .13 tax: 3.19."""
    prices = frame(
        "price",
        ("Holm Sound Auctions", LATE, "EUR", "2375"),
        ("Lantern Dock", LATE, "GBP", "80"),
        ("Holm Sound Auctions", EVE, "EUR", "2200"),
        ("Holm Sound Auctions", LATE, "EUR", None),
        ("Holm Sound Auctions", TURN, "EUR", "125"),
        ("Quay", LATE, "EUR", "14.99"),
        ("Quay", LATE, "EUR", "15"),
        ("Holm Sound Auctions", LATE, "EUR", "3.19"),
        ("Lantern Dock", LATE, "GBP", None),
    )
    found = hammer_column(prices, MARKET, basis="all-in")
    assert found["hammer"].to_list() == decimals("2000", "80", "2000", None, "100", None, "0", "2.55", None)
    assert found["exact"].to_list() == [True, True, True, None, True, None, True, True, None]
    assert found["why"].to_list() == [None] * 5 + ["the lowest fee alone exceeds this price"] + [None] * 3
    assert found.columns == ["venue", "day", "currency", "price", "hammer", "exact", "why"]
    assert found.schema["hammer"] == MONEY


def test_an_all_in_that_no_hammer_price_has_takes_the_one_below() -> None:
    """At a tenth .04 costs .04 and .05, with .005 rounded up, .06: nothing costs .05."""
    found = hammer_column(frame("price", ("Holm Sound Auctions", EVE, "EUR", "0.05")), MARKET, basis="all-in")
    assert found.select("hammer", "exact").row(0) == (Decimal("0.04"), False)


def test_a_hammer_price_comes_back_from_each_net_of_a_column() -> None:
    """260 lies in the jump at 300 (255 to 270.01); 85 is the net of 100 at least, by the minimum and by 15 %."""
    prices = frame(
        "price",
        ("Holm Sound Auctions", LATE, "EUR", "1800"),
        ("Lantern Dock", LATE, "GBP", "69.60"),
        ("Holm Sound Auctions", LATE, "EUR", "260"),
        ("Holm Sound Auctions", EVE, "EUR", "94"),
        ("Holm Sound Auctions", LATE, "EUR", None),
        ("Quay", LATE, "EUR", "100"),
        ("Holm Sound Auctions", LATE, "EUR", "85"),
        ("Holm Sound Auctions", LATE, "EUR", "0"),
    )
    found = hammer_column(prices, MARKET, basis="net")
    assert found["hammer"].to_list() == decimals("2000", "80", "300.01", "100", None, None, "100", "15")
    assert found["exact"].to_list() == [True, True, False, True, None, None, True, True]
    assert found["why"].to_list() == [None] * 5 + ["the venue has no seller's fee schedule"] + [None] * 2


@pytest.mark.parametrize(
    ("row", "buyer", "seller"),
    [
        (("Nowhere", LATE, "EUR", "5"), "no venue of the market file", "no venue of the market file"),
        ((None, LATE, "EUR", "5"), "no venue of the market file", "no venue of the market file"),
        (("Holm Sound Auctions", LATE, "EUR", "-0.01"), "a price below zero", "a price below zero"),
        (("Lantern Dock", LATE, "GBP", "-5"), "a price below zero", "a price below zero"),
        (
            ("Quay", None, "USD", "20"),
            "without a day no fee schedule is known",
            "the venue has no seller's fee schedule",
        ),
        (
            ("Holm Sound Auctions", None, "EUR", "5"),
            "without a day no fee schedule is known",
            "without a day no fee schedule is known",
        ),
        (
            ("Holm Sound Auctions", date(2014, 12, 31), "EUR", "5"),
            "the venue's first buyer's fee schedule starts on 2015-01-01",
            "the venue's first seller's fee schedule starts on 2015-01-01",
        ),
        (
            ("Holm Sound Auctions", LATE, "GBP", "5"),
            "the venue's fees are in EUR",
            "the venue's fees are in EUR",
        ),
        (
            ("Holm Sound Auctions", LATE, None, "5"),
            "the venue's fees are in EUR",
            "the venue's fees are in EUR",
        ),
        (("Holm Sound Auctions", LATE, "EUR", None), None, None),
        (("Lantern Dock", None, "GBP", "5"), None, "without a day no fee schedule is known"),
        (("Lantern Dock", LATE, "EUR", "5"), None, "the venue's fees are in GBP"),
    ],
)
def test_why_a_row_has_no_price_is_told_in_full(
    row: tuple[str | None, date | None, str | None, str | None], buyer: str | None, seller: str | None
) -> None:
    assert all_in_column(frame("hammer", row), MARKET)["why"].item() == buyer
    assert net_column(frame("hammer", row), MARKET)["why"].item() == seller
    assert hammer_column(frame("price", row), MARKET, basis="all-in")["why"].item() == buyer
    assert hammer_column(frame("price", row), MARKET, basis="net")["why"].item() == seller


def test_a_row_that_no_schedule_fits_has_no_price() -> None:
    rows = [("Holm Sound Auctions", LATE, "GBP", "5"), ("Nowhere", LATE, "EUR", "5")]
    assert all_in_column(frame("hammer", *rows), MARKET)["all_in"].to_list() == [None, None]
    assert net_column(frame("hammer", *rows), MARKET)["net"].to_list() == [None, None]
    found = hammer_column(frame("price", *rows), MARKET, basis="all-in")
    assert found.select("hammer", "exact").rows() == [(None, None), (None, None)]


@pytest.mark.parametrize("basis", ["all-in", "net"])
def test_a_market_without_fees_gives_back_what_it_can(basis: Any) -> None:
    free = market_of({"name": "Quay", "fees": []})
    found = hammer_column(frame("price", ("Quay", LATE, "EUR", "7")), free, basis=basis)
    assert found["hammer"].to_list() == (decimals("7") if basis == "all-in" else [None])


def test_a_rate_of_six_decimals_is_exact() -> None:
    market = market_of({"name": "Quay", "fees": [schedule("buyer", EARLY, (None, "0.123457"))]})
    found = all_in_column(frame("hammer", ("Quay", LATE, "EUR", "100000000")), market)
    assert found["all_in"].item() == Decimal("112345700.00")


@pytest.mark.parametrize("rate", ["0.1", "0.123457"])
def test_the_largest_amounts_are_exact_both_ways(rate: str) -> None:
    """Products of these are beyond 64 bits: 81 million million at 12.3457 %."""
    market = market_of({"name": "Quay", "fees": [schedule("buyer", EARLY, (None, rate), tax_rate="0.077")]})
    hammers = frame("hammer", ("Quay", LATE, "EUR", "81037277245123.45"), ("Quay", LATE, "EUR", "0.01"))
    all_in = all_in_column(hammers, market)["all_in"]
    back = hammer_column(hammers.select("venue", "day", "currency", price=all_in), market, basis="all-in")
    fee = (hammers["hammer"][0] * Decimal(rate)).quantize(Decimal("0.01"), ROUND_HALF_UP)
    tax = (fee * Decimal("0.077")).quantize(Decimal("0.01"), ROUND_HALF_UP)
    assert all_in[0] == hammers["hammer"][0] + fee + tax
    assert back["hammer"].to_list() == hammers["hammer"].to_list()


def test_rounding_can_leave_a_net_to_a_lower_price_than_the_rate_does() -> None:
    """Four fifths: .03 pays .024, so .02, and leaves .01; .02 pays .016, so .02."""
    market = market_of({"name": "Quay", "fees": [schedule("seller", EARLY, (None, "0.8"))]})
    found = hammer_column(frame("price", ("Quay", LATE, "EUR", "0.01")), market, basis="net")
    assert found.select("hammer", "exact").row(0) == (Decimal("0.03"), True)


def hammers_of_nets(
    *nets: str, tiers: list[dict[str, str]], currency: str = "EUR", **more: str
) -> list[tuple[str, bool]]:
    """Return hammer price and whether it is exact, of each net after a seller's schedule (of the whole lot untold)."""
    fees = {"party": "seller", "starts_on": EARLY, "tiers": tiers, "method": "whole-lot", **more}
    market = market_of({"name": "Quay", "currency": currency, "fees": [fees]})
    prices = frame("price", *(("Quay", LATE, currency, net) for net in nets))
    found = hammer_column(prices, market, basis="net")
    return [
        (f"{hammer.normalize():f}", exact) for hammer, exact in found.select("hammer", "exact").iter_rows()
    ]


def test_the_least_fee_and_the_flat_one_are_both_taken_off_a_net() -> None:
    """A tenth, at least 15, and 2 besides: 100 leaves 83, and 200 leaves 178."""
    found = hammers_of_nets("83", "178", tiers=[{"rate": "0.1"}], minimum="15", flat="2")
    assert found == [("100", True), ("200", True)]


def test_a_net_that_the_lower_tier_would_leave_beyond_its_edge_is_not_its_own() -> None:
    """15 % of 300.01 would leave 255.01, but from there on a tenth is taken, which leaves 270.01."""
    tiers = [{"up_to": "300", "rate": "0.15"}, {"rate": "0.1"}]
    assert hammers_of_nets("255.01", "255", tiers=tiers) == [("300.01", False), ("300", True)]


def test_a_tier_of_a_single_price_can_leave_a_net() -> None:
    """Half of 10 is 5, 10.01 is left whole, and a tenth of 100.1 is 10.01 again."""
    tiers = [{"up_to": "10", "rate": "0.5"}, {"up_to": "10.01", "rate": "0"}, {"rate": "0.9"}]
    assert hammers_of_nets("10.01", tiers=tiers) == [("10.01", True)]


def test_an_edge_between_two_yen_is_no_price() -> None:
    """100.5 yen cannot be bid. Nine tenths of 1005 are 904.5, so 905, which leaves 100; of 1006 also 905."""
    tiers = (("100.5", "0"), (None, "0.9"))
    fees = FeeSchedule.model_validate(schedule("seller", EARLY, *tiers, method="whole-lot"))
    found = hammers_behind(np.array([1_005_000]), compile_schedule(fees, "JPY"), "net")
    assert (found.best.tolist(), found.exact.tolist()) == ([10_060_000], [NONE])


def test_an_exact_price_goes_before_a_lower_one_that_leaves_more() -> None:
    """Half and nine tenths of that: 3.34 pays 1.67 and 1.50 and leaves .17, 3.35 pays 1.68 and 1.51 and leaves .16."""
    tiers = [{"up_to": "3.33", "rate": "0.52"}, {"rate": "0.5"}]
    assert hammers_of_nets("0.16", tiers=tiers, tax_rate="0.9") == [("3.35", True)]


JUMP_UP = [{"up_to": "100", "rate": "0.20"}, {"rate": "0.10"}]
JUMP_DOWN = [{"up_to": "100", "rate": "0.10"}, {"rate": "0.20"}]


def test_a_net_within_a_jump_takes_the_first_price_beyond_it() -> None:
    """A fifth of the whole to 100, a tenth beyond: 100 leaves 80 and 100.01 leaves 90.01; nothing leaves 85."""
    assert hammers_of_nets("85", "80", tiers=JUMP_UP) == [("100.01", False), ("100", True)]


def test_of_two_prices_with_a_net_the_lower_is_taken() -> None:
    """A tenth of the whole to 100, a fifth beyond: 100 leaves 90, as does 112.50."""
    assert hammers_of_nets("90", tiers=JUMP_DOWN) == [("100", True)]


def test_the_flat_fee_of_a_seller_is_added_to_the_net() -> None:
    assert hammers_of_nets("8.80", tiers=[{"rate": "0.08"}], flat="0.40") == [("10", True)]


# Marginal tiers of a fourth to 500, a fifth to 2000 and an eighth beyond, with 2 flat and a tenth of tax.
@pytest.mark.parametrize(
    ("net", "hammer"),
    [
        ("70.30", "100"),  # 25 + 2, tax 2.70
        ("360.30", "500"),  # 125 + 2, tax 12.70
        ("1530.30", "2000"),  # 125 + 300 + 2, tax 42.70
        ("3255.30", "4000"),  # 125 + 300 + 250 + 2, tax 67.70
    ],
)
def test_a_net_comes_back_through_every_tier(net: str, hammer: str) -> None:
    tiers = [{"up_to": "500", "rate": "0.25"}, {"up_to": "2000", "rate": "0.2"}, {"rate": "0.125"}]
    [(found, exact)] = hammers_of_nets(net, tiers=tiers, method="marginal", flat="2", tax_rate="0.1")
    assert exact
    assert (
        Decimal(hammer) - Decimal("0.02") <= Decimal(found) <= Decimal(hammer)
    )  # a cent or two leave the same


def test_a_commission_of_everything_is_refused() -> None:
    with pytest.raises(MarketFileError) as refused:
        hammers_of_nets("10", tiers=[{"rate": "0.8"}], tax_rate="0.25")
    assert str(refused.value) == (
        "a seller's fee schedule takes the whole of each further unit of the price, tax included\n"
        "fix `rate` and `tax_rate` of that schedule, so that rate × (1 + tax_rate) is below 1."
    )


def walked(schedule: FeeSchedule, nets: list[Decimal]) -> list[Decimal]:
    """Return the least price up to 10 with each net, found by walking through all of them."""
    left: dict[Decimal, Decimal] = {}
    for price in (Decimal(cents).scaleb(-2) for cents in range(1000)):
        left.setdefault(price - fee_of(price, schedule, "EUR"), price)
    return [left[net] for net in nets]


@pytest.mark.parametrize(
    ("rate", "tax", "net"), [("0.5", "0.9", "0.17"), ("0.48", "0.77", "0.28"), ("0.1", "0.77", "0.11")]
)
def test_the_least_price_with_a_net_is_that_which_walking_through_all_prices_finds(
    rate: str, tax: str, net: str
) -> None:
    fees = FeeSchedule.model_validate(schedule("seller", EARLY, (None, rate), tax_rate=tax))
    [(found, _)] = hammers_of_nets(net, tiers=[{"rate": rate}], tax_rate=tax)
    assert [Decimal(found)] == walked(fees, [Decimal(net)])


def test_about_a_marginal_edge_the_least_price_with_each_net_is_found() -> None:
    """A fourth to 5 and a fifth beyond, walked through from 4.80 to 5.20."""
    fees = FeeSchedule.model_validate(schedule("seller", EARLY, ("5", "0.25"), (None, "0.2")))
    nets = [Decimal(cents).scaleb(-2) for cents in range(360, 392)]
    tiers = [{"up_to": "5", "rate": "0.25"}, {"rate": "0.2"}]
    found = hammers_of_nets(*map(str, nets), tiers=tiers, method="marginal")
    assert [Decimal(hammer) for hammer, _ in found] == walked(fees, nets)


def hammer_of_all_in(all_in: str, *tiers: tuple[str | None, str], currency: str = "EUR") -> tuple[str, bool]:
    """Return hammer price and whether it is exact, of an all-in by a buyer's schedule of the whole lot."""
    market = market_of(
        {"name": "Quay", "currency": currency, "fees": [schedule("buyer", EARLY, *tiers, method="whole-lot")]}
    )
    found = hammer_column(frame("price", ("Quay", LATE, currency, all_in)), market, basis="all-in")
    hammer, exact = found.select("hammer", "exact").row(0)
    return f"{hammer.normalize():f}", exact


def test_an_exact_price_goes_before_a_higher_one_that_costs_less() -> None:
    """A fifth of 91.71 is 18.34: 110.05. A tenth of 100.04 is 10.00 and of 100.05 10.01: 110.04 and 110.06."""
    assert hammer_of_all_in("110.05", ("100", "0.2"), (None, "0.1")) == ("91.71", True)


def test_of_two_exact_prices_of_an_all_in_the_greater_is_taken() -> None:
    """A fifth on 96.25 makes 115.50, as does a tenth on 105."""
    assert hammer_of_all_in("115.50", ("100", "0.2"), (None, "0.1")) == ("105", True)


def test_a_price_below_a_tier_does_not_pay_by_it() -> None:
    """A tenth on 95.45 would make 105.00, but up to 100 a fifth is taken: 87.50 and 17.50."""
    assert hammer_of_all_in("105", ("100", "0.2"), (None, "0.1")) == ("87.5", True)


def test_a_tier_of_a_single_price_can_make_an_all_in() -> None:
    assert hammer_of_all_in("10.01", ("10", "0"), ("10.01", "0"), (None, "0.5")) == ("10.01", True)


HALF_A_YEN = FeeSchedule.model_validate(
    schedule("buyer", EARLY, ("100.5", "0"), (None, "0"), method="whole-lot")
)


def test_half_a_yen_is_not_bid() -> None:
    assert hammer_from_all_in(Decimal("100.5"), HALF_A_YEN, "JPY") == 100


def test_the_first_price_of_a_tier_is_a_whole_yen() -> None:
    assert hammer_from_all_in(Decimal(101), HALF_A_YEN, "JPY") == 101


def test_a_buyer_may_pay_more_in_fees_than_the_hammer_price() -> None:
    """Nine tenths and 20 % tax on them: 100 + 90 + 18."""
    market = market_of({"name": "Quay", "fees": [schedule("buyer", EARLY, (None, "0.9"), tax_rate="0.2")]})
    found = all_in_column(frame("hammer", ("Quay", LATE, "EUR", "100")), market)
    assert found["all_in"].item() == 208


TOO_LARGE = "the result is too large to be an amount"
MOST = "99999999999999.9999"


def test_an_all_in_that_is_too_large_to_be_an_amount_is_not_known() -> None:
    found = all_in_column(frame("hammer", ("Quay", LATE, "EUR", MOST), ("Quay", LATE, "EUR", "100")), MARKET)
    assert found.select("all_in", "why").rows() == [(None, TOO_LARGE), (Decimal(115), None)]


def test_a_hammer_price_that_is_too_large_to_be_an_amount_is_not_known() -> None:
    rows = [("Lantern Dock", LATE, "GBP", MOST), ("Lantern Dock", LATE, "GBP", "69.60")]
    found = hammer_column(frame("price", *rows), MARKET, basis="net")
    assert found.select("hammer", "why").rows() == [(None, TOO_LARGE), (Decimal(80), None)]
