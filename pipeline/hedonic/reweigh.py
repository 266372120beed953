"""Robust re-weighting of fits that advance together: each round is one pass over the records, for all of them.

Pseudo-values and penalised fits take turns until the estimates settle. Between two searches for the lambdas the
coefficients settle at the lambdas found so far, which costs no factorisation.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from pipeline.errors import FitError
from pipeline.hedonic.design import Design
from pipeline.hedonic.layout import Layout
from pipeline.hedonic.reml import Problem, Solution, solve
from pipeline.hedonic.robust import Robust, scale_from_median
from pipeline.hedonic.source import Coded
from pipeline.hedonic.tallies import CountSizes, Effects, SumScores, middle_sizes
from pipeline.heed import Heed

Array = NDArray[np.float64]

LEAST_SIZE = 1e-9
"""Residuals of a smaller root mean square than this, in log price, are rounding."""


@dataclass
class Standing:
    """Where one of the fits stands.

    `last` is the last stage that it knows. `carried` says how often each number of the super-factors carries each
    coefficient (numbers, p); `problem` holds the unweighted normal equations, the response less `centre`. `tolerance`
    is the stop of REML. `fault` says why the fit came to nothing.
    """

    last: int
    design: Design
    layout: Layout
    carried: csr_array
    problem: Problem
    places: NDArray[np.int32]
    centre: float
    robust: Robust | None
    tolerance: float
    solution: Solution
    coefficients: Array
    scale: float
    searches: int = 0
    rounds: int = 0
    fault: FitError | None = None
    done: bool = False

    def moved(self, step: Array) -> float:
        """Return the most by which a step in the coefficients can move a fitted value: the sum over super-factors."""
        return farthest(self.carried @ step, self.places)

    def advance(self, robust: Robust, scores: Array, squares: float, spread: float) -> None:
        """Take one step: `scores` (p,), `squares` and `spread` are the sums at the coefficients and scale so far."""
        fitted = self.problem.gram @ self.coefficients
        moment = fitted + scores
        residual_df = self.problem.rows - self.solution.edf
        free = robust.scale(squares, spread, residual_df)
        prior = self.problem.prior_squares
        scale = sqrt((free**2 * residual_df + prior) / (residual_df + self.problem.prior_rows))
        coefficients: Array = self.solution.inverse @ moment
        self.rounds += 1
        near = robust.settled / 2
        settled = self.moved(coefficients - self.coefficients) < near and abs(scale / self.scale - 1) < near
        if settled or self.rounds >= robust.rounds:
            posed = replace(
                self.problem,
                moment=moment,
                squares=float(self.coefficients @ (fitted + 2 * scores)) + squares,
                prior_squares=self.problem.prior_squares / robust.kappa,
            )
            self.solution = solve(posed, tolerance=self.tolerance, start=self.solution.lambdas)
            coefficients = self.solution.coefficients
            self.searches, self.rounds = self.searches + 1, 0
            still = self.moved(coefficients - self.coefficients) < robust.settled
            self.done = still or self.searches >= robust.rounds
        self.coefficients, self.scale = coefficients, scale


def farthest(steps: Array, places: NDArray[np.int32]) -> float:
    """Return the most by which steps in the effects of numbers can move a record: one of each super-factor."""
    return float(np.maximum.reduceat(np.abs(steps), places[:-1]).sum())


def effects_of(standing: Sequence[Standing]) -> Effects:
    """Return the effects of fits, which stand in the order of their last stages."""
    effects = np.stack([one.carried @ one.coefficients for one in standing], axis=1)
    effects[: standing[0].places[1]] += np.array([one.centre for one in standing])
    return Effects(effects, np.array([one.last for one in standing]))


def reweigh(coded: Coded, standing: Sequence[Standing], heed: Heed) -> None:
    """Re-weigh the records of all fits until each has settled, or cannot be solved; `heed` is called in between."""
    active: list[Any] = [one for one in standing if one.robust is not None]
    if not active:
        return
    sizes = [
        max(sqrt(max(one.solution.residual_squares, 0) / one.problem.rows), LEAST_SIZE) for one in active
    ]
    counts = coded.add_up(CountSizes(effects_of(active), np.array(sizes)))["sizes"]
    for one, middle, size in zip(active, middle_sizes(counts, np.array(sizes)), sizes, strict=True):
        rows = one.problem.rows
        one.scale = scale_from_median(float(middle), size, rows, rows - one.solution.edf)
    while active:
        robust = active[0].robust
        sums = coded.add_up(SumScores(effects_of(active), np.array([one.scale for one in active]), robust))
        for place, one in enumerate(active):
            heed()
            scores = one.carried.T @ sums["totals"][:, place]
            try:
                one.advance(one.robust, scores, float(sums["squares"][place]), float(sums["spread"][place]))
            except FitError as exc:
                one.fault, one.done = exc, True
        active = [one for one in active if not one.done]
