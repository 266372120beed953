"""Draw the errors of estimation that predictions share, so that a sum of them can be judged."""

from collections.abc import Mapping, Sequence

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.inverse import sparse_rows
from pipeline.hedonic.rows import TermRows, rows_by_term, stack

Array = NDArray[np.float64]


class SharedErrors:
    """The joint Gaussian of the errors of estimation of some records' log prices.

    Two records share the errors of every coefficient that both rest on, and what the coefficients do not carry where
    it is the same for both: the level that no record showed, the time since a walk's last month, the end of a curve
    beyond which both lie. Of two places beyond the same end the farther errs in the same direction, by more: their
    errors are drawn as perfectly correlated, which is the most that they can be. Records of which a column is not known
    (null, or the value that `apart` gives for it) share no unseen level: each may be another one.
    """

    def __init__(self, fit: Fit, frame: pl.DataFrame, *, apart: Mapping[str, str]) -> None:
        by_term = rows_by_term(fit, frame)
        positions, values = stack(by_term, frame.height)
        self._shared, self._own = fit.covariance.roots(sparse_rows(positions, values, fit.layout.size))
        columns_of = {factor.term.name: factor.term.columns for factor in fit.design.factors}
        self._beyond = [
            (_sources(one, _alone(frame, columns_of[one.term], apart)), np.sqrt(np.maximum(one.extra, 0)))
            for one in by_term
            if one.extra.any()
        ]

    def draw(self, random: np.random.Generator, draws: int) -> Array:
        """Return (records, draws): errors in log price, each column one joint draw."""
        errors: Array = self._shared @ random.standard_normal((self._shared.shape[1], draws))
        if self._own.nnz:
            errors += self._own @ random.standard_normal((self._own.shape[1], draws))
        for source, size in self._beyond:
            errors += size[:, None] * random.standard_normal((source.max() + 1, draws))[source]
        return errors


def _alone(frame: pl.DataFrame, columns: Sequence[str], apart: Mapping[str, str]) -> NDArray[np.bool_]:
    """Return which records have an unseen level of their own (records,)."""
    alone = np.zeros(frame.height, dtype=bool)
    for column in columns:
        alone |= frame[column].is_null().to_numpy()
        if column in apart:
            alone |= (frame[column] == apart[column]).fill_null(value=False).to_numpy()
    return alone


def _sources(term: TermRows, alone: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Return the number of the common source of each row's error that no coefficient carries."""
    own = term.keys.rank("dense").to_numpy().astype(np.int64)
    own = np.where(alone, len(own) + 1 + np.arange(len(own)), own)
    beyond = np.full(len(own), -1) if term.ends is None else term.ends.end
    number: NDArray[np.int64] = np.unique(np.where(beyond >= 0, -1 - beyond, own), return_inverse=True)[1]
    return number
