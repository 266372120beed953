"""Bring a ledger to the present version: numbered SQL files, each in one transaction.

The views and macros are made again with the last of them, so that they have every column that the tables have.
"""

from pathlib import Path

import duckdb

from pipeline.errors import LedgerError
from pipeline.shipped import shipped, statement


def known_migrations() -> tuple[tuple[int, str], ...]:
    """Return (number, statement name) of every migration there is, in order."""
    files = sorted((shipped("sql") / "schema").glob("[0-9]*.sql"))
    return tuple((int(file.stem.split("_")[0]), f"schema/{file.stem}") for file in files)


_OWN_TABLES = frozenset({"schema_version", "runs", "source_files", "staged_rows", "fits"})
"""What every ledger has had since its first version; a database without them is no ledger."""


def ledger_version(connection: duckdb.DuckDBPyConnection) -> int | None:
    """Return the version of an open ledger, 0 where the file holds nothing yet, None where it is no ledger."""
    tables = set(connection.execute(statement("schema/tables")).fetchall())
    if not tables:
        return 0
    if not {("main", table) for table in _OWN_TABLES} <= tables:
        return None
    try:
        [(version,)] = connection.execute(statement("schema/version")).fetchall()
    except (duckdb.BinderException, duckdb.ConversionException):
        return None
    return version if isinstance(version, int) and version > 0 else None


def migrate(
    connection: duckdb.DuckDBPyConnection,
    path: Path,
    *,
    read_only: bool,
    create: bool = False,
    as_it_is: bool = False,
) -> bool:
    """Apply the migrations that a ledger lacks, unless it is opened as it is; return whether it is the newest.

    Raises LedgerError where it cannot be: tables are written into a database that holds nothing only with
    `create`, and into another one's never.

    A ledger of a newer version is refused, and so is an older one that is opened for reading only:
    reading never changes the file.
    """
    present = ledger_version(connection)
    newest = known_migrations()[-1][0]
    if present is None:
        raise LedgerError(
            f"{path} is a DuckDB file but no ledger; it was left as it is", "name another file with --ledger."
        )
    if present == 0 and not create:
        raise LedgerError(
            f"{path} is a DuckDB file that holds no ledger yet", "`pairband ingest FILE` makes one."
        )
    if present > newest:
        raise LedgerError(
            f"{path} was written by a newer pairband (ledger version {present}, this one knows {newest})",
            "install the newer pairband, or name another file with --ledger.",
        )
    if as_it_is:
        return present == newest
    if read_only and present < newest:
        raise LedgerError(
            f"{path} is of version {present}, and this pairband reads version {newest}",
            "`pairband ingest` brings it up to date.",
        )
    for number, name in known_migrations():
        if number > present:
            _apply(connection, number, name, *(["schema/views"] if number == newest else []))
    return True


def _apply(connection: duckdb.DuckDBPyConnection, number: int, *names: str) -> None:
    connection.begin()
    try:
        for name in names:
            connection.execute(statement(name)).fetchall()
        connection.execute(statement("schema/note_version"), {"version": number}).fetchall()
    except BaseException:
        connection.rollback()
        raise
    connection.commit()
