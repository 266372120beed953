"""The page of what changed: the values of pairs then and now."""
