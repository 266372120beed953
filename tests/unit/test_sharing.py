"""A ledger that threads of one process use at once: what each sees, who waits, and what is said."""

import gc
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path
from typing import TypeVar

import polars as pl
import pytest

from pipeline.errors import LedgerError
from pipeline.ledger import Ledger, open_ledger
from pipeline.ledger.copies import bring_back, compact, make_copy
from pipeline.ledger.sharing import Stopped, Work, sharing, under_way
from tests.processes import uncounted

T = TypeVar("T")
NOW = datetime(2026, 11, 3, 12, tzinfo=UTC)
LONG = "SELECT count(*) FROM range(200_000) a, range(200_000) b WHERE a.range * b.range % 7 = 3"


@pytest.fixture
def path(tmp_path: Path) -> Iterator[Path]:
    with open_ledger(tmp_path / "ledger.duckdb", create=True):
        pass
    with sharing():
        yield tmp_path / "ledger.duckdb"


def flag(ledger: Ledger, *record_ids: str) -> None:
    ledger.write("marts/price_flags", pl.DataFrame({"record_id": record_ids, "flag": "rate is old"}))


def flags(ledger: Ledger) -> int:
    return len(ledger.connection.sql("SELECT * FROM price_flags").fetchall())


def in_a_thread(do: Callable[[], T]) -> T:
    with ThreadPoolExecutor(1) as threads:
        return threads.submit(do).result(timeout=60)


def flags_read(path: Path) -> int:
    with open_ledger(path, read_only=True) as ledger:
        return flags(ledger)


def write(path: Path, what: str, patience: float) -> None:
    with under_way(Work(what, patience)), open_ledger(path) as ledger, ledger.transaction():
        flag(ledger, what)


def test_while_one_thread_writes_another_reads_what_was_kept_last(path: Path) -> None:
    with open_ledger(path) as ledger:
        flag(ledger, "kept")
        with ledger.transaction():
            flag(ledger, "not yet kept")
            assert in_a_thread(lambda: flags_read(path)) == 1
        assert in_a_thread(lambda: flags_read(path)) == 2


def test_who_reads_stays_at_what_the_ledger_held_when_they_opened_it(path: Path) -> None:
    with open_ledger(path, read_only=True) as reader:
        in_a_thread(lambda: write(path, "a", 1))
        assert flags(reader) == 0
    assert flags_read(path) == 1


def test_who_reads_may_be_there_before_who_writes(path: Path) -> None:
    with open_ledger(path, read_only=True) as reader:
        in_a_thread(lambda: write(path, "a", 1))
        assert in_a_thread(lambda: flags_read(path)) == 1
        assert flags(reader) == 0


def test_many_threads_read_and_write_and_nothing_is_lost(path: Path) -> None:
    seen: list[int] = []
    with ThreadPoolExecutor(8) as threads:
        writers = [threads.submit(write, path, f"change {number}", 60) for number in range(20)]
        readers = [threads.submit(lambda: seen.append(flags_read(path))) for _ in range(60)]
        for one in (*writers, *readers):
            one.result(timeout=60)
    assert flags_read(path) == 20
    assert set(seen) <= set(range(21))


def test_writing_to_a_shared_ledger_opened_for_reading_is_refused(path: Path) -> None:
    with open_ledger(path, read_only=True) as ledger, pytest.raises(LedgerError, match="opened read-only"):
        flag(ledger, "a")


def test_the_engine_too_refuses_to_write_for_who_reads(path: Path) -> None:
    with open_ledger(path, read_only=True) as ledger, pytest.raises(LedgerError, match="opened read-only"):
        ledger.read_with("marts/price_flags", pl.DataFrame({"record_id": ["a"], "flag": ["rate is old"]}))


def test_a_statement_that_fails_leaves_a_shared_ledger_readable(path: Path) -> None:
    with open_ledger(path, read_only=True) as ledger:
        with (
            pytest.raises(LedgerError, match=r"ledger\.duckdb"),
            ledger.relation("staging/row_counts") as counts,
        ):
            counts.project("error('made to fail')").fetchall()
        assert flags(ledger) == 0


def test_a_second_change_is_refused_with_what_is_under_way(path: Path) -> None:
    with (
        under_way(Work("reading exports")),
        open_ledger(path),
        pytest.raises(LedgerError, match="is in use: reading exports"),
    ):
        in_a_thread(lambda: write(path, "a correction", 0.2))
    assert flags_read(path) == 0


def test_a_second_change_waits_for_the_first(path: Path) -> None:
    with ThreadPoolExecutor(1) as threads:
        with open_ledger(path) as first:
            waiting = threads.submit(write, path, "second", 60)
            flag(first, "first")
            assert not waiting.done()
        waiting.result(timeout=60)
    assert flags_read(path) == 2


def test_who_waits_for_their_turn_can_be_stopped(path: Path) -> None:
    work = Work("a correction", 60)

    def wait() -> None:
        with under_way(work):
            open_ledger(path)

    with open_ledger(path), ThreadPoolExecutor(1) as threads:
        waiting = threads.submit(wait)
        work.stopping.set()
        with pytest.raises(Stopped):
            waiting.result(timeout=60)


def test_a_ledger_is_used_and_closed_by_another_thread_than_opened_it(path: Path) -> None:
    ledger = in_a_thread(lambda: open_ledger(path))
    in_a_thread(lambda: flag(ledger, "a"))
    assert in_a_thread(lambda: flags(ledger)) == 1
    in_a_thread(ledger.close)
    write(path, "next", 0.2)
    assert flags_read(path) == 2


def test_a_ledger_that_could_not_be_opened_keeps_nobody_waiting(path: Path) -> None:
    with pytest.raises(LedgerError, match="is a DuckDB file that holds no ledger yet"):
        open_ledger(_empty_database(path.with_name("empty.duckdb")))
    write(path, "next", 0.2)
    assert flags_read(path) == 1


def _empty_database(path: Path) -> Path:
    import duckdb

    duckdb.connect(str(path)).close()
    return path


def test_a_ledger_that_nobody_closed_keeps_nobody_waiting(path: Path) -> None:
    ledger = open_ledger(path)
    del ledger
    gc.collect()
    write(path, "next", 0.2)
    assert flags_read(path) == 1


def test_a_file_that_is_no_ledger_is_said_to_be_none_while_shared(tmp_path: Path) -> None:
    (tmp_path / "letter.duckdb").write_text("Dear Sir or Madam, " * 1000)
    with sharing(), pytest.raises(LedgerError, match="is not a ledger"):
        open_ledger(tmp_path / "letter.duckdb", read_only=True)


def test_a_long_statement_is_given_up_when_its_work_is_interrupted(path: Path) -> None:
    work, begun = Work("a long question"), threading.Event()

    def ask() -> None:
        with under_way(work), open_ledger(path, read_only=True) as ledger, ledger._translated():
            begun.set()
            ledger.connection.execute(LONG).fetchall()

    with ThreadPoolExecutor(1) as threads:
        asked = threads.submit(ask)
        begun.wait(60)
        while not asked.done():
            work.interrupt()
        with pytest.raises(KeyboardInterrupt):
            asked.result()
    assert flags_read(path) == 0


def test_work_that_is_stopped_before_it_is_kept_changes_nothing(path: Path) -> None:
    work = Work("reading exports")

    def stop_before_the_end() -> None:
        with under_way(work), open_ledger(path) as ledger, ledger.transaction():
            flag(ledger, "a")
            work.stopping.set()

    with pytest.raises(Stopped):
        stop_before_the_end()
    assert flags_read(path) == 0


def test_the_file_is_not_replaced_while_a_thread_has_it_open(path: Path) -> None:
    copy = path.with_name("copy.duckdb")
    make_copy(path, copy, made_at=NOW)
    before = path.read_bytes()

    def refused(do: Callable[[], object], match: str) -> None:
        with under_way(Work("a copy", 0.2)), pytest.raises(LedgerError, match=match):
            do()

    def refused_all(match: str) -> None:
        refused(lambda: compact(path), match)
        refused(lambda: bring_back(copy, path, now=NOW), match)
        refused(lambda: make_copy(path, copy.with_name("other.duckdb"), made_at=NOW), match)

    with under_way(Work("reading exports")), open_ledger(path):
        in_a_thread(lambda: refused_all("reading exports"))
    with open_ledger(path, read_only=True):
        in_a_thread(lambda: refused_all("an answer is being made"))
    assert path.read_bytes() == before


def test_a_ledger_is_copied_compacted_and_brought_back_between_answers(path: Path) -> None:
    write(path, "a", 1)
    make_copy(path, path.with_name("copy.duckdb"), made_at=NOW)
    write(path, "b", 1)
    compact(path)
    assert flags_read(path) == 2
    bring_back(path.with_name("copy.duckdb"), path, now=NOW)
    assert flags_read(path) == 1


OTHER = """
import sys
from pathlib import Path
import polars as pl
from pipeline.ledger import open_ledger
with open_ledger(Path(sys.argv[1]), read_only=sys.argv[2] == "reads") as ledger:
    if not ledger.read_only:
        flags = pl.DataFrame({"record_id": ["of another process"], "flag": ["rate is old"]})
        ledger.write("marts/price_flags", flags)
    print("open", flush=True)
    sys.stdin.read()
"""


def other_process(path: Path, does: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", OTHER, str(path), does],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=uncounted(),
    )


def test_another_process_writes_while_nobody_here_has_the_ledger_open(path: Path) -> None:
    write(path, "here", 1)
    other = other_process(path, "writes")
    _, said = other.communicate(timeout=60)
    assert (other.returncode, said) == (0, "")
    assert flags_read(path) == 2


def test_another_process_is_kept_out_while_a_thread_here_has_the_ledger_open(path: Path) -> None:
    with open_ledger(path):
        in_a_thread(lambda: flags_read(path))
        other = other_process(path, "writes")
        _, said = other.communicate(timeout=60)
    assert "held by another process" in said
    assert flags_read(path) == 0


def test_the_ledger_is_read_here_while_another_process_reads_it(path: Path) -> None:
    other = other_process(path, "reads")
    assert other.stdout is not None
    assert other.stdout.readline() == "open\n"
    with open_ledger(path, read_only=True) as reader:
        assert in_a_thread(lambda: flags_read(path)) == flags(reader) == 0
        with pytest.raises(LedgerError, match="another process reads the ledger"):
            in_a_thread(lambda: write(path, "a correction", 0.2))
    other.communicate(timeout=60)
    write(path, "a correction", 0.2)
    assert flags_read(path) == 1


def test_a_ledger_that_another_process_writes_is_waited_for(path: Path) -> None:
    other = other_process(path, "writes")
    assert other.stdout is not None
    assert other.stdout.readline() == "open\n"
    with ThreadPoolExecutor(1) as threads:
        waiting = threads.submit(flags_read, path)
        other.communicate(timeout=60)
        assert waiting.result(timeout=60) == 1


def test_a_ledger_that_may_not_be_written_to_is_read(path: Path) -> None:
    path.chmod(0o444)
    with open_ledger(path, read_only=True) as reader:
        assert in_a_thread(lambda: flags_read(path)) == flags(reader) == 0


def test_reading_a_shared_ledger_leaves_every_byte_as_it_was(path: Path) -> None:
    before = path.read_bytes()
    with open_ledger(path, read_only=True), open_ledger(path, read_only=True) as ledger:
        ledger.read("staging/row_counts")
    assert path.read_bytes() == before
