"""Links between the pages of one folder: relative, so that the folder can be moved; a page made alone has none."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath
from posixpath import relpath
from urllib.parse import quote

from pipeline.errors import ReportError

INDEX = "All pages"
PREVIOUS, NEXT = "← Previous pair", "Next pair →"


@dataclass(frozen=True)
class Link:
    """A link to another page of the folder: what it says, and the address, relative to the page that has it."""

    words: str
    href: str


def link_to(words: str, page: str, *, on: str) -> Link:
    """Return the link to a page that stands on another (`on`), both named from their folder.

    Raises ReportError for a page that does not lie in the folder.
    """
    path = PurePosixPath(page)
    if not page or path.is_absolute() or ".." in path.parts or "\\" in page:
        raise ReportError(
            f"no page can link to {page!r}", "name a page in the index's own folder or below it."
        )
    away = relpath(page, str(PurePosixPath(on).parent))
    return Link(words, quote(away if away.startswith("../") else f"./{away}"))


def links_of(number: int, pages: Sequence[str], *, index: str, other: Link | None = None) -> tuple[Link, ...]:
    """Return the links of one page of several pairs: the index, its neighbours, and what else there is of the pair."""
    on = pages[number]
    return (
        link_to(INDEX, index, on=on),
        *((link_to(PREVIOUS, pages[number - 1], on=on),) if number else ()),
        *((link_to(NEXT, pages[number + 1], on=on),) if number + 1 < len(pages) else ()),
        *((other,) if other else ()),
    )
