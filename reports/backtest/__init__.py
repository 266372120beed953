"""Backtest."""
