"""What the owner decides of one pair of a line of several holds for that pair, and for none beside it."""

import shutil
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import polars as pl
import pytest

from pipeline.config import ExportMap, Market
from pipeline.ingest.decision_file import bring_in, decision_rows, read_decisions
from pipeline.ingest.put_right import correct, decisions, remove, remove_file, undo
from pipeline.ingest.review import Decision, rule
from pipeline.ingest.run import IngestRun
from pipeline.ledger import Ledger, open_ledger
from pipeline.ledger.checks import run_checks
from tests.exports import AS_OF, ingest
from tests.kept import sales_of

HEADER = "title,date,paid,size,pieces"
LINE = "Plover Lo,2021-03-05,240,UK 8,3"
ONE = "Gannet Hi,2021-03-04,100,UK 9,1"
RULED_AT = datetime(2026, 7, 1)


@pytest.fixture(scope="module")
def read_once(lines: Market, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with a ledger that has read two lines, one of one pair and one of three."""
    folder = tmp_path_factory.mktemp("lines")
    with open_ledger(folder / "ledger.duckdb", create=True) as opened:
        _ingest(opened, lines, folder, ONE, LINE)
    return folder


@pytest.fixture
def ledger(read_once: Path, tmp_path: Path) -> Iterator[Ledger]:
    """Return a copy of that ledger, for a test to change."""
    shutil.copytree(read_once, tmp_path, dirs_exist_ok=True)
    with open_ledger(tmp_path / "ledger.duckdb") as opened:
        yield opened


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Ledger]:
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as opened:
        yield opened


@pytest.fixture(scope="module")
def lines(market: Market) -> Market:
    """Return a market whose one map reads lines of several pairs without any number of their own."""
    columns = {
        "title": "title",
        "closed_on": "date",
        "price_native": "paid",
        "size_label": "size",
        "quantity": "pieces",
    }
    export_map = ExportMap.model_validate(
        {
            "venue": "Lantern Dock",
            "files": "orders*.csv",
            "price_basis": "all-in",
            "quantity_price": "line",
            "columns": columns,
        }
    )
    return market.model_copy(update={"maps": {"orders": export_map}})


def _ingest(ledger: Ledger, lines: Market, folder: Path, *rows: str) -> IngestRun:
    path = folder / "orders.csv"
    path.write_text("\n".join([HEADER, *rows]) + "\n", encoding="utf-8")
    return ingest(ledger, lines, [path])


def _ids(ledger: Ledger) -> list[str]:
    """Return the records of the line's pairs, in the order of the pairs."""
    rows = ledger.connection.sql(
        "SELECT record_id FROM record_sources WHERE row_number = 3 ORDER BY pair_number"
    ).fetchall()
    return [str(record_id) for (record_id,) in rows]


def _of_pairs(ledger: Ledger, column: str) -> list[object]:
    """Return a value of each pair of the line that is left, in the order of the pairs."""
    rows = ledger.connection.sql(
        f"SELECT sales.{column} FROM record_sources INNER JOIN sales USING (record_id) "
        "WHERE row_number = 3 ORDER BY pair_number"
    ).fetchall()
    return [value for (value,) in rows]


def _correct(ledger: Ledger, lines: Market, record: str, **said: str) -> None:
    correct(ledger, lines, record, said, note="", ruled_at=RULED_AT, as_of=AS_OF)


def _remove(ledger: Ledger, lines: Market, *records: str) -> None:
    remove(ledger, lines, records, note="", ruled_at=RULED_AT, as_of=AS_OF)


@pytest.mark.parametrize("nth", [0, 1, 2])
def test_a_corrected_pair_of_a_line_leaves_the_others_as_they_were(
    ledger: Ledger, lines: Market, tmp_path: Path, nth: int
) -> None:
    _correct(ledger, lines, _ids(ledger)[nth], grade="8")
    assert _of_pairs(ledger, "grade") == [8.0 if pair == nth else None for pair in range(3)]


@pytest.mark.parametrize("nth", [0, 1, 2])
def test_a_removed_pair_of_a_line_leaves_the_others(
    ledger: Ledger, lines: Market, tmp_path: Path, nth: int
) -> None:
    ids = _ids(ledger)
    _remove(ledger, lines, ids[nth])
    assert _ids(ledger) == [one for one in ids if one != ids[nth]]


def test_all_pairs_of_a_line_can_be_removed_one_after_the_other(
    ledger: Ledger, lines: Market, tmp_path: Path
) -> None:
    for record in _ids(ledger):
        _remove(ledger, lines, record)
    assert sales_of(ledger)["title"].to_list() == ["Gannet Hi"]


def test_undo_brings_back_the_pair_of_a_line_that_was_removed_last(
    ledger: Ledger, lines: Market, tmp_path: Path
) -> None:
    first, second, third = _ids(ledger)
    for record in (third, second):
        _remove(ledger, lines, record)
    undo(ledger, lines, None, as_of=AS_OF)
    assert _ids(ledger) == [first, second]


def test_a_file_of_lines_that_is_removed_takes_every_pair_with_it(
    ledger: Ledger, lines: Market, tmp_path: Path
) -> None:
    remove_file(ledger, lines, "orders.csv", note="", ruled_at=RULED_AT, as_of=AS_OF)
    assert sales_of(ledger).is_empty()


@pytest.mark.parametrize("nth", [0, 1, 2])
def test_a_corrected_pair_of_a_line_stays_that_pair_when_its_line_changes(
    ledger: Ledger, lines: Market, tmp_path: Path, nth: int
) -> None:
    _correct(ledger, lines, _ids(ledger)[nth], grade="8")
    _ingest(ledger, lines, tmp_path, ONE, LINE.replace("240", "270"))
    assert _of_pairs(ledger, "grade") == [8.0 if pair == nth else None for pair in range(3)]


@pytest.mark.parametrize("nth", [0, 1, 2])
def test_a_removed_pair_of_a_line_stays_removed_when_its_line_changes(
    ledger: Ledger, lines: Market, tmp_path: Path, nth: int
) -> None:
    _remove(ledger, lines, _ids(ledger)[nth])
    _ingest(ledger, lines, tmp_path, ONE, LINE.replace("240", "270"))
    pairs = ledger.connection.sql("SELECT pair_number FROM record_sources WHERE row_number = 3").fetchall()
    assert sorted(pair for (pair,) in pairs) == [pair + 1 for pair in range(3) if pair != nth]


def test_a_decision_on_a_pair_that_its_line_has_no_longer_is_said(
    ledger: Ledger, lines: Market, tmp_path: Path
) -> None:
    _remove(ledger, lines, _ids(ledger)[2])
    [file] = _ingest(ledger, lines, tmp_path, ONE, LINE.replace("240,UK 8,3", "160,UK 8,2")).files
    assert "your decision 'remove'" in " ".join(file.notes)


@pytest.mark.parametrize("nth", [0, 1, 2])
def test_a_decision_on_a_pair_of_a_line_comes_to_that_pair_of_a_ledger_read_anew(
    ledger: Ledger, lines: Market, tmp_path: Path, nth: int
) -> None:
    _correct(ledger, lines, _ids(ledger)[nth], grade="8")
    with open_ledger(tmp_path / "anew.duckdb", create=True) as anew:
        _ingest(anew, lines, tmp_path, ONE, LINE.replace("240", "270"))
        bring_in(anew, lines, decision_rows(ledger), as_of=AS_OF)
        assert _of_pairs(anew, "grade") == [8.0 if pair == nth else None for pair in range(3)]


def test_a_list_of_decisions_from_before_lines_of_several_pairs_is_read(
    ledger: Ledger, lines: Market, tmp_path: Path
) -> None:
    _correct(ledger, lines, _ids(ledger)[1], grade="8")
    older = decision_rows(ledger).drop("pair", "other_pair").cast(pl.String)
    assert read_decisions(older, "decisions.csv")["pair"].to_list() == [None]


def test_a_decision_that_does_not_say_which_pair_of_a_line_is_not_guessed(
    ledger: Ledger, lines: Market, tmp_path: Path
) -> None:
    _correct(ledger, lines, _ids(ledger)[1], grade="8")
    older = decision_rows(ledger).with_columns(pl.lit(None, dtype=pl.Int64).alias("pair"))
    with open_ledger(tmp_path / "anew.duckdb", create=True) as anew:
        _ingest(anew, lines, tmp_path, ONE, LINE.replace("240", "270"))
        found = bring_in(anew, lines, older, as_of=AS_OF)
    assert [one.why for one in found.lost] == ["its row is gone"]


def test_a_second_pair_can_be_held_once_the_decision_on_the_first_followed_its_row(
    ledger: Ledger, lines: Market, tmp_path: Path
) -> None:
    rule(ledger, lines, Decision("hold", _ids(ledger)[1]), ruled_at=RULED_AT)
    _ingest(ledger, lines, tmp_path, ONE, LINE.replace("240", "270"))
    _ingest(ledger, lines, tmp_path, ONE, LINE.replace("240", "270"), LINE)
    old = ledger.connection.sql(
        "SELECT record_id FROM record_sources WHERE row_number = 4 AND pair_number = 2"
    ).fetchall()
    assert rule(ledger, lines, Decision("hold", str(old[0][0])), ruled_at=RULED_AT) == "new"


def test_what_was_decided_of_a_line_can_be_taken_back_without_a_trace(
    ledger: Ledger, lines: Market, tmp_path: Path
) -> None:
    before = sales_of(ledger)
    _correct(ledger, lines, _ids(ledger)[1], grade="8", price_native="90")
    _remove(ledger, lines, _ids(ledger)[2])
    while not decisions(ledger).is_empty():
        undo(ledger, lines, None, as_of=AS_OF)
    assert sales_of(ledger).equals(before)


def test_the_checks_hold_after_every_kind_of_decision_on_a_line(
    ledger: Ledger, lines: Market, tmp_path: Path
) -> None:
    first, second, third = _ids(ledger)
    _correct(ledger, lines, first, grade="8")
    _remove(ledger, lines, second)
    rule(ledger, lines, Decision("hold", third), ruled_at=RULED_AT)
    assert run_checks(ledger) == ()


def test_a_corrected_price_of_one_pair_of_a_line_is_that_of_this_pair(
    ledger: Ledger, lines: Market, tmp_path: Path
) -> None:
    _correct(ledger, lines, _ids(ledger)[1], price_native="90")
    assert _of_pairs(ledger, "price_native") == [80, 90, 80]


def test_a_corrected_number_of_one_pair_of_a_line_is_kept_as_the_owner_wrote_it(
    ledger: Ledger, lines: Market, tmp_path: Path
) -> None:
    _correct(ledger, lines, _ids(ledger)[1], stock_ref="TP-9")
    assert _of_pairs(ledger, "stock_ref") == [None, "TP-9", None]
