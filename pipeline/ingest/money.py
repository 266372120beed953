"""The price of an offer on every basis: as stated, all-in, net, and in the base currency."""

from collections.abc import Callable
from functools import partial
from pathlib import Path

import polars as pl

from pipeline.config import Market
from pipeline.fees import all_in_column, hammer_column, net_column
from pipeline.ingest.faults import FAULT_COLUMNS, Fault, with_first_fault
from pipeline.ingest.rates import convert_rates, ecb_rates, owner_rates, with_owner_rates
from pipeline.schema import COLUMN

AMOUNT = COLUMN["price_paid"].dtype
_BEYOND = 1e14
"""The least number that is too large to be an amount."""


def market_rates(market: Market) -> pl.DataFrame:
    """Return the exchange rates that hold: the ECB's, with the owner's own in their place.

    Raises ExportError where the owner's rate file cannot be read.
    """
    if market.rates.file is None:
        return ecb_rates()
    return with_owner_rates(ecb_rates(), owner_rates(Path(market.rates.file)))


def price_offers(offers: pl.DataFrame, market: Market, rates: pl.DataFrame) -> pl.DataFrame:
    """Return one row an offer, in order, with what it comes to in money.

    Columns: all_in_native, net_native, rate, rate_on, price_paid, ask_price; rate_is_old; and fault_field,
    fault_value, fault_reason (null where the row can be a record).

    `offers` holds venue, currency, price_basis, status, sold_on, closed_on, offered_on, price_native and
    ask_native, and where their amounts are without tax, tax_native and ask_tax_native, which are added; `rates` what
    `pipeline.ingest.rates` returns. A hammer price becomes all-in by the buyer's
    schedule in force at the day of sale, a net one through the hammer price. The rate is that of the day
    of sale (for what was not sold, of the day on which the offer ended or else began), the last known one.
    """
    day = pl.coalesce("sold_on", "closed_on", "offered_on")
    untaxed = pl.lit(None, dtype=AMOUNT)
    offers = offers.with_columns(
        untaxed.alias(name) for name in ("tax_native", "ask_tax_native") if name not in offers.columns
    )
    priced = pl.concat(
        [offers.with_columns(day.alias("day")), _on_every_basis(offers, market)], how="horizontal"
    )
    converted = convert_rates(priced.select("currency", "day").drop_nulls(), rates, base=market.base_currency)
    priced = priced.join(converted, on=["currency", "day"], how="left", maintain_order="left")
    sold = pl.col("status") == "sold"
    priced = priced.with_columns(
        ask_in_all=(pl.col("ask_native") + pl.col("ask_tax_native").fill_null(0)).cast(AMOUNT)
    )
    priced = priced.with_columns(price_paid=_in_base("all_in_native"), ask_price=_in_base("ask_in_all"))
    faults = [
        Fault("price_native", sold & pl.col("all_in_native").is_null(), pl.col("price_native"),
              pl.format("no all-in price can be had: {}", pl.col("why").fill_null("no price"))),
        Fault("currency", sold & pl.col("rate").is_null(), pl.col("currency"),
              pl.format("no exchange rate of {} is known on {} or before", "currency", "sold_on")),
        _no_amount_in_base("price_native", "all_in_native", "price_paid", market.base_currency),
        _no_amount_in_base("ask_native", "ask_native", "ask_price", market.base_currency),
    ]  # fmt: skip
    old = (pl.col("day") - pl.col("rate_on")).dt.total_days() > market.rates.oldest_days
    return with_first_fault(priced, faults).select(
        "all_in_native",
        "net_native",
        "rate",
        "rate_on",
        "price_paid",
        "ask_price",
        old.fill_null(False).alias("rate_is_old"),
        *FAULT_COLUMNS,
    )


def _in_base(column: str) -> pl.Expr:
    """Return an amount in the base currency; null where it is too large to be one."""
    converted = (pl.col(column).cast(pl.Float64) / pl.col("rate")).round(4)
    return pl.when(converted.abs() < _BEYOND).then(converted).cast(AMOUNT)


def _no_amount_in_base(field: str, native: str, converted: str, base: str) -> Fault:
    """Return the fault of an amount that its rate makes too large to be one, or so small that nothing is left."""
    known = pl.col(native).is_not_null() & pl.col("rate").is_not_null()
    is_amount = (pl.col(converted) > 0).fill_null(value=False)
    return Fault(
        field,
        known & ~is_amount,
        pl.col(field),
        pl.format("at {} {} for one {} it is no amount", "rate", "currency", pl.lit(base)),
    )


def _on_every_basis(offers: pl.DataFrame, market: Market) -> pl.DataFrame:
    """Return all_in_native, net_native and why (there is no all-in price), of what was sold.

    Of an all-in price the seller's net is worked out only where the venue takes nothing from buyers.
    """
    prices = offers.select(
        "venue",
        "currency",
        "price_basis",
        pl.col("sold_on").alias("day"),
        pl.when(pl.col("status") == "sold").then("price_native").alias("price"),
    )
    is_net, is_all_in = prices["price_basis"] == "net", prices["price_basis"] == "all-in"
    free = list(market.without_premium)
    # mutation: equivalent, what is not all-in is a net
    behind_net = _worked_out(prices, is_net, partial(hammer_column, market=market, basis="net"))
    hammers = prices.with_columns(
        pl.when(is_net)
        .then(behind_net["hammer"])
        .when(~is_all_in | pl.col("venue").is_in(free))
        .then("price")
        .alias("hammer")
    )
    keys = hammers.select("venue", "day", "currency", "hammer")
    all_in = _worked_out(keys, ~is_all_in, partial(all_in_column, market=market))
    net = net_column(keys, market)
    stated = pl.when(is_all_in).then("price").otherwise(all_in["all_in"])
    return hammers.select(
        (stated + offers["tax_native"].fill_null(0)).cast(AMOUNT).alias("all_in_native"),
        pl.when(is_net).then("price").otherwise(net["net"]).alias("net_native"),
        pl.when(~is_all_in).then(pl.coalesce(behind_net["why"], all_in["why"])).alias("why"),
    )


def _worked_out(
    prices: pl.DataFrame, holds: pl.Series, work: Callable[[pl.DataFrame], pl.DataFrame]
) -> pl.DataFrame:
    """Return, row by row, the columns that `work` adds to the prices where it holds; nulls for all others."""
    found = work(prices.filter(holds)).drop(prices.columns)
    rows = prices.select(pl.int_range(pl.len()).alias("row"))
    return rows.join(
        pl.concat([rows.filter(holds), found], how="horizontal"), on="row", how="left", maintain_order="left"
    ).drop("row")
