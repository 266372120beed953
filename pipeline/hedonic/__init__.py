"""A generic penalised hedonic regression from cross-products; it knows nothing of shoes."""
