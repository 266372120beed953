"""Market file."""
