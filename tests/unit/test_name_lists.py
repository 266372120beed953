"""Cells that list names: parts, defects and treatments, however an export writes them."""

import random
from pathlib import Path

import polars as pl
import pytest

from pipeline.config import ExportMap, Market
from pipeline.ingest.names import read_name_lists
from pipeline.ledger import open_ledger
from tests.corpus.workbooks import parquet
from tests.exports import ingest
from tests.fuzz import LIST_CELLS, hostile_text
from tests.kept import sales_of

WORDS = {"booklet": "booklet", "spare laces": "spare laces"}


def read_one(cell: str) -> tuple[list[str], str | None]:
    """Return the names in one cell, and the parts that no word says."""
    names, unread = read_name_lists(pl.Series([cell]), WORDS, ["no"], ",").select("names", "unread").row(0)
    return names, unread


@pytest.mark.parametrize(
    "cell", ["booklet, spare laces", '["spare laces","booklet"]', '[\n"spare laces",\n"booklet"]']
)
def test_a_list_is_read_in_either_notation(cell: str) -> None:
    assert read_one(cell) == (["booklet", "spare laces"], None)


@pytest.mark.parametrize("cell", ["[see photo]", "[booklet", "['booklet']", "[NaN", "[" * 3000 + "]" * 3000])
def test_brackets_that_hold_no_json_are_text_that_no_word_says(cell: str) -> None:
    assert read_one(cell) == ([], cell)


@pytest.mark.parametrize(
    ("cell", "unread"),
    [
        ('[{"name":"booklet"}]', '{"name": "booklet"}'),
        ('[["booklet"]]', '["booklet"]'),
        ("[1, 2.50, true]", "1; 2.50; true"),
        ("[1e999]", "1e999"),
        (f"[{'9' * 5000}]", "9" * 5000),
        ('["\\ud800"]', "\ufffd"),
    ],
)
def test_a_member_that_is_no_name_is_a_part_that_no_word_says(cell: str, unread: str) -> None:
    assert read_one(cell) == ([], unread)


def test_a_name_beside_a_member_that_is_none_is_read() -> None:
    assert read_one('["booklet", {"laces": null}]') == (["booklet"], '{"laces": null}')


@pytest.mark.parametrize("cell", ["[]", "[null]", '[""]', "-", "no"])
def test_a_cell_that_lists_nothing_is_an_empty_list(cell: str) -> None:
    assert read_one(cell) == ([], None)


def test_each_odd_cell_has_its_row() -> None:
    rng = random.Random("list cells")
    cells = list(dict.fromkeys([*LIST_CELLS, *(f"[{hostile_text(rng)}]" for _ in range(500))]))
    assert read_name_lists(pl.Series(cells), WORDS, ["no"], ",")["text"].sort().to_list() == sorted(cells)


def test_an_odd_list_cell_leaves_its_row_recorded_and_says_why_it_is_unread(
    market: Market, tmp_path: Path
) -> None:
    columns = {**market.maps["lantern"].columns, "parts": "parts", "defects": "defects", "treatments": "done"}
    lantern = market.maps["lantern"].model_dump() | {"files": "*.parquet", "columns": columns}
    mapped = market.model_copy(update={"maps": {"lantern": ExportMap.model_validate(lantern)}})
    count = len(LIST_CELLS)
    path = tmp_path / "lantern.parquet"
    path.write_bytes(
        parquet(
            item=[f"{number}" for number in range(count)],
            sku=[None] * count,
            title=["Gannet Hi"] * count,
            listed=["2021-01-01"] * count,
            ended=["2021-01-20"] * count,
            asked=[None] * count,
            sold_for=["80"] * count,
            state=["sold"] * count,
            size=["UK 9"] * count,
            grade=["8"] * count,
            box=["original"] * count,
            parts=list(LIST_CELLS),
            defects=list(LIST_CELLS),
            done=list(LIST_CELLS),
        )
    )
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as ledger:
        [file] = ingest(ledger, mapped, [path]).files
        origins = sales_of(ledger)["parts_origin"].unique().to_list()
    assert (file.recorded, file.quarantined) == (count, 0)
    assert {reason.field for reason in file.reasons} == {"parts", "defects", "treatments"}
    assert set(origins) == {"unknown", "stated"}
