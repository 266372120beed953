"""Eliminate the local effects of a market from its normal equations, block by block.

A = X'WX + S over local and core coefficients is [[D, B], [B', C]], D block-diagonal. P = D⁻¹ and M = (C − B'D⁻¹B)⁻¹
(the Schur complement's inverse) make its inverse, P + U M U' with U = [−D⁻¹B; I]. What depends on which levels were
sold together is worked out once; blocks of about one size are taken together.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.errors import FitError
from pipeline.hedonic.inverse import Inverse
from pipeline.hedonic.penalties import Penalty

Array = NDArray[np.float64]
Places = NDArray[np.int64]

LARGE = 128
"""A pooled term of fewer levels than this stays in the core, where it costs less."""

ROOM = 250_000
"""The most numbers of the core that a batch of blocks touches, all its blocks together."""

LARGEST_FLOOR = 1e-4
"""Where so much more on the scaled diagonal does not make a factor, the terms cannot be distinguished."""


@dataclass(frozen=True)
class _Batch:
    """Blocks of about one size, filled up to k local coefficients and c columns of the core each.

    `members` (n, k) are numbers of local coefficients (l: none), `columns` (n, c) of columns of the core (q: none).
    `own` (n, k, k) and `linked` (n, k, c) are X'WX there (1 on the diagonal where there is none); `penalties` (n, k)
    says which penalty a coefficient has.
    """

    members: Places
    columns: Places
    own: Array
    linked: Array
    penalties: Places

    def places(self, size: int) -> Places:
        """Return the numbers (n, c, c) of the pairs of columns in (size + 1, size + 1).

        They are not kept: there are more of them than of all else.
        """
        return self.columns[:, :, None] * (size + 1) + self.columns[:, None, :]


@dataclass(frozen=True)
class _Solved:
    """A batch at given lambdas: `blocks` D⁻¹ (n, k, k) and `links` −D⁻¹B (n, k, c)."""

    blocks: Array
    links: Array
    log_determinant: float


@dataclass(frozen=True)
class Elimination:
    """Which coefficients are local, and how `gram` (p, p) = X'WX falls apart into their blocks and the core."""

    gram: Any
    penalties: tuple[Penalty, ...]
    core: Places
    local: Places
    batches: tuple[_Batch, ...]

    @cached_property
    def dense_core(self) -> Array:
        """X'WX of the core (q, q)."""
        core: Array = self.gram[self.core][:, self.core].toarray()
        return core

    @cached_property
    def spans(self) -> tuple[slice | None, ...]:
        """The columns of each penalty in the core, None for a local one."""
        found: list[slice | None] = []
        for penalty in self.penalties:
            first = int(np.searchsorted(self.core, penalty.start))
            inside = first < len(self.core) and self.core[first] == penalty.start
            found.append(slice(first, first + penalty.size) if inside else None)
        return tuple(found)

    @cached_property
    def _blocks_form(self) -> "_Form":
        """Where each number of the blocks stands in P (l, l)."""
        parts = [(batch.members[:, :, None], batch.members[:, None, :]) for batch in self.batches]
        return _form(parts, (len(self.local), len(self.local)))

    @cached_property
    def _links_form(self) -> "_Form":
        """Where each number of the links stands in the local rows of U (l, q)."""
        parts = [(batch.members[:, :, None], batch.columns[:, None, :]) for batch in self.batches]
        return _form(parts, (len(self.local), len(self.core)))

    def invert(self, lambdas: Array) -> "Inverted":
        """Return the inverse of X'WX + S at some lambdas.

        Blocks and core are scaled to unit diagonals before Cholesky; where that fails a floor is added to the scaled
        diagonal, and reported. Raises FitError where the terms cannot be distinguished.
        """
        floor = 0.0
        while True:
            found = self._inverted(lambdas, floor)
            if found is not None:
                return found
            floor = 1e-12 if floor == 0 else floor * 10
            if floor > LARGEST_FLOOR:
                raise FitError(
                    "the model's terms cannot be distinguished on these records",
                    "leave one of the terms out.",
                )

    def _inverted(self, lambdas: Array, floor: float) -> "Inverted | None":
        core = self.dense_core.copy()
        for span, penalty, factor in zip(self.spans, self.penalties, lambdas, strict=True):
            if span is not None:
                penalty.add_to(core, float(factor), span.start)
        diagonal = np.diag(core).copy()
        try:
            solved = tuple(_solve_batch(batch, np.append(lambdas, 0.0), floor) for batch in self.batches)
        except np.linalg.LinAlgError:
            return None
        for batch, one in zip(self.batches, solved, strict=True):
            core += _summed(batch, np.swapaxes(batch.linked, 1, 2) @ one.links, len(self.core))
        inverted = _invert_dense(core, diagonal, floor)
        if inverted is None:
            return None
        middle, log_determinant = inverted
        inverse = Inverse(
            len(self.core) + len(self.local),
            self.core,
            self.local,
            self._blocks_form.filled([one.blocks for one in solved]),
            self._links_form.filled([one.links for one in solved]),
            middle,
        )
        total = log_determinant + sum(one.log_determinant for one in solved)
        return Inverted(self, inverse, solved, float(total), floor)


@dataclass(frozen=True)
class Inverted:
    """The inverse of the normal equations at some lambdas, with what REML asks of it.

    `floor` is what had to be added to the scaled diagonal.
    """

    elimination: Elimination
    inverse: Inverse
    solved: tuple[_Solved, ...]
    log_determinant: float
    floor: float

    @cached_property
    def _shared(self) -> tuple[Array, ...]:
        """U M U' within the blocks of each batch (n, k, k)."""
        padded = np.pad(self.inverse.middle, (0, 1)).ravel()
        found = []
        for batch, one in zip(self.elimination.batches, self.solved, strict=True):
            middle = padded[batch.places(len(self.inverse.middle))]
            found.append((one.links @ middle) @ np.swapaxes(one.links, 1, 2))
        return tuple(found)

    @cached_property
    def traces(self) -> Array:
        """tr(V S) of each penalty."""
        traces = np.zeros(len(self.elimination.penalties) + 1)
        for batch, one, shared in zip(self.elimination.batches, self.solved, self._shared, strict=True):
            own = np.diagonal(one.blocks + shared, axis1=1, axis2=2)
            traces += np.bincount(batch.penalties.ravel(), own.ravel(), minlength=len(traces))
        for number, (span, penalty) in enumerate(
            zip(self.elimination.spans, self.elimination.penalties, strict=True)
        ):
            if span is not None:
                traces[number] = penalty.trace(self.inverse.middle[span, span])
        return traces[:-1]

    @cached_property
    def crossed(self) -> Array:
        """tr(V S_i V S_j) of each pair of penalties.

        Of two local ones, over their effects, it is |P|² + 2 <P, U M U'> + |U M U'|²; of others the last part alone.
        """
        elimination, middle = self.elimination, self.inverse.middle
        count = len(elimination.penalties)
        result = np.zeros((count + 1, count + 1))
        for batch, one, shared in zip(elimination.batches, self.solved, self._shared, strict=True):
            both = one.blocks * (one.blocks + 2 * shared)
            pairs = batch.penalties[:, :, None] * (count + 1) + batch.penalties[:, None, :]
            result += np.bincount(pairs.ravel(), both.ravel(), (count + 1) ** 2).reshape(result.shape)
        crossed: Array = result[:-1, :-1]
        spans = [slice(0, len(middle)) if span is None else span for span in elimination.spans]
        sides = [
            middle @ self._square(number) if span is None else penalty.times(middle[span]).T
            for number, (span, penalty) in enumerate(
                zip(elimination.spans, elimination.penalties, strict=True)
            )
        ]
        for left in range(count):
            for right in range(left + 1):
                met = float(np.sum(sides[left][spans[right]] * sides[right][spans[left]].T))
                crossed[left, right] += met
                if left != right:
                    crossed[right, left] += met
        return crossed

    def _square(self, number: int) -> Array:
        """Return U_i'U_i (q, q) of a local penalty's coefficients."""
        size = len(self.elimination.core)
        total = np.zeros((size, size))
        for batch, one in zip(self.elimination.batches, self.solved, strict=True):
            own = batch.penalties == number
            if own.any():
                total += _summed(batch, np.swapaxes(one.links * own[:, :, None], 1, 2) @ one.links, size)
        return total


def eliminate(gram: Any, penalties: Sequence[Penalty]) -> Elimination:
    """Choose the local coefficients of normal equations with `gram` (p, p), sparse, and find their blocks.

    They are those of large pooled terms, as many as save work. Which comes first decides what can follow (a term of
    all sellers would link all silhouettes), so each is tried as the first.
    """
    size = gram.shape[0]
    nothing = _Choice((), np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64), float(size) ** 3)
    large = [
        number for number, penalty in enumerate(penalties) if penalty.root is None and penalty.size >= LARGE
    ]
    begun = [nothing, *(_with_term(gram, penalties, nothing, number) for number in large)]
    least = min((_extended(gram, penalties, one, large) for one in begun), key=lambda one: one.work)
    owners = np.full(size, len(penalties), dtype=np.int64)
    for number in least.terms:
        owners[penalties[number].span] = number
    core = np.flatnonzero(owners == len(penalties))
    order = np.argsort(least.labels, kind="stable")
    local, labels = least.local[order], least.labels[order]
    batches = _batches(gram[local], core, local, labels, owners, len(penalties)) if len(local) else ()
    return Elimination(gram, tuple(penalties), core, local, batches)


@dataclass(frozen=True)
class _Choice:
    """Penalties whose coefficients are local, those coefficients, the block of each, and the work that is left."""

    terms: tuple[int, ...]
    local: Places
    labels: Places
    work: float


def _extended(gram: Any, penalties: Sequence[Penalty], choice: _Choice, large: Sequence[int]) -> _Choice:
    """Take one term more, whichever saves the most work, until none saves any."""
    while True:
        tried = [
            _with_term(gram, penalties, choice, number) for number in large if number not in choice.terms
        ]
        better = min(tried, key=lambda one: one.work, default=choice)
        if better.work >= choice.work:
            return choice
        choice = better


def _with_term(gram: Any, penalties: Sequence[Penalty], choice: _Choice, number: int) -> _Choice:
    """Return the choice with one term more; work is the sum of the cubes of the sizes of all blocks and of the core."""
    from scipy.sparse.csgraph import connected_components

    own = np.arange(penalties[number].start, penalties[number].start + penalties[number].size)
    local = np.concatenate([choice.local, own])
    _, labels = connected_components(gram[local][:, local], directed=False)
    sizes = np.append(np.bincount(labels), gram.shape[0] - len(local)).astype(np.float64)
    return _Choice((*choice.terms, number), local, labels.astype(np.int64), float(np.sum(sizes**3)))


def _batches(
    rows: Any, core: Places, local: Places, labels: Places, owners: Places, nothing: int
) -> tuple[_Batch, ...]:
    """Return the blocks (local coefficients in the order of their `labels`) in batches of about one size."""
    wide = len(core) + 1
    sizes = np.bincount(labels)
    begins = np.cumsum(sizes) - sizes
    slots = np.arange(len(local)) - begins[labels]
    own, linked = rows[:, local].tocoo(), rows[:, core].tocoo()
    touched, which = np.unique(labels[linked.row] * wide + linked.col, return_inverse=True)
    widths = np.bincount(touched // wide, minlength=len(sizes))
    starts = np.cumsum(widths) - widths
    columns = np.arange(len(touched)) - starts[touched // wide]
    filled, spread = _filled_up(sizes), _filled_up(np.maximum(widths, 1))
    found = []
    for k, c in np.unique(np.stack([filled, spread], axis=1), axis=0):
        together = np.flatnonzero((filled == k) & (spread == c))
        each = max(1, ROOM // int(c * c))
        for first in range(0, len(together), each):
            blocks = together[first : first + each]
            place = np.full(len(sizes), -1, dtype=np.int64)
            place[blocks] = np.arange(len(blocks))
            shape = (len(blocks), int(k))
            members = np.full(shape, len(local), dtype=np.int64)
            here = np.flatnonzero(place[labels] >= 0)
            members[place[labels[here]], slots[here]] = here
            across = np.full((len(blocks), int(c)), len(core), dtype=np.int64)
            at = np.flatnonzero(place[touched // wide] >= 0)
            across[place[touched[at] // wide], columns[at]] = touched[at] % wide
            square = np.zeros((*shape, int(k)))
            square[:, np.arange(k), np.arange(k)] = members == len(local)
            within = np.flatnonzero(place[labels[own.row]] >= 0)
            row, column = own.row[within], own.col[within]
            square[place[labels[row]], slots[row], slots[column]] = own.data[within]
            links = np.zeros((*shape, int(c)))
            beside = np.flatnonzero(place[labels[linked.row]] >= 0)
            row = linked.row[beside]
            links[place[labels[row]], slots[row], columns[which[beside]]] = linked.data[beside]
            penalties = np.full(shape, nothing, dtype=np.int64)
            penalties[place[labels[here]], slots[here]] = owners[local[here]]
            found.append(_Batch(members, across, square, links, penalties))
    return tuple(found)


def _filled_up(sizes: Places) -> Places:
    """Return sizes rounded up by up to a quarter, so that many are alike."""
    steps = np.unique(np.ceil(1.25 ** np.arange(1, 80)).astype(np.int64))
    return steps[np.searchsorted(steps, sizes)]


def _solve_batch(batch: _Batch, lambdas: Array, floor: float) -> _Solved:
    """Return a batch at the lambdas (0 last); raises LinAlgError where a block has no Cholesky factor."""
    matrix = batch.own.copy()
    steps = np.arange(matrix.shape[1])
    matrix[:, steps, steps] += lambdas[batch.penalties]
    scale = 1 / np.sqrt(matrix[:, steps, steps])
    matrix *= scale[:, :, None] * scale[:, None, :]
    matrix[:, steps, steps] = 1 + floor
    factors = np.linalg.cholesky(matrix)
    halves = np.linalg.inv(factors)
    blocks = np.swapaxes(halves, 1, 2) @ halves
    blocks *= scale[:, :, None] * scale[:, None, :]
    logs = np.log(factors[:, steps, steps]).sum() - np.log(scale).sum()
    return _Solved(blocks, -(blocks @ batch.linked), 2 * float(logs))


def _summed(batch: _Batch, parts: Array, size: int) -> Array:
    """Return the sum (q, q) of what each block of a batch has for its own columns of the core (n, c, c)."""
    wide = size + 1
    total = np.bincount(batch.places(size).ravel(), parts.ravel(), wide * wide)
    return np.asarray(total, dtype=np.float64).reshape(wide, wide)[:-1, :-1]


def _invert_dense(matrix: Array, diagonal: Array, floor: float) -> tuple[Array, float] | None:
    """Return (inverse, log determinant) of a symmetric matrix scaled by a diagonal; None where it has no factor."""
    from scipy.linalg import lapack

    scale = 1 / np.sqrt(np.where(diagonal > 0, diagonal, 1.0))
    scaled = matrix * scale * scale[:, None]
    scaled[np.diag_indices_from(scaled)] += floor
    lower, fault = lapack.dpotrf(scaled, lower=1, clean=1)
    if fault != 0:
        return None
    log_determinant = 2 * float(np.log(np.diag(lower)).sum() - np.log(scale).sum())
    inverse, _ = lapack.dpotri(lower, lower=1, overwrite_c=1)
    inverse = inverse + inverse.T
    inverse[np.diag_indices_from(inverse)] /= 2
    unscaled: Array = inverse * scale * scale[:, None]
    return unscaled, log_determinant


@dataclass(frozen=True)
class _Form:
    """A sparse matrix of which only the numbers change: `order` takes them from the batches, one after the other."""

    order: Places
    indices: NDArray[np.int32]
    starts: NDArray[np.int32]
    shape: tuple[int, int]

    def filled(self, parts: Sequence[Array]) -> Any:
        """Return the matrix with the numbers of the batches."""
        from scipy.sparse import csr_array

        numbers = np.concatenate([part.ravel() for part in parts]) if parts else np.zeros(0)
        return csr_array((numbers[self.order], self.indices, self.starts), shape=self.shape)


def _form(parts: Sequence[tuple[Places, Places]], shape: tuple[int, int]) -> _Form:
    """Return the form of a sparse matrix from the row and the column of each number, outside it for none."""
    both = [np.broadcast_arrays(rows, columns) for rows, columns in parts]
    rows = np.concatenate([one.ravel() for one, _ in both]) if both else np.zeros(0, dtype=np.int64)
    columns = np.concatenate([one.ravel() for _, one in both]) if both else np.zeros(0, dtype=np.int64)
    inside = np.flatnonzero((rows < shape[0]) & (columns < shape[1]))
    order = inside[np.lexsort((columns[inside], rows[inside]))]
    starts = np.concatenate([[0], np.cumsum(np.bincount(rows[order], minlength=shape[0]))])
    return _Form(order, columns[order].astype(np.int32), starts.astype(np.int32), shape)
