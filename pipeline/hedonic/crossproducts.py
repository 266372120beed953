"""Cross-products: X'WX and X'Wy over all cells of a design, as pairwise tables of counts and sums.

They are sums over records, so those of two partitions add up to those of the whole.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.errors import FitError
from pipeline.hedonic.design import Cells, Design

Array = NDArray[np.float64]


@dataclass(frozen=True)
class CrossProducts:
    """The sums that a fit needs, over all cells (intercept first, reference levels included).

    `gram` (cells, cells) is X'WX, `moment` (cells,) X'W(y - origin), `squares` the sum of
    w·(y - origin)², `origin` the response's centre in log price, `rows` the records counted.
    """

    gram: Array
    moment: Array
    squares: float
    origin: float
    rows: int

    def __add__(self, other: "CrossProducts") -> "CrossProducts":
        """Return the cross-products of both partitions together (they must share the origin)."""
        if self.origin != other.origin or self.gram.shape != other.gram.shape:
            raise FitError(
                "two partitions with different origins or designs cannot be added",
                "count both with the same design and origin.",
            )
        return CrossProducts(
            self.gram + other.gram,
            self.moment + other.moment,
            self.squares + other.squares,
            self.origin,
            self.rows + other.rows,
        )


def count(cells: Cells, design: Design, weights: Array | None = None) -> Array:
    """Return X'WX (cells, cells): one table of weighted counts for each pair of slots."""
    size = design.size
    gram = np.zeros((size, size))
    spans = [(0, 1) if owner < 0 else _span(design, int(owner)) for owner in cells.owners]
    local = [_local(cells.numbers[:, slot], span, size) for slot, span in enumerate(spans)]
    for left, (start, stop) in enumerate(spans):
        weighted = _times(weights, cells.values[left])
        squared = _times(weighted, cells.values[left])
        own = np.bincount(local[left], weights=squared, minlength=stop - start + 1)[: stop - start]
        gram[np.arange(start, stop), np.arange(start, stop)] += own
        for right in range(left + 1, len(spans)):
            begin, end = spans[right]
            wide = end - begin + 1
            both = local[left] * wide + local[right]
            summed = _times(weighted, cells.values[right])
            table = np.bincount(both, weights=summed, minlength=(stop - start + 1) * wide)
            table = table.reshape(stop - start + 1, wide)[:-1, :-1]
            gram[start:stop, begin:end] += table
            gram[begin:end, start:stop] += table.T
    return gram


def _times(weights: Array | None, values: Array | None) -> Array | None:
    if weights is None or values is None:
        return values if weights is None else weights
    return weights * values


def total(cells: Cells, design: Design, values: Array) -> Array:
    """Return X'v (cells,): the sum of a record's value over the records in each cell."""
    summed = np.zeros(design.size + 1)
    for slot in range(cells.numbers.shape[1]):
        times = _times(values, cells.values[slot])
        summed += np.bincount(cells.numbers[:, slot], weights=times, minlength=design.size + 1)
    return summed[:-1]


def cross(
    cells: Cells, design: Design, response: Array, weights: Array | None, origin: float
) -> CrossProducts:
    """Return the cross-products of records: their cells, response (log price) and weights (or None)."""
    centred = response - origin
    weighted = centred if weights is None else weights * centred
    return CrossProducts(
        count(cells, design, weights),
        total(cells, design, weighted),
        float(np.sum(weighted * centred)),
        origin,
        len(response),
    )


def _span(design: Design, owner: int) -> tuple[int, int]:
    factor = design.factors[owner]
    return factor.start, factor.stop


def _local(numbers: NDArray[np.int32], span: tuple[int, int], nothing: int) -> NDArray[np.int64]:
    """Return each row's place within the slot's levels; the place after the last means nothing."""
    start, stop = span
    placed = numbers.astype(np.int64) - start
    placed[numbers == nothing] = stop - start
    return placed
