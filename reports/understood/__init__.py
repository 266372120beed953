"""Understood."""
