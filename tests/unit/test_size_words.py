"""A size is known by the word for it before its number, in the languages that dealers meet."""

from pathlib import Path

import polars as pl
import pytest

from pipeline.ingest.sizes import SIZE_WORDS, read_sizes
from pipeline.ingest.title_text import lift_titles

PRICING = Path(__file__).parents[2] / "reports" / "pricing" / "sizes.js"
WORDS = (
    "Grösse", "Größe", "Groesse", "Schuhgröße", "Gr.", "Pointure", "Taille", "Taglia", "Tg.", "Talla", "Maat",
    "Rozmiar", "Rozm.", "Storlek", "Stl", "Størrelse", "Str.", "Koko", "Tamanho", "Tam.", "サイズ", "Velikost", "Vel.",
)  # fmt: skip


@pytest.mark.parametrize("word", WORDS)
def test_a_cell_may_say_the_word_before_its_size(word: str) -> None:
    [read] = read_sizes(pl.Series([f"{word} 42,5"]), system="EU").rows(named=True)
    assert (read["foot_mm"], read["reason"]) == (266, None)


@pytest.mark.parametrize("word", WORDS)
def test_a_title_may_say_the_word_before_its_size(word: str) -> None:
    titles = pl.DataFrame({"title": [f"Gannet Hi, {word} 42, no box"]})
    assert lift_titles(titles)["size_label"].to_list() == ["42"]


def test_a_word_that_only_begins_like_one_for_size_is_none() -> None:
    titles = pl.DataFrame({"title": ["Gannet Hi, strand 42, grey"]})
    assert lift_titles(titles)["size_label"].to_list() == [None]


def test_the_pricing_page_knows_the_same_words() -> None:
    assert SIZE_WORDS in PRICING.read_text("utf-8")
