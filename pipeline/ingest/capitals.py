"""How titles write words, in capitals or small: what can be said by that of which are names."""

import polars as pl

from pipeline.ingest.cells import folded

LEAST_SMALL = 1 / 3
"""The share of its words in small letters from which the capitals of a title say something."""

_PIECES = r"[\p{L}\p{M}]+|[^\p{L}\p{M}\s'’-]"
_ENDS = [*".!?:;|/()[]{}…·•–—"]
"""After these a word may be written with a capital because it is the first."""


def spellings(titles: pl.Series, known: pl.DataFrame) -> pl.DataFrame:
    """Return how titles write each word: word, written, uses, large, clear, small, common, common_capitals, beside.

    `titles` are those of sales, each of which counts. `known` holds word and name (as `known_words` gives them).
    `written` is the most frequent form, in small letters.
    Capitals say something in a title that has some, and a third of whose words that are no known names are small: of
    a word's uses there `large` are with a capital, `clear` begin no sentence, and `small` of these are in small
    letters. `common` counts the known words that are no names in these titles, `common_capitals` those of them with a
    capital: many where a language writes nouns with capitals. `beside` counts the uses right beside another word that
    is not known, as the two names of a person stand: both with capitals, or in any letters where capitals say nothing.
    """
    words = _words(titles, known)
    of_title = words.group_by("id").agg(
        _mixed=(pl.col("capital") & ~pl.col("first")).any()
        & (pl.col("small").filter(~pl.col("name")).mean() >= LEAST_SMALL),
        _common=(pl.col("common") & ~pl.col("first")).sum(),
        _common_capitals=(pl.col("common") & pl.col("capital") & ~pl.col("first")).sum(),
    )
    joined = words.join(of_title, on="id", maintain_order="left")
    mixed = pl.col("_mixed").fill_null(value=False)
    clear = mixed & ~pl.col("first") & pl.col("cased")
    unread = pl.col("unread")
    beside = pl.any_horizontal(
        (unread.shift(by, fill_value=False) & (pl.col("id").shift(by) == pl.col("id"))).fill_null(value=False)
        & (~mixed | (pl.col("capital") & pl.col("capital").shift(by, fill_value=False)))
        for by in (1, -1)
    )
    sales = pl.col("sales")
    return (
        joined.with_columns(_clear=clear, _beside=beside, _mixed=mixed)
        .filter("unread")
        .group_by(pl.col("written").str.to_lowercase())
        .agg(
            uses=sales.sum(),
            large=sales.filter("_mixed", "capital").sum(),
            clear=sales.filter("_clear").sum(),
            small=sales.filter("_clear", "small").sum(),
            common=(sales * pl.col("_common")).filter("_mixed").sum(),
            common_capitals=(sales * pl.col("_common_capitals")).filter("_mixed").sum(),
            beside=sales.filter("_beside").sum(),
        )
        .with_columns(word=folded(pl.col("written")))
        .sort("uses", "written", descending=[True, False])
        .group_by("word", maintain_order=True)
        .agg(pl.col("written").first(), pl.all().exclude("written").sum())
    )


def _words(titles: pl.Series, known: pl.DataFrame) -> pl.DataFrame:
    """Return one row a word of distinct titles, in order, and one a sign between words other than a full stop.

    id, sales (with the title), written, cased, small, capital, first (whether it begins a sentence), name and common
    (known words), unread.
    """
    pieces = (
        titles.cast(pl.String)
        .alias("title")
        .drop_nulls()
        .value_counts(name="sales")
        .sort("title")
        .with_row_index("id")
        .select("id", "sales", written=pl.col("title").str.normalize("NFC").str.extract_all(_PIECES))
        .explode("written")
        .drop_nulls()
    )
    distinct = (
        pieces.select("written")
        .unique()
        .with_columns(word=folded(pl.col("written")))
        .join(known, on="word", how="left")
    )
    letter, form = pl.col("written").str.slice(0, 1), pl.col("written")
    cased = form.str.to_lowercase() != form.str.to_uppercase()
    is_word = form.str.contains(r"\p{L}")
    kinds = distinct.select(
        "written",
        cased=cased,
        small=(letter == letter.str.to_lowercase()) & cased,
        capital=(letter != letter.str.to_lowercase()) & cased,
        name=pl.col("name").fill_null(value=False),
        common=~pl.col("name").fill_null(value=True),
        unread=pl.col("name").is_null() & is_word,
    )
    ends = pl.col("written").is_in(_ENDS) | (pl.col("id") != pl.col("id").shift(-1))
    return (
        pieces.with_columns(first=ends.shift(1, fill_value=True))
        .filter(pl.col("written") != ".")
        .join(kinds, on="written", maintain_order="left")
    )
