"""Grades of condition: numbers on the scale from 1 to 10 by half, and the owner's trade words."""

import polars as pl

from pipeline.ingest.cells import distinct_texts, folded, plain, without_fraction_signs
from pipeline.schema import GRADES

_EMPTY = r"(?i)^(?:|-+|n\.?\s?/?\s?a\.?|null|none|\?+|unknown)$"
_NUMBER = r"(?:^|[^\d./])(\d{1,3}(?:\.\d+)?)(?: ?/ ?10(?:\.0)?)?(?:$|[^\d./%])"
_OTHER_SCALE = r"\d ?/ ?\d"
_NOT_QUITE = (
    r"\b(?:no|not|never|near|nearly|almost|hardly|barely|un|non|semi|close to|fast|nicht|kein|keine)[ -]$"
)

_WORDED = {"text": pl.String, "_word_grade": pl.Float64, "_grades": pl.UInt32, "_hedged": pl.Boolean}


def read_grades(texts: pl.Series, words: dict[str, float]) -> pl.DataFrame:
    """Read grades of condition.

    `words` maps trade words to grades. Returns one row per distinct non-null text: text, grade Float64 (one
    of GRADES), reason String. A number ("8.5", "8½", "8,5/10") goes before words; of words the longest
    match counts, at word borders, without regard to case and accents. A number that is not on the scale, two
    words of different grades, or a word hedged or denied ("near deadstock") has a reason, never a rounding.
    """
    cells = (
        distinct_texts(texts, "text")
        .with_columns(
            _plain=without_fraction_signs(pl.col("text")).pipe(plain).str.replace_all(r"(\d),(\d)", "$1.$2")
            .str.replace_all(r"(\d) ?[- ] ?1/2\b", "$1.5"),
        )
        .with_columns(_empty=pl.col("_plain").str.contains(_EMPTY))
        .with_columns(
            _number=pl.col("_plain").str.extract(_NUMBER).cast(pl.Float64),
            _numbers=pl.col("_plain").str.replace_all(r"/ ?10(?:\.0)?\b", "").str.count_matches(r"\d+(?:\.\d+)?"),
        )
    )  # fmt: skip
    by_word = _worded(cells.filter(pl.col("_number").is_null() & ~pl.col("_empty")), words)
    worded = cells.join(by_word, on="text", how="left", maintain_order="left")
    on_scale = pl.col("_number").is_in(GRADES)
    other_scale = pl.col("_plain").str.replace_all(r"/ ?10(?:\.0)?\b", "").str.contains(_OTHER_SCALE)
    fault = (
        pl.when(pl.col("_numbers") > 1)
        .then(pl.lit("it holds more than one number"))
        .when(other_scale | ((pl.col("_numbers") > 0) & pl.col("_number").is_null()))
        .then(pl.lit("not a grade out of ten"))
        .when(pl.col("_number").is_not_null() & ~pl.col("_number").is_between(min(GRADES), max(GRADES)))
        .then(pl.lit("off the scale from 1 to 10"))
        .when(pl.col("_number").is_not_null() & ~on_scale)
        .then(pl.lit("not on the half-grade scale"))
        .when(pl.col("_number").is_null() & (pl.col("_grades") > 1))
        .then(pl.lit("its words name more than one grade"))
        .when(pl.col("_number").is_null() & pl.col("_hedged"))
        .then(pl.lit("the grade is hedged or denied"))
        .when(pl.col("_number").is_null() & pl.col("_word_grade").is_null())
        .then(pl.lit("no grade, and no word of the market file's `words.grades`"))
    )
    reason = pl.when(~pl.col("_empty")).then(fault)
    grade = pl.when(~pl.col("_empty") & fault.is_null()).then(pl.coalesce("_number", "_word_grade"))
    return worded.select("text", grade=grade, reason=reason)


def _worded(cells: pl.DataFrame, words: dict[str, float]) -> pl.DataFrame:
    """Return text, _word_grade (of the longest word), _grades (how many differ), _hedged."""
    if not cells.height:
        return pl.DataFrame(schema=_WORDED)
    by_word = {word: float(grade) for word, grade in _folded_words(words).items()}
    bordered = pl.lit(
        pl.Series(sorted((f" {word} " for word in by_word), key=len, reverse=True), dtype=pl.String)
    )
    bordered = bordered.implode()
    spaced = pl.lit(" ") + folded(pl.col("_plain")).str.replace_all(r"[^\p{L}\p{N}]+", "  ") + pl.lit(" ")
    hits = (
        cells.select("text", _spaced=spaced.str.replace_all(r"^ {2,}", " "))
        .with_columns(
            _word=pl.col("_spaced").str.extract_many(bordered, leftmost=True),
            _at=pl.col("_spaced").str.find_many(bordered, leftmost=True),
        )
        .explode("_word", "_at")
        .filter(pl.col("_word").is_not_null())
        .with_columns(
            _grade=pl.col("_word").str.strip_chars().replace_strict(by_word, default=None, return_dtype=pl.Float64),
            _before=pl.col("_spaced").str.slice(0, pl.col("_at")).str.replace_all(r" +", " ").str.strip_chars_end(),
        )
    )  # fmt: skip
    return hits.group_by("text", maintain_order=True).agg(
        _word_grade=pl.col("_grade").first(),
        _grades=pl.col("_grade").n_unique(),
        _hedged=(pl.col("_before") + pl.lit(" ")).str.contains(_NOT_QUITE).any(),
    )


def _folded_words(words: dict[str, float]) -> dict[str, float]:
    """Return the trade words as they are compared: folded, each word separated by two spaces."""
    if not words:
        return {}
    keys = pl.Series("word", list(words)).to_frame()
    compared = keys.select(
        folded(plain(pl.col("word"))).str.replace_all(r"[^\p{L}\p{N}]+", "  ").str.strip_chars()
    )
    return dict(zip(compared["word"].to_list(), words.values(), strict=True))
