"""Value a stock list with the latest fit; pairs that were sold since they came in are set apart."""

from datetime import date, timedelta
from pathlib import Path

import polars as pl

from pipeline import formats
from pipeline.album import Album
from pipeline.answers.appraisal.cautions import fit_cautions, many_weak, stale_cautions, weak_ones
from pipeline.answers.appraisal.run import read_pairs
from pipeline.answers.consignment.answer import RECENT_DAYS
from pipeline.answers.lots.run import unread_cells, usual_sizes
from pipeline.answers.stock.answer import Stock, value_pairs_of_stock
from pipeline.market.model import pair_factors
from pipeline.market.subject import pairs_of_records
from pipeline.photograph import Photograph
from pipeline.untrusted import show_words
from pipeline.workspace import Workspace

THUMBNAIL = 120
"""Pixels of the longer side of a photograph in a list: sharp on a fine screen at half of that."""

MOST_NAMED = 5
"""The most stock numbers that a caution names."""


def value_stock_file(workspace: Workspace, file: Path, *, as_of: date, by: str) -> Stock:
    """Value the pairs of a stock list (an export map with `holds` stock), summed by the attribute `by`."""
    market, fitted, stale = workspace.market, workspace.fitted, workspace.stale
    records, notes = read_pairs(file, market, as_of=as_of)
    rates = {market.base_currency: 1.0, **workspace.rates_on(as_of)}
    listed = _listed(records, rates)
    sales = workspace.ledger.read("marts/stock_sales", as_of=as_of)
    beside = listed.join(sales, on="stock_ref", how="left", maintain_order="left")
    was_sold, too_early = (
        pl.col("sold_on").is_not_null(),
        (pl.col("sold_on") < pl.col("since")).fill_null(value=False),
    )
    before, left = beside.filter(too_early), beside.filter(was_sold & ~too_early)
    here = beside.select(~was_sold | too_early).to_series()
    pairs, whole, groups = value_pairs_of_stock(
        listed.filter(here),
        pair_factors(pairs_of_records(records.filter(here)), as_of=as_of),
        fitted,
        market,
        workspace.sales.filter(pl.col("sold_on") <= as_of),
        rates,
        _active_venues(workspace, rates, as_of),
        as_of=as_of,
        by=by,
    )
    warned = (
        *stale_cautions(stale),
        *many_weak(pairs["weak"], formats.counted(pairs.height, "pair")),
        *fit_cautions(fitted, as_of),
    )
    return Stock(
        as_of=as_of,
        currency=market.base_currency,
        by=by,
        places=tuple(here.arg_true()),
        pairs=pairs,
        sold=left.select(
            *("stock_ref", "silhouette", "colourway", "venue", "sold_on", "price_paid", "net", "cost"),
            profit=pl.col("net") - pl.col("cost"),
            days_held=(pl.col("sold_on") - pl.col("since")).dt.total_days(),
        ),
        whole=whole,
        groups=groups,
        cautions=(
            *(caution.words for caution in warned),
            *_list_cautions(listed, before, records, market.base_currency),
            *notes,
            *usual_sizes(records),
            *unread_cells(records),
        ),
        source=fitted.source,
        weak=weak_ones(warned),
        pictures=tuple(tuple(names or ()) for names in records.filter(here)["pictures"]),
    )


def thumbnails(stock: Stock, album: Album) -> tuple[Photograph | None, ...]:
    """Return the first photograph of each pair, small, as a list shows it; None for one without."""
    return tuple(
        next(iter(album.photographs_of(number or "", names, longest=THUMBNAIL, most=1)), None)
        for number, names in zip(stock.pairs["stock_ref"], stock.pictures, strict=True)
    )


def _in_base(amount: str, rates: dict[str, float]) -> pl.Expr:
    rate = pl.col("currency").replace_strict(rates, default=None, return_dtype=pl.Float64)
    return pl.col(amount).cast(pl.Float64) / rate


def _listed(records: pl.DataFrame, rates: dict[str, float]) -> pl.DataFrame:
    """Return the pairs of a list with what only the list says of them; money in the base currency."""
    return records.select(
        *("row_number", "stock_ref", "maker", "colourway", "era", "grade"),
        silhouette=pl.coalesce("silhouette", "title"),
        since="offered_on",
        cost=_in_base("price_native", rates),
        ask=_in_base("ask_native", rates),
        currency="currency",
    )


def _active_venues(workspace: Workspace, rates: dict[str, float], as_of: date) -> list[str]:
    """Return the venues of the market file that made a sale in the last year, and whose currency has a rate."""
    made = workspace.ledger.read("marts/venue_sales", as_of=as_of)
    since = as_of - timedelta(days=RECENT_DAYS)
    active = set(made.filter(pl.col("last_sold_on") >= since)["venue"])
    return [
        venue.name for venue in workspace.market.venues if venue.name in active and venue.currency in rates
    ]


def _list_cautions(
    listed: pl.DataFrame, before: pl.DataFrame, records: pl.DataFrame, currency: str
) -> tuple[str, ...]:
    """Return what is odd in the list itself: nothing of it is guessed, and every row counts."""
    cautions = []
    numbers = listed.drop_nulls("stock_ref").group_by("stock_ref", maintain_order=True).agg("row_number")
    for number, rows in numbers.filter(pl.col("row_number").list.len() > 1).head(MOST_NAMED).iter_rows():
        places = ", ".join(map(str, rows))
        cautions.append(
            f"Stock number {show_words(number, 60)} stands twice (rows {places}): each row counts as a pair of its own."
        )
    if before.height:
        names = ", ".join(show_words(number, 60) for number in before["stock_ref"].head(MOST_NAMED))
        cautions.append(
            f"Sold before it came in: {names}. It counts as still there; correct its day in the list, or the sale."
        )
    unrated = records.filter(pl.col("price_native").is_not_null() & listed["cost"].is_null())
    if unrated.height:
        codes = ", ".join(sorted({str(code or "no currency") for code in unrated["currency"]}))
        cautions.append(
            f"The cost of {formats.counted(unrated.height, 'pair')} has no rate to {currency} ({codes}): left out."
        )
    return tuple(cautions)
