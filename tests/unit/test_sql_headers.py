"""Every SQL file says what it is, and what it says is so."""

import re
from pathlib import Path

import polars as pl
import pytest

from pipeline.config import Market
from pipeline.ingest.normalise import staged_schema
from pipeline.ingest.same import derive_sales
from pipeline.ledger import Ledger, open_ledger
from pipeline.ledger.checks import check_names, run_checks
from pipeline.schema import SALE_RECORD, record_schema
from pipeline.shipped import shipped, statement
from tests.exports import ingest, write_holm

FILES = sorted(
    path.relative_to(shipped("sql")).with_suffix("").as_posix()
    for path in shipped("sql").rglob("*.sql")
    if not path.stem[0].isdigit()
)
BOUND = re.compile(r"\$(\w+)")
JSON = {
    f"staging/json_{name}" for name in ("lines", "array", "document", "shapes", "members", "entries", "cells")
}
"""Statements of the JSON reader, which run on an engine without a ledger."""

OF_THE_MODEL = "source/"
"""Statements over a table whose columns are those of the model that is fitted, so that no ledger has it."""


INCOMING = {
    "allowed": pl.List(pl.String),
    "row_number": pl.Int64,
    "pair_number": pl.Int32,
    **dict.fromkeys(
        ("field", "file_sha256", "file_name", "sheet", "row_key", "record_id", "ruling_id"), pl.String
    ),
}
"""The columns of the frames that statements with rows to return are handed."""


def sale_record_columns() -> dict[str, str]:
    """Return name → SQL type of every column of a sale record, as the engine writes it, in order."""
    types = {}
    for column in SALE_RECORD:
        types[column.name] = column.sql_type.replace(", ", ",")
        if column.origin:
            types[f"{column.name}_origin"] = "VARCHAR"
    return types


def _header(name: str) -> dict[str, str]:
    lines = [line[3:] for line in statement(name).splitlines() if line.startswith("-- ")]
    return dict(re.findall(r"^([a-z_0-9]+): (.*)$", "\n".join(lines), flags=re.MULTILINE))


@pytest.fixture(scope="module")
def ledger(market: Market, tmp_path_factory: pytest.TempPathFactory) -> Ledger:
    folder = tmp_path_factory.mktemp("headers")
    opened = open_ledger(folder / "ledger.duckdb", create=True)
    sold, refunded = (
        "1;Gannet Hi;04.03.2021;100;zugeschlagen;43;",
        "1;Gannet Hi;05.03.2021;-100;zugeschlagen;43;",
    )
    ingest(opened, market, [write_holm(folder, sold, refunded)])
    with opened.transaction():
        derive_sales(opened)
    opened.connection.register("incoming", pl.DataFrame(schema=INCOMING))
    return opened


@pytest.mark.parametrize("name", FILES)
def test_a_statement_names_itself_in_its_first_line(name: str) -> None:
    assert statement(name).startswith(f"-- {Path(name).name}: ")


@pytest.mark.parametrize("name", FILES)
def test_a_statement_that_returns_rows_states_grain_and_columns(name: str) -> None:
    header = _header(name)
    assert "writes" in header or {"grain", "columns"} <= set(header)


def _described(ledger: Ledger, name: str) -> str:
    """Return the columns that a statement gives, as the headers write them."""
    text = statement(name)
    created = re.search(r"CREATE OR REPLACE TEMP TABLE (\w+)", text)
    if created:
        rows = ledger.connection.execute(f"DESCRIBE {created[1]}").fetchall()
    else:
        values = dict.fromkeys(BOUND.findall(text))
        rows = ledger.connection.execute(f"DESCRIBE {text}", values or None).fetchall()
    return ", ".join(f"{row[0]} {row[1]}" for row in rows)


RETURNING = [
    name
    for name in FILES
    if "columns" in _header(name) and name not in JSON and not name.startswith(OF_THE_MODEL)
]


@pytest.mark.parametrize("name", RETURNING)
def test_the_columns_in_the_header_are_those_of_the_statement(ledger: Ledger, name: str) -> None:
    assert _described(ledger, name) == _header(name)["columns"]


def test_the_sales_have_the_columns_of_a_sale_record(ledger: Ledger) -> None:
    described = ledger.connection.execute("DESCRIBE sales").fetchall()
    assert [(row[0], row[1]) for row in described] == list(sale_record_columns().items())


@pytest.mark.parametrize("table", ["staged_rows", "corrected_rows", "settled_sales", "stock_rows"])
def test_the_tables_have_the_columns_that_a_row_can_tell(ledger: Ledger, table: str) -> None:
    described = {row[0]: row[1] for row in ledger.connection.execute(f"DESCRIBE {table}").fetchall()}
    sql_types = sale_record_columns()
    told = {name: sql_types[name] for name in staged_schema()}
    assert {name: kind for name, kind in described.items() if name in record_schema()} == told


def test_a_column_is_merged_by_its_best_known_value_where_it_says_where_that_came_from() -> None:
    best_known = {column.name for column in SALE_RECORD if column.merge == "best known"}
    assert best_known == {column.name for column in SALE_RECORD if column.origin} - {"size_label"}


def test_the_checks_find_nothing_in_a_sound_ledger(market: Market, tmp_path: Path) -> None:
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as sound:
        ingest(sound, market, [write_holm(tmp_path, "1;a;04.03.2021;100;zugeschlagen;43;")])
        assert run_checks(sound) == ()


@pytest.mark.parametrize("name", check_names())
def test_every_check_can_fail(market: Market, tmp_path: Path, name: str) -> None:
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as ledger:
        ingest(ledger, market, [write_holm(tmp_path, "1;a;04.03.2021;100;zugeschlagen;43;")])
        for damage in DAMAGES[name]:
            ledger.connection.execute(damage).fetchall()
        assert name in [finding.check for finding in run_checks(ledger)]


DAMAGES = {
    "rows_are_conserved": ["UPDATE source_files SET rows_read = 7"],
    "runs_are_conserved": ["UPDATE run_files SET recorded = 7"],
    "every_row_has_its_file": ["DELETE FROM source_files"],
    "every_row_has_one_sale": [
        "INSERT INTO settled_rows SELECT row_id, node, node FROM staged_rows",
    ],
    "every_row_is_staged": ["INSERT INTO removed_rows SELECT max(row_id) + 1 FROM staged_rows"],
    "grains_hold": ["INSERT INTO source_files SELECT * FROM source_files"],
    "sales_are_sales": ["UPDATE staged_rows SET price_paid = NULL"],
    "values_are_allowed": ["UPDATE staged_rows SET box = 'cardboard'"],
}
