"""Keep what was said of pairs, so that later sales can judge it."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

import polars as pl

from pipeline.answers.appraisal.appraisal import Appraisal
from pipeline.answers.appraisal.tables import middle_band, pair_name
from pipeline.answers.consignment.answer import Consignment
from pipeline.answers.lots.answer import CLOSED, LotList
from pipeline.answers.lots.tables import lot_name
from pipeline.answers.restoration.answer import RestorationReport
from pipeline.answers.stock.answer import Stock
from pipeline.answers.stock.tables import pairs_table
from pipeline.ledger import open_ledger
from pipeline.market.fitted_market import Source
from pipeline.workspace import Workspace

MAXIMUM_BID = "maximum bid"
LOT, STOCK, WORK = "lot", "stock", "restoration"
"""Questions in which values are kept, beside appraisals and consignments."""

_TEXTS = ("question", "fit_id", "stock_ref", "venue", "sale_ref", "lot_ref", "pair", "currency", "price_kind")
SCHEMA: dict[str, pl.DataType] = {
    **dict.fromkeys(_TEXTS, pl.String()),
    "price_currency": pl.String(),
    **dict.fromkeys(("said_on", "known_until"), pl.Date()),
    **dict.fromkeys(("median", "low", "high", "price", "expected_net"), pl.Float64()),
    "treatments": pl.List(pl.String()),
    **dict.fromkeys(("value_before", "work_cost", "expected_gain"), pl.Float64()),
}
"""The columns of kept values; see sql/schema/0006_kept_values.sql and 0008_kept_decisions.sql."""


def keep_appraisals(workspace: Workspace, appraisals: Sequence[Appraisal], *, kept_at: datetime) -> int:
    """Keep the values of pairs; return how many are new."""
    rows = []
    for one in appraisals:
        band = middle_band(one.bands)
        if band is not None:
            rows.append(
                {
                    "question": "appraisal",
                    "said_on": one.as_of,
                    **_pair(one.pair.label, pair_name(one.pair), one.currency, one.source),
                    "venue": one.pair.venue,
                    "median": one.median,
                    "low": band.low,
                    "high": band.high,
                }
            )
    return _keep(workspace, rows, kept_at)


def keep_consignments(workspace: Workspace, consignments: Sequence[Consignment], *, kept_at: datetime) -> int:
    """Keep the prices to set at each venue that qualifies; return how many are new."""
    rows = [
        {
            "question": "consignment",
            "said_on": one.as_of,
            **_pair(one.pair.label, pair_name(one.pair), one.currency, one.source),
            "venue": offer.venue,
            "median": offer.median,
            "low": offer.low,
            "high": offer.high,
            "price_kind": suggestion.name,
            "price": float(suggestion.amount),
            "price_currency": suggestion.currency,
        }
        for one in consignments
        for offer in one.recommended
        for suggestion in offer.suggestions
    ]
    return _keep(workspace, rows, kept_at)


def keep_lots(workspace: Workspace, listed: LotList, *, kept_at: datetime) -> int:
    """Keep the value and the maximum bid of every lot that is open; return how many are new."""
    rows = [
        {
            "question": LOT,
            "said_on": listed.as_of,
            **_pair("", lot_name(lot), listed.currency, listed.source),
            "venue": lot["venue"],
            "sale_ref": lot["sale_ref"],
            "lot_ref": lot["lot_ref"],
            "median": lot["median"],
            "low": lot["low_80"],
            "high": lot["high_80"],
            "price_kind": MAXIMUM_BID,
            "price": lot["walk_away_bid"],
            "price_currency": lot["native_currency"],
            "expected_net": lot["resale_net"],
        }
        for lot in listed.lots.iter_rows(named=True)
        if lot["verdict"] != CLOSED and lot["walk_away_bid"] is not None
    ]
    return _keep(workspace, rows, kept_at)


def keep_works(workspace: Workspace, report: RestorationReport, *, kept_at: datetime) -> int:
    """Keep the works of the plan, each with the value after it and the band of one sale; return how many are new."""
    plan = report.plan
    if plan is None:
        return 0
    rows = []
    for row, (low, high) in zip(
        report.works[list(plan.chosen)].iter_rows(named=True), plan.at_sale, strict=True
    ):
        pair = report.pairs[row["pair"]]
        rows.append(
            {
                "question": WORK,
                "said_on": report.as_of,
                **_pair(pair.label, pair_name(pair), report.currency, report.source),
                "venue": pair.venue,
                "median": row["price_after"],
                "low": low,
                "high": high,
                "treatments": sorted(row["treatments"]),
                "value_before": row["price_before"],
                "work_cost": row["cost"],
                "expected_gain": row["gain"],
            }
        )
    return _keep(workspace, rows, kept_at)


def keep_stock(workspace: Workspace, stock: Stock, *, kept_at: datetime) -> int:
    """Keep the value of every pair of the stock that has a number, with its ask; return how many are new."""
    rows = [
        {
            "question": STOCK,
            "said_on": stock.as_of,
            **_pair(row["stock_ref"], pair, stock.currency, stock.source),
            "median": row["median"],
            "low": row["low"],
            "high": row["high"],
            **(
                {
                    "price_kind": "ask",
                    "price": row["ask"],
                    "price_currency": stock.currency,
                    "venue": row["offered_at"],
                }
                if row["ask"]
                else {}
            ),
        }
        for row, pair in zip(
            stock.pairs.iter_rows(named=True), pairs_table(stock).texts_of("pair"), strict=True
        )
        if row["stock_ref"] is not None
    ]
    return _keep(workspace, rows, kept_at)


def _pair(stock_ref: str, pair: str, currency: str, source: Source) -> dict[str, object]:
    return {
        "stock_ref": stock_ref or None,
        "pair": pair,
        "currency": currency,
        "fit_id": source.fit_id,
        "known_until": source.last_sale,
    }


def _keep(workspace: Workspace, rows: Iterable[Mapping[str, Any]], kept_at: datetime) -> int:
    frame = pl.DataFrame(list(rows), schema=SCHEMA)
    workspace.close()  # the ledger is opened for writing now
    with open_ledger(workspace.ledger_path) as ledger, ledger.transaction():
        before = int(ledger.read("outcomes/count_kept").item())
        ledger.write("outcomes/keep_values", frame, kept_at=kept_at.replace(tzinfo=None))
        return int(ledger.read("outcomes/count_kept").item()) - before
