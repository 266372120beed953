"""How many grades each treatment gains: the owner's figure, adjusted by pairs graded before and after."""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.answers.restoration.resales import USED, did
from pipeline.config import Market

Array = NDArray[np.float64]

OWNERS_ERROR = 0.5
"""How far the owner's figure in the market file may be off, in grades (one standard error)."""

USUAL_SPREAD = 0.5
"""How far single outcomes scatter around the mean gain, in grades, with too few pairs to say (a convention)."""

FEWEST_PAIRS = 10
"""With fewer pairs than this the scatter of single outcomes is not estimated."""


@dataclass(frozen=True)
class GradeGains:
    """The gain in grade of each treatment.

    `mean` (k,) and `covariance` (k, k) of the average gain, in grades, in the order of `treatments`; `spread`
    is the standard deviation of one outcome around it. `stated` (k,) is the market file's figure, `pairs` (k,) how
    many pairs were graded before and after.
    """

    treatments: tuple[str, ...]
    mean: Array
    covariance: Array
    spread: float
    stated: Array
    pairs: NDArray[np.int64]

    def of(self, chosen: tuple[str, ...]) -> tuple[float, float]:
        """Return (average gain, its standard error) of a set of treatments done together, in grades."""
        places = [self.treatments.index(name) for name in chosen]
        within = np.ix_(places, places)
        return float(self.mean[places].sum()), float(np.sqrt(max(self.covariance[within].sum(), 0.0)))


def estimate_gains(resold: pl.DataFrame, market: Market) -> GradeGains:
    """Estimate the gains from the resales that count (see `resold_pairs`), shrunk towards the market file's figure.

    A pair's change of grade is the sum of the gains of what was done to it, plus an error: graders disagree.
    Normal theory: the owner's figure has a standard error of OWNERS_ERROR, a change the scatter that the changes
    have around the fit.
    """
    names = tuple(treatment.name for treatment in market.treatments)
    stated = np.array([treatment.grade_gain for treatment in market.treatments], dtype=np.float64)
    used = resold.filter((pl.col("reason") == USED) & (pl.col("between").list.len() > 0))
    done = (
        used.select(did(name).alias(name) for name in names).to_numpy().astype(np.float64)
        if names
        else np.zeros((used.height, 0))
    )
    changes = used["grade_change"].to_numpy().astype(np.float64)
    spread = USUAL_SPREAD
    mean, covariance = _posterior(done, changes, stated, spread)
    if len(changes) >= FEWEST_PAIRS:
        for _ in range(20):
            left = changes - done @ mean
            spread = max(float(np.sqrt(np.mean(left**2))), 0.1)
            mean, covariance = _posterior(done, changes, stated, spread)
    return GradeGains(names, mean, covariance, spread, stated, done.sum(axis=0).astype(np.int64))


def _posterior(done: Array, changes: Array, stated: Array, spread: float) -> tuple[Array, Array]:
    precision = np.eye(len(stated)) / OWNERS_ERROR**2 + done.T @ done / spread**2
    covariance: Array = np.linalg.inv(precision).astype(np.float64)
    mean = stated + covariance @ done.T @ (changes - done @ stated) / spread**2
    return mean, covariance
