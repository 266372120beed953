"""A ledger rewritten: a second file with all that it holds, and nothing of what was removed from it."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb
import polars as pl

from pipeline.errors import LedgerError
from pipeline.ledger.faults import copying_fault, engine_words
from pipeline.ledger.files import logs_of
from pipeline.ledger.ledger import Ledger, open_ledger
from pipeline.ledger.sharing import alone_in_process
from pipeline.shipped import statement


@contextmanager
def rewritten(path: Path, part: Path) -> Iterator[Ledger]:
    """Write all that the ledger at `path` holds to the new file `part`, prove it, and give it opened for reading.

    The ledger's own file is held until the end, so that nobody writes to it meanwhile. What was removed from a
    ledger may stay in its file's free pages; the new file has none. Raises LedgerError where a table, view or
    macro of the new file is not that of the ledger.
    """
    with alone_in_process(path), open_ledger(path, read_only=True, as_it_is=True) as ledger:
        held = contents(ledger)
        with engine_words(copying_fault, path):
            engine = _engine(ledger.file, part)
        try:
            with engine_words(copying_fault, path):
                engine.execute(statement("schema/copy_all")).fetchall()
            with open_ledger(part, read_only=True, as_it_is=True) as copied:
                _prove_alike(held, contents(copied))
                yield copied
        finally:
            engine.close()


def contents(ledger: Ledger) -> pl.DataFrame:
    """Return one row for each table, view and macro: what defines it, and of a table how many rows and their digest.

    Every table is read whole.
    """
    defined = ledger.read("schema/definitions").sort("kind", "schema_name", "relation")
    counted = [
        ledger.read("staging/contents", relation=relation).row(0) if kind == "table" else (None, None)
        for kind, relation in defined.select("kind", "relation").iter_rows()
    ]
    return defined.with_columns(
        pl.Series("row_count", [count for count, _ in counted], dtype=pl.Int64),
        pl.Series("digest", [str(digest) for _, digest in counted], dtype=pl.String),
    )


def _engine(source: Path, target: Path) -> duckdb.DuckDBPyConnection:
    """Return an engine in memory that has both files open and reaches no other."""
    engine = duckdb.connect(":memory:")
    try:
        paths = [str(path) for file in (source, target.absolute()) for path in (file, *logs_of(file))]
        engine.execute(statement("schema/reach"), {"paths": paths}).fetchall()
        engine.execute(statement("schema/reach_no_more")).fetchall()
        engine.execute(statement("schema/attach_source"), {"source": str(source)}).fetchall()
        engine.execute(statement("schema/attach_target"), {"target": str(target.absolute())}).fetchall()
    except BaseException:
        engine.close()
        raise
    return engine


def _prove_alike(held: pl.DataFrame, copied: pl.DataFrame) -> None:
    """Raise LedgerError where two ledgers do not hold the same, table by table."""
    differing = [
        relation
        for one, other in ((held, copied), (copied, held))
        for relation in one.join(other, on=held.columns, how="anti", nulls_equal=True)["relation"].to_list()
    ]
    if differing:
        raise LedgerError(
            f"the copy does not hold what the ledger holds in {differing[0]}; it was not kept",
            "try another disk.",
        )
