"""Folders that many tests begin from: written once in each process, and copied for every test."""

import shutil
from collections.abc import Callable
from functools import cache, wraps
from pathlib import Path
from tempfile import mkdtemp


def written_once(write: Callable[[Path], object]) -> Callable[[Path], Path]:
    """Return a function that writes into a folder what `write` does, and returns the folder."""

    @cache
    def first() -> Path:
        folder = Path(mkdtemp(prefix="pairband-written-"))
        write(folder)
        return folder

    @wraps(write)
    def copy_into(folder: Path) -> Path:
        return shutil.copytree(first(), folder, dirs_exist_ok=True)

    return copy_into
