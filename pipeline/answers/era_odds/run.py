"""Value a pair whose era is in doubt."""

from datetime import date
from pathlib import Path

import polars as pl

from pipeline.answers.appraisal.run import pairs_of_file
from pipeline.answers.era_odds.answer import (
    FROM_SALES,
    EraInDoubt,
    odds_from_sales,
    read_odds,
    value_in_doubt,
)
from pipeline.market.subject import Description, understand
from pipeline.workspace import Workspace


def appraise_in_doubt(
    workspace: Workspace,
    described: Description,
    odds: str,
    *,
    as_of: date,
    file: Path | None = None,
    row: int | None = None,
    at_price: float | None = None,
    as_written: bool = False,
) -> EraInDoubt:
    """Value a pair that the owner describes, or one row of a file (see `pairs_of_file`), by the chances of its era.

    `odds` are words such as "first=0.7,second=0.3", or FROM_SALES: as the sales of its silhouette went.
    """
    market = workspace.market
    if file is None:
        pair = understand(described, market, as_written=as_written)
    else:
        [pair] = pairs_of_file(file, market, row=row, as_of=as_of, described=described)
    given = None if odds.strip().casefold() == FROM_SALES else read_odds(odds, market)
    sales = workspace.sales_of(pair.silhouette).filter(pl.col("sold_on") <= as_of)
    return value_in_doubt(
        pair,
        odds_from_sales(sales, pair, market) if given is None else given,
        workspace.fitted,
        sales,
        as_of=as_of,
        at_price=at_price,
        origin="the sales of its silhouette" if given is None else "your odds",
        stale=workspace.stale,
    )
