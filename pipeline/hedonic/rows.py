"""Design rows of records to be predicted: a handful of coefficient numbers with their weights."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache, cached_property
from math import pi, tan
from typing import NamedTuple, Self

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.hedonic.bands import quantile_of_sum
from pipeline.hedonic.design import FEW, ORDERED, Factor, local_numbers
from pipeline.hedonic.distributions import normal_quantile
from pipeline.hedonic.fitted import Fit, Trend
from pipeline.hedonic.layout import ordered_groups
from pipeline.hedonic.levels import Flags, cell_text, flag_keys, level_keys, numeric_axis
from pipeline.hedonic.specification import Term

Array = NDArray[np.float64]
Places = NDArray[np.int64]


class Ends(NamedTuple):
    """Which rows lie beyond an end of a walk or a curve: two beyond the same end share what is not known there.

    `end` (rows,): the number of the end, -1 for none. `distance` (rows,): how far beyond it. `noise` (rows,): the
    variance of a walk's step of one, or the intensity of a curve's noise. `chord` (rows,): how far the curve's
    last two levels lie apart, NaN for a walk.
    """

    end: Places
    distance: Array
    noise: Array
    chord: Array

    def taken(self, rows: Places) -> Self:
        """Return those of some rows."""
        return self._replace(
            end=self.end[rows], distance=self.distance[rows], noise=self.noise[rows], chord=self.chord[rows]
        )


@dataclass(frozen=True)
class TermRows:
    """One term's share of the design rows.

    `positions`, `values` (rows, slots): coefficients (p = none) and their weights. `extra` (rows,) is
    the variance that the coefficients do not carry: of an unseen level, of a walk's steps since its
    last level, of a curve beyond its ends. `unseen` and `extrapolated` (rows,) say which it is; `records` (rows,)
    counts the sales behind it (the fewest, for flags). `texts` writes the `keys` when they are asked for.
    `ends` is None where nothing lies beyond an end.
    """

    term: str
    positions: Places
    values: Array
    extra: Array
    unseen: NDArray[np.bool_]
    texts: Callable[[], pl.Series]
    records: NDArray[np.int64]
    ends: Ends | None = None

    @property
    def extrapolated(self) -> NDArray[np.bool_]:
        """Which rows lie beyond an end (rows,)."""
        return np.zeros(len(self.extra), dtype=bool) if self.ends is None else self.ends.end >= 0

    @cached_property
    def keys(self) -> pl.Series:
        """The level text of each row (rows,)."""
        return self.texts()

    def repeated(self, rows: int) -> Self:
        """Return the share of one record, so many times over."""
        return self.taken(np.zeros(rows, dtype=np.int64))

    def taken(self, rows: Places) -> Self:
        """Return the share of some records, in that order; one may come several times."""
        return replace(
            self,
            positions=self.positions[rows],
            values=self.values[rows],
            extra=self.extra[rows],
            unseen=self.unseen[rows],
            texts=lambda: self.keys.gather(rows),
            records=self.records[rows],
            ends=None if self.ends is None else self.ends.taken(rows),
        )


def rows_by_term(fit: Fit, frame: pl.DataFrame) -> tuple[TermRows, ...]:
    """Return the design rows of records, term by term (without the intercept)."""
    keys = frame.select([cell_text(frame, one.term) for one in fit.design.factors if not one.many])
    return tuple(
        _flags(fit, factor, frame) if factor.many else _one_level(fit, factor, frame, keys[factor.term.name])
        for factor in fit.design.factors
    )


def rows_of_term(fit: Fit, factor: Factor, frame: pl.DataFrame) -> TermRows:
    """Return one term's share of the design rows; the frame needs the columns of that term only."""
    if factor.many:
        return _flags(fit, factor, frame)
    return _one_level(fit, factor, frame, level_keys(frame, factor.term))


def _one_level(fit: Fit, factor: Factor, frame: pl.DataFrame, keys: pl.Series) -> TermRows:
    if factor.term.kind == "linear":
        return _linear(fit, factor, frame, keys)
    if factor.term.kind in ORDERED:
        return _ordered(fit, factor, frame, keys)
    return _plain(fit, factor, keys)


def stack(by_term: tuple[TermRows, ...], rows: int) -> tuple[Places, Array]:
    """Return (positions, values), each (rows, slots), of whole design rows, the intercept first."""
    positions = [np.zeros((rows, 1), dtype=np.int64), *(term.positions for term in by_term)]
    values = [np.ones((rows, 1)), *(term.values for term in by_term)]
    return np.concatenate(positions, axis=1), np.concatenate(values, axis=1)


def _positions(fit: Fit, factor: Factor, local: Places) -> Places:
    nothing = fit.design.size
    return fit.layout.positions[np.where(local < 0, nothing, factor.start + local)]


def _records(factor: Factor, local: Places) -> NDArray[np.int64]:
    return np.append(factor.rows, 0)[local]


def unseen_variance(fit: Fit, factor: Factor) -> float:
    """Return the variance of a level that the fit has not seen.

    A pooled term, or one with a single level: see `new_level_variance`. Another: the mean square of its known
    effects about the reference (by records for level terms), which also allows for the reference being no mean.
    """
    term_lambda = fit.lambdas.get(factor.term.name)
    if factor.term.kind == "pooled" or (factor.size == 1 and not factor.many):
        between = 0.0 if term_lambda is None else fit.sigma2 / term_lambda
        return new_level_variance(between, factor.size, factor.term.spread)
    if not factor.size:
        return 0.0
    effects = np.append(fit.coefficients, 0.0)[fit.layout.positions[factor.start : factor.stop]]
    weights = np.ones(factor.size) if factor.many else factor.rows.astype(np.float64)
    return float(np.average(effects**2, weights=weights))


def new_level_variance(between: float, levels: int, spread: float) -> float:
    """Return the variance of a new level's effect, after so many levels that differ by the variance `between`.

    `between` is itself an estimate: of J levels it has J - 1 degrees of freedom, and of one level none. With an
    inverse chi-square prior of one degree of freedom and the scale `spread`, a new level less the levels' mean is
    Student-t with J degrees of freedom and the squared scale (spread² + (J - 1) between) / J (Gelman et al. 2013,
    Bayesian Data Analysis, section 3.2). The variance returned is that of the Gaussian with the same 80 % band. The
    mean of J levels errs by a J-th of a level's variance, of which the coefficients' covariance holds `between` / J
    (nothing for one level, whose effect cannot be separated from the intercept); the rest is added here.
    """
    count = max(levels, 1)
    scale = (spread**2 + (count - 1) * between) / count
    variance = scale * _student_over_gaussian(float(count)) ** 2
    held = between if levels > 1 else 0.0
    return variance + max(variance - held, 0.0) / count


@cache
def _student_over_gaussian(degrees_of_freedom: float) -> float:
    """Return how much wider the 80 % band of Student-t is than the Gaussian one, by steps from Student-t(1)."""
    above, widest = 0.9, np.array([tan(pi * 0.4)])
    student = quantile_of_sum(np.zeros(1), np.ones(1), degrees_of_freedom, above, widest)
    return float(student[0] / normal_quantile(above))


def _plain(fit: Fit, factor: Factor, keys: pl.Series) -> TermRows:
    local = local_numbers(keys, factor)
    unseen = local < 0
    extra = np.zeros(len(local))
    if unseen.any():
        extra[unseen] = unseen_variance(fit, factor)
    return TermRows(
        factor.term.name,
        _positions(fit, factor, local)[:, None],
        np.ones((len(local), 1)),
        extra,
        unseen,
        lambda: keys,
        _records(factor, local),
    )


def _linear(fit: Fit, factor: Factor, frame: pl.DataFrame, keys: pl.Series) -> TermRows:
    axis = numeric_axis(frame, factor.term)
    missing = axis.is_null().to_numpy()
    has_level = factor.size > 1
    local = (missing & has_level).astype(np.int64)
    unseen = missing & (not has_level)
    filler = 1.0 if has_level else factor.centre
    slope = np.append(fit.coefficients, 0.0)[fit.layout.positions[factor.start]]
    return TermRows(
        factor.term.name,
        _positions(fit, factor, local)[:, None],
        axis.fill_null(filler).to_numpy().astype(np.float64)[:, None],
        np.where(unseen, float(slope * factor.spread) ** 2, 0.0).astype(np.float64),
        unseen,
        lambda: keys,
        # mutation: equivalent, a slope has one count, and after it comes the 0 at the end
        _records(factor, np.where(unseen, -1, local)),
    )


def _flags(fit: Fit, factor: Factor, frame: pl.DataFrame) -> TermRows:
    flags = flag_keys(frame, factor.term)
    rows, slots = flags.rows, flags.slots
    local = local_numbers(flags.keys, factor)
    width = 1 + int(slots.max(initial=0))
    positions = np.full((frame.height, width), fit.layout.size, dtype=np.int64)
    positions[rows, slots] = _positions(fit, factor, local)
    unseen = np.bincount(rows, weights=local < 0, minlength=frame.height)
    records = np.full(frame.height, np.iinfo(np.int64).max)
    np.minimum.at(records, rows, _records(factor, local))
    return TermRows(
        factor.term.name,
        positions,
        np.ones(positions.shape),
        (unseen * unseen_variance(fit, factor)).astype(np.float64),
        unseen > 0,
        lambda: _joined(flags, frame.height),
        np.where(records == np.iinfo(np.int64).max, fit.rows, records),
    )


def _joined(flags: Flags, rows: int) -> pl.Series:
    """Return the keys of each row's flags as one text a row, in order."""
    if rows <= FEW:  # mutation: equivalent, few and many differ in time only
        carried: list[list[str]] = [[] for _ in range(rows)]
        for row, key in zip(flags.rows, flags.keys, strict=True):
            carried[row].append(key)
        # mutation: equivalent, nobody reads the name of this column
        return pl.Series("key", [" + ".join(sorted(keys)) for keys in carried], dtype=pl.String)
    long = pl.DataFrame({"row": flags.rows, "key": flags.keys})
    texts = long.group_by("row").agg(pl.col("key").sort().str.join(" + "))
    index = pl.DataFrame({"row": pl.int_range(rows, dtype=pl.Int64, eager=True)})
    return index.join(texts, on="row", how="left", maintain_order="left")["key"].fill_null("")


# mutation: equivalent, any numbers serve that distinguish the ends, and any below 0 is beyond no end
def _ordered(fit: Fit, factor: Factor, frame: pl.DataFrame, keys: pl.Series) -> TermRows:
    """Place records on a curve or walk, between its levels and beyond its ends too."""
    local = local_numbers(keys, factor)
    rows = frame.height
    positions = np.full((rows, 2), fit.layout.size, dtype=np.int64)
    values = np.zeros((rows, 2))
    extra = np.zeros(rows)
    seen = local >= 0
    positions[seen, 0] = _positions(fit, factor, local)[seen]
    values[seen, 0] = 1.0
    ends = Ends(np.full(rows, -1), np.zeros(rows), np.zeros(rows), np.zeros(rows))
    records = _records(factor, local)
    trend = fit.trend if fit.trend is not None and fit.trend.term == factor.term.name else None
    if trend is not None or not seen.all():
        axis = numeric_axis(frame, factor.term).to_numpy().astype(np.float64)
    if not seen.all():
        rest = Term(factor.term.name, "level", factor.term.columns[1:])
        groups = level_keys(frame, rest).to_numpy() if factor.groups is not None else np.full(rows, "")
        for number, (members, reference) in enumerate(ordered_groups(factor)):
            group = "" if factor.groups is None else factor.groups[reference]
            here = np.flatnonzero(~seen & ~np.isnan(axis) & (groups == group))
            if len(here):
                positions[here], values[here], extra[here], own = _between(fit, factor, members, axis[here])
                ends.end[here] = np.where(own.end < 0, -1, 2 * number + own.end)
                for whole, part in zip(ends[1:], own[1:], strict=True):
                    whole[here] = part
                seen[here] = True
    unseen = ~seen
    extra[unseen] = unseen_variance(fit, factor)
    if trend is not None:
        steps = np.where(np.isnan(axis), 0.0, trend.steps(walk_levels(factor), axis))
        places, weights = slope_row(fit, trend)
        positions = np.concatenate([positions, np.tile(places, (rows, 1))], axis=1)
        values = np.concatenate([values, np.outer(steps, weights)], axis=1)
    return TermRows(
        factor.term.name,
        positions,
        values,
        extra,
        unseen,
        lambda: keys,
        records,
        ends if (ends.end >= 0).any() else None,
    )


def slope_row(fit: Fit, trend: Trend) -> tuple[Places, Array]:
    """Return (positions, values) of the slope of a trend: slope = values @ coefficients[positions]."""
    factor = fit.factor(trend.term)
    [(members, _)] = ordered_groups(factor)
    start, shares, _, _ = _between(fit, factor, members, walk_levels(factor)[-1:] - trend.months)
    end = _positions(fit, factor, members[-1:])
    return np.append(end, start[0]), np.append(1.0, -shares[0]) / trend.span


def walk_levels(factor: Factor) -> Array:
    """Return the places of the levels of a walk of its own, in order."""
    [(members, _)] = ordered_groups(factor)
    return np.zeros(0) if factor.axis is None else factor.axis[members]


# mutation: equivalent, between levels no place is a level, and beyond a single level nothing is added
def _between(fit: Fit, factor: Factor, members: Places, places: Array) -> tuple[Places, Array, Array, Ends]:
    """Return (positions, values, variance, ends) for places that are not levels themselves.

    The end is 0 below the first level and 1 above the last.

    A walk keeps its nearest level beyond its ends (`_ordered` adds the trend to that), and gains the step variance
    times the gap; between levels it is a Brownian bridge. A curve goes on straight; its variance is that of twice
    integrated noise of intensity tau² about the chord of the two nearest levels: t²(h - t)²/3h between them,
    t³/3 + t²h/3 at a distance t beyond.
    """
    axis = np.zeros(0) if factor.axis is None else factor.axis
    levels = axis[members]
    walk = factor.term.kind == "walk"
    term_lambda = fit.lambdas.get(factor.term.name)
    noise = 0.0 if term_lambda is None else fit.sigma2 / term_lambda
    end = np.where(places > levels[-1], 1, np.where(places < levels[0], 0, -1))
    if len(levels) == 1:
        gap = np.abs(places - levels[0])
        only = np.repeat(_positions(fit, factor, members[:1]), len(places))
        ends = _ends(end, gap, noise if walk else 0.0, None if walk else gap * 0)
        return _pair(only, only), _weights(np.zeros(len(places))), noise * gap if walk else 0 * gap, ends
    right = np.clip(np.searchsorted(levels, places), 1, len(levels) - 1)
    low, high = levels[right - 1], levels[right]
    width = high - low
    distance = np.where(places > high, places - high, np.where(places < low, low - places, 0.0))
    share = (places - low) / width
    positions = _pair(_positions(fit, factor, members[right - 1]), _positions(fit, factor, members[right]))
    inside = np.clip(places - low, 0, width)
    if walk:
        values = _weights(np.clip(share, 0, 1))
        ends = _ends(end, distance, noise, None)
        return positions, values, noise * (inside * (width - inside) / width + distance), ends
    intensity = noise / float(np.mean(np.diff(levels))) ** 3
    variance = (inside * (width - inside)) ** 2 / (3 * width) + distance**3 / 3 + distance**2 * width / 3
    return positions, _weights(share), intensity * variance, _ends(end, distance, intensity, width)


def _ends(end: Places, distance: Array, noise: float, chord: Array | None) -> Ends:
    # mutation: equivalent, numpy writes None into floats as NaN
    bent = np.full(len(end), np.nan) if chord is None else chord
    return Ends(end, distance, np.full(len(end), noise), bent)


def _pair(left: Places, right: Places) -> Places:
    return np.stack([left, right], axis=1)


def _weights(share: Array) -> Array:
    return np.stack([1 - share, share], axis=1)
