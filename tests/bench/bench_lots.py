"""How long 100,000 lots take to be valued and ranked, once the market is fitted.

`python -m tests.bench.bench_lots` prints wall and processor time; at most 3 s on 2 cores with nothing else to do.
"""

import time
from datetime import date

import polars as pl

from pipeline.answers.lots.answer import Terms, value_lots
from sample_data import scenario
from sample_data.generator import draw_sales
from tests.drawn import fitted, sales, scenario_market

AS_OF = date(2026, 10, 1)
LOTS = 100_000
RUNS = 4
RATES = {"EUR": 1.0, "GBP": 0.86, "JPY": 158.0}


def drawn_lots(count: int, seed: int) -> pl.DataFrame:
    """Return so many upcoming lots at the two houses, in the columns that `value_lots` reads."""
    houses = list(scenario.AUCTION_WEEKDAY)
    drawn = draw_sales(count, seed=seed).with_row_index("row_number", offset=2)
    house = pl.when(pl.col("row_number") % 2 == 0).then(pl.lit(houses[0])).otherwise(pl.lit(houses[1]))
    yen = pl.col("venue") == scenario.UMIKAZE
    amount = (pl.col("price_paid") * pl.when(yen).then(RATES["JPY"]).otherwise(1.0) * 0.6).round()
    return drawn.with_columns(venue=house).with_columns(
        pl.col("row_number").cast(pl.Int64),
        sale_ref=pl.lit("S1"),
        lot_ref=pl.col("row_number").cast(pl.String),
        title=pl.col("silhouette"),
        closed_on=pl.lit(AS_OF) + pl.duration(days=pl.col("row_number") % 60 + 1),
        currency=pl.when(yen).then(pl.lit("JPY")).otherwise(pl.lit("EUR")),
        price_native=amount.cast(pl.Decimal(18, 4)),
        ask_native=(amount * 1.3).round().cast(pl.Decimal(18, 4)),
        foot_mm=pl.col("foot_mm").cast(pl.Int32),
        flags=pl.lit([], dtype=pl.List(pl.String)),
        silhouette_origin=pl.lit("stated"),
        era_origin=pl.lit("stated"),
    )


def main() -> None:
    market = fitted(4600, 11)
    known = sales(4600, 11)
    lots = drawn_lots(LOTS, seed=3)
    terms = Terms(margin=0.2, confidence=0.8, sells_at=scenario.COUNTER, costs=6.0)
    value_lots(lots.head(100), market, scenario_market(), known, RATES, terms, as_of=AS_OF)
    for _ in range(RUNS):
        wall, processor = time.perf_counter(), time.process_time()
        valued = value_lots(lots, market, scenario_market(), known, RATES, terms, as_of=AS_OF)
        wall, processor = time.perf_counter() - wall, time.process_time() - processor
        print(f"{valued.height:,} lots valued and ranked: {wall:.2f} s wall, {processor:.2f} s processor")
    print(valued["verdict"].value_counts())


if __name__ == "__main__":
    main()
