"""From an amount back to the hammer price: the exact inverse of a fee schedule."""

from collections.abc import Iterator
from decimal import Decimal

from pipeline.config import FeeSchedule
from pipeline.errors import MarketFileError
from pipeline.fees.amounts import Scale, Step, from_points, scale, to_points


def hammer_from_all_in(all_in: Decimal, schedule: FeeSchedule, currency: str) -> Decimal | None:
    """Return the hammer price whose all-in is the amount given; None where the least fee alone exceeds it.

    Of several the greatest is taken. Where none has exactly that all-in (rounding, or a whole-lot tier
    edge), it is the greatest hammer price whose all-in does not exceed the amount. Hammer prices are whole
    minor units. Raises ValueError for a negative amount or a seller's schedule.
    """
    if schedule.party != "buyer":
        raise ValueError(f"the schedule is the {schedule.party}'s, not the buyer's")
    scaled = scale(schedule, currency)
    limit = to_points(all_in, "the all-in price")
    greatest = list(_greatest_by_step(limit, scaled))
    exact = [points for points in greatest if points + scaled.fee(points) == limit]
    found = max(exact or greatest, default=None)
    return None if found is None else from_points(found, scaled.unit)


def net_window(step: Step, scaled: Scale) -> int:
    """Return how many minor units after the unrounded answer the exact one can lie.

    Rounding moves the net by less than two minor units either way: half a unit on the fee, with the tax on
    it, and half a unit on the tax. Raises MarketFileError for a schedule that takes the whole of each further unit.
    """
    ratio: int = 10**scaled.rate_digits
    kept = ratio * ratio - step.rate * (ratio + scaled.tax)
    if kept <= 0:
        raise MarketFileError(
            "a seller's fee schedule takes the whole of each further unit of the price, tax included",
            "mend `rate` and `tax_rate` of that schedule, so that rate × (1 + tax_rate) is below 1.",
        )
    return 1 - (-4 * ratio * ratio) // kept  # mutation: equivalent, the prices further off leave too much


def _greatest_by_step(limit: int, scaled: Scale) -> Iterator[int]:
    """Yield for each tier the greatest hammer price in it within the limit.

    Within a tier the all-in rises with the hammer price, so bisection finds it.
    """
    unit = scaled.unit
    for step in scaled.steps:
        top = limit if step.up_to is None else min(step.up_to, limit)
        low, high = (0 if step.above == 0 else step.above // unit + 1), top // unit
        if low > high or low * unit + scaled.fee(low * unit) > limit:
            continue
        while low < high:
            # mutation: equivalent, one higher still lies above low and not above high
            middle = (low + high + 1) // 2
            if middle * unit + scaled.fee(middle * unit) <= limit:
                low = middle
            else:
                high = middle - 1
        yield low * unit
