"""What the owner has decided of single rows, applied: rows corrected, rows removed, sales added by hand.

Everything that follows from such decisions is made again from them, so that taking one back leaves no trace.
"""

from datetime import date
from typing import NamedTuple

import polars as pl

from pipeline.config import Market
from pipeline.ingest.normalise import normalise
from pipeline.ingest.readers import TextTable
from pipeline.ingest.rereading import BY_HAND, additions_by_map, read_again
from pipeline.ingest.same import key_rows
from pipeline.ingest.title_memory import TitleMemory
from pipeline.ledger import Ledger

FORGOTTEN = (
    *("source_rows", "corrected_rows", "removed_rows"),
    *("staged_rows", "stock_rows", "quarantine", "unread_cells", "reversals"),
    *("stock_lists", "source_files"),
)
"""The tables that are cleared of a file before it is read again; those that name staged rows come first."""


class Applied(NamedTuple):
    """What could not be applied, each row with row_key, field, value and reason.

    refused
        Rows that are no sale record with their corrections, and so stay as they were read.
    unread
        Cells and corrections that could not be read.
    """

    refused: pl.DataFrame
    unread: pl.DataFrame


def decided_places(ledger: Ledger) -> pl.DataFrame:
    """Return where the rows stand that decisions are about: file_sha256, sheet, row_number and row_key.

    To be asked for before any of them is read again, so that the decisions can follow them.
    """
    key_rows(ledger)
    return ledger.read("staging/decided_places")


def lost_decisions(ledger: Ledger) -> pl.DataFrame:
    """Return ruling_id, kind and lost_key of the decisions of which a row is gone, one row a key."""
    key_rows(ledger)
    return ledger.read("staging/lost_rulings")


def follow(ledger: Ledger, moves: pl.DataFrame) -> None:
    """Let decisions follow their rows: `moves` hold old_key and new_key, each old key once."""
    if moves.height:
        ledger.write("staging/follow", moves)


def apply_decisions(
    ledger: Ledger,
    market: Market,
    rates: pl.DataFrame,
    *,
    as_of: date,
    places: pl.DataFrame | None = None,
) -> Applied:
    """Make the corrected and removed rows, and those added by hand, again from the decisions that are kept.

    Decisions follow the rows that stand where they stood at `places` under other keys. To be called within a
    transaction, before the sales are derived.
    """
    ledger.run("staging/clear_corrected_rows")
    ledger.run("staging/clear_removed_rows")
    _stage_additions(ledger, market, rates, as_of=as_of)
    none = pl.DataFrame(schema=dict.fromkeys(("row_key", "field", "value", "reason"), pl.String))
    key_rows(ledger)
    if places is not None:
        follow(ledger, ledger.read_with("staging/moved_keys", places))
    ledger.run("staging/named_additions")
    ledger.run("staging/removed_rows")
    corrections = ledger.read("staging/kept_corrections")
    rows = ledger.read_with("staging/rows_of_keys", corrections.select("row_key"))
    if rows.is_empty():
        return Applied(none, none)
    reread = read_again(rows, corrections, market, rates, as_of=as_of)
    ledger.write("staging/corrected_rows", reread.staged)
    keys = rows.select("row_id", "row_key")
    return Applied(keys.join(reread.refused, on="row_id"), keys.join(reread.unread, on="row_id"))


def has_decisions(ledger: Ledger) -> bool:
    """Whether the owner has decided anything."""
    return bool(ledger.read("staging/decision_count").item())


def _stage_additions(ledger: Ledger, market: Market, rates: pl.DataFrame, *, as_of: date) -> None:
    """Stage the sales that were added by hand as the rows of one file; each is known by its decision's number."""
    for relation in FORGOTTEN:
        ledger.run(f"staging/forget_{relation}", file_sha256=BY_HAND)
    added = ledger.read("staging/kept_additions")
    if added.is_empty():
        return
    [row_id] = ledger.read("staging/next_row")["row_id"].to_list()
    titles = TitleMemory(market)
    for rows, export_map in additions_by_map(added, market):
        read = normalise(
            TextTable("", rows.drop("row_number"), rows["row_number"]),
            export_map,
            market,
            rates,
            as_of=as_of,
            where=BY_HAND,
            titles=titles,
        )
        staged = read.staged.with_row_index("row_id", offset=row_id)
        row_id += staged.height
        ledger.write("staging/staged_rows", staged, file_sha256=BY_HAND)
        ledger.write("staging/source_rows", staged.select("row_id", read.cells))
        ledger.write("staging/quarantine", read.quarantine, file_sha256=BY_HAND, file_name=BY_HAND)
        ledger.write("staging/unread_cells", read.unread, file_sha256=BY_HAND)
    ledger.run(
        "staging/source_files",
        file_sha256=BY_HAND,
        file_name=BY_HAND,
        map_name=BY_HAND,
        reading_digest=BY_HAND,
        size_bytes=0,
        rows_read=added.height,
        run_id=0,
    )
