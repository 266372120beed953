"""The landed cost of a lot: hammer price, buyer's fee, freight, duty and tax, exact to the minor unit."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

import numpy as np
from babel.numbers import get_currency_precision
from numpy.typing import NDArray

from pipeline.config import Import, Increment, Market, Venue
from pipeline.fees.amounts import POINTS, Scale, decimals, scale
from pipeline.fees.bids import fees_of, greatest_bids

Whole = NDArray[Any]


@dataclass(frozen=True)
class Landing:
    """What a hammer price at one venue has cost by the time that the pair is in the shop.

    Amounts in the venue's currency are in 10**-POINTS, those in the base currency in its minor unit
    (10**-base_digits). `rate` is units of the venue's currency for one of the base. Each part (the
    price in the base currency, duty, tax) is rounded half up to the minor unit, as an invoice states it.
    """

    fees: Scale | None
    increments: tuple[Increment, ...]
    rate: float
    base_digits: int
    imported: Import

    def all_in(self, hammers: Whole) -> Whole:
        """Return hammer price plus buyer's fee (10**-POINTS), for hammer prices (10**-POINTS)."""
        return hammers if self.fees is None else hammers + fees_of(hammers, self.fees)

    def cost(self, hammers: Whole) -> Whole:
        """Return the landed cost (minor units of the base currency) of hammer prices (10**-POINTS).

        It never falls as the all-in price rises.
        """
        in_base = self.all_in(hammers) / (self.rate * 10.0 ** (POINTS - self.base_digits))
        value = np.floor(in_base + 0.5).astype(np.int64) + self._minor(self.imported.freight)
        with_duty = value + _share(value, self.imported.duty_rate)
        landed: Whole = with_duty + _share(with_duty, self.imported.tax_rate)
        return landed

    def greatest_bid(self, limits: Whole) -> Whole:
        """Return the greatest bid (10**-POINTS) whose landed cost does not exceed each limit (minor units of the base).

        Nought where even the least bid costs more.
        """
        edges = (
            () if self.fees is None else [step.up_to for step in self.fees.steps if step.up_to is not None]
        )
        return greatest_bids(limits, self.cost, self.increments, edges)

    def _minor(self, amount: Decimal) -> int:
        return int((amount.scaleb(self.base_digits)).to_integral_value())


def landing(venue: Venue, market: Market, *, rate: float, on: date) -> Landing:
    """Return how a venue's hammer prices become landed costs on a day, at an exchange rate."""
    schedule = venue.schedule("buyer", on)
    return Landing(
        fees=None if schedule is None else scale(schedule, venue.currency),
        increments=venue.increments,
        rate=rate,
        base_digits=get_currency_precision(market.base_currency),
        imported=market.import_from(venue),
    )


def _share(amounts: Whole, rate: Decimal) -> Whole:
    """Return a share of whole minor units, rounded half up."""
    ratio = 10 ** decimals(rate)
    share: Whole = (2 * amounts * int(rate * ratio) + ratio) // (2 * ratio)
    return share
