"""Files that come in: a name of ours, written beside and renamed, and nothing of what was there lost."""

import hashlib
import os
import re
import secrets
import shutil
import unicodedata
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from threading import Lock
from typing import IO, Literal

from pipeline.desk.desk import ENDINGS
from pipeline.errors import ExportError
from pipeline.ingest.readers.limits import IN_PARTS, LARGEST_FILE
from pipeline.ledger.files import file_digest
from pipeline.outfile import give_free_name

EARLIER = "earlier"
"""The folder of the exports in which a file is kept that another of its name took the place of."""

MOST_SIGNS = 100
MOST_BYTES = 180
"""The longest name, its ending left out, in signs and in bytes: what any file system takes, with room for a number."""

_JOINER = "\u200d"
"""Joins the parts of one picture sign; all other signs of its kind are invisible, or turn the words around them."""

_INVISIBLE = ("Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp")
_NOT_IN_NAMES = str.maketrans(dict.fromkeys('<>:"|?*', "_") | {"[": "(", "]": ")"})
_RESERVED = re.compile(r"(?:con|prn|aux|nul|com[0-9]|lpt[0-9])(?:\..*)?", re.IGNORECASE)
_AT_ONCE = 1 << 20
_NAMING = Lock()

How = Literal["new", "same", "replaced"]


@dataclass(frozen=True)
class TakenIn:
    """A file that came in: its name in the folder, and how: new, the same as one that was there, or in its place.

    `earlier` is where the file that had its name before is kept.
    """

    name: str
    how: How
    earlier: Path | None = None


def safe_name(said: str) -> str:
    """Return the name by which a file is kept, from what its sender calls it: no path, nothing hidden or reserved.

    Letters of every language stay. Raises ExportError where it ends like no export.
    """
    base = re.split(r"[/\\]", said)[-1]
    visible = "".join(
        sign
        for sign in unicodedata.normalize("NFC", base)
        if sign == _JOINER or unicodedata.category(sign) not in _INVISIBLE
    )
    name = " ".join(visible.translate(_NOT_IN_NAMES).split()).lstrip(". ").rstrip(". ")
    stem, ending = os.path.splitext(name)
    if ending.lower() not in ENDINGS:
        raise ExportError(
            f"{name or 'a file without a name'} is no export: nothing is known of files that end in "
            f"{ending or '(nothing)'!r}",
            f"known endings: {', '.join(ENDINGS)}.",
        )
    stem = stem[:MOST_SIGNS].encode()[:MOST_BYTES].decode(errors="ignore").rstrip(". ") or "export"
    return f"{'_' if _RESERVED.fullmatch(stem) else ''}{stem}{ending}"


def take_in(folder: Path, said_name: str, content: IO[bytes]) -> TakenIn:
    """Keep a file in the folder of exports, whole or not at all.

    A file that holds the same is not kept twice; one of its name that holds something else moves to EARLIER. Raises
    ExportError where the name is that of no export, the file is larger than is read, or it cannot be kept.
    """
    name = safe_name(said_name)
    part = folder / f".pairband-{secrets.token_hex(8)}.part"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        digest = _write(part, content, name)
        with _NAMING:
            return _name(part, folder / name, digest)
    except OSError as exc:
        raise ExportError(
            f"{name} cannot be kept in {folder}: {exc.strerror or exc}; nothing was changed",
            "make room, or see that the folder is yours to write to.",
        ) from exc
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def _name(part: Path, place: Path, digest: str) -> TakenIn:
    """Give a finished file its name, unless a file of the folder holds the same."""
    if (twin := _twin(place.parent, part.stat().st_size, digest, first=place.name)) is not None:
        return TakenIn(twin, "same")
    try:
        give_free_name(part, place)
    except FileExistsError:
        earlier = _keep_aside(place)
        os.replace(part, place)
        return TakenIn(place.name, "replaced", earlier)
    return TakenIn(place.name, "new")


def _write(part: Path, content: IO[bytes], name: str) -> str:
    """Write a file through to the disk, and return the digest of what it holds."""
    digest = hashlib.sha256()
    size = 0
    with part.open("xb") as file:
        while piece := content.read(_AT_ONCE):
            size += len(piece)
            if size > LARGEST_FILE:
                raise ExportError(
                    f"{name} has more than {LARGEST_FILE:,} bytes, which are the most that are read", IN_PARTS
                )
            digest.update(piece)
            file.write(piece)
        file.flush()
        os.fsync(file.fileno())
    return digest.hexdigest()


def _twin(folder: Path, size: int, digest: str, *, first: str) -> str | None:
    """Return the name of a file of the folder that holds the same; the one of the name `first` before others."""
    names = sorted((one.name for one in folder.iterdir()), key=lambda one: (one != first, one))
    for name in names:
        file = folder / name
        if name.startswith(".") or file.is_symlink() or not file.is_file() or file.stat().st_size != size:
            continue
        if file_digest(file)[0] == digest:
            return name
    return None


def _keep_aside(place: Path) -> Path:
    """Give a file a second name in EARLIER, beside those of its name that are kept there already; return it."""
    aside = place.parent / EARLIER
    aside.mkdir(exist_ok=True)
    for count in range(1, 10_000):
        kept = aside / (place.name if count == 1 else f"{place.stem} ({count}){place.suffix}")
        try:
            os.link(place, kept)
        except FileExistsError:
            continue
        except OSError:  # a file system without links
            if kept.exists():
                continue
            shutil.copy2(place, kept)
        return kept
    raise OSError(f"{aside} holds 10,000 files of that name")
