"""The records that a robust fit hardly believes."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import polars as pl

from pipeline.hedonic.leverage import Leverages
from pipeline.hedonic.reweigh import Standing, effects_of
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.source import Batch, Coded, Sums
from pipeline.hedonic.tallies import Effects

HALF = 0.5
MOST_LISTED = 1000
"""So many of the records that a fit counts less are listed, those that would move it most."""

NO_RECORDS = pl.DataFrame(
    schema={"row": pl.Int64, "residual": pl.Float64, "weight": pl.Float64, "influence": pl.Float64}
)


@dataclass(frozen=True)
class _Listed:
    """Some records, the most influential first; two lists make one of the same length at most."""

    records: pl.DataFrame

    def __add__(self, other: "_Listed") -> "_Listed":
        both = pl.concat([self.records, other.records])
        return _Listed(both.sort("influence", "row", descending=[True, False]).head(MOST_LISTED))


@dataclass(frozen=True)
class _ListDoubtful:
    """List the records of weight below a half ("listed"), and count them ("count")."""

    standing: Standing
    robust: Robust
    effects: Effects
    leverages: Leverages

    def __call__(self, batches: Iterable[Batch]) -> Sums:
        listed, count = _Listed(NO_RECORDS), 0
        one = self.standing
        for batch in batches:
            left = self.effects.residuals(batch, 0)[:, 0]
            root = np.ones(len(left)) if batch.weights is None else np.sqrt(batch.weights)
            weight = self.robust.weights(left * root / one.scale)
            rows = np.flatnonzero(weight < HALF)
            if not len(rows):
                continue
            leverage = self.leverages.of(batch.taken(rows)) * root[rows] ** 2
            influence = np.abs(left[rows]) * leverage / np.maximum(1 - leverage, 1e-6)
            some = pl.DataFrame(
                {
                    "row": batch.row[rows],
                    "residual": left[rows],
                    "weight": weight[rows],
                    "influence": influence,
                }
            )
            listed, count = listed + _Listed(some), count + len(rows)
        return {"listed": listed, "count": count}


def find_doubtful(coded: Coded, standing: Standing, robust: Robust) -> tuple[pl.DataFrame, int]:
    """Return (row, residual, weight, influence) of the records whose weight fell below a half, and how many there are.

    The MOST_LISTED most influential at most: `influence` is the log price by which a record would draw its own fitted
    value if it had full weight.
    """
    few = Leverages(standing.carried, standing.places, standing.solution.inverse, 0)
    sums = coded.add_up(_ListDoubtful(standing, robust, effects_of([standing]), few))
    listed: _Listed = sums["listed"]
    return listed.records, sums["count"]
