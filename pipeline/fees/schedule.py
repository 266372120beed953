"""Fee schedules compiled to integers, and the one place where a fee is computed.

The percentage of the tiers comes first, then the minimum, then the flat fee, then tax on all of it. The fee is
rounded half up to the minor unit of the currency, then the tax on the rounded fee in the same way, as an
invoice states them.

A schedule is compiled to pieces on each of which the fee is a straight line. All else (columns, single prices, bids,
inverses) reads the pieces, so a new kind of fee is one more step of `compile_schedule`, as the minimum is.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from functools import cached_property, lru_cache
from itertools import pairwise
from math import lcm
from typing import Any

import numpy as np
from babel.numbers import get_currency_precision
from numpy.typing import NDArray

from pipeline.config import FeeSchedule
from pipeline.errors import MarketFileError
from pipeline.fees.amounts import LARGEST_POINTS, POINTS, decimals

Whole = NDArray[Any]
"""Integers: int64, or Python's own (dtype object) where int64 would overflow."""


@dataclass(frozen=True)
class Piece:
    """A range of hammer prices (above `above`, up to and including `up_to`) on which the fee is one line.

    The fee on a hammer price h, before rounding and tax, is (base + rate × h) / ratio.
    """

    above: int
    up_to: int
    base: int
    rate: int


@dataclass(frozen=True, eq=False)
class CompiledSchedule:
    """A fee schedule in integers: pieces that follow one another from zero, without a gap.

    Hammer prices, fees and `unit` (the minor unit) are in one common unit, for a venue 10**-POINTS of its currency.
    The tax is tax / tax_ratio of the fee.
    """

    pieces: tuple[Piece, ...]
    ratio: int = 1
    unit: int = 1
    tax: int = 0
    tax_ratio: int = 1

    def charges(self, hammers: Whole) -> tuple[Whole, Whole]:
        """Return the fee on each hammer price, and the tax on the fee."""
        hammers = self.exact(hammers)
        edges, base, rate = self._columns
        piece = edges.searchsorted(hammers)
        return self.charges_on(hammers, base[piece], rate[piece])

    def charge(self, hammers: Whole) -> Whole:
        """Return fee and tax together on each hammer price."""
        fee, tax = self.charges(hammers)
        both: Whole = (fee + tax).astype(np.int64)
        return both

    def charges_on(self, hammers: Whole, base: Whole, rate: Whole) -> tuple[Whole, Whole]:
        """Return the fee on each hammer price of a piece that has this base and rate, and the tax on the fee."""
        fee = divide_half_up(base + rate * hammers, self.ratio * self.unit)
        return fee * self.unit, divide_half_up(fee * self.tax, self.tax_ratio) * self.unit

    def exact(self, amounts: Whole) -> Whole:
        """Return amounts as integers in which every product of this schedule is exact."""
        fits = not amounts.size or (
            amounts.max() <= self._most_in_int64 and amounts.min() >= -self._most_in_int64
        )
        return amounts if fits else amounts.astype(object)

    @cached_property
    def _most_in_int64(self) -> int:
        """The largest amount whose products, here and in the inverse, int64 holds (negative: not even the pieces)."""
        taxed = self.tax + self.tax_ratio
        largest = max(abs(piece.base) for piece in self.pieces)
        steepest = max(piece.rate for piece in self.pieces)
        room = 2**61 - largest * taxed - self.ratio * self.unit * self.tax_ratio
        return room // (self.ratio * self.tax_ratio + steepest * taxed)

    @cached_property
    def _columns(self) -> tuple[Whole, Whole, Whole]:
        return (
            np.array([piece.up_to for piece in self.pieces[:-1]], dtype=np.int64),
            np.array([piece.base for piece in self.pieces], dtype=self.dtype),
            np.array([piece.rate for piece in self.pieces], dtype=self.dtype),
        )

    @property
    def dtype(self) -> type:
        """The type of numbers that holds the pieces."""
        return np.int64 if self._most_in_int64 >= 0 else object


NO_FEES = CompiledSchedule((Piece(-1, LARGEST_POINTS, 0, 0),))
"""The schedule of a venue that takes nothing."""


def share_schedule(rate: Decimal) -> CompiledSchedule:
    """Return the schedule of a share (a duty, a tax) of amounts that are in minor units."""
    share, ratio = rate.as_integer_ratio()
    return CompiledSchedule((Piece(-1, LARGEST_POINTS, 0, share),), ratio=ratio)


@lru_cache(maxsize=512)
def compile_schedule(schedule: FeeSchedule, currency: str) -> CompiledSchedule:
    """Return a fee schedule in integers, with amounts in 10**-POINTS of the currency (an ISO 4217 code).

    Raises MarketFileError for an `up_to` with more than POINTS decimals.
    """
    points = 10**POINTS
    least, flat = Fraction(schedule.minimum) * points, Fraction(schedule.flat) * points
    rates = [Fraction(tier.rate) for tier in schedule.tiers]
    ratio = lcm(*(number.denominator for number in (*rates, least, flat)))
    tiers = _tiers(schedule, [int(rate * ratio) for rate in rates])
    pieces = at_least(tiers, int(least * ratio))
    tax, tax_ratio = schedule.tax_rate.as_integer_ratio()
    return CompiledSchedule(
        pieces=tuple(replace(piece, base=piece.base + int(flat * ratio)) for piece in pieces),
        ratio=ratio,
        unit=10 ** (POINTS - get_currency_precision(currency)),
        tax=tax,
        tax_ratio=tax_ratio,
    )


def at_least(pieces: Iterable[Piece], least: int) -> Iterator[Piece]:
    """Yield pieces whose fee is that of the pieces given, or `least` (over ratio) where that is more."""
    for piece in pieces:
        if piece.rate:
            last_below = -(-(least - piece.base) // piece.rate) - 1
        else:
            last_below = piece.up_to if piece.base < least else piece.above
        turn = min(max(last_below, piece.above), piece.up_to)
        if turn > piece.above:
            yield Piece(piece.above, turn, least, 0)
        if turn < piece.up_to:
            yield replace(piece, above=turn)


def _tiers(schedule: FeeSchedule, rates: Sequence[int]) -> Iterator[Piece]:
    """Yield the percentage of each tier; at the edge of marginal tiers the fee goes on from where it is."""
    ends = [-1, *(_edge(tier.up_to) for tier in schedule.tiers)]
    base = 0
    for number, (above, up_to) in enumerate(pairwise(ends)):
        if number and schedule.method == "marginal":
            base += (rates[number - 1] - rates[number]) * above
        yield Piece(above, up_to, base, rates[number])


def _edge(up_to: Decimal | None) -> int:
    if up_to is None:
        return LARGEST_POINTS
    if decimals(up_to) > POINTS:
        raise MarketFileError(
            f"a fee schedule has `up_to` {up_to}: more than {POINTS} decimals", "fix that `up_to`."
        )
    return int(up_to.scaleb(POINTS))


def divide_half_up(dividend: Whole, divisor: int) -> Whole:
    """Return the quotient of integers from zero up, rounded half up."""
    quotient: Whole = (2 * dividend + divisor) // (2 * divisor)
    return quotient
