"""What is to be fitted: the response and its terms, all over discrete factors."""

from dataclasses import dataclass
from typing import Literal

TermKind = Literal["level", "pooled", "curve", "walk", "flags", "linear"]

SPREAD = 0.05
"""The prior for how widely the levels of a term differ, by default: by a twentieth."""


@dataclass(frozen=True)
class Term:
    """One term of the model.

    kind
        level: one unpenalised effect a level, zero at `reference`.
        pooled: one effect a level (or cell, over several columns), shrunk towards zero by a common
        variance; a list column counts as flags. curve: an ordered numeric factor, second differences
        penalised. walk: an ordered integer factor (months), first differences penalised: a random walk.
        flags: a list column, one unpenalised effect for each flag that a row carries. linear: one
        unpenalised slope on a number.
    columns
        The columns it reads; several make it an interaction, whose levels are the cells that occur
        (level, pooled, or flags × level columns with the flags column first). A curve or walk over
        several columns is one curve or walk, over the first, for each cell of the others, with one
        common penalty and each fixed at zero at its reference; give the others a term of their own.
    reference
        The level with effect zero (level and curve terms); None takes the most frequent one. A walk
        is pinned at its last level, so that the intercept is the level now.
    spread
        The prior for how widely its levels differ, a scale in log price. It widens the band of a
        level that no record shows, and counts as much as one difference between levels that were seen: the
        more levels, the less it counts. The band of a level with records does not read it.
    """

    name: str
    kind: TermKind
    columns: tuple[str, ...]
    reference: str | None = None
    spread: float = SPREAD


@dataclass(frozen=True)
class Specification:
    """A response column (log price) and the terms that add up to it, with an intercept."""

    response: str
    terms: tuple[Term, ...]
    weights: str | None = None
