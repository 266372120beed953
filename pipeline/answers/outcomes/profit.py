"""What each pair that was sold left: every cent of the price accounted for, in the base currency.

The price that the buyer paid = the buyer's fees + the sales tax on the price + the venue's fees + freight + tax + cost
+ work + profit. Each amount is rounded to the minor unit once, in the base currency; the profit is what is left, so
that the sum holds to the cent. Receipts are at the rate of the day of sale, cost and work at that of the day of
buying; what the rate made of the receipts between these days is a part of the profit, and stands apart as `rate_gain`.
"""

from dataclasses import dataclass
from typing import Literal

import polars as pl
from babel.numbers import get_currency_precision

from pipeline.answers.stock.sold import DOUBTFUL, SOLD, with_sales
from pipeline.config import Market
from pipeline.fees import all_in_column, hammer_column, net_column
from pipeline.fees.amounts import POINTS
from pipeline.ingest.rates import rates_of

AMOUNT = pl.Decimal(18, POINTS)

CHARGES = ("buyer_fees", "sales_tax", "venue_fees", "freight", "tax", "cost", "work")
"""What goes off the price paid, in the order in which it does; the profit is what is left."""

By = Literal["month", "venue", "era", "silhouette"]
"""What profits can be summed by; the month is that of the sale."""

COST_OF_RECORD = (
    pl.col("price_native").alias("cost_native"),
    pl.col("cost_currency"),
    pl.col("work_paid").alias("work_native"),
    pl.col("work_currency"),
)
"""What a listed pair has cost, as `account_for` takes it, of the columns that a stock list is read into."""

NO_COST = "no cost is stated"


@dataclass(frozen=True)
class Profits:
    """What the pairs of the stock that were sold have left, in the base currency.

    `pairs` has one row a pair (columns of `account_for`), `groups` one a group of `by`, `whole` one of all (columns of
    `sum_up`). `doubtful` counts the listed pairs of which nobody can say whether they were sold, `not_listed` the sales
    with a stock number of which no list has the pair: their cost is not known.
    """

    by: By
    pairs: pl.DataFrame
    groups: pl.DataFrame
    whole: pl.DataFrame
    doubtful: int
    not_listed: int


def profits_of(
    listed: pl.DataFrame, sales: pl.DataFrame, market: Market, rates: pl.DataFrame, *, by: By
) -> Profits:
    """Return the profits of the listed pairs that were sold (see `account_for`), the latest sale first.

    `listed` has one row a pair: stock_ref, since and listed_on as `with_sales` takes them, and the cost and work of
    `account_for`; `sales` are those with a stock number (sql/marts/stock_sales.sql).
    """
    beside = with_sales(listed, listed.select("stock_ref", bought_on="since").clear(), sales)
    sold = (
        beside.filter(pl.col("state") == SOLD)
        .with_columns(bought_on="since")
        .drop("state", "why", "is_early")
    )
    accounts = account_for(sold, market, rates).sort("sold_on", "stock_ref", descending=[True, False])
    others = sales.join(beside.drop_nulls("record_id"), on="record_id", how="anti")
    return Profits(
        by=by,
        pairs=accounts,
        groups=sum_up(accounts, by),
        whole=sum_up(accounts, None),
        doubtful=int((beside["state"] == DOUBTFUL).sum()),
        not_listed=others.height,
    )


def account_for(sold: pl.DataFrame, market: Market, rates: pl.DataFrame) -> pl.DataFrame:
    """Return the pairs that were sold with what became of their price.

    `sold` has one row a pair: bought_on (Date), cost_native in cost_currency and work_native in work_currency
    (Decimal; null where not known), and its sale in the columns that `receipts_of` needs. `rates` are those of
    `pipeline.ingest.rates`.

    Adds, in the base currency (Decimal): paid, the CHARGES, net (what the venue leaves the seller), profit, rate_gain,
    traded (profit less rate_gain); margin (profit over net), days_held; and why (String): why there is no profit. Null
    is what is not known; only freight, tax and work that nobody stated count as none in the profit.
    """
    received = pl.concat([sold, receipts_of(sold, market)], how="horizontal")
    for currency, rate in (
        ("cost_currency", "cost_rate"),
        ("work_currency", "work_rate"),
        ("currency", "rate_when_bought"),
    ):
        received = _with_rate(received, rates, market.base_currency, currency, rate)
    digits = get_currency_precision(market.base_currency)
    freight = {venue.name: venue.freight for venue in market.venues}
    stated = received.with_columns(
        freight=pl.col("venue").replace_strict(freight, default=None, return_dtype=AMOUNT),
        cost=_in_base("cost_native", "cost_rate", digits),
        work=_in_base("work_native", "work_rate", digits),
        net_when_bought=_in_base("net_in_currency", "rate_when_bought", digits),
    )
    taxed = stated.with_columns(tax=_tax_due(market, digits))
    at_home = pl.col("currency") == market.base_currency
    accounts = taxed.with_columns(
        profit=_decimal(pl.col("net") - pl.col("cost") - pl.sum_horizontal("freight", "tax", "work")),
        rate_gain=_decimal(pl.col("net") - pl.when(at_home).then("net").otherwise("net_when_bought")),
        days_held=(pl.col("sold_on") - pl.col("bought_on")).dt.total_days(),
    ).with_columns(
        traded=_decimal(pl.col("profit") - pl.col("rate_gain")),
        margin=_margin(),
        why=pl.when(pl.col("profit").is_null()).then(pl.coalesce(_why_no_cost(), "why_net")),
    )
    added = ("paid", *CHARGES, "net", "profit", "rate_gain", "traded", "margin", "days_held", "why")
    return accounts.select(*sold.columns, *added)


def receipts_of(sold: pl.DataFrame, market: Market) -> pl.DataFrame:
    """Return what buyers paid and what the venues left of it, one row a sale, in the base currency (Decimal).

    `sold` has venue, sold_on, currency, price_basis, price_native, all_in_native, net_native, rate (units of `currency`
    for one of the base), price_paid and flags, as the ledger has them. Columns: paid, buyer_fees, sales_tax,
    venue_fees, net; net_in_currency (in that of the sale); why_net (why the net is not known, where it is not).
    """
    digits = get_currency_precision(market.base_currency)
    native = pl.concat([sold.select("price_paid", "rate"), _at_the_venue(sold, market)], how="horizontal")
    return native.select(
        *(_in_base(f"{name}_native", "rate", digits).alias(name) for name in CHARGES[:3]),
        paid=pl.col("price_paid").cast(pl.Float64).round(digits).cast(AMOUNT),
        net_in_currency="own_net_native",
        why_net="why_net",
    ).with_columns(net=_decimal(pl.col("paid") - pl.sum_horizontal(CHARGES[:3], ignore_nulls=False)))


def sum_up(accounts: pl.DataFrame, by: By | None) -> pl.DataFrame:
    """Return the profits of each group of pairs (columns of `account_for`), of all of them for None.

    Columns: group, sold, known (how many have a profit), and of those alone, in the base currency (Decimal, null where
    none is known): paid, the CHARGES, net, profit, rate_gain; margin (profit over net), days (median held). Months run
    forwards, other groups from the greatest profit down.
    """
    known = pl.col("profit").is_not_null()
    sums = [
        pl.when((known & pl.col(name).is_not_null()).any())
        .then(pl.col(name).filter(known).sum())
        .cast(AMOUNT)
        .alias(name)
        for name in ("paid", *CHARGES, "net", "profit", "rate_gain")
    ]
    groups = (
        accounts.group_by(group=_group(by), maintain_order=True)
        .agg(pl.len().alias("sold"), known.sum().alias("known"), *sums, days=pl.col("days_held").median())
        .with_columns(margin=_margin())
    )
    in_time = by == "month"
    return groups.sort("group" if in_time else "profit", "group", descending=[not in_time, False])


def _group(by: By | None) -> pl.Expr:
    if by is None:
        return pl.lit("all pairs")
    if by == "month":
        return pl.col("sold_on").dt.strftime("%Y-%m")
    return pl.col(by).fill_null("not known")


def _at_the_venue(sold: pl.DataFrame, market: Market) -> pl.DataFrame:
    """Return what the venue did with each price, in its currency.

    Columns buyer_fees_native, sales_tax_native, venue_fees_native and own_net_native (what is left to the seller);
    null where the fees do not tell, and why_net says why. A shop is the owner's own and takes nothing of the owner's
    pairs: its seller's fees are those of consignors.
    """
    keyed = sold.select("venue", "currency", day="sold_on")
    stated = sold["price_native"].alias("price")
    behind = [
        hammer_column(
            keyed.with_columns(pl.when(sold["price_basis"] == basis).then(stated).alias("price")),
            market,
            basis=basis,
        )
        for basis in ("net", "all-in")
    ]
    hammers = keyed.with_columns(
        hammer=pl.when(sold["price_basis"] == "hammer")
        .then(stated)
        .when(behind[0]["hammer"].is_not_null())
        .then(behind[0]["hammer"])
        .when(behind[1]["exact"])
        .then(behind[1]["hammer"])
    )
    all_in, net = all_in_column(hammers, market), net_column(hammers, market)
    own = [venue.name for venue in market.venues if venue.kind == "shop"]
    beyond = pl.col("all_in_native") - pl.col("hammer")
    charged = pl.min_horizontal(beyond, pl.coalesce(pl.col("all_in") - pl.col("hammer"), beyond))
    refunded = pl.col("flags").list.contains("part refunded").fill_null(value=False)
    return (
        pl.concat(
            [sold.select("all_in_native", "net_native", "flags"), hammers, all_in.select("all_in")],
            how="horizontal",
        )
        .with_columns(net["net"], net["why"].alias("why_net"))
        .with_columns(
            buyer_fees_native=pl.when(pl.col("venue").is_in(list(market.without_premium)))
            .then(beyond - beyond)
            .when(refunded)
            .then(beyond)
            .otherwise(charged),
            own_net_native=pl.when(pl.col("venue").is_in(own))
            .then("hammer")
            .otherwise(pl.coalesce("net_native", "net")),
        )
        .select(
            _decimal(pl.col("buyer_fees_native")).alias("buyer_fees_native"),
            sales_tax_native=_decimal(beyond - pl.col("buyer_fees_native")),
            venue_fees_native=_decimal(pl.col("hammer") - pl.col("own_net_native")),
            own_net_native=_decimal(pl.col("own_net_native")),
            why_net=pl.when(pl.col("hammer").is_null())
            .then(pl.lit("the hammer price behind the price is not known"))
            .otherwise("why_net"),
        )
    )


def _with_rate(sold: pl.DataFrame, rates: pl.DataFrame, base: str, currency: str, rate: str) -> pl.DataFrame:
    """Add the rate of a currency on the day on which each pair was bought; that of the base currency is always 1."""
    known = rates_of(sold.select(currency=currency, day="bought_on"), rates, base=base)
    return sold.with_columns(pl.when(pl.col(currency) == base).then(1.0).otherwise(known).alias(rate))


def _why_no_cost() -> pl.Expr:
    return (
        pl.when(pl.col("cost_native").is_null())
        .then(pl.lit(NO_COST))
        .when(pl.col("cost_currency").is_null())
        .then(pl.lit("its cost names no currency"))
        .when(pl.col("cost_rate").is_not_null())
        .then(pl.lit(None, pl.String))
        .when(pl.col("bought_on").is_null())
        .then(pl.format("its cost is in {}, and the day of buying is not known", "cost_currency"))
        .otherwise(pl.format("no exchange rate of {} is known on {} or before", "cost_currency", "bought_on"))
    )


def _margin() -> pl.Expr:
    return pl.when(pl.col("net") > 0).then(pl.col("profit").cast(pl.Float64) / pl.col("net").cast(pl.Float64))


def _in_base(amount: str, rate: str, digits: int) -> pl.Expr:
    return (pl.col(amount).cast(pl.Float64) / pl.col(rate)).round(digits).cast(AMOUNT)


def _tax_due(market: Market, digits: int) -> pl.Expr:
    """Return the tax on each sale by the rule of the market file; nothing more where the record states its sales tax.

    An auction house sells what it has from the seller at the net; elsewhere the price without the buyer's fees counts.
    """
    selling = market.selling
    if selling.tax is None or selling.tax_rate is None:
        return pl.lit(None, AMOUNT)
    auctions = [venue.name for venue in market.venues if venue.kind == "auction"]
    price = (
        pl.when(pl.col("venue").is_in(auctions)).then("net").otherwise(pl.col("net") + pl.col("venue_fees"))
    )
    taxed = price if selling.tax == "full" else price - pl.col("cost")
    share = float(selling.tax_rate / (1 + selling.tax_rate))
    due = (taxed.cast(pl.Float64).clip(lower_bound=0) * share).round(digits).cast(AMOUNT)
    return pl.when(pl.col("sales_tax") > 0).then(pl.lit(0).cast(AMOUNT)).otherwise(due)


def _decimal(amount: pl.Expr) -> pl.Expr:
    return amount.cast(AMOUNT)
