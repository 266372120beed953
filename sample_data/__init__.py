"""The demo: an invented harbour town, its exports, and the generator that knows the truth."""
