"""What the owner typed and has not sent yet, kept on disk so that neither a reload nor a crash loses it."""

import hashlib
import json
from contextlib import suppress
from pathlib import Path

from pipeline.outfile import replace_own

MOST_BYTES = 2_000_000
"""The largest draft that is kept."""


class Drafts:
    """Drafts by the address of their form, each a mapping of fields to texts, in a folder of their own."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def get(self, key: str) -> dict[str, str]:
        """Return the draft of a form; empty where there is none."""
        try:
            kept = json.loads(self._file(key).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        said = kept.get("said") if isinstance(kept, dict) else None
        return {str(name): str(text) for name, text in said.items()} if isinstance(said, dict) else {}

    def keep(self, key: str, said: dict[str, str]) -> None:
        """Keep a draft in the place of the one before; one that is empty or too large is not kept."""
        content = json.dumps({"key": key, "said": said}, ensure_ascii=False).encode(
            "utf-8", "backslashreplace"
        )
        if not any(said.values()):
            self.drop(key)
        elif len(content) <= MOST_BYTES:
            replace_own(self._file(key), content)

    def drop(self, key: str) -> None:
        """Forget the draft of a form, once it was sent."""
        with suppress(OSError):
            self._file(key).unlink()

    def _file(self, key: str) -> Path:
        return self._folder / f"{hashlib.sha256(key.encode('utf-8', 'backslashreplace')).hexdigest()}.json"
