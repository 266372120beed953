"""Whatever the rows and however they come: the ledger is the same, and no row is lost."""

import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

import polars as pl
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.config import Market, load_market
from pipeline.ingest.readers.delimited import read_delimited
from pipeline.ingest.readers.table import Hints
from pipeline.ledger import Ledger, open_ledger
from pipeline.ledger.checks import run_checks
from tests.exports import ingest, write_lantern
from tests.kept import sales_of

MARKET: Market = load_market(Path(__file__).parents[1] / "market.toml")
SLOW = settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)

LANTERN_ROWS = st.builds(
    ",".join,
    st.tuples(
        st.sampled_from(["1", "2", "3", ""]),
        st.sampled_from(["", "", "TP-1", "TP-2"]),
        st.sampled_from(["Gannet Hi first run", "Plover Lo resoled no box", "a pair"]),
        st.sampled_from(["2021-01-01", "2021-02-01", ""]),
        st.sampled_from(["2021-03-04", "2021-03-05", "2021-02-31", "2035-01-01", ""]),
        st.sampled_from(["", "100"]),
        st.sampled_from(["80", "800", "", "-1", "x"]),
        st.sampled_from(["sold", "sold", "ended", "live", "lost"]),
        st.sampled_from(["UK 9", "9", "UK 99", ""]),
        st.sampled_from(["8", "7.3", "worn twice", ""]),
        st.sampled_from(["original", "none", "cardboard", ""]),
    ),
)
FILES = st.lists(st.lists(LANTERN_ROWS, min_size=1, max_size=8), min_size=1, max_size=3)


def _in_a_ledger(work: Callable[[Ledger, Path], pl.DataFrame]) -> pl.DataFrame:
    with (
        tempfile.TemporaryDirectory() as folder,
        open_ledger(Path(folder) / "ledger.duckdb", create=True) as ledger,
    ):
        return work(ledger, Path(folder))


def _recorded(ledger: Ledger) -> pl.DataFrame:
    """Return all that the ledger says of sales and quarantined rows, wherever the rows stood."""
    sales = sales_of(ledger).sort("record_id")
    refused = ledger.read("staging/quarantine_list").select("field", "value", "reason", "cells")
    texts = [
        frame.select(pl.struct(pl.all()).struct.json_encode().alias("told")) for frame in (sales, refused)
    ]
    return pl.concat(texts).sort("told")


def _ledger_of(files: Sequence[Sequence[str]]) -> pl.DataFrame:
    def work(ledger: Ledger, folder: Path) -> pl.DataFrame:
        paths = [write_lantern(folder, *rows, name=f"lantern_{at}.csv") for at, rows in enumerate(files)]
        ingest(ledger, MARKET, paths)
        return _recorded(ledger)

    return _in_a_ledger(work)


@SLOW
@given(files=FILES, draw=st.randoms(use_true_random=False))
def test_any_order_of_rows_and_files_gives_the_same_ledger(files: list[list[str]], draw: object) -> None:
    shuffled = [draw.sample(rows, len(rows)) for rows in draw.sample(files, len(files))]  # type: ignore[attr-defined]
    assert _ledger_of(files).equals(_ledger_of(shuffled))


@SLOW
@given(files=FILES)
def test_ingesting_twice_is_ingesting_once(files: list[list[str]]) -> None:
    def work(ledger: Ledger, folder: Path) -> pl.DataFrame:
        paths = [write_lantern(folder, *rows, name=f"lantern_{at}.csv") for at, rows in enumerate(files)]
        ingest(ledger, MARKET, paths)
        once = _recorded(ledger)
        ingest(ledger, MARKET, paths)
        assert _recorded(ledger).equals(once)
        return once

    _in_a_ledger(work)


@SLOW
@given(files=FILES)
def test_no_row_is_lost_and_the_ledger_is_sound(files: list[list[str]]) -> None:
    def work(ledger: Ledger, folder: Path) -> pl.DataFrame:
        paths = [write_lantern(folder, *rows, name=f"lantern_{at}.csv") for at, rows in enumerate(files)]
        for file in ingest(ledger, MARKET, paths).files:
            assert file.read == file.recorded + file.duplicates + file.quarantined + file.put_aside
        assert run_checks(ledger) == ()
        return _recorded(ledger)

    _in_a_ledger(work)


@SLOW
@given(rows=st.lists(LANTERN_ROWS, min_size=2, max_size=10), cut=st.integers(1, 9))
def test_two_exports_that_overlap_tell_no_more_than_the_two_do_without_overlap(
    rows: list[str], cut: int
) -> None:
    """Rows with a number and a day are the same wherever they stand."""
    numbered = sorted({row for row in rows if row[0] != "," and ",2021-03-0" in row})
    whole = _sold_lots([numbered]) if numbered else 0
    overlapping = [numbered[:cut], numbered[max(0, cut - 2) :]]
    assert _sold_lots([part for part in overlapping if part]) == whole


def _sold_lots(files: Sequence[Sequence[str]]) -> int:
    """Return how many different venue, number and day the sales of the files have."""

    def work(ledger: Ledger, folder: Path) -> pl.DataFrame:
        paths = [write_lantern(folder, *rows, name=f"lantern_{at}.csv") for at, rows in enumerate(files)]
        ingest(ledger, MARKET, paths)
        return sales_of(ledger).select("venue", "lot_ref", "closed_on").unique()

    return _in_a_ledger(work).height if files else 0


CELL = st.text(st.characters(include_characters="\n", exclude_categories=["Cs", "Cc"]), max_size=12)


def _quoted(cell: str) -> str:
    return '"' + cell.replace('"', '""') + '"'


@settings(max_examples=150, deadline=None, derandomize=True)
@given(
    rows=st.lists(st.tuples(CELL, CELL, CELL), min_size=1, max_size=12), delimiter=st.sampled_from(";,\t|")
)
def test_what_is_quoted_comes_back_as_it_was(rows: list[tuple[str, str, str]], delimiter: str) -> None:
    lines = [delimiter.join(map(_quoted, row)) for row in (("lot", "title", "price"), *rows)]
    table = read_delimited(
        ("\n".join(lines) + "\n").encode("utf-8"), Hints(encoding="utf-8", delimiter=delimiter), where="x.csv"
    )
    kept = [tuple(cell if cell.strip() else None for cell in row) for row in rows]
    assert table.cells.rows() == [row for row in kept if any(row)]
    assert table.faults.height == 0


@settings(max_examples=100, deadline=None, derandomize=True)
@given(text=st.text(st.sampled_from('ab;"\n 1'), min_size=1, max_size=60))
def test_no_text_loses_a_line_that_holds_something(text: str) -> None:
    """Every line with a character in it is in a record or in a fault, whatever quotes do."""
    content = "lot;title;price\n" + text + "\n"
    table = read_delimited(content.encode(), Hints(delimiter=";", header_row=1), where="x.csv")
    told = "".join(cell or "" for row in table.cells.rows() for cell in row) + "".join(table.faults["cells"])
    for letter in "ab1":
        assert told.count(letter) >= text.count(letter)
