"""What several pairs bring together: closed forms, and portfolios drawn from markets whose truth is known."""

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import polars as pl
import pytest
from scipy import stats

from pipeline.hedonic.fit import fit
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.predict import predict
from pipeline.hedonic.shared_errors import SharedErrors
from pipeline.hedonic.specification import Specification, Term
from pipeline.market.joint_price import JointPrices, joint_prices
from pipeline.market.model import ANY_VENUE
from pipeline.market.price_distribution import PriceDistribution

SILHOUETTES, BETWEEN, WITHIN, SALES = 12, 0.3, 0.25, 60
SIZES = (5, 25, 100)
MARKETS = 200
SAMPLING = 3 * np.sqrt(0.8 * 0.2 / MARKETS)
"""Three standard errors of a share of so many portfolios."""

CHANCES = (0.1, 0.5, 0.9)

VENUES = ("Lantern Dock", "Salt Loft", "Beacon Rooms", "Cordage Hall")
MONTHS, STEP, MOVING_SALES = 36, 0.03, 300
AFTER = (0, 3, 12)
"""Months from the last sale that the fit knows to the day on which the pairs are sold."""


def market(draws: np.random.Generator) -> tuple[Fit, np.ndarray]:
    """Return a fit of sales drawn from a market, and what each silhouette is truly worth there (log price)."""
    worth = 5 + draws.normal(0, 0.3) + draws.normal(0, BETWEEN, SILHOUETTES)
    kind = draws.integers(0, SILHOUETTES, SALES)
    price = worth[kind] + draws.normal(0, WITHIN, SALES)
    frame = pl.DataFrame({"silhouette": kind.astype(str), "log_price": price})
    term = Term("silhouette", "pooled", ("silhouette",), spread=0.2)
    return fit(frame, Specification("log_price", (term,))), worth


def distribution(centre: np.ndarray, variance: float | np.ndarray, scale: float) -> PriceDistribution:
    """Return Gaussian price distributions without calibration."""
    pairs = len(centre)
    empty = pl.Series([[]] * pairs, dtype=pl.List(pl.String))
    return PriceDistribution(
        centre=centre,
        variance=np.broadcast_to(np.asarray(variance, dtype=np.float64), (pairs,)),
        scale=np.full(pairs, scale),
        degrees_of_freedom=np.inf,
        calibration=None,
        jackknife=None,
        groups=("all",),
        group=np.zeros(pairs, dtype=np.int64),
        unseen=empty,
        extrapolated=empty,
    )


def of_market(fitted: Fit, kinds: np.ndarray) -> tuple[pl.DataFrame, PriceDistribution]:
    factors = pl.DataFrame({"silhouette": kinds.astype(str)})
    seen = predict(fitted, factors)
    variance = seen["estimation_variance"].to_numpy()
    return factors, distribution(seen["log_price"].to_numpy(), variance, fitted.residual_scale)


def together(kinds: np.ndarray, seed: int = 1) -> tuple[JointPrices, PriceDistribution, float]:
    """Return the joint prices of pairs of these silhouettes, their own distributions, and the scale of a sale."""
    fitted, _ = market(np.random.default_rng(seed))
    factors, prices = of_market(fitted, kinds)
    return (
        joint_prices(fitted, factors, prices, {"all": np.arange(len(kinds))}),
        prices,
        fitted.residual_scale,
    )


@pytest.mark.parametrize("chance", CHANCES)
def test_one_pair_alone_has_its_own_band(chance: float) -> None:
    joint, prices, _ = together(np.array([3]))

    alone = float(np.exp(prices.quantile(chance)[0]))
    assert joint.quantile("all", chance) == pytest.approx(alone, abs=4 * joint.error("all", chance))


@pytest.mark.parametrize("chance", CHANCES)
def test_pairs_that_share_every_error_have_the_sum_of_their_bands(chance: float) -> None:
    """No scatter of single sales is left but the least; 40 pairs of one silhouette then move as one."""
    fitted, _ = market(np.random.default_rng(2))
    factors, plain = of_market(fitted, np.zeros(40, dtype=np.int64))
    prices = distribution(plain.centre, plain.variance, 1e-6)
    joint = joint_prices(fitted, factors, prices, {"all": np.arange(40)})

    sum_of_bands = float(np.exp(prices.quantile(chance)).sum())
    assert joint.quantile("all", chance) == pytest.approx(sum_of_bands, abs=4 * joint.error("all", chance))


@pytest.mark.parametrize("chance", CHANCES)
def test_independent_pairs_add_up_as_lognormals_do(chance: float) -> None:
    """The mean and variance of a lognormal: exp(m + s²/2), (exp(s²) - 1) exp(2m + s²); 400 of them are nearly Gaussian.

    Source: Johnson, Kotz & Balakrishnan (1994), Continuous Univariate Distributions 1, chapter 14 (from memory).
    """
    count, scale = 400, 0.3
    fitted, _ = market(np.random.default_rng(3))
    exact = replace(fitted, covariance=fitted.covariance.scaled(0.0))
    prices = distribution(np.full(count, 5.0), 0.0, scale)
    factors = pl.DataFrame({"silhouette": ["0"] * count})
    joint = joint_prices(exact, factors, prices, {"all": np.arange(count)})

    mean = count * np.exp(5 + scale**2 / 2)
    spread = np.sqrt(count * np.expm1(scale**2)) * np.exp(5 + scale**2 / 2)
    skew = (np.exp(scale**2) + 2) * np.sqrt(np.expm1(scale**2)) / np.sqrt(count)
    place = stats.norm.ppf(chance)
    cornish_fisher = mean + spread * (place + skew / 6 * (place**2 - 1))
    assert joint.quantile("all", chance) == pytest.approx(cornish_fisher, abs=4 * joint.error("all", chance))


def test_shared_errors_have_the_covariance_of_the_fit() -> None:
    """Of two silhouettes: the variances of `predict`, and var(a - b) from the coefficients' own covariance."""
    fitted, _ = market(np.random.default_rng(4))
    factors = pl.DataFrame({"silhouette": ["0", "1", "new", "new"]})
    errors = SharedErrors(fitted, factors, apart={}).draw(np.random.default_rng(5), 200_000)

    expected = predict(fitted, factors)["estimation_variance"].to_numpy()
    assert np.var(errors, axis=1) == pytest.approx(expected, rel=0.02)
    positions = fitted.layout.positions[[fitted.design.factors[0].start, fitted.design.factors[0].start + 1]]
    both = fitted.covariance.taken(positions)
    assert np.var(errors[0] - errors[1]) == pytest.approx(both[0, 0] + both[1, 1] - 2 * both[0, 1], rel=0.02)
    assert errors[2] == pytest.approx(errors[3])


def test_what_is_not_known_of_two_pairs_is_not_shared() -> None:
    """An unseen silhouette is the same for both; one that is not stated may be another for each."""
    fitted, _ = market(np.random.default_rng(7))
    factors = pl.DataFrame({"silhouette": ["(not stated)", "(not stated)", None, None, "new", "new"]})
    shared = SharedErrors(fitted, factors, apart={"silhouette": "(not stated)"})
    errors = shared.draw(np.random.default_rng(8), 50_000)

    together = np.corrcoef(errors)[[0, 2, 4], [1, 3, 5]]
    level = fitted.covariance.diagonal()[0] / np.var(errors[0])
    assert together == pytest.approx([level, level, 1.0], abs=0.02)


def moving_market(draws: np.random.Generator) -> tuple[Fit, Callable[[pl.DataFrame], np.ndarray]]:
    """Return a fit of sales of three years at four venues in a level that walks, and the truth (log price) of pairs."""
    silhouettes = draws.normal(0, BETWEEN, SILHOUETTES)
    venues = draws.normal(0, 0.1, len(VENUES))
    eras = draws.normal(0, 0.4, 3)
    level = 5 + np.cumsum(draws.normal(0, STEP, MONTHS + max(AFTER) + 1))

    def worth(pairs: pl.DataFrame) -> np.ndarray:
        of_venue = pairs["venue"].replace_strict(VENUES, range(len(VENUES)), return_dtype=pl.Int64)
        return (
            silhouettes[pairs["silhouette"].cast(pl.Int64)]
            + eras[pairs["era"].cast(pl.Int64)]
            + venues[of_venue]
            + level[pairs["month"]]
        )

    sales = pairs_drawn(draws, MOVING_SALES, draws.integers(0, MONTHS, MOVING_SALES))
    price = worth(sales) + WITHIN * draws.standard_normal(sales.height)
    terms = (
        Term("silhouette", "pooled", ("silhouette",), spread=0.2),
        Term("era", "level", ("era",)),
        Term("venue", "pooled", ("venue",)),
        Term("month", "walk", ("month",)),
    )
    return fit(sales.with_columns(log_price=price), Specification("log_price", terms)), worth


def pairs_drawn(draws: np.random.Generator, count: int, months: np.ndarray | int) -> pl.DataFrame:
    columns = {
        "silhouette": draws.integers(0, SILHOUETTES, count).astype(str),
        "era": draws.integers(0, 3, count).astype(str),
        "venue": draws.choice(VENUES, count),
        "month": np.broadcast_to(np.asarray(months), (count,)),
    }
    return pl.DataFrame(columns)


@cache
def portfolios() -> pl.DataFrame:
    """Return portfolios drawn from the truth of markets: whether the joint band, its low figure and the sum held."""
    draws = np.random.default_rng(6)
    rows = []
    for _ in range(MARKETS):
        fitted, worth = moving_market(draws)
        for after in AFTER:
            for size in SIZES:
                pairs = pairs_drawn(draws, size, MONTHS - 1 + after)
                brought = float(np.exp(worth(pairs) + WITHIN * draws.standard_normal(size)).sum())
                factors = pairs.with_columns(venue=pl.lit(ANY_VENUE))
                seen = predict(fitted, factors)
                prices = distribution(
                    seen["log_price"].to_numpy(),
                    seen["estimation_variance"].to_numpy(),
                    fitted.residual_scale,
                )
                joint = joint_prices(fitted, factors, prices, {"all": np.arange(size)}, most_draws=1_000)
                low, high = (joint.quantile("all", chance) for chance in (0.1, 0.9))
                summed = [float(np.exp(prices.quantile(chance)).sum()) for chance in (0.1, 0.9)]
                rows.append(
                    (
                        size,
                        after,
                        low <= brought <= high,
                        brought > joint.quantile("all", 0.05),
                        summed[0] <= brought <= summed[1],
                    )
                )
    return pl.DataFrame(rows, schema=["size", "after", "joint", "safe", "summed"], orient="row")


def share_held(chosen: pl.Expr, what: str) -> float:
    return float(portfolios().filter(chosen)[what].to_numpy().mean())


@pytest.mark.parametrize("size", SIZES)
def test_eight_in_ten_portfolios_bring_what_their_joint_band_says(size: int) -> None:
    held = share_held(pl.col("size") == size, "joint")

    assert held == pytest.approx(0.8, abs=0.03)


@pytest.mark.parametrize("after", AFTER)
def test_the_joint_band_holds_as_often_months_after_the_last_sale(after: int) -> None:
    """Portfolios of one market err together: no less than three standard errors of so many markets are allowed."""
    held = share_held(pl.col("after") == after, "joint")

    assert held == pytest.approx(0.8, abs=SAMPLING)


@pytest.mark.parametrize("size", SIZES)
def test_nineteen_in_twenty_portfolios_bring_more_than_the_low_figure(size: int) -> None:
    held = share_held(pl.col("size") == size, "safe")

    assert held == pytest.approx(0.95, abs=0.03)


def test_the_sum_of_single_bands_holds_nearly_every_large_portfolio() -> None:
    held = share_held(pl.col("size") == 100, "summed")

    assert held > 0.97


def test_the_same_pairs_bring_the_same_figures_every_time() -> None:
    kinds = np.array([0, 1, 2, 2])

    assert together(kinds)[0].quantile("all", 0.1) == together(kinds)[0].quantile("all", 0.1)
