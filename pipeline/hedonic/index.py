"""The hedonic index: what the market did, everything else equal."""

from collections.abc import Sequence

import numpy as np
import polars as pl

from pipeline.errors import FitError, UnknownName
from pipeline.hedonic.bands import half_width
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.predict import step_extra
from pipeline.hedonic.rows import rows_of_term
from pipeline.hedonic.specification import Term


def period_index(
    fit: Fit,
    terms: Sequence[str],
    periods: Sequence[float],
    *,
    base: float,
    within: dict[str, str] | None = None,
    level: float = 0.8,
) -> pl.DataFrame:
    """Return one row a period: period, index (100 at `base`), low, high, effect, error, records.

    `terms` names the walk, and walks within groups to be added to it, whose group columns get their
    values from `within` (such as {"family": "court"}). The band, of the given level, is that of the
    difference to the base period, so it is zero there; effect and error are that difference in log
    price. `records` counts the sales of the period (0 between and beyond those with sales). Raises
    UnknownName for a term that the fit does not have, FitError where no period is given.
    """
    if not len(periods):
        raise FitError("an index needs at least one period", "name the periods.")
    known = {factor.term.name: factor for factor in fit.design.factors}
    for term in terms:
        if term not in known:
            raise UnknownName.among("term", term, known)
    positions, values, extra = [], [], np.zeros(len(periods))
    records = np.full(len(periods), fit.rows)
    for term in terms:
        factor = known[term]
        here = rows_of_term(fit, factor, _places(factor.term, periods, within))
        there = rows_of_term(fit, factor, _places(factor.term, [base] * len(periods), within))
        positions += [here.positions, there.positions]
        values += [here.values, -there.values]
        extra = extra + step_extra(there, here)
        records = np.minimum(records, here.records)
    places, times = np.concatenate(positions, axis=1), np.concatenate(values, axis=1)
    effect = np.sum(np.append(fit.coefficients, 0.0)[places] * times, axis=1)
    variance = np.maximum(fit.covariance.quadratic(places, times) + extra, 0.0)
    half = half_width(variance, np.zeros(len(variance)), np.inf, level)
    return pl.DataFrame(
        {
            "period": list(periods),
            "index": 100 * np.exp(effect),
            "low": 100 * np.exp(effect - half),
            "high": 100 * np.exp(effect + half),
            "effect": effect,
            "error": np.sqrt(variance),
            "records": records,
        }
    )


def _places(term: Term, periods: Sequence[float], within: dict[str, str] | None) -> pl.DataFrame:
    columns: dict[str, list[float] | list[str]] = {term.columns[0]: [float(period) for period in periods]}
    for column in term.columns[1:]:
        if within is None or column not in within:
            raise FitError(
                f"the term {term.name!r} runs within {column!r}, but no value of it was given",
                f"give `within={{{column!r}: ...}}`.",
            )
        columns[column] = [within[column]] * len(periods)
    return pl.DataFrame(columns)
