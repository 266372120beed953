"""Say what restoring does to a price, and which pair of the stock to restore next."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import polars as pl

from pipeline.answers.appraisal.run import read_pairs
from pipeline.answers.restoration.answer import RestorationReport, report_restoration
from pipeline.answers.restoration.resales import resold_pairs
from pipeline.answers.stock.listed import has_stock
from pipeline.answers.stock.run import records_here
from pipeline.hedonic.threads import one_blas_thread
from pipeline.market.pair import Pair
from pipeline.market.subject import pairs_of_records
from pipeline.workspace import Workspace


def restore_stock(
    workspace: Workspace,
    file: Path | None,
    *,
    as_of: date,
    venue: str | None = None,
    hours: float | None = None,
    money: float | None = None,
) -> RestorationReport:
    """Return the report on restoring: the effects, and what to do with the pairs of a stock list.

    Without a file (a map with `holds` stock) they are those of the ledger that are still there, if it has a list.

    Pairs are valued at `venue`, by default that of the file's map. Hours and money are by default those of
    the market file's [workshop].
    """
    market = workspace.market
    at = None if venue is None else market.venue(venue).name
    pairs, notes = _stock(workspace, file, at, as_of)
    ledger = workspace.ledger
    with one_blas_thread():
        repeats = ledger.read("marts/repeat_sales").filter(pl.col("second_sold_on") <= as_of)
        resold = resold_pairs(repeats, ledger.read("marts/resold_sales"))
        report = report_restoration(
            workspace.fitted,
            market,
            resold,
            pairs,
            _sales(workspace, pairs or ()),
            as_of=as_of,
            hours=market.workshop.hours if hours is None else hours,
            money=float(market.workshop.money) if money is None else money,
            stale=workspace.stale,
        )
    return replace(report, cautions=(*notes, *report.cautions))


def _stock(
    workspace: Workspace, file: Path | None, venue: str | None, as_of: date
) -> tuple[tuple[Pair, ...] | None, tuple[str, ...]]:
    """Return the pairs of the stock, None where there is no list, and what is to be said of the file."""
    notes: tuple[str, ...] = ()
    if file is not None:
        records, notes = read_pairs(file, workspace.market, as_of=as_of)
    elif has_stock(workspace, as_of=as_of):
        records = records_here(workspace, None, as_of=as_of)
    else:
        return None, ()
    pairs = tuple(
        replace(pair, venue=venue or own)
        for pair, own in zip(pairs_of_records(records), records["venue"], strict=True)
    )
    return pairs, notes


def _sales(workspace: Workspace, pairs: tuple[Pair, ...]) -> pl.DataFrame:
    """Return the priced sales of the pairs' silhouettes."""
    silhouettes = sorted({pair.silhouette for pair in pairs}) or [""]
    return pl.concat(workspace.sales_of(name) for name in silhouettes)
