"""How the amounts of an account explain each other: sums over rows, and shares of one another.

An account says a thing twice: net and tax are the gross, hammer and premium the total. A relation that holds in
nearly every row tells what a column is, whatever its heading says.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import polars as pl
from numpy.typing import NDArray

MOST_COLUMNS = 14
"""How many amount columns are tried with each other, those with the most amounts first."""

LEAST_ROWS = 4
HOLDS_IN = 0.95
"""A relation holds that is exact, to rounding, in so many of the rows that have all its amounts."""

MOST_RATES = 4
_MOST_MARKUP = 0.3
_ADDS_IN = 0.1
"""A part adds something in at least so many rows; a column of zeros explains nothing."""

_MINOR = (100, 1000)
"""How many minor units a currency has that has any."""

_CENT = 0.011
_UNIT = 0.51

Amounts = NDArray[np.float64]


@dataclass(frozen=True)
class Sum:
    """The parts that add up to a column, the largest first, and in how many rows of how many."""

    parts: tuple[str, ...]
    whole: str
    rows: int
    of: int

    def __str__(self) -> str:
        """Return the sum as an owner writes it."""
        parts = " + ".join(f"{part!r}" for part in self.parts)
        return f"{parts} = {self.whole!r} in {self.rows} of {self.of} rows"


@dataclass(frozen=True)
class Share:
    """A column that is a share of another: by one or few rates, or by one that falls as the amount rises."""

    part: str
    base: str
    rates: tuple[float, ...]

    @property
    def is_tiered(self) -> bool:
        """Whether the share falls as the amount rises."""
        return not self.rates


def find_sums(amounts: pl.DataFrame) -> list[Sum]:
    """Return the sums of two or three columns that are another column, those of two first.

    `amounts` holds one Float64 column an amount column, in any order; signs are ignored, since an account writes
    what it takes off with a minus or without. An empty cell among the smaller parts adds nothing.
    """
    columns = _columns(amounts)
    found: list[Sum] = []
    for count in (2, 3):
        for parts in combinations(columns, count):
            for whole in columns:
                if whole in parts or any(one.whole == whole and set(one.parts) < set(parts) for one in found):
                    continue
                holds = _sum_holds(columns, parts, whole)
                if holds is not None:
                    found.append(holds)
    return found


def find_shares(amounts: pl.DataFrame) -> list[Share]:
    """Return the columns that are a share of a larger one."""
    columns = _columns(amounts)
    return [
        share
        for base in columns
        for part in columns
        if part != base and (share := _share(columns, part, base)) is not None
    ]


def find_markups(amounts: pl.DataFrame) -> list[Share]:
    """Return the pairs of columns of which one is the other and a share of it on top, by one or few rates.

    `part` is the smaller column, `base` the larger one, and the rates are shares of the smaller.
    """
    columns = _columns(amounts)
    found = []
    for small, low in columns.items():
        for large, high in columns.items():
            known = (low > 0) & (high > low)
            if small == large or known.sum() < max(LEAST_ROWS, 0.5 * (high > 0).sum()):
                continue
            rates = tuple(_rates(high[known] - low[known], low[known]))
            if rates and max(rates) < _MOST_MARKUP:
                found.append(Share(small, large, rates))
    return found


def find_minor_twins(amounts: pl.DataFrame) -> list[tuple[str, str]]:
    """Return the pairs of columns of which the first is the second in minor units, a hundred or a thousand times it.

    A column of few amounts is none: it may be a rate beside its percentage. Nor is one that lacks many of them.
    """
    columns = _columns(amounts)
    found = []
    for minor, larger in columns.items():
        for major, smaller in columns.items():
            known = (larger > 0) & (smaller > 0)
            if minor == major or known.sum() < max(LEAST_ROWS, HOLDS_IN * (larger > 0).sum()):
                continue
            if np.unique(smaller[known]).size <= MOST_RATES:
                continue
            is_minor = [
                (np.abs(smaller[known] * times - larger[known]) < _UNIT).mean() >= HOLDS_IN
                for times in _MINOR
            ]
            if any(is_minor) and bool((larger[known] == np.round(larger[known])).all()):
                found.append((minor, major))
    return found


def find_products(amounts: pl.DataFrame, quantities: pl.Series) -> list[tuple[str, str]]:
    """Return the pairs of columns of which the second is the first times the quantity, in nearly every row.

    It must hold in the rows of several pieces, too, however few they are.

    Where every quantity is one, both columns are equal and the pair comes both ways round.
    """
    counts = quantities.cast(pl.Float64).to_numpy()
    found = []
    for unit, one in (columns := _columns(amounts)).items():
        for line, total in columns.items():
            known = (one > 0) & (total > 0) & (counts > 0)
            if unit == line or known.sum() < LEAST_ROWS:
                continue
            exact = np.abs(one[known] * counts[known] - total[known]) <= _CENT * counts[known]
            several = exact[counts[known] > 1]
            if exact.mean() >= HOLDS_IN and (several.size == 0 or several.mean() >= HOLDS_IN):
                found.append((unit, line))
    return found


def are_bounds(low: pl.Series, high: pl.Series) -> bool:
    """Whether one column is never above another, and mostly below it by less than its double: estimates."""
    pairs = pl.DataFrame({"low": low, "high": high}).drop_nulls()
    if pairs.height < LEAST_ROWS:
        return False
    ratio = pairs["high"] / pairs["low"]
    return bool((ratio >= 1).all()) and 1.05 < float(ratio.median() or 0) < 2.6  # type: ignore[arg-type]


def _columns(amounts: pl.DataFrame) -> dict[str, Amounts]:
    """Return the columns that have amounts, as positive numbers, in an order that rests on their content."""
    filled = [
        (int((series.abs() > 0).sum()), series.name)
        for series in amounts.iter_columns()
        if int((series.abs() > 0).sum()) >= min(LEAST_ROWS, amounts.height)
    ]
    names = [name for _, name in sorted(filled, key=lambda one: (-one[0], one[1]))[:MOST_COLUMNS]]
    return {name: np.abs(amounts[name].cast(pl.Float64).to_numpy()) for name in sorted(names)}


def _sum_holds(columns: dict[str, Amounts], parts: tuple[str, ...], whole: str) -> Sum | None:
    sizes = {part: float(np.nansum(columns[part])) for part in parts}
    ordered = tuple(sorted(parts, key=lambda part: (-sizes[part], part)))
    if sizes[ordered[0]] >= float(np.nansum(columns[whole])):
        return None
    first, total = columns[ordered[0]], columns[whole]
    known = ~np.isnan(first) & ~np.isnan(total) & (total > 0)
    count = int(known.sum())
    if count < LEAST_ROWS:
        return None
    smaller = [np.nan_to_num(columns[part][known]) for part in ordered[1:]]
    if any((part > 0).mean() < _ADDS_IN for part in smaller):
        return None
    tolerance = _tolerance(total[known]) * (len(parts) - 1)
    exact = int((np.abs(first[known] + sum(smaller) - total[known]) <= tolerance).sum())
    return Sum(ordered, whole, exact, count) if exact >= HOLDS_IN * count else None


def _share(columns: dict[str, Amounts], part: str, base: str) -> Share | None:
    known = (columns[base] > 0) & (columns[part] > 0)
    if known.sum() < LEAST_ROWS:
        return None
    whole, piece = columns[base][known], columns[part][known]
    if np.unique(whole).size < LEAST_ROWS or piece.sum() >= 0.6 * whole.sum():
        return None
    rates = tuple(_rates(piece, whole))
    if rates:
        return Share(part, base, rates)
    order = np.argsort(whole, kind="stable")
    falling = np.diff((piece / whole)[order])
    slack = _tolerance(piece) / whole[order][1:]
    steady = (falling <= slack).all() and np.diff(piece[order]).min(initial=0) >= -_tolerance(piece)
    varied = np.unique(piece).size > whole.size / 2
    return Share(part, base, ()) if steady and varied else None


def _rates(piece: Amounts, whole: Amounts) -> Iterator[float]:
    """Yield the few rates that give nearly every part, the most usual first; none where they are many."""
    left = np.ones(piece.size, dtype=bool)
    found: list[float] = []
    tolerance = _tolerance(piece)
    for _ in range(MOST_RATES):
        largest = np.argmax(np.where(left, whole, -1))
        rate = _plain_rate(piece[largest], whole[largest], tolerance)
        fits = left & (np.abs(whole * rate - piece) <= tolerance)
        if fits.sum() < 2:
            break
        found.append(rate)
        left &= ~fits
        if left.sum() <= (1 - HOLDS_IN) * piece.size:
            yield from found
            return


def _plain_rate(piece: float, whole: float, tolerance: float) -> float:
    """Return the roundest rate that gives a part of a whole: 0.25 rather than 0.24996."""
    exact = piece / whole
    return next(
        (
            rounded
            for digits in (2, 3, 4, 5)
            if abs(whole * (rounded := round(exact, digits)) - piece) <= tolerance
        ),
        exact,
    )


def _tolerance(total: Amounts) -> float:
    """Return how far rounding may take a sum or share from exact: a cent, or one where amounts are whole."""
    return _UNIT if bool((total == np.round(total)).all()) else _CENT
