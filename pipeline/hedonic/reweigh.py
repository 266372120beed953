"""Robust re-weighting of records in memory: pseudo-values and penalised fits, in turn, until settled."""

from dataclasses import dataclass, replace
from math import sqrt

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.hedonic.crossproducts import total
from pipeline.hedonic.design import Cells, Design
from pipeline.hedonic.layout import Layout
from pipeline.hedonic.reml import Problem, Solution, solve
from pipeline.hedonic.robust import Robust, starting_scale
from pipeline.hedonic.rows import quadratic
from pipeline.hedonic.threads import one_blas_thread

Array = NDArray[np.float64]

NO_RECORDS = pl.DataFrame(
    schema={"row": pl.Int64, "residual": pl.Float64, "weight": pl.Float64, "influence": pl.Float64}
)


@dataclass(frozen=True)
class RobustRecords:
    """The records of a robust fit: their cells, centred response and root weights, and the model."""

    cells: Cells
    response: Array
    root: Array
    design: Design
    layout: Layout

    def fitted(self, coefficients: Array) -> Array:
        """Return X b (rows,)."""
        return fitted_values(self.cells, self.layout, coefficients)


@dataclass(frozen=True)
class _Place:
    """Where the re-weighting stands: fitted values (rows,), coefficients, and the scale of the errors."""

    fitted: Array
    coefficients: Array
    scale: float


def fitted_values(cells: Cells, layout: Layout, coefficients: Array) -> Array:
    """Return X b (rows,) from cells and coefficients."""
    padded = np.append(coefficients, 0.0)[layout.positions]
    values = np.zeros(len(cells.numbers))
    for slot in range(cells.numbers.shape[1]):
        effects = padded[cells.numbers[:, slot]]
        times = cells.values[slot]
        values += effects if times is None else effects * times
    return values


def reweigh(
    records: RobustRecords, problem: Problem, solution: Solution, robust: Robust, tolerance: float
) -> tuple[Solution, float, pl.DataFrame]:
    """Return (solution, scale of the errors, records of weight below a half).

    Between two searches for the lambdas the coefficients settle at the lambdas found so far, which costs
    one pass over the records a round and no factorisation.
    """
    fitted = records.fitted(solution.coefficients)
    residual_df = problem.rows - solution.edf
    scale = starting_scale((records.response - fitted) * records.root, residual_df)
    place = _Place(fitted, solution.coefficients, scale)
    for _ in range(robust.rounds):
        place = _settle(records, problem, solution, place, robust)
        moment, squares = _pseudo_moment(records, place, robust)
        reweighed = replace(
            problem, moment=moment, squares=squares, prior_squares=problem.prior_squares / robust.kappa
        )
        solution = solve(reweighed, tolerance=tolerance, start=solution.lambdas)
        renewed = records.fitted(solution.coefficients)
        moved = float(np.max(np.abs(renewed - place.fitted)))
        place = _Place(renewed, solution.coefficients, place.scale)
        if moved < robust.settled:
            break
    left = records.response - place.fitted
    weight = robust.weights(left * records.root / place.scale)
    return solution, place.scale, _downweighted(records, solution, left, weight)


def _settle(
    records: RobustRecords, problem: Problem, solution: Solution, place: _Place, robust: Robust
) -> _Place:
    """Iterate pseudo-values at the solution's lambdas until fitted values and scale settle."""
    residual_df = problem.rows - solution.edf
    with one_blas_thread():
        for _ in range(robust.rounds):
            moment, _ = _pseudo_moment(records, place, robust)
            coefficients = solution.inverse @ moment
            fitted = records.fitted(coefficients)
            scale = robust.scale((records.response - fitted) * records.root, place.scale, residual_df)
            scale = sqrt(
                (scale**2 * residual_df + problem.prior_squares) / (residual_df + problem.prior_rows)
            )
            moved = float(np.max(np.abs(fitted - place.fitted)))
            before, place = place, _Place(fitted, coefficients, scale)
            if moved < robust.settled / 2 and abs(scale / before.scale - 1) < robust.settled / 2:
                break
    return place


def _pseudo_moment(records: RobustRecords, place: _Place, robust: Robust) -> tuple[Array, float]:
    """Return (X'Wz, z'Wz) of the pseudo-values z."""
    left = records.response - place.fitted
    weight = robust.weights(left * records.root / place.scale)
    pseudo = place.fitted + weight * left / robust.kappa
    weighted = records.root**2 * pseudo
    moment = total(records.cells, records.design, weighted)[records.layout.cells]
    return moment, float(np.sum(weighted * pseudo))


def _downweighted(records: RobustRecords, solution: Solution, left: Array, weight: Array) -> pl.DataFrame:
    """List the records of weight below a half with their influence on their own fitted value."""
    rows = np.flatnonzero(weight < 0.5)
    places = records.layout.positions[records.cells.numbers[rows]]
    times = [np.ones(len(rows)) if value is None else value[rows] for value in records.cells.values]
    leverage = quadratic(places, np.stack(times, axis=1), solution.inverse) * records.root[rows] ** 2
    influence = np.abs(left[rows]) * leverage / np.maximum(1 - leverage, 1e-6)
    listed = pl.DataFrame(
        {"row": rows, "residual": left[rows], "weight": weight[rows], "influence": influence},
        schema_overrides=dict(NO_RECORDS.schema),
    )
    return listed.sort("influence", "row", descending=[True, False])
