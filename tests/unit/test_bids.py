"""Bids on a house's own steps, worked by hand in whole euros; the arrays hold ten-thousandths."""

from collections.abc import Sequence
from decimal import Decimal
from itertools import pairwise

import numpy as np
import pytest

from pipeline.config import FeeSchedule, Increment
from pipeline.fees.bids import MOST_POINTS, highest_bids, next_bids
from pipeline.fees.schedule import NO_FEES, CompiledSchedule, Piece, compile_schedule

POINTS = 10_000
LADDER = ((100, "5"), (500, "10"), (None, "50"))


def steps(*ladder: tuple[int | None, str]) -> tuple[Increment, ...]:
    """Return a ladder from (up_to, step) pairs."""
    return tuple(
        Increment(up_to=None if up_to is None else Decimal(up_to), step=Decimal(step))
        for up_to, step in ladder
    )


def after(bids: Sequence[float], *ladder: tuple[int | None, str]) -> list[float]:
    """Return the bid after each one."""
    found = next_bids(np.array([round(bid * POINTS) for bid in bids], dtype=np.int64), steps(*ladder))
    assert found.dtype == np.int64
    return (found / POINTS).tolist()


def within(
    limits: Sequence[float], *ladder: tuple[int | None, str], edges: Sequence[int] = ()
) -> list[float]:
    """Return the greatest bid within each limit, where a bid costs itself."""
    ends = [-1, *(edge * POINTS for edge in edges), NO_FEES.pieces[-1].up_to]
    free = CompiledSchedule(tuple(Piece(above, up_to, 0, 0) for above, up_to in pairwise(ends)))
    found = highest_bids(
        np.array([round(limit * POINTS) for limit in limits], dtype=np.int64), free, steps(*ladder)
    )
    assert found.dtype == np.int64
    return (found / POINTS).tolist()


def test_the_next_bid_is_the_next_of_the_ladder() -> None:
    assert after([0, 3, 5, 95, 97, 99.99], *LADDER) == [5, 5, 10, 100, 100, 100]
    assert after([100, 490, 499, 500, 505, 550], *LADDER) == [110, 500, 500, 550, 550, 600]


def test_a_rung_that_is_no_multiple_of_its_step_is_no_bid() -> None:
    assert after([15, 16, 20], (20, "7.5"), (None, "10")) == [30, 30, 30]
    assert after([20, 25], (25, "5"), (None, "10")) == [25, 30]
    assert after([20, 25], (25, "10"), (None, "50")) == [50, 50]


def test_without_a_ladder_the_next_bid_is_the_next_whole_one() -> None:
    assert after([0, 0.5, 1, 41.01]) == [1, 1, 2, 42]


def test_nothing_is_bid_above_the_most() -> None:
    most = MOST_POINTS / POINTS
    assert after([most - 50, most], *LADDER) == [most, 0]
    assert within([2 * most], *LADDER) == [most]


def test_the_greatest_bid_is_the_last_of_the_ladder_within_the_limit() -> None:
    assert within([4.99, 5, 97, 100, 109, 110], *LADDER) == [0, 5, 95, 100, 100, 110]
    assert within([499, 500, 549, 550, 1234], *LADDER) == [490, 500, 500, 550, 1200]


def test_the_greatest_bid_of_a_rung_that_is_no_multiple_lies_below_it() -> None:
    assert within([29, 30, 31], (25, "5"), (None, "10")) == [25, 30, 30]
    assert within([30, 49, 50], (25, "10"), (None, "50")) == [20, 20, 50]


def test_a_bid_found_at_a_rung_stays_there_while_others_are_sought() -> None:
    assert within([49, 7, 12], (25, "5"), (None, "50")) == [25, 5, 10]


def test_the_least_bid_of_all_is_a_ten_thousandth() -> None:
    assert within([0.0001, 0.00005], (None, "0.0001")) == [0.0001, 0]


@pytest.mark.parametrize(
    ("up_to", "step", "said"),
    [("1.00001", "1", "`up_to`"), ("10", "0.00001", "the increment")],
)
def test_a_ladder_of_five_decimals_is_refused(up_to: str, step: str, said: str) -> None:
    ladder = (Increment(up_to=Decimal(up_to), step=Decimal(step)), Increment(step=Decimal(5)))
    with pytest.raises(ValueError, match=f"^{said} must have at most 4 decimals, not "):
        next_bids(np.array([0]), ladder)


def test_a_rung_of_one_bid_is_bid() -> None:
    assert within([9, 10, 49, 50], (10, "10"), (None, "50")) == [0, 10, 10, 50]


def test_a_tier_of_the_fees_between_two_bids_makes_no_bid() -> None:
    assert within([35, 50], (25, "10"), (None, "50"), edges=[20]) == [20, 50]
    assert within([17, 20], (None, "10"), edges=[13, 17]) == [10, 20]


def test_a_tier_of_the_fees_beyond_the_most_is_no_tier() -> None:
    assert within([35], (None, "10"), edges=[2 * MOST_POINTS // POINTS]) == [30]


def test_no_limits_have_no_bids() -> None:
    assert within([], *LADDER) == []


def fees(
    hammers: Sequence[str], *tiers: tuple[str | None, str], currency: str = "EUR", **more: str
) -> list[Decimal]:
    """Return the fee of each hammer price in a column."""
    rows = [{"rate": rate} if up_to is None else {"up_to": up_to, "rate": rate} for up_to, rate in tiers]
    schedule = FeeSchedule.model_validate(
        {"party": "buyer", "starts_on": "2015-01-01", "tiers": rows, **more}
    )
    points = np.array([int(Decimal(one) * POINTS) for one in hammers], dtype=np.int64)
    found = compile_schedule(schedule, currency).charge(points)
    assert found.dtype == np.int64
    return [Decimal(one) / POINTS for one in found.tolist()]


def test_a_column_of_fees_goes_through_the_tiers() -> None:
    """A quarter to 500, a fifth beyond: 125 at 500, 125 + 20 at 600; a tenth of tax on each."""
    tiers = (("500", "0.25"), (None, "0.20"))
    assert fees(["500", "600", "0", "100"], *tiers, tax_rate="0.1") == [
        Decimal("137.5"), Decimal("159.5"), Decimal(0), Decimal("27.5"),
    ]  # fmt: skip


def test_a_column_of_fees_knows_the_least_fee_and_the_flat_one() -> None:
    """A tenth, at least 15, and 2 besides: 17 at 100, 22 at 200."""
    assert fees(["100", "200"], (None, "0.10"), minimum="15", flat="2") == [Decimal(17), Decimal(22)]


@pytest.mark.parametrize(
    ("hammer", "rate", "fee"),
    [
        ("810372772.45", "0.1234", "100000000.12"),  # 100000000.12033
        ("810372772.45", "0.12345", "100040518.76"),  # 100040518.7589525
        ("810372772.45", "0.123457", "100046191.37"),  # 100046191.36835965
        ("752255000.00", "0.123457", "92871145.54"),  # 92871145.535, half a cent
        ("750189024.41", "0.123457", "92616086.39"),  # 92616086.38658537
    ],
)
def test_large_prices_and_fine_rates_are_exact(hammer: str, rate: str, fee: str) -> None:
    assert fees([hammer], (None, rate)) == [Decimal(fee)]
