"""The layout: which cells become coefficients, what is penalised, and what had to be left out."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.hedonic.design import Design, Factor
from pipeline.hedonic.penalties import Penalty, differences, identity
from pipeline.hedonic.specification import TermKind
from pipeline.hedonic.threads import one_blas_thread

Array = NDArray[np.float64]

COLLINEAR = 1e-9
"""A direction counts as collinear when less than this share of it is left beside the earlier ones."""


NO_LEVEL = "no record carries a level"
ONE_LEVEL = "all records carry one level"
NOT_APART = "collinear with the terms before it"
"""Why a part of the design is left out of a fit."""


@dataclass(frozen=True)
class Dropped:
    """A term or level without a coefficient of its own, and why."""

    term: str
    level: str
    reason: str


@dataclass(frozen=True)
class Layout:
    """The coefficients of a fit.

    `cells` (p,) gives the design cell of each coefficient, in ascending order; `positions` (cells + 1,)
    the coefficient of each cell, p where it has none. `unpenalised` is M, the number of directions that
    no penalty touches.
    """

    cells: NDArray[np.int64]
    positions: NDArray[np.int64]
    penalties: tuple[Penalty, ...]
    dropped: tuple[Dropped, ...]

    @property
    def size(self) -> int:
        """Return p, the number of coefficients."""
        return len(self.cells)

    @property
    def unpenalised(self) -> int:
        """Return M, the number of directions that no penalty touches."""
        return self.size - sum(penalty.rank for penalty in self.penalties)


@dataclass(frozen=True)
class _Free:
    """A direction of the coefficients that no penalty touches, and the cell to drop if it is collinear."""

    cells: NDArray[np.int64]
    values: Array
    victim: int


def make_layout(design: Design, gram: Any) -> Layout:
    """Choose the coefficients: all levels but the references, and none that is collinear or empty.

    `gram` is X'WX over all cells, sparse or not. Earlier terms are kept before later ones.
    """
    kept = np.zeros(design.size, dtype=bool)
    kept[0] = True
    dropped: list[Dropped] = []
    for factor in design.factors:
        if factor.size == 0 or (factor.size == 1 and not factor.many and factor.term.kind != "linear"):
            reason = NO_LEVEL if factor.size == 0 else ONE_LEVEL
            dropped.append(Dropped(factor.term.name, "", reason))
            continue
        kept[factor.start : factor.stop] = True
        kept[[factor.start + local for local in factor.references]] = False
    for cell in _collinear(design, gram, kept):
        kept[cell] = False
        factor = next(factor for factor in design.factors if factor.start <= cell < factor.stop)
        key = factor.keys[cell - factor.start]
        dropped.append(Dropped(factor.term.name, key, NOT_APART))
    cells = np.flatnonzero(kept)
    positions = np.full(design.size + 1, len(cells), dtype=np.int64)
    positions[cells] = np.arange(len(cells))
    penalties = tuple(
        penalty
        for factor in design.factors
        if (penalty := _penalty(factor, kept, positions)) is not None and penalty.rank > 0
    )
    return Layout(cells, positions, penalties, tuple(dropped))


def _collinear(design: Design, gram: Any, kept: NDArray[np.bool_]) -> list[int]:
    """Return the cells to drop so that the unpenalised directions are independent.

    X'WX + S is singular exactly where a direction that no penalty touches moves no fitted value: so it
    is enough to factor N'X'WXN, N spanning those directions, in the order of the terms.
    """
    free = [_Free(np.array([0]), np.ones(1), 0)]
    for factor in design.factors:
        free.extend(_free_directions(factor, kept))
    from scipy.sparse import csc_array, csr_array

    ends = np.cumsum([0, *(len(direction.cells) for direction in free)])
    cells = np.concatenate([direction.cells for direction in free])
    values = np.concatenate([direction.values for direction in free])
    basis = csc_array((values, cells, ends), shape=(design.size, len(free)))
    small = (basis.T @ (csr_array(gram) @ basis)).toarray()
    with one_blas_thread():
        return [] if _independent(small) else [free[column].victim for column in _dependent(small)]


def _independent(small: Array) -> bool:
    """Return whether plain Cholesky already shows every direction to stand on its own."""
    own = np.diag(small)
    if not np.all(own > 0):
        return False
    try:
        lower = np.linalg.cholesky(small / np.sqrt(np.outer(own, own)))
    except np.linalg.LinAlgError:
        return False
    return bool(np.all(np.diag(lower) ** 2 > COLLINEAR))


def _dependent(small: Array) -> list[int]:
    """Return the directions that earlier ones already span, in order."""
    lower = np.zeros_like(small)
    spanned: list[int] = []
    used: list[int] = []
    for column in range(len(small)):
        own = small[column, column]
        row = _forward(lower, used, small[column, used])
        left = own - float(row @ row)
        if left <= COLLINEAR * max(own, 1e-300):
            spanned.append(column)
            continue
        lower[column, used] = row
        lower[column, column] = np.sqrt(left)
        used.append(column)
    return spanned


def _forward(lower: Array, used: list[int], right: Array) -> Array:
    """Solve L row = right over the columns used so far (L lower triangular)."""
    if not used:
        return np.zeros(0)
    from scipy.linalg import solve_triangular

    solved: Array = solve_triangular(lower[np.ix_(used, used)], right, lower=True, check_finite=False)
    return solved


def _free_directions(factor: Factor, kept: NDArray[np.bool_]) -> list[_Free]:
    local = np.flatnonzero(kept[factor.start : factor.stop])
    if _is_plain(factor):
        unpenalised = local[:0] if factor.term.kind == "pooled" else local
        return [_Free(np.array([factor.start + i]), np.ones(1), factor.start + int(i)) for i in unpenalised]
    axis = _axis(factor)
    free = [
        _Free(np.array([factor.start + i]), np.ones(1), factor.start + int(i))
        for i in local[np.isnan(axis[local])]
    ]
    if factor.term.kind == "curve":
        for members, reference in ordered_groups(factor):
            others = members[members != reference]
            if len(others):
                distance = axis[others] - axis[reference]
                victim = factor.start + int(others[np.argmax(np.abs(distance))])
                free.append(_Free(factor.start + others, distance / np.abs(distance).max(), victim))
    return free


def ordered_groups(factor: Factor) -> list[tuple[NDArray[np.int64], int]]:
    """Return (local numbers in order, the pinned one) of each group of an ordered factor."""
    axis = _axis(factor)
    groups = np.array(factor.groups if factor.groups is not None else [""] * factor.size)
    found: list[tuple[NDArray[np.int64], int]] = []
    for reference in factor.references:
        members = np.flatnonzero(~np.isnan(axis) & (groups == groups[reference]))
        found.append((members, reference))
    return found


def _penalty(factor: Factor, kept: NDArray[np.bool_], positions: NDArray[np.int64]) -> Penalty | None:
    local = np.flatnonzero(kept[factor.start : factor.stop])
    kind: TermKind = factor.term.kind
    if not len(local) or kind in ("level", "flags", "linear"):
        return None
    first = int(positions[factor.start + local[0]])
    if kind == "pooled":
        return identity(factor.term.name, first, len(local))
    axis = _axis(factor)
    rows = [
        _spread(differences(axis[members], order=1 if kind == "walk" else 2), members, factor.size)
        for members, _ in ordered_groups(factor)
    ]
    root = np.concatenate(rows)[:, local] if rows else np.zeros((0, len(local)))
    return Penalty(factor.term.name, first, len(local), root)


def _spread(root: Array, members: NDArray[np.int64], width: int) -> Array:
    wide = np.zeros((root.shape[0], width))
    wide[:, members] = root
    return wide


def _is_plain(factor: Factor) -> bool:
    return factor.axis is None


def _axis(factor: Factor) -> Array:
    return np.zeros(0) if factor.axis is None else factor.axis
