"""Era odds."""
