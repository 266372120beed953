"""Scatter: how widely single sales lie about their fitted price, record by record.

log scale = an overall level + effects of declared factors, drawn together by REML as the effects on the
price are: the fit is the engine's own, on log scale. For Student-t errors of scale s, each Fisher-scoring
step regresses log s + (w z² − 1) / I, z the standardised residual, ν the degrees of freedom,
w = (ν + 1) / (ν + z²), and I = 2 ν / (ν + 3) the information on log s (Lange, Little & Taylor 1989, JASA 84).
The score is bounded, so a typing error does not make its whole group look wild. Each step is one pass over the
records, for all fits that were made together.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.sparse import csr_array, vstack

from pipeline.errors import FitError
from pipeline.hedonic.coding import Coding
from pipeline.hedonic.design import Design, find_factor_cells, find_levels_among
from pipeline.hedonic.fit import Member, assemble_fit
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.layout import Layout, make_layout
from pipeline.hedonic.leverage import Leverages
from pipeline.hedonic.reml import Problem, Solution, solve
from pipeline.hedonic.reweigh import farthest
from pipeline.hedonic.scales import FITTED, FITTED_STEP, LEAST_SCALE, fitted_levels
from pipeline.hedonic.source import BEHIND, Batch, Coded, Sums, add
from pipeline.hedonic.specification import Specification, Term
from pipeline.hedonic.tallies import Effects, PairTables, carriers, gather, summed
from pipeline.heed import Heed

Array = NDArray[np.float64]
Whole = NDArray[np.int64]

RESPONSE = "log_scale"
ROUNDS = 40
SETTLED = 1e-4
MOST_LEVERAGE = 0.9
ALIKE = 1e-12
"""Working values whose squares come to no more than this are all alike: the scatter is then one and the same."""

MOST_SQUARE = 10.0
"""A squared Gaussian residual counts for no more than this."""


@dataclass(frozen=True)
class _KeepErrors:
    """Work out, for each record and fit, the squared error at full width and the step of its fitted price.

    Each residual is taken to be as wide as its leverage left it narrow, e / √(1 − leverage). A step is counted from the
    fit's lowest, `lowest` (fits,).
    """

    effects: Effects
    leverages: tuple[Leverages, ...]
    lowest: Whole

    def __call__(self, batch: Batch) -> tuple[NDArray[Any], ...]:
        fits = len(self.leverages)
        squares = np.full((len(batch.row), fits), np.nan)
        steps = np.zeros((len(batch.row), fits), dtype=np.int32)
        at = 0
        for stage, some in batch.by_stage():
            first = self.effects.first(stage)
            fitted = self.effects.fitted(some, first)
            weights = np.ones(len(some.row)) if some.weights is None else some.weights
            span = slice(at, at + len(some.row))
            for fit in range(first, fits):
                leverage = np.clip(self.leverages[fit].of(some) * weights, 0, MOST_LEVERAGE)
                errors = some.response - fitted[:, fit - first]
                squares[span, fit] = errors**2 * weights / (1 - leverage)
            steps[span, first:] = np.round(fitted / FITTED_STEP) - self.lowest[first:]
            at = span.stop
        return squares, steps


@dataclass(frozen=True)
class _Counted:
    """What the tallies of the scatter count: some super-factors of a coding, and the steps of the fitted price.

    `steps` (fits,) says how many steps there are; `last` (fits,) is the last stage of each fit.
    """

    coding: Coding
    supers: tuple[int, ...]
    steps: Whole
    last: Whole

    def first(self, stage: int) -> int:
        return int(np.searchsorted(self.last, stage))


@dataclass(frozen=True)
class _CountScatter:
    """The records of each pair of numbers and of each number with a step of the fitted price, for each fit.

    ("pairs", fit) is sparse, (numbers + steps, numbers + steps); ("alone", fit) counts each number and step.
    """

    counted: _Counted

    def __call__(self, batches: Iterable[Batch]) -> Sums:
        counted, size = self.counted, self.counted.coding.size
        starts = [*(int(counted.coding.places[one]) for one in counted.supers), size]
        tables: dict[int, PairTables] = {}
        sums: Sums = {}
        for batch in batches:
            for stage, some in batch.by_stage():
                own = some.numbers[:, list(counted.supers)]
                for fit in range(counted.first(stage), len(counted.steps)):
                    steps = int(counted.steps[fit])
                    if fit not in tables:
                        sizes = [*(counted.coding.supers[one].size for one in counted.supers), steps]
                        tables[fit] = PairTables(starts, sizes, size + steps)
                    numbers = np.column_stack([own, size + some.kept[1][:, fit]])
                    tables[fit].add(numbers, None)
                    alone = np.bincount(numbers.ravel(), minlength=size + steps).astype(np.float64)
                    sums = add(sums, {("alone", fit): alone})
        return {**sums, **{("pairs", fit): table.counted() for fit, table in tables.items()}}


@dataclass(frozen=True)
class _SumSteps:
    """The steps in log scale that the records ask for, and what they amount to.

    "totals" (numbers, fits) and ("steps", fit) (steps,) sum log scale + step − centre over each number and step of the
    fitted price; "squares" (fits,) sums its square. `effects` (numbers, fits) and `of_steps` give the log scale so far.
    """

    counted: _Counted
    effects: Array
    of_steps: tuple[Array, ...]
    centre: Array
    degrees_of_freedom: float

    def __call__(self, batches: Iterable[Batch]) -> Sums:
        counted = self.counted
        fits = len(counted.steps)
        floor = np.log(LEAST_SCALE)
        totals = np.zeros(self.effects.shape)
        by_step = [np.zeros(len(of)) for of in self.of_steps]
        squares = np.zeros(fits)
        for batch in batches:
            for stage, some in batch.by_stage():
                first = counted.first(stage)
                numbers = some.numbers[:, list(counted.supers)]
                steps = some.kept[1]
                level = np.stack([self.of_steps[fit][steps[:, fit]] for fit in range(first, fits)], axis=1)
                level += carriers(numbers, len(totals)) @ np.ascontiguousarray(self.effects[:, first:])
                level = np.maximum(level, floor)
                score = _score(some.kept[0][:, first:] * np.exp(-2 * level), self.degrees_of_freedom)
                working = level + score - self.centre[first:]
                squares[first:] += np.einsum("nf,nf->f", working, working)
                totals[:, first:] += summed(numbers, working, len(totals))
                for fit in range(first, fits):
                    by_step[fit] += np.bincount(steps[:, fit], working[:, fit - first], len(by_step[fit]))
        sums: Sums = {("steps", fit): total for fit, total in enumerate(by_step)}
        return {**sums, "totals": totals, "squares": squares}


@dataclass
class _Search:
    """Where the scatter of one fit stands; `carried` (numbers, p) and `by_step` (steps, p) say who carries what."""

    member: Member
    design: Design
    layout: Layout
    carried: csr_array
    by_step: csr_array
    gram: csr_array
    centre: float
    coefficients: Array
    solution: Solution | None = None
    done: bool = False

    def advance(self, totals: Array, by_step: Array, squares: float) -> None:
        """Take one step from the sums at the effects so far."""
        moment = self.carried.T @ totals + self.by_step.T @ by_step
        rows = self.member.fit.rows
        posed = Problem(self.gram, moment, max(squares, ALIKE), rows, self.layout.penalties)
        start = None if self.solution is None else self.solution.lambdas
        self.solution = solve(posed, tolerance=1e-5, start=start)
        step = self.solution.coefficients - self.coefficients
        of_step = float(np.max(np.abs(self.by_step @ step), initial=0.0))
        self.done = farthest(self.carried @ step, self.member.standing.places) + of_step < SETTLED
        self.coefficients = self.solution.coefficients


def fit_scatters(
    coding: Coding, coded: Coded, members: Sequence[Member], terms: Sequence[Term], heed: Heed
) -> list[Fit]:
    """Fit the log scale of the errors of fits made together, on terms over coded columns (and FITTED alone).

    `members` stand in the order of their last stages. A result predicts log scale where a fit predicts log price; below
    LEAST_SCALE, where `scales` ends, it means nothing. `heed` is called in between. Raises FitError for Huber weights,
    which state no distribution of errors.
    """
    degrees_of_freedom = members[0].fit.degrees_of_freedom
    if members[0].fit.robust is not None and members[0].fit.robust.kind == "huber":
        raise FitError("Huber weights state no distribution of errors", "fit with Student-t errors.")
    effects = _effects(members)
    lowest, steps = _steps(effects, coding)
    leverages = tuple(
        Leverages(
            one.standing.carried, coding.places, one.fit.covariance.scaled(1 / one.fit.sigma2), one.fit.rows
        )
        for one in members
    )
    kept = coded.keep(_KeepErrors(effects, leverages, lowest))
    counted = _Counted(coding, _used(coding, terms), steps, effects.last)
    tables = kept.add_up(_CountScatter(counted))
    searches = [
        _begin(member, terms, counted, tables, place, int(lowest[place]))
        for place, member in enumerate(members)
    ]
    for _ in range(ROUNDS):
        heed()
        tally = _SumSteps(
            counted,
            np.stack([one.carried @ one.coefficients for one in searches], axis=1),
            tuple(one.by_step @ one.coefficients + one.centre for one in searches),
            np.array([one.centre for one in searches]),
            degrees_of_freedom,
        )
        sums = kept.add_up(tally)
        for place, one in enumerate(searches):
            if not one.done:
                heed()
                totals, by_step = sums["totals"][:, place], sums["steps", place]
                one.advance(totals, by_step, float(sums["squares"][place]))
        if all(one.done for one in searches):
            break
    return [_scatter_of(one) for one in searches]


def _effects(members: Sequence[Member]) -> Effects:
    """Return the effects of the finished fits, with their held curves."""
    effects = np.stack([one.standing.carried @ one.fit.coefficients for one in members], axis=1)
    return Effects(effects, np.array([one.standing.last for one in members]))


def _steps(effects: Effects, coding: Coding) -> tuple[Whole, Whole]:
    """Return (the lowest step of the fitted price, how many steps there are at most), each (fits,)."""
    starts = coding.places[:-1]
    least = np.minimum.reduceat(effects.of_numbers, starts).sum(axis=0)
    most = np.maximum.reduceat(effects.of_numbers, starts).sum(axis=0)
    lowest = np.floor(least / FITTED_STEP).astype(np.int64)
    return lowest, np.ceil(most / FITTED_STEP).astype(np.int64) - lowest + 1


def _used(coding: Coding, terms: Sequence[Term]) -> tuple[int, ...]:
    """Return the super-factors that hold the columns of the terms."""
    owners = {coding.owner(term) for term in terms if term.columns != (FITTED,)}
    return tuple(number for number, packed in enumerate(coding.supers) if owners & set(packed.factors))


def _begin(
    member: Member, terms: Sequence[Term], counted: _Counted, tables: Sums, place: int, lowest: int
) -> _Search:
    """Return the search for the scatter of one fit, from the counts of its cells."""
    coding = counted.coding
    pairs, alone = tables["pairs", place], tables["alone", place]
    fitted = fitted_levels(lowest + np.arange(counted.steps[place])).to_frame()
    fitted = fitted.with_columns(pl.Series(BEHIND, alone[coding.size :].astype(np.int64)))
    frames = [
        fitted.filter(pl.col(BEHIND) > 0)
        if term.columns == (FITTED,)
        else coding.known(term, member.standing.last)
        for term in terms
    ]
    design = find_levels_among(frames, Specification(RESPONSE, tuple(terms)), BEHIND)
    carried, by_step = coding.carried(design, intercept=False), _carried_by_steps(design, fitted)
    gram = gather(vstack([carried, by_step], format="csr"), alone, pairs)
    layout = make_layout(design, gram)
    cells = layout.cells
    kept = gram[cells][:, cells]
    centre = max(float(np.log(member.fit.residual_scale)), float(np.log(LEAST_SCALE)))
    return _Search(
        member, design, layout, carried[:, cells], by_step[:, cells], kept, centre, np.zeros(layout.size)
    )


def _carried_by_steps(design: Design, fitted: pl.DataFrame) -> csr_array:
    """Return what each step of the fitted price carries of the cells of a design, the intercept with it."""
    entries = [(np.arange(fitted.height), np.zeros(fitted.height, dtype=np.int64))]
    for factor in design.factors:
        if factor.term.columns == (FITTED,):
            cells, _ = find_factor_cells(fitted, factor, design.size)
            seen = np.flatnonzero(cells[:, 0] < design.size)
            entries.append((seen, cells[seen, 0]))
    rows, columns = (np.concatenate([entry[axis] for entry in entries]) for axis in (0, 1))
    return csr_array((np.ones(len(rows)), (rows, columns)), shape=(fitted.height, design.size))


def _scatter_of(search: _Search) -> Fit:
    if search.solution is None:
        raise FitError("the scatter of single sales was not fitted", "fit again.")
    return assemble_fit(
        search.design,
        search.layout,
        search.solution,
        search.member.fit.rows,
        search.centre,
        float(np.sqrt(search.solution.sigma2)),
        None,
    )


def _score(squares: Array, degrees_of_freedom: float) -> Array:
    """Return the step in log scale that one record asks for: its score over its information."""
    if np.isinf(degrees_of_freedom):
        step: Array = (np.minimum(squares, MOST_SQUARE) - 1) / 2
        return step
    weighted: Array = (degrees_of_freedom + 1) / (degrees_of_freedom + squares) * squares
    return (weighted - 1) * ((degrees_of_freedom + 3) / (2 * degrees_of_freedom))
