"""A fee schedule in words, as a house states it to a customer."""

from decimal import Decimal

from pipeline import formats
from pipeline.config import FeeSchedule


def schedule_words(schedule: FeeSchedule, currency: str) -> str:
    """Return what a schedule takes of a price: "12 % of the first €400, 8 % of the rest; at least €10".

    The flat fee and the tax are not in it; they are lines of their own.
    """
    *steps, last = schedule.tiers
    rest = percent_words(last.rate)
    if not steps:
        words = rest
    elif schedule.method == "marginal":
        firsts = [f"{percent_words(steps[0].rate)} of the first {_amount(steps[0].up_to, currency)}"]
        nexts = [
            f"{percent_words(step.rate)} from there to {_amount(step.up_to, currency)}" for step in steps[1:]
        ]
        words = ", ".join([*firsts, *nexts, f"{rest} of the rest"])
    else:
        upto = [
            f"{percent_words(step.rate)} of a price up to {_amount(step.up_to, currency)}" for step in steps
        ]
        words = ", ".join([*upto, f"{rest} of a higher one"])
    return f"{words}; at least {_amount(schedule.minimum, currency)}" if schedule.minimum else words


def percent_words(rate: Decimal) -> str:
    """Return a rate as a schedule states it: 12.5 %, whatever the number of its digits."""
    return f"{(100 * rate).normalize():f}\u00a0%"


def _amount(amount: Decimal | None, currency: str) -> str:
    return formats.exact(amount or Decimal(0), currency).removesuffix(".00")
