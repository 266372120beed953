"""Lots."""
