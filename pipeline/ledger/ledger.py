"""Open the ledger, run named statements in it, and keep each step in one transaction."""

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import duckdb
import polars as pl

from pipeline.errors import LedgerError
from pipeline.ledger.faults import opening_fault, refuse_place, running_fault, way_back
from pipeline.ledger.files import wal_of
from pipeline.ledger.incoming import INCOMING, Incoming
from pipeline.ledger.migrations import migrate
from pipeline.shipped import statement

_SETTINGS: dict[str, str] = {
    "enable_external_access": "false",
    "python_enable_replacements": "false",
    "autoinstall_known_extensions": "false",
}


_ENGINE_FAULTS = (duckdb.Error, pl.exceptions.ComputeError)
"""What a statement raises: polars passes on what the engine meets while it reads."""


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
            with suppress(duckdb.Error):  # the engine has rolled back by itself where it could not go on
                self._connection.rollback()
            raise
        finally:
            self._in_transaction = False

    def read(self, name: str, **parameters: object) -> pl.DataFrame:
        """Return the rows of the named statement (such as "marts/sale_list"); values are bound."""
        with self._translated():
            return pl.DataFrame(self._connection.sql(statement(name), params=dict(parameters) or None))

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
        try:
            yield
        except _ENGINE_FAULTS as exc:
            raise running_fault(exc, self.path) from exc


def open_ledger(
    path: Path, *, read_only: bool = False, create: bool = False, as_it_is: bool = False
) -> Ledger:
    """Open the ledger at `path`, brought to the present version, or of an earlier one `as_it_is`.

    `create` makes a new one where there is none. Opened with `read_only`, the file is never changed.
    Raises LedgerError where it is missing, no plain file, not to be written to, damaged, held by another
    process or of another version.
    """
    refuse_place(path, read_only=read_only, create=create)
    is_settled = path.exists() and not wal_of(path).exists()
    try:
        connection = duckdb.connect(str(path), read_only=read_only, config=_settings())
    except duckdb.Error as exc:
        raise opening_fault(exc, path) from exc
    try:
        connection.execute(statement("schema/session")).fetchall()
        if is_settled:
            _refuse_cut(connection, path)
        is_newest = migrate(connection, path, read_only=read_only, as_it_is=as_it_is)
    except duckdb.Error as exc:
        connection.close()
        raise opening_fault(exc, path) from exc
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
