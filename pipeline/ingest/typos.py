"""Typing errors in titles: the words that are meant in their place, and what was written."""

import polars as pl

from pipeline.ingest.near_names import near_names
from pipeline.ingest.phrases import PhraseBook
from pipeline.ingest.spelling import with_spelling_corrected

_TYPOS = ("id", "typo", "phrase_words")


def without_typos(tokens: pl.DataFrame, book: PhraseBook) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return clauses with misspelt words and names as those that are meant, and the typos.

    `tokens` holds id and tokens (each between its own two spaces). A typo: id, typo (the words that were written),
    phrase_words (the tokens in their place) String.
    """
    spelt = tokens.with_columns(
        corrected=pl.col("tokens").map_batches(lambda texts: with_spelling_corrected(texts, book.spelling))
    )
    near = near_names(
        spelt.select("id", tokens="corrected"), book.names, known=book.spelling.known
    ).with_columns(_spaced("written"), _spaced("phrase"))
    renamed = near.select("written", "phrase").unique("written", keep="first", maintain_order=True)
    named = spelt["corrected"]
    if near.height:
        named = named.str.replace_many(renamed["written"].to_list(), renamed["phrase"].to_list())
    corrected = spelt.select(
        "id", tokens=pl.when(pl.col("id").is_in(near["id"].implode())).then(named).otherwise("corrected")
    )
    words = (
        spelt.filter(pl.col("tokens") != pl.col("corrected"))
        .select("id", _words("tokens").alias("typo"), _words("corrected").alias("phrase_words"))
        .explode("typo", "phrase_words")
        .filter(pl.col("typo") != pl.col("phrase_words"))
        .with_columns(_spaced("phrase_words"))
    )
    names = near.select(
        "id", typo=pl.col("written").str.replace_all(" +", " ").str.strip_chars(), phrase_words="phrase"
    )
    return corrected, pl.concat([names, words.select(_TYPOS)])


def _words(column: str) -> pl.Expr:
    return pl.col(column).str.extract_all(r"[^ ]+")


def _spaced(column: str) -> pl.Expr:
    """Return words with two spaces between them and one at either end, as tokens have them."""
    return pl.format(" {} ", pl.col(column).str.replace_all(" ", "  ", literal=True)).alias(column)
