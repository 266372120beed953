"""Ask the ledger what was understood of a file, or of all of them."""

from pathlib import Path

import polars as pl

from pipeline.answers.understood.answer import PLAIN, WORDS, Understood, understand
from pipeline.config import Market
from pipeline.errors import UnknownName
from pipeline.ingest.near_names import likely_names
from pipeline.ledger import Ledger

MOST_ODD = 100
"""The odd values of a kind that are listed; all are counted."""


def understood_file(ledger: Ledger, market: Market, file: Path | None) -> Understood:
    """Return what was understood of a file that was read, by its name; of all files where none is named.

    Raises UnknownName where no file of that name was read.
    """
    files = ledger.read("understood/files")
    if file is None:
        return understood_of(ledger, market, None)
    named = files.filter(pl.col("file_name") == file.name)
    if named.is_empty():
        raise UnknownName.among("file that was read", file.name, files["file_name"].to_list())
    return understood_of(ledger, market, named["file_sha256"][-1])


def understood_of(ledger: Ledger, market: Market, file_sha256: str | None) -> Understood:
    """Return what was understood of the file with that content; of all files where it is None."""
    frames = {
        name: ledger.read(f"understood/{name}", file_sha256=file_sha256)
        for name in ("ranges", "money", "sample", "uses", "nameless")
    }
    files = ledger.read("understood/files")
    frames["files"] = files if file_sha256 is None else files.filter(pl.col("file_sha256") == file_sha256)
    frames["fields"] = ledger.read(
        "understood/fields", file_sha256=file_sha256, words=list(WORDS), plain=list(PLAIN)
    )
    frames["oddities"] = ledger.read("understood/oddities", file_sha256=file_sha256, most=MOST_ODD)
    frames["likely"] = likely_names(frames["nameless"], market)
    return understand(frames, base_currency=market.base_currency)
