"""Photographs of pairs as pages show them: with words for who cannot see them."""

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from pipeline.market.pair import Pair
from pipeline.phrases.phrases import ENGLISH, Phrases
from pipeline.pictures.photograph import Photograph
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


def show_photographs(
    photographs: Sequence[Photograph], pair: Pair, language: Phrases = ENGLISH
) -> list[Shown]:
    """Return the photographs of a pair as a page shows them; those after the first say their number."""
    words = photograph_words(pair.silhouette, pair.colourway, pair.label, language)
    return [
        show_photograph(
            one, words if number == 1 else language.say("picture_more", picture=words, number=number)
        )
        for number, one in enumerate(photographs, start=1)
    ]


def show_photograph(photograph: Photograph, words: str) -> Shown:
    """Return a photograph as a page shows it."""
    return Shown(Markup(photograph.address), photograph.width, photograph.height, words)


def photograph_words(
    silhouette: str, colourway: str | None, stock: str | None, language: Phrases = ENGLISH
) -> str:
    """Return what a photograph shows: "Gannet Hi, Buoy Red, stock number A12"."""
    pair = language.listed([part for part in (silhouette, colourway) if part])
    return show_words(language.say("picture_of", pair=pair, number=stock) if stock else pair, 240)
