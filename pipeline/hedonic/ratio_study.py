"""The ratio study: how estimates stand to prices, as assessors judge it (IAAO, Standard on Ratio Studies, 2013)."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.errors import FitError

Array = NDArray[np.float64]

FEWEST = 3
REPLICATES = 500

RANGES: dict[str, tuple[float, float]] = {
    "median ratio": (0.90, 1.10),
    "COD": (5.0, 20.0),
    "PRD": (0.98, 1.03),
    "PRB": (-0.05, 0.05),
}
"""What the standard holds acceptable (COD: for a heterogeneous market), from memory."""


@dataclass(frozen=True)
class Estimate:
    """A statistic with its 95 % interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class RatioStudy:
    """ratio = estimate / price of each sale.

    `median_ratio`: the level. `cod`: 100 · mean |ratio − median| / median, the coefficient of dispersion.
    `prd`: mean ratio over Σ estimate / Σ price; above 1 where expensive things are undervalued. `prb`: slope of
    (ratio − median) / median on log₂ of half (estimate / median + price): what happens to the ratio when
    the value doubles.
    """

    sales: int
    median_ratio: Estimate
    cod: Estimate
    prd: Estimate
    prb: Estimate


def ratio_study(estimates: ArrayLike, prices: ArrayLike, *, seed: int) -> RatioStudy:
    """Return the ratio study of estimates on prices (same currency, positive, sale by sale).

    The interval of the median is that of order statistics, that of PRB the least-squares one; those of COD
    and PRD are bootstrap percentiles, drawn from `seed`. Raises FitError for fewer than FEWEST sales, or
    values that are not positive.
    """
    estimate = np.asarray(estimates, dtype=np.float64)
    price = np.asarray(prices, dtype=np.float64)
    if len(price) < FEWEST:
        raise FitError(f"{len(price)} sales make no ratio study", f"{FEWEST} are needed at least.")
    wrong = int(np.sum(~((estimate > 0) & (price > 0) & np.isfinite(estimate) & np.isfinite(price))))
    if wrong:
        raise FitError(
            f"{wrong} of {len(price)} estimates or prices are not positive numbers", "leave those sales out."
        )
    draws = np.random.default_rng(seed)
    picked = (draws.integers(0, len(price), len(price)) for _ in range(REPLICATES))
    drawn = np.array(
        [(_cod(estimate[some], price[some]), _prd(estimate[some], price[some])) for some in picked]
    )
    low, high = np.quantile(drawn, [0.025, 0.975], axis=0)
    return RatioStudy(
        len(price),
        _median(estimate / price),
        Estimate(_cod(estimate, price), float(low[0]), float(high[0])),
        Estimate(_prd(estimate, price), float(low[1]), float(high[1])),
        _prb(estimate, price),
    )


def ratio_figures(estimate: Array, price: Array) -> dict[str, float]:
    """Return the four statistics by name, without intervals."""
    return {
        "median ratio": float(np.median(estimate / price)),
        "COD": _cod(estimate, price),
        "PRD": _prd(estimate, price),
        "PRB": _prb(estimate, price).value,
    }


def _median(ratios: Array) -> Estimate:
    """Return the median with the order statistics that hold it with 95 % (binomial, widened to whole places)."""
    from scipy.special import bdtr

    ordered = np.sort(ratios)
    count = len(ordered)
    chances = bdtr(np.arange(count), count, 0.5)
    outside = int(np.searchsorted(chances, 0.025, side="right"))
    first = max(outside - 1, 0)
    return Estimate(float(np.median(ordered)), float(ordered[first]), float(ordered[count - 1 - first]))


def _cod(estimate: Array, price: Array) -> float:
    ratio = estimate / price
    median = float(np.median(ratio))
    return float(100 * np.mean(np.abs(ratio - median)) / median)


def _prd(estimate: Array, price: Array) -> float:
    return float(np.mean(estimate / price) / (estimate.sum() / price.sum()))


def _prb(estimate: Array, price: Array) -> Estimate:
    from scipy.special import stdtrit

    ratio = estimate / price
    median = float(np.median(ratio))
    left = (ratio - median) / median
    right = np.log2((estimate / median + price) / 2)
    centred = right - right.mean()
    square = float(centred @ centred)
    if not square > 0:
        return Estimate(0.0, float("-inf"), float("inf"))
    slope = float(centred @ left) / square
    rest = left - left.mean() - slope * centred
    error = float(np.sqrt(rest @ rest / (len(ratio) - 2) / square))
    half = float(stdtrit(len(ratio) - 2, 0.975)) * error
    return Estimate(slope, slope - half, slope + half)
