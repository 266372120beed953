"""Names of makers, silhouettes and colourways in spite of a typing error ("Ganet Hi", "Gannethi", "Marowik").

An edit leaves out a letter, adds one, changes one, or changes two neighbours over (optimal string alignment, by
rapidfuzz). Words of a name with fewer than FEWEST letters, and words that hold a digit, must stand as they are, so
that "Plover Hi" is not taken for "Plover Lo".
"""

from collections.abc import Collection, Iterable, Mapping

import numpy as np
import polars as pl
from rapidfuzz.distance import OSA
from rapidfuzz.process import cdist

from pipeline.config import Market
from pipeline.ingest.cells import distinct_texts
from pipeline.ingest.compared import as_compared, compared_list
from pipeline.ingest.spelling import is_english

FEWEST, LONG = 5, 8
"""Letters of a name in which one edit is allowed, and in which two are; a shorter one must stand as it is."""

_CHUNK = 20_000
_EDITED = {"word": pl.String, "name_word": pl.String, "edits": pl.UInt8}
NAME_KINDS = ("maker", "silhouette", "colourway")


def market_names(market: Market) -> pl.DataFrame:
    """Return the names and phrases that a typo may hide: kind, value, phrase (as compared) String."""
    listed = [("maker", silhouette.maker, silhouette.maker) for silhouette in market.silhouettes]
    for silhouette in market.silhouettes:
        listed += [
            ("silhouette", silhouette.name, phrase) for phrase in (silhouette.name, *silhouette.phrases)
        ]
    own = (one for silhouette in market.silhouettes for one in market.own_colourways(silhouette))
    listed += [
        ("colourway", one.name, phrase)
        for one in (*own, *market.colourways)
        for phrase in (one.name, *one.phrases)
    ]
    return _compared(listed)


def names_of_words(kind: str, words: Mapping[str, str]) -> pl.DataFrame:
    """Return the words of a column's vocabulary (word → value) as `market_names` does."""
    return _compared((kind, value, word) for word, value in words.items())


def corrected_cells(texts: pl.Series, names: pl.DataFrame) -> pl.DataFrame:
    """Return text, meant String of the distinct cells that are nearly one name as a whole: `meant` is that name."""
    cells = distinct_texts(texts, "text").with_row_index("id")
    words = cells.select("id", tokens=as_compared(pl.col("text")))
    near = near_names(words, names, known=set(), whole=True)
    whole = near.join(words, on="id", how="left").filter(pl.col("written") == pl.col("tokens"))
    return whole.join(cells, on="id", how="left").select("text", meant="value").unique("text", keep="none")


def near_names(
    texts: pl.DataFrame, names: pl.DataFrame, *, known: Collection[str], whole: bool = False
) -> pl.DataFrame:
    """Return the names that texts hold with a typing error: id, kind, value, written, phrase String.

    `texts` holds id and tokens (words between spaces), `names` what `market_names` gives. A word that is `known`
    to the trade or to an English dictionary is no typo. One name alone must be near: where the words are near to
    several, or a text to several of a kind, there is none. In a sentence, which may be of any language, a short name
    of one word is not near with a wrong letter ("einer" is not "Eider"), in a `whole` cell it is. `written` are the
    words of the text, `phrase` the name's.
    """
    none = pl.DataFrame(schema=dict.fromkeys(("kind", "value", "written", "phrase"), pl.String))
    none = none.select(pl.lit(None, dtype=texts.schema["id"]).alias("id"), pl.all()).clear()
    if texts.is_empty() or names.is_empty():
        return none
    parts = _parts_of(names)
    vocabulary = texts["tokens"].str.extract_all(r"[^ ]+").explode(empty_as_null=True).unique().drop_nulls()
    unknown = [word for word in vocabulary.to_list() if word.isalpha() and word not in known]
    run_together = parts.filter("joined").select("word", name_word="word", edits=pl.lit(0, dtype=pl.UInt8))
    typos = pl.concat(
        [edited_words(unknown, parts["word"]), run_together.filter(pl.col("word").is_in(unknown)).unique()]
    )
    typos = typos.filter(~pl.col("word").map_elements(is_english, return_dtype=pl.Boolean))
    if typos.is_empty():
        return none
    written = (
        texts.select("id", pl.col("tokens").str.extract_all(r"[^ ]+").alias("word"))
        .filter(pl.col("word").list.set_intersection(typos["word"].unique().to_list()).list.len() > 0)
        .explode("word")
        .with_columns(at=pl.int_range(pl.len()).over("id"))
    )
    as_it_stands = (
        parts.filter(~pl.col("joined"))
        .select("word", name_word="word", edits=pl.lit(0, dtype=pl.UInt8))
        .unique()
    )
    wrong_letter = (pl.col("word").str.len_chars() == pl.col("name_word").str.len_chars()) & (
        _letters("word") != _letters("name_word")
    )
    too_short = (pl.col("count") == 1) & (pl.col("allowed") == 1) & ~pl.col("joined")
    near = (
        written.join(pl.concat([typos, as_it_stands]), on="word")
        .join(parts.rename({"word": "name_word"}), on="name_word")
        .filter(pl.lit(whole) | ~(too_short & wrong_letter))
        .with_columns(start=pl.col("at") - pl.col("place"))
        .sort("id", "start", "place")
        .group_by(
            *("id", "start", "name", "joined", "kind", "value", "phrase", "count", "allowed"),
            maintain_order=True,
        )
        .agg(
            found=pl.col("place").n_unique(),
            edits=pl.col("edits").sum() + pl.col("joined").first().cast(pl.UInt8),
            written=pl.col("word").str.join(" "),
        )
        .filter(pl.col("found") == pl.col("count"), pl.col("edits").is_between(1, pl.col("allowed")))
    )
    return (
        near.filter(
            pl.struct("kind", "value").n_unique().over("id", "start") == 1,
            pl.col("value").n_unique().over("id", "kind") == 1,
        )
        .sort("id", "edits", "start")
        .unique(["id", "kind"], keep="first", maintain_order=True)
        .select("id", "kind", "value", "written", "phrase")
    )


def likely_names(titles: pl.DataFrame, market: Market) -> pl.DataFrame:
    """Return the silhouettes that titles in which none was found may mean, to be offered and never taken.

    `titles` holds title String, each once, and row_count Int64.
    Likely is the one silhouette of whose name a title has the most words of FEWEST letters or more, as they stand or
    with a typing error. Returns written (those words) and likely String, rows Int64 (how many titles), the
    most first.
    """
    names = market_names(market).filter(pl.col("kind") == "silhouette")
    distinct = titles.select("title", rows="row_count").drop_nulls("title").with_row_index("id")
    written = (
        distinct.select("id", word=as_compared(pl.col("title")).str.split(" "))
        .explode("word", empty_as_null=True)
        .unique(maintain_order=True)
    )
    if names.is_empty() or distinct.is_empty():
        return pl.DataFrame(schema={"written": pl.String, "likely": pl.String, "rows": pl.Int64})
    parts = _parts_of(names).filter(pl.col("word").str.len_chars() >= FEWEST)
    typos = edited_words(written["word"].drop_nulls().unique(), parts["word"])
    near = pl.concat(
        [typos, parts.select("word", name_word="word", edits=pl.lit(0, dtype=pl.UInt8)).unique()]
    )
    within = pl.col("edits") <= pl.when(pl.col("name_word").str.len_chars() >= LONG).then(2).otherwise(1)
    scored = (
        written.join(near.filter(within), on="word", maintain_order="left")
        .join(parts.select("value", name_word="word").unique(), on="name_word", maintain_order="left")
        .group_by("id", "value", maintain_order=True)
        .agg(written=pl.col("word").unique(maintain_order=True).str.join(" "), _score=_score_of_words())
        .filter(pl.col("_score") == pl.col("_score").max().over("id"))
        .filter(pl.len().over("id") == 1)
    )
    return (
        scored.join(distinct, on="id")
        .group_by("written", likely="value")
        .agg(pl.col("rows").sum().cast(pl.Int64))
        .sort("rows", "likely", "written", descending=[True, False, False])
    )


def _score_of_words() -> pl.Expr:
    """Return how well the words of a title fit a name: a word as it stands counts more than one with a typo."""
    return (1 - pl.col("edits").cast(pl.Float64) / 4).sum()


def edited_words(words: Iterable[str], names: pl.Series) -> pl.DataFrame:
    """Return the words that are one or two edits from a word of a name: word, name_word String, edits UInt8.

    A plural ("Ostrels") is no typing error.
    """
    asked = sorted({word for word in words if len(word) >= FEWEST - 1})
    targets = sorted({name for name in names.drop_nulls() if len(name) >= FEWEST and name.isalpha()})
    found = [pl.DataFrame(schema=_EDITED)]
    for start in range(0, len(asked) if targets else 0, _CHUNK):
        some = asked[start : start + _CHUNK]
        edits = cdist(some, targets, scorer=OSA.distance, score_cutoff=2, dtype=np.uint8)
        rows, columns = np.nonzero((edits > 0) & (edits <= 2))
        found.append(
            pl.DataFrame(
                {
                    "word": pl.Series(some).gather(rows),
                    "name_word": pl.Series(targets).gather(columns),
                    "edits": edits[rows, columns],
                },
                schema=_EDITED,
            )
        )
    return pl.concat(found).filter(pl.col("word") != pl.col("name_word") + "s")


def _letters(column: str) -> pl.Expr:
    """Return the letters of a word in the order of the alphabet."""
    return pl.col(column).str.split("").list.sort().list.join("")


def _compared(listed: Iterable[tuple[str, str, str]]) -> pl.DataFrame:
    names = pl.DataFrame(list(listed), schema=["kind", "value", "phrase"], orient="row").cast(pl.String)
    if names.is_empty():
        return names
    return (
        names.with_columns(phrase=pl.Series(compared_list(names["phrase"])))
        .filter(pl.col("phrase") != "")
        .unique(maintain_order=True)
    )


def _parts_of(names: pl.DataFrame) -> pl.DataFrame:
    """Return the words of every name: word, place, name (its number), kind, value, phrase, count, allowed edits.

    A name of several words is there once more as one word without its spaces (`joined`), which is an edit.
    """
    numbered = names.with_row_index("name").with_columns(
        word=pl.col("phrase").str.split(" "),
        letters=pl.col("phrase").str.replace_all(" ", "").str.len_chars(),
    )
    with_limits = numbered.with_columns(
        allowed=pl.when(pl.col("letters") >= LONG)
        .then(2)
        .when(pl.col("letters") >= FEWEST)
        .then(1)
        .otherwise(0),
        joined=pl.lit(value=False),
    ).drop("letters")
    run_together = with_limits.filter(pl.col("word").list.len() > 1).with_columns(
        word=pl.concat_list(pl.col("phrase").str.replace_all(" ", "")), joined=pl.lit(value=True)
    )
    return (
        pl.concat([with_limits, run_together])
        .with_columns(count=pl.col("word").list.len())
        .explode("word")
        .with_columns(place=pl.int_range(pl.len()).over("name", "joined"))
    )
