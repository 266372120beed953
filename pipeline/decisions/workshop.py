"""The workshop: what each kind of work on each pair in stock would gain, and the best of it in the hours there are."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.config import Market, Treatment
from pipeline.decisions.bands import Values
from pipeline.decisions.grade_gains import GradeGains
from pipeline.decisions.pair import Pair
from pipeline.decisions.restoration import STEP
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.predict import design_rows

Array = NDArray[np.float64]

LARGEST_SET = 4
"""No more treatments than this are weighed together on one pair."""

OUTCOMES = 9
"""The outcomes of work that are told apart: a rise of 0 to 4 grades, by half."""

LEVEL = 0.8
NODES = 15
BISECTIONS = 60
PAIRS_AT_ONCE = 256


@dataclass(frozen=True)
class Work:
    """A set of treatments that may be done to one pair (its number in the stock list)."""

    pair: int
    treatments: tuple[str, ...]
    cures: tuple[str, ...]
    hours: float
    materials: float


def applicable(pair: Pair, market: Market) -> tuple[Treatment, ...]:
    """Return the treatments that make sense for a pair.

    Not what was done already; what cures defects only where the pair has one of them; what cures none only
    below the grade limit.
    """
    done, has = set(pair.treatments or ()), set(pair.defects or ())
    limit = float(market.workshop.grade_limit)
    return tuple(
        treatment
        for treatment in market.treatments
        if treatment.name not in done
        and (has & set(treatment.cures) if treatment.cures else pair.grade is not None and pair.grade < limit)
    )


def possible_work(pairs: Sequence[Pair], market: Market) -> tuple[Work, ...]:
    """Return every set of applicable treatments for every pair of known grade.

    In a set, each treatment that cures defects cures one that no other of the set does.
    """
    return tuple(
        work
        for number, pair in enumerate(pairs)
        if pair.grade is not None
        for work in _sets(number, pair, market)
    )


def _sets(number: int, pair: Pair, market: Market) -> Iterator[Work]:
    has = set(pair.defects or ())
    choices = applicable(pair, market)
    for size in range(1, min(len(choices), LARGEST_SET) + 1):
        for chosen in combinations(choices, size):
            cured = [has & set(treatment.cures) for treatment in chosen]
            if any(
                own and own <= set().union(*(cured[:place] + cured[place + 1 :]))
                for place, own in enumerate(cured)
            ):
                continue
            yield Work(
                number,
                tuple(treatment.name for treatment in chosen),
                tuple(sorted(set().union(*cured))),
                sum(treatment.hours for treatment in chosen),
                float(sum(treatment.materials for treatment in chosen)),
            )


def weigh_work(
    works: Sequence[Work],
    factors: pl.DataFrame,
    values: Values,
    fit: Fit,
    gains: GradeGains,
    market: Market,
    *,
    tails: float,
) -> pl.DataFrame:
    """Return one row a piece of work: what it would gain, after its cost, in the base currency.

    `factors` and `values` are those of all pairs as they are, in the order to which `Work.pair` counts; `fit` holds
    the coefficients after both witnesses of restoration. Columns: pair, treatments (List), cures (List),
    hours, materials, cost, price_before and price_after (medians), grade_after (average), gain (average net
    gain), low and high (of the LEVEL band), chance_of_loss (that the work does not pay for itself in fair
    value), chance_at_sale (that one sale of the restored pair, with its luck, brings less than
    the fair value as it is and the cost).

    The price before is lognormal about its median; the effect of the work is a mixture over the half grades
    that it may buy, each Gaussian with the full covariance of the coefficients, correlated with the price
    before. The luck of a single sale is left out of `gain` and its band: it would meet the pair restored or not.
    """
    parts = [
        _weigh(tuple(chosen), factors, values, fit, gains, market, tails)
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
    tails: float,
) -> pl.DataFrame:
    numbers = np.array([work.pair for work in works])
    grades = factors["grade"].to_numpy()[numbers]
    chance, grade_after = _grades_after(works, grades, gains, float(market.workshop.grade_limit))
    cost = np.array([work.materials + work.hours * float(market.workshop.hour_cost) for work in works])
    outcomes = _effects(works, numbers, factors, values, fit, chance, cost)
    scale = values.scale[numbers]
    edges = np.array([(1 - LEVEL) / 2, (1 + LEVEL) / 2])
    low, high = (_quantile(outcomes, edge) for edge in edges)
    before = np.exp(outcomes.level)
    typical = np.sum(chance * outcomes.effect, axis=1)
    return pl.DataFrame(
        {
            "pair": numbers,
            "treatments": [list(work.treatments) for work in works],
            "cures": [list(work.cures) for work in works],
            "hours": [work.hours for work in works],
            "materials": [work.materials for work in works],
            "cost": cost,
            "price_before": before,
            "price_after": before * np.exp(typical),
            "grade_after": grade_after,
            "gain": _mean(outcomes),
            "low": low,
            "high": high,
            "chance_of_loss": _chance_below(outcomes, np.zeros(len(works))),
            "chance_at_sale": _chance_at_sale(outcomes, scale, tails),
        },
        schema=WEIGHED,
    )


def _grades_after(
    works: tuple[Work, ...], grades: Array, gains: GradeGains, limit: float
) -> tuple[Array, Array]:
    """Return (chance of each rise by half grades (works, OUTCOMES), average grade after (works,)).

    The rise is normal about the average gain, with the error of that and the spread of single outcomes, counted
    in half grades, never below nought and never above the limit.
    """
    from scipy.special import ndtr

    told = {work.treatments: gains.of(work.treatments) for work in works}
    mean = np.array([told[work.treatments][0] for work in works])
    spread = np.sqrt(np.array([told[work.treatments][1] for work in works]) ** 2 + gains.spread**2)
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
    """Return the distributions of works. What is not known of a pair counts as nothing on both sides of the work."""
    empty = pl.lit([], pl.List(pl.String))
    actual = factors[numbers]
    base = actual.with_columns(pl.col("defects", "treatments").fill_null(empty))
    done = base.with_columns(
        pl.Series("new", [list(work.treatments) for work in works], dtype=pl.List(pl.String)),
        pl.Series("cured", [list(work.cures) for work in works], dtype=pl.List(pl.String)),
    ).with_columns(pl.col("treatments").list.set_union("new"), pl.col("defects").list.set_difference("cured"))
    level_row, start = design_rows(fit, actual), design_rows(fit, base)
    spread_level = level_row @ fit.covariance
    effect, variance, covariance = (np.zeros((len(works), OUTCOMES)) for _ in range(3))
    for outcome in range(OUTCOMES):
        risen = done.with_columns((pl.col("grade") + STEP * outcome).clip(upper_bound=10.0))
        change = design_rows(fit, risen) - start
        effect[:, outcome] = change @ fit.coefficients
        variance[:, outcome] = np.einsum("ij,ij->i", change @ fit.covariance, change)
        covariance[:, outcome] = np.einsum("ij,ij->i", spread_level, change)
    level_variance = np.maximum(values.predictions["estimation_variance"].to_numpy(), 1e-12)[numbers]
    level = (values.predictions["log_price"].to_numpy() + values.correction)[numbers]
    return _Outcomes(level, level_variance, effect, np.maximum(variance, 1e-12), covariance, chance, cost)


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
    """Return the chance that the net gain lies below `net` (works,)."""
    from scipy.special import ndtr

    before, weights, mean, error = _given_level(outcomes)
    needed = 1 + (net + outcomes.cost)[:, None] / before
    log_needed = np.log(np.maximum(needed, 1e-300))
    chance = ndtr((log_needed[:, None, :] - mean) / error)
    below: Array = np.einsum("wo,won,n->w", outcomes.chance, chance, weights)
    return below


def _quantile(outcomes: _Outcomes, edge: float) -> Array:
    """Return the net gain below which it lies with the chance `edge`, by bisection."""
    price = np.exp(outcomes.level)
    low, high = -price * 3 - outcomes.cost, price * 20.0
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        short = _chance_below(outcomes, middle) < edge
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    found: Array = (low + high) / 2
    return found


def _chance_at_sale(outcomes: _Outcomes, scale: Array, tails: float) -> Array:
    """Return the chance that one sale after the work brings less than the fair value before it and the cost."""
    from scipy.special import ndtr, stdtr

    nodes, own = np.polynomial.hermite_e.hermegauss(NODES)
    before, weights, mean, error = _given_level(outcomes)
    needed = np.log1p(outcomes.cost[:, None] / before)[:, None, :]
    total = np.zeros(len(scale))
    for node, weight in zip(nodes, own / own.sum(), strict=True):
        place = (needed - (mean + error * node)) / scale[:, None, None]
        chance = ndtr(place) if np.isinf(tails) else stdtr(tails, place)
        total += weight * np.einsum("wo,won,n->w", outcomes.chance, chance, weights)
    return total


@dataclass(frozen=True)
class Plan:
    """The best set of works: their rows, and what it comes to. Worths are in the base currency.

    `next_hour` is what one more hour would add, `next_money` what one more step of money (`money_step`) would.
    """

    chosen: tuple[int, ...]
    gain: float
    hours: float
    money: float
    hours_given: float
    money_given: float
    next_hour: float = 0.0
    next_money: float = 0.0
    money_step: float = 10.0


def best_plan(works: pl.DataFrame, *, hours: float, money: float) -> Plan:
    """Return the works (columns pair, gain, hours, materials) of greatest average gain in the hours and money.

    At most one a pair; exact, by an integer programme. The worth of the next hour is found by solving again
    with one more.
    """
    plan = _solve(works, hours, money)
    return replace(
        plan,
        next_hour=_solve(works, hours + 1, money).gain - plan.gain,
        next_money=_solve(works, hours, money + plan.money_step).gain - plan.gain,
    )


def _solve(works: pl.DataFrame, hours: float, money: float) -> Plan:
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import coo_array, vstack

    paying = works.with_row_index("place").filter(pl.col("gain") > 0)
    if not paying.height:
        return Plan((), 0.0, 0.0, 0.0, hours, money)
    gain = paying["gain"].to_numpy()
    spent = paying.select("hours", "materials").to_numpy().T
    pairs = paying["pair"].rank("dense").to_numpy().astype(np.int64) - 1
    one_each = coo_array((np.ones(len(pairs)), (pairs, np.arange(len(pairs)))))
    rows = vstack([coo_array(spent), one_each]).tocsc()
    most = np.concatenate([[hours, money], np.ones(one_each.shape[0])])
    solved = milp(
        -gain,
        integrality=np.ones(len(gain)),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(rows, ub=most),
        options={"mip_rel_gap": 0.0},
    )
    taken = np.flatnonzero(np.round(solved.x) == 1)
    return Plan(
        tuple(int(number) for number in paying["place"].to_numpy()[taken]),
        float(gain[taken].sum()),
        float(spent[0, taken].sum()),
        float(spent[1, taken].sum()),
        hours,
        money,
    )
