"""Judge kept values, and account for the pairs of the stock that were sold, by the sales in the ledger."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import polars as pl

from pipeline.answers.appraisal.run import read_pairs
from pipeline.answers.outcomes.answer import Outcomes, judge
from pipeline.answers.outcomes.profit import AMOUNT, By, Profits, profits_of
from pipeline.ingest.money import market_rates
from pipeline.workspace import Workspace


def judge_ledger(
    workspace: Workspace, *, as_of: date, stock: Path | None = None, by: By = "month"
) -> Outcomes:
    """Return what became by a day of kept values, and of the pairs of a stock list that were sold, summed `by`."""
    settled = workspace.ledger.read("outcomes/settled_values", as_of=as_of)
    found = judge(settled, as_of=as_of, currency=workspace.market.base_currency)
    if stock is None:
        return found
    return replace(found, profits=account_for_stock(workspace, stock, as_of=as_of, by=by))


def account_for_stock(workspace: Workspace, file: Path, *, as_of: date, by: By) -> Profits:
    """Return the profits of the pairs of a stock list (an export map with `holds` stock) that were sold by a day."""
    records, _ = read_pairs(file, workspace.market, as_of=as_of)
    sales = workspace.ledger.read("outcomes/own_sales", as_of=as_of)
    return profits_of(_listed(records), sales, workspace.market, market_rates(workspace.market), by=by)


def _listed(records: pl.DataFrame) -> pl.DataFrame:
    """Return of each record of a stock list what only the list says: its number, day, cost and work."""
    return records.select(
        "stock_ref",
        bought_on="offered_on",
        cost_native="price_native",
        cost_currency="currency",
        work_native=pl.lit(None, AMOUNT),
        work_currency=pl.lit(None, pl.String),
    )
