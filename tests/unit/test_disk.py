"""A disk that is full and a folder that may not be written to: told in words, and the ledger as it was."""

import ctypes
import resource
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.faults import Folder, contents, do, make_folder
from tests.processes import uncounted

DO_THE_WORK = "import sys; from pipeline.cli import main; main()"


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    return make_folder(tmp_path / "base", sales=12)


def _ingest(folder: Folder, before: Callable[[], None]) -> "subprocess.CompletedProcess[str]":
    """Run `pairband ingest` in the folder in another process, which is hampered first."""
    return subprocess.run(
        [sys.executable, "-c", DO_THE_WORK, "ingest", *(path.name for path in folder.exports)],
        cwd=folder.path,
        env=uncounted() | {"PYTHONPATH": str(Path(__file__).parents[2])},
        preexec_fn=before,
        capture_output=True,
        text=True,
        check=False,
    )


def _no_file_grows_beyond(size: int) -> Callable[[], None]:
    return lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))


def _only_what_modes_allow() -> None:
    """Take from root what lets it write where the modes of files forbid it."""
    drop_from_bounds, override, read_search = 24, 1, 2
    for capability in (override, read_search):
        ctypes.CDLL(None).prctl(drop_from_bounds, capability, 0, 0, 0)


def test_a_full_disk_leaves_the_ledger_as_it_was_and_the_work_can_be_done_again(folder: Folder) -> None:
    before = contents(folder)
    said = _ingest(folder, _no_file_grows_beyond(3_000))
    assert said.returncode == 1
    assert "pairband.duckdb" in said.stderr
    assert "the ledger is as it was before this step" in said.stderr
    assert "Traceback" not in said.stderr
    assert contents(folder) == before
    do("ingest", folder)
    assert len(contents(folder)["source_files"]) == 3


@pytest.mark.skipif(sys.platform != "linux", reason="how root is kept to the modes of files is Linux's own")
def test_a_folder_that_may_not_be_written_to_is_told_and_still_read(folder: Folder) -> None:
    before = folder.ledger.read_bytes()
    folder.path.chmod(0o555)
    try:
        said = _ingest(folder, _only_what_modes_allow)
    finally:
        folder.path.chmod(0o755)
    assert said.returncode == 1
    assert "may not be written to; nothing was changed" in said.stderr
    assert folder.ledger.read_bytes() == before
