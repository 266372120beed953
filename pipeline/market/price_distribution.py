"""What each of many pairs may sell for, as a whole distribution of prices."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.hedonic.calibration import Calibration
from pipeline.hedonic.predict import predict, predict_both
from pipeline.hedonic.rows import rows_by_term
from pipeline.hedonic.scales import least_error, scales
from pipeline.hedonic.scores import errors_of
from pipeline.market.bands import scores_at, second_stage_of
from pipeline.market.fitted_market import FittedMarket
from pipeline.market.model import group_of

Array = NDArray[np.float64]

CHANCES: tuple[float, ...] = (
    *(0.025, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5),
    *(0.6, 0.7, 0.8, 0.9, 0.95, 0.975),
)
"""The chances at which a distribution is tabulated."""

NODES = 49
"""Between so many shares of estimation error the quantiles are drawn by a cubic spline, where there are more pairs."""


@dataclass(frozen=True)
class PriceDistribution:
    """What pairs may sell for, in log price, one entry a pair.

    The price is centre + N(0, variance) + scale × Student-t, with quantiles moved as the calibration asks, or without
    one widened as the jackknife does; `group` numbers each pair's among `groups`, and `scores` keeps what was asked
    for. `unseen` lists the terms of which no sale shows the level, `extrapolated` those whose place lies outside the
    ones that were sold.
    """

    centre: Array
    variance: Array
    scale: Array
    degrees_of_freedom: float
    calibration: Calibration | None
    jackknife: Calibration | None
    groups: tuple[str, ...]
    group: NDArray[np.int64]
    unseen: pl.Series
    extrapolated: pl.Series
    scores: dict[float, tuple[Array, Array]] = field(default_factory=dict, compare=False)

    def quantile(self, chance: float) -> Array:
        """Return the log price below which each pair sells with that chance."""
        if chance == 0.5:
            return self.centre
        errors = np.zeros(len(self.centre))
        for number, score in enumerate(self._scores(chance)):
            own = self.group == number
            errors[own] = _errors(float(score), self.variance[own], self.scale[own], self.degrees_of_freedom)
        errors = np.maximum(errors, least_error(abs(1 - 2 * chance)))
        moved: Array = self.centre + np.sign(chance - 0.5) * errors
        return moved

    @cached_property
    def table(self) -> Array:
        """Return (pairs, CHANCES): the quantiles of each pair, rising."""
        return np.maximum.accumulate(np.stack([self.quantile(chance) for chance in CHANCES], axis=1), axis=1)

    def uncalibrated(self) -> "PriceDistribution":
        """Return the distributions as the model has them, without what calibration and jackknife move."""
        return replace(self, calibration=None, jackknife=None, scores={})

    def rows(self, rows: NDArray[np.integer[Any]]) -> "PriceDistribution":
        """Return the distributions of some of the pairs, with their part of the table (which is computed for all)."""
        part = replace(
            self,
            centre=self.centre[rows],
            variance=self.variance[rows],
            scale=self.scale[rows],
            group=self.group[rows],
            unseen=self.unseen.gather(rows),
            extrapolated=self.extrapolated.gather(rows),
        )
        part.__dict__["table"] = self.table[rows]
        return part

    def chance_below(self, log_price: Array) -> Array:
        """Return the chance that each pair sells below its log price, interpolated in the table.

        Beyond the table's ends the chance is that of the end.
        """
        table, chances = self.table, np.array(CHANCES)
        above = np.clip(np.sum(table < log_price[:, None], axis=1), 1, len(chances) - 1)
        rows = np.arange(len(log_price))
        low, high = table[rows, above - 1], table[rows, above]
        share = np.clip((log_price - low) / np.maximum(high - low, 1e-12), 0, 1)
        below: Array = chances[above - 1] + share * (chances[above] - chances[above - 1])
        return below

    def expect(self, worth: Callable[[Array], Array]) -> Array:
        """Return the mean of `worth` (of prices, in the base currency) over each pair's distribution.

        The trapezoid over the table; what lies beyond its ends counts as the end, since the mean of a price
        whose logarithm is Student-t has no limit.
        """
        chances = np.array((0.0, *CHANCES, 1.0))
        middles = (chances[1:-2] + chances[2:-1]) / 2
        weights = np.diff(np.concatenate(([0.0], middles, [1.0])))
        mean: Array = worth(np.exp(self.table)) @ weights
        return mean

    def _scores(self, chance: float) -> Array:
        """Return the size of each group's band score at a chance; computed once for all parts."""
        level = round(abs(1 - 2 * chance), 9)
        if level not in self.scores:
            low, high = scores_at(
                level, self.groups, self.calibration, self.jackknife, self.degrees_of_freedom
            )
            self.scores[level] = np.abs(low), np.abs(high)
        return self.scores[level][0 if chance < 0.5 else 1]


def price_distribution(fitted: FittedMarket, factors: pl.DataFrame) -> PriceDistribution:
    """Return the price distributions of pairs (`factors`, in the columns of FACTORS, one row a pair)."""
    return _price_distribution(fitted, factors, predict(fitted.fit, factors), {})


def price_distributions_at(
    fitted: FittedMarket, factors: pl.DataFrame, venue: str
) -> tuple[PriceDistribution, PriceDistribution]:
    """Return the price distributions of pairs at their own venues, and at one venue for all of them."""
    changed = pl.DataFrame({"venue": pl.repeat(venue, factors.height, eager=True)})
    here, there = predict_both(fitted.fit, factors, changed)
    scores: dict[float, tuple[Array, Array]] = {}
    return (
        _price_distribution(fitted, factors, here, scores),
        _price_distribution(fitted, factors.with_columns(changed), there, scores),
    )


def _price_distribution(
    fitted: FittedMarket,
    factors: pl.DataFrame,
    predicted: pl.DataFrame,
    scores: dict[float, tuple[Array, Array]],
) -> PriceDistribution:
    log_price = predicted["log_price"].to_numpy()
    names = group_of(factors)
    numbers = {name: number for number, name in enumerate(sorted(set(names)))}
    added = (
        second_stage_of(fitted, rows_by_term(fitted.fit, factors), factors.height)[0] if fitted.trees else 0.0
    )
    return PriceDistribution(
        centre=log_price + added,
        variance=np.maximum(predicted["estimation_variance"].to_numpy(), 0),
        scale=scales(fitted.scatter, factors, log_price),
        degrees_of_freedom=fitted.fit.degrees_of_freedom,
        calibration=fitted.calibration,
        jackknife=fitted.jackknife,
        groups=tuple(numbers),
        group=np.array([numbers[name] for name in names], dtype=np.int64),
        unseen=predicted["unseen"],
        extrapolated=predicted["extrapolated"],
        scores=scores,
    )


def _errors(score: float, variance: Array, scale: Array, degrees_of_freedom: float) -> Array:
    """Return the errors (log price) of one score above zero; over many pairs by their share of estimation error.

    An error over the whole spread depends on that share only, smoothly: the spline errs by less than 1e-6 of it.
    """
    if len(variance) <= NODES:
        return (
            errors_of(np.full(len(variance), score), variance, scale, degrees_of_freedom)
            if len(variance)
            else np.zeros(0)
        )
    from scipy.interpolate import CubicSpline

    spread = np.sqrt(variance + scale**2)
    share = variance / spread**2
    nodes = np.linspace(share.min(), share.max() + 1e-9, NODES)
    at_nodes = errors_of(np.full(NODES, score), nodes, np.sqrt(1 - nodes), degrees_of_freedom)
    errors: Array = CubicSpline(nodes, at_nodes)(share) * spread
    return errors
