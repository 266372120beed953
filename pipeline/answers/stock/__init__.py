"""The stock: what every pair is worth, and all of them together."""
