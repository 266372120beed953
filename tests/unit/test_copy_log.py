"""The list of copies: what of it cannot be read is told, and hides neither the rest nor the ledger."""

import json
import os
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from pipeline.answers.care.doctor import examine
from pipeline.errors import LedgerError
from pipeline.ledger import open_ledger
from pipeline.ledger.copies import make_copy
from pipeline.ledger.copy_log import known_copies, log_path, read_log

DAY = datetime(2026, 11, 3, 18, tzinfo=UTC)
MARKET_FILE = Path(__file__).parents[1] / "market.toml"
GOOD = {
    "path": "copy.duckdb",
    "made_at": "2026-11-03 18:00:00+00:00",
    "sha256": "a",
    "size_bytes": 1,
    "sales": 1,
    "records_digest": "d",
    "sound": True,
}
BAD = {
    "a size that is no number": json.dumps(GOOD | {"size_bytes": None}),
    "an endless size": json.dumps(GOOD).replace('"size_bytes": 1', '"size_bytes": 1e999'),
    "a size below zero": json.dumps(GOOD | {"size_bytes": -1}),
    "a day without a zone": json.dumps(GOOD | {"made_at": "2026-11-03 18:00:00"}),
    "a day that is none": json.dumps(GOOD | {"made_at": "2026-13-45"}),
    "a path that is a number": json.dumps(GOOD | {"path": 3}),
    "a key less": json.dumps({key: value for key, value in GOOD.items() if key != "sha256"}),
    "brackets without end": "[" * 100_000,
    "no JSON": "copied it on Tuesday",
    "half a line": json.dumps(GOOD)[:40],
    "other bytes": "\x00\x01",
}
"""Lines that are no copy."""

ODD = {
    "a path that is too long": json.dumps(GOOD | {"path": "/tmp/" + "n" * 5000}),
    "a path with a null": json.dumps(GOOD | {"path": "a\x00b"}),
    "a path that is a device": json.dumps(GOOD | {"path": "/dev/zero", "size_bytes": 0}),
    "a path that is a folder": json.dumps(GOOD | {"path": "/tmp"}),
}
"""Lines of copies that cannot lie where they say."""


@pytest.fixture
def ledger(tmp_path: Path) -> Path:
    path = tmp_path / "pairband.duckdb"
    with open_ledger(path, create=True):
        pass
    return path


@pytest.mark.parametrize("line", [*BAD.values(), *ODD.values()], ids=[*BAD, *ODD])
def test_a_bad_line_is_no_copy_to_offer_when_there_is_no_ledger(tmp_path: Path, line: str) -> None:
    path = tmp_path / "pairband.duckdb"
    log_path(path).write_text(line + "\n")
    with pytest.raises(LedgerError, match=r"there is no ledger .*\n`pairband ingest FILE` makes one"):
        open_ledger(path, read_only=True)


@pytest.mark.parametrize("line", BAD.values(), ids=list(BAD))
def test_a_bad_line_is_reported_by_its_number(tmp_path: Path, line: str) -> None:
    path = tmp_path / "pairband.duckdb"
    log_path(path).write_text(json.dumps(GOOD) + "\n" + line + "\n")
    assert [copy.path for copy in known_copies(path)] == [Path("copy.duckdb")]
    assert read_log(path).faults == (f"line 2 of the list of copies {log_path(path)} is damaged",)


def test_the_doctor_tells_a_bad_line(ledger: Path) -> None:
    log_path(ledger).write_text("copied it on Tuesday\n")
    told = [problem.what for problem in examine(ledger, MARKET_FILE, now=DAY).problems]
    assert f"line 1 of the list of copies {log_path(ledger)} is damaged" in told


SPECIAL: dict[str, Callable[[Path], object]] = {
    "a pipe": os.mkfifo,
    "a folder": Path.mkdir,
    "a device": lambda path: path.symlink_to("/dev/zero"),
}


@pytest.mark.parametrize("kind", SPECIAL)
def test_a_list_that_is_no_plain_file_is_reported_before_anything_is_copied(ledger: Path, kind: str) -> None:
    SPECIAL[kind](log_path(ledger))
    with pytest.raises(LedgerError, match=rf"the list of copies .* is not a plain file: it is {kind}"):
        make_copy(ledger, ledger.with_name("copy.duckdb"), made_at=DAY)
    assert not ledger.with_name("copy.duckdb").exists()


@pytest.mark.parametrize("kind", SPECIAL)
def test_the_doctor_tells_a_list_that_is_no_plain_file(ledger: Path, kind: str) -> None:
    SPECIAL[kind](log_path(ledger))
    told = [problem.what for problem in examine(ledger, MARKET_FILE, now=DAY).problems]
    assert [what for what in told if f"is not a plain file: it is {kind}" in what]


def test_a_list_that_is_far_too_long_is_reported(tmp_path: Path) -> None:
    path = tmp_path / "pairband.duckdb"
    with log_path(path).open("wb") as file:
        file.truncate(10**9)
    assert "is too large: 10,000,000 bytes" in read_log(path).faults[0]
