"""Correct, remove and add records by the owner's words, and take decisions back."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path

import polars as pl

from pipeline.alike import find_alike
from pipeline.answers.understood.tables import TITLES
from pipeline.clock import day_of
from pipeline.config import load_market
from pipeline.errors import CorrectionError, UnknownName
from pipeline.ingest.put_right import PutRight, add, correct, remove, remove_file, undo
from pipeline.ledger import Ledger, open_ledger
from pipeline.schema import SOURCE_FIELDS


def read_words(words: Sequence[str]) -> dict[str, str]:
    """Return field → text of words such as "grade=8"; a field goes by its column's name or a dealer's word for it.

    Raises CorrectionError for a word without "=" or a field that is said twice, UnknownName for an unknown field.
    """
    called = {name: field for field, name in TITLES.items() if field in (*SOURCE_FIELDS, "price_basis")}
    called |= {name.replace("_", " "): name for name in (*SOURCE_FIELDS, "price_basis")}
    said: dict[str, str] = {}
    for word in words:
        name, mark, text = word.partition("=")
        if not mark:
            raise CorrectionError(
                f"{word!r} says no field", 'write field=value, such as grade=8 or "size=UK 9".'
            )
        found = find_alike(name.replace("_", " "), called)
        if found is None:
            raise UnknownName.among("field", name.strip(), called)
        field = called[found]
        if field in said:
            raise CorrectionError(f"{name.strip()} is said twice", "say it once.")
        said[field] = text
    return said


def correct_record(
    ledger_path: Path,
    market_path: Path,
    record: str,
    words: Sequence[str],
    *,
    reason: str,
    decided_at: datetime,
) -> PutRight:
    """Correct fields of a record (see `correct`)."""
    said = read_words(words)
    market = load_market(market_path)
    with open_ledger(ledger_path) as ledger:
        return correct(
            ledger, market, record, said, note=reason, ruled_at=decided_at, as_of=day_of(decided_at)
        )


def preview_correction(
    ledger_path: Path, market_path: Path, record: str, said: Mapping[str, str], *, decided_at: datetime
) -> PutRight:
    """Return what a correction would change (see `correct`), and keep nothing of it."""
    market = load_market(market_path)
    with open_ledger(ledger_path) as ledger:
        try:
            with ledger.transaction():
                found = correct(
                    ledger, market, record, said, note="", ruled_at=decided_at, as_of=day_of(decided_at)
                )
                raise _OnlyLookedAt
        except _OnlyLookedAt:
            return found


class _OnlyLookedAt(Exception):
    """What was done in a transaction is not to be kept."""


def add_sale(
    ledger_path: Path, market_path: Path, said: Mapping[str, str], *, reason: str, decided_at: datetime
) -> PutRight:
    """Add a sale by hand (see `add`), to a ledger that is made where there is none."""
    market = load_market(market_path)
    with open_ledger(ledger_path, create=True) as ledger:
        return add(ledger, market, said, note=reason, ruled_at=decided_at, as_of=day_of(decided_at))


def remove_records(
    ledger_path: Path, market_path: Path, record_ids: Sequence[str], *, reason: str, decided_at: datetime
) -> int:
    """Remove records by their ids (see `remove`)."""
    market = load_market(market_path)
    with open_ledger(ledger_path) as ledger:
        return remove(ledger, market, record_ids, note=reason, ruled_at=decided_at, as_of=day_of(decided_at))


def remove_rows_of_file(
    ledger_path: Path, market_path: Path, file_name: str, *, reason: str, decided_at: datetime
) -> None:
    """Remove all rows of a file (see `remove_file`)."""
    market = load_market(market_path)
    with open_ledger(ledger_path) as ledger:
        remove_file(ledger, market, file_name, note=reason, ruled_at=decided_at, as_of=day_of(decided_at))


def stock_lists_of(ledger: Ledger, file_name: str | None) -> list[tuple[date, int]]:
    """Return the days of the stock lists of a name that count, and how many pairs each has."""
    return ledger.read("marts/lists_of_file", file_name=file_name).select("listed_on", "pairs").rows()


def undo_decision(
    ledger_path: Path, market_path: Path, decision: str | None, *, undone_at: datetime
) -> pl.DataFrame:
    """Take a decision back, or those made last (see `undo`)."""
    market = load_market(market_path)
    with open_ledger(ledger_path) as ledger:
        return undo(ledger, market, decision, as_of=day_of(undone_at))
