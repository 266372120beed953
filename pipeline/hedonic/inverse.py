"""The inverse of the normal equations, kept as small blocks and a part that all coefficients share.

A market has thousands of silhouettes and colourways, of a few sales each. Their effects are *local*: given all
others, those of one silhouette say nothing of those of another. So the inverse is V = P + U M U': P has a block for
each group of local effects that belong together, and M is as large as what is left, the *core*.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Places = NDArray[np.int64]

CHUNK = 2048
"""So many design rows are multiplied out at a time."""


@dataclass(frozen=True)
class Inverse:
    """A symmetric matrix V (size, size) = P + U M U', of which only the parts are kept.

    `core` (q,) and `local` (l,) number the coefficients, each of which is in one of them. `middle` is M (m, m), m at
    least q. The row of U of the core's coefficient i is 1 in column i and 0 elsewhere; `links` (l, m) holds those of
    the local ones, and `blocks` (l, l) what P has there (it is zero elsewhere); both are sparse. With nothing local V
    is M.
    """

    size: int
    core: Places
    local: Places
    blocks: Any
    links: Any
    middle: Array

    @cached_property
    def _columns(self) -> Places:
        """The column of U of each coefficient of the core, m for the others and for none (size + 1,)."""
        columns = np.full(self.size + 1, len(self.middle), dtype=np.int64)
        columns[self.core] = np.arange(len(self.core))
        return columns

    @cached_property
    def _numbers(self) -> Places:
        """The number among the local ones of each coefficient, l for the others and for none (size + 1,)."""
        numbers = np.full(self.size + 1, len(self.local), dtype=np.int64)
        numbers[self.local] = np.arange(len(self.local))
        return numbers

    @cached_property
    def _padded(self) -> Array:
        """M with a row and a column of zeros for what is not of the core."""
        return np.pad(self.middle, (0, 1))

    def __matmul__(self, right: Array) -> Array:
        """Return V · right, of (size,) or (size, k)."""
        across = np.zeros((len(self.middle), *right.shape[1:]))
        across[: len(self.core)] = right[self.core]
        if not len(self.local):
            result: Array = np.empty(right.shape)
            result[self.core] = self.middle @ across
            return result
        own = right[self.local]
        shared = self.middle @ (across + self.links.T @ own)
        result = np.empty(right.shape)
        result[self.core] = shared[: len(self.core)]
        result[self.local] = self.blocks @ own + self.links @ shared
        return result

    def diagonal(self) -> Array:
        """Return the diagonal of V (size,): the variances."""
        result = np.empty(self.size)
        result[self.core] = np.diag(self.middle)[: len(self.core)]
        for first in range(0, len(self.local), CHUNK):
            part = slice(first, first + CHUNK)
            links = self.links[part]
            shared = _row_sums(links.multiply(links @ self.middle))
            result[self.local[part]] = self.blocks.diagonal()[part] + shared
        return result

    def taken(self, places: Places) -> Array:
        """Return the rows and columns of some coefficients, dense (k, k)."""
        rows = sparse_rows(places[:, None], np.ones((len(places), 1)), self.size)
        return self.between(rows, rows)

    def between(self, left: Any, right: Any) -> Array:
        """Return left · V · right' (a, b), dense, for sparse rows (a, size) and (b, size)."""
        across = self._across(left) @ self.middle
        result: Array = (self._across(right) @ across.T).T
        if len(self.local):
            result += (left[:, self.local] @ self.blocks @ right[:, self.local].T).toarray()
        return result

    def row_variances(self, rows: Any) -> Array:
        """Return x'Vx of each of some sparse rows (rows, size)."""
        return self.row_covariances(rows, rows)

    def row_covariances(self, left: Any, right: Any) -> Array:
        """Return x'Vy of each pair of sparse rows, (rows, size) both."""
        result = np.empty(left.shape[0])
        for first in range(0, len(result), CHUNK):
            part = slice(first, first + CHUNK)
            ours, theirs = left[part], right[part]
            result[part] = np.sum((self._across(ours) @ self.middle) * self.through(theirs), axis=1)
            if len(self.local):
                own = (ours[:, self.local] @ self.blocks).multiply(theirs[:, self.local])
                result[part] += _row_sums(own)
        return result

    def through(self, rows: Any) -> Array:
        """Return rows · U (rows, m), dense, for sparse rows (rows, size)."""
        across: Array = self._across(rows).toarray()
        return across

    def _across(self, rows: Any) -> Any:
        """Return rows · U (rows, m), sparse, for sparse rows (rows, size)."""
        from scipy.sparse import csr_array

        own = csr_array(rows[:, self.core])
        across = csr_array((own.data, own.indices, own.indptr), shape=(rows.shape[0], len(self.middle)))
        return across + rows[:, self.local] @ self.links if len(self.local) else across

    def roots(self, rows: Any) -> tuple[Array, Any]:
        """Return (A, B), B sparse, with rows · V · rows' = AA' + BB', for sparse rows (a, size).

        Rounding may leave V a little below zero where something is known of it; it counts as zero then.
        """
        from scipy.sparse import coo_array

        shared, own = self.through(rows), rows[:, self.local]
        used = np.flatnonzero(shared.any(axis=0))
        near = np.unique(own.indices)
        blocks = self.blocks[near][:, near]
        entries = [
            (_root(stacked), np.broadcast_arrays(members[:, :, None], members[:, None, :]))
            for members, stacked in stacked_blocks(blocks)
        ]
        root = coo_array(
            (
                np.concatenate([np.zeros(0), *(one.ravel() for one, _ in entries)]),
                tuple(
                    np.concatenate(
                        [np.zeros(0, dtype=np.int64), *(both[side].ravel() for _, both in entries)]
                    )
                    for side in (0, 1)
                ),
            ),
            shape=blocks.shape,
        )
        return shared[:, used] @ _root(self.middle[np.ix_(used, used)]), own[:, near] @ root.tocsr()

    # mutation: equivalent, slots come to one sum in any order, and a row too wide or worked out twice to the same
    def quadratic(self, positions: Places, values: Array) -> Array:
        """Return x'Vx (rows,) for design rows x given by positions (`size` for none) and values.

        Rows are taken in order of how many slots they use, so that none is multiplied out to the width of the widest.
        """
        columns = self._columns[positions]
        empty = columns >= len(self.middle)
        used = columns.shape[1] - empty.sum(axis=1)
        order = np.argsort(used, kind="stable")
        slots = np.argsort(empty, axis=1, kind="stable")
        places = np.take_along_axis(columns, slots, axis=1)[order]
        times = np.take_along_axis(values, slots, axis=1)[order]
        result = np.empty(len(positions))
        for first in range(0, len(positions), CHUNK):
            members = order[first : first + CHUNK]
            width = int(used[members[-1]])
            own, weights = places[first : first + CHUNK, :width], times[first : first + CHUNK, :width]
            pairs = self._padded[own[:, :, None], own[:, None, :]]
            result[members] = np.einsum("nij,ni,nj->n", pairs, weights, weights)
        if len(self.local):
            result += self._locally(positions, values, positions, values)
        return result

    # mutation: equivalent, a row worked out twice comes to the same, and einsum takes letters large or small
    def bilinear(
        self, positions: Places, values: Array, other_positions: Places, other_values: Array
    ) -> Array:
        """Return x'Vy (rows,) for design rows x and y given by positions and values."""
        columns, others = self._columns[positions], self._columns[other_positions]
        result = np.empty(len(positions))
        for first in range(0, len(positions), CHUNK):
            part = slice(first, first + CHUNK)
            pairs = self._padded[columns[part][:, :, None], others[part][:, None, :]]
            result[part] = np.einsum("nij,ni,nj->n", pairs, values[part], other_values[part])
        if len(self.local):
            result += self._locally(positions, values, other_positions, other_values)
        return result

    def _locally(self, positions: Places, values: Array, others: Places, weights: Array) -> Array:
        """Return x'Vy (rows,) less what the core has of it alone."""
        left = sparse_rows(self._numbers[positions], values, len(self.local))
        alike = others is positions and weights is values
        right = left if alike else sparse_rows(self._numbers[others], weights, len(self.local))
        result = np.zeros(len(positions))
        for first in range(0, len(positions), CHUNK):
            part = slice(first, first + CHUNK)
            ours, theirs = left[part], right[part]
            if ours.nnz or theirs.nnz:
                linked = ours @ self.links
                back = linked @ self.middle
                shared = back if alike else (theirs @ self.links) @ self.middle
                near = self._near(positions[part], values[part], shared)
                result[part] = (
                    near
                    + (near if alike else self._near(others[part], weights[part], back))
                    + _row_sums(linked.multiply(shared))
                    + _row_sums((ours @ self.blocks).multiply(theirs))
                )
        return result

    def _near(self, positions: Places, values: Array, shared: Array) -> Array:
        """Return x'y (rows,) of the core's part of design rows x, for rows y (rows, m)."""
        padded = np.pad(shared, ((0, 0), (0, 1)))
        near: Array = np.sum(np.take_along_axis(padded, self._columns[positions], axis=1) * values, axis=1)
        return near

    def scaled(self, factor: float) -> Self:
        """Return factor · V."""
        return replace(self, blocks=self.blocks * factor, middle=self.middle * factor)

    def less(self, rows: Any, middle: Array) -> Self:
        """Return V − V R' K R V, for sparse rows R (k, size) and a symmetric K (k, k).

        Where R is (σ² + R V R')⁻¹ as K, that is the covariance once R b is known with the error σ². Rows that touch no
        local coefficient change M alone; for others U gains the columns P R'.
        """
        own, links, whole = rows[:, self.local], self.links, self.middle
        across = self.middle @ self.through(rows).T
        if own.nnz:
            from scipy.sparse import hstack

            links = hstack([links, self.blocks @ own.T], format="csr")
            whole = np.pad(whole, (0, rows.shape[0]))
            across = np.concatenate([across, np.eye(rows.shape[0])])
        left = whole - across @ middle @ across.T
        return replace(self, links=links, middle=(left + left.T) / 2)

    def dense(self) -> Array:
        """Return V (size, size) as an array: of a small market."""
        return self @ np.eye(self.size)


def sparse_rows(positions: Places, values: Array, size: int) -> Any:
    """Return design rows (rows, size), sparse, from positions (`size` and above for none) and values."""
    from scipy.sparse import coo_array

    rows, slots = np.nonzero(positions < size)
    entries = (values[rows, slots], (rows, positions[rows, slots]))
    return coo_array(entries, shape=(len(positions), size)).tocsr()


def stacked_blocks(matrix: Any) -> list[tuple[Places, Array]]:
    """Return the diagonal blocks of a sparse symmetric matrix by size: (their numbers (n, k), the blocks (n, k, k))."""
    from scipy.sparse.csgraph import connected_components

    _, labels = connected_components(matrix, directed=False)
    order = np.argsort(labels, kind="stable")
    sizes = np.bincount(labels)
    begins = np.cumsum(sizes) - sizes
    entries = matrix.tocoo()
    found = []
    for size in np.unique(sizes):
        alike = np.flatnonzero(sizes == size)
        members = order[begins[alike][:, None] + np.arange(size)]
        place, slot = np.full(len(sizes), -1, dtype=np.int64), np.zeros(len(labels), dtype=np.int64)
        place[alike] = np.arange(len(alike))
        slot[members] = np.arange(size)
        here = np.flatnonzero(place[labels[entries.row]] >= 0)
        row, column = entries.row[here], entries.col[here]
        stacked = np.zeros((len(alike), size, size))
        stacked[place[labels[row]], slot[row], slot[column]] = entries.data[here]
        found.append((members, stacked))
    return found


def _root(covariance: Array) -> Array:
    """Return R with RR' = covariance, of one matrix or of a stack of them."""
    values, vectors = np.linalg.eigh(covariance)
    root: Array = vectors * np.sqrt(np.maximum(values, 0))[..., None, :]
    return root


def _row_sums(matrix: Any) -> Array:
    sums: Array = np.asarray(matrix.sum(axis=1)).ravel()
    return sums
