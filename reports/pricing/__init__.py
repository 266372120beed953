"""Pricing."""
