"""A back-test of the bidding rule on past lots."""
