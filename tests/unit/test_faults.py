"""Killed at any step, a ledger is as it was before or as after, and the work done again ends as if never killed."""

from pathlib import Path

import pytest

from tests.faults import Contents, Folder, Worker, contents, copied, do, make_folder, states


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
        ("ingest", 40, 1),
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
