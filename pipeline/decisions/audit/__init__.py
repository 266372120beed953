"""The audit: whether values and bands kept their word, in figures and in words."""
