"""Fee schedules of any shape: columns equal the single amounts, and inverses are exact."""

from datetime import date
from decimal import Decimal

import polars as pl
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.config import FeeSchedule, Market, Venue
from pipeline.fees import (
    all_in_column,
    all_in_from_hammer,
    fee_of,
    greatest_hammer,
    hammer_column,
    hammer_from_all_in,
    hammer_from_net,
    net_column,
    seller_net,
)

CURRENCIES = st.sampled_from(["EUR", "JPY", "KWD"])
MINOR = {"EUR": 2, "JPY": 0, "KWD": 3}


@st.composite
def schedules(draw: st.DrawFn, party: str) -> FeeSchedule:
    """Return a schedule of one to four tiers, of either method."""
    edges = sorted(draw(st.sets(st.integers(1, 3000), max_size=3)))
    rates = [Decimal(draw(st.integers(0, 4000))).scaleb(-4) for _ in range(len(edges) + 1)]
    tiers: list[dict[str, object]] = [{"rate": rate} for rate in rates]
    for tier, edge in zip(tiers, edges, strict=False):
        tier["up_to"] = edge
    return FeeSchedule.model_validate(
        {
            "party": party,
            "starts_on": date(2015, 1, 1),
            "method": draw(st.sampled_from(["marginal", "whole-lot"])),
            "tiers": tiers,
            "minimum": draw(st.sampled_from(["0", "3", "12.5"])),
            "flat": draw(st.sampled_from(["0", "0.3", "7"])),
            "tax_rate": draw(st.sampled_from(["0", "0.1", "0.25", "0.077"])),
        }
    )


def amounts_near(schedule: FeeSchedule, currency: str) -> st.SearchStrategy[Decimal]:
    """Return whole minor units, often at and beside a tier edge."""
    unit = Decimal(1).scaleb(-MINOR[currency])
    edges = [tier.up_to for tier in schedule.tiers if tier.up_to is not None] or [Decimal(100)]
    at_edge = st.tuples(st.sampled_from(edges), st.integers(-2, 2)).map(lambda pair: pair[0] + pair[1] * unit)
    anywhere = st.integers(0, 500_000).map(lambda units: units * unit)
    return st.one_of(at_edge, anywhere)


def market_of(schedule: FeeSchedule, currency: str) -> Market:
    """Return a market of one venue with that schedule."""
    venue = Venue(name="Quay", kind="auction", currency=currency, fees=(schedule,))
    era = {"name": "first", "run": "original", "first_year": 1984}
    return Market.model_validate({"base_currency": "EUR", "eras": [era], "venues": [venue]})


def one_price(name: str, amount: Decimal, currency: str) -> pl.DataFrame:
    """Return one row of venue, day, currency and an amount."""
    row = {"venue": ["Quay"], "day": [date(2024, 1, 5)], "currency": [currency], name: [str(amount)]}
    return pl.DataFrame(row).with_columns(pl.col(name).cast(pl.Decimal(18, 4)))


@given(st.data(), schedules("buyer"), CURRENCIES)
def test_the_all_in_of_the_inverse_is_the_all_in(
    data: st.DataObject, schedule: FeeSchedule, currency: str
) -> None:
    hammer = data.draw(amounts_near(schedule, currency))
    all_in = all_in_from_hammer(hammer, schedule, currency)
    inverse = hammer_from_all_in(all_in, schedule, currency)
    assert inverse.exact
    assert hammer in (inverse.hammer, *inverse.also)


@given(st.data(), schedules("buyer"), CURRENCIES)
def test_the_next_price_above_an_inexact_inverse_costs_more(
    data: st.DataObject, schedule: FeeSchedule, currency: str
) -> None:
    limit = data.draw(amounts_near(schedule, currency))
    unit = Decimal(1).scaleb(-MINOR[currency])
    greatest = greatest_hammer(limit, schedule, currency)
    above = unit if greatest is None else greatest + unit
    beyond = [above + step * unit for step in range(5)]
    assert greatest is None or all_in_from_hammer(greatest, schedule, currency) <= limit
    assert all(all_in_from_hammer(hammer, schedule, currency) > limit for hammer in beyond)


@given(st.data(), schedules("seller"), CURRENCIES)
def test_a_hammer_price_is_among_those_of_its_net(
    data: st.DataObject, schedule: FeeSchedule, currency: str
) -> None:
    hammer = data.draw(amounts_near(schedule, currency))
    net = seller_net(hammer, schedule, currency)
    if net >= 0:
        inverse = hammer_from_net(net, schedule, currency)
        assert inverse.exact
        assert hammer in (inverse.hammer, *inverse.also)


@settings(max_examples=40)
@given(st.data(), schedules("buyer"), CURRENCIES)
def test_the_all_in_column_equals_the_single_amounts(
    data: st.DataObject, schedule: FeeSchedule, currency: str
) -> None:
    amount = data.draw(amounts_near(schedule, currency))
    market = market_of(schedule, currency)
    column = all_in_column(one_price("hammer", amount, currency), market)
    assert column["all_in"].item() == all_in_from_hammer(amount, schedule, currency)
    back = hammer_column(one_price("price", amount, currency), market, basis="all-in")
    inverse = hammer_from_all_in(amount, schedule, currency)
    assert back["hammer"].item() == inverse.hammer
    assert bool(back["exact"].item()) == inverse.exact


@settings(max_examples=40)
@given(st.data(), schedules("seller"), CURRENCIES)
def test_the_net_column_equals_the_single_amounts(
    data: st.DataObject, schedule: FeeSchedule, currency: str
) -> None:
    amount = data.draw(amounts_near(schedule, currency))
    market = market_of(schedule, currency)
    column = net_column(one_price("hammer", amount, currency), market)
    assert column["net"].item() == seller_net(amount, schedule, currency)
    back = hammer_column(one_price("price", amount, currency), market, basis="net")
    inverse = hammer_from_net(amount, schedule, currency)
    assert (back["hammer"].item(), back["exact"].item()) == (inverse.hammer, inverse.exact)


@given(st.data(), schedules("buyer"))
def test_a_marginal_fee_never_falls_as_the_price_rises(data: st.DataObject, schedule: FeeSchedule) -> None:
    marginal = schedule.model_copy(update={"method": "marginal"})
    hammer = data.draw(amounts_near(marginal, "EUR"))
    assert fee_of(hammer, marginal, "EUR") <= fee_of(hammer + Decimal("0.01"), marginal, "EUR")
