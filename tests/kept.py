"""What a ledger keeps, in order of the rows that told of it."""

from datetime import datetime
from pathlib import Path

import polars as pl

from pipeline.ledger import Ledger, open_ledger
from pipeline.market.fitted_market import FittedMarket, to_stored

FITTED_AT = datetime(2026, 10, 1)
"""In UTC, without its zone, as the ledger keeps times."""

_SALES = """
SELECT sales.*
FROM sales
INNER JOIN (
    SELECT record_id, min((sheet, row_number)) AS place FROM record_sources GROUP BY record_id
) AS first_rows USING (record_id)
ORDER BY place
"""


def sales_of(ledger: Ledger) -> pl.DataFrame:
    """Return the sales in the order of the first rows that tell of them (columns of a sale record)."""
    return pl.DataFrame(ledger.connection.sql(_SALES))


def unread_cells_of(ledger: Ledger) -> list[tuple[int, str]]:
    """Return row number and field of the stated cells that could not be read."""
    return ledger.connection.sql("SELECT row_number, field FROM unread_cells ORDER BY ALL").fetchall()


def keep_fit(ledger: Path, fitted: FittedMarket) -> None:
    """Keep a fit in a ledger, as `pairband fit` does."""
    document, arrays = to_stored(fitted)
    with open_ledger(ledger) as opened:
        opened.run(
            "fits/store_fit",
            fit_id="demo",
            fitted_at=FITTED_AT,
            as_of=FITTED_AT.date(),
            market_digest="demo",
            records_digest="demo",
            document=document,
            arrays=arrays,
        )
