"""The repeat-sales index: what the same thing fetched when it was sold again."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.errors import FitError
from pipeline.hedonic.bands import half_width
from pipeline.hedonic.levels import require_columns

Array = NDArray[np.float64]
Weighting = Literal["equal", "case-shiller"]


@dataclass(frozen=True)
class RepeatIndex:
    """A repeat-sales index.

    `index` has one row a period that the pairs reach: period, index (100 at the first), low, high,
    effect, error (log price, against the first period), pairs (that end or start there).
    `variance_start` and `variance_slope` are the fitted variance of a pair at gap zero and its growth
    with each period (null for equal weights); `guarded` says that the plain fit of it was not positive
    everywhere, so that the non-negative one was taken.
    """

    index: pl.DataFrame
    pairs: int
    weighting: Weighting
    variance_start: float | None
    variance_slope: float | None
    guarded: bool


def repeat_sales_index(
    pairs: pl.DataFrame,
    *,
    weighting: Weighting = "equal",
    weights: Array | None = None,
    level: float = 0.8,
) -> RepeatIndex:
    """Fit the index on resales (columns start, end, log_ratio).

    equal: Bailey, Muth & Nourse (1963, JASA 58), with `weights` of one's own if given. case-shiller:
    their three stages (Case & Shiller 1987), each pair weighed by the inverse of its fitted variance,
    which grows with the gap; where that fit is not positive, the non-negative one takes its place, so
    that no pair is lost. Raises FitError without pairs, or where the periods split into groups that
    no pair joins.
    """
    require_columns(pairs, ("start", "end", "log_ratio"), "the repeat-sales index")
    if not pairs.height:
        raise FitError("no pair was sold twice, so there is no repeat-sales index", "add more records.")
    periods = np.unique(np.concatenate([pairs["start"].to_numpy(), pairs["end"].to_numpy()]))
    start = np.searchsorted(periods, pairs["start"].to_numpy())
    end = np.searchsorted(periods, pairs["end"].to_numpy())
    _require_joined(periods, start, end)
    ratios = pairs["log_ratio"].to_numpy().astype(np.float64)
    first = np.ones(len(ratios)) if weights is None else np.asarray(weights, dtype=np.float64)
    effects, inverse = _solve(len(periods), start, end, ratios, first)
    variance_start = variance_slope = None
    guarded = False
    if weighting == "case-shiller":
        gaps = (pairs["end"] - pairs["start"]).to_numpy().astype(np.float64)
        squares = (ratios - (effects[end] - effects[start])) ** 2
        variance_start, variance_slope, guarded = _variance_fit(gaps, squares)
        fitted = variance_start + variance_slope * gaps
        first = np.ones(len(gaps)) if not fitted.max() > 0 else 1 / np.maximum(fitted, 1e-9 * fitted.max())
        effects, inverse = _solve(len(periods), start, end, ratios, first)
    left = ratios - (effects[end] - effects[start])
    residual_df = max(len(ratios) - (len(periods) - 1), 1)
    sigma2 = float(np.sum(first * left**2)) / residual_df
    errors = np.append(0.0, np.sqrt(sigma2 * np.diag(inverse)))
    half = half_width(errors**2, np.zeros(len(errors)), np.inf, level)
    index = pl.DataFrame(
        {
            "period": periods,
            "index": 100 * np.exp(effects),
            "low": 100 * np.exp(effects - half),
            "high": 100 * np.exp(effects + half),
            "effect": effects,
            "error": errors,
            "pairs": np.bincount(start, minlength=len(periods)) + np.bincount(end, minlength=len(periods)),
        }
    )
    return RepeatIndex(index, len(ratios), weighting, variance_start, variance_slope, guarded)


def _solve(
    count: int, start: NDArray[np.int64], end: NDArray[np.int64], ratios: Array, weights: Array
) -> tuple[Array, Array]:
    """Return (effects (periods,), zero at the first; inverse of X'WX without it)."""
    gram = np.zeros((count, count))
    np.add.at(gram, (end, end), weights)
    np.add.at(gram, (start, start), weights)
    np.add.at(gram, (start, end), -weights)
    np.add.at(gram, (end, start), -weights)
    weighted = weights * ratios
    moment = np.bincount(end, weighted, count) - np.bincount(start, weighted, count)
    inverse: Array = np.linalg.inv(gram[1:, 1:]).astype(np.float64)
    effects: Array = np.append(0.0, inverse @ moment[1:])
    return effects, inverse


def _variance_fit(gaps: Array, squares: Array) -> tuple[float, float, bool]:
    """Return (variance at gap zero, growth a period, whether the non-negative fit was needed)."""
    regressors = np.stack([np.ones(len(gaps)), gaps], axis=1)
    start, slope = np.linalg.lstsq(regressors, squares, rcond=None)[0]
    if np.all(start + slope * gaps > 0):
        return float(start), float(slope), False
    from scipy.optimize import nnls

    start, slope = nnls(regressors, squares)[0]
    return float(start), float(slope), True


def _require_joined(periods: Array, start: NDArray[np.int64], end: NDArray[np.int64]) -> None:
    """Raise FitError where some periods cannot be reached from the first through pairs."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    joins = coo_array((np.ones(len(start)), (start, end)), shape=(len(periods), len(periods)))
    parts, part = connected_components(joins, directed=False)
    if parts > 1:
        apart = periods[part != part[0]]
        raise FitError(
            f"no resale joins {len(apart)} of {len(periods)} periods to the first ({periods[0]}); "
            f"the first of them is {apart[0]}",
            "use longer periods, or add more records.",
        )
