"""Draw sales whose every effect is known: a few thousand for the demo, ten million for benchmarks."""

from pathlib import Path

import numpy as np
import polars as pl
import pyarrow.parquet as pq

from sample_data import scenario
from sample_data.pairs import Draws, draw_pairs, pick
from sample_data.prices import draw_residuals, true_log_prices

CHUNK = 500_000


def draw_sales(n: int, *, seed: int, part: int = 0) -> pl.DataFrame:
    """Return `n` clean sales of the scenario, the same for the same seed and part.

    Columns: venue, sold_on, those of `pairs.draw_pairs`, and price_paid (EUR, all-in, Float64). Nothing
    is unknown, wrong or rounded here. `part` numbers the pieces of one longer draw.
    """
    draws = np.random.Generator(np.random.PCG64([seed, part]))
    sales = draw_unpriced(n, draws)
    fair = true_log_prices(sales, day="sold_on").to_numpy()
    return sales.with_columns(
        pl.Series("price_paid", np.exp(fair + draw_residuals(sales["grade"], draws))),
    )


def draw_unpriced(n: int, draws: Draws) -> pl.DataFrame:
    """Return `n` pairs, each with the venue and the day of its sale, without a price."""
    venues = pl.Series("venue", list(scenario.VENUE_SHARES))[
        pick(list(scenario.VENUE_SHARES.values()), n, draws)
    ]
    days = draw_days(venues, draws)
    return pl.DataFrame([venues, days]).hstack(draw_pairs(days, draws))


def draw_days(venues: pl.Series, draws: Draws) -> pl.Series:
    """Return a day of sale for each venue: more sales every year, auctions on their weekday only."""
    starts = pl.date_range(scenario.FIRST_DAY, scenario.LAST_DAY, "1mo", eager=True)
    months = pick([0.6 + month / scenario.MONTHS for month in range(scenario.MONTHS)], len(venues), draws)
    lengths = starts.dt.days_in_month().to_numpy()[months]
    return (
        pl.DataFrame(
            {"venue": venues, "first": starts[months], "within": draws.random(len(venues)) * lengths}
        )
        .with_columns(any_day=pl.col("first") + pl.duration(days=pl.col("within").floor().cast(pl.Int32)))
        .select(sold_on=on_sale_day("any_day"))
        .to_series()
    )


def on_sale_day(day: str) -> pl.Expr:
    """Move the column `day` to the weekday of the row's auction house, within its month.

    Where the row's venue is no auction house, the day stays.
    """
    weekday = pl.col("venue").replace_strict(scenario.AUCTION_WEEKDAY, default=None, return_dtype=pl.Int8)
    back = (pl.col(day).dt.weekday() - weekday) % 7
    earlier = pl.col(day) - pl.duration(days=back)
    same_month = earlier.dt.month() == pl.col(day).dt.month()
    moved = pl.when(same_month).then(earlier).otherwise(earlier + pl.duration(days=7))
    return pl.when(weekday.is_null()).then(pl.col(day)).otherwise(moved)


def write_parquet(path: Path, n: int, *, seed: int, chunk: int = CHUNK) -> None:
    """Write `n` drawn sales to one Parquet file, a chunk at a time, so that memory does not grow with n.

    The chunks are the parts 0, 1, … of the seed: `n` and `chunk` alike give the same file.
    """
    writer: pq.ParquetWriter | None = None
    for part, start in enumerate(range(0, n, chunk)):
        table = draw_sales(min(chunk, n - start), seed=seed, part=part).to_arrow()
        if writer is None:
            writer = pq.ParquetWriter(path, table.schema, compression="zstd")
        writer.write_table(table)
    if writer is not None:
        writer.close()
