"""Fit a specification on records held in memory."""

from dataclasses import dataclass, replace

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.errors import FitError
from pipeline.hedonic.crossproducts import CrossProducts, cross
from pipeline.hedonic.design import Design, find_cells, find_levels
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.layout import Layout, make_layout
from pipeline.hedonic.levels import require_columns
from pipeline.hedonic.reml import Problem, Solution, solve
from pipeline.hedonic.reweigh import NO_RECORDS, RobustRecords, reweigh
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.specification import Specification

__all__ = ["Fit", "fit"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Prior:
    """A prior on the scale of the errors, worth so many `records` (it matters where records are few).

    Where the records hardly outnumber the effects, they could all be explained away; this keeps a scale.
    """

    records: float
    scale: float


def fit(
    frame: pl.DataFrame,
    specification: Specification,
    *,
    robust: Robust | None = None,
    start: Fit | None = None,
    tolerance: float = 1e-9,
    prior: Prior | None = None,
) -> Fit:
    """Fit log price on the terms, with lambdas by REML and, if asked, robust re-weighting.

    `frame` has one row a sale. `start` is an earlier fit of the same terms, whose lambdas make a warm
    start. `tolerance` bounds the slope of the REML criterion, relative to n - M (1e-4 is enough for
    prices). `prior` is a prior on the errors' scale. Raises FitError for missing
    columns, null or infinite responses, too few records, prices that are all equal.
    """
    response = response_of(frame, specification)
    if len(response) > 1 and np.ptp(response) == 0:
        raise FitError(
            f"all {len(response)} prices are equal, so there is nothing to explain", "check the price column."
        )
    weights = weights_of(frame, specification)
    design = find_levels(frame, specification)
    cells = find_cells(frame, design)
    origin = float(np.average(response, weights=weights))
    products = cross(cells, design, response, weights, origin)
    layout = make_layout(design, products.gram)
    problem = with_prior(normal_equations(products, layout), prior)
    begun = warm_start(layout, start)
    known = robust is not None and begun is not None  # the robust search goes on from these lambdas itself
    solution = solve(problem, tolerance=tolerance, start=begun, fixed=known)
    if robust is None:
        scale = float(np.sqrt(solution.sigma2))
        return assemble_fit(design, layout, solution, problem.rows, origin, scale, None, NO_RECORDS)
    root = np.ones(len(response)) if weights is None else np.sqrt(weights)
    records = RobustRecords(cells, response - origin, root, design, layout)
    solution, scale, listed = reweigh(records, problem, solution, robust, tolerance)
    return assemble_fit(design, layout, solution, problem.rows, origin, scale, robust, listed)


def with_prior(problem: Problem, prior: Prior | None) -> Problem:
    """Return the problem with the prior on the scale of its errors."""
    if prior is None:
        return problem
    return replace(problem, prior_rows=prior.records, prior_squares=prior.records * prior.scale**2)


def response_of(frame: pl.DataFrame, specification: Specification) -> Array:
    """Return the response; raises FitError where it is missing, null, NaN or infinite."""
    return _numbers(frame, specification.response, "the response")


def weights_of(frame: pl.DataFrame, specification: Specification) -> Array | None:
    """Return the weights or None; raises FitError where one is null, infinite or not positive."""
    if specification.weights is None:
        return None
    weights = _numbers(frame, specification.weights, "the weights")
    wrong = int(np.sum(weights <= 0))
    if wrong:
        raise FitError(
            f"{wrong} weights in the column {specification.weights!r} are not positive",
            "leave those records out instead.",
        )
    return weights


def _numbers(frame: pl.DataFrame, column: str, role: str) -> Array:
    require_columns(frame, (column,), role)
    values = frame.get_column(column)
    if not values.dtype.is_numeric():
        raise FitError(f"{role} column {column!r} is {values.dtype}", "give numbers (log price).")
    if not len(values):
        raise FitError(f"{role} column {column!r} has no rows", "add some records.")
    numbers = values.cast(pl.Float64).fill_null(float("nan")).to_numpy().astype(np.float64)
    wrong = np.flatnonzero(~np.isfinite(numbers))
    if len(wrong):
        first = values[int(wrong[0])]
        raise FitError(
            f"{len(wrong)} of {len(numbers)} values in {role} column {column!r} are null, NaN or infinite "
            f"(the first in row {int(wrong[0]) + 1}: {first})",
            "leave those records out or correct them.",
        )
    return numbers


def normal_equations(products: CrossProducts, layout: Layout) -> Problem:
    """Return the normal equations over the coefficients of a layout."""
    kept = layout.cells
    return Problem(
        products.gram[np.ix_(kept, kept)],
        products.moment[kept],
        products.squares,
        products.rows,
        layout.penalties,
    )


def warm_start(layout: Layout, start: Fit | None) -> Array | None:
    """Return the lambdas of an earlier fit for the penalties of a layout, or None."""
    if start is None or any(penalty.term not in start.lambdas for penalty in layout.penalties):
        return None
    return np.array([start.lambdas[penalty.term] for penalty in layout.penalties])


def assemble_fit(
    design: Design,
    layout: Layout,
    solution: Solution,
    rows: int,
    origin: float,
    scale: float,
    robust: Robust | None,
    downweighted: pl.DataFrame,
) -> Fit:
    """Return the fit that a solution makes, its intercept moved back by `origin`."""
    coefficients = solution.coefficients.copy()
    coefficients[0] += origin
    lambdas = {
        penalty.term: float(value) for penalty, value in zip(layout.penalties, solution.lambdas, strict=True)
    }
    return Fit(
        design.specification,
        design,
        layout,
        coefficients,
        solution.sigma2 * solution.inverse,
        solution.sigma2,
        scale,
        robust,
        lambdas,
        solution.edf,
        rows,
        solution.convergence,
        downweighted,
    )
