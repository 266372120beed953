"""The fee on one price, and the hammer price behind one: a column of one row."""

from decimal import Decimal
from typing import NamedTuple

import numpy as np

from pipeline.config import FeeSchedule
from pipeline.fees.amounts import from_points, to_points
from pipeline.fees.inverse import NONE, hammers_behind
from pipeline.fees.schedule import Whole, compile_schedule


class Charge(NamedTuple):
    """The fee on a price, and the tax on the fee."""

    fee: Decimal
    tax: Decimal


def charge_of(hammer: Decimal, schedule: FeeSchedule, currency: str) -> Charge:
    """Return the fee on a hammer price and the tax on it, in a currency (its ISO 4217 code) and its minor unit.

    Raises ValueError for a negative hammer price, or one with more than four decimals.
    """
    fees = compile_schedule(schedule, currency)
    return Charge(
        *(from_points(int(part[0]), fees.unit) for part in fees.charges(_row(hammer, "the hammer price")))
    )


def fee_of(hammer: Decimal, schedule: FeeSchedule, currency: str) -> Decimal:
    """Return the fee on a hammer price with the tax on it (see `charge_of`)."""
    return sum(charge_of(hammer, schedule, currency), Decimal(0))


def hammer_from_all_in(all_in: Decimal, schedule: FeeSchedule, currency: str) -> Decimal | None:
    """Return the hammer price whose all-in is the amount given; None where the lowest fee alone exceeds it.

    Of several the greatest is taken. Where none has exactly that all-in (rounding, or a whole-lot tier
    edge), it is the greatest hammer price whose all-in does not exceed the amount. Hammer prices are whole
    minor units. Raises ValueError for a negative amount or a seller's schedule.
    """
    if schedule.party != "buyer":
        raise ValueError(f"the schedule is the {schedule.party}'s, not the buyer's")
    fees = compile_schedule(schedule, currency)
    found = int(hammers_behind(_row(all_in, "the all-in price"), fees, "all-in").best[0])
    return None if found == NONE else from_points(found, fees.unit)


def _row(amount: Decimal, name: str) -> Whole:
    return np.array([to_points(amount, name)])
