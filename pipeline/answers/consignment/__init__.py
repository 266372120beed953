"""Consignment."""
