"""What is wrong with a market file's text, each fault at the value that it is of."""

import re
from dataclasses import dataclass
from functools import lru_cache

from pydantic import ValidationError

from pipeline.config import ONE_HEADING, SEVERAL_HEADINGS, Market, market_of
from pipeline.desk.market_file.edit import WHERE, tables_of
from pipeline.desk.market_file.layout import KeyPath, Layout
from pipeline.errors import MarketFileError
from pipeline.value_faults import explain_value

_KEY_ITSELF = "[key]"
"""What pydantic adds to the path of a key that is not allowed."""

AROUND = 2
"""Lines that are shown above and below one with a fault."""

_LINE = re.compile(r"\(at line (\d+), column \d+\)")


@dataclass(frozen=True)
class Fault:
    """A fault in words, the path of what it is of (empty: of the file as a whole), and its line where known."""

    path: KeyPath
    message: str
    line: int | None = None


@lru_cache(maxsize=4)
def market_in(text: str) -> Market:
    """Return the market that a text describes; raises MarketFileError as `parse_market`."""
    return market_of(tables_of(text), where=WHERE)


def faults_in(text: str) -> tuple[Fault, ...]:
    """Return what is wrong with the text of a market file, in its order; none where it is good."""
    try:
        market_in(text)
    except MarketFileError as exc:
        if isinstance(exc.__cause__, ValidationError):
            return tuple(
                Fault(path, explain_value(fault), Layout.of(text).line(path))
                for fault in exc.__cause__.errors()
                for path in [_path(fault["loc"])]
            )
        line = _LINE.search(exc.what)
        return (Fault((), exc.what.removeprefix(f"{WHERE}: "), int(line[1]) if line else None),)
    return ()


def around(text: str, line: int | None) -> list[tuple[int, str]]:
    """Return a line of a text with those above and below it, each with its number."""
    if line is None:
        return []
    first = max(1, line - AROUND)
    return list(enumerate(text.splitlines()[first - 1 : line + AROUND], start=first))


def _path(loc: tuple[int | str, ...]) -> KeyPath:
    return tuple(step for step in loc if step not in (ONE_HEADING, SEVERAL_HEADINGS, _KEY_ITSELF))
