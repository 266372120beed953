"""Ingest."""
