"""The model of a pair: its factors, the terms, the fitted market, the distribution of a price."""
