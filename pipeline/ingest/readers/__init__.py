"""Read an exported file as text: one module a format, one shape that all of them return."""

from pipeline.ingest.readers.export import read_tables
from pipeline.ingest.readers.table import Hints, TextTable

__all__ = ["Hints", "TextTable", "read_tables"]
