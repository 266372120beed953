"""The price axis: linear where prices lie close, logarithmic where they span more than threefold."""

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import altair as alt
import polars as pl

from pipeline import formats
from pipeline.phrases.phrases import ENGLISH, Phrases

LOG_FROM = 3.0
"""The ratio of the most expensive to the cheapest price from which equal distances mean equal ratios."""
_PAD = 0.06
_MOST_TICKS = 6
EDGE = 0.25
"""The share of an axis that is kept at an end for the values of what lies beyond it."""


@dataclass(frozen=True)
class PriceAxis:
    """A price axis: its kind, its ends and its ticks, in the base currency.

    `room` (px) is kept free at its right for figures. Marks stand between `least` and `most`; what lies beyond is
    written at the edge (see `edge_marks`).
    """

    kind: Literal["linear", "log"]
    low: float
    high: float
    ticks: tuple[float, ...]
    least: float
    most: float
    room: int = 0

    def encode(self, field: str, title: str, language: Phrases = ENGLISH) -> alt.X:
        """Return the horizontal encoding of a field of prices on this axis; a log scale says that it is one."""
        plain = all(tick == int(tick) for tick in self.ticks)
        labels = alt.Undefined if language.is_english else _labels(self.ticks, language)
        return alt.X(
            field,
            type="quantitative",
            title=language.say("log_scale", axis=title) if self.kind == "log" else title,
            scale=alt.Scale(
                type=self.kind, domain=[self.low, self.high], nice=False, range=across_range(self.room)
            ),
            axis=alt.Axis(
                values=list(self.ticks),
                format=",.0f" if plain else ",~g",
                labelExpr=labels,
                labelOverlap=True,
            ),
        )

    def within(self, *names: str) -> pl.Expr:
        """Return columns of prices, those beyond the axis moved to its edge."""
        return pl.col(*names).clip(self.least, self.most)

    def holds(self, name: str) -> pl.Expr:
        """Return whether a column of prices lies on the axis."""
        return pl.col(name).is_between(self.least, self.most)


def _labels(ticks: Sequence[float], language: Phrases) -> str:
    """Return the expression that writes ticks as a language does."""
    written = {f"{tick:.6g}": formats.number(tick, 6, language.locale) for tick in ticks}
    return f"{json.dumps(written)}[format(datum.value, '.6~g')]"


def across_range(room: int) -> Any:
    """Return the range of a horizontal scale that leaves room (px) at its right; without room it is left open."""
    return [0, {"expr": f"width - {room}"}] if room else alt.Undefined


def price_axis(prices: Sequence[float], others: Sequence[float] = (), *, room: int = 0) -> PriceAxis:
    """Return the axis on which all these prices (> 0) can be seen, with up to six round ticks.

    `others` are on it as far as they lie no further off than the prices span, so that a single one does not squeeze
    all else; at an end with such a one, EDGE of the axis is kept for its value.
    """
    low, high = min(prices), max(prices)
    span = max(high / low, 1 + EDGE)
    near = [one for one in others if low / span <= one <= high * span]
    under, over = min(others, default=low) < low / span, max(others, default=high) > high * span
    low, high = min([low, *near]), max([high, *near])
    if high >= low * LOG_FROM:
        pad, edge = (high / low) ** _PAD, (high / low) ** EDGE
        ends = low / (edge if under else pad), high * (edge if over else pad)
        ticks = _log_ticks(*ends)
    else:
        pad, edge = max((high - low) * _PAD, high * 0.01), (high - low) * EDGE
        ends = low - (edge if under else pad), high + (edge if over else pad)
        ticks = _linear_ticks(*ends)
    kind: Literal["linear", "log"] = "log" if high >= low * LOG_FROM else "linear"
    return PriceAxis(kind, _plain(ends[0]), _plain(ends[1]), ticks, low, high, room)


def edge_marks(
    rows: pl.DataFrame, name: str, text: str, at: alt.Y, axis: PriceAxis, title: str
) -> list[alt.Chart]:
    """Return the layers that write what lies beyond an axis at its edge, with an arrow.

    `rows` has the prices (`name`), their words (`text`) and mark_at; prices of one row are written together.
    """
    layers = []
    for style, beyond, end, form in (
        ("edge-low", pl.col(name) < axis.least, axis.least, "{} ←"),
        ("edge-high", pl.col(name) > axis.most, axis.most, "→ {}"),
    ):
        found = (
            rows.filter(beyond)
            .sort(name)
            .group_by("mark_at", maintain_order=True)
            .agg(pl.col(text).str.join(", ").alias("beyond"))
            .with_columns(pl.format(form, pl.col("beyond")), edge=pl.lit(end))
        )
        if found.height:
            words = alt.Chart(found).mark_text(style=style)
            layers.append(
                words.encode(x=axis.encode("edge", title), y=at, text=alt.Text("beyond", type="nominal"))
            )
    return layers


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
