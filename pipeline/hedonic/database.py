"""Fit where the records lie: in a DuckDB relation, in Parquet files, or in a partitioned folder.

Nothing but small tables leaves the engine, so memory does not grow with the records. One scan counts,
one more weighs by squared residuals for robust errors, and each round of robust re-weighting is another.
"""

from dataclasses import replace

import duckdb
import numpy as np
from numpy.typing import NDArray

from pipeline.hedonic.crossproducts import CrossProducts
from pipeline.hedonic.design import find_levels_among
from pipeline.hedonic.fit import assemble_fit, normal_equations, warm_start
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.layout import Layout, make_layout
from pipeline.hedonic.reml import Problem, Solution, solve
from pipeline.hedonic.reweigh import NO_RECORDS
from pipeline.hedonic.robust import Robust, scale_from_median
from pipeline.hedonic.scans import Records, Scan, prepare, read_batches, read_levels, read_origin
from pipeline.hedonic.specification import Specification
from pipeline.hedonic.superfactors import Coding, ColumnFactor, column_sets, encode, owner_of
from pipeline.hedonic.tallies import tally_meat, tally_products, tally_scores, tally_spread

Array = NDArray[np.float64]


def fit_from_duckdb(
    connection: duckdb.DuckDBPyConnection,
    records: Records,
    specification: Specification,
    *,
    robust: Robust | None = None,
    robust_errors: bool = False,
    start: Fit | None = None,
    tolerance: float = 1e-9,
) -> Fit:
    """Fit records where they lie; the same estimates as `fit` on the same records in memory.

    `records` is a relation of the connection, or a Parquet file, folder (hive partitions become
    columns) or pattern. `robust_errors` also scans for the HC1 covariance (`Fit.sandwich`). The
    records that re-weighting counts less are not listed: `residuals` lists them on a part in memory.
    Raises FitError as `fit` does, and for a term of more than 50,000 distinct values.
    """
    scan = prepare(connection, records, specification)
    coding, products = count_records(scan, specification)
    layout = make_layout(coding.design, products.gram)
    problem = normal_equations(products, layout)
    solution = solve(problem, tolerance=tolerance, start=warm_start(layout, start))
    scale = float(np.sqrt(solution.sigma2))
    if robust is not None:
        solution, scale = _reweigh(
            scan, coding, layout, problem, solution, products.origin, robust, tolerance
        )
    fitted = assemble_fit(
        coding.design, layout, solution, products.rows, products.origin, scale, robust, NO_RECORDS
    )
    if not robust_errors:
        return fitted
    effects = cell_effects(layout, fitted.coefficients)
    meat = tally_meat(read_batches(scan, coding), coding, effects, robust, scale)
    covered = _sandwich(fitted, meat[np.ix_(layout.cells, layout.cells)])
    return replace(fitted, sandwich=covered * fitted.rows / fitted.residual_df)


def count_records(
    scan: Scan, specification: Specification, coding: Coding | None = None, origin: float | None = None
) -> tuple[Coding, CrossProducts]:
    """Return the coding of the records and their cross-products.

    For a partition give the `coding` and `origin` of the whole, and add up the products. Raises
    FitError where a partition has a level that the coding does not know.
    """
    centre = read_origin(scan, specification)
    coding = find_coding(scan, specification) if coding is None else coding
    batches = read_batches(scan, coding)
    return coding, tally_products(batches, coding, centre if origin is None else origin)


def find_coding(scan: Scan, specification: Specification) -> Coding:
    """Return the coding of the records, from the distinct values of their columns."""
    sets = column_sets(specification)
    levels = [read_levels(scan, columns) for columns in sets]
    owners = [owner_of(term.columns, sets) for term in specification.terms]
    frames = [levels[owner] for owner in owners]
    design = find_levels_among(frames, specification, "records_behind")
    factors = []
    for number, (columns, frame) in enumerate(zip(sets, levels, strict=True)):
        readers = tuple(term for term, owner in enumerate(owners) if owner == number)
        factors.append(ColumnFactor(columns, frame, readers))
    return encode(design, tuple(factors))


def cell_effects(layout: Layout, coefficients: Array) -> Array:
    """Return the effect of each cell (cells,), zero where it has no coefficient."""
    padded: Array = np.append(coefficients, 0.0)[layout.positions[:-1]]
    return padded


def _sandwich(fit: Fit, meat: Array) -> Array:
    """Return bread · meat · bread (p, p), the bread being (X'WX + S)^-1."""
    bread = fit.covariance / fit.sigma2
    covered: Array = bread @ meat @ bread
    return (covered + covered.T) / 2


def _reweigh(
    scan: Scan,
    coding: Coding,
    layout: Layout,
    problem: Problem,
    solution: Solution,
    origin: float,
    robust: Robust,
    tolerance: float,
) -> tuple[Solution, float]:
    """Iterate pseudo-values and penalised fits, one scan a round, until the estimates settle."""
    effects = _effects(layout, solution, origin)
    residual_df = problem.rows - solution.edf
    root_mean_square = float(np.sqrt(solution.residual_squares / problem.rows))
    middle = tally_spread(read_batches(scan, coding), coding, effects, root_mean_square)
    scale = scale_from_median(middle, root_mean_square, problem.rows, residual_df)
    for _ in range(robust.rounds):
        found = tally_scores(read_batches(scan, coding), coding, effects, robust, scale)
        scores = found.totals[layout.cells]
        moment = problem.gram @ solution.coefficients + scores
        pseudo = float(solution.coefficients @ (moment + scores)) + found.squares
        posed = Problem(problem.gram, moment, pseudo, problem.rows, problem.penalties)
        renewed = solve(posed, tolerance=tolerance, start=solution.lambdas)
        moved = float(np.max(np.abs(renewed.coefficients - solution.coefficients)))
        before = scale
        scale = _next_scale(robust, found.squares, found.spread, problem.rows - solution.edf)
        solution = renewed
        effects = _effects(layout, solution, origin)
        if moved < robust.settled and abs(scale / before - 1) < robust.settled:
            break
    return solution, scale


def _next_scale(robust: Robust, squares: float, spread: float, residual_df: float) -> float:
    """Return the scale from the sums of w·(weight·residual/kappa)² and w·weight·residual²."""
    if robust.kind == "huber":
        return float(np.sqrt(squares * robust.kappa**2 / (robust.expected_square * residual_df)))
    return float(np.sqrt(spread / residual_df))


def _effects(layout: Layout, solution: Solution, origin: float) -> Array:
    coefficients = solution.coefficients.copy()
    coefficients[0] += origin
    return cell_effects(layout, coefficients)
