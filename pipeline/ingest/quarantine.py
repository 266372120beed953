"""The quarantine as a table to mend the exports by, safe to open in a spreadsheet."""

import polars as pl

from pipeline.ledger import Ledger

_FORMULA = r"^[=+\-@\t\r]"


def quarantine_csv(ledger: Ledger) -> str:
    """Return the quarantined rows as CSV: file_name, sheet, row_number, field, value, reason, cells."""
    return safe_csv(ledger.read("staging/quarantine_list"))


def safe_csv(rows: pl.DataFrame) -> str:
    """Return a frame as CSV in which no cell can be taken for a formula.

    A text that begins with = + - @, a tab or a carriage return gets an apostrophe before it, which
    spreadsheets show as text.
    """
    texts = [name for name, dtype in rows.schema.items() if dtype == pl.String]
    return rows.with_columns(
        pl.when(pl.col(name).str.contains(_FORMULA))
        .then(pl.lit("'") + pl.col(name))
        .otherwise(pl.col(name))
        .alias(name)
        for name in texts
    ).write_csv()
