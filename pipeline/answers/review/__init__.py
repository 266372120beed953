"""Review."""
