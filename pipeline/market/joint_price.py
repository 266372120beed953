"""What several pairs may bring together: single bands cannot be added, since pairs share the errors of one fit."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.shared_errors import SharedErrors
from pipeline.market.model import ANY_VENUE
from pipeline.market.price_distribution import PriceDistribution
from pipeline.schema import ALL_FACTORS

Array = NDArray[np.float64]
Whole = NDArray[np.integer[Any]]

SEED = 1986
MOST_DRAWS, FEWEST_DRAWS = 10_000, 1_000
MOST_PRICES = 10_000_000
"""So many single prices are drawn in all, where that leaves FEWEST_DRAWS a pair."""

FAR = 10.0
"""No error counts for more than so many times that of the outermost tabulated chance."""

NOT_KNOWN = {one.name: one.missing for one in ALL_FACTORS if one.missing is not None} | {"venue": ANY_VENUE}
"""What stands in a column of FACTORS where a pair's own value is not known."""

BLOCK = 2_000_000
"""So many single prices are held at a time."""


@dataclass(frozen=True)
class JointPrices:
    """Draws of what groups of pairs bring together, in the base currency: each (draws,), rising."""

    sums: Mapping[str, Array]

    def quantile(self, group: str, chance: float) -> float:
        """Return the sum below which the group lies with that chance."""
        return float(np.quantile(self.sums[group], chance))

    def error(self, group: str, chance: float) -> float:
        """Return the standard error of `quantile` from the number of draws: half the distance of its neighbours."""
        drawn = self.sums[group]
        apart = np.sqrt(chance * (1 - chance) / len(drawn))
        low, high = np.quantile(drawn, np.clip([chance - apart, chance + apart], 0, 1))
        return float(high - low) / 2


def joint_prices(
    fit: Fit,
    factors: pl.DataFrame,
    prices: PriceDistribution,
    groups: Mapping[str, Whole],
    *,
    seed: int = SEED,
    most_draws: int = MOST_DRAWS,
) -> JointPrices:
    """Return what groups of pairs bring together (`groups`: name → row numbers of `factors`).

    `prices` are the price distributions of the same pairs from that fit. Errors of estimation are drawn jointly
    (`SharedErrors`), the scatter of single sales independently. Where a pair's venue or another attribute is not known,
    each pair may have another one. Each pair's draws are then moved to its own calibrated distribution, so that a group
    of one pair has the band of that pair. The error of the draws is `JointPrices.error`.
    """
    pairs = factors.height
    draws = int(np.clip(MOST_PRICES // max(pairs, 1), FEWEST_DRAWS, most_draws))
    shared = SharedErrors(fit, factors, apart=NOT_KNOWN)
    scatter = prices.scale[:, None]
    knots, moved = _errors_at_knots(prices.uncalibrated()), _errors_at_knots(prices)
    random = np.random.default_rng(seed)
    block = max(1, BLOCK // max(pairs, 1))
    sums: dict[str, list[Array]] = {name: [] for name in groups}
    for first in range(0, draws, block):
        number = min(block, draws - first)
        errors = shared.draw(random, number) + scatter * _student(
            random, (pairs, number), prices.degrees_of_freedom
        )
        drawn = np.exp(prices.centre[:, None] + _placed(errors, knots, moved))
        for name, rows in groups.items():
            sums[name].append(drawn[rows].sum(axis=0))
    return JointPrices({name: np.sort(np.concatenate(parts)) for name, parts in sums.items()})


def _errors_at_knots(prices: PriceDistribution) -> Array:
    """Return (pairs, knots): how far from the centre each pair's prices at CHANCES are, in log price.

    At either end stands one more, FAR times as far: beyond the outermost chance errors grow in its own proportion.
    """
    errors = prices.table - prices.centre[:, None]
    return np.concatenate([FAR * errors[:, :1], errors, FAR * errors[:, -1:]], axis=1)


def _student(random: np.random.Generator, shape: tuple[int, int], degrees_of_freedom: float) -> Array:
    return (
        random.standard_normal(shape)
        if np.isinf(degrees_of_freedom)
        else random.standard_t(degrees_of_freedom, shape)
    )


def _placed(errors: Array, knots: Array, moved: Array) -> Array:
    """Return errors (pairs, draws) moved as the `knots` (pairs, k) are to `moved`, in proportion in between."""
    return np.stack([np.interp(*one) for one in zip(errors, knots, moved, strict=True)])
