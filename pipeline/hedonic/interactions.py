"""Interactions: pairs of factors whose cells differ by more than the sum of their terms says, found in the residuals.

A pair is judged by a score test of the variance between its cells, on the residuals of a fit without it. The sums that
the test needs are cross-products weighted by the residuals, from one pass over the records for all pairs.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from pipeline.hedonic.coding import Coding
from pipeline.hedonic.reweigh import Standing, effects_of
from pipeline.hedonic.source import Batch, Coded, Sums, add
from pipeline.hedonic.specification import Specification, Term
from pipeline.hedonic.tallies import Effects, PairTables, gather, summed

Array = NDArray[np.float64]

CHANCE = 0.01
"""A pair of independent factors is found with this chance at most, over all pairs that are tried."""

LEAST_FALL = 0.005
"""A pair is left out unless it is expected to take so much of the variance of single sales."""

ROUNDS = 2
"""So many times pairs are looked for: the second time in the residuals of a fit with the pairs of the first."""

MOST_FOUND = 4
"""So many pairs are added in a round at most …"""

MOST_CELLS = 1_500
"""… and so many cells of all pairs that are found …"""

MOST_SHARED = 300
"""… of those that are not over the column that parts the records (`FitSettings.within`): all records share these."""


@dataclass(frozen=True)
class Candidate:
    """How one pair did: its term, the chance of as much by luck, the share of the errors' variance it should take."""

    term: Term
    chance: float
    fall: float
    cells: int


@dataclass(frozen=True)
class Search:
    """The pairs that the records of a fit call for, and those left out since they have too many cells."""

    found: tuple[Term, ...] = ()
    too_many: tuple[Term, ...] = ()


@dataclass(frozen=True)
class Interactions:
    """Which interactions the whole of the records calls for, whether they count, and what they gain on later sales.

    `looked` says whether any were looked for. `pairs` are their columns; `too_many` those of pairs whose cells are too
    many. `rounds` is how many rounds of them the fit has: those that paid, gain being above Z_95_ONE_SIDED times its
    error. `gain` is the fall of the mean absolute error (log price) in time order by `pairs`, `error` its standard
    error over origins (0 where no later sale can show it), `median_price` the median of these later sales.
    """

    looked: bool
    rounds: int = 0
    pairs: tuple[tuple[str, ...], ...] = ()
    too_many: tuple[tuple[str, ...], ...] = ()
    gain: float = 0.0
    error: float = 0.0
    median_price: float = 0.0

    @property
    def used(self) -> bool:
        """Return whether the fit has them."""
        return self.rounds > 0


NOT_TRIED = Interactions(False)


@dataclass(frozen=True)
class SumResiduals:
    """The cross-products of one fit's records, counted and weighted by their robust residuals.

    ("pairs", "residuals") and ("pairs", "rows") (numbers, numbers) are sparse, that of the earlier super-factor first;
    ("alone", …) (numbers,) are those of single numbers; "second" and "fourth" sum the powers of the residuals.
    """

    coding: Coding
    standing: Standing
    effects: Effects

    def __call__(self, batches: Iterable[Batch]) -> Sums:
        """Return the sums over batches."""
        starts, sizes = self.coding.places[:-1].tolist(), [packed.size for packed in self.coding.supers]
        tables = {name: PairTables(starts, sizes, self.coding.size) for name in ("residuals", "rows")}
        alone = np.zeros((self.coding.size, 2))
        second = fourth = rows = 0.0
        for batch in batches:
            for stage, some in batch.by_stage():
                if stage > self.standing.last:
                    continue
                left = self.effects.residuals(some, 0)[:, 0]
                if some.weights is not None:
                    left = left * np.sqrt(some.weights)
                if self.standing.robust is not None:
                    left = left * self.standing.robust.weights(left / self.standing.scale)
                tables["residuals"].add(some.numbers, left)
                tables["rows"].add(some.numbers, None)
                alone += summed(some.numbers, np.stack([left, np.ones(len(left))], axis=1), len(alone))
                second, fourth = second + float(np.sum(left**2)), fourth + float(np.sum(left**4))
                rows += len(left)
        own: Sums = {("pairs", name): table.counted() for name, table in tables.items()}
        own |= {("alone", name): alone[:, place] for place, name in enumerate(("residuals", "rows"))}
        return add({}, own | {"second": second, "fourth": fourth, "count": rows})


def find_interactions(
    coding: Coding,
    coded: Coded,
    standing: Standing,
    pairs: Sequence[Term],
    *,
    added: Sequence[Term] = (),
    within: str | None = None,
) -> Search:
    """Return those of `pairs` (pooled terms of two columns) that the records of a fit call for, the best first.

    A pair is taken where luck alone would bring as much to any of them with CHANCE at most (Bonferroni), and where it
    should take LEAST_FALL of the variance; MOST_FOUND of them at most, of no more cells with those of the pairs that
    were `added` to the fit before than MOST_CELLS, or MOST_SHARED for pairs that are not over the column `within`.
    """

    def is_shared(term: Term) -> bool:
        return within is not None and within not in term.columns

    tried = [pair for pair in pairs if pair not in added]
    room = {True: MOST_SHARED, False: MOST_CELLS}
    for factor in standing.design.factors:
        if factor.term in added:
            room[is_shared(factor.term)] -= factor.stop - factor.start
    found: list[Term] = []
    too_many: list[Term] = []
    judged = judge_interactions(coding, coded, standing, tried)
    for one in sorted(judged, key=lambda candidate: (-candidate.fall, candidate.term.name)):
        if one.chance * len(judged) >= CHANCE or one.fall <= LEAST_FALL or len(found) == MOST_FOUND:
            continue
        if one.cells > room[is_shared(one.term)]:
            too_many.append(one.term)
            continue
        found.append(one.term)
        room[is_shared(one.term)] -= one.cells
    return Search(tuple(found), tuple(too_many))


def judge_interactions(
    coding: Coding, coded: Coded, standing: Standing, pairs: Sequence[Term]
) -> list[Candidate]:
    """Return how each pair does on the residuals of a fit; those without two levels of each factor are left out.

    T is the sum of the residuals of a cell of n records. Without an interaction Σ T² is v Σ n at most, v the variance
    of a residual, and near a multiple of a chi-square (Satterthwaite 1946); with one of the variance τ² it grows by
    τ² Σ n²c², c = 1 − n/n_row − n/n_column + n/N being what the two factors' own effects leave of a cell.
    """
    columns = {column: Term(column, "pooled", (column,)) for term in pairs for column in term.columns}
    if not columns:
        return []
    design = coding.design(Specification("", tuple(columns.values())), standing.last)
    carried = coding.carried(design, intercept=False)
    sums = coded.add_up(SumResiduals(coding, standing, effects_of([standing])))
    totals, counts = (
        gather(carried, sums["alone", name], sums["pairs", name]) for name in ("residuals", "rows")
    )
    variance, fourth = sums["second"] / sums["count"], sums["fourth"] / sums["count"]
    behind = counts.diagonal()
    places = {factor.term.name: slice(factor.start, factor.stop) for factor in design.factors}
    judged = []
    for term in pairs:
        rows, across = (places[column] for column in term.columns)
        if min(rows.stop - rows.start, across.stop - across.start) < 2:
            continue
        judged.append(
            judge_pair(
                term,
                csr_array(totals[rows, across]),
                csr_array(counts[rows, across]),
                (behind[rows], behind[across]),
                (float(sums["count"]), variance, fourth),
            )
        )
    return judged


def judge_pair(
    term: Term, totals: Any, counts: Any, behind: tuple[Array, Array], moments: tuple[float, float, float]
) -> Candidate:
    """Return how a pair does: from its cells' sums of residuals and records, and the records `behind` its levels.

    `moments` are the number of records, and the mean square and fourth power of their residuals.
    """
    from scipy.special import gammaincc

    every, variance, fourth = moments
    cells = counts.tocoo()
    n = cells.data
    square, expected = float(np.sum(totals.data**2)), variance * float(np.sum(n))
    spread = 2 * variance**2 * float(np.sum(n**2)) + (fourth - 3 * variance**2) * float(np.sum(n))
    freedom = 2 * expected**2 / spread
    chance = float(gammaincc(freedom / 2, square / expected * freedom / 2))
    left = n * np.maximum(1 - n / behind[0][cells.row] - n / behind[1][cells.col] + n / every, 0)
    between = max((square - expected) / max(float(np.sum(left**2)), 1.0), 0.0)
    fall = float(np.sum(left * between * left * between / (left * between + variance))) / (every * variance)
    return Candidate(term, chance, fall, len(n))


def pairs_of(terms: Sequence[Term], flags: Sequence[str]) -> tuple[Term, ...]:
    """Return the pairs of the columns that have a term of their own, but those that a term of `terms` has already.

    `flags` are the columns that hold lists; two of them make no pair. A walk makes none: what it orders is the day.
    """
    single = [term.columns[0] for term in terms if len(term.columns) == 1 and term.kind != "walk"]
    known = {frozenset(term.columns) for term in terms}
    pairs = (
        paired(one, other, flags)
        for one, other in combinations(dict.fromkeys(single), 2)
        if not any({one, other} <= columns for columns in known) and not (one in flags and other in flags)
    )
    taken = {term.name for term in terms}
    return tuple(pair for pair in pairs if pair.name not in taken)


def paired(one: str, other: str, flags: Sequence[str]) -> Term:
    """Return the pooled term of two columns, that of lists first."""
    first, second = (other, one) if other in flags else (one, other)
    return Term(f"{first} by {second}", "pooled", (first, second))
