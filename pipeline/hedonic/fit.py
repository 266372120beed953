"""Fit a specification on a source of records, at several past origins and on the whole, all at once."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import reduce
from operator import add as add_up
from typing import TypeVar

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.sparse import csr_array

from pipeline.errors import FitError
from pipeline.hedonic.coding import Coding, KnownLevels, find_coding
from pipeline.hedonic.design import Design
from pipeline.hedonic.doubtful import NO_RECORDS, find_doubtful
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.frame import FrameSource, response_of, weights_of
from pipeline.hedonic.layout import Layout, make_layout
from pipeline.hedonic.reml import Problem, Solution, solve
from pipeline.hedonic.reweigh import Standing, reweigh
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.scales import FITTED
from pipeline.hedonic.shape import hold_rising
from pipeline.hedonic.source import ONE_STAGE, Batch, Coded, Known, Source, Stages, Sums, add
from pipeline.hedonic.specification import Specification, Term
from pipeline.hedonic.tallies import CountPairs, gather
from pipeline.heed import Heed, go_on

__all__ = ["Fit", "FitSettings", "Prior", "fit", "fit_source", "fit_together", "response_of", "weights_of"]

Array = NDArray[np.float64]
Found = TypeVar("Found")

LOOSE = 1e-5
"""The stop of a refit, of REML and of re-weighting: prices differ by less than 0.01 % from a tight one."""

TIGHT = 1e-9
"""The stop of a fit whose variances are to be shown."""

ROUNDS = 12
"""The most re-weightings of a refit; more are asked for only where few records leave much open."""


@dataclass(frozen=True)
class Prior:
    """A prior on the scale of the errors, worth so many `records` (it matters where records are few).

    Where the records hardly outnumber the effects, they could all be explained away; this keeps a scale.
    """

    records: float
    scale: float


@dataclass(frozen=True)
class FitSettings:
    """How a market is fitted at any origin.

    `specify` gives the specification for the records known then. `scatter` are the terms of the errors' scale (none:
    one scale for all). `period` is an integer column (months). `grouped` names the attribute that each term belongs to
    (its own name, where it is not listed); `within` the column that parts the records (silhouettes). `prior` is a prior
    on the errors' scale. `rising` names the columns whose curves are held to a rise where the records allow.
    `pairs` are the interactions that are looked for; `added` those that each fit has beside its specification, one
    entry a stage (none: no fit has any). `heed` is called again and again while the fits are made, in whatever thread:
    what it raises ends them.
    """

    specify: Callable[[Known], Specification]
    robust: Robust | None
    scatter: tuple[Term, ...] = ()
    period: str = "month"
    grouped: Mapping[str, str] = field(default_factory=dict)
    within: str | None = None
    prior: Prior | None = None
    rising: tuple[str, ...] = ()
    pairs: tuple[Term, ...] = ()
    added: tuple[tuple[Term, ...], ...] = ()
    heed: Heed = go_on


@dataclass(frozen=True)
class Member:
    """One of the fits made together: the fit, and where it stood when it was done."""

    fit: Fit
    standing: Standing


@dataclass(frozen=True)
class Together:
    """Fits made together: that of the whole, and one of each past origin or why it cannot be fitted."""

    coding: Coding
    coded: Coded
    whole: Member
    past: tuple[Member | FitError, ...]


def fit(
    frame: pl.DataFrame,
    specification: Specification,
    *,
    robust: Robust | None = None,
    tolerance: float = TIGHT,
    prior: Prior | None = None,
) -> Fit:
    """Fit the rows of a frame; see `fit_source`."""
    return fit_source(FrameSource(frame), specification, robust=robust, tolerance=tolerance, prior=prior)


def fit_source(
    source: Source,
    specification: Specification,
    *,
    robust: Robust | None = None,
    tolerance: float = TIGHT,
    prior: Prior | None = None,
) -> Fit:
    """Fit log price on the terms, with lambdas by REML and, if asked, robust re-weighting.

    `tolerance` bounds the slope of the REML criterion, relative to n - M (1e-4 is enough for prices). `prior` is a
    prior on the errors' scale. Raises FitError for missing columns, null or infinite responses, too few records, prices
    that are all equal.
    """
    settings = FitSettings(lambda known: specification, robust, prior=prior)
    return fit_together(source, settings, ONE_STAGE, tolerance=tolerance).whole.fit


def fit_together(
    source: Source, settings: FitSettings, stages: Stages, *, tolerance: float = TIGHT
) -> Together:
    """Fit the whole of the records, and those known at each past origin, all in the same passes over them.

    The refits at past origins stop as soon as prices stand (LOOSE); that of the whole at `tolerance`. Raises FitError
    where the whole cannot be fitted. An origin that cannot be fitted has its FitError in the result.
    """
    specified = [_specified(source, settings, stages, stage) for stage in range(stages.number)]
    whole = _or_raise(specified[-1])
    source.check(whole)
    terms = [term for one in specified if isinstance(one, Specification) for term in one.terms]
    coding = find_coding(
        source, [*terms, *(term for term in settings.scatter if term.columns != (FITTED,))], stages
    )
    coded = source.code(coding, whole, stages)
    centre = _centre(coded)
    counted = _Counted(coding, coded.add_up(CountPairs(coding, centre)), centre, settings)
    begun: list[Standing | FitError] = []
    for stage, one in enumerate(specified):
        settings.heed()
        before = next((known for known in reversed(begun) if isinstance(known, Standing)), None)
        stop = max(tolerance, LOOSE) if stage < stages.number - 1 else tolerance
        begun.append(one if isinstance(one, FitError) else counted.begin(one, stage, stop, before))
    _or_raise(begun[-1])
    reweigh(coded, [one for one in begun if isinstance(one, Standing)], settings.heed)
    members = [one if isinstance(one, FitError) else _member(one, settings) for one in begun]
    member = _or_raise(members[-1])
    if settings.robust is not None:
        listed, count = find_doubtful(coded, member.standing, settings.robust)
        member = replace(member, fit=replace(member.fit, downweighted=listed, doubtful=count))
    return Together(coding, coded, member, tuple(members[:-1]))


def _or_raise(found: Found | FitError) -> Found:
    if isinstance(found, FitError):
        raise found
    return found


def _specified(source: Source, settings: FitSettings, stages: Stages, stage: int) -> Specification | FitError:
    try:
        specified = settings.specify(KnownLevels(source, stages, stage))
    except FitError as exc:
        return exc
    added = settings.added[stage] if settings.added else ()
    return replace(specified, terms=(*specified.terms, *added))


def _centre(coded: Coded) -> float:
    """Return the mean response of the earliest stage: what comes later moves nothing of an earlier fit."""
    sums = coded.add_up(_sum_responses)
    stage = min(stage for name, stage in sums if name == "rows")
    return float(sums["total", stage] / sums["rows", stage])


def _sum_responses(batches: Iterable[Batch]) -> Sums:
    sums: Sums = {}
    for batch in batches:
        for stage, some in batch.by_stage():
            own = {("total", stage): float(some.response.sum()), ("rows", stage): len(some.row)}
            sums = add(sums, own)
    return sums


@dataclass(frozen=True)
class _Counted:
    """The sums of all stages, from which the unweighted fit at each origin is made."""

    coding: Coding
    sums: Sums
    centre: float
    settings: FitSettings

    def begin(
        self, specification: Specification, stage: int, stop: float, before: Standing | None
    ) -> Standing | FitError:
        """Return the unweighted fit of the records up to a stage, or why there is none.

        `stop` is where REML and the re-weighting will stop; `before` the fit at the origin before, whose lambdas make a
        warm start.
        """
        try:
            problem, design, carried, layout = self._pose(specification, stage)
            solution = solve(problem, tolerance=stop, start=_warm(layout, before))
        except FitError as exc:
            return exc
        robust = self.settings.robust
        if robust is not None and stop >= LOOSE:
            robust = replace(robust, settled=LOOSE, rounds=ROUNDS)
        return Standing(
            last=stage,
            design=design,
            layout=layout,
            carried=carried,
            problem=problem,
            places=self.coding.places,
            centre=self.centre,
            robust=robust,
            tolerance=stop,
            solution=solution,
            coefficients=solution.coefficients,
            scale=float(np.sqrt(solution.sigma2)),
        )

    def _pose(self, specification: Specification, stage: int) -> tuple[Problem, Design, csr_array, Layout]:
        """Return the normal equations of the records up to a stage, design, what numbers carry, and layout."""
        stages = [one for one in range(stage + 1) if ("rows", one) in self.sums]
        rows = sum(self.sums["rows", one] for one in stages)
        least = min(self.sums["least", one].value for one in stages)
        if rows > 1 and least == max(-self.sums["most", one].value for one in stages):
            raise FitError(
                f"all {rows} prices are equal, so there is nothing to explain", "check the price column."
            )
        design = self.coding.design(specification, stage)
        carried = self.coding.carried(design)
        alone, pairs, moment, squares = (
            reduce(add_up, (self.sums[name, one] for one in stages))
            for name in ("alone", "pairs", "moment", "squares")
        )
        gram = gather(carried, alone, pairs)
        layout = make_layout(design, gram)
        cells = layout.cells
        problem = Problem(
            gram[cells][:, cells], (carried.T @ moment)[cells], float(squares), rows, layout.penalties
        )
        prior = self.settings.prior
        if prior is not None:
            problem = replace(problem, prior_rows=prior.records, prior_squares=prior.records * prior.scale**2)
        return problem, design, carried[:, cells], layout


def _warm(layout: Layout, before: Standing | None) -> Array | None:
    """Return the lambdas of the fit at the origin before for the penalties of a layout, or None."""
    if before is None:
        return None
    known = {
        penalty.term: value
        for penalty, value in zip(before.layout.penalties, before.solution.lambdas, strict=True)
    }
    if any(penalty.term not in known for penalty in layout.penalties):
        return None
    return np.array([known[penalty.term] for penalty in layout.penalties])


def _member(standing: Standing, settings: FitSettings) -> Member | FitError:
    """Return the finished fit, or why there is none."""
    settings.heed()
    if standing.fault is not None:
        return standing.fault
    fitted = assemble_fit(
        standing.design,
        standing.layout,
        standing.solution,
        standing.problem.rows,
        standing.centre,
        standing.scale,
        standing.robust,
    )
    try:
        for column in settings.rising:
            fitted = hold_rising(fitted, column)
    except FitError as exc:
        return exc
    return Member(fitted, standing)


def assemble_fit(
    design: Design,
    layout: Layout,
    solution: Solution,
    rows: int,
    centre: float,
    scale: float,
    robust: Robust | None,
) -> Fit:
    """Return the fit that a solution makes, its intercept moved back by `centre`."""
    coefficients = solution.coefficients.copy()
    coefficients[0] += centre
    lambdas = {
        penalty.term: float(value) for penalty, value in zip(layout.penalties, solution.lambdas, strict=True)
    }
    return Fit(
        design.specification,
        design,
        layout,
        coefficients,
        solution.inverse.scaled(solution.sigma2),
        solution.sigma2,
        scale,
        robust,
        lambdas,
        solution.edf,
        rows,
        solution.convergence,
        NO_RECORDS,
    )
