"""Scatter: how widely single sales lie about their fitted price, record by record.

log scale = an overall level + effects of declared factors, drawn together by REML as the effects on the
price are: the fit is the engine's own, on log scale. For Student-t errors of scale s, each Fisher-scoring
step regresses log s + (w z² − 1) / I, z the standardised residual, ν the degrees of freedom,
w = (ν + 1) / (ν + z²), and I = 2 ν / (ν + 3) the information on log s (Lange, Little & Taylor 1989, JASA 84).
The score is bounded, so a typing error does not make its whole group look wild.
"""

from collections.abc import Sequence

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.errors import FitError
from pipeline.hedonic.crossproducts import CrossProducts, count, total
from pipeline.hedonic.design import find_cells, find_levels
from pipeline.hedonic.fit import assemble_fit, normal_equations, weights_of
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.layout import make_layout
from pipeline.hedonic.reml import solve
from pipeline.hedonic.reweigh import NO_RECORDS, fitted_values
from pipeline.hedonic.scales import LEAST_SCALE, with_fitted
from pipeline.hedonic.specification import Specification, Term

Array = NDArray[np.float64]

RESPONSE = "log_scale"
ROUNDS = 40
SETTLED = 1e-4
MOST_LEVERAGE = 0.9
ALIKE = 1e-12
"""Working values whose squares come to no more than this are all alike: the scatter is then one and the same."""

MOST_SQUARE = 10.0
"""A squared Gaussian residual counts for no more than this."""


def fit_scatter(fit: Fit, frame: pl.DataFrame, left: pl.DataFrame, terms: Sequence[Term]) -> Fit:
    """Fit the log scale of the errors on terms over the columns of `frame` (and FITTED).

    `frame` holds the records of `fit`, `left` their `residuals`. Each residual is taken to be as wide as
    its leverage left it narrow, e / √(1 − leverage). The result predicts log scale where a fit predicts log
    price; below LEAST_SCALE, where `scales` ends, it means nothing. Raises FitError as `fit` does, and for Huber
    weights, which state no distribution of errors.
    """
    degrees_of_freedom = fit.degrees_of_freedom
    if fit.robust is not None and fit.robust.kind == "huber":
        raise FitError("Huber weights state no distribution of errors", "fit with Student-t errors.")
    weights = weights_of(frame, fit.specification)
    root = 1.0 if weights is None else np.sqrt(weights)
    leverage = np.clip(left["leverage"].to_numpy(), 0, MOST_LEVERAGE)
    errors = left["residual"].to_numpy() * root / np.sqrt(1 - leverage)
    read = with_fitted(frame, left["fitted"])
    design = find_levels(read, Specification(RESPONSE, tuple(terms)))
    cells = find_cells(read, design)
    gram = count(cells, design)
    layout = make_layout(design, gram)
    floor = np.log(LEAST_SCALE)
    log_scale = np.full(len(errors), max(np.log(fit.residual_scale), floor))
    lambdas = None
    for _ in range(ROUNDS):
        working = log_scale + _score(errors / np.exp(log_scale), degrees_of_freedom)
        origin = float(working.mean())
        moment = total(cells, design, working - origin)
        squares = max(float(np.sum((working - origin) ** 2)), ALIKE)
        posed = normal_equations(CrossProducts(gram, moment, squares, origin, len(errors)), layout)
        solution = solve(posed, tolerance=1e-5, start=lambdas)
        lambdas = solution.lambdas
        renewed = np.maximum(origin + fitted_values(cells, layout, solution.coefficients), floor)
        moved = float(np.max(np.abs(renewed - log_scale)))
        log_scale = renewed
        if moved < SETTLED:
            break
    spread = float(np.sqrt(solution.sigma2))
    return assemble_fit(design, layout, solution, len(errors), origin, spread, None, NO_RECORDS)


def _score(standardised: Array, degrees_of_freedom: float) -> Array:
    """Return the step in log scale that one record asks for: its score over its information."""
    squares = standardised**2
    if np.isinf(degrees_of_freedom):
        step: Array = (np.minimum(squares, MOST_SQUARE) - 1) / 2
        return step
    weighted: Array = (degrees_of_freedom + 1) / (degrees_of_freedom + squares) * squares
    return (weighted - 1) * ((degrees_of_freedom + 3) / (2 * degrees_of_freedom))
