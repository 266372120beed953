"""Care."""
