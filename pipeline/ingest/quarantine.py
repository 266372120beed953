"""The quarantine as a table to fix the exports by, safe to open in a spreadsheet and to print on a terminal."""

from pipeline.csv_guard import guarded_csv
from pipeline.ledger import Ledger


def quarantine_csv(ledger: Ledger) -> str:
    """Return the quarantined rows as CSV: file_name, sheet, row_number, field, value, reason, cells."""
    return guarded_csv(ledger.read("staging/quarantine_list"))
