"""From an amount back to the hammer price: the exact inverse of a fee schedule.

On each piece of a schedule the unrounded all-in (or net) is a straight line, so its inverse is one division. Rounding
moves the exact answer by a few steps at most. Those few prices are tried, with the fee as it is charged.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from pipeline.errors import MarketFileError
from pipeline.fees.amounts import LARGEST_POINTS
from pipeline.fees.schedule import CompiledSchedule, Whole

Basis = Literal["all-in", "net"]

NONE = -1
"""Stands for no hammer price."""

_MOST_TRIED = 2**14
"""Prices that are tried in one go: they fit the cache of a processor, which makes it twice as fast."""


class Rung(NamedTuple):
    """Bids above `above`, up to and including `up_to`: the multiples of `step`."""

    above: int
    up_to: int
    step: int


class Hammers(NamedTuple):
    """Hammer prices behind amounts, NONE where there is none.

    `exact` has the amount as its all-in (the greatest such price) or net (the least). `within` is the greatest
    whose all-in does not exceed the amount, or the least whose net is not below it.
    """

    within: Whole
    exact: Whole

    @property
    def best(self) -> Whole:
        """The exact price, or else that within."""
        best: Whole = np.where(self.exact == NONE, self.within, self.exact)
        return best


def hammers_behind(
    amounts: Whole, fees: CompiledSchedule, basis: Basis, rungs: Sequence[Rung] | None = None
) -> Hammers:
    """Return the hammer prices behind all-in prices or nets.

    Hammer prices are whole minor units, or the bids of `rungs`. Raises MarketFileError where the fee takes
    the whole of each further unit of the price, so that no net tells its price.
    """
    lines = _Lines.of(fees, basis, rungs or (Rung(-1, LARGEST_POINTS, fees.unit),))
    size = max(1, _MOST_TRIED // (len(lines.first) * len(lines.shifts)))
    starts = range(0, max(len(amounts), 1), size)
    parts = [lines.tried(amounts[start : start + size]) for start in starts]
    return Hammers(*(np.concatenate(column) for column in zip(*parts, strict=True)))


@dataclass(frozen=True)
class _Lines:
    """Each piece of the fees within each rung of the bids: its bids are the `first` to the `last` multiple of `step`.

    `sign` is 1 for the all-in (hammer price plus fee), -1 for the net (hammer price less fee).
    """

    fees: CompiledSchedule
    sign: int
    first: Whole
    last: Whole
    step: Whole
    base: Whole
    rate: Whole
    shifts: Whole

    @classmethod
    def of(cls, fees: CompiledSchedule, basis: Basis, rungs: Sequence[Rung]) -> "_Lines":
        """Return the lines of a schedule, and the `shifts`: by how many steps rounding can move the answer.

        Rounding moves the fee by half a minor unit at most, which the tax less than doubles, and the tax by another
        half: less than 1.5 units in all.
        """
        sign = 1 if basis == "all-in" else -1
        taxed = fees.tax + fees.tax_ratio
        rows: list[tuple[int, int, int, int, int]] = []
        furthest = 1
        for piece in fees.pieces:
            slope = fees.ratio * fees.tax_ratio + sign * piece.rate * taxed
            if slope <= 0:
                raise MarketFileError(
                    "a seller's fee schedule takes the whole of each further unit of the price, tax included",
                    "fix `rate` and `tax_rate` of that schedule, so that rate × (1 + tax_rate) is below 1.",
                )
            for rung in rungs:
                first = max(piece.above, rung.above) // rung.step + 1
                last = min(piece.up_to, rung.up_to) // rung.step
                if first <= last:
                    rows.append((first, last, rung.step, piece.base, piece.rate))
                    spread = -(-3 * fees.unit * fees.ratio * fees.tax_ratio // (2 * rung.step * slope))
                    furthest = max(furthest, spread)
        first, last, step, base, rate = np.array(rows, dtype=fees.dtype).T
        return cls(fees, sign, first, last, step, base, rate, np.arange(-furthest, furthest + 1))

    def tried(self, amounts: Whole) -> Hammers:
        """Return the hammer prices behind amounts: of those near the unrounded answer, the ones that are right."""
        amount = self.fees.exact(amounts)
        first, last, step, base, rate = (
            part[:, None] for part in (self.first, self.last, self.step, self.base, self.rate)
        )
        whole, taxed = self.fees.ratio * self.fees.tax_ratio, self.fees.tax + self.fees.tax_ratio
        slope = whole + self.sign * rate * taxed
        near = (amount * whole - self.sign * base * taxed) // slope // step
        hammers = self.fees.exact(np.clip(near + self.shifts[:, None, None], first, last) * step)
        fee, tax = self.fees.charges_on(hammers, base, rate)
        short = self.sign * (amount - hammers) - fee - tax
        return Hammers(self._best(hammers, short >= 0), self._best(hammers, short == 0))

    def _best(self, hammers: Whole, right: Whole) -> Whole:
        """Return of each row the greatest hammer price (of a net the least) that is right, NONE where none is."""
        worst = NONE if self.sign > 0 else np.iinfo(np.int64).max
        kept = np.where(right, hammers, worst).astype(np.int64)
        best = kept.max(axis=(0, 1)) if self.sign > 0 else kept.min(axis=(0, 1))
        return np.where(best == worst, NONE, best)
