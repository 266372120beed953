"""Drawn sales whose titles say more than their fields, each thing with what it is worth."""

from collections.abc import Mapping

import numpy as np
import polars as pl

from tests.drawn import sales


def saying(
    worth: Mapping[str, tuple[float, float]], *, count: int = 1500, seed: int = 11, chance: int = 3
) -> pl.DataFrame:
    """Return so many drawn sales, a share of which say each phrase, which adds to their log price.

    `worth` gives that share and what is added by phrase. `seed` draws the sales, `chance` which of them say what.
    """
    random = np.random.default_rng(chance)
    frame = sales(count, seed)
    said = {phrase: random.random(count) < share for phrase, (share, _) in worth.items()}
    added = sum((effect * said[phrase] for phrase, (_, effect) in worth.items()), np.zeros(count))
    pieces = [
        pl.when(pl.Series(says)).then(pl.lit(f", {phrase}")).otherwise(pl.lit(""))
        for phrase, says in said.items()
    ]
    log_price = pl.col("log_price") + pl.Series(added)
    return frame.with_columns(
        title=pl.concat_str("title", *pieces, pl.lit(", with tags")),
        log_price=log_price,
        price_paid=log_price.exp(),
    )


def titles_sold(*titles: str, each: int = 12, venues: int = 3) -> pl.DataFrame:
    """Return sales with titles, each so many times, on a day each, at so many venues in turn."""
    rows = [title for title in titles for _ in range(each)]
    number = pl.int_range(len(rows))
    return pl.DataFrame({"title": rows}, schema={"title": pl.String}).with_columns(
        record_id=number.cast(pl.String).str.zfill(4),
        venue=pl.format("House {}", number % venues),
        sold_on=pl.date(2024, 1, 1) + pl.duration(days=number % 300),
    )
