"""Jobs of the desk: in turn, beside each other, stopped, remembered, and told in words."""

import threading
from collections.abc import Callable, Iterator
from contextvars import ContextVar
from pathlib import Path
from shutil import copy
from typing import Any

import pytest

from pipeline.answers.fit.run import fit_ledger
from pipeline.answers.ingest.run import ingest_exports
from pipeline.desk.jobs import AT_ONCE, KEPT, Job, Jobs, OnProgress, Reached, State
from pipeline.errors import FitError
from pipeline.ingest.replacement import Wish
from pipeline.ledger import open_ledger
from pipeline.ledger.rewriting import contents
from pipeline.ledger.sharing import sharing
from pipeline.shipped import shipped
from tests.demo_ledger import LATER, demo_ledger

LONG = "SELECT count(*) FROM range(200_000) a, range(200_000) b WHERE a.range * b.range % 7 = 3"
SPEAKER: ContextVar[str] = ContextVar("speaker")


@pytest.fixture
def jobs() -> Iterator[Jobs]:
    with sharing():
        jobs = Jobs()
        yield jobs
        assert jobs.close(60)


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    copy(demo_ledger()[0], tmp_path / "pairband.duckdb")
    copy(shipped("sample_data") / "market.toml", tmp_path)
    return tmp_path


class Held:
    """Work that goes on until it is let go, or told to stop."""

    def __init__(self) -> None:
        self.begun, self.let_go = threading.Event(), threading.Event()

    def __call__(self, on_progress: OnProgress) -> str:
        """Report progress until the work is let go."""
        self.begun.set()
        while not self.let_go.wait(0.005):
            on_progress("holding", 1, 3)
        return "let go"


def nothing(on_progress: OnProgress) -> None:
    on_progress("nothing", 1, 1)


def ended(job: Job[Any]) -> State:
    assert job.wait(60)
    return job.state


def test_a_job_gives_what_its_work_returns(jobs: Jobs) -> None:
    job = jobs.start("reading exports", lambda _: 12, writes=True)
    assert (ended(job), job.result, job.error) == (State.DONE, 12, "")


def test_a_job_says_how_far_it_is(jobs: Jobs) -> None:
    job = jobs.start("reading exports", lambda on_progress: on_progress("shop.csv", 5, 9), writes=True)
    ended(job)
    assert job.reached == Reached("shop.csv", 5, 9)


def test_a_job_is_found_by_its_id_and_by_no_other(jobs: Jobs) -> None:
    job = jobs.start("auditing", nothing, writes=False)
    assert jobs.find(job.id) is job
    assert jobs.find("ünknown") is None


def test_a_job_that_fails_says_why_in_words(jobs: Jobs) -> None:
    def fail(_: OnProgress) -> None:
        raise FitError("3 sales are too few", "ingest more exports.")

    job = jobs.start("fitting the market", fail, writes=True)
    assert (ended(job), job.error) == (State.FAILED, "3 sales are too few\ningest more exports.")


def test_an_unexpected_error_of_a_job_is_told_and_logged(jobs: Jobs, tmp_path: Path) -> None:
    job = jobs.start("fitting the market", lambda _: 1 // 0, writes=True)
    assert ended(job) == State.FAILED
    assert job.error.startswith("an unexpected error: ZeroDivisionError")


def test_a_job_that_is_stopped_says_that_nothing_was_lost(jobs: Jobs) -> None:
    held = Held()
    job = jobs.start("reading exports", held, writes=True)
    held.begun.wait(60)
    job.cancel()
    assert ended(job) == State.CANCELLED
    assert job.error.startswith("stopped. Nothing of yours was lost")


def test_a_job_that_was_done_before_it_heard_is_done(jobs: Jobs) -> None:
    begun, let_go = threading.Event(), threading.Event()

    def work(_: OnProgress) -> bool:
        begun.set()
        return let_go.wait(60)

    job = jobs.start("reading exports", work, writes=True)
    begun.wait(60)
    job.cancel()
    let_go.set()
    assert (ended(job), job.result) == (State.DONE, True)


def test_changes_are_made_one_after_another(jobs: Jobs) -> None:
    first, second = Held(), Held()
    one = jobs.start("reading exports", first, writes=True)
    other = jobs.start("fitting the market", second, writes=True)
    first.begun.wait(60)
    assert (one.state, other.state, second.begun.is_set()) == (State.RUNNING, State.WAITING, False)
    first.let_go.set()
    ended(one)
    assert second.begun.wait(60)
    second.let_go.set()
    assert ended(other) == State.DONE


def test_what_only_reads_goes_on_beside_a_change_two_at_a_time(jobs: Jobs) -> None:
    change, readers = Held(), [Held() for _ in range(AT_ONCE + 1)]
    jobs.start("reading exports", change, writes=True)
    begun = [jobs.start("auditing", reader, writes=False) for reader in readers]
    assert change.begun.wait(60)
    assert all(reader.begun.wait(60) for reader in readers[:AT_ONCE])
    assert begun[-1].state == State.WAITING
    readers[0].let_go.set()
    assert readers[-1].begun.wait(60)


def test_a_job_that_waits_for_its_turn_can_be_stopped(jobs: Jobs) -> None:
    first, second = Held(), Held()
    jobs.start("reading exports", first, writes=True)
    waiting = jobs.start("fitting the market", second, writes=True)
    waiting.cancel()
    assert ended(waiting) == State.CANCELLED
    assert not second.begun.is_set()


def test_the_last_jobs_are_remembered(jobs: Jobs) -> None:
    begun = [jobs.start(f"job {number}", nothing, writes=True) for number in range(KEPT + 5)]
    assert ended(begun[-1]) == State.DONE
    jobs.start("the next", nothing, writes=True).wait(60)
    assert [job.what for job in jobs.all()][:2] == ["the next", f"job {KEPT + 4}"]
    assert jobs.find(begun[0].id) is None
    assert len(jobs.all()) == KEPT


def test_work_knows_the_context_that_it_was_begun_in(jobs: Jobs) -> None:
    token = SPEAKER.set("the desk")
    job = jobs.start("auditing", lambda _: SPEAKER.get(), writes=False)
    SPEAKER.reset(token)
    ended(job)
    assert job.result == "the desk"


def test_when_the_desk_closes_all_jobs_are_stopped() -> None:
    jobs = Jobs()
    begun: list[Job[Any]] = [jobs.start("holding", Held(), writes=writes) for writes in (True, True, False)]
    assert jobs.close(60)
    begun.append(jobs.start("too late", nothing, writes=False))
    assert {ended(job) for job in begun} == {State.CANCELLED}


def test_a_long_statement_of_a_job_is_given_up(jobs: Jobs, demo: Path) -> None:
    begun = threading.Event()

    def ask(_: OnProgress) -> None:
        with open_ledger(demo / "pairband.duckdb", read_only=True) as ledger:
            begun.set()
            with ledger.relation("staging/row_counts"):
                ledger.connection.execute(LONG).fetchall()

    job = jobs.start("a long question", ask, writes=False)
    begun.wait(60)
    job.cancel()
    assert ended(job) == State.CANCELLED


def digest(place: Path) -> list[tuple[object, ...]]:
    with open_ledger(place / "pairband.duckdb", read_only=True) as ledger:
        return contents(ledger).rows()


def stopped_at(steps: int, job: Callable[[OnProgress], object], jobs: Jobs) -> Job[Any]:
    """Return the job, stopped when it reported progress for that time."""
    begun: list[Job[Any]] = []
    is_there = threading.Event()

    def counted(on_progress: OnProgress) -> object:
        is_there.wait(60)
        left = iter(range(steps - 1, -1, -1))

        def tell(step: str, done: int, total: int) -> None:
            if next(left, 0) == 0:
                begun[0].cancel()
            on_progress(step, done, total)

        return job(tell)

    begun.append(jobs.start("stopped", counted, writes=True))
    is_there.set()
    return begun[0]


@pytest.mark.parametrize("steps", [1, 4])
def test_a_fit_that_is_stopped_leaves_the_ledger_as_it_was(jobs: Jobs, demo: Path, steps: int) -> None:
    before = digest(demo)

    def fit(on_progress: OnProgress) -> object:
        return fit_ledger(
            demo / "pairband.duckdb", demo / "market.toml", fitted_at=LATER, on_progress=on_progress
        )

    assert ended(stopped_at(steps, fit, jobs)) == State.CANCELLED
    assert digest(demo) == before


def test_a_reading_that_is_stopped_leaves_the_ledger_as_it_was(jobs: Jobs, demo: Path) -> None:
    export = (shipped("sample_data") / "exports" / "holm_2023_2026.csv").read_bytes()
    changed = demo / "holm_2023_2026.csv"
    changed.write_bytes(export.replace(b"2024", b"2023"))
    before = digest(demo)

    def read(on_progress: OnProgress) -> object:
        return ingest_exports(
            demo / "pairband.duckdb",
            demo / "market.toml",
            [changed],
            map_name=None,
            wish=Wish(replace="holm_2023_2026.csv"),
            loaded_at=LATER,
            on_progress=on_progress,
        )

    assert ended(stopped_at(1, read, jobs)) == State.CANCELLED
    assert digest(demo) == before
