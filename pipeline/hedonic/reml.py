"""REML: the penalised fit and its smoothing parameters, from cross-products alone.

The criterion is the restricted likelihood of y = Xb + e, e ~ N(0, sigma²/w), with D_j b_j ~ N(0,
sigma²/lambda_j). Fellner-Schall steps (Wood & Fasiolo 2017, Biometrics 73) lead to the neighbourhood of
the optimum, Newton steps on log lambda to its digits.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.errors import FitError
from pipeline.hedonic.convergence import Convergence
from pipeline.hedonic.elimination import Elimination, Inverted, eliminate
from pipeline.hedonic.inverse import Inverse
from pipeline.hedonic.penalties import Penalty
from pipeline.hedonic.threads import one_blas_thread

Array = NDArray[np.float64]

LAMBDA_RANGE = (1e-4, 1e7)
LARGEST_STEP = np.log(1000.0)
FARTHEST_STEP = 4.0
SHARES = (1.0, 0.25)
"""The shares of a Newton step that are tried, one after the other, until the criterion falls."""

SLOWEST = 200


@dataclass(frozen=True)
class Problem:
    """The normal equations: `gram` (p, p, sparse) = X'WX, `moment` (p,) = X'Wy, `squares` = y'Wy, `rows` = n.

    `prior_rows` and `prior_squares` are the prior of sigma²: so many residuals with that
    sum of squares (an inverse chi-square prior). Zero: no prior. `elimination` is worked out
    from `gram` and `penalties`; a problem made of another by `replace` keeps it while both are the same.
    """

    gram: Any
    moment: Array
    squares: float
    rows: int
    penalties: tuple[Penalty, ...]
    prior_rows: float = 0.0
    prior_squares: float = 0.0
    elimination: Elimination | None = None

    def eliminated(self) -> Elimination:
        """Return the elimination of the local effects from these normal equations."""
        known = self.elimination
        if known is None or known.gram is not self.gram or known.penalties is not self.penalties:
            known = eliminate(self.gram, self.penalties)
            object.__setattr__(self, "elimination", known)
        return known

    @property
    def unpenalised(self) -> int:
        """Return M, the number of directions that no penalty touches."""
        return len(self.moment) - sum(penalty.rank for penalty in self.penalties)

    @property
    def residual_df(self) -> float:
        """Return n - M, and what the prior adds to it: the residuals that sigma² rests on."""
        return self.rows - self.unpenalised + self.prior_rows


@dataclass(frozen=True)
class Solution:
    """A penalised fit. `inverse` is (X'WX + S)^-1; `sigma2` the REML one; `edf` tr(inverse · X'WX)."""

    coefficients: Array
    inverse: Inverse
    sigma2: float
    lambdas: Array
    edf: float
    residual_squares: float
    convergence: Convergence


@dataclass(frozen=True)
class _State:
    """One solve at given lambdas, with what the next step needs. Slopes are of -2 log REML."""

    log_lambdas: Array
    coefficients: Array
    inverted: Inverted
    criterion: float
    sigma2: float
    forms: Array

    @property
    def traces(self) -> Array:
        """tr(V S) of each penalty."""
        return self.inverted.traces


def solve(
    problem: Problem, *, tolerance: float = 1e-9, start: Array | None = None, fixed: bool = False
) -> Solution:
    """Fit with lambdas chosen by REML (or kept at `start` when `fixed`).

    `tolerance` bounds the slope of the criterion in each log lambda, relative to n - M. A loose one
    (1e-4) is enough for prices; variance components want the default. Raises FitError when the records
    do not outnumber the unpenalised directions or leave nothing to explain.
    """
    if problem.rows <= problem.unpenalised:
        raise FitError(
            f"{problem.rows} records cannot carry {problem.unpenalised} unpenalised effects",
            "pool some terms, leave some out, or add more records.",
        )
    if not problem.squares > 0:
        raise FitError(
            f"all {problem.rows} values of the response are equal, so there is nothing to explain",
            "check the response column.",
        )
    with one_blas_thread():
        return _search(problem, tolerance, start, fixed)


def _search(problem: Problem, tolerance: float, start: Array | None, fixed: bool) -> Solution:
    log_lambdas = _first_guess(problem) if start is None else np.log(np.asarray(start, dtype=np.float64))
    state = _evaluate(problem, log_lambdas)
    steps, newton_steps, failed = 1, 0, 0
    while len(problem.penalties) and not fixed and steps < SLOWEST:
        if _slope_left(problem, state) <= tolerance:
            break
        newton = _newton_step(problem, state) if failed < len(SHARES) else None
        proposal = _fellner_schall(problem, state) if newton is None else SHARES[failed] * newton
        advanced = _evaluate(problem, _bounded(state.log_lambdas, proposal))
        steps += 1
        slack = 1e-9 * abs(state.criterion)
        if newton is not None and advanced.criterion > state.criterion + slack:
            failed += 1
            continue
        newton_steps += newton is not None
        failed = 0
        stuck = bool(np.all(np.abs(advanced.log_lambdas - state.log_lambdas) < 1e-13))
        state = advanced
        if stuck:
            break
    return _solution_of(problem, state, steps, newton_steps, tolerance)


def _first_guess(problem: Problem) -> Array:
    """Return log lambdas that weigh a penalty like a tenth of the records behind a coefficient."""
    diagonal = problem.gram.diagonal()
    guesses = [np.mean(diagonal[penalty.span]) / 10 for penalty in problem.penalties]
    guess: Array = np.log(np.clip(np.array(guesses, dtype=np.float64), 1e-2, 1e4))
    return guess


def _evaluate(problem: Problem, log_lambdas: Array) -> _State:
    lambdas = np.exp(log_lambdas)
    inverted = problem.eliminated().invert(lambdas)
    coefficients = inverted.inverse @ problem.moment
    left = problem.moment - problem.gram @ coefficients
    for penalty, factor in zip(problem.penalties, lambdas, strict=True):
        left[penalty.span] -= factor * penalty.times(coefficients[penalty.span])
    coefficients += inverted.inverse @ left
    forms = np.array([penalty.form(coefficients) for penalty in problem.penalties])
    residual = residual_squares(problem, coefficients)
    penalised = max(residual + float(lambdas @ forms), 1e-14 * problem.squares) + problem.prior_squares
    residual_df = problem.residual_df
    ranks = np.array([penalty.rank for penalty in problem.penalties], dtype=np.float64)
    logs = inverted.log_determinant - float(ranks @ log_lambdas)
    criterion = residual_df * np.log(penalised / residual_df) + logs
    return _State(log_lambdas, coefficients, inverted, criterion, penalised / residual_df, forms)


def residual_squares(problem: Problem, coefficients: Array) -> float:
    """Return the weighted sum of squared residuals."""
    fitted = problem.gram @ coefficients
    return float(problem.squares - 2 * (coefficients @ problem.moment) + coefficients @ fitted)


def _slopes(problem: Problem, state: _State) -> Array:
    """Return d(-2 log REML)/d log lambda."""
    lambdas = np.exp(state.log_lambdas)
    ranks = np.array([penalty.rank for penalty in problem.penalties])
    slopes: Array = lambdas * state.forms / state.sigma2 + lambdas * state.traces - ranks
    return slopes


def _free(problem: Problem, state: _State) -> NDArray[np.bool_]:
    """Return which log lambdas are not held at a bound by their slope."""
    low, high = np.log(LAMBDA_RANGE)
    slopes = _slopes(problem, state)
    at_high = (state.log_lambdas >= high) & (slopes < 0)
    at_low = (state.log_lambdas <= low) & (slopes > 0)
    free: NDArray[np.bool_] = ~(at_high | at_low)
    return free


def _slope_left(problem: Problem, state: _State) -> float:
    slopes = np.abs(_slopes(problem, state))[_free(problem, state)]
    return float(slopes.max(initial=0.0)) / max(problem.rows - problem.unpenalised, 1)


def _fellner_schall(problem: Problem, state: _State) -> Array:
    """Return the step in log lambda, over-relaxed by a half."""
    lambdas = np.exp(state.log_lambdas)
    ranks = np.array([penalty.rank for penalty in problem.penalties])
    gain = np.maximum(ranks - lambdas * state.traces, 1e-12)
    loss = np.maximum(lambdas * state.forms / state.sigma2, 1e-12)
    step: Array = 1.5 * np.log(gain / loss)
    return step


def _newton_step(problem: Problem, state: _State) -> Array | None:
    """Return the Newton step on the free log lambdas, or None where all are held.

    Where the criterion is not bowl-shaped (a variance that goes to zero makes it flat), the size of its curvature
    stands for it, so that the step goes downhill (Wood 2011, JRSS B 73, section 6.2), and no direction goes farther
    than FARTHEST_STEP.
    """
    free = np.flatnonzero(_free(problem, state))
    if not len(free):
        return None
    curvature = _curvature(problem, state)[np.ix_(free, free)]
    values, vectors = np.linalg.eigh(curvature)
    sizes = np.maximum(np.abs(values), 1e-10 * max(float(np.abs(values).max()), 1.0))
    along = (vectors.T @ _slopes(problem, state)[free]) / sizes
    step = np.zeros(len(state.log_lambdas))
    step[free] = -vectors @ np.clip(along, -FARTHEST_STEP, FARTHEST_STEP)
    return step


def _curvature(problem: Problem, state: _State) -> Array:
    """Return the second derivatives of -2 log REML in the log lambdas."""
    lambdas = np.exp(state.log_lambdas)
    residual_df = problem.residual_df
    count = len(lambdas)
    pulls = np.zeros((len(state.coefficients), count))
    for number, penalty in enumerate(problem.penalties):
        pulls[penalty.span, number] = lambdas[number] * penalty.times(state.coefficients[penalty.span])
    mixed = pulls.T @ (state.inverted.inverse @ pulls)
    forms = lambdas * state.forms
    curvature: Array = (np.diag(forms) - 2 * mixed) / state.sigma2 - np.outer(forms, forms) / (
        state.sigma2**2 * residual_df
    )
    curvature -= np.outer(lambdas, lambdas) * state.inverted.crossed
    curvature[np.diag_indices(count)] += lambdas * state.traces
    return curvature


def _bounded(log_lambdas: Array, step: Array) -> Array:
    low, high = np.log(LAMBDA_RANGE)
    moved: Array = np.clip(log_lambdas + np.clip(step, -LARGEST_STEP, LARGEST_STEP), low, high)
    return moved


def _solution_of(
    problem: Problem, state: _State, steps: int, newton_steps: int, tolerance: float
) -> Solution:
    lambdas = np.exp(state.log_lambdas)
    low, high = np.log(LAMBDA_RANGE)
    held = (state.log_lambdas >= high) | (state.log_lambdas <= low)
    left = _slope_left(problem, state)
    convergence = Convergence(
        steps,
        newton_steps,
        left,
        left <= tolerance,
        float(state.criterion),
        tuple(penalty.term for penalty, bound in zip(problem.penalties, held, strict=True) if bound),
        state.inverted.floor,
    )
    edf = len(state.coefficients) - float(lambdas @ state.traces)
    residual = residual_squares(problem, state.coefficients)
    return Solution(
        state.coefficients, state.inverted.inverse, state.sigma2, lambdas, edf, residual, convergence
    )
