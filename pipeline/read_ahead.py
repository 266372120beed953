"""Read ahead: the next part is made while the one before it is worked on."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

Part = TypeVar("Part")


def read_ahead(parts: Iterator[Part]) -> Iterator[Part]:
    """Yield the parts, each made in a thread of its own while the one before it is worked on. None ends them."""
    with ThreadPoolExecutor(1) as maker:
        made = maker.submit(next, parts, None)
        while (part := made.result()) is not None:
            made = maker.submit(next, parts, None)
            yield part
