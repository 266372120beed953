"""Value a file of upcoming lots with the latest fit."""

from datetime import date
from pathlib import Path

import polars as pl

from pipeline.answers.lots.answer import LotList, Terms, value_lots
from pipeline.config import Market
from pipeline.errors import UnknownName
from pipeline.ingest.lots import read_lots
from pipeline.market.subject import usual_size
from pipeline.workspace import Workspace


def value_lot_file(
    workspace: Workspace,
    file: Path,
    *,
    as_of: date,
    margin: float | None = None,
    confidence: float | None = None,
    sells_at: str | None = None,
) -> LotList:
    """Value and rank the lots of a file (an export map with `holds` lots); what is left out is the market file's.

    Rows that cannot be read are named in `refused`; the others are valued all the same.
    """
    market, fitted, stale = workspace.market, workspace.fitted, workspace.stale
    terms = lot_terms(market, margin=margin, confidence=confidence, sells_at=sells_at)
    records, refused = read_lots(file, market, as_of=as_of)
    rates = workspace.rates_on(as_of)
    lots = value_lots(
        records, fitted, market, workspace.sales.filter(pl.col("sold_on") <= as_of), rates, terms, as_of=as_of
    )
    return LotList(
        as_of=as_of,
        currency=market.base_currency,
        terms=terms,
        lots=lots,
        cautions=((stale,) if stale else ()) + usual_sizes(records) + lot_cautions(market, terms),
        source=fitted.source,
        refused=tuple(
            f"row {row['row_number']}: {row['field']} {row['value']!r}: {row['reason']}"
            for row in refused.iter_rows(named=True)
        ),
    )


def lot_terms(
    market: Market, *, margin: float | None, confidence: float | None, sells_at: str | None
) -> Terms:
    """Return what is asked of a lot: what is given, else what the market file says; raises UnknownName."""
    buying = market.buying
    where = sells_at or buying.sells_at
    if where is not None and where not in market.venue_by_name:
        raise UnknownName.among("venue", where, market.venue_by_name)
    return Terms(
        margin=float(buying.margin) if margin is None else margin,
        confidence=buying.confidence if confidence is None else confidence,
        sells_at=where,
        costs=float(buying.costs),
    )


def usual_sizes(records: pl.DataFrame) -> tuple[str, ...]:
    """Return what must be said of sizes that name no system and were read in the usual one."""
    assumed = records.filter("size_assumed").select("size_label", "size_system").unique(maintain_order=True)
    return tuple(usual_size(label, system) for label, system in assumed.iter_rows())


def lot_cautions(market: Market, terms: Terms) -> tuple[str, ...]:
    """Return what must be said of every list of bids."""
    told = [
        "A walk-away bid is the most that leaves your margin with your confidence; it is not a target. Where you "
        "win, others thought less of the pair: look at it before you bid, and see `pairband lots --backtest`.",
        "Freight, duty and tax are those of your market file; ask a customs agent before you import.",
    ]
    if not market.imports:
        told.append(
            "The market file names no freight, duty or tax (`[[imports]]`): the landed cost is the all-in price alone."
        )
    if terms.sells_at is None:
        told.append(
            "Each pair is taken to be sold again where it was bought (`buying.sells_at` names another venue)."
        )
    return tuple(told)


def write_lot_files(
    listed: LotList, business: str, *, page: Path | None, csv: Path | None, excel: Path | None
) -> tuple[Path, ...]:
    """Write the page, the CSV and the workbook of a lot list, as far as they are asked for; returns their paths."""
    from reports.lots.files import write_lot_csv, write_lot_workbook
    from reports.lots.page import write_lots

    written = []
    if page is not None:
        written.append(write_lots(listed, page, business=business))
    if csv is not None:
        written.append(write_lot_csv(listed, csv))
    if excel is not None:
        written.append(write_lot_workbook(listed, excel))
    return tuple(written)
