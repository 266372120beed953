"""What a silhouette that no record shows sells for: the band holds what it claims, however few are known."""

from functools import cache

import numpy as np
import polars as pl
import pytest

from pipeline.answers.appraisal.answer import appraise
from pipeline.answers.appraisal.appraisal import Appraisal
from pipeline.hedonic.bands import half_width
from pipeline.hedonic.distributions import normal_chance
from pipeline.hedonic.fit import fit
from pipeline.hedonic.predict import predict
from pipeline.hedonic.rows import new_level_variance
from pipeline.hedonic.specification import Specification, Term
from pipeline.market.pair import Pair
from tests import drawn
from tests.restorations import VALUED_ON

BETWEEN, WITHIN, SALES, MARKETS = 0.3, 0.2, 15, 400
"""The standard deviations that silhouettes and single sales are drawn with; sales of each; markets drawn."""

SAMPLING = 0.03
"""What a mean over so many markets may err by, three of its standard errors."""

COUNTS = (1, 2, 3, 8, 30)


@cache
def bands(silhouettes: int) -> tuple[float, float]:
    """Return (coverage, mean width over that of a known one) of 80 % bands for a silhouette that was never sold."""
    draws = np.random.default_rng(silhouettes)
    held, wider = [], []
    for _ in range(MARKETS):
        kind = np.repeat(np.arange(silhouettes), SALES)
        price = 5 + draws.normal(0, BETWEEN, silhouettes)[kind] + draws.normal(0, WITHIN, len(kind))
        frame = pl.DataFrame({"silhouette": kind.astype(str), "log_price": price})
        term = Term("silhouette", "pooled", ("silhouette",), spread=0.2)
        market = fit(frame, Specification("log_price", (term,)))
        seen = predict(market, pl.DataFrame({"silhouette": ["0", "new"]}))
        scale = np.full(2, market.residual_scale)
        known, half = half_width(seen["estimation_variance"].to_numpy(), scale, np.inf, 0.8)
        off, sd = seen["log_price"][1] - 5, np.hypot(BETWEEN, WITHIN)
        held.append(np.diff(normal_chance([(off - half) / sd, (off + half) / sd]))[0])
        wider.append(half / known)
    return float(np.mean(held)), float(np.mean(wider))


@pytest.mark.parametrize("silhouettes", COUNTS)
def test_eight_in_ten_sales_of_a_new_silhouette_lie_within_its_band(silhouettes: int) -> None:
    assert bands(silhouettes)[0] > 0.8 - SAMPLING


@pytest.mark.parametrize("silhouettes", COUNTS)
def test_the_band_of_a_new_silhouette_is_never_nearly_that_of_a_known_one(silhouettes: int) -> None:
    assert bands(silhouettes)[1] > 1.4


def test_the_variance_of_a_new_level_by_hand() -> None:
    """Of two levels: Student-t(2) with (0.2² + 0.1) / 2 = 0.07; its 90 % quantile is 0.8 / √(2 × 0.1 × 0.9) = 1.88562.

    The Gaussian's is 1.28155: 0.07 × (1.88562 / 1.28155)² = 0.151543; the mean errs by (0.151543 - 0.1) / 2 more.
    """
    assert new_level_variance(0.1, 2, 0.2) == pytest.approx(0.151543 + 0.025771, abs=2e-6)


def test_the_more_levels_are_seen_the_less_what_was_believed_counts() -> None:
    more = [new_level_variance(0.09, levels, 0.2) / 0.09 for levels in (2, 3, 8, 30, 300)]

    assert more == sorted(more, reverse=True)
    assert more[-1] == pytest.approx(1, abs=0.01)


def width(silhouette: str) -> float:
    sales = drawn.sales(1500, 11).filter(pl.col("silhouette") == "Gannet Hi")
    pair = Pair(silhouette=silhouette, colourway="Buoy Red", era="first", foot_mm=271, grade=8.0)
    found: Appraisal = appraise(
        pair,
        drawn.fitted_plainly(sales),
        drawn.scenario_market(),
        sales.filter(pl.col("silhouette") == silhouette),
        as_of=VALUED_ON,
    )
    return float(np.log(found.bands[1].high / found.bands[1].low))


def test_a_dealer_in_one_silhouette_gets_a_wide_band_for_another() -> None:
    assert width("Great Auk") > 1.5 * width("Gannet Hi")
