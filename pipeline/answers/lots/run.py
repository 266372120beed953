"""Value a file of upcoming lots with the latest fit."""

from datetime import date
from pathlib import Path

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline import formats
from pipeline.answers.appraisal.cautions import fit_cautions, stale_cautions, weak_ones
from pipeline.answers.era_odds.answer import AS_DESCRIBED
from pipeline.answers.era_odds.run import eras_of_list
from pipeline.answers.lots.answer import LotList, Terms, value_lots
from pipeline.config import Market
from pipeline.errors import UnknownName
from pipeline.ingest.lots import read_lots
from pipeline.market.era_mixture import EraChances
from pipeline.market.subject import pairs_of_records, usual_size
from pipeline.workspace import Workspace

MOST_NAMED = 12
"""The most rows that a caution names."""


def value_lot_file(
    workspace: Workspace,
    file: Path,
    *,
    as_of: date,
    margin: float | None = None,
    confidence: float | None = None,
    sells_at: str | None = None,
    by_odds: bool | None = None,
) -> LotList:
    """Value and rank the lots of a file (an export map with `holds` lots); by default by the rule of the market file.

    `by_odds` says whether lots whose era nobody states are valued by the odds of the eras, learned from the records;
    left out, as the market file says. Rows that cannot be read are named in `refused`; the others are valued.
    """
    market, fitted = workspace.market, workspace.fitted
    terms = lot_terms(market, margin=margin, confidence=confidence, sells_at=sells_at)
    records, refused, notes = read_lots(file, market, as_of=as_of, holds=("lots",))
    rates = workspace.rates_on(as_of)
    asked = market.era_odds.in_lists if by_odds is None else by_odds
    doubt = eras_of_list(workspace, records, as_of=as_of) if asked else None
    lots = value_lots(
        records,
        fitted,
        market,
        workspace.sales.filter(pl.col("sold_on") <= as_of),
        rates,
        terms,
        as_of=as_of,
        doubt=doubt,
    )
    return lot_list(
        workspace,
        lots,
        terms,
        as_of=as_of,
        read_so=(
            *notes,
            *usual_sizes(records),
            *unread_cells(records if doubt is None else without_eras(records, doubt.rows)),
            *odds_cautions(records, doubt),
        ),
        refused=tuple(
            f"row {row['row_number']}: {row['field']} {row['value']!r}: {row['reason']}"
            for row in refused.iter_rows(named=True)
        ),
    )


def lot_list(
    workspace: Workspace,
    lots: pl.DataFrame,
    terms: Terms,
    *,
    as_of: date,
    read_so: tuple[str, ...],
    refused: tuple[str, ...] = (),
) -> LotList:
    """Return lots that were valued with what is said of them: of the fit, how they were `read_so`, of every bid."""
    market, fitted = workspace.market, workspace.fitted
    warned = (*stale_cautions(workspace.stale), *fit_cautions(fitted, as_of))
    return LotList(
        as_of=as_of,
        currency=market.base_currency,
        terms=terms,
        lots=lots,
        cautions=(*(caution.words for caution in warned), *read_so, *lot_cautions(market, terms)),
        source=fitted.source,
        weak=weak_ones(warned),
        refused=refused,
    )


def odds_cautions(records: pl.DataFrame, doubt: EraChances | None) -> tuple[str, ...]:
    """Return what must be said of the rows of a list that are valued by learned odds of their eras."""
    if doubt is None:
        return ()
    numbers = records["row_number"].gather(doubt.rows).to_list()
    rows = ", ".join(map(str, numbers[:MOST_NAMED]))
    more = f" and {formats.count(len(numbers) - MOST_NAMED)} more" if len(numbers) > MOST_NAMED else ""
    return (
        f"Valued by learned odds of the eras, since no era is stated: row{'s' * (len(numbers) > 1)} {rows}{more}. "
        f"{AS_DESCRIBED}",
    )


def without_eras(records: pl.DataFrame, doubtful: NDArray[np.int64]) -> pl.DataFrame:
    """Return the records without the cells on the era that could not be read, of the `doubtful` rows: they count."""
    rows = pl.int_range(pl.len()).is_in(doubtful.tolist())
    others = pl.col("unread").list.eval(pl.element().filter(pl.element().struct.field("field") != "era"))
    return records.with_columns(unread=pl.when(rows).then(others).otherwise("unread"))


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
    """Return a caution for each size that names no system and was read in the usual one."""
    assumed = records.filter("size_assumed").select("size_label", "size_system").unique(maintain_order=True)
    return tuple(usual_size(label, system) for label, system in assumed.iter_rows())


def unread_cells(records: pl.DataFrame) -> tuple[str, ...]:
    """Return a caution for each cell that could not be read, with its row and what counts in its place."""
    named = records.filter(pl.col("unread").list.len() > 0, pl.coalesce("silhouette", "title").is_not_null())
    return tuple(
        f"Row {row_number}: {cell.words}"
        for row_number, pair in zip(named["row_number"], pairs_of_records(named), strict=True)
        for cell in pair.unread
    )


def lot_cautions(market: Market, terms: Terms) -> tuple[str, ...]:
    """Return what to be careful of in every list of bids."""
    cautions = [
        "The maximum bid is a limit, not a target. If you win, everybody else valued the pair lower: look at it before "
        "you bid, and see `pairband lots --backtest`.",
        "Freight, duty and tax are those of your market file; ask a customs agent before you import.",
    ]
    if not market.imports:
        cautions.append(
            "The market file has no freight, duty or tax (`[[imports]]`): the cost if won is the all-in price alone."
        )
    if terms.sells_at is None:
        cautions.append(
            "Each pair is assumed to be sold again where it was bought (`buying.sells_at` names another venue)."
        )
    return tuple(cautions)
