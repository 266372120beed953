"""The page of the stock: all pairs together, and each."""
