"""The landed cost of a lot: hammer price, buyer's fee, shipping, duty and tax, exact to the minor unit."""

from dataclasses import dataclass
from datetime import date

import numpy as np
from babel.numbers import get_currency_precision

from pipeline.config import Import, Increment, Market, Venue
from pipeline.fees.amounts import POINTS
from pipeline.fees.bids import MOST_POINTS, highest_bids
from pipeline.fees.inverse import hammers_behind
from pipeline.fees.schedule import NO_FEES, CompiledSchedule, Whole, compile_schedule, share_schedule


@dataclass(frozen=True)
class Landing:
    """What a hammer price at one venue costs by the time the pair is in the shop.

    Amounts in the venue's currency are in 10**-POINTS, those in the base currency in its minor unit
    (10**-base_digits). `rate` is units of the venue's currency for one of the base. Each part (the
    price in the base currency, duty, tax) is rounded half up to the minor unit, as on an invoice.
    """

    fees: CompiledSchedule
    increments: tuple[Increment, ...]
    rate: float
    base_digits: int
    imported: Import

    def all_in(self, hammers: Whole) -> Whole:
        """Return hammer price plus buyer's fee (10**-POINTS), for hammer prices (10**-POINTS)."""
        return hammers + self.fees.charge(hammers)

    def cost(self, hammers: Whole) -> Whole:
        """Return the landed cost (minor units of the base currency) of hammer prices (10**-POINTS)."""
        cost = self._in_base(self.all_in(hammers)) + self.freight
        for charge in self.import_charges:
            cost = cost + charge.charge(cost)
        return cost

    def greatest_bid(self, limits: Whole) -> Whole:
        """Return the greatest bid (10**-POINTS) whose landed cost is within each limit (minor units of the base).

        Zero where even the lowest bid costs more. The limit goes back through tax, duty and freight to the
        greatest all-in price that stays within it.
        """
        for charge in reversed(self.import_charges):
            limits = hammers_behind(limits, charge, "all-in").within
        limits = limits - self.freight
        all_in = np.clip((limits + 0.5) * self.points_per_minor, -1, 2 * MOST_POINTS).astype(np.int64) + 1
        for _ in range(2):  # floating point is off by less than one
            all_in = all_in - (self._in_base(all_in) > limits)
        return highest_bids(all_in, self.fees, self.increments)

    @property
    def freight(self) -> int:
        """The freight of a pair (minor units of the base currency)."""
        return int(self.imported.freight.scaleb(self.base_digits).to_integral_value())

    @property
    def import_charges(self) -> tuple[CompiledSchedule, CompiledSchedule]:
        """The duty on price and freight, then the tax on all of it, on amounts in minor units of the base currency."""
        return share_schedule(self.imported.duty_rate), share_schedule(self.imported.tax_rate)

    @property
    def points_per_minor(self) -> float:
        """The venue's currency (10**-POINTS) for one minor unit of the base."""
        return self.rate * 10.0 ** (POINTS - self.base_digits)

    def _in_base(self, native: Whole) -> Whole:
        """Return amounts in the venue's currency (10**-POINTS) in the base currency (minor units)."""
        rounded: Whole = np.floor(native / self.points_per_minor + 0.5).astype(np.int64)
        return rounded


def landing(venue: Venue, market: Market, *, rate: float, on: date) -> Landing:
    """Return how a venue's hammer prices become landed costs on a day, at an exchange rate."""
    schedule = venue.schedule("buyer", on)
    return Landing(
        fees=NO_FEES if schedule is None else compile_schedule(schedule, venue.currency),
        increments=venue.increments,
        rate=rate,
        base_digits=get_currency_precision(market.base_currency),
        imported=market.import_from(venue),
    )
