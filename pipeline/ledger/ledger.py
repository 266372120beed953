"""Open the ledger, run named statements in it, and keep each step in one transaction."""

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from time import monotonic, sleep
from types import TracebackType
from typing import Any, Self

import duckdb
import polars as pl

from pipeline.errors import LedgerError
from pipeline.ledger.faults import (
    engine_words,
    held_by_another,
    opening_fault,
    refuse_name,
    refuse_place,
    running_fault,
    way_back,
)
from pipeline.ledger.files import finish_replacing, logs_of
from pipeline.ledger.incoming import INCOMING, Incoming
from pipeline.ledger.migrations import migrate
from pipeline.ledger.sharing import Seat, seat_at
from pipeline.shipped import statement

_SETTINGS: dict[str, str] = {
    "enable_external_access": "false",
    "python_enable_replacements": "false",
    "autoinstall_known_extensions": "false",
}

_OUTSIDE_PATIENCE = 3.0
"""Seconds that a ledger that is shared waits for another process to let it go."""

BATCH = 65_536
"""How many rows leave the engine at a time where they are never all in memory."""


class Ledger:
    """An open ledger; use it as a context manager, or close it.

    It may be used and closed by another thread than the one that opened it, by one at a time. One that is shared and
    opened for reading stays at what the ledger held when it was opened.
    """

    def __init__(
        self,
        connection: duckdb.DuckDBPyConnection,
        path: Path,
        *,
        read_only: bool,
        is_newest: bool,
        seat: Seat,
        handed: Incoming,
    ) -> None:
        self._connection = connection
        self.path = path
        self.read_only = read_only
        self.is_newest = is_newest
        self._seat = seat
        self._handed = handed
        self._in_transaction = False
        self._is_open = True
        self._undisturbed = threading.Lock()
        seat.work.note_open(self)

    @property
    def file(self) -> Path:
        """The file itself, wherever links lead to it from."""
        return Path(os.path.realpath(self.path))

    @property
    def connection(self) -> duckdb.DuckDBPyConnection:
        """The engine's own connection, for the stages that count in the database."""
        return self._connection

    @contextmanager
    def transaction(self) -> Iterator[Self]:
        """Keep all that is done inside, or nothing of it; one within another is part of it."""
        if self._in_transaction or self._at_a_moment:
            yield self
            return
        with self._translated():
            self._connection.begin()
        self._in_transaction = True
        try:
            yield self
            with self._undisturbed, self._translated():
                self._seat.work.stop_if_asked()
                self._connection.commit()
        except BaseException:
            self._roll_back()
            raise
        finally:
            self._in_transaction = False

    def read(self, name: str, **parameters: object) -> pl.DataFrame:
        """Return the rows of the named statement (such as "marts/sale_list"); values are bound."""
        with self._translated():
            return pl.DataFrame(self._connection.sql(statement(name), params=dict(parameters) or None))

    def batches(self, name: str, **parameters: object) -> Iterator[pl.DataFrame]:
        """Yield the rows of the named statement BATCH at a time, so that memory does not grow with them.

        Nothing else may be asked of the ledger before the last batch.
        """
        with self._translated():
            rows = self._connection.sql(statement(name), params=dict(parameters) or None)
            for batch in rows.to_arrow_reader(BATCH):
                yield pl.DataFrame(batch)

    @contextmanager
    def relation(self, name: str) -> Iterator[duckdb.DuckDBPyRelation]:
        """Give the named statement, which binds nothing, as a relation: its rows are read each time it is asked.

        What the engine raises of it inside is raised in words.
        """
        with self._translated():
            yield self._connection.sql(statement(name))

    def run(self, name: str, **parameters: object) -> None:
        """Run the named statement, which writes; values are bound.

        Raises LedgerError where the ledger is read-only and more than a temporary table would change.
        """
        with self._translated():
            self._connection.execute(statement(name), dict(parameters) or None).fetchall()

    def write(self, name: str, frame: pl.DataFrame, **parameters: object) -> None:
        """Run the named statement, which reads `frame` under the name `incoming`."""
        with self._incoming(frame):
            self.run(name, **parameters)

    def read_with(self, name: str, frame: pl.DataFrame, **parameters: object) -> pl.DataFrame:
        """Return the rows of the named statement, which reads `frame` under the name `incoming`."""
        with self._incoming(frame):
            return self.read(name, **parameters)

    def interrupt(self) -> None:
        """Give up the statement that runs, if one does; a commit that has begun goes on to its end."""
        if self._undisturbed.acquire(blocking=False):
            try:
                if self._is_open:
                    self._connection.interrupt()
            finally:
                self._undisturbed.release()

    def close(self) -> None:
        """Close the file."""
        with self._undisturbed:
            if not self._is_open:
                return
            self._is_open = False
        self._seat.work.note_closed(self)
        self._seat.leave(self._connection.close)

    def __del__(self) -> None:
        """Close the file where nobody did, so that no other waits for it."""
        self.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, exc: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @contextmanager
    def _incoming(self, frame: pl.DataFrame) -> Iterator[None]:
        self._handed.frame = frame
        try:
            yield
        finally:
            self._handed.clear()

    @property
    def _at_a_moment(self) -> bool:
        """Whether what is read is what the ledger held when it was opened."""
        return self._seat.shared and self.read_only

    def _roll_back(self) -> None:
        with self._undisturbed, suppress(duckdb.Error, RuntimeError):
            self._connection.rollback()  # the engine has done so by itself where it could not go on

    @contextmanager
    def _translated(self) -> Iterator[None]:
        try:
            with engine_words(running_fault, self.path):
                yield
        except BaseException:
            if self._at_a_moment and self._is_open:  # a statement that failed ends the moment for the engine
                self._roll_back()
                with suppress(duckdb.Error):
                    _stay_at_this_moment(self._connection)
            raise


def open_ledger(
    path: Path, *, read_only: bool = False, create: bool = False, as_it_is: bool = False
) -> Ledger:
    """Open the ledger at `path`, brought to the present version, or of an earlier one `as_it_is`.

    `create` makes a new one where there is none. Opened with `read_only`, the file is never changed.
    Raises LedgerError where it is missing, not a plain file, not to be written to, damaged, held by another
    process or of another version.
    """
    refuse_name(path, "the ledger")
    file = Path(os.path.realpath(path))
    with seat_at(file, writes=not read_only) as seat:
        if seat.is_first:
            finish_replacing(file)
        refuse_place(path, read_only=read_only, create=create)
        is_settled = seat.is_first and file.exists() and not any(log.exists() for log in logs_of(file))
        with engine_words(opening_fault, path):
            connection = _connect(file, seat, read_only=read_only)
            handed = Incoming()
            try:
                if seat.is_first:
                    connection.execute(statement("schema/session")).fetchall()
                if is_settled:
                    _refuse_cut(connection, path)
                connection.register(INCOMING, handed)
                if seat.shared and read_only:
                    _stay_at_this_moment(connection)
                is_newest = migrate(connection, path, read_only=read_only, create=create, as_it_is=as_it_is)
            except BaseException:
                connection.close()
                raise
        return Ledger(connection, path, read_only=read_only, is_newest=is_newest, seat=seat, handed=handed)


def _connect(file: Path, seat: Seat, *, read_only: bool) -> duckdb.DuckDBPyConnection:
    """Connect to the file: as it is wanted, or, where it is shared, as all who have it open do.

    Whoever is first to open a shared file opens it for writing if that can be, even to read, so that others can write
    meanwhile; while another process reads it, it is opened for reading.
    """
    if not seat.shared:
        return duckdb.connect(str(file), read_only=read_only, config=_settings())
    if not seat.is_first:
        return duckdb.connect(str(file), read_only=seat.engine_reads_only, config=_settings())
    may_write = os.access(file.parent, os.W_OK) and (not file.exists() or os.access(file, os.W_OK))
    ways = [way for way, can_be in ((False, may_write), (True, read_only)) if can_be]
    until, was_held = monotonic() + _OUTSIDE_PATIENCE, True
    while True:
        for engine_reads_only in ways:
            try:
                connection = duckdb.connect(str(file), read_only=engine_reads_only, config=_settings())
            except duckdb.IOException:
                is_last = engine_reads_only == ways[-1] and monotonic() > until
                is_held = held_by_another(file)
                if is_last or not (is_held or was_held):  # it may have been let go since it was tried
                    raise
                was_held = is_held
            else:
                seat.engine_reads_only = engine_reads_only
                return connection
        seat.work.stop_if_asked()
        sleep(0.1)


def _stay_at_this_moment(connection: duckdb.DuckDBPyConnection) -> None:
    """Have all that is read from now on be what the ledger holds now, and nothing be written."""
    connection.execute(statement("schema/stay_at_this_moment")).fetchall()
    connection.execute(statement("schema/tables")).fetchall()  # the moment is that of the first look


def _refuse_cut(connection: duckdb.DuckDBPyConnection, path: Path) -> None:
    """Raise LedgerError where the file is shorter than its blocks; the engine would find out in the midst."""
    [(block_bytes,)] = connection.execute(statement("schema/size")).fetchall()
    size = path.stat().st_size
    if size < block_bytes:
        raise LedgerError(
            f"{path} is cut short: it has {size:,} bytes and should have {block_bytes:,} at least; "
            "it was left as it is",
            way_back(path),
        )


def _settings() -> dict[str, Any]:
    return dict(_SETTINGS)
