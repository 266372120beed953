"""Rolling origin: refit at each past origin, and price what sold next, as one would have then."""

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.errors import FitError
from pipeline.hedonic.fit import FitSettings, Together, fit_together, response_of
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.interactions import NOT_TRIED, ROUNDS, Interactions, Search, find_interactions
from pipeline.hedonic.predict import log_prices_of_rows, predict_rows
from pipeline.hedonic.rows import TermRows, rows_by_term
from pipeline.hedonic.scales import scales
from pipeline.hedonic.scatter import fit_scatters
from pipeline.hedonic.second_stage import (
    PRICES,
    RESIDUALS,
    Z_95_ONE_SIDED,
    Growth,
    Left,
    Trees,
    ask,
    grow,
    joined,
    mean_gain,
    trees_of,
)
from pipeline.hedonic.source import ONE_STAGE, Source, Stages
from pipeline.hedonic.specification import Term
from pipeline.hedonic.trend import SHAPES, TrendStage, measure_trend, moves_at, taken, with_trend

Array = NDArray[np.float64]

MOST_SINGLE = 50_000
"""So many single sales are looked at one by one, the same ones each time: more would hardly move a band."""

LOOKED_FOR = 4
"""At every so many-th origin interactions are looked for; the origins between have those of the last."""

AT_ONCE = 2
"""So many origins are priced at the same time."""


@dataclass(frozen=True)
class AtOrigin:
    """The fit of the records known at an origin, and that of the scatter of single ones."""

    fit: Fit
    scatter: Fit

    def scale(self, frame: pl.DataFrame, log_price: Array) -> Array:
        """Return the scale of the errors (log price) of each record, given its fitted log price."""
        return scales(self.scatter, frame, log_price)


@dataclass(frozen=True)
class Origins:
    """The fit of the whole, and that at each past origin, or why there is none.

    `searches` are the interactions that the records of each stage call for, those of the whole last.
    """

    whole: AtOrigin
    past: tuple[AtOrigin | FitError, ...]
    searches: tuple[Search, ...] = ()


@dataclass(frozen=True)
class LeftAtOrigin:
    """What the fit at an origin leaves of the sales before it, and of the next ones: `rows` of the singles.

    `moves` (past, SHAPES) is what a trend takes of what is left of those before.
    """

    rows: NDArray[np.int64]
    past: Left
    upcoming: Left
    moves: Array


@dataclass(frozen=True)
class Rolled:
    """What rolling origins found.

    `singles` are the records that were looked at one by one: all of them, or MOST_SINGLE. `sales` has one row for each
    that was priced before it happened, by period and row: row (in `singles`), origin, period, log_price (predicted),
    error (actual minus predicted), variance (of the estimate), scale, degrees_of_freedom, moves and move_variances
    (what a trend of each of SHAPES adds to log_price and variance), unseen, extrapolated (lists of terms). `left` is
    what the second stage learns from, origin by origin. `failed` lists the origins that could not be fitted; `searches`
    are the interactions that the records of each origin call for, those of the whole last.
    """

    whole: AtOrigin
    singles: pl.DataFrame
    sales: pl.DataFrame
    origins: tuple[int, ...]
    failed: tuple[str, ...]
    searches: tuple[Search, ...] = ()
    left: tuple[LeftAtOrigin, ...] = ()


SALES: dict[str, pl.DataType] = {
    "row": pl.Int64(),
    "origin": pl.Int64(),
    "period": pl.Int64(),
    "log_price": pl.Float64(),
    "error": pl.Float64(),
    "variance": pl.Float64(),
    "scale": pl.Float64(),
    "degrees_of_freedom": pl.Float64(),
    "moves": pl.Array(pl.Float64, len(SHAPES)),
    "move_variances": pl.Array(pl.Float64, len(SHAPES)),
    "unseen": pl.List(pl.String()),
    "extrapolated": pl.List(pl.String()),
}


def choose_origins(
    periods: pl.Series, *, step: int, most: int, fewest: int, behind: pl.Series | None = None
) -> tuple[int, ...]:
    """Return the periods at which to refit: every `step` back from the last, `most` of them at most.

    Each has at least `fewest` records before it and one at least between it and the next. `behind` counts the records
    of each entry of `periods` (one, where it is left out).
    """
    if not len(periods):
        return ()
    order = periods.arg_sort()
    places = periods.gather(order).to_numpy()
    counts = np.ones(len(places), dtype=np.int64) if behind is None else behind.gather(order).to_numpy()
    reached = np.concatenate([[0], np.cumsum(counts)])
    origins = np.arange(int(places[-1]) + 1 - step, int(places[0]), -step)
    before = reached[np.searchsorted(places, origins)]
    within = reached[np.searchsorted(places, origins + step)] - before
    chosen = origins[(before >= fewest) & (within > 0)][:most]
    return tuple(int(origin) for origin in chosen[::-1])


def fit_origins(source: Source, settings: FitSettings, origins: Sequence[int]) -> Origins:
    """Fit the whole of the records, and those of the periods before each origin (rising), and their scatters.

    Raises FitError where the whole cannot be fitted.
    """
    stages = Stages(settings.period, tuple(origins)) if origins else ONE_STAGE
    together = fit_together(source, settings, stages)
    good = [one for one in (*together.past, together.whole) if not isinstance(one, FitError)]
    scatters = fit_scatters(together.coding, together.coded, good, settings.scatter, settings.heed)
    made = iter([AtOrigin(one.fit, scatter) for one, scatter in zip(good, scatters, strict=True)])
    past = tuple(one if isinstance(one, FitError) else next(made) for one in together.past)
    return Origins(next(made), past, _searches(together, settings))


def _searches(together: Together, settings: FitSettings) -> tuple[Search, ...]:
    """Return the interactions that the records of each stage call for: those of the last time they were looked for.

    They are looked for in the whole, and, where that calls for any, at every LOOKED_FOR-th origin.
    """
    whole = _search(together, settings, len(together.past))
    if not whole.found:
        return (*(Search() for _ in together.past), whole)
    past: list[Search] = []
    for stage, member in enumerate(together.past):
        looked = stage % LOOKED_FOR == 0 and not isinstance(member, FitError)
        past.append(_search(together, settings, stage) if looked else past[-1] if past else Search())
    return (*past, whole)


def _search(together: Together, settings: FitSettings, stage: int) -> Search:
    """Return the interactions that the records of one stage call for, beside those that its fit has."""
    settings.heed()
    member = (*together.past, together.whole)[stage]
    if not settings.pairs or isinstance(member, FitError):
        return Search()
    added = settings.added[stage] if settings.added else ()
    return find_interactions(
        together.coding, together.coded, member.standing, settings.pairs, added=added, within=settings.within
    )


def fit_with_interactions(
    source: Source, settings: FitSettings, origins: Sequence[int], rounds: int
) -> Origins:
    """Do as `fit_origins`, each fit with the interactions that its own records call for in so many rounds."""
    for _ in range(rounds):
        found = fit_origins(source, settings, origins)
        settings = replace(settings, added=_added(settings, found.searches))
    return fit_origins(source, replace(settings, pairs=()), origins)


def _added(settings: FitSettings, searches: Sequence[Search]) -> tuple[tuple[Term, ...], ...]:
    """Return the interactions of each stage's next fit: those of the last, and those found since."""
    before = settings.added or tuple(() for _ in searches)
    return tuple(
        tuple(dict.fromkeys((*had, *search.found))) for had, search in zip(before, searches, strict=True)
    )


def roll_with_interactions(
    source: Source,
    settings: FitSettings,
    origins: Sequence[int],
    *,
    on_progress: Callable[[int, int], None] | None = None,
) -> tuple[Rolled, Interactions]:
    """Return what `roll` finds, with the interactions that the records call for where they pay on later sales.

    Each origin has those that its own records call for. Where they do not pay, or no past origin has any, no fit has
    them, and those of a second round count only where they pay beside those of the first.
    """
    plain = kept = roll(source, settings, origins, on_progress=on_progress)
    if not settings.pairs:
        return plain, NOT_TRIED
    prices = plain.sales.select((pl.col("log_price") + pl.col("error")).exp())
    known = Interactions(True, median_price=float(np.median(prices)) if prices.height else 0.0)
    for number in range(1, ROUNDS + 1):
        search = kept.searches[-1]
        known = replace(known, too_many=_columns(search.too_many))
        if not search.found:
            break
        more = settings.pairs if number < ROUNDS else ()
        settings = replace(settings, pairs=more, added=_added(settings, kept.searches))
        pairs = _columns(settings.added[-1])
        tellable = plain.sales["origin"].n_unique() > 1 and any(one.found for one in kept.searches[:-1])
        if not tellable:
            known = known if known.used else replace(known, pairs=pairs)
            break
        tried = roll(source, settings, origins, on_progress=on_progress)
        gain, error = _gain(kept, tried)
        pays = gain > Z_95_ONE_SIDED * error
        if pays or number == 1:
            gain, error = _gain(plain, tried)
            known = replace(known, pairs=pairs, gain=gain, error=error)
        if not pays:
            break
        kept, known = tried, replace(known, rounds=number)
    return kept, known


def _columns(terms: Sequence[Term]) -> tuple[tuple[str, ...], ...]:
    return tuple(term.columns for term in terms)


def _gain(before: Rolled, after: Rolled) -> tuple[float, float]:
    """Return (the fall of the mean absolute error on later sales, its standard error over origins)."""
    both = before.sales.join(after.sales.select("row", after="error"), on="row")
    gains = both["error"].abs() - both["after"].abs()
    return mean_gain(gains.to_numpy(), both["origin"].to_numpy())


def roll(
    source: Source,
    settings: FitSettings,
    origins: Sequence[int],
    *,
    on_progress: Callable[[int, int], None] | None = None,
) -> Rolled:
    """Refit at each origin (rising) on all earlier periods, and price the sales up to the next origin.

    The market's level is that of the last period known, its drift since then in the variance; what a trend would add
    stands beside it.
    """
    found = fit_origins(source, settings, origins)
    singles = source.sample(MOST_SINGLE)
    numbered = singles.with_row_index("row of the frame")
    ends = [*origins[1:], None][: len(origins)]
    parts: list[pl.DataFrame] = []
    left: list[LeftAtOrigin] = []
    period = pl.col(settings.period)

    def price(
        origin: int, end: int | None, at: AtOrigin | FitError
    ) -> tuple[pl.DataFrame, LeftAtOrigin] | None:
        settings.heed()
        known = numbered if end is None else numbered.filter(period < end)
        if isinstance(at, FitError) or not (known[settings.period] >= origin).any():
            return None
        return _price(at, known, origin, settings)

    with ThreadPoolExecutor(AT_ONCE) as threads:
        for number, priced in enumerate(threads.map(price, origins, ends, found.past)):
            if priced is not None:
                parts.append(priced[0])
                left.append(priced[1])
            if on_progress is not None:
                on_progress(number + 1, len(origins))
    failed = (
        f"{origin}: {at.what}"
        for origin, at in zip(origins, found.past, strict=True)
        if isinstance(at, FitError)
    )
    sales = pl.concat(parts).select(*SALES).sort("period", "row") if parts else pl.DataFrame(schema=SALES)
    return Rolled(found.whole, singles, sales, tuple(origins), tuple(failed), found.searches, tuple(left))


def trended(rolled: Rolled, period: str) -> tuple[Rolled, TrendStage]:
    """Return what rolling origins found with the trend, where it is used, and whether it is.

    Each sale is then priced by the trend that had served best before its origin, and what is left of those before the
    origin is left by that trend too.
    """
    sales = rolled.sales
    moves, variances = sales["moves"].to_numpy(), sales["move_variances"].to_numpy()
    measured, chosen = measure_trend(
        sales["error"].to_numpy(), moves, sales["scale"].to_numpy(), sales["origin"].to_numpy()
    )
    fit, stage = with_trend(rolled.whole.fit, period, measured)
    left = rolled.left
    if stage.used:
        move = pl.Series(taken(moves, chosen))
        sales = sales.with_columns(
            pl.col("log_price") + move,
            pl.col("error") - move,
            (pl.col("variance") + pl.Series(taken(variances, chosen))).clip(0),
        )
        of_row = np.full(rolled.singles.height, -1)
        of_row[sales["row"].to_numpy()] = chosen
        left = tuple(_moved(at, int(of_row[at.rows[0]])) for at in rolled.left)
    return replace(rolled, whole=replace(rolled.whole, fit=fit), sales=sales, left=left), stage


def _moved(at: LeftAtOrigin, shape: int) -> LeftAtOrigin:
    """Return what is left of the sales before an origin by the trend of a shape (-1: none)."""
    move = taken(at.moves, np.full(len(at.moves), shape))
    return replace(at, past=replace(at.past, residuals=at.past.residuals - move))


def _price(
    at: AtOrigin, known: pl.DataFrame, origin: int, settings: FitSettings
) -> tuple[pl.DataFrame, LeftAtOrigin]:
    """Return the price that each known sale from the origin on was given before it, and what the fit leaves."""
    after = np.flatnonzero((known[settings.period] >= origin).to_numpy())
    before = np.flatnonzero((known[settings.period] < origin).to_numpy())
    upcoming = known[after]
    left, by_term = _left(at, known, settings)
    predicted = predict_rows(at.fit, tuple(term.taken(after) for term in by_term), upcoming.height)
    moves, variances = moves_at(at.fit, settings.period, by_term, known[settings.period].to_numpy())
    ours = left.taken(after)
    rows = upcoming["row of the frame"].cast(pl.Int64)
    priced = pl.DataFrame(
        {
            "row": rows,
            "origin": np.full(len(after), origin, dtype=np.int64),
            "period": upcoming[settings.period].cast(pl.Int64),
            "log_price": predicted["log_price"],
            "error": ours.residuals,
            "variance": np.maximum(predicted["estimation_variance"].to_numpy(), 0),
            "scale": ours.scales,
            "degrees_of_freedom": np.full(len(after), at.fit.degrees_of_freedom),
            "moves": pl.Series(moves[after], dtype=SALES["moves"]),
            "move_variances": pl.Series(variances[after], dtype=SALES["move_variances"]),
            "unseen": predicted["unseen"],
            "extrapolated": predicted["extrapolated"],
        }
    )
    return priced, LeftAtOrigin(rows.to_numpy(), left.taken(before), ours, moves[before])


def _left(at: AtOrigin, known: pl.DataFrame, settings: FitSettings) -> tuple[Left, tuple[TermRows, ...]]:
    """Return (what a fit leaves of records, their design rows)."""
    by_term = rows_by_term(at.fit, known)
    fitted = log_prices_of_rows(at.fit, by_term, known.height)
    errors = response_of(known, at.fit.specification) - fitted
    return Left(ask(at.fit, by_term, settings.grouped), errors, at.scale(known, fitted)), by_term


def learn_at_origins(rolled: Rolled, settings: FitSettings, growth: Growth) -> Array:
    """Return what trees grown at each origin say of each of `rolled.sales` (log price)."""
    learned = np.zeros(rolled.singles.height)

    def learn(at: LeftAtOrigin) -> None:
        settings.heed()
        if at.past.asked.questions:
            learned[at.rows] = grow(at.past, settings.rising, growth).predict(at.upcoming.asked)

    with ThreadPoolExecutor(AT_ONCE) as threads:
        list(threads.map(learn, rolled.left))
    of_sales: Array = learned[rolled.sales["row"].to_numpy()]
    return of_sales


def learn_from_all(at: AtOrigin, known: pl.DataFrame, settings: FitSettings, weight: float) -> Trees:
    """Return trees grown on what a fit leaves of all known sales, those on prices counting for `weight`."""
    left, _ = _left(at, known, settings)
    grown = [
        trees_of(grow(left, settings.rising, growth), left.asked)
        for growth, counts in ((RESIDUALS, weight < 1), (PRICES, weight > 0))
        if counts
    ]
    return grown[0] if len(grown) == 1 else joined(grown[0], grown[1], weight)
