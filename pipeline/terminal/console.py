"""The terminal itself: its two streams, tables, JSON. Whatever is printed goes through here."""

import json
import sys
from collections.abc import Iterable
from dataclasses import asdict, is_dataclass
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

from rich.console import Console, ConsoleDimensions, ConsoleOptions, RenderableType
from rich.segment import Segment
from rich.text import Text

from pipeline.streams import forget_reader, visible, write_text


class _SafeConsole(Console):
    """A console on which no text can steer the terminal, and that goes on when its reader has left."""

    def render(self, renderable: RenderableType, options: ConsoleOptions | None = None) -> Iterable[Segment]:
        for segment in super().render(renderable, options):
            shown = segment.text if segment.control else visible(segment.text)
            yield segment if shown == segment.text else Segment(shown, segment.style)

    def render_str(self, text: str, **options: Any) -> Text:
        return super().render_str(visible(text), **options)  # before its width is measured

    @property
    def size(self) -> ConsoleDimensions:
        """The size of the terminal; what goes into a file or a pipe has one width, whatever the window is."""
        wide = super().size
        return wide if self.is_terminal else ConsoleDimensions(self._width or 80, wide.height)

    @size.setter
    def size(self, new_size: tuple[int, int]) -> None:
        self._width, self._height = new_size

    def on_broken_pipe(self) -> None:
        self.quiet = True
        forget_reader(err=self.stderr)


OUT = _SafeConsole(highlight=False, emoji=False)
ERR = _SafeConsole(stderr=True, highlight=False, emoji=False)


def plain(value: Any) -> Any:
    """Return a value as JSON can hold it: dataclasses and rows as objects, days as ISO text, money to the cent."""
    if is_dataclass(value) and not isinstance(value, type):
        return {key: plain(item) for key, item in asdict(value).items()}
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, float):
        return round(value, 6)
    if hasattr(value, "to_dicts"):  # a frame: one object a row
        return plain(value.to_dicts())
    return str(value) if isinstance(value, Path) else value


def show_json(value: Any) -> None:
    """Print a value as JSON, keys in their own order, one document; signs that a stream lacks as their codes."""
    text = json.dumps(plain(value), ensure_ascii=not _holds_any_sign(), indent=2, allow_nan=False)
    hidden = {sign for sign in set(text) if visible(sign) != sign and sign not in "\r"}
    for sign in hidden:
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    write_text(text + "\n")


def _holds_any_sign() -> bool:
    return (sys.stdout.encoding or "").lower().replace("-", "").startswith("utf")
