"""Buying lots: what one costs at home, how far to bid, and whether the rule has paid."""
