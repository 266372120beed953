"""Photographs of pairs as pages show them: with words for who cannot see them."""

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from pipeline.market.pair import Pair
from pipeline.photograph import Photograph
from pipeline.untrusted import show_words

ON_A_PAGE = 640
"""Pixels of the longer side of a photograph on an appraisal or a consignment sheet."""

ON_A_TICKET = 240
"""Pixels of the longer side of a photograph on a price ticket."""


@dataclass(frozen=True)
class Shown:
    """A photograph on a page: the address of its data, its size in pixels, and what it shows in `words`."""

    address: Markup
    width: int
    height: int
    words: str


def show_photographs(photographs: Sequence[Photograph], pair: Pair) -> list[Shown]:
    """Return the photographs of a pair as a page shows them."""
    words = photograph_words(pair.silhouette, pair.colourway, pair.label)
    return [show_photograph(one, words, number) for number, one in enumerate(photographs, start=1)]


def show_photograph(photograph: Photograph, words: str, number: int = 1) -> Shown:
    """Return a photograph as a page shows it; those of a pair after its first say their `number`."""
    return Shown(
        Markup(photograph.address),
        photograph.width,
        photograph.height,
        words if number == 1 else f"{words}, picture {number}",
    )


def photograph_words(silhouette: str, colourway: str | None, stock: str | None) -> str:
    """Return what a photograph shows: "Gannet Hi, Buoy Red, stock number A12"."""
    number = f"stock number {stock}" if stock else ""
    return show_words(", ".join(part for part in (silhouette, colourway, number) if part), 240)
