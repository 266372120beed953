"""Past lots drawn from the demo's known truth, and the bidding rule tried on them."""

from datetime import date
from decimal import Decimal
from functools import cache

import polars as pl

from pipeline.decisions.backtest import Backtest, backtest_lots
from pipeline.decisions.fitted_market import FittedMarket
from pipeline.decisions.lots import Terms
from pipeline.decisions.market_model import specification
from pipeline.decisions.recipe import market_recipe
from pipeline.fees import hammer_column
from pipeline.hedonic.fit import fit
from pipeline.hedonic.neighbours import UNUSED
from pipeline.hedonic.residuals import residuals
from pipeline.hedonic.scatter import fit_scatter
from pipeline.hedonic.threads import one_blas_thread
from sample_data import scenario
from tests.drawn import sales

RULE = Terms(margin=0.2, confidence=0.8, sells_at=scenario.COUNTER, costs=6.0)
NO_PAIRS = pl.DataFrame(schema={"record_id": pl.String, "other_id": pl.String})


def fitted_plainly(frame: pl.DataFrame) -> FittedMarket:
    """Return the market fitted to priced sales, without the rolling origins of a calibration."""
    ordered, market = frame.sort("record_id"), scenario.market()
    with one_blas_thread():
        recipe = market_recipe(market, specification(market, ordered))
        estimated = fit(ordered, recipe.specify(ordered), robust=recipe.robust, prior=recipe.prior)
        scatter = fit_scatter(estimated, ordered, residuals(estimated, ordered), recipe.scatter)
    return FittedMarket(
        fit=estimated,
        scatter=scatter,
        calibration=None,
        uncalibrated="The band is uncalibrated.",
        second_stage=UNUSED,
        fit_id="drawn",
        fitted_on=date(2026, 10, 1),
        currency=market.base_currency,
        records=ordered.height,
        first_sale=date(2017, 10, 1),
        last_sale=date(2026, 9, 30),
        market_digest="drawn",
        records_digest="drawn",
        version="test",
    )


def knocked_down(frame: pl.DataFrame) -> pl.DataFrame:
    """Return the sales at the house that takes euros, with the hammer prices behind what was paid."""
    lots = frame.filter(pl.col("venue") == scenario.HOLM)
    prices = lots.select(
        "venue",
        day="sold_on",
        currency=pl.lit("EUR"),
        price=pl.col("price_paid").round(2).cast(pl.Decimal(18, 4)),
    )
    hammers = hammer_column(prices, scenario.market(), basis="all-in")["hammer"]
    return lots.with_columns(hammer=hammers, rate=pl.lit(1.0), resale_rate=pl.lit(1.0)).filter(
        pl.col("hammer") > Decimal(0)
    )


@cache
def drawn_backtest(count: int = 1200, seed: int = 11, terms: Terms = RULE) -> Backtest:
    """Return the rule tried on the lots of so many drawn sales."""
    frame = sales(count, seed)
    return backtest_lots(
        frame, knocked_down(frame), NO_PAIRS, fitted_plainly(frame), scenario.market(), terms
    )
