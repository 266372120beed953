"""Which rows of a file the owner has settled without changing the file: skipped on purpose, or written by hand."""

import json
from collections.abc import Collection
from pathlib import Path
from threading import Lock

from pipeline.desk.desk import Desk
from pipeline.outfile import replace_own
from pipeline.workspace import DESK_FOLDER

_WRITING = Lock()


def settled_rows(desk: Desk, sha256: str) -> dict[str, str]:
    """Return the marks of the rows of a file that are settled, each with how ("skipped", "by hand")."""
    try:
        kept = json.loads(_file(desk, sha256).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return {str(mark): str(how) for mark, how in kept.items()} if isinstance(kept, dict) else {}


def faults_left(desk: Desk, sha256: str, found: int) -> int:
    """Return how many of the rows and cells of a file that could not be read are not settled yet."""
    return max(0, found - len(settled_rows(desk, sha256))) if found else 0


def settle_row(desk: Desk, sha256: str, mark: str, how: str) -> None:
    """Keep how a row is settled; "" takes it back."""
    with _WRITING:
        kept = settled_rows(desk, sha256)
        kept.pop(mark, None)
        if how:
            kept[mark] = how
        _write(_file(desk, sha256), kept)


def forget_others(desk: Desk, sha256: str, marks: Collection[str]) -> None:
    """Forget what was settled of rows that are no longer among `marks`."""
    with _WRITING:
        kept = settled_rows(desk, sha256)
        left = {mark: how for mark, how in kept.items() if mark in marks}
        if left != kept:
            _write(_file(desk, sha256), left)


def _file(desk: Desk, sha256: str) -> Path:
    return desk.folder / DESK_FOLDER / "settled" / f"{sha256}.json"


def _write(file: Path, kept: dict[str, str]) -> None:
    replace_own(file, json.dumps(kept, ensure_ascii=False).encode())
