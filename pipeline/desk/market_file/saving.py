"""Save the market file, and bring back an earlier text of it; nothing that was ever saved is lost by either."""

import hashlib
import re
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path

from pipeline.config import MOST_BYTES, parse_market
from pipeline.errors import MarketFileError
from pipeline.outfile import edit_market_file
from pipeline.plain_file import read_plain_file

_MARK = b"\xef\xbb\xbf"


@dataclass(frozen=True)
class MarketText:
    """A text of the market file, as its bytes on the disk."""

    content: bytes

    @cached_property
    def text(self) -> str:
        """The text, without the byte order mark; its line endings are as they are."""
        return self.content.decode("utf-8-sig")

    @cached_property
    def digest(self) -> str:
        """What a form carries along, so that a change by another program is noticed."""
        return hashlib.sha256(self.content).hexdigest()

    def changed(self, text: str) -> "MarketText":
        """Return another text, with the byte order mark where this one has it."""
        return MarketText((_MARK if self.content.startswith(_MARK) else b"") + text.encode())


@dataclass(frozen=True)
class EarlierText:
    """A text that a save replaced: its number (1 for the first), its file, and when it was replaced (UTC)."""

    number: int
    file: Path
    replaced_at: datetime


def read_market_text(path: Path) -> MarketText:
    """Read the market file as it is now; raises MarketFileError where it is missing or not UTF-8."""
    content = read_plain_file(
        path, "market file", MOST_BYTES, fault=MarketFileError, missing="`pairband init` writes a starter."
    )
    try:
        content.decode("utf-8-sig")
    except UnicodeDecodeError as exc:
        raise MarketFileError(f"{path} is not UTF-8 text", "save it again as UTF-8.") from exc
    return MarketText(content)


def save(path: Path, digest: str, changed: MarketText) -> Path:
    """Put a changed text into the market file; return where the text before it is kept.

    `digest` is that of the text that the change was made of. Raises MarketFileError where the file holds another one
    by now, where nothing changed, or where the new text is no market file; then nothing is written.
    """
    now = read_market_text(path)
    if now.digest != digest:
        raise MarketFileError(
            f"{path} was changed by another program, or in another window, since this page was made; "
            "nothing was written",
            "open the page again: it shows the file as it is now.",
        )
    if changed.content == now.content:
        raise MarketFileError(f"{path} already says this; nothing was written", "change a value first.")
    parse_market(changed.text, where=str(path))
    return edit_market_file(path, now.content, changed.content)


def earlier_texts(path: Path) -> tuple[EarlierText, ...]:
    """Return the earlier texts of the market file that lie beside it, the last that was replaced first."""
    named = re.compile(re.escape(path.name) + r"\.before(\d*)")
    found = [(name[1], one) for one in path.parent.iterdir() if (name := named.fullmatch(one.name))]
    texts = [
        EarlierText(int(number or 1), one, datetime.fromtimestamp(one.stat().st_mtime, tz=UTC))
        for number, one in found
        if one.is_file() and not one.is_symlink()
    ]
    return tuple(sorted(texts, key=lambda one: (one.replaced_at, one.number), reverse=True))


def bring_back(path: Path, digest: str, number: int) -> Path:
    """Put the earlier text of a number back, byte for byte; return where the text that it replaces is kept.

    So bringing back can be undone as every save can. Raises MarketFileError as `save` does, and where there is no such
    text.
    """
    found = next((one for one in earlier_texts(path) if one.number == number), None)
    if found is None:
        raise MarketFileError(
            f"there is no earlier text {number} beside {path}; nothing was written", "choose one of the list."
        )
    return save(path, digest, read_market_text(found.file))
