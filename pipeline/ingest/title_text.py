"""A title made ready for reading: sizes, stamps and grades out of ten taken out, the rest as plain tokens."""

import polars as pl

from pipeline.ingest.cells import OTHER_DIGITS, folded
from pipeline.ingest.compared import (
    GRADE_MARK,
    MINUS_MARK,
    PLUS_MARK,
    THING_MARK,
    compared_words,
    with_signs_marked,
)
from pipeline.ingest.grades import step_grade
from pipeline.ingest.sizes import SIZE_WORDS, read_sizes
from pipeline.ingest.stamps import MONTHS, TO, month_pattern
from pipeline.schema import GRADES

LONGEST_TITLE = 20_000
"""Characters read of a title; what follows is left out."""

_WITH_MARK = "\x05"
"""A control character that stands for the w of "w/", so that it is not the W of a size."""

_SAME_SIZE_MM = 6
"""Sizes in one title that lie within this of each other are the same size in two systems."""

_WIDE = {chr(code): chr(code - 0xFEE0) for code in range(0xFF01, 0xFF5F)} | {
    "　": " ", "\u00a0": " ", "\u2009": " ", "\u202f": " ", "\t": " ", "\n": " ", "\r": " ",
    "‐": "-", "‑": "-", "‒": "-", "–": "-", "—": "-", "―": "-", "−": "-", "’": "'", "‘": "'",
    GRADE_MARK: " ", THING_MARK: " ", _WITH_MARK: " ", PLUS_MARK: " ", MINUS_MARK: " ",
}  # fmt: skip
"""One character for one, so that a place in the levelled title is the place in the title."""

_NUMBER = r"\d{1,2}(?:[.,]\d{1,2}\b| ?[½⅓⅔]|(?: [12]/[23])?\b)"
_SYSTEM = r"(?:uk|eur?|(?:(?:women'?s|wmns|men'?s) )?usa?(?: ?(?:women'?s?|wmns|men'?s?|[wm])\b)?|jpn?)"
_PERSON = r"(?:women'?s?|wmns|men'?s?|[wm])"
_SYSTEM_FIRST = (
    rf"(?:\busa?(?: (?:size|sz))?[ .:]{{0,2}}{_NUMBER} ?{_PERSON}\b"
    rf"|\b{_SYSTEM}(?: (?:size|sz))?(?:[ .:]{{0,2}}|-){_NUMBER}(?: ?cm\b)?)"
)
_NUMBER_FIRST = rf"(?:\b{_NUMBER} ?{_SYSTEM}\b|\b[23]\d(?:[.,]5)? ?cm\b|\b[23]\d\d ?mm\b)"
_SIZE = rf"(?i)(?:{_NUMBER_FIRST} ?/ ?)?{_SYSTEM_FIRST}(?: ?/ ?(?:{_SYSTEM_FIRST}|{_NUMBER_FIRST}))*"
_SIZE_NUMBER_FIRST = rf"(?i){_NUMBER_FIRST}(?: ?/ ?{_NUMBER_FIRST})*"
"""Looked for after `_SIZE`, so that the 10 of "8/10 UK 9" is no size."""

_BARE_SIZE = rf"(?i)(?:\b(?:{SIZE_WORDS})[ .:]{{1,2}}|サイズ[ .:]{{0,2}})({_NUMBER})"

_CODE = r"[a-z]{1,3}\d{1,3}"
_WORD_BEFORE = r"(?:stamp(?:ed)?|label|dated|date|reads|production|stempel)[ :,]+"


_ABBREVIATED = r"(?i)\b(prob|poss|approx|orig|cond|repl|incl|excl|est)\."

_MARKUP = r"</?(?:a|b|br|div|em|font|h\d|i|img|li|p|script|span|strong|u|ul)(?:\s[^<>]{0,200})?/?>"
_CLAUSE_MARK = "\x1f"
_CLAUSE_END = r"[.!]+(?:\s|$)|[…;:|()\[\]{}•·*~。\x1f]|\s[-/]+\s|-{2,}"
_KEY_AND_VALUE = r"(^|[,;.|(]\s*)(\p{L}{3,}) ?: ?(\p{L}{3,})( ?(?:[,;.|)/-]|$))"
"""One word before a colon and one after it: "overlays: leather" is read both ways round."""

_GRADE_TOKENS = {
    f"{GRADE_MARK}{written}{GRADE_MARK}{sign}": f"{GRADE_MARK}{round(step_grade(grade, sign) * 2)}"
    for sign in ("+", "-", "")
    for grade in GRADES
    for written in (
        [f"{grade:.0f}", f"{grade:.0f}.0", f"{grade:.0f},0"]
        if grade.is_integer()
        else [f"{grade}", f"{grade}".replace(".", ","), f"{grade - 0.5:.0f}½"]
    )
}


_STAMP = "|".join(
    [
        *(
            rf"{month_pattern(form)}{TO}{month_pattern(form)}(?:[ /]+{_CODE})?"
            for form in ("slashed", "named")
        ),
        *(
            rf"{month_pattern(form)}{TO}{month_pattern(form)}[ /]+{_CODE}"
            for form in ("spaced", "run together")
        ),
    ]
)
_SINGLE_STAMP = "|".join(
    rf"{month_pattern(form)}(?:{TO}{month_pattern(form)})?(?:[ /]+{_CODE})?" for form in MONTHS
)
_STAMP_ANYWHERE = rf"(?i)(^|[^\w/.])({_STAMP})($|[^\w/])"
_STAMP_AFTER_WORD = rf"(?i)(\b{_WORD_BEFORE})({_SINGLE_STAMP})($|[^\w/])"

_GRADE_OF_TEN = r"(^|[^\d/.,]/?)(10|[1-9](?:[.,][05]|½)?)(?:[.,]0)?([+-]?)(?: ?/ ?| (?:out )?of )10($|[^\d/])"
_CONDITION = (
    "grade|graded|cond|condition|zustand|état|stato|condizioni?|estado|condición|condição|staat|conditie|stan"
    "|skick|skicket|tilstand|stand|kunto|stav"
)
_GRADE_WORD = rf"(?i)\b(?:{_CONDITION})[ .:]+(10|[1-9](?:[.,][05]|½)?)"
_SIGNED_GRADE_AFTER_WORD = rf"{_GRADE_WORD}([+-])(?: ?/ ?10)?($|[^\p{{L}}\p{{N}}/½])"
_GRADE_AFTER_WORD = rf"{_GRADE_WORD}(?: ?/ ?10)?($|[^\d/½.,]|[.,](?:$|\D))"


def lift_titles(titles: pl.DataFrame) -> pl.DataFrame:
    """Return title, size_label, size_system, stamp_text and rest of distinct titles (column `title`).

    Label and stamp are verbatim; both are null where the title gives none or several that differ. `rest` is
    the title with the marks of `phrases` where a grade out of ten, a size or a stamp stood.
    """
    levelled = titles.with_columns(
        _level=pl.col("title")
        .str.slice(0, LONGEST_TITLE)
        .str.replace_many(_WIDE)
        .str.replace_all(OTHER_DIGITS, "\ufffd")
        .str.replace_all(r"(?i)\bw/", f"{_WITH_MARK}/")
    ).with_columns(
        _level=pl.when(pl.col("_level").str.contains(" ", literal=True))
        .then(pl.col("_level").str.replace_all("_", "|", literal=True))
        .otherwise(pl.col("_level").str.replace_all("_", " ", literal=True))
    )
    stamped = levelled.with_columns(
        _stamp=pl.coalesce(
            pl.col("_level").str.extract(form, 2) for form in (_STAMP_ANYWHERE, _STAMP_AFTER_WORD)
        ),
        _rest=pl.col("_level")
        .str.replace(_STAMP_ANYWHERE, f"$1 {THING_MARK} $3")
        .str.replace(_STAMP_AFTER_WORD, f"$1 {THING_MARK} $3"),
    ).with_columns(_second_stamp=pl.col("_rest").str.contains(_STAMP_ANYWHERE))
    sized = (
        stamped.with_columns(
            _sizes=pl.col("_rest").str.extract_all(_SIZE),
            _rest=pl.col("_rest")
            .str.replace_all(_SIZE, f" {THING_MARK} ")
            .str.replace_all(_GRADE_OF_TEN, f"$1 {GRADE_MARK}$2{GRADE_MARK}$3 $4"),
        )
        .with_columns(
            _sizes=pl.concat_list("_sizes", pl.col("_rest").str.extract_all(_SIZE_NUMBER_FIRST)),
            _rest=pl.col("_rest").str.replace_all(_SIZE_NUMBER_FIRST, f" {THING_MARK} "),
        )
        .with_columns(_bare=pl.col("_rest").str.extract(_BARE_SIZE, 1))
    )
    return sized.join(_one_size(sized), on="title", how="left", maintain_order="left").select(
        "title",
        size_label=_verbatim("_label"),
        size_system="_system",
        stamp_text=pl.when(~pl.col("_second_stamp")).then(_verbatim("_stamp")),
        rest=pl.col("_rest")
        .str.replace_all(_BARE_SIZE, f" {THING_MARK} ")
        .str.replace_all(_SIGNED_GRADE_AFTER_WORD, f" {GRADE_MARK}$1{GRADE_MARK}$2 $3")
        .str.replace_all(_GRADE_AFTER_WORD, f" {GRADE_MARK}$1{GRADE_MARK} $2")
        .str.replace_many(_GRADE_TOKENS, leftmost=True),
    )


def split_clauses(rests: pl.DataFrame) -> pl.DataFrame:
    """Return one row per clause: id, clause. `rests` holds id and rest (as `lift_titles` gives it).

    A clause ends at a full stop, semicolon, colon, bracket, stroke, or a dash or slash between spaces, and at a
    comma, unless "and" or "or" in the title may make a list of what stands between the commas.
    """
    rest = (
        pl.col("rest")
        .str.replace_all("&amp;", " & ", literal=True)
        .str.replace_all(_WITH_MARK, "w", literal=True)
        .str.replace_all(_ABBREVIATED, "$1")
        .str.replace_all(r"(?i)[:?=-] ?yes\b", " ")
        .str.replace_all(r"(?i)[:?=-] ?(none|no|missing|nil)( ?(?:[|,.;)!/-]|$))", " $1$2")
        .str.replace_all(_KEY_AND_VALUE, rf"$1$2 $3 {_CLAUSE_MARK} $3 $2$4")
        .str.replace_all(_CLAUSE_END, _CLAUSE_MARK)
    )
    listing = pl.col("rest").str.contains(r"(?i)\b(?:x?or|nor|and)\b|[&+]")
    split = pl.when(listing).then(rest).otherwise(rest.str.replace_all(r"[,、](?:\s|$)", _CLAUSE_MARK))
    return (
        rests.select("id", clause=split.str.split(_CLAUSE_MARK))
        .explode("clause")
        .with_columns(pl.col("clause").str.strip_chars())
        .filter(pl.col("clause") != "")
    )


def tokens_of(clause: pl.Expr, *, signed: str) -> pl.Expr:
    """Return a clause as tokens, each between its own two spaces: words, "," and "?", and "|" at both ends.

    `signed` is a pattern of the words whose sign is a part of them (grade words: "LS+").
    """
    return (
        with_signs_marked(folded(clause), after=signed)
        .str.replace_all(_MARKUP, " ")
        .str.replace_all(r"\S*@\S*", " ")
        .pipe(compared_words)
        .str.replace_all(" ", "  ", literal=True)
        .pipe(lambda tokens: pl.concat_str(pl.lit(" |  "), tokens, pl.lit("  | ")))
    )


def _one_size(sized: pl.DataFrame) -> pl.DataFrame:
    """Return title, _label, _system of the titles whose sizes are one size."""
    listed = pl.concat(
        [
            sized.filter(pl.col("_sizes").list.len() > 0).select("title", _label="_sizes").explode("_label"),
            sized.filter(pl.col("_sizes").list.len() == 0, pl.col("_bare").is_not_null()).select(
                "title", _label="_bare"
            ),
        ]
    )
    read = read_sizes(listed["_label"], system=None)
    spread = pl.col("foot_mm").max() - pl.col("foot_mm").min()
    return (
        listed.join(read, left_on="_label", right_on="size_label", how="left", maintain_order="left")
        .group_by("title", maintain_order=True)
        .agg(
            pl.col("_label").first(),
            _system=pl.col("size_system").first(),
            _one=(pl.col("_label").n_unique() == 1)
            | ((spread <= _SAME_SIZE_MM) & pl.col("foot_mm").is_not_null().all()),
        )
        .filter("_one")
        .drop("_one")
    )


def _verbatim(found: str) -> pl.Expr:
    """Return the piece of the title that stands where the levelled piece was found."""
    place = pl.col("_level").str.find(pl.col(found), literal=True)
    start = pl.col("_level").cast(pl.Binary).bin.slice(0, place).cast(pl.String).str.len_chars()
    piece = pl.col("title").str.slice(start, pl.col(found).str.len_chars())
    levelled = (pl.col("_level") != pl.col("title")) & pl.col(found).is_not_null()
    return pl.when(levelled).then(piece).otherwise(found)
