"""Past lots drawn from the demo's known truth, and the bidding rule tried on them."""

from decimal import Decimal
from functools import cache

import polars as pl

from pipeline.answers.backtest.answer import Backtest, backtest_lots
from pipeline.answers.lots.answer import Terms
from pipeline.fees import hammer_column
from sample_data import scenario
from tests.drawn import fitted_plainly, sales

RULE = Terms(margin=0.2, confidence=0.8, sells_at=scenario.COUNTER, costs=6.0)
NO_PAIRS = pl.DataFrame(schema={"record_id": pl.String, "other_id": pl.String})


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
