"""Tests: oracle."""
