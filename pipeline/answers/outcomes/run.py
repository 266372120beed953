"""Judge kept values, and account for the pairs of the stock that were sold, by the sales in the ledger."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import polars as pl

from pipeline.answers.backtest.run import with_resale_rates
from pipeline.answers.outcomes.answer import Outcomes, judge
from pipeline.answers.outcomes.keep import LOT
from pipeline.answers.outcomes.profit import COST_OF_RECORD, By, Profits, profits_of
from pipeline.answers.outcomes.rule import earn_by_rule
from pipeline.answers.stock.listed import has_stock, listed_pairs
from pipeline.ingest.money import market_rates
from pipeline.workspace import Workspace


def judge_ledger(
    workspace: Workspace, *, as_of: date, stock: Path | None = None, by: By = "month"
) -> Outcomes:
    """Return what became by a day of kept values, and of the pairs of a stock list that were sold, summed `by`."""
    market = workspace.market
    settled = workspace.ledger.read("outcomes/settled_values", as_of=as_of)
    again = workspace.ledger.read("outcomes/sold_again", as_of=as_of)
    lots = settled.filter(pl.col("question") == LOT).drop_nulls("rate")
    rated = with_resale_rates(lots.with_columns(sold_on="ended_on"), market, market.buying.sells_at)
    found = replace(
        judge(settled, as_of=as_of, currency=market.base_currency, without_premium=market.without_premium),
        rule=earn_by_rule(rated, again, market, as_of=as_of),
    )
    if stock is None and not has_stock(workspace, as_of=as_of):
        return found
    return replace(found, profits=account_for_stock(workspace, stock, as_of=as_of, by=by))


def account_for_stock(workspace: Workspace, file: Path | None, *, as_of: date, by: By) -> Profits:
    """Return the profits of the pairs that were sold by a day: of a stock list, or without a file of all in the ledger.

    Of a pair that several lists name, the latest of them says what it has cost and what work was paid.
    """
    if file is None:
        lists = workspace.ledger.read("marts/listed_pairs", as_of=as_of, numbers=None)
        pair = ["stock_ref", "bought_on"]
        records = lists.sort("listed_on", maintain_order=True).unique(pair, keep="last", maintain_order=True)
    else:
        records = listed_pairs(workspace, file, as_of=as_of).records
    listed = records.select(
        *("stock_ref", "silhouette", "colourway", "era", "listed_on"), *COST_OF_RECORD, since="bought_on"
    )
    sales = workspace.ledger.read("marts/stock_sales", as_of=as_of)
    return profits_of(listed, sales, workspace.market, market_rates(workspace.market), by=by)
