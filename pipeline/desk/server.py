"""Start the desk: one a folder, on a port of the loopback address, and a browser at it."""

import fcntl
import json
import os
import secrets
import signal
import socket
import threading
import webbrowser
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from types import FrameType

from pipeline.errors import DeskError
from pipeline.streams import say
from pipeline.workspace import DESK_FOLDER

HOST = "127.0.0.1"
_LOCK = "open.json"

AT_LEISURE = 1.5
"""Seconds after which the pages beyond the first are loaded, if none was asked for before."""


def serve(folder: Path, *, port: int, opens_browser: bool) -> None:
    """Serve the desk of a folder until the owner stops it; where one is open already, say and open that.

    Raises DeskError where the folder or the port cannot be used.
    """
    place = _folder(folder)
    with _alone(place) as lock:
        if lock is None:
            _open_the_other(place, opens_browser=opens_browser)
            return
        _serve_alone(place, lock, port=port, opens_browser=opens_browser)
    say("The desk is closed.")


def _serve_alone(place: Path, lock: int, *, port: int, opens_browser: bool) -> None:
    """Serve the desk of a folder whose lock this process holds."""
    with _ending_cleanly(), _listening(port) as listener:
        from pipeline.desk.app import build_app
        from pipeline.desk.desk import Desk
        from pipeline.desk.routes import other_routes

        os.chdir(place)
        desk = Desk(place, port=listener.getsockname()[1])
        _note(lock, desk.first_address)
        say(
            f"The desk of {place} is at\n  {desk.first_address}\nOnly this machine can reach it. Ctrl-C ends it."
        )
        if opens_browser:
            threading.Thread(target=_open_browser, args=(desk.first_address,), daemon=True).start()
        loading = threading.Timer(AT_LEISURE, other_routes)
        loading.daemon = True
        loading.start()
        with desk:
            _run(build_app(desk), listener)


def new_secret() -> str:
    """Return 256 random bits as text for an address or a cookie."""
    return secrets.token_urlsafe(32)


def _folder(folder: Path) -> Path:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        own = folder / DESK_FOLDER
        own.mkdir(mode=0o700, exist_ok=True)
        if own.is_symlink():
            raise DeskError(f"{own} is a link; the desk was not opened", "remove it.")
        own.chmod(0o700)
    except OSError as exc:
        raise DeskError(f"the desk cannot use {folder}: {exc.strerror}", "name a folder of yours.") from exc
    return folder.resolve()


@contextmanager
def _listening(port: int) -> Iterator[socket.socket]:
    """Give a socket that listens on the loopback address."""
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as listener:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((HOST, port))
        except OSError as exc:
            raise DeskError(f"port {port} cannot be used: {exc.strerror}", "leave --port out.") from exc
        listener.listen(128)
        yield listener


@contextmanager
def _alone(folder: Path) -> Iterator[int | None]:
    """Give the lock of a folder's desk; None where another desk holds it. It ends with the process that holds it."""
    flags = os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW | os.O_CLOEXEC
    try:
        lock = os.open(folder / DESK_FOLDER / _LOCK, flags, 0o600)
    except OSError as exc:
        raise DeskError(f"the desk cannot use {folder}: {exc.strerror}", "name a folder of yours.") from exc
    try:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            yield None
            return
        yield lock
        os.ftruncate(lock, 0)
    finally:
        os.close(lock)


def _note(lock: int, address: str) -> None:
    os.ftruncate(lock, 0)
    os.pwrite(lock, json.dumps({"address": address, "process": os.getpid()}).encode(), 0)


def _open_the_other(folder: Path, *, opens_browser: bool) -> None:
    """Say where the desk of a folder is that is open already, and open a browser there."""
    said = {}
    with suppress(OSError, ValueError):
        said = json.loads((folder / DESK_FOLDER / _LOCK).read_text(encoding="ascii"))
    address = said.get("address", "")
    if not address:
        raise DeskError(f"a desk of {folder} is opening just now", "try again in a moment.")
    say(f"The desk of {folder} is open already, at\n  {address}")
    if opens_browser:
        _open_browser(address)


def _open_browser(address: str) -> None:
    """Open a browser at an address, where there is one; the address is printed anyway."""
    with suppress(webbrowser.Error, OSError):
        webbrowser.open(address)


@contextmanager
def _ending_cleanly() -> Iterator[None]:
    """Have the desk end as with Ctrl-C where it gets a signal to end, or its terminal is closed."""

    def end(_number: int, _frame: FrameType | None) -> None:
        signal.raise_signal(signal.SIGINT)

    before = {number: signal.signal(number, end) for number in (signal.SIGTERM, signal.SIGHUP)}
    try:
        with suppress(KeyboardInterrupt):
            yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _run(app: object, listener: socket.socket) -> None:
    import uvicorn

    config = uvicorn.Config(
        app,  # type: ignore[arg-type]
        log_config=None,
        access_log=False,
        server_header=False,
        proxy_headers=False,
        lifespan="off",
        http="h11",
        ws="none",
        timeout_graceful_shutdown=3,
    )
    uvicorn.Server(config).run(sockets=[listener])
