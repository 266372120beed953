"""Bids of any house: exact, on its steps, and never a step too far; a price divided is a price."""

from datetime import date
from decimal import Decimal
from itertools import pairwise

import numpy as np
import polars as pl
from hypothesis import given
from hypothesis import strategies as st

from pipeline.answers.consignment.price_split import divide_hammer
from pipeline.answers.lots.landed import Landing
from pipeline.config import FeeSchedule, Import, Increment, Market, Venue
from pipeline.fees import fee_of
from pipeline.fees.amounts import POINTS
from pipeline.fees.bids import next_bids
from pipeline.fees.schedule import NO_FEES, compile_schedule
from tests.property.test_fees import CURRENCIES, schedules

DAY = date(2026, 10, 1)
HAMMERS = st.lists(st.integers(0, 500_000), min_size=1, max_size=8)


@st.composite
def ladders(draw: st.DrawFn) -> tuple[Increment, ...]:
    """Return the steps of a house: one to three, each with its own edge."""
    edges = sorted(draw(st.sets(st.integers(1, 3000), max_size=2)))
    steps = [draw(st.sampled_from(["1", "2", "5", "7.5", "10", "50"])) for _ in range(len(edges) + 1)]
    ends: list[int | None] = [*edges, None]
    return tuple(
        Increment(up_to=None if end is None else Decimal(end), step=Decimal(step))
        for end, step in zip(ends, steps, strict=True)
    )


@st.composite
def landings(draw: st.DrawFn) -> Landing:
    """Return the landing of a house with fees, steps, a rate, freight, duty and tax."""
    shares = st.sampled_from(["0", "0.05", "0.2", "0.077"])
    return Landing(
        fees=compile_schedule(draw(schedules("buyer")), "EUR"),
        increments=draw(ladders()),
        rate=draw(st.sampled_from([1.0, 0.8573, 158.57])),
        base_digits=2,
        imported=Import(
            venue="Quay",
            freight=Decimal(draw(st.sampled_from(["0", "9", "24.5"]))),
            duty_rate=Decimal(draw(shares)),
            tax_rate=Decimal(draw(shares)),
        ),
    )


def bids_up_to(landed: Landing, most: int) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Return every bid that a house takes up to a hammer price, by walking from one to the next."""
    bids = [0]
    while bids[-1] <= most:
        bids.append(int(next_bids(np.array([bids[-1]]), landed.increments)[0]))
    return np.array(bids[1:], dtype=np.int64)


@given(schedule=schedules("buyer"), currency=CURRENCIES, hammers=HAMMERS)
def test_fees_of_a_column_are_those_of_each_price(
    schedule: FeeSchedule, currency: str, hammers: list[int]
) -> None:
    compiled = compile_schedule(schedule, currency)
    fees = compiled.charge(np.array(hammers, dtype=np.int64) * compiled.unit)
    each = [fee_of(Decimal(one * compiled.unit).scaleb(-POINTS), schedule, currency) for one in hammers]

    assert [Decimal(int(fee)).scaleb(-POINTS) for fee in fees] == each


@given(landed=landings(), limit=st.integers(0, 200_000))
def test_no_bid_above_the_maximum_bid_stays_within_the_limit(landed: Landing, limit: int) -> None:
    found = int(landed.greatest_bid(np.array([limit]))[0])
    most = int(limit * landed.rate * 100) + 600_000
    every = bids_up_to(landed, min(most, 4_000_000))
    within = every[landed.cost(every) <= limit]

    if found <= every[-1]:
        assert found == (within[-1] if len(within) else 0)


@given(landed=landings(), limit=st.integers(0, 20_000_000))
def test_the_maximum_bid_itself_stays_within_the_limit(landed: Landing, limit: int) -> None:
    found = landed.greatest_bid(np.array([limit]))

    assert found[0] == 0 or landed.cost(found)[0] <= limit


@given(landed=landings(), limit=st.integers(0, 20_000_000))
def test_one_increment_more_than_the_maximum_bid_breaks_the_limit(landed: Landing, limit: int) -> None:
    found = landed.greatest_bid(np.array([limit]))

    assert landed.cost(next_bids(found, landed.increments))[0] > limit


@given(ladder=ladders(), bids=st.lists(st.integers(0, 50_000_000), min_size=2, max_size=6))
def test_the_next_bid_lies_above_and_rises_with_the_bid(
    ladder: tuple[Increment, ...], bids: list[int]
) -> None:
    ordered = np.array(sorted(bids), dtype=np.int64)
    following = next_bids(ordered, ladder)

    assert (following > ordered).all()
    assert all(later >= earlier for earlier, later in pairwise(following.tolist()))


@given(
    sellers=schedules("seller"),
    commission=schedules("seller"),
    hammer=st.integers(0, 500_000),
    kind=st.sampled_from(["auction", "shop", "online"]),
    rate=st.sampled_from([1.0, 0.8573, 158.57]),
)
def test_the_parts_of_a_divided_price_sum_to_it(
    sellers: FeeSchedule, commission: FeeSchedule, hammer: int, kind: str, rate: float
) -> None:
    venue = Venue.model_validate(
        {"name": "Quay", "kind": kind, "currency": "EUR", "fees": [sellers.model_dump()]}
    )
    market = Market.model_validate(
        {
            "base_currency": "EUR",
            "eras": [{"name": "first", "run": "original", "first_year": 1984}],
            "venues": [venue.model_dump()],
            "consigning": {"commission": [commission.model_dump()]},
        }
    )

    parts = divide_hammer(Decimal(hammer).scaleb(-2), venue, market, rate=rate, on=DAY)

    assert parts.venue_fee + parts.commission + parts.commission_tax + parts.to_consignor == parts.hammer
    assert parts.hammer + parts.buyer_fee == parts.all_in


def test_an_empty_column_has_no_bids() -> None:
    landed = Landing(NO_FEES, (), 1.0, 2, Import(venue="Quay"))

    assert (
        landed.greatest_bid(np.array([], dtype=np.int64)).tolist() == pl.Series([], dtype=pl.Int64).to_list()
    )
