"""Penalties: what shrinks the effects of a pooled term, a curve or a walk together."""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Penalty:
    """lambda · |D b|² on the coefficients `start` to `start + size` of one term.

    `root` is D (rank, size), of full row rank; None stands for the identity.
    """

    term: str
    start: int
    size: int
    root: Array | None

    @property
    def rank(self) -> int:
        """Return the rank of S = D'D."""
        return self.size if self.root is None else self.root.shape[0]

    @property
    def span(self) -> slice:
        """Return the coefficients that it touches."""
        return slice(self.start, self.start + self.size)

    @cached_property
    def sparse(self) -> Any:
        """Return S = D'D (size, size), sparse."""
        from scipy.sparse import csr_array, eye_array

        if self.root is None:
            return eye_array(self.size, format="csr")
        root = csr_array(self.root)
        return (root.T @ root).tocsr()

    def matrix(self) -> Array:
        """Return S = D'D (size, size)."""
        dense: Array = self.sparse.toarray()
        return dense

    def times(self, block: Array) -> Array:
        """Return S · block."""
        if self.root is None:
            return block
        product: Array = self.sparse @ block
        return product

    def form(self, coefficients: Array) -> float:
        """Return b'Sb for all coefficients b of the fit."""
        own = coefficients[self.span]
        rough = own if self.root is None else self.root @ own
        return float(rough @ rough)

    def trace(self, block: Array) -> float:
        """Return tr(S · block) for what a matrix has over its own coefficients (size, size)."""
        return float(np.trace(block) if self.root is None else self.sparse.multiply(block).sum())

    def add_to(self, matrix: Array, factor: float, start: int | None = None) -> None:
        """Add factor · S to a matrix in place; its coefficients begin at `start` there, or where they do in the fit."""
        first = self.start if start is None else start
        if self.root is None:
            diagonal = np.arange(first, first + self.size)
            matrix[diagonal, diagonal] += factor
        else:
            entries = self.sparse.tocoo()
            matrix[first + entries.row, first + entries.col] += factor * entries.data


def identity(term: str, start: int, size: int) -> Penalty:
    """Return the penalty of a pooled term: independent effects of one common variance."""
    return Penalty(term, start, size, None)


def differences(axis: Array, *, order: int) -> Array:
    """Return D of first or second differences over rising places (levels - order, levels).

    With equal steps these are the plain differences. Otherwise a first difference is divided by the
    root of its step (in units of the walk's own step of 1), so that a walk over a gap has the variance
    of the gap; a second difference is the divided one times the mean step to the power 3/2, with the
    weight of the stretch that it stands for (the integral of the squared second derivative).
    """
    steps = np.diff(axis)
    count = len(steps)
    if count < order:
        return np.zeros((0, len(axis)))
    if order == 1:
        root = np.zeros((count, count + 1))
        rows = np.arange(count)
        root[rows, rows + 1] = 1 / np.sqrt(steps)
        root[rows, rows] = -1 / np.sqrt(steps)
        return root
    rows = np.arange(count - 1)
    mean = float(steps.mean())
    before, after = steps[:-1], steps[1:]
    width = (before + after) / 2
    scale = mean**1.5 / np.sqrt(width)
    root = np.zeros((count - 1, count + 1))
    root[rows, rows] = scale / before
    root[rows, rows + 1] = -scale * (1 / before + 1 / after)
    root[rows, rows + 2] = scale / after
    return root
