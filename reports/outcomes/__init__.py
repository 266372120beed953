"""The page of outcomes: how bands held, and what pairs that were sold have left."""
