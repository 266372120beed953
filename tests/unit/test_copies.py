"""Copies of the ledger: proved, never written over another, brought back without losing what they replace."""

import json
import os
import shutil
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import polars as pl
import pytest
from polars.testing import assert_frame_equal

from pipeline.answers.care.copies import back_up
from pipeline.config import Market
from pipeline.errors import LedgerError
from pipeline.ledger import copies, files, open_ledger, rewriting
from pipeline.ledger.copies import bring_back, make_copy
from pipeline.ledger.copy_log import known_copies, log_path
from pipeline.ledger.files import part_beside
from pipeline.ledger.rewriting import contents
from tests.exports import ingest, write_holm

DAY = datetime(2026, 11, 3, 18, tzinfo=UTC)
LATER = datetime(2026, 11, 25, 9, tzinfo=UTC)
SOLD = "1;Gannet Hi UK 9;04.03.2021;600,00;zugeschlagen;43;"


@pytest.fixture(scope="module")
def read_once(market: Market, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with an export of one sale, and a ledger that holds it."""
    folder = tmp_path_factory.mktemp("read")
    with open_ledger(folder / "pairband.duckdb", create=True) as opened:
        ingest(opened, market, [write_holm(folder, SOLD)])
    return folder


@pytest.fixture
def ledger(read_once: Path, tmp_path: Path) -> Path:
    """Return a copy of that ledger, for a test to change."""
    return shutil.copytree(read_once, tmp_path, dirs_exist_ok=True) / "pairband.duckdb"


def _sales(path: Path) -> int:
    with open_ledger(path, read_only=True) as ledger:
        return int(ledger.read("staging/row_counts")["sales"][0])


def _add_a_sale(path: Path, market: Market) -> None:
    later = write_holm(path.parent, SOLD.replace("1;", "2;", 1), name="holm_2022.csv")
    with open_ledger(path) as ledger:
        ingest(ledger, market, [later])


def test_a_copy_holds_what_the_ledger_holds_table_by_table(ledger: Path) -> None:
    copy, findings = make_copy(ledger, ledger.with_name("copy.duckdb"), made_at=DAY)
    with open_ledger(ledger, read_only=True) as held, open_ledger(copy.path, read_only=True) as copied:
        assert_frame_equal(contents(held), contents(copied))
    assert (copy.sales, findings) == (1, ())


def test_a_copy_is_listed_beside_the_ledger(ledger: Path) -> None:
    copy, _ = make_copy(ledger, ledger.with_name("copy.duckdb"), made_at=DAY)
    assert known_copies(ledger) == (copy,)


def test_a_copy_never_writes_over_a_file(ledger: Path) -> None:
    taken = ledger.with_name("taken.duckdb")
    taken.write_text("a letter")
    with pytest.raises(LedgerError, match="is there already; nothing was copied"):
        make_copy(ledger, taken, made_at=DAY)
    assert taken.read_text() == "a letter"


def test_a_copy_for_a_folder_is_named_by_the_day(ledger: Path) -> None:
    copies.copy_place(ledger, None, DAY).parent.mkdir()
    made = back_up(ledger, ledger.with_name("none.toml"), None, made_at=DAY)
    assert made.copy.path == ledger.parent / "copies" / "pairband-20261103-180000.duckdb"


def test_the_market_file_is_copied_beside_the_ledger(ledger: Path) -> None:
    market_file = ledger.with_name("market.toml")
    market_file.write_text('currency = "EUR"')
    made = back_up(ledger, market_file, ledger.with_name("copy.duckdb"), made_at=DAY)
    assert made.market is not None
    assert made.market.read_text() == 'currency = "EUR"'


def test_what_the_engine_keeps_beside_the_file_is_in_the_copy(ledger: Path) -> None:
    """A process that was killed leaves what it had kept in a second file, until the ledger is opened again."""
    import subprocess
    import sys

    program = (
        "import os, sys; from pathlib import Path; import polars as pl; from pipeline.ledger import open_ledger\n"
        "ledger = open_ledger(Path(sys.argv[1]))\n"
        "ledger.write('marts/price_flags', pl.DataFrame({'record_id': ['a'], 'flag': ['rate is old']}))\n"
        "os._exit(9)"
    )
    subprocess.run([sys.executable, "-c", program, str(ledger)], check=False)
    assert files.wal_of(ledger).exists()
    copy, _ = make_copy(ledger, ledger.with_name("copy.duckdb"), made_at=DAY)
    assert not files.wal_of(copy.path).exists()
    with open_ledger(copy.path, read_only=True) as copied:
        assert len(copied.connection.sql("FROM price_flags").fetchall()) == 1


def test_a_copy_that_breaks_a_check_is_made_and_said_to_be_unsound(ledger: Path) -> None:
    with open_ledger(ledger) as opened:
        opened.connection.execute("UPDATE source_files SET rows_read = 7").fetchall()
    copy, findings = make_copy(ledger, ledger.with_name("copy.duckdb"), made_at=DAY)
    assert [finding.check for finding in findings] == ["rows_are_conserved"]
    assert not copy.sound


def test_a_copy_that_does_not_hold_the_same_is_not_kept(
    ledger: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    told = iter([pl.DataFrame({"relation": ["runs"], "row_count": [count]}) for count in (1, 2)])
    monkeypatch.setattr(rewriting, "contents", lambda opened: next(told))
    with pytest.raises(LedgerError, match="does not hold what the ledger holds in runs"):
        make_copy(ledger, ledger.with_name("copy.duckdb"), made_at=DAY)
    assert sorted(path.name for path in ledger.parent.glob("*copy*")) == []


def test_a_copy_comes_back_and_the_replaced_ledger_stays(ledger: Path, market: Market) -> None:
    copy, _ = make_copy(ledger, ledger.with_name("copy.duckdb"), made_at=DAY)
    _add_a_sale(ledger, market)
    recovery = bring_back(copy.path, ledger, now=LATER)
    assert recovery.replaced == ledger.with_name("pairband.replaced-20261125-090000.duckdb")
    assert (_sales(ledger), _sales(recovery.replaced)) == (1, 2)


def test_two_ledgers_replaced_in_one_second_both_stay(ledger: Path) -> None:
    copy, _ = make_copy(ledger, ledger.with_name("copy.duckdb"), made_at=DAY)
    replaced = {bring_back(copy.path, ledger, now=LATER).replaced for _ in range(2)}
    assert all(path is not None and _sales(path) == 1 for path in replaced)
    assert len(replaced) == 2


def test_a_ledger_that_is_lost_comes_back_from_its_copy(ledger: Path) -> None:
    copy, _ = make_copy(ledger, ledger.with_name("copy.duckdb"), made_at=DAY)
    ledger.unlink()
    assert bring_back(copy.path, ledger, now=LATER).replaced is None
    assert _sales(ledger) == 1


def _cut_short(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:400_000])


def _turn_a_bit(path: Path) -> None:
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)


@pytest.mark.parametrize("damage", [_cut_short, _turn_a_bit])
def test_a_copy_that_was_damaged_since_is_not_brought_back(
    ledger: Path, damage: Callable[[Path], None]
) -> None:
    copy, _ = make_copy(ledger, ledger.with_name("copy.duckdb"), made_at=DAY)
    damage(copy.path)
    before = ledger.read_bytes()
    with pytest.raises(LedgerError, match="is not what it was when it was made on 2026-11-03"):
        bring_back(copy.path, ledger, now=LATER)
    assert ledger.read_bytes() == before


def test_a_damaged_copy_of_which_nothing_is_known_is_not_brought_back(ledger: Path) -> None:
    copy, _ = make_copy(ledger, ledger.with_name("copy.duckdb"), made_at=DAY)
    log_path(ledger).unlink()
    _cut_short(copy.path)
    with pytest.raises(LedgerError, match=r"copy\.duckdb (cannot be|is cut short)[^\n]*nothing was changed"):
        bring_back(copy.path, ledger, now=LATER)
    assert _sales(ledger) == 1


def test_a_copy_that_breaks_a_check_is_not_brought_back(ledger: Path) -> None:
    copy, _ = make_copy(ledger, ledger.with_name("copy.duckdb"), made_at=DAY)
    log_path(ledger).unlink()
    with open_ledger(copy.path) as copied:
        copied.connection.execute("UPDATE source_files SET rows_read = 7").fetchall()
    with pytest.raises(LedgerError, match="does not hold: rows_are_conserved"):
        bring_back(copy.path, ledger, now=LATER)


def test_a_ledger_in_use_is_not_replaced(ledger: Path) -> None:
    import subprocess
    import sys

    copy, _ = make_copy(ledger, ledger.with_name("copy.duckdb"), made_at=DAY)
    program = (
        "import sys; from pathlib import Path; from pipeline.ledger import open_ledger\n"
        "ledger = open_ledger(Path(sys.argv[1])); print('open', flush=True); sys.stdin.read()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", program, str(ledger)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as holder:
        assert holder.stdout is not None
        holder.stdout.readline()
        with pytest.raises(LedgerError, match="held by another process; nothing was changed"):
            bring_back(copy.path, ledger, now=LATER)
        holder.communicate()
    assert [path.name for path in ledger.parent.glob("*replaced*")] == []


def test_the_ledger_is_no_copy_of_itself(ledger: Path) -> None:
    with pytest.raises(LedgerError, match="is the ledger itself"):
        bring_back(ledger, ledger, now=LATER)


def test_a_damaged_ledger_is_reported_with_the_copy_that_brings_it_back(ledger: Path) -> None:
    make_copy(ledger, ledger.with_name("copy.duckdb"), made_at=DAY)
    _cut_short(ledger)
    before = ledger.read_bytes()
    with pytest.raises(
        LedgerError, match=r"pairband recover .*copy.duckdb` brings back the copy of 2026-11-03"
    ):
        open_ledger(ledger)
    assert ledger.read_bytes() == before


def test_a_ledger_that_is_gone_is_reported_with_the_copy_that_brings_it_back(ledger: Path) -> None:
    make_copy(ledger, ledger.with_name("copy.duckdb"), made_at=DAY)
    ledger.unlink()
    with pytest.raises(LedgerError, match=r"there is no ledger .*\n`pairband recover"):
        open_ledger(ledger, read_only=True)


def test_a_copy_that_has_been_moved_away_is_not_offered(ledger: Path) -> None:
    copy, _ = make_copy(ledger, ledger.with_name("copy.duckdb"), made_at=DAY)
    copy.path.unlink()
    assert copies.known_places(ledger) == "no copy of this ledger is known."


def test_a_line_of_the_list_that_is_damaged_hides_no_other(ledger: Path) -> None:
    copy, _ = make_copy(ledger, ledger.with_name("copy.duckdb"), made_at=DAY)
    listed = log_path(ledger).read_text()
    log_path(ledger).write_text('{"path": 3}\n\x00\n[]\n' + json.dumps({"path": "x"}) + "\n" + listed)
    assert known_copies(ledger) == (copy,)


@pytest.mark.parametrize(("days", "left"), [(2, False), (0, True)])
def test_what_a_killed_copy_left_behind_is_removed_by_the_next_after_a_day(
    days: int, left: bool, tmp_path: Path
) -> None:
    gone = 2**22 + 1  # above the most processes that Linux numbers
    abandoned = tmp_path / f".pairband-{gone}-0123abcd.part"
    abandoned.write_bytes(b"what the ledger held")
    os.utime(abandoned, (time.time() - days * 86_400,) * 2)
    with part_beside(tmp_path / "copy.duckdb"):
        pass
    assert abandoned.exists() == left
