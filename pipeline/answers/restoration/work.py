"""Work that may be done on a pair: which treatments make sense for it, and which go together."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from pipeline.config import Market, Treatment
from pipeline.market.pair import Pair

LARGEST_SET = 4
"""At most this many treatments are weighed together on one pair."""


@dataclass(frozen=True)
class Work:
    """A set of treatments that may be done to one pair (its number in the stock list)."""

    pair: int
    treatments: tuple[str, ...]
    cures: tuple[str, ...]
    hours: float
    materials: float


def applicable(pair: Pair, market: Market) -> tuple[Treatment, ...]:
    """Return the treatments that make sense for a pair.

    Not those done already; those that cure defects only if the pair has one of them; those that cure none only
    below the grade limit.
    """
    done, has = set(pair.treatments or ()), set(pair.defects or ())
    limit = float(market.workshop.grade_limit)
    return tuple(
        treatment
        for treatment in market.treatments
        if treatment.name not in done
        and (has & set(treatment.cures) if treatment.cures else pair.grade is not None and pair.grade < limit)
    )


def possible_work(pairs: Sequence[Pair], market: Market) -> tuple[Work, ...]:
    """Return every set of applicable treatments for every pair of known grade.

    In a set, each treatment that cures defects cures one that no other of the set does.
    """
    return tuple(
        work
        for number, pair in enumerate(pairs)
        if pair.grade is not None
        for work in _sets(number, pair, market)
    )


def _sets(number: int, pair: Pair, market: Market) -> Iterator[Work]:
    has = set(pair.defects or ())
    choices = applicable(pair, market)
    for size in range(1, min(len(choices), LARGEST_SET) + 1):
        for chosen in combinations(choices, size):
            cured = [has & set(treatment.cures) for treatment in chosen]
            if any(
                own and own <= set().union(*(cured[:place] + cured[place + 1 :]))
                for place, own in enumerate(cured)
            ):
                continue
            yield Work(
                number,
                tuple(treatment.name for treatment in chosen),
                tuple(sorted(set().union(*cured))),
                sum(treatment.hours for treatment in chosen),
                float(sum(treatment.materials for treatment in chosen)),
            )
