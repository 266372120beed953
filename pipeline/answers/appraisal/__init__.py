"""Appraisal."""
