"""Market view."""
