"""The pairs of a stock list: those of a file, or those of the latest lists in the ledger."""

from dataclasses import dataclass
from datetime import date
from pathlib import Path

import polars as pl

from pipeline import formats
from pipeline.answers.appraisal.run import read_pairs
from pipeline.errors import PairError
from pipeline.ingest.lots import in_usual_system, with_sizes_unread
from pipeline.ingest.size_charts import size_charts
from pipeline.schema import STOCK_LISTING
from pipeline.untrusted import show_words
from pipeline.workspace import Workspace

OLD_DAYS = 30
"""Days after which a list is said to be old: what was bought, sold or priced since is not in it."""


@dataclass(frozen=True)
class Listed:
    """The pairs of stock lists as they are read, and what is to be said of the lists.

    `records` has row_number, the columns of a sale record and of a stock list, size_assumed, unread, and of pairs of
    the ledger map_name, file_name and listed_on, the day that their list is of (null of a file). `earlier` are the
    pairs of earlier lists: stock_ref and bought_on. `gone` are the stock numbers of the list before that are in none.
    """

    records: pl.DataFrame
    earlier: pl.DataFrame
    gone: pl.DataFrame
    notes: tuple[str, ...]


def listed_pairs(workspace: Workspace, file: Path | None, *, as_of: date) -> Listed:
    """Return the pairs of a stock list, or without a file those of the latest list of each map in the ledger.

    Raises PairError where the ledger has no list of the day or before, or a row of the file cannot be read.
    """
    if file is None:
        return _of_ledger(workspace, as_of=as_of)
    records, notes = read_pairs(file, workspace.market, as_of=as_of)
    missing = [one for one in STOCK_LISTING if one.name not in records.columns]
    beside = records.with_columns(
        *(pl.lit(None, one.dtype).alias(one.name) for one in missing),
        listed_on=pl.lit(None, pl.Date),
        map_name=pl.lit("", pl.String),
        file_name=pl.lit(file.name),
    )
    nothing = beside.select("stock_ref", "bought_on").clear()
    return Listed(beside, nothing, nothing, notes)


def has_stock(workspace: Workspace, *, as_of: date) -> bool:
    """Whether the ledger has a stock list of the day or before."""
    return workspace.ledger.read("marts/lists_now", as_of=as_of).height > 0


def _of_ledger(workspace: Workspace, *, as_of: date) -> Listed:
    market = workspace.market
    lists = workspace.ledger.read("marts/lists_now", as_of=as_of)
    known = lists.filter(pl.col("map_name").is_in(list(market.maps)))
    if known.is_empty():
        raise PairError(
            f"the ledger has no stock list of {formats.day(as_of)} or before",
            '`pairband ingest FILE` keeps one (a map with holds = "stock"), or name the file.',
        )
    rows = workspace.ledger.read("marts/listed_pairs", as_of=as_of, numbers=None)
    latest = rows.join(known, on=["map_name", "listed_on"], how="semi", maintain_order="left")
    before = rows.join(
        known, left_on=["map_name", "listed_on"], right_on=["map_name", "before_on"], how="semi"
    )
    earlier = rows.join(known, on=["map_name", "listed_on"], how="anti").select("stock_ref", "bought_on")
    here = latest.drop_nulls("stock_ref").select("stock_ref")
    return Listed(
        with_sizes_unread(in_usual_system(latest, market.sizes.usual, size_charts(market))),
        earlier.drop_nulls().unique().sort("stock_ref", "bought_on"),
        before.drop_nulls("stock_ref")
        .join(here, on="stock_ref", how="anti")
        .select("stock_ref", "bought_on")
        .unique()
        .sort("stock_ref", "bought_on"),
        _notes(lists, known, as_of),
    )


def _notes(lists: pl.DataFrame, known: pl.DataFrame, as_of: date) -> tuple[str, ...]:
    """Return what is to be said of the lists themselves."""
    notes = []
    for row in known.iter_rows(named=True):
        name, day = show_words(row["file_name"], 60), formats.day(row["listed_on"])
        age = (as_of - row["listed_on"]).days
        if age > OLD_DAYS:
            notes.append(
                f"The list {name} is of {day}, {age} days before: what was bought or priced since is not in it."
            )
        if row["refused"]:
            rows = formats.counted(row["refused"], "row")
            notes.append(
                f"{rows} of {name} could not be read (`pairband quarantine`): no part of the stock below."
            )
    for row in lists.join(known, on="map_name", how="anti").iter_rows(named=True):
        notes.append(
            f"The list {show_words(row['file_name'], 60)} of {formats.day(row['listed_on'])} is left out: the market "
            f"file has no map {row['map_name']!r} any more. Read it again by the map that it has now."
        )
    return tuple(notes)
