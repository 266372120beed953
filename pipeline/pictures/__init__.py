"""The owner's photographs: which is of which pair, and each made fit for a page."""
