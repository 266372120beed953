"""Does the joint band of a stock hold? Portfolios of known markets, fitted and calibrated as `pairband fit` does it.

A market: the demo's pairs, with a truth drawn for it alone: silhouettes, colourways, eras, boxes, tags, venues, the
slope of the grade, a level that walks at random, Student-t errors (5 df). Its 400 sales are fitted; portfolios are
valued at no venue in particular, some months after the last sale, and sold at the truth: each pair at a venue drawn
from those of the sales, or all at one of them. Nothing here is a real price.

Run: OPENBLAS_NUM_THREADS=1 python -m tests.bench.bench_joint [markets]
"""

import sys
from collections import defaultdict
from collections.abc import Callable

import numpy as np
import polars as pl

from pipeline.market.joint_price import joint_prices
from pipeline.market.model import ANY_VENUE
from pipeline.market.price_distribution import price_distribution
from pipeline.schema import FACTORS
from sample_data.generator import draw_sales
from tests.drawn import fitted_to, priced

SALES, TAILS, SCATTER, STEP, LONGEST = 400, 5, 0.2, 0.02, 13
AFTER = (0, 3, 12)
SIZES = (5, 25, 100)
SPREADS = {
    ("silhouette",): 0.3,
    ("silhouette", "colourway"): 0.1,
    ("era",): 0.35,
    ("era", "silhouette"): 0.08,
    ("box",): 0.08,
    ("tags",): 0.05,
    ("venue",): 0.08,
}
"""How widely the levels of the attributes differ, in log price."""

Truth = Callable[[pl.DataFrame], np.ndarray]


def draw_truth(draws: np.random.Generator, first_month: int, months: int) -> Truth:
    """Return what pairs are truly worth in one market (log price, without the scatter of a sale)."""
    effects = {
        columns: defaultdict(lambda s=spread: draws.normal(0, s)) for columns, spread in SPREADS.items()
    }
    level = np.cumsum(draws.normal(0, STEP, months))
    slope = draws.uniform(0.08, 0.14)

    def worth(pairs: pl.DataFrame) -> np.ndarray:
        of_grade = slope * (pairs["grade"].fill_null(7).to_numpy() - 7)
        of_levels = [
            [effects[columns][cell] for cell in pairs.select(columns).iter_rows()] for columns in SPREADS
        ]
        return 5.5 + level[pairs["month"].to_numpy() - first_month] + of_grade + np.sum(of_levels, axis=0)

    return worth


def try_market(seed: int) -> list[tuple[int, int, str, bool, bool, bool, float]]:
    """Return one row a portfolio: pairs, months after, where sold, whether joint band, low figure, sum held; single."""
    draws = np.random.default_rng([20261126, seed])
    sales = priced(draw_sales(SALES, seed=seed))
    first, last = int(sales["month"].min()), int(sales["month"].max())
    worth = draw_truth(draws, first, last - first + LONGEST)
    price = worth(sales) + SCATTER * draws.standard_t(TAILS, SALES)
    sales = sales.with_columns(log_price=pl.Series(price), price_paid=pl.Series(np.exp(price)))
    fitted = fitted_to(sales)
    rows = []
    for after in AFTER:
        for size in SIZES:
            pairs = sales[draws.integers(0, SALES, size)].with_columns(month=pl.lit(last + after, pl.Int32))
            factors = pairs.with_columns(venue=pl.lit(ANY_VENUE)).select(*FACTORS)
            prices = price_distribution(fitted, factors)
            joint = joint_prices(fitted.fit, factors, prices, {"all": np.arange(size)}, most_draws=2_000)
            low, high, safe = (joint.quantile("all", chance) for chance in (0.1, 0.9, 0.05))
            ends = [np.exp(prices.quantile(chance)) for chance in (0.1, 0.9)]
            venues = sales["venue"].gather(draws.integers(0, SALES, size))
            scatter = SCATTER * draws.standard_t(TAILS, size)
            for where, sold_at in (("each", venues), ("one", pl.repeat(venues[0], size, eager=True))):
                brought = np.exp(worth(pairs.with_columns(venue=sold_at)) + scatter)
                total = float(brought.sum())
                rows.append(
                    (
                        size,
                        after,
                        where,
                        low <= total <= high,
                        total > safe,
                        float(ends[0].sum()) <= total <= float(ends[1].sum()),
                        float(np.mean((ends[0] <= brought) & (brought <= ends[1]))),
                    )
                )
    return rows


def main(markets: int) -> None:
    """Print how often the bands held."""
    rows = [row for seed in range(markets) for row in try_market(seed)]
    tried = pl.DataFrame(
        rows, schema=["pairs", "months after", "sold at", "joint", "low", "sum", "single"], orient="row"
    )
    held = [pl.col(name).mean().round(3) for name in ("joint", "low", "sum", "single")]
    with pl.Config(tbl_rows=-1, tbl_cols=-1, tbl_hide_column_data_types=True):
        print(f"{markets} markets; wanted: joint 0.80, low 0.95, sum nearly 1, single 0.80")
        print(tried.group_by("sold at", "pairs").agg(held).sort("sold at", "pairs"))
        print(tried.group_by("sold at", "months after").agg(held).sort("sold at", "months after"))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
