"""Stock lists in the ledger: each is the state of the stock on a day, and every one that was read is kept."""

from collections.abc import Mapping
from datetime import date
from pathlib import Path

import polars as pl

from pipeline import formats
from pipeline.config import Market
from pipeline.errors import ExportError
from pipeline.ingest.choice import MappedExport
from pipeline.ingest.decided import FORGOTTEN
from pipeline.ingest.normalise import Normalised
from pipeline.ingest.readers import TextTable
from pipeline.ingest.stock import each_cell_once, with_stock_columns
from pipeline.ledger import Ledger

_FORGOTTEN = tuple(relation for relation in FORGOTTEN if relation != "stock_lists")
"""What is cleared of a list before it is read again: the days that it is of stay."""


def is_stock_list(export: MappedExport) -> bool:
    """Whether an export is a stock list."""
    return export.export_map.holds == "stock"


def refuse_day_to_come(listed_on: date | None, *, as_of: date) -> None:
    """Raise ExportError where a stock list is said to be of a day that is still to come."""
    if listed_on is not None and listed_on > as_of:
        raise ExportError(
            f"a stock list cannot be of {listed_on}: that day is still to come (it is {as_of}); nothing was read",
            "give the day on which the list was true with --on.",
        )


def refuse_lists_of_one_day(
    ledger: Ledger, exports: Mapping[Path, MappedExport], listed_on: date | None
) -> None:
    """Raise ExportError where two new lists of one map would be of one day, or a day is given and there is no list."""
    lists = {path: export for path, export in exports.items() if is_stock_list(export)}
    if listed_on is not None and not lists:
        raise ExportError(
            "--on says which day a stock list is of, and none of these files is a stock list; nothing was read",
            'leave --on out, or give the file a map with holds = "stock".',
        )
    first: dict[str, Path] = {}
    for path, export in lists.items():
        known = ledger.read("staging/list_days", map_name=export.map_name)["file_sha256"]
        if export.file.sha256 in known and listed_on is None:
            continue
        before = first.setdefault(export.map_name, path)
        if exports[before].file.sha256 != export.file.sha256:
            raise ExportError(
                f"{before} and {path} are two stock lists by the map {export.map_name!r}, and a list is all of the "
                "stock on its day; nothing was read",
                "read them one at a time, each with its day (--on 2026-10-01); or, where each is a part of the stock, "
                "give each a map of its own.",
            )


def day_to_keep(ledger: Ledger, export: MappedExport, listed_on: date | None, *, as_of: date) -> date | None:
    """Return the day that a list is to be kept for, None where it is kept for it already.

    A list that was read before stays of the days that it was of, unless another day is said.
    """
    days = ledger.read("staging/list_days", map_name=export.map_name)
    own = days.filter(file_sha256=export.file.sha256)
    if listed_on is None:
        return None if own.height else as_of
    return None if own.filter(pl.col("listed_on") == listed_on, "counts").height else listed_on


def forget_list(ledger: Ledger, sha256: str) -> bool:
    """Forget what was read of a file, to read it again; return whether it had been read as an export of sales."""
    was_sales = ledger.read("staging/file_rows", file_sha256=sha256).height > 0
    for relation in _FORGOTTEN:
        ledger.run(f"staging/forget_{relation}", file_sha256=sha256)
    return was_sales


def write_list(
    ledger: Ledger, rows: Normalised, table: TextTable, export: MappedExport, market: Market, *, where: str
) -> None:
    """Keep the pairs of a part of a list, and the cells of it that could not be read."""
    pairs, unread = with_stock_columns(rows.staged, table, export.export_map, market, where=where)
    ledger.write("staging/stock_rows", pairs, file_sha256=export.file.sha256)
    ledger.write("staging/unread_cells", each_cell_once(unread, rows.unread), file_sha256=export.file.sha256)


def keep_day(ledger: Ledger, export: MappedExport, day: date | None, *, is_said: bool) -> None:
    """Keep that a list is of a day (None: no other than before), as the last that was read by its map.

    A day that the owner says takes the place of that of the reading, which nobody said.
    """
    sha256, map_name = export.file.sha256, export.map_name
    ledger.run("staging/move_stock_lists", file_sha256=sha256, map_name=map_name)
    if day is not None:
        ledger.run("staging/forget_list_days", file_sha256=sha256, map_name=map_name, listed_on=day)
        ledger.run(
            "staging/stock_lists", file_sha256=sha256, map_name=map_name, listed_on=day, is_said=is_said
        )


def said_of_list(ledger: Ledger, export: MappedExport) -> tuple[date, tuple[str, ...]]:
    """Return the last day that a list is of, and what is to be said of it beside other lists of its map."""
    days = ledger.read("staging/list_days", map_name=export.map_name)
    own = days.filter(file_sha256=export.file.sha256)["listed_on"].to_list()
    said = f"the stock list of {' and '.join(map(formats.day, own))}"
    kept = ledger.read("staging/kept_rulings")
    if kept.filter(kind="remove", record_id=export.file.sha256).height:
        return own[-1], (f"{said}, which you removed: it does not count (`pairband undo` brings it back)",)
    latest = days.filter("counts").row(-1, named=True)
    if latest["file_sha256"] != export.file.sha256:
        said += (
            f"; what is there now is that of {formats.day(latest['listed_on'])} (--on says that this one is of another "
            "day, too)"
        )
    return own[-1], (said,)
