"""Shoe sizes: every labelled system on one axis, foot length in mm, with the label kept as printed.

The conversion only places a size on the axis and shows gross errors; a printed label is never overridden.
Sources of the formulas (from memory): ISO 9407 for foot length in mm; the English unit of a third of an
inch with UK = 3 × foot length in inches - 23; the Paris point of two thirds of a centimetre, from which
EU = 1.27 × (UK + 25). US men = UK + 1 and US women = US men + 1.5 are common practice without a source,
and makers differ.
"""

from collections.abc import Mapping
from typing import TypeVar, get_args

import polars as pl

from pipeline.errors import UnknownName
from pipeline.ingest.cells import distinct_texts, plain, without_fraction_signs
from pipeline.schema import FOOT_MM_RANGE, SIZE_SYSTEMS, SizeSystem

Number = TypeVar("Number", float, pl.Expr)

SizeChart = Mapping[str, tuple[tuple[float, float], ...]]
"""A maker's own sizes: for each system, size and foot length (mm), both rising."""

MM_PER_INCH = 25.4
GROSS_ERROR_MM = 15
"""Two sizes on one label that lie further apart than this contradict each other (common practice)."""

SYSTEM_PATTERNS: dict[str, str] = {
    "US women": r"us ?(?:w|wms|wmns|women'?s?|womens?|ladies'?)|w(?:mns|ms)? ?us|women'?s us|w|wmns|women'?s?|ladies'?",
    "US men": r"us ?(?:m|mens?|men'?s)|men'?s us|usa?|m|men'?s?",
    "UK": r"uk|gb|english",
    "EU": r"eur?|fr|paris|euro",
    "JP": r"jpn?|japan",
}
SIZE_WORDS = (
    r"size|sz|gr|(?:schuh)?gr[öo]e?(?:ß|ss)e|taille|pointure|taglia|tg|talla|tamanho|tam|(?:schoen)?maat|rozmiar|rozm"
    r"|(?:sko)?storlek|strl|stl|(?:sko)?st[øo]rrelse|str|koko|velikost|vel"
)
"""Words for size before its number, in small letters; reports/pricing/sizes.js has the same."""

_SYSTEM = "|".join(f"(?:{pattern})" for pattern in SYSTEM_PATTERNS.values())
_NUMBER = r"\d{1,3}(?:\.\d{1,2})?(?: [12]/[23])?"
_PERSON = r"w|wms|wmns|women'?s?|ladies'?|m|mens?|men's"
_SIZE = (
    rf"\b(?:{_SYSTEM})(?:[ .:]*|-){_NUMBER}(?: (?:cm|mm|{_PERSON})\b)?"
    rf"|\b{_NUMBER}(?: (?:cm|mm|(?:{_SYSTEM})(?: (?:{_PERSON}))?)\b)?"
)
_UNKNOWN_SYSTEM = rf"(\b(?:{_SYSTEM})(?:[ .:]*|-){_NUMBER})|\b[a-z]{{2,4}}[ .:]*{_NUMBER}(?: *[/|,;] *|$)"
_KNOWN_SYSTEM = rf"\b(?:{_SYSTEM})(?:[ .:]*|-){_NUMBER}|\b{_NUMBER} (?:{_SYSTEM}|cm|mm)\b"
"""A size of a system that is not known is left out where another stands beside it ("BR 41,5 / EU 43.5")."""

NOT_A_SIZE = "not a size"
"""Why a label gives no foot length that gives none in any system."""

_EMPTY = r"(?i)^(?:|-+|n\.?\s?/?\s?a\.?|null|none|\?+|unknown)$"


def foot_mm(system: str, number: Number) -> Number:
    """Return the foot length in mm of a size; `number` is a float or a polars expression.

    JP sizes are foot length in cm. Raises UnknownName for a system that is none of SIZE_SYSTEMS.
    """
    if system == "mm":
        return number * 1.0  # mutation: equivalent, one divides as it multiplies
    if system == "JP":
        return number * 10.0
    return (_uk(system, number) + 23) / 3 * MM_PER_INCH


def size_number(system: SizeSystem, length: int) -> float:
    """Return the size of a foot length (mm) in a system, to the nearest half; a length in mm is itself."""
    if system == "mm":
        return float(length)
    if system == "JP":
        return round(length / 5) / 2
    uk = 3 * length / MM_PER_INCH - 23
    size = {"UK": uk, "EU": 1.27 * (uk + 25), "US men": uk + 1, "US women": uk + 2.5}[system]
    return round(2 * size) / 2


def read_sizes(labels: pl.Series, *, system: str | None, chart: SizeChart | None = None) -> pl.DataFrame:
    """Read size labels.

    `system` (the export map's) holds where the label names none; a system or unit on the label wins.
    Returns one row per distinct non-null label: size_label String (verbatim), size_system String (one of
    SIZE_SYSTEMS), foot_mm Int32, reason String. A JP number of three digits is in mm. Of several sizes on
    one label, each of another system, the first is taken, and all must lie within GROSS_ERROR_MM of it. An
    empty cell has neither length nor reason. Within a maker's `chart` a size has the chart's length, between two of its
    sizes one between theirs. Raises UnknownName.
    """
    if system is not None and system not in get_args(SizeSystem):
        raise UnknownName.among("size system", system, SIZE_SYSTEMS)
    cells = (
        distinct_texts(labels, "size_label")
        .with_columns(
            _plain=without_fraction_signs(pl.col("size_label"))
            .pipe(plain)
            .str.to_lowercase()
            .str.replace_all(r"(\d),(\d{1,2})\b", "$1.$2")
            .str.replace_all(r"(\d)[- ]1/2\b", "$1.5")
            .str.replace_all(r"(\d)-([12]/3)\b", "$1 $2")
            # mutation: equivalent, a pattern knows letters by a capital or small L
            .str.replace_all(r"(\d)(\p{L})", "$1 $2")
            # mutation: equivalent, a pattern knows letters by a capital or small L
            .str.replace_all(r"(\p{L})(\d)", "$1 $2")
            .str.replace_all(rf"(?:\b(?:{SIZE_WORDS})\b|サイズ)[ .:]*", "")
        )
        .with_columns(
            _plain=pl.when(pl.col("_plain").str.contains(_KNOWN_SYSTEM))
            .then(pl.col("_plain").str.replace_all(_UNKNOWN_SYSTEM, "$1"))
            .otherwise("_plain")
        )
    )
    sizes = (
        cells.select("size_label", _part=pl.col("_plain").str.extract_all(_SIZE))
        .explode("_part")
        .filter(pl.col("_part").is_not_null())
        .with_columns(_number=_part_number(), _named=_part_system())
    )
    default = pl.lit(system, dtype=pl.String)
    bare_us_of_women = pl.lit(system == "US women") & pl.col("_part").str.contains(
        r"^usa?[ .:]*\d[\d. /]*$|^\d[\d. /]* usa?$"
    )
    placed = (
        sizes.with_columns(
            size_system=pl.when(bare_us_of_women)
            .then(pl.lit("US women"))
            .when((pl.coalesce("_named", default) == "JP") & (pl.col("_number") >= 100))
            .then(pl.lit("mm"))
            .otherwise(pl.coalesce("_named", default))
        )
        .with_columns(_mm=_charted(chart or {}))
        .group_by("size_label", maintain_order=True)
        .agg(
            pl.col("size_system").first(),
            _mm=pl.col("_mm").first(),
            _apart=(pl.col("_mm") - pl.col("_mm").first()).abs().max(),
            _without=pl.col("size_system").is_null().any(),
            _doubled=pl.struct("size_system", "_number").n_unique() > pl.col("size_system").n_unique(),
        )
    )
    rest = pl.col("_plain").str.replace_all(_SIZE, "").str.replace_all(r"[ /|,;:=()\[\]~.-]+|\by\b", "")
    joined = cells.with_columns(_rest=rest).join(placed, on="size_label", how="left", maintain_order="left")
    reason = pl.when(~pl.col("_plain").str.contains(_EMPTY)).then(_fault())
    usable = reason.is_null()
    return joined.select(
        "size_label",
        size_system=pl.when(pl.col("_rest") == "").then("size_system"),
        foot_mm=pl.when(usable).then(pl.col("_mm").round().cast(pl.Int32)),
        reason=reason,
    )


def _uk(system: str, number: Number) -> Number:
    """Return a size as a UK size."""
    if system == "UK":
        return number
    if system == "EU":
        return number / 1.27 - 25
    if system == "US men":
        return number - 1
    if system == "US women":
        return number - 2.5
    raise UnknownName.among("size system", system, SIZE_SYSTEMS)


def _part_number() -> pl.Expr:
    """Return the number of one size, with its thirds."""
    whole = pl.col("_part").str.extract(r"(\d{1,3}(?:\.\d{1,2})?)").cast(pl.Float64)
    thirds = pl.col("_part").str.extract(r" ([12])/3").cast(pl.Float64).fill_null(0.0)
    return whole + thirds / 3


def _part_system() -> pl.Expr:
    """Return the system that one size names by a word or a unit, else null."""
    word = (
        pl.col("_part")
        .str.replace_all(r"\d+(?:\.\d+)?(?: [12]/[23])?", " ")
        .str.replace_all(r"[ .:-]+", " ")
        .str.strip_chars(" ")  # mutation: equivalent, neither other spaces nor capitals are left by then
    )
    named = pl.when(word == "cm").then(pl.lit("JP")).when(word == "mm").then(pl.lit("mm"))
    for name, pattern in SYSTEM_PATTERNS.items():
        named = named.when(word.str.contains(rf"^(?:{pattern})(?: cm)?$")).then(pl.lit(name))
    return named.otherwise(None)


def _length() -> pl.Expr:
    """Return `_number` of `size_system` in mm."""
    by_system = [
        pl.when(pl.col("size_system") == name).then(foot_mm(name, pl.col("_number"))) for name in SIZE_SYSTEMS
    ]
    return pl.coalesce(by_system)


def _charted(chart: SizeChart) -> pl.Expr:
    """Return `_number` of `size_system` in mm, by the chart within its sizes, else by the formula."""
    pieces = [
        pl.when(pl.col("size_system") == system, pl.col("_number").is_between(size, next_size)).then(
            foot + (pl.col("_number") - size) * ((next_foot - foot) / ((next_size - size) or 1.0))
        )
        for system, sizes in chart.items()
        for (size, foot), (next_size, next_foot) in zip(sizes, (*sizes[1:], sizes[-1]), strict=True)
    ]
    return pl.coalesce(*pieces, _length())


def _fault() -> pl.Expr:
    """Return why a label gives no foot length, null where it does."""
    low, high = FOOT_MM_RANGE
    return (
        pl.when(
            (pl.col("_rest") != "")
            | pl.col("_plain").str.starts_with("-")
            | pl.col("_apart").is_null() & ~pl.col("_without").fill_null(value=False)
        )
        .then(pl.lit(NOT_A_SIZE))
        .when(pl.col("_without"))
        .then(pl.lit("no size system: neither the label nor the export map names one"))
        .when(pl.col("_doubled"))
        .then(pl.lit("it names two sizes of one system"))
        .when(~pl.col("_mm").is_between(low, high))
        .then(
            pl.format(
                "{} mm is no foot length from " + f"{low} to {high} mm", pl.col("_mm").round(0).cast(pl.Int64)
            )
        )
        .when(pl.col("_apart") > GROSS_ERROR_MM)
        .then(pl.format("its sizes lie {} mm apart", pl.col("_apart").round(0).cast(pl.Int64)))
    )
