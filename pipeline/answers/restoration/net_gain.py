"""The net gain of work on a pair: its average, its range and its chances of loss, from what buyers pay."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.answers.restoration.grade_gains import GradeGains
from pipeline.answers.restoration.restoration import STEP, TOP_GRADE, unseen_variance
from pipeline.answers.restoration.work import Work
from pipeline.config import Market
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.predict import design_rows
from pipeline.market.bands import Values

Array = NDArray[np.float64]

OUTCOMES = 9
"""The possible outcomes of work: a rise of 0 to 4 grades, in halves."""

LEVEL = 0.8
NODES = 15
BISECTIONS = 60
FURTHEST = 6.0
"""How far in log price from the value of a pair as it is the ends of a band are looked for."""
PAIRS_AT_ONCE = 256


def weigh_work(
    works: Sequence[Work],
    factors: pl.DataFrame,
    values: Values,
    fit: Fit,
    gains: GradeGains,
    market: Market,
    *,
    degrees_of_freedom: float,
) -> pl.DataFrame:
    """Return one row a piece of work: what it would gain, after its cost, in the base currency.

    `factors` and `values` are those of all pairs as they are, in the order to which `Work.pair` counts; `fit` holds
    the coefficients after both checks of restoration. Columns: pair, treatments (List), cures (List),
    hours, materials, cost, price_before and price_after (medians), grade_after (average), gain (average net
    gain), low and high (of the LEVEL range), chance_of_loss (that the work does not pay for itself in fair
    value), chance_at_sale (that one sale of the restored pair, good luck or bad, brings less than
    the fair value as it is plus the cost).

    The price before is lognormal about its median; the effect of the work is a mixture over the half grades
    that it may gain, each Gaussian with the full covariance of the coefficients, correlated with the price
    before. The luck of a single sale is left out of `gain` and its range: it would affect the pair restored or not.
    """
    parts = [
        _weigh(tuple(chosen), factors, values, fit, gains, market, degrees_of_freedom)
        for start in range(0, max(factors.height, 1), PAIRS_AT_ONCE)
        if (chosen := [work for work in works if start <= work.pair < start + PAIRS_AT_ONCE])
    ]
    return pl.concat(parts) if parts else pl.DataFrame(schema=WEIGHED)


WEIGHED: dict[str, pl.DataType] = {
    "pair": pl.Int64(),
    "treatments": pl.List(pl.String()),
    "cures": pl.List(pl.String()),
    "hours": pl.Float64(),
    "materials": pl.Float64(),
    "cost": pl.Float64(),
    "price_before": pl.Float64(),
    "price_after": pl.Float64(),
    "grade_after": pl.Float64(),
    "gain": pl.Float64(),
    "low": pl.Float64(),
    "high": pl.Float64(),
    "chance_of_loss": pl.Float64(),
    "chance_at_sale": pl.Float64(),
}


@dataclass(frozen=True)
class _Outcomes:
    """The distributions of works: price before (works,), effect by outcome (works, OUTCOMES), all in log price."""

    level: Array
    level_variance: Array
    effect: Array
    variance: Array
    covariance: Array
    chance: Array
    cost: Array


def _weigh(
    works: tuple[Work, ...],
    factors: pl.DataFrame,
    values: Values,
    fit: Fit,
    gains: GradeGains,
    market: Market,
    degrees_of_freedom: float,
) -> pl.DataFrame:
    numbers, grade_after, outcomes = _outcomes_of(works, factors, values, fit, gains, market)
    scale = values.scale[numbers]
    edges = np.array([(1 - LEVEL) / 2, (1 + LEVEL) / 2])
    low, high = (_quantile(outcomes, edge) for edge in edges)
    before = np.exp(outcomes.level)
    typical = np.sum(outcomes.chance * outcomes.effect, axis=1)
    return pl.DataFrame(
        {
            "pair": numbers,
            "treatments": [list(work.treatments) for work in works],
            "cures": [list(work.cures) for work in works],
            "hours": [work.hours for work in works],
            "materials": [work.materials for work in works],
            "cost": outcomes.cost,
            "price_before": before,
            "price_after": before * np.exp(typical),
            "grade_after": grade_after,
            "gain": _mean(outcomes),
            "low": low,
            "high": high,
            "chance_of_loss": _chance_below(outcomes, np.zeros(len(works))),
            "chance_at_sale": _chance_at_sale(outcomes, scale, degrees_of_freedom),
        },
        schema=WEIGHED,
    )


def bands_at_sale(
    works: Sequence[Work],
    factors: pl.DataFrame,
    values: Values,
    fit: Fit,
    gains: GradeGains,
    market: Market,
    *,
    degrees_of_freedom: float,
) -> tuple[tuple[float, float], ...]:
    """Return the LEVEL band of the price of one sale of each pair after its work, in the base currency.

    The distribution is that of `chance_at_sale` in `weigh_work`: how the work may come out, and the luck of one sale.
    """
    if not works:
        return ()
    numbers, _, outcomes = _outcomes_of(tuple(works), factors, values, fit, gains, market)
    scale, ends = values.scale[numbers], []
    for edge in ((1 - LEVEL) / 2, (1 + LEVEL) / 2):
        low, high = outcomes.level - FURTHEST, outcomes.level + FURTHEST
        for _ in range(BISECTIONS):
            middle = (low + high) / 2
            short = _chance_at_sale(outcomes, scale, degrees_of_freedom, np.exp(middle)) < edge
            low, high = np.where(short, middle, low), np.where(short, high, middle)
        ends.append(np.exp((low + high) / 2).tolist())
    return tuple(zip(*ends, strict=True))


def _outcomes_of(
    works: tuple[Work, ...],
    factors: pl.DataFrame,
    values: Values,
    fit: Fit,
    gains: GradeGains,
    market: Market,
) -> tuple[NDArray[np.int64], Array, _Outcomes]:
    """Return the numbers of the pairs of works, the average grade after each, and its possible outcomes."""
    numbers = np.array([work.pair for work in works])
    grades = factors["grade"].to_numpy()[numbers]
    chance, grade_after = _grades_after(works, grades, gains, float(market.workshop.grade_limit))
    cost = np.array([work.materials + work.hours * float(market.workshop.hour_cost) for work in works])
    return numbers, grade_after, _effects(works, numbers, factors, values, fit, chance, cost)


def _grades_after(
    works: tuple[Work, ...], grades: Array, gains: GradeGains, limit: float
) -> tuple[Array, Array]:
    """Return (chance of each rise by half grades (works, OUTCOMES), average grade after (works,)).

    The rise is normal around the average gain, with the error of that and the spread of single outcomes, counted
    in half grades, never below zero and never above the limit.
    """
    from scipy.special import ndtr

    rises = {work.treatments: gains.of(work.treatments) for work in works}
    mean = np.array([rises[work.treatments][0] for work in works])
    spread = np.sqrt(np.array([rises[work.treatments][1] for work in works]) ** 2 + gains.spread**2)
    upper = STEP * (np.arange(OUTCOMES - 1) + 0.5)
    below = ndtr((upper[None, :] - mean[:, None]) / spread[:, None])
    room = np.floor(np.maximum(limit - grades, 0) / STEP).astype(int)
    capped = np.where(np.arange(OUTCOMES - 1)[None, :] >= room[:, None], 1.0, below)
    chance = np.diff(np.column_stack([np.zeros(len(works)), capped, np.ones(len(works))]), axis=1)
    return chance, grades + chance @ (STEP * np.arange(OUTCOMES))


def _effects(
    works: tuple[Work, ...],
    numbers: NDArray[np.int64],
    factors: pl.DataFrame,
    values: Values,
    fit: Fit,
    chance: Array,
    cost: Array,
) -> _Outcomes:
    """Return the distributions of works."""
    level_rows = design_rows(fit, factors[numbers])
    effect, variance, covariance = (np.zeros((len(works), OUTCOMES)) for _ in range(3))
    unseen = _unseen(works, numbers, factors, fit)
    for outcome, change in enumerate(_changes(works, numbers, factors, fit)):
        effect[:, outcome] = change @ fit.coefficients
        variance[:, outcome] = fit.covariance.row_variances(change) + unseen
        covariance[:, outcome] = fit.covariance.row_covariances(level_rows, change)
    level_variance = np.maximum(values.predictions["estimation_variance"].to_numpy(), 1e-12)[numbers]
    level = (values.predictions["log_price"].to_numpy() + values.correction)[numbers]
    return _Outcomes(level, level_variance, effect, np.maximum(variance, 1e-12), covariance, chance, cost)


def _before_and_after(
    works: tuple[Work, ...], numbers: NDArray[np.int64], factors: pl.DataFrame
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return the factors of the pairs before and after the works, at their grade as it is.

    What is not known of a pair (its defects, what was done) counts as none on both sides of the work.
    """
    empty = pl.lit([], pl.List(pl.String))
    base = factors[numbers].with_columns(pl.col("defects", "treatments").fill_null(empty))
    after = base.with_columns(
        pl.Series("new", [list(work.treatments) for work in works], dtype=pl.List(pl.String)),
        pl.Series("cured", [list(work.cures) for work in works], dtype=pl.List(pl.String)),
    ).with_columns(pl.col("treatments").list.set_union("new"), pl.col("defects").list.set_difference("cured"))
    return base, after.drop("new", "cured")


def _unseen(works: tuple[Work, ...], numbers: NDArray[np.int64], factors: pl.DataFrame, fit: Fit) -> Array:
    """Return the variance (works,) of the treatments and defects that no sale has."""
    return unseen_variance(fit, *_before_and_after(works, numbers, factors))


def _changes(
    works: tuple[Work, ...], numbers: NDArray[np.int64], factors: pl.DataFrame, fit: Fit
) -> Iterator[Any]:
    """Yield, for each rise of the grade, the change of the design rows (works, p; sparse) that the works make."""
    base, done = _before_and_after(works, numbers, factors)
    start = design_rows(fit, base)
    for outcome in range(OUTCOMES):
        risen = done.with_columns((pl.col("grade") + STEP * outcome).clip(upper_bound=TOP_GRADE))
        yield design_rows(fit, risen) - start


def _mean(outcomes: _Outcomes) -> Array:
    """Return the average net gain: lognormal means over the mixture."""
    before = np.exp(outcomes.level + outcomes.level_variance / 2)
    after = np.exp(outcomes.effect + outcomes.variance / 2 + outcomes.covariance)
    mean: Array = before * (np.sum(outcomes.chance * after, axis=1) - 1) - outcomes.cost
    return mean


def _given_level(outcomes: _Outcomes) -> tuple[Array, Array, Array, Array]:
    """Return (price before (works, NODES), weights (NODES,), effect's mean (works, OUTCOMES, NODES) and error)."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(NODES)
    root = np.sqrt(outcomes.level_variance)
    before = np.exp(outcomes.level[:, None] + root[:, None] * nodes)
    share = outcomes.covariance / root[:, None]
    mean = outcomes.effect[:, :, None] + share[:, :, None] * nodes
    error = np.sqrt(np.maximum(outcomes.variance - share**2, 1e-12))[:, :, None]
    return before, weights / weights.sum(), mean, error


def _chance_below(outcomes: _Outcomes, net: Array) -> Array:
    """Return the chance that the net gain is below `net` (works,)."""
    from scipy.special import ndtr

    before, weights, mean, error = _given_level(outcomes)
    needed = 1 + (net + outcomes.cost)[:, None] / before
    log_needed = np.log(np.maximum(needed, 1e-300))
    chance = ndtr((log_needed[:, None, :] - mean) / error)
    below: Array = np.einsum("wo,won,n->w", outcomes.chance, chance, weights)
    return below


def _quantile(outcomes: _Outcomes, edge: float) -> Array:
    """Return the net gain that is not reached with the chance `edge`, by bisection."""
    price = np.exp(outcomes.level)
    low, high = -price * 3 - outcomes.cost, price * 20.0
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        short = _chance_below(outcomes, middle) < edge
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    found: Array = (low + high) / 2
    return found


def _chance_at_sale(
    outcomes: _Outcomes, scale: Array, degrees_of_freedom: float, price: Array | None = None
) -> Array:
    """Return the chance that one sale after the work brings less than a price (works,).

    Left out, that is the fair value before the work plus its cost.
    """
    from scipy.special import ndtr, stdtr

    nodes, own = np.polynomial.hermite_e.hermegauss(NODES)
    before, weights, mean, error = _given_level(outcomes)
    least = before + outcomes.cost[:, None] if price is None else price[:, None]
    needed = np.log(least / before)[:, None, :]
    total = np.zeros(len(scale))
    for node, weight in zip(nodes, own / own.sum(), strict=True):
        place = (needed - (mean + error * node)) / scale[:, None, None]
        chance = ndtr(place) if np.isinf(degrees_of_freedom) else stdtr(degrees_of_freedom, place)
        total += weight * np.einsum("wo,won,n->w", outcomes.chance, chance, weights)
    return total


def error_together(
    works: Sequence[Work], factors: pl.DataFrame, values: Values, fit: Fit, gains: GradeGains, market: Market
) -> float:
    """Return the standard error of the gain of works done together, in the base currency.

    To first order in the coefficients, which the works share, plus how each grade may come out, independent
    for each work.
    """
    if not works:
        return 0.0
    works = tuple(works)
    numbers = np.array([work.pair for work in works])
    grades = factors["grade"].to_numpy()[numbers]
    chance, _ = _grades_after(works, grades, gains, float(market.workshop.grade_limit))
    steps = tuple(_changes(works, numbers, factors, fit))
    level = (values.predictions["log_price"].to_numpy() + values.correction)[numbers]
    before = np.exp(level)
    after = before[:, None] * np.exp(np.stack([change @ fit.coefficients for change in steps], axis=1))
    mean = np.sum(chance * after, axis=1)
    slope = design_rows(fit, factors[numbers]).T @ (mean - before)
    for outcome, change in enumerate(steps):
        slope = slope + change.T @ (chance[:, outcome] * after[:, outcome])
    spread = np.sum(chance * (after - mean[:, None]) ** 2)
    spread += np.sum(_unseen(works, numbers, factors, fit) * mean**2)
    return float(np.sqrt(max(slope @ (fit.covariance @ slope), 0.0) + spread))
