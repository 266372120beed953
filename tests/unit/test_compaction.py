"""What was removed from a ledger leaves its file by a compaction, and no copy takes it along."""

import shutil
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest
from polars.testing import assert_frame_equal

from pipeline.config import Market
from pipeline.errors import LedgerError
from pipeline.ledger import copies, open_ledger
from pipeline.ledger.copies import compact, make_copy
from pipeline.ledger.migrations import known_migrations
from pipeline.ledger.rewriting import contents
from tests.exports import ingest, write_holm

DAY = datetime(2026, 11, 3, 18, tzinfo=UTC)
REMOVED = "zq7-Xv-Kjw0-nobody-should-read-this-any-more"
KEPT = "hmb4-Ru-Pyt8-this-stays-where-it-can-be-found"
SOLD = "1;Gannet Hi UK 9;04.03.2021;600,00;zugeschlagen;43;"


@pytest.fixture(scope="module")
def removed_once(market: Market, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with a ledger from which a text was removed that is still in its file."""
    folder = tmp_path_factory.mktemp("removed")
    path = folder / "pairband.duckdb"
    with open_ledger(path, create=True) as opened:
        ingest(opened, market, [write_holm(folder, SOLD)])
    with open_ledger(path) as opened:
        for number, note in enumerate((REMOVED, KEPT)):
            opened.connection.execute(
                "INSERT INTO rulings (ruling_id, kind, record_id, note, ruled_at) VALUES (?, 'hold', '1', ?, ?)",
                [str(number), note, DAY],
            ).fetchall()
    with open_ledger(path) as opened:
        opened.connection.execute("DELETE FROM rulings WHERE ruling_id = '0'").fetchall()
    assert REMOVED.encode() in path.read_bytes()
    return folder


@pytest.fixture
def ledger(removed_once: Path, tmp_path: Path) -> Path:
    """Return a copy of that ledger, for a test to change."""
    return shutil.copytree(removed_once, tmp_path, dirs_exist_ok=True) / "pairband.duckdb"


def test_what_was_removed_is_not_in_a_compact_ledger(ledger: Path) -> None:
    compact(ledger)
    assert REMOVED.encode() not in ledger.read_bytes()


def test_what_was_kept_is_found_in_a_compact_ledger(ledger: Path) -> None:
    """Else a text could be hidden by how the engine packs it."""
    compact(ledger)
    assert KEPT.encode() in ledger.read_bytes()


def test_what_was_removed_is_in_no_file_of_the_folder_after_a_compaction(ledger: Path) -> None:
    compact(ledger)
    assert [path for path in ledger.parent.rglob("*") if REMOVED.encode() in path.read_bytes()] == []


def test_what_was_removed_is_not_in_a_copy(ledger: Path) -> None:
    copy, _ = make_copy(ledger, ledger.with_name("copy.duckdb"), made_at=DAY)
    content = copy.path.read_bytes()
    assert (REMOVED.encode() in content, KEPT.encode() in content) == (False, True)


def test_a_copy_leaves_the_ledger_as_it_was(ledger: Path) -> None:
    before = ledger.read_bytes()
    make_copy(ledger, ledger.with_name("copy.duckdb"), made_at=DAY)
    assert ledger.read_bytes() == before


def test_a_compact_ledger_holds_all_that_it_held(ledger: Path) -> None:
    with open_ledger(ledger, read_only=True) as held:
        before = contents(held)
    compact(ledger)
    with open_ledger(ledger, read_only=True) as held:
        assert_frame_equal(contents(held), before)


def test_the_contents_tell_every_table_view_and_macro_of_the_ledger(ledger: Path) -> None:
    """Else a copy could lack one and still be proved."""
    with open_ledger(ledger, read_only=True) as held:
        told = contents(held)
        tables = held.connection.sql("SHOW TABLES").fetchall()
    assert {name for (name,) in tables} - {"incoming"} == set(
        told.filter(told["kind"] != "macro")["relation"]
    )
    assert "own_pair_key" in told["relation"]
    assert told.filter(relation="schema_version")["row_count"].item() == len(known_migrations())


@pytest.mark.parametrize(
    "change",
    [
        "INSERT INTO price_flags VALUES ('a', 'rate is old')",
        "UPDATE staged_rows SET title = 'another'",
        "CREATE TABLE more (x INTEGER)",
        "ALTER TABLE runs ADD COLUMN more INTEGER",
    ],
)
def test_the_contents_tell_every_change(ledger: Path, change: str) -> None:
    with open_ledger(ledger) as held:
        before = contents(held)
        held.connection.execute(change).fetchall()
        assert not contents(held).equals(before)


def test_a_compact_ledger_takes_exports_as_before(ledger: Path, market: Market) -> None:
    compact(ledger)
    later = write_holm(ledger.parent, SOLD.replace("1;", "2;", 1), name="holm_2022.csv")
    with open_ledger(ledger) as opened:
        ingest(opened, market, [later])
        assert opened.read("staging/row_counts")["sales"].item() == 2


def test_older_copies_are_told_since_they_still_hold_what_was_removed(ledger: Path) -> None:
    copy, _ = make_copy(ledger, ledger.with_name("copy.duckdb"), made_at=DAY)
    copies.bring_back(copy.path, ledger, now=DAY)
    replaced = ledger.with_name("pairband.replaced-20261103-180000.duckdb")
    assert compact(ledger).older == (copy.path, replaced)


WRITES = (
    "import sys; from pathlib import Path; from pipeline.ledger import open_ledger\n"
    "ledger = open_ledger(Path(sys.argv[1])); ledger.run('schema/note_version', version=1)"
)


def test_nobody_writes_to_a_ledger_while_its_compact_file_takes_its_place(
    ledger: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    said = []
    put_over = copies.put_over

    def write_first(part: Path, target: Path) -> None:
        program = [sys.executable, "-c", WRITES, str(ledger)]
        said.append(subprocess.run(program, capture_output=True, text=True, check=False).stderr)
        put_over(part, target)

    monkeypatch.setattr(copies, "put_over", write_first)
    compact(ledger)
    assert ["held by another process" in told for told in said] == [True]


def test_a_ledger_in_use_is_not_compacted(ledger: Path) -> None:
    program = WRITES + "; print('open', flush=True); sys.stdin.read()"
    with subprocess.Popen(
        [sys.executable, "-c", program, str(ledger)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as holder:
        assert holder.stdout is not None
        holder.stdout.readline()
        with pytest.raises(LedgerError, match="held by another process"):
            compact(ledger)
        holder.communicate()
