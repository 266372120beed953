"""What a ledger keeps, in order of the rows that told of it."""

import polars as pl

from pipeline.ledger import Ledger

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
