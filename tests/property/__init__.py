"""Tests: property."""
