"""What a stored fit must be: types, lengths, ranges and matrices, checked before any of it is used."""

from itertools import pairwise
from typing import Annotated, Any, Literal, TypeVar

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from pipeline.errors import FitError
from pipeline.hedonic.design import ORDERED, SLOPE
from pipeline.hedonic.inverse import stacked_blocks
from pipeline.hedonic.specification import SPREAD, TermKind
from pipeline.hedonic.threads import one_blas_thread

Arrays = dict[str, NDArray[np.float64]]

AGAIN = "run `pairband fit` again."
LARGEST_WHOLE = 2**53
"""The largest whole number that a double holds with all below it."""

FARTHEST = 1e6
"""More than any variance or scale of log prices, and than any score of a band."""

ROUNDING = 1e-8
"""What rounding may take from a covariance, as a share of its largest variance."""

LOCAL = ("local", "blocks", "blocks starts", "blocks columns", "links", "links starts", "links columns")
"""The arrays of the local part of a covariance: none or all of them."""


def damaged(what: str) -> FitError:
    """Return the error to raise for a damaged stored fit."""
    return FitError(f"the stored fit is damaged: {what}", AGAIN)


class Stated(BaseModel):
    """A part of the document: every value of its own type, every number finite, nothing missing and nothing more."""

    model_config = ConfigDict(strict=True, frozen=True, extra="forbid", allow_inf_nan=False)


AnyStated = TypeVar("AnyStated", bound=Stated)


def stated(kind: type[AnyStated], description: Any, where: str) -> AnyStated:
    """Return a part of the document once its types are right; raises FitError where they are not."""
    try:
        return kind.model_validate(description)
    except ValidationError as exc:
        first = exc.errors(include_url=False, include_context=False, include_input=False)[0]
        place = ".".join(map(str, (where, *first["loc"])))
        raise damaged(f"{place}: {first['msg']}") from exc


Whole = Field(ge=0, le=LARGEST_WHOLE)


WIDEST_SPREAD = 100.0
"""Above any spread of log prices between levels."""


class _Term(Stated):
    name: str
    kind: TermKind
    columns: list[str] = Field(min_length=1)
    reference: str | None
    spread: float = Field(SPREAD, gt=0, le=WIDEST_SPREAD)


class _Specification(Stated):
    response: str
    weights: str | None
    terms: list[_Term]


class _Factor(Stated):
    start: int = Whole
    keys: list[str]
    rows: list[int]
    many: bool
    axis: list[float | None] | None
    groups: list[str] | None
    references: list[int]
    centre: float
    spread: float = Field(ge=0)


class _Dropped(Stated):
    term: str
    level: str
    reason: str


class _Penalty(Stated):
    term: str
    start: int = Whole
    size: int = Field(ge=1, le=LARGEST_WHOLE)


class _Robust(Stated):
    kind: Literal["student-t", "huber"]
    degrees_of_freedom: float = Field(gt=0)
    clip: float = Field(gt=0)
    rounds: int = Whole
    settled: float = Field(ge=0)


class _Convergence(Stated):
    steps: int = Whole
    newton_steps: int = Whole
    gradient: float = Field(allow_inf_nan=True)
    converged: bool
    criterion: float = Field(allow_inf_nan=True)
    at_bound: list[str]
    ridge_floor: float


class _Trend(Stated):
    term: str
    months: int = Field(ge=1, le=LARGEST_WHOLE)
    damping: float = Field(gt=0, lt=1)
    span: float = Field(ge=1, le=FARTHEST)
    lags: list[Annotated[float, Field(ge=0, le=FARTHEST)]] = Field(min_length=1)


class _Fit(Stated):
    format: int
    specification: _Specification
    factors: list[_Factor]
    dropped: list[_Dropped]
    penalties: list[_Penalty]
    sigma2: float = Field(ge=0, le=FARTHEST)
    residual_scale: float = Field(ge=0, le=FARTHEST)
    robust: _Robust | None
    lambdas: dict[str, float]
    edf: float = Field(ge=0)
    rows: int = Field(ge=1, le=LARGEST_WHOLE)
    convergence: _Convergence
    trend: _Trend | None = None


class _Calibration(Stated):
    names: list[str]
    degrees_of_freedom: float | None = Field(gt=0)
    step: float = Field(ge=0)
    settled: list[list[float]]


def checked_fit(description: Any, arrays: Arrays, where: str = "fit") -> dict[str, Any]:
    """Return a fit's description, every number of its type, once it and the arrays can be those of a fit.

    Raises FitError where they cannot.
    """
    fields = stated(_Fit, description, where)
    size = _refuse_damaged_factors(fields, where)
    _refuse_damaged_trend(fields, where)
    known = {"coefficients", "covariance", "cells", *LOCAL}
    roots = {f"root of {penalty.term}" for penalty in fields.penalties}
    for name in sorted({"coefficients", "covariance", "cells"} - set(arrays)):
        raise damaged(f"{where}: the array {name!r} is missing")
    for name in sorted(set(arrays) - known - roots):
        raise damaged(f"{where}: the array {name!r} belongs to nothing")
    _refuse_not_finite(arrays, where)
    cells = whole_numbers(arrays["cells"], f"{where}.cells")
    if not len(cells) or cells[0] != 0 or (np.diff(cells) < 1).any() or cells[-1] >= size:
        raise damaged(f"{where}.cells: not rising cells of the design from 0 to below {size}")
    _refuse_shape(arrays["coefficients"], (len(cells),), f"{where}.coefficients")
    local = _refuse_damaged_blocks(arrays, len(cells), where)
    _refuse_no_covariance(arrays["covariance"], len(cells) - local, f"{where}.covariance")
    _refuse_damaged_penalties(fields, cells, arrays, where)
    return fields.model_dump()


def checked_calibration(description: Any, arrays: Arrays, where: str) -> dict[str, Any]:
    """Return a calibration's description once it and the arrays can be those of a calibration.

    Raises FitError where they cannot.
    """
    fields = stated(_Calibration, description, where)
    names = {"scores", "periods", "groups", "factors"}
    if set(arrays) != names:
        raise damaged(f"{where}: its arrays are {sorted(arrays)}, and should be {sorted(names)}")
    _refuse_not_finite(arrays, where)
    count = arrays["scores"].size
    for name in ("scores", "periods", "groups"):
        _refuse_shape(arrays[name], (max(count, 1),), f"{where}.{name}")
    if (np.diff(whole_numbers(arrays["periods"], f"{where}.periods")) < 0).any():
        raise damaged(f"{where}.periods: they run backwards")
    groups = whole_numbers(arrays["groups"], f"{where}.groups")
    if len(set(fields.names)) != len(fields.names) or groups.min() < -1 or groups.max() >= len(fields.names):
        raise damaged(f"{where}.groups: a score is of a group without a name of its own")
    if any(
        len(row) != 3 or not 0 < row[0] < 1 or not -FARTHEST <= row[1] <= row[2] <= FARTHEST
        for row in fields.settled
    ):
        raise damaged(f"{where}.settled: not a level between 0 and 1 with its low and high score")
    if fields.settled:
        _refuse_shape(arrays["factors"], (len(fields.settled), len(fields.names)), f"{where}.factors")
    elif arrays["factors"].size:
        raise damaged(f"{where}.factors: there are factors without levels")
    if (arrays["factors"] <= 0).any():
        raise damaged(f"{where}.factors: a factor is not above 0")
    return fields.model_dump()


def whole_numbers(array: NDArray[np.float64], where: str) -> NDArray[np.int64]:
    """Return an array of whole numbers; raises FitError for another one."""
    if array.ndim != 1 or (array != np.floor(array)).any() or (np.abs(array) > LARGEST_WHOLE).any():
        raise damaged(f"{where}: not a list of whole numbers")
    return array.astype(np.int64)


def _refuse_damaged_factors(fields: _Fit, where: str) -> int:
    """Raise FitError where the factors are not those of the terms; return the number of cells."""
    terms = fields.specification.terms
    if len({term.name for term in terms}) != len(terms) or len(terms) != len(fields.factors):
        raise damaged(
            f"{where}: {len(terms)} terms, of names of their own, and {len(fields.factors)} factors"
        )
    start = 1
    for number, (term, factor) in enumerate(zip(terms, fields.factors, strict=True)):
        place = f"{where}.factors.{number} ({term.name})"
        size = len(factor.keys)
        if factor.start != start:
            raise damaged(f"{place}: starts at {factor.start} instead of {start}")
        if len(set(factor.keys)) != size:
            raise damaged(f"{place}: two levels have one name")
        if len(factor.rows) != size or any(not 0 <= rows <= LARGEST_WHOLE for rows in factor.rows):
            raise damaged(f"{place}: {size} levels and {len(factor.rows)} counts of rows")
        if len(set(factor.references)) != len(factor.references) or any(
            not 0 <= reference < size for reference in factor.references
        ):
            raise damaged(f"{place}: a reference that is none of its {size} levels")
        if term.kind == "linear" and (factor.keys[:1] != [SLOPE] or size > 2):
            raise damaged(f"{place}: a slope that is not stored as one")
        _refuse_damaged_axis(term, factor, place)
        start += size
    return start


def _refuse_damaged_axis(term: _Term, factor: _Factor, place: str) -> None:
    if (factor.axis is not None) != (term.kind in ORDERED):
        raise damaged(
            f"{place}: a {term.kind} {'without' if factor.axis is None else 'with'} places of its levels"
        )
    if factor.axis is None:
        if factor.groups is not None:
            raise damaged(f"{place}: groups without places")
        return
    groups = [""] * len(factor.keys) if factor.groups is None else factor.groups
    if len(factor.axis) != len(factor.keys) or len(groups) != len(factor.keys):
        raise damaged(f"{place}: {len(factor.keys)} levels, {len(factor.axis)} places, {len(groups)} groups")
    if (factor.groups is not None) != (len(term.columns) > 1):
        raise damaged(f"{place}: {len(term.columns)} columns do not agree with its groups")
    placed: dict[str, list[float]] = {}
    for group, at in zip(groups, factor.axis, strict=True):
        if at is not None and abs(at) > LARGEST_WHOLE:
            raise damaged(f"{place}: a level at {at}")
        if at is not None:
            placed.setdefault(group, []).append(at)
    if any(after <= before for places in placed.values() for before, after in pairwise(places)):
        raise damaged(f"{place}: the places of its levels do not rise")
    pinned = [groups[reference] for reference in factor.references if factor.axis[reference] is not None]
    if len(pinned) != len(factor.references) or sorted(pinned) != sorted(placed):
        raise damaged(f"{place}: not one reference for each group")


def _refuse_damaged_trend(fields: _Fit, where: str) -> None:
    trend = fields.trend
    if trend is None:
        return
    walks = {
        term.name: [at for at in factor.axis or () if at is not None]
        for term, factor in zip(fields.specification.terms, fields.factors, strict=True)
        if term.kind == "walk" and len(term.columns) == 1
    }
    if trend.term not in walks:
        raise damaged(f"{where}.trend: {trend.term!r} is no walk of its own")
    if len(trend.lags) != len(walks[trend.term]):
        raise damaged(f"{where}.trend: {len(walks[trend.term])} levels, {len(trend.lags)} lags")


def _refuse_damaged_penalties(fields: _Fit, cells: NDArray[np.int64], arrays: Arrays, where: str) -> None:
    factors = {
        term.name: (term, factor)
        for term, factor in zip(fields.specification.terms, fields.factors, strict=True)
    }
    penalised = [penalty.term for penalty in fields.penalties]
    if len(set(penalised)) != len(penalised) or not set(penalised) <= set(fields.lambdas) <= set(factors):
        raise damaged(f"{where}: its penalties, lambdas and terms do not agree")
    if any(value <= 0 for value in fields.lambdas.values()):
        raise damaged(f"{where}.lambdas: one is not above 0")
    for penalty in fields.penalties:
        term, factor = factors[penalty.term]
        place = f"{where}.penalties ({term.name})"
        first, last = np.searchsorted(cells, [factor.start, factor.start + len(factor.keys)])
        if (penalty.start, penalty.start + penalty.size) != (first, last):
            raise damaged(f"{place}: it does not span the coefficients of its term")
        root = arrays.get(f"root of {term.name}")
        if (root is not None) != (term.kind in ORDERED) or term.kind not in (*ORDERED, "pooled"):
            raise damaged(f"{place}: it is not the penalty of a {term.kind}")
        if root is not None and (
            root.ndim != 2 or root.shape[1] != penalty.size or not 0 < root.shape[0] <= penalty.size
        ):
            raise damaged(f"{place}: its root has the shape {root.shape} for {penalty.size} coefficients")


def _refuse_not_finite(arrays: Arrays, where: str) -> None:
    for name, array in arrays.items():
        if not np.isfinite(array).all():
            raise damaged(f"{where}.{name}: a number that is not finite")


def _refuse_shape(array: NDArray[Any], shape: tuple[int, ...], where: str) -> None:
    if array.shape != shape:
        raise damaged(f"{where}: has the shape {array.shape}, and should have {shape}")


def sparse_in(arrays: Arrays, name: str, width: int) -> Any:
    """Return one of the sparse parts of a covariance, of no rows where none is stored."""
    from scipy.sparse import csr_array

    starts = arrays.get(f"{name} starts", np.zeros(1)).astype(np.int64)
    columns = arrays.get(f"{name} columns", np.zeros(0)).astype(np.int64)
    return csr_array((arrays.get(name, np.zeros(0)), columns, starts), shape=(len(starts) - 1, width))


def _refuse_damaged_blocks(arrays: Arrays, size: int, where: str) -> int:
    """Raise FitError where the local part of a covariance is none; return the number of local coefficients."""
    from scipy.sparse.csgraph import connected_components

    missing = [name for name in LOCAL if name not in arrays]
    if len(missing) == len(LOCAL):
        return 0
    if missing:
        raise damaged(f"{where}: the array {missing[0]!r} is missing")
    local = whole_numbers(arrays["local"], f"{where}.local")
    count = len(local)
    if not 0 < len(np.unique(local)) == count < size or local.min() < 1 or local.max() >= size:
        raise damaged(f"{where}.local: not different coefficients of {size}, beside the first")
    for name, width in (("blocks", count), ("links", size - count)):
        place = f"{where}.{name}"
        _refuse_shape(arrays[name], (arrays[name].size,), place)
        starts = whole_numbers(arrays[f"{name} starts"], f"{place} starts")
        columns = whole_numbers(arrays[f"{name} columns"], f"{place} columns")
        _refuse_shape(starts, (count + 1,), f"{place} starts")
        _refuse_shape(columns, arrays[name].shape, f"{place} columns")
        if starts[0] != 0 or starts[-1] != len(columns) or (np.diff(starts) < 0).any():
            raise damaged(f"{place} starts: they do not share out its {len(columns)} numbers")
        rows = np.repeat(np.arange(count), np.diff(starts))
        if len(columns) and (
            columns.min() < 0 or columns.max() >= width or (np.diff(rows * width + columns) < 1).any()
        ):
            raise damaged(f"{place} columns: not rising numbers below {width} in each row")
    blocks = sparse_in(arrays, "blocks", count)
    largest = float(np.max(np.abs(blocks.data), initial=0.0))
    if float(np.max(np.abs((blocks - blocks.T).data), initial=0.0)) > ROUNDING * largest:
        raise damaged(f"{where}.blocks: not symmetric")
    _, labels = connected_components(blocks, directed=False)
    if int(np.sum(np.bincount(labels) ** 2)) != blocks.nnz:
        raise damaged(f"{where}.blocks: they are not whole")
    for _, stacked in stacked_blocks(blocks):
        _refuse_negative(stacked, largest, f"{where}.blocks")
    return count


def _refuse_no_covariance(matrix: NDArray[np.float64], size: int, where: str) -> None:
    """Raise FitError where a matrix is not symmetric and, but for rounding, positive semidefinite."""
    _refuse_shape(matrix, (size, size), where)
    largest = float(np.max(np.abs(matrix), initial=0.0))
    if float(np.max(np.abs(matrix - matrix.T), initial=0.0)) > ROUNDING * largest:
        raise damaged(f"{where}: not symmetric")
    _refuse_negative(matrix, largest, where)


def _refuse_negative(matrix: NDArray[np.float64], largest: float, where: str) -> None:
    try:
        with one_blas_thread():
            np.linalg.cholesky(matrix + max(ROUNDING * largest, 1e-300) * np.eye(matrix.shape[-1]))
    except np.linalg.LinAlgError as exc:
        raise damaged(f"{where}: no covariance (a variance below 0)") from exc
