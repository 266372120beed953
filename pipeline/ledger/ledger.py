"""Open the ledger, run named statements in it, and keep each step in one transaction."""

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import duckdb
import polars as pl

from pipeline.errors import LedgerError
from pipeline.ledger.faults import (
    engine_words,
    opening_fault,
    refuse_name,
    refuse_place,
    running_fault,
    way_back,
)
from pipeline.ledger.files import finish_replacing, logs_of
from pipeline.ledger.incoming import INCOMING, Incoming
from pipeline.ledger.migrations import migrate
from pipeline.shipped import statement

_SETTINGS: dict[str, str] = {
    "enable_external_access": "false",
    "python_enable_replacements": "false",
    "autoinstall_known_extensions": "false",
}

BATCH = 65_536
"""How many rows leave the engine at a time where they are never all in memory."""


class Ledger:
    """An open ledger; use it as a context manager, or close it."""

    def __init__(
        self, connection: duckdb.DuckDBPyConnection, path: Path, *, read_only: bool, is_newest: bool
    ) -> None:
        self._connection = connection
        self.path = path
        self.read_only = read_only
        self.is_newest = is_newest
        self._handed = Incoming()
        self._in_transaction = False
        connection.register(INCOMING, self._handed)

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
        if self._in_transaction:
            yield self
            return
        with self._translated():
            self._connection.begin()
        self._in_transaction = True
        try:
            yield self
            with self._translated():
                self._connection.commit()
        except BaseException:
            with suppress(
                duckdb.Error, RuntimeError
            ):  # the engine has rolled back by itself where it could not go on
                self._connection.rollback()
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
        """Run the named statement, which returns nothing of interest; values are bound."""
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

    def close(self) -> None:
        """Close the file."""
        self._connection.close()

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

    @contextmanager
    def _translated(self) -> Iterator[None]:
        with engine_words(running_fault, self.path):
            yield


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
    finish_replacing(file)
    refuse_place(path, read_only=read_only, create=create)
    is_settled = file.exists() and not any(log.exists() for log in logs_of(file))
    with engine_words(opening_fault, path):
        connection = duckdb.connect(str(file), read_only=read_only, config=_settings())
        try:
            connection.execute(statement("schema/session")).fetchall()
            if is_settled:
                _refuse_cut(connection, path)
            is_newest = migrate(connection, path, read_only=read_only, create=create, as_it_is=as_it_is)
        except BaseException:
            connection.close()
            raise
    return Ledger(connection, path, read_only=read_only, is_newest=is_newest)


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
