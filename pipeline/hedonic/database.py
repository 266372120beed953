"""Fit where the records lie: in a DuckDB relation, in Parquet files, or in a partitioned folder.

Nothing but small tables leaves the engine, so memory does not grow with the records. One scan counts,
one more weighs by squared residuals for robust errors, and each round of robust re-weighting is another.
"""

from dataclasses import replace

import duckdb
import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.errors import FitError
from pipeline.hedonic.covariance import sandwich
from pipeline.hedonic.crossproducts import CrossProducts
from pipeline.hedonic.design import Design, find_levels_among
from pipeline.hedonic.fit import conclude, pose, warm_start
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.layout import Layout, lay_out
from pipeline.hedonic.reml import Problem, Solution, solve
from pipeline.hedonic.reweigh import NO_RECORDS
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.scans import (
    Records,
    Scan,
    prepare,
    read_levels,
    read_pair_tables,
    read_residual_tables,
    read_response,
    read_score_tables,
    read_spread,
)
from pipeline.hedonic.specification import Specification
from pipeline.hedonic.superfactors import (
    Coding,
    ColumnFactor,
    column_sets,
    encode,
    gather,
    gather_scores,
    level_moment,
    owner_of,
)

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
    layout = lay_out(coding.design, products.gram)
    problem = pose(products, layout)
    solution = solve(problem, tolerance=tolerance, start=warm_start(layout, start))
    scale = float(np.sqrt(solution.sigma2))
    if robust is not None:
        solution, scale = _reweigh(
            scan, coding, layout, problem, solution, products.origin, robust, tolerance
        )
    fitted = conclude(
        coding.design, layout, solution, products.rows, products.origin, scale, robust, NO_RECORDS
    )
    if not robust_errors:
        return fitted
    effects = cell_effects(layout, fitted.coefficients)
    tables = read_residual_tables(scan, coding, effects, robust, scale)
    meat = gather(coding, tables)[np.ix_(layout.cells, layout.cells)]
    return replace(fitted, sandwich=sandwich(fitted, meat) * fitted.rows / fitted.residual_df)


def count_records(
    scan: Scan, specification: Specification, coding: Coding | None = None, origin: float | None = None
) -> tuple[Coding, CrossProducts]:
    """Return the coding of the records and their cross-products.

    For a partition give the `coding` and `origin` of the whole, and add up the products. Raises
    FitError where a partition has a level that the coding does not know.
    """
    sums = read_response(scan, specification)
    centre = sums["origin"] if origin is None else origin
    own_sets = column_sets(specification)
    levels = [read_levels(scan, columns, centre) for columns in own_sets]
    coding = _code(specification, own_sets, levels) if coding is None else _recount(coding, levels)
    tables = read_pair_tables(scan, coding)
    squares = sums["squares"] - 2 * centre * sums["total"] + centre**2 * sums["weight"]
    moment = level_moment(coding, sums["total"] - centre * sums["weight"])
    products = CrossProducts(gather(coding, tables), moment, squares, centre, int(sums["records"]))
    return coding, products


def _code(specification: Specification, sets: list[tuple[str, ...]], levels: list[pl.DataFrame]) -> Coding:
    owners = [owner_of(term.columns, sets) for term in specification.terms]
    frames = [levels[owner] for owner in owners]
    design: Design = find_levels_among(frames, specification, "records_behind")
    factors = tuple(
        ColumnFactor(columns, frame, tuple(term for term, owner in enumerate(owners) if owner == number))
        for number, (columns, frame) in enumerate(zip(sets, levels, strict=True))
    )
    return encode(design, factors)


def _recount(coding: Coding, levels: list[pl.DataFrame]) -> Coding:
    """Return the coding with the records and moments of a partition in place of the whole's."""
    factors = []
    for factor, frame in zip(coding.factors, levels, strict=True):
        known = factor.levels.select(factor.columns).with_row_index("order")
        joined = known.join(frame, on=list(factor.columns), how="full", nulls_equal=True, coalesce=True)
        strangers = joined["order"].null_count()
        if strangers:
            raise FitError(
                f"a partition has {strangers} values of {' × '.join(factor.columns)} that the whole has not",
                "find the levels over all partitions first.",
            )
        filled = (
            joined.sort("order").drop("order").with_columns(pl.col("records_behind", "moment").fill_null(0))
        )
        factors.append(replace(factor, levels=filled))
    return replace(coding, factors=tuple(factors))


def cell_effects(layout: Layout, coefficients: Array) -> Array:
    """Return the effect of each cell (cells + 1,), nought where it has no coefficient."""
    padded: Array = np.append(coefficients, 0.0)[layout.positions]
    return padded


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
    middle, mean_square = read_spread(scan, coding, effects)
    spare = problem.rows - solution.edf
    scale = middle / 0.6744897501960817 * np.sqrt(problem.rows / spare)
    scale = float(max(scale, 1e-6 * np.sqrt(mean_square)))
    for _ in range(robust.rounds):
        tables = read_score_tables(scan, coding, effects, robust, scale)
        scores = gather_scores(coding, tables, "score")[layout.cells]
        first = tables.filter(pl.col("s1").is_not_null())
        squares, spread = float(first["squares"].sum()), float(first["spread"].sum())
        moment = problem.gram @ solution.coefficients + scores
        pseudo = float(solution.coefficients @ (moment + scores)) + squares
        posed = Problem(problem.gram, moment, pseudo, problem.rows, problem.penalties)
        renewed = solve(posed, tolerance=tolerance, start=solution.lambdas)
        moved = float(np.max(np.abs(renewed.coefficients - solution.coefficients)))
        before = scale
        scale = _next_scale(robust, squares, spread, problem.rows - solution.edf)
        solution = renewed
        effects = _effects(layout, solution, origin)
        if moved < robust.settled and abs(scale / before - 1) < robust.settled:
            break
    return solution, scale


def _next_scale(robust: Robust, squares: float, spread: float, spare: float) -> float:
    """Return the scale from the sums of w·(weight·residual/kappa)² and w·weight·residual²."""
    if robust.kind == "huber":
        return float(np.sqrt(squares * robust.kappa**2 / (robust.expected_square * spare)))
    return float(np.sqrt(spread / spare))


def _effects(layout: Layout, solution: Solution, origin: float) -> Array:
    coefficients = solution.coefficients.copy()
    coefficients[0] += origin
    return cell_effects(layout, coefficients)
