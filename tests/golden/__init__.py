"""Tests: golden."""
