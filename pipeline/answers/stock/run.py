"""Value the stock with the latest fit; pairs that were sold since they were bought are set apart."""

from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import polars as pl

from pipeline import formats
from pipeline.answers.appraisal.cautions import fit_cautions, many_weak, stale_cautions, weak_ones
from pipeline.answers.consignment.answer import RECENT_DAYS
from pipeline.answers.era_odds.run import eras_of_list
from pipeline.answers.lots.run import odds_cautions, unread_cells, usual_sizes, without_eras
from pipeline.answers.outcomes.profit import COST_OF_RECORD, account_for
from pipeline.answers.stock.answer import Stock, value_pairs_of_stock
from pipeline.answers.stock.cautions import MONEY_FIELDS, gone_cautions, list_cautions
from pipeline.answers.stock.history import Sources, pair_events
from pipeline.answers.stock.listed import Listed, listed_pairs
from pipeline.answers.stock.sold import DOUBTFUL, HERE, SOLD, with_sales
from pipeline.config import Market
from pipeline.ingest.money import market_rates
from pipeline.ingest.rates import rates_of
from pipeline.market.model import pair_factors
from pipeline.market.subject import pairs_of_records
from pipeline.pictures.album import Album
from pipeline.pictures.photograph import Photograph
from pipeline.workspace import Workspace

THUMBNAIL = 120
"""Pixels of the longer side of a photograph in a list: sharp on a fine screen at half of that."""

FROM_LIST = (
    *("row_number", "stock_ref", "maker", "colourway", "era", "grade"),
    *("offered_at", "listed_on", "file_name"),
)
"""What the answer takes of a listed pair as it stands."""


def value_stock(
    workspace: Workspace, file: Path | None, *, as_of: date, by: str, by_odds: bool | None = None
) -> Stock:
    """Value the pairs of a stock list, or without a file those of the ledger, summed by the attribute `by`.

    `by_odds` says whether pairs whose era nobody states are valued by the odds of the eras, learned from the records;
    left out, as the market file says.
    """
    market, fitted, stale = workspace.market, workspace.fitted, workspace.stale
    listed, sales, beside = _beside_sales(workspace, file, as_of)
    records = listed.records
    rates = {market.base_currency: 1.0, **workspace.rates_on(as_of)}
    here, left, doubtful = (beside.filter(pl.col("state") == state) for state in (HERE, SOLD, DOUBTFUL))
    is_here = beside["state"] == HERE
    still_here = records.filter(is_here)
    asked = market.era_odds.in_lists if by_odds is None else by_odds
    doubt = eras_of_list(workspace, still_here, as_of=as_of) if asked else None
    pairs, whole, groups = value_pairs_of_stock(
        here,
        pair_factors(pairs_of_records(still_here), as_of=as_of),
        fitted,
        market,
        workspace.sales.filter(pl.col("sold_on") <= as_of),
        rates,
        _active_venues(workspace, rates, as_of),
        as_of=as_of,
        by=by,
        doubt=doubt,
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
        pairs=pairs,
        sold=_accounts(left, market),
        doubtful=doubtful.select(
            "stock_ref", "silhouette", "colourway", "venue", "sold_on", "price_paid", "why"
        ),
        listed_on=records["listed_on"].max() if file is None else None,  # type: ignore[arg-type]
        whole=whole,
        groups=groups,
        cautions=(
            *(caution.words for caution in warned),
            *list_cautions(beside, records, market.base_currency, as_of=as_of),
            *gone_cautions(listed.gone, sales),
            *listed.notes,
            *usual_sizes(records),
            *unread_cells(
                _of_value(
                    records
                    if doubt is None
                    else without_eras(records, is_here.arg_true().to_numpy().astype(np.int64)[doubt.rows])
                )
            ),
            *odds_cautions(still_here, doubt),
        ),
        source=fitted.source,
        weak=weak_ones(warned),
        pictures=tuple(tuple(names or ()) for names in still_here["pictures"]),
    )


def _accounts(sold: pl.DataFrame, market: Market) -> pl.DataFrame:
    """Return what the sold pairs have left, as `pairband outcomes` accounts for each."""
    stated = sold.drop("cost", "work", "why").with_columns(bought_on="since")
    accounts = account_for(stated, market, market_rates(market))
    return accounts.select(
        *("stock_ref", "silhouette", "colourway", "venue", "sold_on", "price_paid"),
        pl.col("net", "cost", "work", "profit").cast(pl.Float64),
        "days_held",
    )


def records_here(workspace: Workspace, file: Path | None, *, as_of: date) -> pl.DataFrame:
    """Return the pairs that are still there of a stock list, or without a file of the ledger, as they were read.

    They are in the order of `Stock.pairs`.
    """
    listed, _, beside = _beside_sales(workspace, file, as_of)
    return listed.records.filter(beside["state"] == HERE)


def pair_histories(workspace: Workspace, numbers: Sequence[str], *, as_of: date) -> pl.DataFrame:
    """Return the events up to a day of the pairs of these stock numbers (see `pair_events`)."""
    ledger, asked = workspace.ledger, {"numbers": list(numbers), "as_of": as_of}
    offers = ledger.read("marts/pair_offers", **asked)
    sources = Sources(
        listings=ledger.read("marts/listed_pairs", **asked),
        days=ledger.read("marts/days_of_lists", as_of=as_of),
        offers=offers,
        reversals=ledger.read("marts/pair_reversals", record_ids=offers["record_id"].to_list()),
        values=ledger.read("outcomes/values_of_pairs", **asked),
    )
    return pair_events(sources, base=workspace.market.base_currency)


def stock_histories(workspace: Workspace, stock: Stock) -> pl.DataFrame:
    """Return the events up to the day of valuation of the pairs of a stock, sold ones as well."""
    listed = (stock.pairs, stock.doubtful, stock.sold)
    numbers = pl.concat(one["stock_ref"] for one in listed).drop_nulls().unique().sort()
    return pair_histories(workspace, numbers.to_list(), as_of=stock.as_of)


def _beside_sales(
    workspace: Workspace, file: Path | None, as_of: date
) -> tuple[Listed, pl.DataFrame, pl.DataFrame]:
    """Return the listed pairs, the sales by stock number, and each pair beside its sale."""
    listed = listed_pairs(workspace, file, as_of=as_of)
    sales = workspace.ledger.read("marts/stock_sales", as_of=as_of)
    beside = with_sales(_listed(listed.records, workspace.market, as_of), listed.earlier, sales)
    return listed, sales, beside


def thumbnails(stock: Stock, album: Album) -> tuple[Photograph | None, ...]:
    """Return the first photograph of each pair, small, as a list shows it; None for one without."""
    return tuple(
        next(iter(album.photographs_of(number or "", names, longest=THUMBNAIL, most=1)), None)
        for number, names in zip(stock.pairs["stock_ref"], stock.pictures, strict=True)
    )


def _of_value(records: pl.DataFrame) -> pl.DataFrame:
    """Return the records with those of their unread cells that bear on a value; the others are said otherwise."""
    is_of_value = ~pl.element().struct.field("field").is_in(list(MONEY_FIELDS))
    return records.with_columns(pl.col("unread").list.filter(is_of_value))


def _listed(records: pl.DataFrame, market: Market, as_of: date) -> pl.DataFrame:
    """Return the pairs of a list with what only the list says of them; money in the base currency.

    What a pair has cost is at the rate of the day on which it was bought, all else at that of the day of valuation.
    """
    known = records.select(
        *FROM_LIST,
        silhouette=pl.coalesce("silhouette", "title"),
        since="bought_on",
        asked_until="closed_on",
    ).with_columns(records.select(*COST_OF_RECORD))
    bought = pl.min_horizontal(pl.coalesce("bought_on", pl.lit(as_of)), pl.lit(as_of))
    amounts = {
        "cost": ("price_native", "cost_currency", bought),
        "work": ("work_paid", "work_currency", pl.lit(as_of)),
        "ask": ("ask_native", "ask_currency", pl.lit(as_of)),
    }
    return known.with_columns(
        in_base(records, amount, currency, day, market).alias(name)
        for name, (amount, currency, day) in amounts.items()
    )


def in_base(records: pl.DataFrame, amount: str, currency: str, day: pl.Expr, market: Market) -> pl.Series:
    """Return an amount of each record in the base currency, at the last rate known on a day; null without a rate."""
    keys = records.select(currency=currency, day=day)
    return records[amount].cast(pl.Float64) / rates_of(keys, market_rates(market), base=market.base_currency)


def _active_venues(workspace: Workspace, rates: dict[str, float], as_of: date) -> list[str]:
    """Return the venues of the market file that made a sale in the last year, and whose currency has a rate."""
    made = workspace.ledger.read("marts/venue_sales", as_of=as_of)
    since = as_of - timedelta(days=RECENT_DAYS)
    active = set(made.filter(pl.col("last_sold_on") >= since)["venue"])
    return [
        venue.name for venue in workspace.market.venues if venue.name in active and venue.currency in rates
    ]
