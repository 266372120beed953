"""What is to be fitted: the response and its terms, all over discrete factors."""

from dataclasses import dataclass
from typing import Literal

TermKind = Literal["level", "pooled", "curve", "walk", "flags"]


@dataclass(frozen=True)
class Term:
    """One term of the model.

    kind
        level: one unpenalised effect a level, nought at `reference`.
        pooled: one effect a level (or cell, over several columns), drawn towards nought by a common
        variance. curve: an ordered numeric factor, second differences penalised. walk: an ordered
        integer factor (months), first differences penalised: a random walk. flags: a list column,
        one unpenalised effect for each flag that a row carries.
    columns
        The columns it reads; several make it an interaction, whose levels are the cells that occur
        (pooled, or flags × level columns with the flags column first).
    reference
        The level with effect nought (level and curve terms); None takes the most frequent one.
    """

    name: str
    kind: TermKind
    columns: tuple[str, ...]
    reference: str | None = None


@dataclass(frozen=True)
class Specification:
    """A response column (log price) and the terms that add up to it, with an intercept."""

    response: str
    terms: tuple[Term, ...]
    weights: str | None = None
