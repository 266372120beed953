"""From an amount back to the hammer price: the exact inverse of a fee schedule, and the most to bid."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from pipeline.config import FeeSchedule
from pipeline.errors import MarketFileError
from pipeline.fees.amounts import Scale, Step, from_points, scale, to_points


@dataclass(frozen=True)
class Inverse:
    """The hammer price behind an amount.

    `exact` says whether the amount of `hammer` is the one asked for, to the minor unit; where it is not, `why`
    says which hammer price was taken instead. `hammer` is None where no hammer price would do. `also` holds the
    other hammer prices with exactly that amount (a whole-lot tier edge or rounding can make several).
    """

    hammer: Decimal | None
    exact: bool
    also: tuple[Decimal, ...] = ()
    why: str = ""


def hammer_from_all_in(all_in: Decimal, schedule: FeeSchedule, currency: str) -> Inverse:
    """Return the hammer price whose all-in is the amount given.

    Of several the greatest is taken. Where none has exactly that all-in (rounding, or a whole-lot tier
    edge), it is the greatest hammer price whose all-in does not exceed the amount. Hammer prices are whole
    minor units. Raises ValueError for a negative amount or a seller's schedule.
    """
    scaled = _scaled(schedule, currency, "buyer")
    limit = to_points(all_in, "the all-in price")
    greatest = list(_greatest_by_step(limit, scaled, scaled.unit))
    exact = [points for points in greatest if points + scaled.fee(points) == limit]
    if exact:
        first, *others = (from_points(points, scaled.unit) for points in exact)
        return Inverse(first, exact=True, also=tuple(others))
    if not greatest:
        return Inverse(None, exact=False, why="the least fee alone exceeds this all-in")
    return Inverse(
        from_points(max(greatest), scaled.unit),
        exact=False,
        why="no hammer price has this all-in; this is the greatest that does not exceed it",
    )


def greatest_hammer(
    limit: Decimal, schedule: FeeSchedule, currency: str, increment: Decimal | None = None
) -> Decimal | None:
    """Return the greatest hammer price above nought whose all-in does not exceed a limit; None if there is none.

    With `increment`, only its multiples can be bid. Where a whole-lot rate falls at a tier edge, a lower
    hammer price just under that edge can still cost more than the limit. Raises ValueError for a negative
    limit, an increment that is not above nought, or a seller's schedule.
    """
    scaled = _scaled(schedule, currency, "buyer")
    increase = scaled.unit if increment is None else to_points(increment, "the increment")
    if increase == 0:
        raise ValueError("the increment must be above nought, not 0")
    found = max(_greatest_by_step(to_points(limit, "the limit"), scaled, increase), default=0)
    return from_points(found, scaled.unit) if found > 0 else None


def hammer_from_net(net: Decimal, schedule: FeeSchedule, currency: str) -> Inverse:
    """Return the hammer price that leaves the seller the net given.

    Of several the least is taken. Where none leaves exactly that net, it is the least hammer price that
    leaves more. Raises ValueError for a negative net or a buyer's schedule, MarketFileError for a schedule that
    takes the whole of each further unit.
    """
    scaled = _scaled(schedule, currency, "seller")
    wanted = to_points(net, "the net")
    enough = sorted(
        points
        for step in scaled.steps
        for points in _near_net(wanted, step, scaled)
        if points - scaled.fee(points) >= wanted
    )
    exact = [points for points in enough if points - scaled.fee(points) == wanted]
    if exact:
        first, *others = (from_points(points, scaled.unit) for points in exact)
        return Inverse(first, exact=True, also=tuple(others))
    return Inverse(
        from_points(enough[0], scaled.unit),
        exact=False,
        why="no hammer price leaves exactly this net; this is the least that leaves more",
    )


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
    return 1 - (-4 * ratio * ratio) // kept


def _scaled(schedule: FeeSchedule, currency: str, party: str) -> Scale:
    """Return a party's schedule in integers."""
    if schedule.party != party:
        raise ValueError(f"the schedule is the {schedule.party}'s, not the {party}'s")
    return scale(schedule, currency)


def _greatest_by_step(limit: int, scaled: Scale, increase: int) -> Iterator[int]:
    """Yield for each tier, the last first, the greatest multiple of `increase` in it within the limit.

    Within a tier the all-in rises with the hammer price, so bisection finds it.
    """
    for step in reversed(scaled.steps):
        top = limit if step.up_to is None else min(step.up_to, limit)
        low, high = (0 if step.above == 0 else step.above // increase + 1), top // increase
        if low > high or low * increase + scaled.fee(low * increase) > limit:
            continue
        while low < high:
            middle = (low + high + 1) // 2
            if middle * increase + scaled.fee(middle * increase) <= limit:
                low = middle
            else:
                high = middle - 1
        yield low * increase


def _near_net(wanted: int, step: Step, scaled: Scale) -> range:
    """Return the hammer prices of a tier that may leave the net wanted, or just more."""
    window = net_window(step, scaled)
    unit, ratio = scaled.unit, 10**scaled.rate_digits
    taxed = ratio + scaled.tax
    least = wanted - 2 * unit
    by_rate = (least * ratio * ratio + (step.base - step.rate * step.start + scaled.flat) * taxed) // (
        ratio * ratio - step.rate * taxed
    )
    by_minimum = least + (scaled.minimum + scaled.flat) * taxed // (ratio * ratio)
    low = 0 if step.above == 0 else step.above // unit + 1
    first = max(low, max(by_rate, by_minimum) // unit)
    last = first + window if step.up_to is None else min(first + window, step.up_to // unit)
    return range(first * unit, (last + 1) * unit, unit)
