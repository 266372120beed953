"""Invented exports with what a trade reader takes from each, and the score of pairband against that."""
