"""Fee schedules of any shape: columns equal the single amounts, and inverses are exact."""

from datetime import date
from decimal import ROUND_HALF_UP, Decimal

import polars as pl
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.config import FeeSchedule, Market, Venue
from pipeline.fees import all_in_column, fee_of, hammer_column, hammer_from_all_in, net_column

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


def in_whole_units(schedule: FeeSchedule) -> FeeSchedule:
    """Return a schedule whose amounts are those of every currency, also of one without decimals."""
    return schedule.model_copy(update={"minimum": round(schedule.minimum), "flat": round(schedule.flat)})


def invoiced(hammer: Decimal, schedule: FeeSchedule, currency: str) -> Decimal:
    """Return fee and tax worked out as on an invoice: tier by tier, then minimum, flat fee, and tax."""
    unit = Decimal(1).scaleb(-MINOR[currency])
    percentage, below = Decimal(0), Decimal(0)
    for tier in schedule.tiers:
        end = hammer if tier.up_to is None else min(tier.up_to, hammer)
        if schedule.method == "marginal":
            percentage += tier.rate * (end - below)
        if tier.up_to is None or hammer <= tier.up_to:
            percentage = percentage if schedule.method == "marginal" else tier.rate * hammer
            break
        below = end
    fee = (max(percentage, schedule.minimum) + schedule.flat).quantize(unit, ROUND_HALF_UP)
    return fee + (fee * schedule.tax_rate).quantize(unit, ROUND_HALF_UP)


def market_of(schedule: FeeSchedule, currency: str) -> Market:
    """Return a market of one venue with that schedule."""
    venue = Venue(name="Quay", kind="auction", currency=currency, fees=(schedule,))
    era = {"name": "first", "run": "original", "first_year": 1984}
    return Market.model_validate({"base_currency": "EUR", "eras": [era], "venues": [venue]})


def one_price(name: str, amount: Decimal, currency: str) -> pl.DataFrame:
    """Return one row of venue, day, currency and an amount."""
    row = {"venue": ["Quay"], "day": [date(2024, 1, 5)], "currency": [currency], name: [str(amount)]}
    return pl.DataFrame(row).with_columns(pl.col(name).cast(pl.Decimal(18, 4)))


def all_in_of(hammer: Decimal, schedule: FeeSchedule, currency: str) -> Decimal:
    return hammer + fee_of(hammer, schedule, currency)


def net_of(hammer: Decimal, schedule: FeeSchedule, currency: str) -> Decimal:
    return hammer - fee_of(hammer, schedule, currency)


@settings(max_examples=300)
@given(st.data(), schedules("buyer"), CURRENCIES)
def test_a_fee_is_what_an_invoice_states(data: st.DataObject, schedule: FeeSchedule, currency: str) -> None:
    hammer = data.draw(amounts_near(schedule, currency))
    assert fee_of(hammer, schedule, currency) == invoiced(hammer, schedule, currency)


@given(st.data(), schedules("buyer"), CURRENCIES)
def test_the_all_in_of_the_inverse_is_the_all_in(
    data: st.DataObject, schedule: FeeSchedule, currency: str
) -> None:
    hammer = data.draw(amounts_near(schedule, currency))
    all_in = all_in_of(hammer, schedule, currency)
    found = hammer_from_all_in(all_in, schedule, currency)
    assert found is not None
    assert found >= hammer
    assert all_in_of(found, schedule, currency) == all_in


@given(st.data(), schedules("buyer"), CURRENCIES)
def test_the_next_price_above_an_inexact_inverse_costs_more(
    data: st.DataObject, schedule: FeeSchedule, currency: str
) -> None:
    limit = data.draw(amounts_near(schedule, currency))
    unit = Decimal(1).scaleb(-MINOR[currency])
    found = hammer_from_all_in(limit, schedule, currency)
    cost = None if found is None else all_in_of(found, schedule, currency)
    above = Decimal(0) if found is None else found + unit
    beyond = [all_in_of(above + step * unit, schedule, currency) for step in range(5)]
    assert cost == limit or ((cost is None or cost < limit) and min(beyond) > limit)


@settings(max_examples=40)
@given(st.data(), schedules("buyer"), CURRENCIES)
def test_the_all_in_column_equals_the_single_amounts(
    data: st.DataObject, schedule: FeeSchedule, currency: str
) -> None:
    schedule = in_whole_units(schedule)
    amount = data.draw(amounts_near(schedule, currency))
    market = market_of(schedule, currency)
    column = all_in_column(one_price("hammer", amount, currency), market)
    assert column["all_in"].item() == all_in_of(amount, schedule, currency)
    back = hammer_column(one_price("price", amount, currency), market, basis="all-in")
    found = hammer_from_all_in(amount, schedule, currency)
    assert back["hammer"].item() == found
    exact = found is not None and all_in_of(found, schedule, currency) == amount
    assert bool(back["exact"].item()) == exact


@settings(max_examples=40)
@given(st.data(), schedules("seller"), CURRENCIES)
def test_the_net_column_equals_the_single_amounts(
    data: st.DataObject, schedule: FeeSchedule, currency: str
) -> None:
    schedule = in_whole_units(schedule)
    amount = data.draw(amounts_near(schedule, currency))
    column = net_column(one_price("hammer", amount, currency), market_of(schedule, currency))
    assert column["net"].item() == net_of(amount, schedule, currency)


@settings(max_examples=40)
@given(st.data(), schedules("seller"), CURRENCIES)
def test_a_hammer_price_or_a_lower_one_comes_back_from_its_net(
    data: st.DataObject, schedule: FeeSchedule, currency: str
) -> None:
    schedule = in_whole_units(schedule)
    hammer = data.draw(amounts_near(schedule, currency))
    net = net_of(hammer, schedule, currency)
    if net >= 0:
        back = hammer_column(one_price("price", net, currency), market_of(schedule, currency), basis="net")
        found, exact = back.select("hammer", "exact").row(0)
        assert exact
        assert found <= hammer
        assert net_of(found, schedule, currency) == net


@settings(max_examples=40)
@given(st.data(), schedules("seller"), CURRENCIES)
def test_no_price_below_an_inexact_one_leaves_the_net(
    data: st.DataObject, schedule: FeeSchedule, currency: str
) -> None:
    schedule = in_whole_units(schedule)
    net, other = (data.draw(amounts_near(schedule, currency)) for _ in range(2))
    unit = Decimal(1).scaleb(-MINOR[currency])
    back = hammer_column(one_price("price", net, currency), market_of(schedule, currency), basis="net")
    found, exact = back.select("hammer", "exact").row(0)
    below = [price for price in (other, *(found - step * unit for step in range(1, 6))) if 0 <= price < found]
    assert exact == (net_of(found, schedule, currency) == net)
    assert exact or net_of(found, schedule, currency) > net
    assert exact or all(net_of(price, schedule, currency) < net for price in below)


@given(st.data(), schedules("buyer"))
def test_a_marginal_fee_never_falls_as_the_price_rises(data: st.DataObject, schedule: FeeSchedule) -> None:
    marginal = schedule.model_copy(update={"method": "marginal"})
    hammer = data.draw(amounts_near(marginal, "EUR"))
    assert fee_of(hammer, marginal, "EUR") <= fee_of(hammer + Decimal("0.01"), marginal, "EUR")
