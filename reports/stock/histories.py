"""The histories of the pairs of a stock, each folded under its stock number."""

from dataclasses import dataclass

import polars as pl

from pipeline import formats
from pipeline.answers.stock.answer import Stock
from pipeline.answers.stock.history import BOUGHT, LISTED
from pipeline.answers.stock.tables import history_table
from pipeline.untrusted import show_words
from reports.page import Table

MOST_HISTORIES = 200
"""The most histories on a page, those with the latest events; `pairband records NUMBER` shows any."""


@dataclass(frozen=True)
class History:
    """The history of one pair: its number and name, how much happened, and the table of it."""

    number: str
    pair: str
    summary: str
    table: Table


@dataclass(frozen=True)
class Histories:
    """The histories that a page shows, and what is to be said of those that it does not."""

    shown: tuple[History, ...]
    note: str


def shown_histories(stock: Stock, events: pl.DataFrame) -> Histories | None:
    """Return the histories of the pairs to which more happened than that they came in; None where there is none."""
    names = pl.concat(
        one.select("stock_ref", "silhouette", "colourway")
        for one in (stock.pairs, stock.doubtful, stock.sold)
    ).drop_nulls("stock_ref")
    eventful = (
        events.group_by("number")
        .agg(pl.len(), last=pl.col("day").max(), is_eventful=~pl.col("what").is_in([BOUGHT, LISTED]).all())
        .filter("is_eventful")
    )
    known = names.unique("stock_ref", keep="first", maintain_order=True).join(
        eventful, left_on="stock_ref", right_on="number", maintain_order="left"
    )
    latest = known.sort("last", descending=True, nulls_last=True).head(MOST_HISTORIES)
    chosen = known.join(latest.select("stock_ref"), on="stock_ref", how="semi", maintain_order="left")
    if chosen.is_empty():
        return None
    by_number = events.filter(pl.col("number").is_in(chosen["stock_ref"].implode())).partition_by(
        "number", as_dict=True
    )
    left = known.height - chosen.height
    return Histories(
        tuple(
            History(
                show_words(row["stock_ref"], 60),
                show_words(" ".join(filter(None, (row["silhouette"], row["colourway"]))), 80),
                f"{formats.counted(row['len'], 'event')}"
                + ("" if row["last"] is None else f", the last on {formats.day(row['last'])}"),
                Table.of(history_table(by_number[(row["stock_ref"],)], {})),
            )
            for row in chosen.iter_rows(named=True)
        ),
        "A pair that only came in is left out."
        + (f" So are {formats.count(left)} with older events: `pairband records NUMBER`." if left else ""),
    )
