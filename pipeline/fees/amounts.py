"""Fee, all-in and net of one hammer price, in integers of ten-thousandths and minor units.

Rounding: the fee is rounded half up to the currency's minor unit, then the tax on the rounded fee is
rounded half up in turn, as an invoice states them. The order of things: percentage by tiers, then the
minimum, then the flat fee, then tax on all of it.
"""

from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from babel.numbers import get_currency_precision

from pipeline.config import FeeSchedule
from pipeline.errors import MarketFileError

POINTS = 4
"""Decimals of an amount as the ledger keeps it (schema.SALE_RECORD); more than any minor unit has."""


@dataclass(frozen=True)
class Step:
    """One tier in integers: hammer prices above `above` up to and including `up_to`, in 10**-POINTS.

    The percentage of a hammer price h is (base + rate * (h - start)) / 10**rate_digits, in 10**-POINTS.
    `up_to` is None in the last tier.
    """

    above: int
    up_to: int | None
    start: int
    base: int
    rate: int


@dataclass(frozen=True)
class Scale:
    """A fee schedule in integers, for one currency.

    `unit` is the minor unit in 10**-POINTS; `minimum` and `flat` are in 10**-(POINTS + rate_digits), as the
    percentage is; `tax` is in 10**-rate_digits.
    """

    steps: tuple[Step, ...]
    rate_digits: int
    unit: int
    minimum: int
    flat: int
    tax: int

    def fee(self, hammer: int) -> int:
        """Return fee and tax on a hammer price, both in 10**-POINTS."""
        step = next(step for step in self.steps if step.up_to is None or hammer <= step.up_to)
        ratio = 10**self.rate_digits
        percentage = step.base + step.rate * (hammer - step.start)
        fee = divide_half_up(max(percentage, self.minimum) + self.flat, ratio * self.unit)
        return (fee + divide_half_up(fee * self.tax, ratio)) * self.unit


def fee_of(hammer: Decimal, schedule: FeeSchedule, currency: str) -> Decimal:
    """Return what a schedule takes of a hammer price, tax included.

    `currency` is the venue's ISO 4217 code, whose minor unit is rounded to. Raises ValueError for a
    negative hammer price, or one with more than four decimals.
    """
    scaled = scale(schedule, currency)
    return from_points(scaled.fee(to_points(hammer, "the hammer price")), scaled.unit)


@lru_cache(maxsize=512)
def scale(schedule: FeeSchedule, currency: str, rate_digits: int | None = None) -> Scale:
    """Return a fee schedule in integers.

    `rate_digits` is the least that the schedule's rates need, or more where several schedules share it.
    Raises MarketFileError for an `up_to` with more than four decimals.
    """
    for tier in schedule.tiers:
        if tier.up_to is not None and decimals(tier.up_to) > POINTS:
            raise MarketFileError(
                f"a fee schedule has `up_to` {tier.up_to}: more than {POINTS} decimals", "mend that `up_to`."
            )
    digits = least_rate_digits(schedule) if rate_digits is None else rate_digits
    steps: list[Step] = []
    above, base = 0, 0
    for tier in schedule.tiers:
        rate = _integer(tier.rate, digits)
        up_to = None if tier.up_to is None else _integer(tier.up_to, POINTS)
        whole_lot = schedule.method == "whole-lot"
        steps.append(Step(above, up_to, 0 if whole_lot else above, 0 if whole_lot else base, rate))
        if up_to is not None:
            base += rate * (up_to - above)
            above = up_to
    return Scale(
        steps=tuple(steps),
        rate_digits=digits,
        unit=10 ** (POINTS - get_currency_precision(currency)),
        minimum=_integer(schedule.minimum, POINTS + digits),
        flat=_integer(schedule.flat, POINTS + digits),
        tax=_integer(schedule.tax_rate, digits),
    )


def least_rate_digits(schedule: FeeSchedule) -> int:
    """Return how many decimals the rates of a schedule need, so that each is an integer."""
    rates = (*(tier.rate for tier in schedule.tiers), schedule.tax_rate, schedule.minimum, schedule.flat)
    return max(decimals(rate) for rate in rates)


def decimals(number: Decimal) -> int:
    """Return how many decimals a number has, trailing noughts left out."""
    exponent = number.normalize().as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else 0


def to_points(amount: Decimal, name: str) -> int:
    """Return an amount in 10**-POINTS; raises ValueError for one that is not finite, negative, or finer."""
    if not amount.is_finite() or amount < 0:
        raise ValueError(f"{name} must be nought or more, not {amount}")
    if decimals(amount) > POINTS:
        raise ValueError(f"{name} must have at most {POINTS} decimals, not {amount}")
    return _integer(amount, POINTS)


def from_points(points: int, unit: int) -> Decimal:
    """Return 10**-POINTS as an amount, with as many decimals as the minor unit has where they suffice."""
    amount = Decimal(points).scaleb(-POINTS)
    minor = Decimal(unit).scaleb(-POINTS).normalize()
    return amount.quantize(minor) if points % unit == 0 else amount.normalize()


def divide_half_up(dividend: int, divisor: int) -> int:
    """Return the quotient of two integers from nought up, rounded half up."""
    return (2 * dividend + divisor) // (2 * divisor)


def _integer(number: Decimal, digits: int) -> int:
    """Return number × 10**digits, which is an integer."""
    return int(number.scaleb(digits))
