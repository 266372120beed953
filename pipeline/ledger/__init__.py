"""The one DuckDB file: open, migrate, transactions, named queries."""
