"""The cells of an export as text: one Unicode form, plain spaces, distinct values only."""

import unicodedata
from collections.abc import Callable, Iterable
from functools import cache

import polars as pl

_FRACTIONS = {"½": ".5", "⅓": " 1/3", "⅔": " 2/3", "¼": ".25", "¾": ".75", "⁄": "/"}
OTHER_DIGITS = r"[\p{Nd}--0-9]"
_DIRECTIONS = r"[\u{061C}\u{200E}\u{200F}\u{202A}-\u{202E}\u{2066}-\u{2069}]"
"""Signs that say which way a text runs (Unicode Standard Annex 9), and nothing else."""

_AFTER_LAST_DIGIT = 0x20000
_DASHES = r"[\u{2010}-\u{2015}\u{2212}\u{FE58}\u{FE63}\u{FF0D}]"


def distinct_texts(texts: pl.Series, name: str) -> pl.DataFrame:
    """Return the distinct non-null texts, in order of first appearance, as one column called `name`."""
    return texts.cast(pl.String).alias(name).drop_nulls().unique(maintain_order=True).to_frame()


def each(texts: Iterable[str], written: Callable[[pl.Expr], pl.Expr]) -> list[str]:
    """Return the texts, each as an expression writes it."""
    frame = pl.Series("text", list(texts), dtype=pl.String).to_frame()
    return frame.select(written(pl.col("text"))).to_series().to_list()


def plain(text: pl.Expr) -> pl.Expr:
    """Return a text as `spaced` does, with the digits of every script as 0 to 9."""
    return spaced(text).str.replace_many(_digits())


@cache
def _digits() -> dict[str, str]:
    """Return the decimal digits of every script but the Latin one as 0 to 9 (Unicode Standard, section 4.6)."""
    digits = map(chr, range(0x0660, _AFTER_LAST_DIGIT))
    return {digit: str(unicodedata.decimal(digit)) for digit in digits if unicodedata.category(digit) == "Nd"}


def spaced(text: pl.Expr) -> pl.Expr:
    """Return a text in Unicode form NFKC with plain spaces, plain dashes and no space at its ends.

    Full-width digits and signs become ordinary ones, no-break and thin spaces become spaces, the
    minus sign and every dash become "-"; marks of direction, which nobody sees, go. Source of the form: Unicode
    Standard Annex 15.
    """
    return (
        text.str.normalize("NFKC")
        .str.replace_all(_DIRECTIONS, "")
        .str.replace_all(r"[\s\u{200B}\u{FEFF}]+", " ")
        .str.replace_all(_DASHES, "-")
        .str.strip_chars()
    )


def without_fraction_signs(text: pl.Expr) -> pl.Expr:
    """Return a text with ½, ⅓, ⅔, ¼ and ¾ written with plain characters (9½ → 9.5, 43⅓ → 43 1/3)."""
    return text.str.replace_all(r"(\d) ([½¼¾])", "$1$2").str.replace_many(_FRACTIONS)


def folded(text: pl.Expr) -> pl.Expr:
    """Return a text without case and accents, for comparison only (Größe → grosse, Édition → edition)."""
    return (
        text.str.to_lowercase()
        .str.replace_all("ß", "ss", literal=True)
        .str.normalize("NFKD")
        .str.replace_all(r"\p{M}+", "")
        .str.replace_all(_DASHES, "-")
    )
