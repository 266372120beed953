"""Whatever ends a command is told in words; what nobody foresaw is kept in a log."""

import builtins
from pathlib import Path

import pytest

from pipeline import cli
from pipeline.cli import main
from pipeline.errors import LedgerError


class Panic(BaseException):
    """What a library written in another language raises; no Exception."""


@pytest.fixture
def log(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    monkeypatch.setattr("sys.argv", ["pairband", "fit"])
    return tmp_path / "pairband" / "errors.log"


def told(
    raised: BaseException, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> tuple[object, str]:
    """Return the exit code and the words of a command that ended so."""

    def end(*_arguments: object, **_named: object) -> None:
        raise raised

    monkeypatch.setattr(cli, "app", end)
    with pytest.raises(SystemExit) as left:
        main()
    return left.value.code, capsys.readouterr().err


@pytest.mark.parametrize(
    ("raised", "words"),
    [
        (ZeroDivisionError("division by zero"), "an unexpected error: ZeroDivisionError: division by zero"),
        (Panic("index out of bounds"), "an unexpected error: Panic: index out of bounds"),
        (MemoryError(), "too little free memory"),
        (RecursionError(), "nested too deeply"),
        (PermissionError(13, "Permission denied", "/there"), "Permission denied: /there"),
        (OSError(28, "No space left on device"), "no space is left where pairband prints to"),
        (builtins.ValueError(), "no message"),
    ],
)
def test_an_error_that_nobody_foresaw_is_reported_and_logged(
    raised: BaseException,
    words: str,
    log: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    code, said = told(raised, monkeypatch, capsys)
    assert code == 1
    assert words in said
    assert "Nothing of yours was lost" in said
    assert str(log) in said
    assert "Traceback" not in said
    assert type(raised).__name__ in log.read_text(encoding="utf-8")


def test_an_expected_error_leaves_no_log(
    log: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert told(LedgerError("held", "wait."), monkeypatch, capsys) == (1, "pairband: held\nwait.\n")
    assert not log.exists()


def test_a_command_that_the_owner_stops_says_so(
    log: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    code, said = told(KeyboardInterrupt(), monkeypatch, capsys)
    assert code == 130
    assert "stopped. Nothing of yours was lost" in said
    assert not log.exists()


def test_a_log_that_cannot_be_kept_is_not_promised(
    log: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", "/dev/null")
    _, said = told(ZeroDivisionError("x"), monkeypatch, capsys)
    assert "`pairband --debug …` shows the details" in said


def test_a_long_log_begins_anew(
    log: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    log.parent.mkdir()
    log.write_text("x" * 1_000_001, encoding="utf-8")
    told(ZeroDivisionError("x"), monkeypatch, capsys)
    assert log.stat().st_size < 10_000
    assert log.with_suffix(".old.log").stat().st_size == 1_000_001
