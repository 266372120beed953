"""Bring a ledger to the present version: numbered SQL files, each in one transaction."""

from pathlib import Path

import duckdb

from pipeline.errors import LedgerError
from pipeline.shipped import shipped, statement


def known_migrations() -> tuple[tuple[int, str], ...]:
    """Return (number, statement name) of every migration there is, in order."""
    files = sorted((shipped("sql") / "schema").glob("[0-9]*.sql"))
    return tuple((int(file.stem.split("_")[0]), f"schema/{file.stem}") for file in files)


def ledger_version(connection: duckdb.DuckDBPyConnection) -> int | None:
    """Return the version of an open ledger, or None where the file is no ledger (yet)."""
    tables = {row[0] for row in connection.execute(statement("schema/tables")).fetchall()}
    if "schema_version" not in tables:
        return None if tables else 0
    [(version,)] = connection.execute(statement("schema/version")).fetchall()
    return 0 if version is None else int(version)


def migrate(
    connection: duckdb.DuckDBPyConnection, path: Path, *, read_only: bool, as_it_is: bool = False
) -> bool:
    """Apply the migrations that a ledger lacks, unless it is opened as it is; return whether it is the newest.

    Raises LedgerError where it cannot be.

    A ledger of a newer version is refused, and so is an older one that is opened for reading only:
    reading never changes the file.
    """
    present = ledger_version(connection)
    newest = known_migrations()[-1][0]
    if present is None:
        raise LedgerError(f"{path} is a DuckDB file but no ledger", "name another file with --ledger.")
    if present > newest:
        raise LedgerError(
            f"{path} was written by a newer pairband (ledger version {present}, this one knows {newest})",
            "install the newer pairband, or name another file with --ledger.",
        )
    if as_it_is and present > 0:
        return present == newest
    if read_only and present < newest:
        raise LedgerError(
            f"{path} is of version {present}, and this pairband reads version {newest}",
            "`pairband ingest` brings it up to date.",
        )
    for number, name in known_migrations():
        if number > present:
            _apply(connection, number, name)
    return True


def _apply(connection: duckdb.DuckDBPyConnection, number: int, name: str) -> None:
    connection.begin()
    try:
        connection.execute(statement(name)).fetchall()
        connection.execute(statement("schema/note_version"), {"version": number}).fetchall()
    except BaseException:
        connection.rollback()
        raise
    connection.commit()
