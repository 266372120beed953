"""Valid bids of a house: the highest within a limit and the next one up, over whole columns."""

from collections.abc import Sequence
from decimal import Decimal
from itertools import pairwise

import numpy as np

from pipeline.config import Increment
from pipeline.fees.amounts import to_points
from pipeline.fees.inverse import NONE, Rung, hammers_behind
from pipeline.fees.schedule import CompiledSchedule, Whole

MOST_POINTS = 10**13
"""No bid is sought above this (in 10**-POINTS: a thousand million units)."""


def highest_bids(limits: Whole, fees: CompiledSchedule, increments: Sequence[Increment]) -> Whole:
    """Return the highest valid bid whose all-in price does not exceed each limit (10**-POINTS; zero for none).

    Where the all-in falls at an edge of the fees, a lower bid can still cost more than the limit.
    """
    within = hammers_behind(limits, fees, "all-in", rungs_of(increments)).within
    bids: Whole = np.where(within == NONE, 0, within)
    return bids


def next_bids(bids: Whole, increments: Sequence[Increment]) -> Whole:
    """Return the lowest valid bid above each bid given (10**-POINTS; zero where there is none)."""
    result = np.zeros(len(bids), dtype=np.int64)
    for above, up_to, step in reversed(rungs_of(increments)):
        candidate = np.maximum(bids // step + 1, above // step + 1) * step
        result = np.where(candidate <= up_to, candidate, result)
    return result


def rungs_of(increments: Sequence[Increment]) -> list[Rung]:
    """Return the rungs of the bids; without increments every whole unit is a bid."""
    ladder = increments or (Increment(step=Decimal(1)),)
    ends = [MOST_POINTS if one.up_to is None else to_points(one.up_to, "`up_to`") for one in ladder]
    steps = [to_points(one.step, "the increment") for one in ladder]
    return [Rung(*ends, step) for ends, step in zip(pairwise((-1, *ends)), steps, strict=True)]
