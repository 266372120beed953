"""Years and decades in which a pair was made ("1986", "'86", "mid 80s", "1985-86", "1986年"), and their eras.

A number is a year only where it stands as one: not as a price, a length, a code, a day, the year of a sale or of a
treatment, or that of the original which a re-issue copies.
"""

from collections.abc import Iterable

import polars as pl

from pipeline.config import Era
from pipeline.ingest.cells import distinct_texts, folded, plain
from pipeline.ingest.stamps import MONTH_NAME

SPANS = ("year_from", "year_to")
"""The first and the last year of what a text says, Int32."""

SEVERAL_ERAS = "its years lie in several eras: "
"""Why years do not say an era; the share of each follows, as `--era-odds` takes it."""

LATEST_OF_CENTURY = 49
"""A year of two digits up to this one is of the 2000s, a later one of the 1900s."""

REISSUE_WORDS = (
    *(
        "re-issue",
        "reissue",
        "reissued",
        "re-issued",
        "retro",
        "remake",
        "rerelease",
        "re-release",
        "replica",
    ),
    *("neuauflage", "reedition", "re-edition", "riedizione", "reedicion", "reedicao", "heruitgave", "復刻"),
)
"""Words that say of a pair that it copies an earlier one, whose year a title may give instead of its own."""

_PARTS = {
    "early": (0, 3, "early|anfang|anfang der|debut des|debut|inizio|principios de los|前半|初期"),
    "mid": (4, 6, "mid|middle of the|mitte|mitte der|milieu des|milieu|meta|mediados de los|中期"),
    "late": (7, 9, "late|ende|ende der|fin des|fin|fine|finales de los|後半|末期"),
}
"""The years of a decade that are its early, middle and late ones (common practice), and their words."""

_PART_WORDS = "|".join(
    sorted("|".join(words for *_, words in _PARTS.values()).split("|"), key=len, reverse=True)
)
_YEAR = r"(?:19[5-9]\d|20[0-4]\d)"
_DECADE = r"(?:(?:19|20)?\d0)"
_DECADES = (
    rf"(?:(?:{_PART_WORDS})[\s-]*)?(?:the )?'?{_DECADE}(?:'?s|er(?: jahren?)?)",
    rf"(?:(?:{_PART_WORDS}) )?(?:annees|anni|anos) '?{_DECADE}",
    rf"{_DECADE}年代(?:{_PART_WORDS})?",
)
_RANGES = (rf"{_YEAR} ?[-/] ?(?:{_YEAR}|\d\d)", r"'\d\d ?[-/] ?'?\d\d")
_SINGLE = (rf"{_YEAR}(?:年製?|er)?", r"'\d\d", r"\d\d年製?")
_SPAN = "|".join((*_DECADES, *_RANGES, *_SINGLE))
_WIDE_LETTER = r"\p{Han}|\p{Hiragana}|\p{Katakana}"
_BEFORE = rf"(?:^|[\s(\[,;:|\"~]|{_WIDE_LETTER})"
_AFTER = rf"(?:$|[\s)\],;:|\"!?]|[.](?:\s|$)|{_WIDE_LETTER})"
_CUE = r"(?:from|made in|produced in|circa|ca\.?|c\.|year|bj\.?|baujahr|jahrgang|jg\.?|anno|annee|ano)"
_BARE_AFTER_CUE = rf"{_CUE} [6-9]\d"
"""A bare number of two digits is a year beside such a word only; below 60 it may be a size."""

_ANY = rf"{_BEFORE}(?:{_SPAN}|{_BARE_AFTER_CUE}){_AFTER}"
_MAY_HOLD_ONE = (
    r"(?:19|20)[0-9][0-9]|['’‘´`][0-9][0-9]|[0-9]0['’]?[sS]|[0-9]0[eE][rR]|[0-9][0-9]年"
    r"|[AaÀ][NnÑñ][NnOo][EeIiSsÉé]?[EeSs]*[ '’]+[0-9]|[A-Za-z.][ ]+[6-9][0-9]"
)
"""Any of the forms above, and more, without borders of words and the digits of all scripts, which take long."""

_NOT_OF_THE_PAIR = (
    r"sold|bought|purchased|acquired|auction|auctioned|listed|sale|retired|wore|worn (?:\w+ )?in"
    r"|restored|cleaned|repaired|replaced|serviced|stored|since|until|till|before|after|based on|like the|as in"
    r"|tribute to|homage to|inspired by|copy of|established|founded|est|post|pre|not"
    r"|gekauft|verkauft|erworben|restauriert|seit|bis|achete|achetees|vendu|vendues|restaure|depuis"
    r"|comprato|comprate|acquistato|acquistate|venduto|vendute|dal|comprado|compradas|vendido|vendidas|desde"
)
"""Words before a year that is not that of the pair's making."""

_NUMBERED = (
    r"\b(?:no|nr|number|ref|style|code|sku|art|item|lot|cat|model|size|sz|gr|grosse|taille)[ .:#-]{1,3}"
    r"(?:(?:no|nr|code|number)[ .:#-]{0,3})?[a-z]{0,4}[ -]?\d+"
)
_SEASON = "spring|summer|autumn|fall|winter|ss|fw|aw|fruhjahr|sommer|herbst|printemps|ete|automne|hiver"
_IN_THE_MANNER = "style|styled|look|inspired|vibe|vibes|feel|type|stil|optik|esque|influenced|nostalgia"
_OTHERWISE = (
    r"[£$€¥]\s*\d[\d.,]*",
    r"\d[\d.,]*\s*(?:[£$€¥%円]|(?:eur|euros?|gbp|usd|jpy|yen|dollars?|pounds?|quid|cm|mm|kg|pcs|days|years|yrs)\b)",
    _NUMBERED,
    rf"\b(?:{MONTH_NAME}|{_SEASON}) (?:\d{{1,2}},? )?(?:'?\d\d|{_YEAR})\b",
    rf"\b{_YEAR}年?(?:に)?(?:購入|落札|販売|発売)",
    rf"(?:{_SPAN})[ -]+(?:{_IN_THE_MANNER})\b",
    rf"\b{_YEAR} (?:auction|sale|receipt|purchase|catalogue|catalog)\b",
)
"""What holds a number, or a year, that is not the pair's: prices, lengths, codes, days, manners."""

_CELL_WORDS = (
    r"\b(?:ca|circa|c|about|around|approx|um|vers|verso|from|made in|made|in|the|von|aus|de|del|des|der|anno|year|years"
    r"|jahr|jahre|baujahr|bj|annee|production|era|頃|約)\b|頃|約"
)


def may_hold_years(text: pl.Expr) -> pl.Expr:
    """Return whether a text may say a year: the quick look before `years_of_texts`."""
    return text.str.contains(_MAY_HOLD_ONE)


def copies_another(text: pl.Expr) -> pl.Expr:
    """Return whether a text has a word that says of a pair that it copies an earlier one."""
    latin = "|".join(word for word in REISSUE_WORDS if word.isascii())
    other = "|".join(word for word in REISSUE_WORDS if not word.isascii())
    return folded(text).str.contains(rf"\b(?:{latin})\b|{other}")


def years_of_texts(texts: pl.Series, *, apart: str, treatments: str) -> pl.DataFrame:
    """Return the years that titles or notes say of the pair.

    `apart` is a pattern of the phrases that hold numbers and are no years ("plover 86"), `treatments` of the words
    for what was done to a pair ("resoled in 2021"), both folded. Returns one row a distinct non-null text: text,
    year_from and year_to Int32, null where it says none, or two that exclude each other.
    """
    worded = rf"\b(?:{_NOT_OF_THE_PAIR})\b[^.;|,\d]{{0,20}}?(?:'?\d\d|{_YEAR})\b"
    treated = rf"(?:{treatments})\b[^.;|,\d]{{0,40}}?(?:'\d\d|{_YEAR})\b"
    texts_read = distinct_texts(texts, "text").with_columns(_said=_said())
    clauses = pl.col("_said").str.replace_all(r"(\D)\s[-/]+\s", "$1 | ")
    masked = clauses.str.replace_all(apart, " \x1f ").str.replace_all(treated, " \x1f ")
    for pattern in (*_OTHERWISE, worded):
        masked = masked.str.replace_all(pattern, " \x1f ")
    return _read(texts_read.with_columns(_found=masked.str.replace_all(r"\s+", "  ").str.extract_all(_any())))


def years_of_cells(texts: pl.Series) -> pl.DataFrame:
    """Return the years that a cell for the era says, as `years_of_texts` does.

    The cell holds nothing else but a word such as "circa"; a bare number of two digits is a year here.
    """
    said = (
        _said()
        .str.replace_all(r"^(\d\d)$", "'$1")
        .str.replace_all(r"^(\d\d) ?[-/] ?(\d\d)$", "'$1-'$2")
        .str.replace_all(rf"({_CUE}) (\d\d)$", "'$2")
        .str.replace_all(r"\s+", "  ")
    )
    cells = distinct_texts(texts, "text").with_columns(_said=said)
    rest = pl.col("_said").str.replace_all(_any(), " ").str.replace_all(_CELL_WORDS, " ")
    alone = ~rest.str.contains(r"[\p{L}\p{N}]")
    return _read(cells.with_columns(_found=pl.when(alone).then(pl.col("_said").str.extract_all(_any()))))


def eras_of_spans(spans: pl.DataFrame, eras: Iterable[Era]) -> pl.DataFrame:
    """Return what eras the years lie in, row by row: era, odds String.

    `spans` holds SPANS and `only` List(String): the eras that alone may count, null where any may. `era` is
    the one that they lie in; where there are several, it is null and `odds` gives each the share of the years in
    it, as `--era-odds` takes them ("first=0.6,second=0.4").
    """
    known = pl.DataFrame(
        [(place, era.name, era.first_year, era.last_year) for place, era in enumerate(eras)],
        schema={"_place": pl.Int64, "_era": pl.String, "_first": pl.Int32, "_last": pl.Int32},
        orient="row",
    )
    numbered = spans.with_row_index("_row")
    within = pl.min_horizontal("year_to", "_last") - pl.max_horizontal("year_from", "_first") + 1
    lying = (
        numbered.filter(pl.col("year_from").is_not_null())
        .join(known, how="cross")
        .with_columns(_years=within)
        .filter(pl.col("_years") > 0, pl.col("only").is_null() | pl.col("_era").is_in("only"))
        .with_columns(_share=pl.col("_years") / pl.col("_years").sum().over("_row"))
        .sort("_row", "_place")
        .group_by("_row", maintain_order=True)
        .agg(
            "_era",
            _odds=pl.concat_str("_era", pl.lit("="), pl.col("_share").round(3).cast(pl.String)),
        )
    )
    one = pl.col("_era").list.len() == 1
    return numbered.join(lying, on="_row", how="left", maintain_order="left").select(
        era=pl.when(one).then(pl.col("_era").list.first()),
        odds=pl.when(~one).then(pl.col("_odds").list.join(",")),
    )


def _said() -> pl.Expr:
    return folded(plain(pl.col("text"))).str.replace_all("[’‘´`]", "'")


def _any() -> str:
    """Return the pattern of a year or decade with a sign of its own on either side, spaces being double."""
    return _ANY.replace(" ?", r"\s*").replace(" ", r"\s+")


def _read(found: pl.DataFrame) -> pl.DataFrame:
    """Return text and SPANS of the texts whose pieces (`_found`, List) agree."""
    pieces = (
        found.select("text", _piece="_found")
        .explode("_piece", empty_as_null=True)
        .filter(pl.col("_piece").is_not_null())
        .with_columns(pl.col("_piece").str.replace_all(r"\s+", " "))
    )
    spans = (
        pieces.with_columns(**dict(zip(SPANS, _span(), strict=True)))
        .group_by("text", maintain_order=True)
        .agg(pl.col("year_from").max(), pl.col("year_to").min())
        .filter(pl.col("year_from") <= pl.col("year_to"))
    )
    return found.select("text").join(spans, on="text", how="left", maintain_order="left")


def _span() -> tuple[pl.Expr, pl.Expr]:
    """Return the first and the last year of a piece."""
    piece = pl.col("_piece")
    is_decade = piece.str.contains("|".join(_DECADES))
    first = _full_year(piece.str.extract(r"((?:19|20)\d\d|\d\d)"))
    second = piece.str.extract(r"\d ?[-/] ?'?(\d{4}|\d\d)").cast(pl.Int32)
    later = pl.when(second >= 1000).then(second).otherwise(first + (second - first % 100 + 100) % 100)
    offsets = [
        pl.when(piece.str.contains(rf"(?:^|\P{{L}}|年代)(?:{words})")).then(
            pl.lit(years, dtype=pl.List(pl.Int32))
        )
        for *years, words in _PARTS.values()
    ]
    part = pl.coalesce(*offsets, pl.lit([0, 9], dtype=pl.List(pl.Int32)))
    return (
        pl.when(is_decade).then(first + part.list.first()).otherwise(first),
        pl.when(is_decade).then(first + part.list.last()).otherwise(pl.coalesce(later, first)),
    )


def _full_year(digits: pl.Expr) -> pl.Expr:
    number = digits.cast(pl.Int32)
    short = pl.when(number > LATEST_OF_CENTURY).then(number + 1900).otherwise(number + 2000)
    return pl.when(number >= 1000).then(number).otherwise(short)
