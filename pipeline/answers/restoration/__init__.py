"""Restoration."""
