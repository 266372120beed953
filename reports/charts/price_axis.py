"""The price axis: linear where prices lie close, logarithmic where they span more than threefold."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import altair as alt

LOG_FROM = 3.0
"""The ratio of the most expensive to the cheapest price from which equal distances mean equal ratios."""
_PAD = 0.06
_MOST_TICKS = 6


@dataclass(frozen=True)
class PriceAxis:
    """A price axis: its kind, its ends and its ticks, in the base currency."""

    kind: Literal["linear", "log"]
    low: float
    high: float
    ticks: tuple[float, ...]

    def encode(self, field: str, title: str | None) -> alt.X:
        """Return the horizontal encoding of a field of prices on this axis."""
        plain = all(tick == int(tick) for tick in self.ticks)
        return alt.X(
            field,
            type="quantitative",
            title=title,
            scale=alt.Scale(type=self.kind, domain=[self.low, self.high], nice=False),
            axis=alt.Axis(values=list(self.ticks), format=",.0f" if plain else ",~g", labelOverlap=True),
        )


def price_axis(prices: Sequence[float]) -> PriceAxis:
    """Return the axis on which all these prices (> 0) can be seen, with up to six round ticks."""
    low, high = min(prices), max(prices)
    if high >= low * LOG_FROM:
        pad = (high / low) ** _PAD
        low, high = low / pad, high * pad
        return PriceAxis("log", _plain(low), _plain(high), _log_ticks(low, high))
    pad = max((high - low) * _PAD, high * 0.01)
    low, high = low - pad, high + pad
    return PriceAxis("linear", _plain(low), _plain(high), _linear_ticks(low, high))


def _plain(value: float) -> float:
    """Return a value to six significant figures: an axis needs no more."""
    return float(f"{value:.6g}")


def _linear_ticks(low: float, high: float) -> tuple[float, ...]:
    rough = (high - low) / (_MOST_TICKS)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * digit for digit in (1, 2, 2.5, 5, 10) if power * digit >= rough)
    return tuple(_plain(step * k) for k in range(math.ceil(low / step), math.floor(high / step) + 1))


def _log_ticks(low: float, high: float) -> tuple[float, ...]:
    powers = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    for digits in ((1, 1.5, 2, 3, 5, 7), (1, 2, 5), (1, 3), (1,)):
        every = [_plain(digit * 10.0**power) for power in powers for digit in digits]
        ticks = tuple(tick for tick in every if low <= tick <= high)
        if len(ticks) <= _MOST_TICKS:
            return ticks
    return ticks[:: math.ceil(len(ticks) / _MOST_TICKS)]
