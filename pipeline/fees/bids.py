"""The greatest bid whose cost stays within a limit, over whole columns: exact, and on the house's own steps."""

from collections.abc import Callable, Sequence
from decimal import Decimal
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.config import Increment
from pipeline.fees.amounts import Scale, to_points

Whole = NDArray[Any]

MOST_POINTS = 10**13
"""No bid is sought above this (in 10**-POINTS: a thousand million units)."""

_EXACT_DIGITS = 4
"""Up to so many decimals of a rate, 64-bit integers hold every product; beyond, Python's own do."""


def fees_of(hammers: Whole, scaled: Scale) -> Whole:
    """Return fee and tax on each hammer price, both in 10**-POINTS: `Scale.fee` over an array."""
    # mutation: equivalent, Python's own whole numbers are only slower
    exact = np.int64 if scaled.rate_digits <= _EXACT_DIGITS else object
    edges = np.array([step.up_to for step in scaled.steps[:-1]], dtype=np.int64)
    # mutation: equivalent, left is the default, and whole numbers stay exact
    tier = np.searchsorted(edges, hammers.astype(np.int64), side="left")
    base, rate, start = (
        np.array([getattr(step, name) for step in scaled.steps], dtype=exact)[tier]
        for name in ("base", "rate", "start")
    )
    ratio = 10**scaled.rate_digits
    percentage = base + rate * (hammers.astype(exact) - start)
    due = np.maximum(percentage, scaled.minimum) + scaled.flat
    fee = _divide_half_up(due, ratio * scaled.unit)
    taxed: Whole = ((fee + _divide_half_up(fee * scaled.tax, ratio)) * scaled.unit).astype(np.int64)
    return taxed


def greatest_bids(
    limits: Whole, cost: Callable[[Whole], Whole], increments: Sequence[Increment], edges: Sequence[int]
) -> Whole:
    """Return for each limit the greatest bid whose cost does not exceed it (10**-POINTS; nought where none).

    `cost` gives the cost of an array of bids, in the unit of `limits`; between two of `edges` (the fee
    schedule's own, in 10**-POINTS) it never falls as the bid rises. Where it falls at an edge, a lower bid
    can still cost more than the limit; the greatest that does not is returned all the same.
    """
    found = np.zeros(len(limits), dtype=np.int64)
    open_rows = np.arange(len(limits))
    for low, high, step in reversed(_segments(increments, edges)):
        first, last = low // step + 1, high // step
        if first > last or not len(open_rows):
            continue
        affordable = cost(np.array([first * step], dtype=np.int64))[0] <= limits[open_rows]
        rows = open_rows[affordable]
        least, most = np.full(len(rows), first), np.full(len(rows), last)
        while len(rows) and np.any(least < most):
            middle = (least + most + 1) // 2
            within = cost(middle * step) <= limits[rows]
            least, most = np.where(within, middle, least), np.where(within, most, middle - 1)
        found[rows] = least * step
        open_rows = open_rows[~affordable]
    return found


def next_bids(bids: Whole, increments: Sequence[Increment]) -> Whole:
    """Return the least bid that the house takes above each bid given (10**-POINTS)."""
    result = np.zeros(len(bids), dtype=np.int64)
    for low, high, step in reversed(_segments(increments, ())):
        candidate = np.maximum(bids // step + 1, low // step + 1) * step
        result = np.where(candidate <= high, candidate, result)
    return result


def _segments(increments: Sequence[Increment], edges: Sequence[int]) -> list[tuple[int, int, int]]:
    """Return (above, up to, step) in 10**-POINTS: where both the step and the tier of the fees are one."""
    ladder = increments or (Increment(step=Decimal(1)),)
    ends = [MOST_POINTS if one.up_to is None else to_points(one.up_to, "`up_to`") for one in ladder]
    steps = [to_points(one.step, "the increment") for one in ladder]
    # mutation: equivalent, the most is in the set already
    places = sorted({0, MOST_POINTS, *ends, *(edge for edge in edges if edge < MOST_POINTS)})
    return [
        (low, high, steps[next(number for number, end in enumerate(ends) if high <= end)])
        for low, high in pairwise(places)
    ]


def _divide_half_up(dividend: Whole, divisor: int) -> Whole:
    halved: Whole = (2 * dividend + divisor) // (2 * divisor)
    return halved
