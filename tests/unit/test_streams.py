"""The terminal: no text can steer it, no stream of it ends a command in a traceback."""

import ctypes
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from rich.table import Table

from pipeline.cli import main
from pipeline.streams import libraries_silenced, visible
from pipeline.terminal.console import OUT, show_json
from tests.processes import uncounted

ROOT = Path(__file__).parents[2]
COMMAND = [sys.executable, "-c", "from pipeline.cli import main; main()"]


def run(
    *arguments: str | bytes, shell_end: str = "", **environment: str
) -> "subprocess.CompletedProcess[bytes]":
    """Run `pairband` in a process of its own, its streams bent by the end of a shell's line."""
    return subprocess.run(
        ["bash", "-c", f'"$@" {shell_end}', "bash", *COMMAND, *arguments],
        env=uncounted() | {"PYTHONPATH": str(ROOT)} | environment,
        capture_output=True,
        check=False,
    )


def test_an_escape_sequence_is_shown_not_sent() -> None:
    assert visible("\x1b]0;you\x07 \x9b2J \x7f \u202egnp") == "\\x1b]0;you\\x07 \\x9b2J \\x7f \\u202egnp"


def test_lines_and_letters_stay_as_they_are() -> None:
    assert visible("Größe 43 – ½\n\tÉcru 海") == "Größe 43 – ½\n\tÉcru 海"


def test_a_title_in_a_table_cannot_steer_the_terminal() -> None:
    table = Table("title")
    table.add_row("Gannet\x1b[2J Hi")
    with OUT.capture() as printed:
        OUT.print(table)
        OUT.print("Plover\x1b]8;;x\x07")
    assert "\x1b" not in printed.get()
    assert "Gannet\\x1b[2J Hi" in printed.get()


def test_json_holds_every_sign_and_none_that_steers(capsys: pytest.CaptureFixture[str]) -> None:
    show_json({"title": "a\x9b2J\x7f\u202e é"})
    printed = capsys.readouterr().out
    assert not set("\x9b\x7f\u202e") & set(printed)
    assert json.loads(printed) == {"title": "a\x9b2J\x7f\u202e é"}


def test_a_file_name_in_an_error_cannot_steer_the_terminal(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("sys.argv", ["pairband", "check", "--market", "a\x1b[31m.toml"])
    with pytest.raises(SystemExit):
        main()
    said = capsys.readouterr().err
    assert "\x1b" not in said
    assert "a\\x1b[31m.toml" in said


@pytest.mark.parametrize("encoding", ["latin-1", "ascii", "cp1252"])
def test_a_terminal_of_another_encoding_gets_plainer_signs(encoding: str) -> None:
    said = run("columns", PYTHONIOENCODING=encoding)
    assert (said.returncode, said.stderr) == (0, b"")


def test_json_in_ascii_is_the_same_json() -> None:
    assert json.loads(run("columns", "--json", PYTHONIOENCODING="ascii").stdout) == json.loads(
        run("columns", "--json", PYTHONIOENCODING="utf-8").stdout
    )


@pytest.mark.parametrize("closed", ["<&-", ">&-", "2>&-", "<&- >&- 2>&-"])
def test_a_closed_stream_ends_nothing(closed: str) -> None:
    said = run("columns", shell_end=closed)
    assert (said.returncode, said.stderr) == (0, b"")


def test_no_file_takes_the_number_of_a_closed_stream(tmp_path: Path) -> None:
    """What a library prints to a closed stderr must not land in the ledger."""
    script = (
        "from pipeline.streams import open_standard_streams; open_standard_streams(); "
        "import os, sys; file = open('ledger', 'w+b'); file.write(b'DUCK'); file.flush(); "
        "os.write(2, b'printed by a library'); sys.exit(file.fileno() < 3)"
    )
    done = subprocess.run(
        ["bash", "-c", 'exec "$@" 0<&- 1>&- 2>&-', "bash", sys.executable, "-c", script],
        cwd=tmp_path,
        env=uncounted() | {"PYTHONPATH": str(ROOT)},
        check=False,
    )
    assert (done.returncode, (tmp_path / "ledger").read_bytes()) == (0, b"DUCK")


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="Linux has it")
@pytest.mark.parametrize("arguments", [("columns",), ("columns", "--json"), ("--help",)])
def test_a_full_disk_under_stdout_is_reported(arguments: tuple[str, ...]) -> None:
    said = run(*arguments, shell_end=">/dev/full")
    assert said.returncode == 1
    assert b"no space is left" in said.stderr
    assert b"Traceback" not in said.stderr


@pytest.mark.parametrize("arguments", [("columns",), ("columns", "--json")])
def test_a_reader_that_leaves_is_no_error(arguments: tuple[str, ...]) -> None:
    said = run(*arguments, shell_end="| true; exit ${PIPESTATUS[0]}")
    assert (said.returncode, said.stderr) == (0, b"")


def test_what_a_library_prints_past_python_does_not_reach_the_answer(
    capfd: pytest.CaptureFixture[str],
) -> None:
    c_library = ctypes.CDLL(None)
    c_library.puts(b"before")
    with libraries_silenced():
        c_library.puts(b"a remark of a solver")
    c_library.puts(b"after")
    c_library.fflush(None)

    assert capfd.readouterr().out == "before\nafter\n"
