"""Restoring: what it does to a price, and which pair to work on next."""
