"""Rolling origin: refit at each past origin, and price what sold next, as one would have then."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.errors import FitError
from pipeline.hedonic.fit import Prior, fit, response_of
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.neighbours import neighbour_residuals
from pipeline.hedonic.predict import predict
from pipeline.hedonic.residuals import residuals
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.scales import LEAST_SCALE, scales
from pipeline.hedonic.scatter import fit_scatter
from pipeline.hedonic.shape import hold_rising
from pipeline.hedonic.specification import Specification, Term

Array = NDArray[np.float64]

LOOSE = 1e-4
"""The stop of a refit, of REML and of re-weighting: prices differ by less than 0.1 % from a tight one."""

TIGHT = 1e-9
"""The stop of a fit whose variances are to be shown."""

ROUNDS = 12
"""The most re-weightings of a refit; more are asked for only where few records leave much open."""


@dataclass(frozen=True)
class FitSettings:
    """How a market is fitted at any origin.

    `specify` gives the specification for the records known then. `scatter` are the terms of the errors'
    scale (none: one scale for all). `period` is an integer column (months). `grouped` names what the
    terms are summed into when neighbours are sought, and `within` a column whose value neighbours share;
    None seeks no neighbours. `prior` is a prior on the errors' scale. `rising` names
    the columns whose curves are held to a rise where the records allow.
    """

    specify: Callable[[pl.DataFrame], Specification]
    robust: Robust | None
    scatter: tuple[Term, ...]
    period: str
    grouped: Mapping[str, str] | None = None
    within: str | None = None
    prior: Prior | None = None
    rising: tuple[str, ...] = ()


def fit_by(
    settings: FitSettings, sales: pl.DataFrame, *, start: Fit | None = None, loose: bool = False
) -> Fit:
    """Fit the records known at an origin as the settings say; `loose` stops as soon as prices stand."""
    robust = settings.robust
    if robust is not None and loose:
        robust = replace(robust, settled=LOOSE, rounds=ROUNDS)
    fitted = fit(
        sales,
        settings.specify(sales),
        robust=robust,
        start=start,
        tolerance=LOOSE if loose else TIGHT,
        prior=settings.prior,
    )
    for column in settings.rising:
        fitted = hold_rising(fitted, column)
    return fitted


@dataclass(frozen=True)
class Rolled:
    """What rolling origins found.

    `sales` has one row a sale priced before it happened, by period and row: row (in the frame given),
    origin, period, log_price (predicted), error (actual minus predicted), variance (of the estimate),
    scale, degrees_of_freedom, neighbours (the mean residual of the nearest earlier sales), unseen, extrapolated
    (lists of terms). `failed` lists the origins that could not be fitted.
    """

    sales: pl.DataFrame
    origins: tuple[int, ...]
    failed: tuple[str, ...]


SALES: dict[str, pl.DataType] = {
    "row": pl.Int64(),
    "origin": pl.Int64(),
    "period": pl.Int64(),
    "log_price": pl.Float64(),
    "error": pl.Float64(),
    "variance": pl.Float64(),
    "scale": pl.Float64(),
    "degrees_of_freedom": pl.Float64(),
    "neighbours": pl.Float64(),
    "unseen": pl.List(pl.String()),
    "extrapolated": pl.List(pl.String()),
}


def choose_origins(periods: pl.Series, *, step: int, most: int, fewest: int) -> tuple[int, ...]:
    """Return the periods at which to refit: every `step` back from the last, `most` of them at most.

    Each has at least `fewest` records before it and one at least between it and the next.
    """
    if not len(periods):
        return ()
    last, first = int(periods.max()), int(periods.min())  # type: ignore[arg-type]
    origins = np.arange(last + 1 - step, first, -step)
    places = np.sort(periods.to_numpy())
    before = np.searchsorted(places, origins)
    within = np.searchsorted(places, origins + step) - before
    chosen = origins[(before >= fewest) & (within > 0)][:most]
    return tuple(int(origin) for origin in chosen[::-1])


def roll(
    frame: pl.DataFrame,
    settings: FitSettings,
    origins: Sequence[int],
    *,
    on_progress: Callable[[int, int], None] | None = None,
) -> Rolled:
    """Refit at each origin (rising) on all earlier periods, and price the sales up to the next origin.

    The market's level is that of the last period known, its drift since then in the variance. Each refit
    starts from the one before.
    """
    if not origins:
        return Rolled(pl.DataFrame(schema=SALES), (), ())
    after = int(frame.get_column(settings.period).max()) + 1  # type: ignore[arg-type]
    ends = [*origins[1:], after]
    numbered = frame.with_row_index("row of the frame")
    parts: list[pl.DataFrame] = []
    failed: list[str] = []
    before: Fit | None = None
    for number, (origin, end) in enumerate(zip(origins, ends, strict=True)):
        past = numbered.filter(pl.col(settings.period) < origin)
        upcoming = numbered.filter(pl.col(settings.period).is_between(origin, end - 1))
        if upcoming.height:
            try:
                fitted, priced = _price(past, upcoming, settings, before)
            except FitError as exc:
                failed.append(f"{origin}: {exc.what}")
            else:
                before = fitted
                parts.append(priced.with_columns(origin=pl.lit(origin, pl.Int64)))
        if on_progress is not None:
            on_progress(number + 1, len(origins))
    sales = pl.concat(parts).select(*SALES).sort("period", "row") if parts else pl.DataFrame(schema=SALES)
    return Rolled(sales, tuple(origins), tuple(failed))


def _price(
    past: pl.DataFrame, upcoming: pl.DataFrame, settings: FitSettings, before: Fit | None
) -> tuple[Fit, pl.DataFrame]:
    fitted = fit_by(settings, past, start=before, loose=True)
    predicted = predict(fitted, upcoming)
    log_price = predicted["log_price"].to_numpy()
    error = response_of(upcoming, fitted.specification) - log_price
    variance = np.maximum(predicted["estimation_variance"].to_numpy(), 0)
    needed = bool(settings.scatter) or settings.grouped is not None
    left = residuals(fitted, past) if needed else pl.DataFrame()
    scatter = fit_scatter(fitted, past, left, settings.scatter) if settings.scatter else None
    scale = _scale(fitted, scatter, upcoming, log_price)
    neighbours = np.zeros(upcoming.height)
    if settings.grouped is not None:
        past_scale = _scale(fitted, scatter, past, left["fitted"].to_numpy())
        neighbours = neighbour_residuals(
            fitted,
            past,
            left["residual"].to_numpy(),
            past_scale,
            upcoming,
            grouped=settings.grouped,
            within=settings.within,
        )[0]
    return fitted, pl.DataFrame(
        {
            "row": upcoming["row of the frame"].cast(pl.Int64),
            "period": upcoming[settings.period].cast(pl.Int64),
            "log_price": log_price,
            "error": error,
            "variance": variance,
            "scale": scale,
            "degrees_of_freedom": np.full(len(error), fitted.degrees_of_freedom),
            "neighbours": neighbours,
            "unseen": predicted["unseen"],
            "extrapolated": predicted["extrapolated"],
        }
    )


def _scale(fitted: Fit, scatter: Fit | None, frame: pl.DataFrame, log_price: Array) -> Array:
    if scatter is None:
        return np.full(frame.height, max(fitted.residual_scale, LEAST_SCALE))
    return scales(scatter, frame, log_price)
