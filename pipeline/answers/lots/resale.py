"""The resale of a pair: what a price at a venue leaves the seller."""

from dataclasses import dataclass
from datetime import date

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.config import Market, Venue
from pipeline.fees import hammer_column, net_column

Array = NDArray[np.float64]

POINTS_OF_CURVE = 3000
LOWEST, HIGHEST = 1.0, 1e8
"""The ends of a curve: the same for every list, so that no lot changes what another comes to."""


@dataclass(frozen=True)
class NetCurve:
    """What an all-in price at a venue leaves its seller, both in the base currency.

    The fees are exact at `prices` (rising, evenly spaced in log) and interpolated between them: the
    price is itself an estimate.
    """

    prices: Array
    nets: Array

    def net(self, price: Array) -> Array:
        """Return the net of all-in prices; outside the curve in proportion to its nearest end."""
        inside = np.clip(price, self.prices[0], self.prices[-1])
        net: Array = np.interp(inside, self.prices, self.nets) * (price / inside)
        return net

    def price_leaving(self, net: Array) -> Array:
        """Return the least price from which on no price leaves less than each net; within the ends of the curve.

        Where fees leap a higher price may leave less.
        """
        rising = np.minimum.accumulate(self.nets[::-1])[::-1]
        return np.interp(net, rising, self.prices)


def net_curve(venue: Venue, market: Market, *, rate: float, on: date) -> NetCurve:
    """Return the net curve of a venue on a day.

    `rate` is units of the venue's currency for one of the base. A shop is the owner's own: the
    whole price is left. A venue without a seller's schedule in force takes nothing from sellers.
    """
    prices = np.geomspace(LOWEST, HIGHEST, POINTS_OF_CURVE)
    if venue.kind == "shop":
        return NetCurve(prices, prices)
    native = prices * rate
    hammers = _hammers(native, venue, market, on)
    if venue.schedule("seller", on) is None:
        return NetCurve(prices, hammers / rate)
    keyed = _keys(venue, on, hammer=_amounts(hammers))
    nets = net_column(keyed, market)["net"].cast(pl.Float64).to_numpy()
    return NetCurve(prices, nets / rate)


def _hammers(all_in: Array, venue: Venue, market: Market, on: date) -> Array:
    if venue.schedule("buyer", on) is None:
        return all_in
    keyed = _keys(venue, on, price=_amounts(all_in))
    found = hammer_column(keyed, market, basis="all-in")["hammer"]
    return found.cast(pl.Float64).fill_null(0.0).to_numpy()


def _amounts(values: Array) -> pl.Series:
    return pl.Series(np.round(values, 2)).cast(pl.Decimal(18, 4))


def _keys(venue: Venue, on: date, **amounts: pl.Series) -> pl.DataFrame:
    (name, series), *_ = amounts.items()
    return pl.DataFrame({name: series}).with_columns(
        venue=pl.lit(venue.name), day=pl.lit(on), currency=pl.lit(venue.currency)
    )
