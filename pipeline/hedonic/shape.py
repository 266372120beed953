"""Hold a curve to its shape: effects that rise from level to level, where the records allow."""

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.errors import FitError
from pipeline.hedonic.design import Factor
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.inverse import Inverse, sparse_rows
from pipeline.hedonic.layout import ordered_groups
from pipeline.hedonic.levels import readable

Array = NDArray[np.float64]

CONTRADICTED = 2.5
"""A fall of more standard errors than this is real: the records do not allow a rise there."""

SLACK = 1e-10
"""Falls smaller than this, in log price, are rounding."""

ALIKE = 1e-9
"""Levels whose effects differ by less than this, in log price, are valued alike."""


def hold_rising(fit: Fit, column: str) -> Fit:
    """Return the fit with the effects of the curve over a column not falling from one level to the next.

    Where they fall by less than the records can show, the two levels are valued alike: the estimate is
    the point of the rising cone nearest to the free one in the metric of its covariance, found by an
    active set (Lawson & Hanson 1974, ch. 23), and the covariance is that given the levels held alike.
    A fall that the records do show (CONTRADICTED) is left. A fit without a curve over that column is
    returned as it is, whatever its terms are called.
    """
    steps = _steps(fit, column)
    if not steps.shape[0]:
        return fit
    errors = np.sqrt(np.maximum(np.diag(fit.covariance.between(steps, steps)), 0))
    steps = steps[np.flatnonzero(steps @ fit.coefficients >= -CONTRADICTED * errors)]
    held: list[int] = []
    coefficients, covariance = fit.coefficients, fit.covariance
    for _ in range(3 * steps.shape[0] + 1):
        rises = steps @ coefficients
        worst = int(np.argmin(rises)) if len(rises) else 0
        if not len(rises) or rises[worst] >= -SLACK:
            return fit if not held else replace(fit, coefficients=coefficients, covariance=covariance)
        held.append(worst)
        coefficients, covariance, held = _hold(fit, steps, held)
    raise FitError(
        f"the effects of the curve over {column!r} cannot be held to a rise",
        "declare it without a shape, or as `level`.",
    )


def levels_alike(fit: Fit, column: str) -> tuple[tuple[str, str], ...]:
    """Return the neighbouring levels of the curve over a column that are valued alike, each as (lower, upper)."""
    effects = np.append(fit.coefficients, 0.0)
    return tuple(
        (readable(factor.keys[lower]), readable(factor.keys[upper]))
        for factor in _curves(fit, column)
        for members, _ in ordered_groups(factor)
        for lower, upper in pairwise(members)
        if abs(np.diff(effects[fit.layout.positions[factor.start + np.array([lower, upper])]])[0]) < ALIKE
    )


def _curves(fit: Fit, column: str) -> list[Factor]:
    """Return the curves over a column: that over it alone, else those over it for each level of others.

    Beside a curve over the column alone, one for each level of others only says how they differ from it.
    """
    curves = [
        factor
        for factor in fit.design.factors
        if factor.term.kind == "curve" and factor.term.columns[0] == column
    ]
    alone = [factor for factor in curves if len(factor.term.columns) == 1]
    return alone or curves


def _steps(fit: Fit, column: str) -> Any:
    """Return the rows (levels − 1, p), sparse, whose product with the coefficients is the rise to the next level."""
    steps = [
        fit.layout.positions[factor.start + np.array([upper, lower])]
        for factor in _curves(fit, column)
        for members, _ in ordered_groups(factor)
        for lower, upper in pairwise(members)
    ]
    places = np.array(steps, dtype=np.int64).reshape(-1, 2)
    return sparse_rows(places, np.tile([1.0, -1.0], (len(places), 1)), fit.layout.size)


def _hold(fit: Fit, steps: Any, held: list[int]) -> tuple[Array, Inverse, list[int]]:
    """Return the estimate and covariance with the held steps at zero, letting go those that would rise."""
    from scipy.linalg import cho_factor, cho_solve

    while True:
        rows = steps[held]
        factor = cho_factor(fit.covariance.between(rows, rows), lower=True, check_finite=False)
        push = cho_solve(factor, rows @ fit.coefficients, check_finite=False)
        loose = [place for place, force in enumerate(push) if force > 0]
        if not loose:
            coefficients = fit.coefficients - fit.covariance @ (rows.T @ push)
            precision = cho_solve(factor, np.eye(len(held)), check_finite=False)
            return coefficients, fit.covariance.less(rows, precision), held
        held = [step for place, step in enumerate(held) if place != max(loose, key=lambda at: push[at])]


__all__ = ["hold_rising", "levels_alike"]
