"""From a dealer's exported sale records to fair-value bands for vintage pairs."""

__version__ = "0.1.0"
