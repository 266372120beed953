"""Ingest exports: one transaction a file, and an account of what came of every row."""

import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import partial
from pathlib import Path

import polars as pl

from pipeline import __version__
from pipeline.alike import fold_all
from pipeline.config import Market
from pipeline.errors import ExportError, MapError, PairbandError
from pipeline.ingest.choice import MappedExport, map_of_lots, read_mapped
from pipeline.ingest.contacts import Masked
from pipeline.ingest.decided import (
    FORGOTTEN,
    Applied,
    apply_decisions,
    decided_places,
    has_decisions,
    lost_decisions,
)
from pipeline.ingest.money import market_rates
from pipeline.ingest.normalise import Normalised, normalise
from pipeline.ingest.quarantine import is_quarantine_list
from pipeline.ingest.readers import TextTable
from pipeline.ingest.readers.encoding import ASCII, find_mojibake
from pipeline.ingest.readers.export import is_lock_file, open_export
from pipeline.ingest.readers.limits import LARGEST_FILE
from pipeline.ingest.replacement import (
    Earlier,
    Place,
    Replaced,
    Wish,
    earlier_of,
    moved_places,
    place_of,
    refuse_two_versions,
    what_changed,
)
from pipeline.ingest.same import derive_sales
from pipeline.ingest.stock_lists import (
    day_to_keep,
    forget_list,
    is_stock_list,
    keep_day,
    refuse_day_to_come,
    refuse_lists_of_one_day,
    said_of_list,
    write_list,
)
from pipeline.ingest.taken import LIKELY, TAKEN, Offered, Taken, sentences, together
from pipeline.ingest.title_memory import TitleMemory
from pipeline.ledger import Ledger
from pipeline.read_ahead import read_ahead
from pipeline.rests_on import reading_digest
from pipeline.state import was_written

Progress = Callable[[str, int, int], None]
CHUNK_ROWS = 245_760
"""How many rows are normalised at once: it bounds the memory that a large file takes."""

KEPT_BYTES = 16_000_000
"""Of several files, larger ones are not kept in memory between the check of all and the turn of each."""


@dataclass(frozen=True)
class Reason:
    """Why rows are in quarantine, or cells were not read: how many, and the first of them."""

    kind: str
    field: str
    reason: str
    rows: int
    sheet: str
    row_number: int
    value: str | None


@dataclass(frozen=True)
class FileOutcome:
    """What came of one file: rows read + further pairs = recorded + duplicates + quarantined + put aside.

    Headings and totals are no rows. Recorded are the sales that no earlier file had, put aside the rows that are no
    sale of one pair, further pairs those beyond one of rows with a quantity.
    `listed_on` is the day that a stock list is of, None of an export of sales; its pairs are its recorded rows.
    `unchanged` says that the file had been read
    before in the same way, so that nothing was done; its counts are then those of that reading. `notes`
    are sentences on the file, and on what the reading masked, rounded or took for another word. `taken`
    holds those words and `likely` the silhouettes offered for titles in which none was found; both are empty where
    nothing was done. `replaced` says what the file changed of earlier readings that it took the place of.
    """

    name: str
    file_sha256: str
    map_name: str
    read: int
    recorded: int
    duplicates: int
    quarantined: int
    put_aside: int
    further_pairs: int
    unchanged: bool
    reasons: tuple[Reason, ...]
    flags: dict[str, int]
    notes: tuple[str, ...]
    taken: tuple[Taken, ...]
    likely: tuple[Offered, ...]
    replaced: tuple[Replaced, ...]
    listed_on: date | None = None


@dataclass(frozen=True)
class IngestRun:
    """What a run did, file by file, and notes on the run as a whole."""

    files: tuple[FileOutcome, ...]
    notes: tuple[str, ...]


def ingest_files(
    ledger: Ledger,
    market: Market,
    files: Sequence[Path],
    *,
    map_name: str | None = None,
    skip_unreadable: bool = False,
    wish: Wish | None = None,
    listed_on: date | None = None,
    as_of: date,
    loaded_at: datetime,
    on_progress: Progress | None = None,
) -> IngestRun:
    """Read exports into the ledger and derive the sales again, each file in one transaction.

    All files are opened and matched to a map before the first is written. Reading a file again in the
    same way changes nothing; under a corrected map or market file, or once the day of a sale that was still to
    come is there, its rows replace those of before. A file that changed since takes the place of its earlier reading,
    and one of another period adds to it (see `pipeline.ingest.again`); `wish` is what the owner says of that. A stock
    list is kept as the state of the stock on the day `listed_on`; left out, on the day of its reading, unless it was
    read before (see `pipeline.ingest.stock_lists`). A file that a map of lots is for is left alone, and
    so are what pairband itself wrote and the lock file of a workbook that is open; a note says so.
    `skip_unreadable` leaves out files that cannot be read, with a note, where others can be.
    `on_progress` gets a file's name, the rows done and the rows to do (1 while it is opened), again and again; what it
    raises ends the reading, and of the file that is being read nothing is kept. Raises ExportError and MapError
    as the readers and the choice of a map do, ExportError for all where several files cannot be read, MapError
    where no file of sales or stock is among them (the ledger is then unchanged), LedgerError.
    """
    if map_name is not None:
        market.export_map(map_name)
    left = {path: no_sales for path in files if (no_sales := _no_sales(path, market, map_name))}
    files = [path for path in files if path not in left]
    if left and not files:
        path, (what, remedy) = next(iter(left.items()))
        raise MapError(f"{path} {what}, and no sales", remedy)
    refuse_day_to_come(listed_on, as_of=as_of)
    rates = market_rates(market)
    wish = wish or Wish()
    on_progress = on_progress or _silent
    opened, unreadable = _open_all(ledger, files, market, map_name, wish, on_progress)
    exports = {path: export for path, (export, _) in opened.items()}
    own = [path for path in unreadable if exports and _is_own(path)]
    faults = {path: fault for path, fault in unreadable.items() if path not in own}
    if faults and not (skip_unreadable and exports):
        raise _refusal(faults, of=len(files))
    places = {path: place_of(path.name, found, wish) for path, (_, found) in opened.items()}
    kept = {path: export for path, export in exports.items() if export is not None}
    refuse_lists_of_one_day(ledger, kept, listed_on)
    if not wish.add:
        refuse_two_versions(kept)
    [run_id] = ledger.read("staging/next_run")["run_id"].to_list()
    step = _Step(ledger, market, rates, run_id, listed_on, as_of, loaded_at, on_progress)
    outcomes = tuple(
        step.take(export or _read(path, market, map_name), places[path]) for path, export in exports.items()
    )
    notes = [f"{path}: not read: it {what}" for path, (what, _) in left.items()]
    notes += [f"{path}: not read: pairband wrote it" for path in own]
    notes += [f"{path}: not read: {fault.what}" for path, fault in faults.items()]
    return IngestRun(outcomes, (*notes, *_run_notes(rates, as_of)))


def _no_sales(path: Path, market: Market, map_name: str | None) -> tuple[str, str] | None:
    """Return (what, what to do) of a file that is known to hold no sales before it is opened, else None."""
    if is_lock_file(path):
        return (
            "is what a spreadsheet program leaves while a file is open",
            "close the file, and name it itself.",
        )
    if is_quarantine_list(path):
        return (
            "is a list of rows in quarantine that pairband wrote",
            "correct the exports, and read those again.",
        )
    if map_name is None and (lots := map_of_lots(path, market)) is not None:
        return f"holds lots, by the map {lots!r}", "`pairband lots FILE` reads it."
    return None


def _open_all(
    ledger: Ledger,
    files: Sequence[Path],
    market: Market,
    map_name: str | None,
    wish: Wish,
    on_progress: Progress,
) -> tuple[dict[Path, tuple[MappedExport | None, tuple[Earlier, ...]]], dict[Path, PairbandError]]:
    """Return each file that can be read with the earlier readings of it, and the errors of others.

    The file is None where it is to be read again in its turn.
    """
    opened: dict[Path, tuple[MappedExport | None, tuple[Earlier, ...]]] = {}
    faults: dict[Path, PairbandError] = {}
    alone = len(files) == 1
    names = fold_all(path.name for path in files)
    for path, name in zip(files, names, strict=True):
        on_progress(path.name, 0, 1)
        try:
            export = _read(path, market, map_name)
        except PairbandError as exc:
            faults[path] = exc
            continue
        kept = _keep_if_small(export, alone=alone or is_stock_list(export) or names.count(name) > 1)
        opened[path] = (kept, earlier_of(ledger, export, wish, alone=alone))
    return opened, faults


def _is_own(path: Path) -> bool:
    """Whether a file that is no export was written by pairband, at the owner's wish."""
    try:
        if not path.is_file() or path.stat().st_size > LARGEST_FILE:
            return False
        with path.open("rb") as file:
            return was_written(hashlib.file_digest(file, "sha256").hexdigest())
    except OSError:
        return False


def _refusal(faults: Mapping[Path, PairbandError], *, of: int) -> PairbandError:
    """Return the error to raise where files cannot be read: nothing was read of the others either."""
    first, *more = faults.values()
    without = "or say --skip-unreadable to read the others without "
    if not more:
        return first if of == 1 else type(first)(first.what, f"{first.remedy}\n{without}it.".strip())
    each = "".join(f"\n  {fault.what}\n    {fault.remedy}".rstrip() for fault in faults.values())
    return ExportError(
        f"{len(faults)} of {of} files cannot be read, so none was:{each}",
        f"correct them, leave them out, {without}them.",
    )


def _read(path: Path, market: Market, map_name: str | None) -> MappedExport:
    return read_mapped(open_export(path), market, map_name, ("sales", "stock"))


def _keep_if_small(export: MappedExport, *, alone: bool) -> MappedExport | None:
    """Return the export, or None where it is to be read again when its turn comes, to save memory."""
    return export if alone or export.file.size_bytes <= KEPT_BYTES else None


def _silent(name: str, done: int, total: int) -> None:
    """Tell nobody."""


def _run_notes(rates: pl.DataFrame, as_of: date) -> tuple[str, ...]:
    last = rates["day"].max()
    if isinstance(last, date) and last < as_of:
        return (
            f"exchange rates end on {last}: sales after it take those of that day; "
            "for later ones install pairband afresh, or give a file of rates (`[rates]` in the market file)",
        )
    return ()


@dataclass(frozen=True)
class _Reading:
    """What reading a file altered, in words; what it took for another word, and the names that it offers."""

    altered: tuple[str, ...]
    taken: pl.DataFrame
    likely: pl.DataFrame


_Part = tuple[TextTable, Normalised]
"""A part of a file as text, and what its rows came to."""


@dataclass(frozen=True)
class _Step:
    """What each file of a run is read with."""

    ledger: Ledger
    market: Market
    rates: pl.DataFrame
    run_id: int
    listed_on: date | None
    as_of: date
    loaded_at: datetime
    on_progress: Progress

    def take(self, export: MappedExport, place: Place) -> FileOutcome:
        """Read one file into the ledger, unless it has been read in the same way before."""
        digest = reading_digest(export.export_map, self.market, self.rates)
        sha256 = export.file.sha256
        if is_stock_list(export):
            return self._take_list(export, digest)
        unchanged = self._is_read(sha256, digest) and not place.replaces
        reading = _Reading((), together((), TAKEN), together((), LIKELY))
        if not unchanged:
            with self.ledger.transaction():
                reading = self._replace(export, digest, place)
        return self._outcome(export, reading, place, unchanged=unchanged)

    def _take_list(self, export: MappedExport, digest: str) -> FileOutcome:
        """Keep a stock list as the state of its day, unless that is kept already."""
        sha256, name = export.file.sha256, export.file.path.name
        is_read = self._is_read(sha256, digest)
        day = day_to_keep(self.ledger, export, self.listed_on, as_of=self.as_of)
        reading = _Reading((), together((), TAKEN), together((), LIKELY))
        if not is_read or day is not None:
            with self.ledger.transaction():
                if not is_read:
                    reading = self._replace_list(export, digest)
                keep_day(self.ledger, export, day, is_said=self.listed_on is not None)
                self._count(sha256, name)
        outcome = self._outcome(export, reading, Place(), unchanged=is_read and day is None)
        listed_on, notes = said_of_list(self.ledger, export)
        return replace(outcome, listed_on=listed_on, notes=(*notes, *outcome.notes))

    def _replace_list(self, export: MappedExport, digest: str) -> _Reading:
        """Put the pairs of a stock list in the place of those that it had when it was read in another way."""
        sha256, name, where = export.file.sha256, export.file.path.name, str(export.file.path)
        was_sales = forget_list(self.ledger, sha256)
        masked, rounded = Masked(), 0
        taken, likely = [], []
        for part, rows in self._normalised(export):
            write_list(self.ledger, rows, part, export, self.market, where=where)
            self.ledger.write("staging/quarantine", rows.quarantine, file_sha256=sha256, file_name=name)
            masked += rows.masked
            rounded += rows.rounded
            taken.append(rows.taken)
            likely.append(rows.likely)
        self._note_file(export, digest)
        if was_sales:
            apply_decisions(self.ledger, self.market, self.rates, as_of=self.as_of)
            derive_sales(self.ledger)
        return _Reading(_altered(masked, rounded), together(taken, TAKEN), together(likely, LIKELY))

    def _note_file(self, export: MappedExport, digest: str) -> None:
        self.ledger.run(
            "staging/source_files",
            file_sha256=export.file.sha256,
            file_name=export.file.path.name,
            map_name=export.map_name,
            reading_digest=digest,
            size_bytes=export.file.size_bytes,
            rows_read=sum(table.rows_read for table in export.tables),
            run_id=self.run_id,
        )

    def _count(self, sha256: str, name: str) -> None:
        """Keep that this run changed something, and what came of the rows of a file."""
        self.ledger.run(
            "staging/runs",
            run_id=self.run_id,
            loaded_at=self.loaded_at.replace(tzinfo=None),
            as_of=self.as_of,
            program_version=__version__,
        )
        [counts] = self.ledger.read("staging/file_counts", file_sha256=sha256).to_dicts()
        self.ledger.run("staging/run_files", run_id=self.run_id, file_sha256=sha256, file_name=name, **counts)

    def _is_read(self, sha256: str, digest: str) -> bool:
        """Whether the file was read in this way, and no sale that was still to come then has come since."""
        known = self.ledger.read("staging/known_file", file_sha256=sha256).to_dicts()
        return any(
            file["reading_digest"] == digest and (file["waits_for"] is None or self.as_of < file["waits_for"])
            for file in known
        )

    def _replace(self, export: MappedExport, digest: str, place: Place) -> _Reading:
        """Put the rows of a file in the place of those that it, or an earlier version of it, had before.

        Return what the reading altered, decisions that have lost their rows among it.
        """
        ledger, sha256, name = self.ledger, export.file.sha256, export.file.path.name
        places = lost = None
        if decided := has_decisions(ledger):
            places = moved_places(decided_places(ledger), place, sha256)
            lost = lost_decisions(ledger)
            were_removed = _were_removed(ledger, place)
        self._forget(sha256, place)
        total = sum(table.cells.height for table in export.tables)
        [row_id] = ledger.read("staging/next_row")["row_id"].to_list()
        done = rounded = 0
        masked = Masked()
        taken, likely = [], []
        for part, rows in read_ahead(self._normalised(export)):
            self._write(rows, sha256, name, row_id=row_id)
            row_id += rows.staged.height
            masked += rows.masked
            rounded += rows.rounded
            taken.append(rows.taken)
            likely.append(rows.likely)
            done += part.cells.height
            self.on_progress(name, done, total)
        self._note_file(export, digest)
        if decided:
            applied = apply_decisions(ledger, self.market, self.rates, as_of=self.as_of, places=places)
        derive_sales(ledger)
        self._count(sha256, name)
        altered = _altered(masked, rounded)
        if lost is not None:
            altered += (*_gone(lost, lost_decisions(ledger)), *_not_applied(applied), *self._removed(sha256))
            altered += were_removed
        return _Reading(altered, together(taken, TAKEN), together(likely, LIKELY))

    def _removed(self, sha256: str) -> tuple[str, ...]:
        """Return in words how many rows of a file do not count because the owner has removed them."""
        rows = int(self.ledger.read("staging/removed_count", file_sha256=sha256).item())
        do_not = "does not" if rows == 1 else "do not"
        return (f"{_rows(rows)} removed by your decisions {do_not} count",) if rows else ()

    def _forget(self, sha256: str, place: Place) -> None:
        """Forget what the ledger has of a file and of the readings that it takes the place of."""
        for earlier in place.replaces:
            changed = what_changed(earlier)
            self.ledger.run(
                "staging/replaced_files",
                file_sha256=earlier.file_sha256,
                replaced_by=sha256,
                replaced_in=self.run_id,
                unchanged=changed.unchanged,
                changed=changed.changed,
                gone=changed.gone,
            )
        for forgotten in (sha256, *(earlier.file_sha256 for earlier in place.replaces)):
            for relation in FORGOTTEN:
                self.ledger.run(f"staging/forget_{relation}", file_sha256=forgotten)

    def _normalised(self, export: MappedExport) -> Iterator[_Part]:
        """Yield the rows of a file in parts."""
        titles, where, name = TitleMemory(self.market), str(export.file.path), export.file.path.name
        done, total = 0, sum(table.cells.height for table in export.tables)
        for table in export.tables:
            for chunk in _chunks(table):
                yield (
                    chunk,
                    normalise(
                        chunk,
                        export.export_map,
                        self.market,
                        self.rates,
                        as_of=self.as_of,
                        where=where,
                        titles=titles,
                        heed=partial(self.on_progress, name, done, total),
                    ),
                )
                done += chunk.cells.height

    def _write(self, rows: Normalised, sha256: str, name: str, *, row_id: int) -> None:
        staged = rows.staged.with_row_index("row_id", offset=row_id)
        self.ledger.write("staging/staged_rows", staged, file_sha256=sha256)
        self.ledger.write("staging/source_rows", staged.select("row_id", rows.cells))
        self.ledger.write("staging/quarantine", rows.quarantine, file_sha256=sha256, file_name=name)
        self.ledger.write("staging/unread_cells", rows.unread, file_sha256=sha256)
        if rows.reversals.height:
            self.ledger.write("staging/reversals", rows.reversals, file_sha256=sha256)

    def _outcome(
        self, export: MappedExport, reading: _Reading, place: Place, *, unchanged: bool
    ) -> FileOutcome:
        sha256 = export.file.sha256
        [counts] = self.ledger.read("staging/last_counts", file_sha256=sha256).to_dicts()
        reasons = self.ledger.read("staging/reasons", file_sha256=sha256)
        flags = self.ledger.read("staging/file_flags", file_sha256=sha256)
        return FileOutcome(
            name=export.file.path.name,
            file_sha256=sha256,
            map_name=export.map_name,
            read=counts["rows_read"],
            recorded=counts["recorded"],
            duplicates=counts["duplicates"],
            quarantined=counts["quarantined"],
            put_aside=counts["put_aside"],
            further_pairs=counts["further_pairs"],
            unchanged=unchanged,
            reasons=tuple(
                Reason(row.pop("kind"), row.pop("field"), row.pop("reason"), row.pop("row_count"), **row)
                for row in reasons.to_dicts()
            ),
            flags=dict(flags.rows()),
            notes=(
                *_notes(export),
                *_beside(place),
                *reading.altered,
                *sentences(reading.taken),
            ),
            taken=tuple(Taken(*row) for row in reading.taken.rows()),
            likely=tuple(Offered(*row) for row in reading.likely.rows()),
            replaced=tuple(what_changed(earlier) for earlier in place.replaces),
        )


def _chunks(table: TextTable) -> list[TextTable]:
    """Return the table in parts of CHUNK_ROWS rows; the faults go with the first."""
    starts = range(0, max(table.cells.height, 1), CHUNK_ROWS)
    return [
        TextTable(
            sheet=table.sheet,
            cells=table.cells.slice(start, CHUNK_ROWS),
            row_numbers=table.row_numbers.slice(start, CHUNK_ROWS),
            faults=table.faults if start == 0 else table.faults.clear(),
            numbers_are_plain=table.numbers_are_plain,
        )
        for start in starts
    ]


def _notes(export: MappedExport) -> tuple[str, ...]:
    notes = [note for table in export.tables for note in table.notes]
    notes += [
        garbled
        for table in export.tables
        if table.encoding != ASCII and (garbled := find_mojibake(table.cells, table.row_numbers)) is not None
    ]
    if export.dropped:
        notes.append(f"columns of personal data were not read: {', '.join(export.dropped)}")
    return tuple(dict.fromkeys(notes))


def _beside(place: Place) -> tuple[str, ...]:
    """Return in words which earlier readings of the file's name are kept beside it."""
    return tuple(
        f"what was read of an earlier {one.name} is kept: it has {_rows(one.alike.gone.height)} not in this one"
        for one in place.beside
    )


def _were_removed(ledger: Ledger, place: Place) -> tuple[str, ...]:
    """Return in words which earlier readings of the file's name the owner has removed: this version counts."""
    earlier = [one.file_sha256 for one in (*place.replaces, *place.beside)]
    kept = ledger.read("staging/kept_rulings").filter(pl.col("record_id").is_in(earlier), kind="remove")
    return tuple(
        f"you removed an earlier {row['value']} on {row['ruled_at']:%Y-%m-%d}"
        f"{': ' + row['note'] if row['note'] else ''}; this version of it counts "
        f"(`pairband remove --file {row['value']}` removes it too)"
        for row in kept.to_dicts()
    )


def _rows(number: int) -> str:
    return "1 row that is" if number == 1 else f"{number:,} rows that are"


def _gone(before: pl.DataFrame, now: pl.DataFrame) -> tuple[str, ...]:
    """Return in words which decisions have lost their rows by what was read."""
    new = now.join(before, on=["ruling_id", "lost_key"], how="anti")
    return tuple(
        f"your decision {row['kind']!r} on {row['lost_key']} stands for no sale now: its row is gone"
        for row in new.to_dicts()
    )


def _not_applied(applied: Applied) -> tuple[str, ...]:
    """Return in words which corrections a row cannot be read with now, so that it stays as it was read."""
    return tuple(
        f"your correction of {row['row_key']} does not count: {row['field']} {row['value']!r}: {row['reason']}"
        for row in applied.refused.unique("row_key", maintain_order=True).to_dicts()
    )


def _altered(masked: Masked, rounded: int) -> tuple[str, ...]:
    """Return in words what was kept otherwise than it was written."""
    changes = []
    if masked != Masked():
        emails = f"{masked.emails:,} e-mail {'address' if masked.emails == 1 else 'addresses'}"
        telephones = f"{masked.telephones:,} telephone {'number' if masked.telephones == 1 else 'numbers'}"
        changes.append(f"masked in the texts that are kept: {emails} and {telephones}")
    if rounded:
        amounts = "1 amount" if rounded == 1 else f"{rounded:,} amounts"
        changes.append(f"{amounts} of more than four decimals rounded half up to the currency's minor unit")
    return tuple(changes)
