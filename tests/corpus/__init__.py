"""Awkward exports, each with the ledger that it is to give or the reason why it is refused."""
