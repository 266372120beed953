"""Tallies: what one scan adds up over packed records, batch by batch. None of them grows with the records."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.hedonic.crossproducts import CrossProducts
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.scans import Batch
from pipeline.hedonic.superfactors import Coding, gather, gather_totals, pairs, super_effects

Array = NDArray[np.float64]

BINS = 4096
WIDEST = 16.0
"""The histogram of residuals: its bins, and its range in root mean squares."""


@dataclass(frozen=True)
class Scores:
    """The sums of one round of re-weighting.

    `totals` (cells,) is X'W(weight · residual / kappa), `squares` the sum of w·(weight · residual / kappa)²,
    `spread` that of w·weight·residual².
    """

    totals: Array
    squares: float
    spread: float


def tally_products(batches: Iterable[Batch], coding: Coding, origin: float) -> CrossProducts:
    """Return the cross-products of packed records."""
    tables = _empty_tables(coding)
    moments = [np.zeros(packed.size) for packed in coding.supers]
    squares, rows = 0.0, 0
    for batch in batches:
        centred = batch.response - origin
        weighted = centred if batch.weights is None else centred * batch.weights
        _add_pairs(tables, batch, coding, batch.weights)
        for number, moment in zip(batch.numbers, moments, strict=True):
            moment += np.bincount(number, weighted, len(moment))
        squares += float(np.sum(weighted * centred))
        rows += len(centred)
    return CrossProducts(gather(coding, tables), gather_totals(coding, moments), squares, origin, rows)


def tally_meat(
    batches: Iterable[Batch], coding: Coding, effects: Array, robust: Robust | None, scale: float
) -> Array:
    """Return X' diag(score²) X (cells, cells), a score being w times the (pseudo-)residual."""
    tables = _empty_tables(coding)
    own = super_effects(coding, effects)
    for batch in batches:
        left = _residuals(batch, own)
        score = left if batch.weights is None else left * batch.weights
        if robust is not None:
            score = score * robust.weights(_rooted(batch, left) / scale) / robust.kappa
        _add_pairs(tables, batch, coding, score * score)
    return gather(coding, tables)


def tally_scores(
    batches: Iterable[Batch], coding: Coding, effects: Array, robust: Robust, scale: float
) -> Scores:
    """Return the sums that one round of re-weighting needs."""
    own = super_effects(coding, effects)
    totals = [np.zeros(packed.size) for packed in coding.supers]
    squares, spread = 0.0, 0.0
    for batch in batches:
        left = _residuals(batch, own)
        weight = robust.weights(_rooted(batch, left) / scale)
        weighted = left if batch.weights is None else left * batch.weights
        pseudo = weight * weighted / robust.kappa
        for number, sums in zip(batch.numbers, totals, strict=True):
            sums += np.bincount(number, pseudo, len(sums))
        squares += float(np.sum(pseudo * weight * left)) / robust.kappa
        spread += float(np.sum(weight * weighted * left))
    return Scores(gather_totals(coding, totals), squares, spread)


def tally_spread(batches: Iterable[Batch], coding: Coding, effects: Array, root_mean_square: float) -> float:
    """Return the median |residual| · root weight, from a histogram as wide as a few root mean squares."""
    own = super_effects(coding, effects)
    counts = np.zeros(BINS)
    width = WIDEST * root_mean_square / BINS
    for batch in batches:
        size = np.abs(_rooted(batch, _residuals(batch, own)))
        counts += np.bincount(np.minimum(size / width, BINS - 1).astype(np.intp), minlength=BINS)
    reached = np.cumsum(counts)
    middle = int(np.searchsorted(reached, reached[-1] / 2))
    below = reached[middle - 1] if middle else 0.0
    return float(width * (middle + (reached[-1] / 2 - below) / counts[middle]))


def _empty_tables(coding: Coding) -> dict[tuple[int, ...], Array]:
    return {pair: np.zeros(int(np.prod([coding.supers[one].size for one in pair]))) for pair in pairs(coding)}


def _add_pairs(
    tables: dict[tuple[int, ...], Array], batch: Batch, coding: Coding, weights: Array | None
) -> None:
    both = np.empty(len(batch.response), dtype=np.intp)
    for pair, table in tables.items():
        both[:] = batch.numbers[pair[0]]
        for other in pair[1:]:
            np.multiply(both, coding.supers[other].size, out=both)
            np.add(both, batch.numbers[other], out=both)
        table += np.bincount(both, weights, len(table))


def _residuals(batch: Batch, own: list[Array]) -> Array:
    left = batch.response.copy()
    for number, effects in zip(batch.numbers, own, strict=True):
        left -= effects[number]
    return left


def _rooted(batch: Batch, left: Array) -> Array:
    return left if batch.weights is None else left * np.sqrt(batch.weights)
