"""Tests that read as statements of the trade."""
