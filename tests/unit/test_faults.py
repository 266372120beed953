"""Killed at any step, a ledger is as it was before or as after, and the work done again ends as if never killed."""

import os
import subprocess
import sys
from datetime import UTC
from pathlib import Path
from tempfile import mkdtemp

import pytest

from pipeline.answers.care.copies import back_up
from pipeline.ledger.files import logs_of, wal_of
from tests.faults import NOW, Contents, Folder, Worker, contents, copied, do, make_folder, states


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Folder:
    return make_folder(tmp_path_factory.mktemp("faults") / "base", sales=24)


@pytest.fixture(scope="module")
def begun(folder: Folder) -> dict[str, list[Contents]]:
    """Return, by work, what the ledger may hold before, in the midst of it and after."""
    told = {}
    for work in ("ingest", "fit"):
        told[work] = states(work, copied(folder, folder.path.with_name(work)))
    return told


@pytest.mark.parametrize(
    ("work", "step", "holds"),
    [
        ("ingest", 3, 0),
        ("ingest", 20, 0),
        ("ingest", 60, 1),
        ("ingest", 50, 1),
        ("fit", 6, 0),
        ("fit", 15, 0),
    ],
)
def test_a_ledger_whose_work_was_killed_is_as_before_and_the_work_can_be_done_again(
    folder: Folder, begun: dict[str, list[Contents]], tmp_path: Path, work: str, step: int, holds: int
) -> None:
    may_hold = begun[work]
    struck = copied(folder, tmp_path / "struck")
    worker = Worker(work, struck, step=step)
    worker.begin()
    worker.end()
    assert worker.process.exitcode == -9
    assert may_hold.index(contents(struck)) == holds
    do(work, struck)
    assert contents(struck) == may_hold[-1]


def test_the_work_changes_what_the_ledger_holds(begun: dict[str, list[Contents]]) -> None:
    """Else a ledger that was killed could not be told from one that was not."""
    assert [len(may_hold) for may_hold in begun.values()] == [3, 2]
    for may_hold in begun.values():
        assert all(may_hold.count(told) == 1 for told in may_hold)


def test_of_two_works_at_once_one_waits_its_turn_and_nothing_is_lost(
    folder: Folder, begun: dict[str, list[Contents]], tmp_path: Path
) -> None:
    may_hold = begun["ingest"]
    shared = copied(folder, tmp_path / "shared")
    both = [Worker("ingest", shared) for _ in range(2)]
    for worker in both:
        worker.begin()
    refused = [told for worker in both if (told := worker.end())]
    assert len(refused) < 2
    assert all("is held by another process" in said and "PID" in said for said in refused)
    assert contents(shared) == may_hold[-1]


LEAVES_A_LOG = (
    "import os, sys; from pathlib import Path; import polars as pl; from pipeline.ledger import open_ledger\n"
    "ledger = open_ledger(Path(sys.argv[1]))\n"
    "ledger.write('marts/price_flags', pl.DataFrame({'record_id': ['a'], 'flag': ['rate is old']}))\n"
    "os._exit(9)"
)


def _leave_a_log(folder: Folder) -> None:
    """Write to the ledger what stays in its write-ahead log."""
    program = [sys.executable, "-c", LEAVES_A_LOG, str(folder.ledger)]
    environment = os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])}
    subprocess.run(program, check=False, env=environment)
    assert wal_of(folder.ledger).exists()


@pytest.fixture(scope="module")
def replaceable(folder: Folder) -> Folder:
    """Return a folder with a copy of its ledger, which has taken in more since, the last of it in its log alone."""
    shop = copied(folder, folder.path.with_name("replaceable"))
    back_up(shop.ledger, shop.path / "market.toml", shop.copy, made_at=NOW.replace(tzinfo=UTC))
    do("ingest", shop)
    (shop.path / "market.toml").write_text((shop.path / "market.toml").read_text() + "# edited\n")
    _leave_a_log(shop)
    return shop


@pytest.fixture(scope="module")
def before_and_after(replaceable: Folder) -> tuple[Contents, Contents]:
    shop = copied(replaceable, replaceable.path.with_name("before_and_after"))
    before = contents(shop)
    do("recover", shop)
    return before, contents(shop)


def _struck(base: Folder, work: str) -> list[Folder]:
    """Do the work in copies of a folder, killed before its first step, its second, …; return the folders.

    In the last one the work came to its end.
    """
    told: list[Folder] = []
    killed = True
    while killed:
        name = f"{base.path.name}-{work}-{len(told)}"
        told.append(copied(base, base.path.with_name(name)))
        worker = Worker(work, told[-1], file_step=len(told) - 1)
        worker.begin()
        assert worker.end() == ""
        killed = worker.process.exitcode == -9
    assert len(told) > 2
    return told


@pytest.fixture(scope="module")
def struck_recoveries(replaceable: Folder) -> list[Folder]:
    return _struck(replaceable, "recover")


def _replaced(folder: Folder) -> list[Contents]:
    """Return what each ledger that was put aside in a folder holds."""
    told = []
    for aside in sorted(folder.path.glob("pairband.replaced-*.duckdb")):
        place = Path(mkdtemp(dir=folder.path.parent))
        for file, name in zip(
            (aside, *logs_of(aside)), ("", ".wal", ".wal.checkpoint", ".wal.recovery"), strict=True
        ):
            if file.exists():
                (place / f"pairband.duckdb{name}").write_bytes(file.read_bytes())
        told.append(contents(Folder(place)))
    return told


def test_an_edited_market_file_is_never_lost_by_a_recovery_that_is_killed(
    replaceable: Folder, struck_recoveries: list[Folder]
) -> None:
    edited = (replaceable.path / "market.toml").read_bytes()
    for struck in struck_recoveries:
        assert (struck.path / "market.toml").exists()
        assert edited in [place.read_bytes() for place in struck.path.glob("market*.toml")]


def test_a_recovery_that_is_killed_leaves_the_ledger_before_or_after_and_loses_no_log(
    struck_recoveries: list[Folder], before_and_after: tuple[Contents, Contents]
) -> None:
    before, after = before_and_after
    held = [contents(struck) for struck in struck_recoveries]
    assert [holds in (before, after) for holds in held] == [True] * len(held)
    assert [
        _replaced(struck) for struck, holds in zip(struck_recoveries, held, strict=True) if holds == after
    ] == [[before]] * held.count(after)


def test_a_recovery_that_was_killed_can_be_done_again(
    struck_recoveries: list[Folder], before_and_after: tuple[Contents, Contents]
) -> None:
    for number, struck in enumerate(struck_recoveries):
        again = copied(struck, struck.path.with_name(f"again-{number}"))
        do("recover", again)
        assert contents(again) == before_and_after[1]
        assert before_and_after[0] in _replaced(again)


def test_a_recovery_that_is_killed_loses_neither_bytes_nor_log_of_a_damaged_ledger(
    replaceable: Folder,
) -> None:
    """Which of the two is damaged cannot be known: both must be kept as they are."""
    base = copied(replaceable, replaceable.path.with_name("damaged"))
    base.ledger.write_bytes(base.ledger.read_bytes()[:5000])
    kept = (base.ledger.read_bytes(), wal_of(base.ledger).read_bytes())
    for struck in _struck(base, "recover"):
        places = [struck.ledger, *struck.path.glob("pairband.replaced-*.duckdb")]
        assert kept in [
            (place.read_bytes(), wal_of(place).read_bytes()) for place in places if wal_of(place).exists()
        ]


def test_a_compaction_that_is_killed_leaves_the_ledger_with_all_that_it_holds(
    replaceable: Folder, before_and_after: tuple[Contents, Contents]
) -> None:
    for struck in _struck(replaceable, "compact"):
        assert contents(struck) == before_and_after[0]


@pytest.mark.parametrize("step", [3, 20, 26])
def test_a_compaction_that_is_killed_between_its_statements_leaves_the_ledger_as_it_was(
    replaceable: Folder, before_and_after: tuple[Contents, Contents], tmp_path: Path, step: int
) -> None:
    struck = copied(replaceable, tmp_path / "struck")
    worker = Worker("compact", struck, step=step)
    worker.begin()
    worker.end()
    assert worker.process.exitcode == -9
    assert contents(struck) == before_and_after[0]
