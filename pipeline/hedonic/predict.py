"""Predict log prices from a fit, with their estimation variance, and split them term by term."""

from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.errors import FitError
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.inverse import sparse_rows
from pipeline.hedonic.rows import Places, TermRows, rows_by_term, rows_of_term, stack

Array = NDArray[np.float64]


def predict(fit: Fit, frame: pl.DataFrame) -> pl.DataFrame:
    """Return one row a record: log_price, estimation_variance, unseen, extrapolated.

    log_price is the median's logarithm. estimation_variance is that of log_price: of the coefficients,
    of levels that no record showed (named by term in `unseen`), and of walks and curves outside the
    places that were (named in `extrapolated`). The error of a single sale is not in it: see `bands`.
    """
    return predict_rows(fit, rows_by_term(fit, frame), frame.height)


def predict_rows(fit: Fit, by_term: tuple[TermRows, ...], rows: int) -> pl.DataFrame:
    """Return what `predict` says of records, from their design rows by term."""
    positions, values = stack(by_term, rows)
    return _predicted(fit, by_term, positions, values, fit.covariance.quadratic(positions, values))


def predict_both(fit: Fit, frame: pl.DataFrame, changed: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return what `predict` says of records, and of the same records with some columns changed.

    `changed` has as many rows as `frame`, and the columns that differ. At little more than the cost of one
    prediction: var(x + d) = var(x) + 2 x'Vd + d'Vd, and only the terms that read those columns are placed again.
    """
    elsewhere = frame.with_columns(changed)
    by_term = rows_by_term(fit, frame)
    # mutation: equivalent, a term that did not move comes out the same when placed again
    moves = [bool(set(factor.term.columns) & set(changed.columns)) for factor in fit.design.factors]
    moved = tuple(
        # mutation: equivalent, a term that did not move comes out the same
        rows_of_term(fit, factor, elsewhere) if move else term
        for factor, term, move in zip(fit.design.factors, by_term, moves, strict=True)
    )
    positions, values = stack(by_term, frame.height)
    variance = fit.covariance.quadratic(positions, values)
    there_positions, there_values = stack(moved, frame.height)
    steps = [(one, other) for one, other, move in zip(by_term, moved, moves, strict=True) if move]
    there_variance = variance
    if steps:
        step = np.concatenate([part.positions for pair in steps for part in pair], axis=1)
        sizes = np.concatenate([part for one, other in steps for part in (-one.values, other.values)], axis=1)
        there_variance = (
            variance
            + 2 * fit.covariance.bilinear(positions, values, step, sizes)
            + fit.covariance.quadratic(step, sizes)
        )
    return (
        _predicted(fit, by_term, positions, values, variance),
        _predicted(fit, moved, there_positions, there_values, there_variance),
    )


def _predicted(
    fit: Fit, by_term: tuple[TermRows, ...], positions: Places, values: Array, variance: Array
) -> pl.DataFrame:
    rows = len(positions)
    # mutation: equivalent, the sum of no terms is 0
    extra = np.sum([term.extra for term in by_term], axis=0) if by_term else np.zeros(rows)
    return pl.DataFrame(
        {
            "log_price": np.sum(np.append(fit.coefficients, 0.0)[positions] * values, axis=1),
            "estimation_variance": variance + extra,
            "unseen": _names(by_term, [term.unseen for term in by_term], rows),
            "extrapolated": _names(by_term, [term.extrapolated for term in by_term], rows),
        }
    )


def log_prices(fit: Fit, frame: pl.DataFrame) -> Array:
    """Return the log_price of `predict` alone, one a record: at a third of its cost."""
    return log_prices_of_rows(fit, rows_by_term(fit, frame), frame.height)


def log_prices_of_rows(fit: Fit, by_term: tuple[TermRows, ...], rows: int) -> Array:
    """Return the log_price (rows,) of records, from their design rows by term."""
    positions, values = stack(by_term, rows)
    total: Array = np.sum(np.append(fit.coefficients, 0.0)[positions] * values, axis=1)
    return total


def design_rows(fit: Fit, frame: pl.DataFrame) -> Any:
    """Return the design rows (records, p), sparse: log_price = rows @ coefficients."""
    positions, values = stack(rows_by_term(fit, frame), frame.height)
    return sparse_rows(positions, values, fit.layout.size)


def differences(fit: Fit, start: pl.DataFrame, end: pl.DataFrame) -> pl.DataFrame:
    """Return one row a record: effect, the step in log price from start to end, and its error.

    What both records share, seen or not, cancels out. Both frames have the same height, or `start` has
    one row.
    """
    start = _matched(start, end)
    before, after = rows_by_term(fit, start), rows_by_term(fit, end)
    return pl.DataFrame(
        {
            "effect": term_steps(fit, before, after).sum(axis=1),
            "error": np.sqrt(np.maximum(step_variance(fit, before, after), 0)),
        }
    )


def term_steps(fit: Fit, start: tuple[TermRows, ...], end: tuple[TermRows, ...]) -> Array:
    """Return (records, terms): the steps in log price from start rows to end rows, both by term."""
    padded = np.append(fit.coefficients, 0.0)
    return np.column_stack(
        [
            np.sum(padded[after.positions] * after.values, axis=1)
            - np.sum(padded[before.positions] * before.values, axis=1)
            for before, after in zip(start, end, strict=True)
        ]
        or [np.zeros((0, 0))]
    )


def step_variance(fit: Fit, start: tuple[TermRows, ...], end: tuple[TermRows, ...]) -> Array:
    """Return (records,): the variance of the whole step from start rows to end rows, both by term."""
    rows = len(start[0].extra) if start else 0
    before, after = stack(start, rows), stack(end, rows)
    positions = np.concatenate([after[0], before[0]], axis=1)
    values = np.concatenate([after[1], -before[1]], axis=1)
    variance = fit.covariance.quadratic(positions, values)
    for one, other in zip(start, end, strict=True):
        variance = variance + step_extra(one, other)
    return variance


def _matched(start: pl.DataFrame, end: pl.DataFrame) -> pl.DataFrame:
    if start.height == end.height:
        return start
    if start.height != 1:
        raise FitError(
            f"{start.height} records cannot be compared with {end.height} one by one",
            "give one start record, or as many as there are end records.",
        )
    return start[[0] * end.height]


def step_extra(before: TermRows, after: TermRows) -> Array:
    """Return the variance of a step that the coefficients do not carry.

    Equal levels share it all. Two places beyond the same end share it as far as the nearer: a walk goes on
    from there, and a curve's noise from there on is its own (twice integrated: with distances s < t and the
    chord h, (t - s)²(t + 2s + h)/3). Other places have nothing in common.
    """
    if not (before.extra.any() or after.extra.any()):
        return np.zeros(len(before.extra))
    apart = before.extra + after.extra
    if before.ends is not None and after.ends is not None:
        one, other = before.ends, after.ends
        near, far = np.minimum(one.distance, other.distance), np.maximum(one.distance, other.distance)
        bent = (far - near) ** 2 * (far + 2 * near + one.chord) / 3
        step = one.noise * np.where(np.isnan(one.chord), far - near, bent)
        apart = np.where((one.end >= 0) & (one.end == other.end), step, apart)
    same = (before.keys == after.keys).to_numpy()
    return np.where(same, 0.0, apart)


def _names(by_term: tuple[TermRows, ...], marks: list[NDArray[np.bool_]], rows: int) -> pl.Series:
    """Return, for each record, the list of the terms that are marked: of few records, as a rule."""
    numbers = np.zeros(rows, dtype=np.int64)
    lists: list[list[str]] = [[]]
    marked = {term.term: mark for term, mark in zip(by_term, marks, strict=True) if mark.any()}
    if marked:
        table = np.column_stack(list(marked.values()))
        kinds, numbers = np.unique(table, axis=0, return_inverse=True)
        lists = [[name for name, mark in zip(marked, kind, strict=True) if mark] for kind in kinds]
    return pl.Series(lists, dtype=pl.List(pl.String)).gather(numbers.ravel())
