"""Grades of condition: numbers on the scale from 1 to 10 by half, and the owner's trade words.

A sign right after a number or a word is a part of it: "8+" is half a step above 8, and "LS+" is another word
than "LS".
"""

from collections.abc import Mapping
from dataclasses import dataclass

import polars as pl

from pipeline.ingest.cells import distinct_texts, each, folded, plain, without_fraction_signs
from pipeline.ingest.compared import MINUS_MARK, PLUS_MARK, with_signs_marked
from pipeline.schema import GRADES

_EMPTY = r"(?i)^(?:|-+|n\.?\s?/?\s?a\.?|null|none|\?+|unknown)$"
_NUMBER = r"(?:^|[^\d./])(\d{1,3}(?:\.\d+)?)(?: ?/ ?10(?:\.0)?)?(?:$|[^\d./%])"
_OF_TEN = r" ?/ ?10(?:\.0)?"
_SIGNED = [
    rf"(?:^|[^\d./])\d{{1,2}}(?:\.\d+)?{rest}"
    for rest in (
        rf"([+-])(?:{_OF_TEN})?(?:$|[^\p{{L}}\p{{N}}+-])",
        rf"{_OF_TEN}([+-])(?:$|[^\p{{L}}\p{{N}}+-])",
        rf"(?:{_OF_TEN})? ([+-])$",
    )
]
"""A number with a sign: right after it, after its "/10", or apart at the end of the cell."""

_OTHER_SCALE = r"\d ?/ ?\d"
_NOT_QUITE = (
    r"\b(?:no|not|never|near|nearly|almost|hardly|barely|un|non|semi|close to|fast|nicht|kein|keine)[ -]$"
)

_WORDED = {
    "text": pl.String,
    "_word_grade": pl.Float64,
    "_grades": pl.UInt32,
    "_hedged": pl.Boolean,
    "_stepped": pl.String,
}


@dataclass(frozen=True)
class GradePhrase:
    """A trade word of the market file, or one with a sign that it does not have (`stepped`: as it is written).

    `phrase` is folded, its sign a word of its own (PLUS_MARK, MINUS_MARK).
    """

    phrase: str
    grade: float
    stepped: str = ""


def step_grade(grade: float, sign: str) -> float:
    """Return a grade half a step up ("+") or down ("-"), within the scale; the grade itself without a sign."""
    return min(max(grade + {"+": 0.5, "-": -0.5}.get(sign, 0.0), min(GRADES)), max(GRADES))


def grade_phrases(words: Mapping[str, float]) -> list[GradePhrase]:
    """Return the trade words, and each with a sign that the market file does not give it: half a step more or less."""
    phrases = each(words, lambda word: with_signs_marked(folded(plain(word))))
    own = [
        GradePhrase(" ".join(phrase.split()), float(grade))
        for phrase, grade in zip(phrases, words.values(), strict=True)
    ]
    known = {one.phrase for one in own}
    return own + [
        GradePhrase(phrase, step_grade(one.grade, sign), f"{one.phrase}{sign}")
        for one in own
        if not one.phrase.endswith((PLUS_MARK, MINUS_MARK))
        for sign, mark in (("+", PLUS_MARK), ("-", MINUS_MARK))
        if (phrase := f"{one.phrase} {mark}") not in known
    ]


def read_grades(texts: pl.Series, words: dict[str, float]) -> pl.DataFrame:
    """Read grades of condition.

    `words` maps trade words to grades. Returns one row per distinct non-null text: text, grade Float64 (one
    of GRADES), reason String, stepped String (the word with a sign that was read by the word without it).
    A number ("8.5", "8½", "8,5/10", "8+") goes before words; of words the longest
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
            _sign=pl.coalesce(pl.col("_plain").str.extract(pattern) for pattern in _SIGNED),
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
        .then(pl.lit("no grade, and no word for one in the market file"))
    )
    reason = pl.when(~pl.col("_empty")).then(fault)
    grade = pl.when(~pl.col("_empty") & fault.is_null()).then(pl.coalesce("_number", "_word_grade"))
    by_the_word = grade.is_not_null() & pl.col("_number").is_null()
    return worded.select(
        "text",
        grade=pl.when(pl.col("_number").is_not_null()).then(_stepped(grade)).otherwise(grade),
        reason=reason,
        stepped=pl.when(by_the_word).then("_stepped"),
    )


def _stepped(grade: pl.Expr) -> pl.Expr:
    """Return a grade moved by its sign, as `step_grade` does."""
    half = pl.col("_sign").replace_strict({"+": 0.5, "-": -0.5}, default=0.0, return_dtype=pl.Float64)
    return (grade + half.fill_null(0.0)).clip(min(GRADES), max(GRADES))


def _worded(cells: pl.DataFrame, words: dict[str, float]) -> pl.DataFrame:
    """Return text, _word_grade (of the longest word), _grades (how many differ), _hedged, _stepped."""
    if not cells.height or not words:
        return pl.DataFrame(schema=_WORDED)
    phrases = grade_phrases(words)
    spoken = pl.Series("phrase", [one.phrase for one in phrases]).to_frame().select(_spoken("phrase"))
    known = (
        pl.DataFrame(
            {
                "_word": spoken["phrase"],
                "_grade": [one.grade for one in phrases],
                "_stepped": [one.stepped or None for one in phrases],
            },
            schema_overrides={"_stepped": pl.String},
        )
        .filter(pl.col("_grade").n_unique().over("_word") == 1)
        .unique("_word", keep="first", maintain_order=True)
    )
    longest_first = sorted((f" {word} " for word in known["_word"]), key=len, reverse=True)
    bordered = pl.lit(pl.Series(longest_first, dtype=pl.String)).implode()
    hits = (
        cells.select("text", _spaced=pl.lit(" ") + _spoken("_plain") + pl.lit(" "))
        .with_columns(
            _word=pl.col("_spaced").str.extract_many(bordered, leftmost=True),
            _at=pl.col("_spaced").str.find_many(bordered, leftmost=True),
        )
        .explode("_word", "_at")
        .filter(pl.col("_word").is_not_null())
        .with_columns(
            pl.col("_word").str.strip_chars(),
            _before=pl.col("_spaced").str.slice(0, pl.col("_at")).str.replace_all(r" +", " ").str.strip_chars_end(),
        )
        .join(known, on="_word", how="left", maintain_order="left")
    )  # fmt: skip
    return hits.group_by("text", maintain_order=True).agg(
        _word_grade=pl.col("_grade").first(),
        _grades=pl.col("_grade").n_unique(),
        _hedged=(pl.col("_before") + pl.lit(" ")).str.contains(_NOT_QUITE).any(),
        _stepped=pl.col("_stepped").first(),
    )


def _spoken(column: str) -> pl.Expr:
    """Return a plain text as grade words are compared: folded, its signs and strokes words of their own.

    Between two words stand two spaces, so that each has its own.
    """
    signed = with_signs_marked(folded(pl.col(column)).str.replace(r"([\p{L}\p{N}]) ([+-])$", "$1$2"))
    apart = signed.str.replace_all("/", " / ", literal=True)
    kept = rf"[^\p{{L}}\p{{N}}/{PLUS_MARK}{MINUS_MARK}]+"
    return apart.str.replace_all(kept, "  ").str.strip_chars(" ").alias(column)
