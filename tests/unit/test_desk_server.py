"""The desk's own process: alone on its folder, on the loopback address only, and closed cleanly however it ends."""

import os
import signal
import socket
import stat
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from pipeline.workspace import DESK_FOLDER
from tests.desk_client import write_shop

COMMAND = [sys.executable, "-c", "from pipeline.cli import main; main()", "desk"]
ROOT = Path(__file__).parents[2]
ENVIRONMENT = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"}


@dataclass
class Served:
    """A desk that runs, and where."""

    process: subprocess.Popen[str]
    address: str

    @property
    def port(self) -> int:
        return urlsplit(self.address).port or 0

    def ask(self, said: bytes, host: str = "127.0.0.1") -> bytes:
        """Send bytes as they are, and return the first line of what comes back."""
        with socket.create_connection((host, self.port), timeout=20) as asking:
            asking.sendall(said.replace(b"PORT", str(self.port).encode()))
            return asking.makefile("rb").readline()

    def end(self, number: signal.Signals) -> tuple[int, str]:
        """Send a signal; return the exit code and all that was said since."""
        self.process.send_signal(number)
        said, _ = self.process.communicate(timeout=60)
        return self.process.returncode, said


@contextmanager
def served(folder: Path, *options: str) -> Iterator[Served]:
    """Run a desk until the block ends."""
    process = subprocess.Popen(
        [*COMMAND, str(folder), "--no-browser", *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env=ENVIRONMENT,
        cwd=folder.parent,
    )
    try:
        assert process.stdout is not None
        lines = [process.stdout.readline(), process.stdout.readline()]
        assert "http://127.0.0.1:" in lines[1], lines
        yield Served(process, lines[1].strip())
    finally:
        if process.poll() is None:
            process.kill()
        process.communicate(timeout=60)


def refused(folder: Path, *options: str) -> str:
    """Run a desk that cannot open; return what it says."""
    ran = subprocess.run(
        [*COMMAND, str(folder), "--no-browser", *options],
        capture_output=True,
        text=True,
        timeout=60,
        env=ENVIRONMENT,
        cwd=folder.parent,
        check=False,
    )
    assert ran.returncode == 1, ran
    assert "Traceback" not in ran.stderr
    return ran.stderr


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """Return a running desk of a small dealer."""
    folder = tmp_path_factory.mktemp("served")
    write_shop(folder)
    with served(folder) as one:
        yield one


@pytest.mark.parametrize(
    ("said", "status"),
    [
        (b"GET / HTTP/1.1\r\nHost: 127.0.0.1:PORT\r\n\r\n", b"403"),
        (b"GET / HTTP/1.1\r\nHost: evil.example:PORT\r\n\r\n", b"421"),
        (b"GET / HTTP/1.0\r\n\r\n", b"421"),
        (b"GET http://evil.example/ HTTP/1.1\r\nHost: 127.0.0.1:PORT\r\n\r\n", b"403"),
        (b"GET http://127.0.0.1:PORT/ HTTP/1.1\r\nHost: evil.example\r\n\r\n", b"421"),
        (b"GET //evil.example/ HTTP/1.1\r\nHost: 127.0.0.1:PORT\r\n\r\n", b"403"),
        (b"GET / HTTP/1.1\r\nHost: 127.0.0.1:PORT\r\nHost: evil.example\r\n\r\n", b"400"),
        (b"POST /fit HTTP/1.1\r\nHost: 127.0.0.1:PORT\r\nContent-Length: x\r\n\r\n", b"400"),
        (b"POST /fit HTTP/1.1\r\nHost: 127.0.0.1:PORT\r\nContent-Length: -1\r\n\r\n", b"400"),
        (b"POST /fit HTTP/1.1\r\nHost: 127.0.0.1:PORT\r\nContent-Length: 99\r\n\r\nslow", b"403"),
        (b"GET /\x00 HTTP/1.1\r\nHost: 127.0.0.1:PORT\r\n\r\n", b"400"),
        (b"TRACE / HTTP/1.1\r\nHost: 127.0.0.1:PORT\r\n\r\n", b"403"),
        (b"nonsense\r\n\r\n", b"400"),
    ],
)
def test_a_request_as_no_browser_sends_it_is_refused_and_the_desk_goes_on(
    shop: Served, said: bytes, status: bytes
) -> None:
    assert status in shop.ask(said)
    assert b"403" in shop.ask(b"GET / HTTP/1.1\r\nHost: 127.0.0.1:PORT\r\n\r\n")


def test_only_this_machine_can_reach_the_desk(shop: Served) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        asking.connect(("192.0.2.1", 9))  # sends nothing: asks by which address this machine would
        other = asking.getsockname()[0]
    if other.startswith("127."):
        pytest.skip("this machine has no address but the loopback")
    with pytest.raises(ConnectionRefusedError, match="refused"):
        shop.ask(b"", other)


def test_nobody_else_on_this_machine_can_read_the_desks_own_files(shop: Served) -> None:
    own = Path(f"/proc/{shop.process.pid}/cwd").resolve() / DESK_FOLDER
    assert stat.S_IMODE(own.stat().st_mode) == 0o700
    assert stat.S_IMODE((own / "open.json").stat().st_mode) == 0o600


def test_a_second_desk_says_where_the_first_is(tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    with served(folder) as first:
        for options in ((), ("--port", str(first.port))):
            ran = subprocess.run(
                [*COMMAND, str(folder), "--no-browser", *options],
                capture_output=True,
                text=True,
                timeout=60,
                env=ENVIRONMENT,
                check=True,
            )
            assert first.address in ran.stdout
        assert first.end(signal.SIGINT)[0] == 0


def test_a_desk_that_was_killed_leaves_the_folder_free(tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    with served(folder) as first:
        first.process.kill()
        first.process.wait()
    with served(folder) as second:
        assert second.address != first.address


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_desk_that_is_told_to_end_closes_cleanly(tmp_path: Path, number: signal.Signals) -> None:
    with served(tmp_path / "shop") as one:
        code, said = one.end(number)

    assert (code, "The desk is closed." in said, "Traceback" in said) == (0, True, False)


def test_a_port_that_is_taken_is_said(tmp_path: Path, shop: Served) -> None:
    assert f"port {shop.port} cannot be used" in refused(tmp_path / "other", "--port", str(shop.port))


def test_a_folder_that_is_a_file_is_said(tmp_path: Path) -> None:
    (tmp_path / "shop").write_text("no folder", encoding="utf-8")
    assert "the desk cannot use" in refused(tmp_path / "shop")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_cannot_be_written_to_is_said(tmp_path: Path) -> None:
    (tmp_path / "shop").mkdir(mode=0o500)
    assert "the desk cannot use" in refused(tmp_path / "shop")


def test_a_link_in_the_place_of_the_desks_own_files_is_not_followed(tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    for name in ("linked", "locked"):
        (tmp_path / name).mkdir()
    (tmp_path / "linked" / DESK_FOLDER).symlink_to(elsewhere)
    (tmp_path / "locked" / DESK_FOLDER).mkdir()
    (tmp_path / "locked" / DESK_FOLDER / "open.json").symlink_to(elsewhere / "target")

    assert "is a link" in refused(tmp_path / "linked")
    assert "the desk cannot use" in refused(tmp_path / "locked")
    assert list(elsewhere.iterdir()) == []


def test_an_open_folder_of_the_desk_is_closed_to_others(tmp_path: Path) -> None:
    own = tmp_path / "shop" / DESK_FOLDER
    own.mkdir(parents=True, mode=0o755)
    with served(tmp_path / "shop"):
        assert stat.S_IMODE(own.stat().st_mode) == 0o700
