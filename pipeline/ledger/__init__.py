"""The one DuckDB file: open, migrate, transactions, named queries."""

from pipeline.ledger.ledger import Ledger, open_ledger

__all__ = ["Ledger", "open_ledger"]
