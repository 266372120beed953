"""Audit."""
