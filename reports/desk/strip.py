"""The bands of a price as one small strip on a log axis, which stays where it is while a pair is described."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from pipeline import formats
from pipeline.market.bands import Band

WIDTH, INSET = 320.0, 4.0
ROOM = 1.1
"""The bands end at least so far (as a factor) from the ends of the axis."""

_ROUND = (1, 2, 5, 10)


@dataclass(frozen=True)
class Bar:
    """One band on the strip: its level in per cent, and where it lies."""

    level: int
    x: float
    width: float


@dataclass(frozen=True)
class Strip:
    """What is drawn: the bars, widest first, the median where it is known, and the ends of the axis in words."""

    bars: tuple[Bar, ...]
    median: float | None
    low: str
    high: str


def strip_of(bands: Sequence[Band], median: float | None, currency: str) -> Strip | None:
    """Return bands as a strip; None where there are none.

    The ends of the axis are round amounts (1, 2 or 5 times a power of ten), so that a band that moves a little moves
    on an axis that stands still.
    """
    if not bands:
        return None
    low = _round_below(min(band.low for band in bands) / ROOM)
    high = _round_above(max(band.high for band in bands) * ROOM)

    def place(price: float) -> float:
        share = math.log(price / low) / math.log(high / low)
        return round(INSET + share * (WIDTH - 2 * INSET), 1)

    bars = [
        Bar(round(100 * band.level), place(band.low), round(place(band.high) - place(band.low), 1))
        for band in sorted(bands, key=lambda band: -band.level)
    ]
    return Strip(
        tuple(bars),
        None if median is None else place(median),
        formats.amount(low, currency),
        formats.amount(high, currency),
    )


def _round_below(price: float) -> float:
    ten = 10.0 ** math.floor(math.log10(price))
    return max(one * ten for one in _ROUND if one * ten <= price * (1 + 1e-12))


def _round_above(price: float) -> float:
    ten = 10.0 ** math.floor(math.log10(price))
    return min(one * ten for one in _ROUND if one * ten >= price * (1 - 1e-12))
