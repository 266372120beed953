"""Upcoming lots: how far to bid, and what a lot should gain."""
