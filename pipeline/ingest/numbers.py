"""Amounts of money as exports write them, read exactly: never through a binary float."""

from functools import cache
from typing import Literal

import polars as pl
from babel.numbers import get_currency_precision, list_currencies

from pipeline.ingest.cells import distinct_texts, plain, spaced
from pipeline.ingest.column_choice import ColumnChoice
from pipeline.ingest.currency_words import signs_of, written_words

AMOUNT = pl.Decimal(18, 4)
FINER = pl.Decimal(38, 18)

_USUAL = {".": r"^[0-9]{1,14}(?:\.[0-9]{1,2})?$", ",": r"^[0-9]{1,14}(?:,[0-9]{1,2})?$"}
_EMPTY = r"(?i)^(?:|-+|\.+|n\.?\s?/?\s?a\.?|null|none|nil|nan|#n/a)$"
_YEN = r"^\\ ?(-?\d)"
"""The yen sign of Japanese code pages is the backslash of all others (Shift JIS, JIS X 0201)."""

_WORD = r"[\p{L}\p{M}\p{Sc}]+(?:['\"’״׳./][\p{L}\p{M}\p{Sc}]+)*(?:/\.?|\.)?"
"""A word or sign, with the stops, apostrophes and strokes of abbreviations (kr., S/., د.إ., ש"ח)."""

_POINT_OF_DECIMALS = rf"(?i)(\p{{Sc}}|\b(?:{'|'.join(sorted(list_currencies()))}))\.(\d)"
"""A point after a sign or an ISO code begins decimals ($.50); after another word it ends an abbreviation (Rs.500)."""

_TEN_NINES_OR_ZEROS = r"^\d*?(?:0{5,}|9{5,})\d{0,3}$"


def read_amounts(
    texts: pl.Series, *, decimal_mark: Literal[".", ","], currency: str | None = None
) -> pl.DataFrame:
    """Read amounts of money.

    Takes cells as text, the column's decimal mark, and (optionally) the column's currency, which says
    what a sign shared by several currencies ("$", "kr") means. Returns one row per distinct non-null text:
    text, amount Decimal(18, 4), currency String (ISO 4217, from a code or sign in the cell, else null),
    reason String, finer Decimal(38, 18) (the number of a cell that has more decimals than an amount, for
    `to_minor_unit` to round; else null). An empty cell ("", "-", "n/a") has neither amount nor reason; a cell
    that cannot be read has a reason. Groups of three may be separated by space, apostrophe, or the other mark; a
    negative is written with a minus (before or after) or in brackets. Digits of every script are read. "$" and "kr"
    alone name no currency; "¥" alone is the yen sign (its Unicode name); other words than those for currencies (see
    `pipeline.ingest.currency_words`) are refused. A bare mark with three digits after a short whole part (1.234 with
    decimal mark ".") is refused: it looks like thousands under the other mark.
    """
    distinct = distinct_texts(texts, "text")
    usual = pl.col("text").str.contains(_USUAL[decimal_mark])
    digits = pl.col("text").str.replace(decimal_mark, ".", literal=True)
    plainly = distinct.filter(usual).select(
        "text",
        amount=digits.cast(AMOUNT),
        currency=pl.lit(None, dtype=pl.String),
        reason=pl.lit(None, dtype=pl.String),
        finer=pl.lit(None, dtype=FINER),
    )
    if plainly.height == distinct.height:
        return plainly
    read = pl.concat([plainly, _read_unusual(distinct.filter(~usual), decimal_mark, currency)])
    return distinct.join(read, on="text", how="left", maintain_order="left")


def low_end(text: pl.Expr) -> pl.Expr:
    """Return the lower of two amounts that a cell holds ("120 - 180 €", "120,00 € / 180,00 €"), else the text."""
    cell = spaced(text)
    slashed = cell.str.extract(r"^([^/]*\d[^/]*)/[^/]*\d[^/]*$")
    dashed = cell.str.extract(r"^([^\d-]*\d[^-]*?) ?- ?[^\d-]*\d[^-]*$")
    return pl.coalesce(slashed, dashed, cell).str.strip_chars()


def to_minor_unit(finer: pl.Expr, currency: pl.Expr) -> pl.Expr:
    """Return numbers as amounts, rounded half up (away from zero) to the minor unit of their currencies."""
    precisions = currency_precisions()
    precision = currency.replace_strict(precisions, default=AMOUNT.scale, return_dtype=pl.Int64)
    rounded = pl.coalesce(
        pl.when(precision == digits).then(finer.round(digits, mode="half_away_from_zero"))
        for digits in sorted({*precisions.values(), AMOUNT.scale})
    )
    return rounded.cast(AMOUNT, strict=False)


@cache
def currency_precisions() -> dict[str, int]:
    """Return currency code → how many digits its minor unit has (Unicode CLDR)."""
    return {code: get_currency_precision(code) for code in sorted(list_currencies())}


def decide_decimal_mark(texts: pl.Series) -> ColumnChoice:
    """Say which decimal mark a whole column uses, "." or ",", or that the column does not tell.

    A cell decides when a mark stands before one, two or four digits at its end, or when one and the same
    mark parts two groups of three or stands beside the other mark. A single mark before three digits
    (12.000) decides nothing. Each distinct text counts once.
    """
    numbers = (
        distinct_texts(texts, "text")
        .with_columns(_plain=_written().str.replace_all("٫", ",", literal=True))
        .filter(~pl.col("_plain").str.contains(_EMPTY))
        .with_columns(_plain=_unabbreviated())
        .with_columns(_number=_bare_number())
        .filter(pl.col("_number").str.contains(r"\d"))
    )
    number = pl.col("_number").str.strip_chars("()+- ")
    votes = numbers.with_columns(
        comma=number.str.contains(
            r"^[\d' .]*,\d{1,2}$|^[\d' .]*,\d{4}$|^\d{1,3}(?:\.\d{3}){2,}$|^\d{1,3}\.\d{3}(?:\.\d{3})*,\d*$"
        ),
        point=number.str.contains(
            r"^[\d' ,]*\.\d{1,2}$|^[\d' ,]*\.\d{4}$|^\d{1,3}(?:,\d{3}){2,}$|^\d{1,3},\d{3}(?:,\d{3})*\.\d*$"
        ),
        open=number.str.contains(r"^\d{1,3}[.,]\d{3}$"),
    )
    comma, point = votes.filter("comma"), votes.filter("point")
    if comma.is_empty() and point.is_empty():
        unclear = votes.filter("open")
        if unclear.is_empty():
            return ColumnChoice.undecided("no cell has a decimal mark: either one reads them the same")
        return ColumnChoice.undecided(
            f"ambiguous: {unclear['text'][0]!r} may be thousands or three decimals, "
            f"as may all {unclear.height} cells with a mark"
        )
    value, winning, losing = (",", comma, point) if comma.height > point.height else (".", point, comma)
    deciding = winning.height + losing.height
    if losing.height * 20 > deciding:
        return ColumnChoice.undecided(
            f"both marks appear: {winning['text'][0]!r} beside {losing['text'][0]!r}; split the file, or correct it"
        )
    return ColumnChoice.counted(
        value,
        winning.height,
        deciding,
        f"{winning.height} of {deciding} decisive cells, such as {winning['text'][0]!r}",
    )


def _read_unusual(distinct: pl.DataFrame, decimal_mark: str, currency: str | None) -> pl.DataFrame:
    """Return what `read_amounts` does, of cells that are more than digits with at most two decimals."""
    cells = (
        distinct.with_columns(_plain=_written().str.replace_all("٫", decimal_mark, literal=True))
        .with_columns(_empty=pl.col("_plain").str.contains(_EMPTY))
        .with_columns(_plain=_unabbreviated())
        .with_columns(_number=_bare_number(), _sign=_bare_sign())
    )
    signs = cells.select("_sign", _words=written_words(pl.col("_sign"))).unique()
    signs = signs.select("_sign", **_currency_columns(currency))
    cells = cells.join(signs, on="_sign", how="left", maintain_order="left")
    fitted = cells.with_columns(_digits=_plain_digits(decimal_mark))
    exact = fitted.with_columns(
        amount=pl.when(~pl.col("_empty") & pl.col("_sign_fault").is_null()).then(_to_amount()),
    ).with_columns(_fault=_number_fault(decimal_mark), _finer=_is_finer())
    reason = pl.when(~pl.col("_empty")).then(pl.coalesce("_sign_fault", "_fault"))
    return exact.select(
        "text",
        amount=pl.when(reason.is_null()).then("amount"),
        currency=pl.when(~pl.col("_empty") & reason.is_null()).then("currency"),
        reason=reason,
        finer=pl.when(reason.is_null() & pl.col("_finer")).then(pl.col("_digits").cast(FINER, strict=False)),
    )


def _written() -> pl.Expr:
    """Return the cell in one form of spaces, digits and signs, the Arabic mark of thousands as an apostrophe."""
    return plain(pl.col("text")).str.replace(_YEN, "¥$1").str.replace_all("٬", "'", literal=True)


def _unabbreviated() -> pl.Expr:
    """Return `_plain` without the stroke of whole amounts (450,-), and with a zero before decimals alone ($.50)."""
    return (
        pl.col("_plain")
        .str.replace_all(r"[’‘`´]", "'")
        .str.replace(r"[.,]\s?-{1,2}(\D*)$", "$1")
        .str.replace_all(_POINT_OF_DECIMALS, "$1 0.$2")
    )


def _bare_number() -> pl.Expr:
    """Return the cell without currency words; a word between digits (12€50) is kept, to be refused."""
    inside = pl.col("_plain").str.contains(r"\d\s*[\p{L}\p{Sc}]+\.?\s*\d")
    bare = pl.col("_plain").str.replace_all(_WORD, "").str.strip_chars()
    return pl.when(inside).then("_plain").otherwise(bare)


def _bare_sign() -> pl.Expr:
    """Return the cell's currency code, sign or words; "" where it has none."""
    return pl.col("_plain").str.extract_all(_WORD).list.join(" ")


def _currency_columns(stated: str | None) -> dict[str, pl.Expr]:
    """Return `currency` and `_sign_fault` from `_words`, and from the column's own currency."""
    known, shared = signs_of(stated)
    whole = pl.col("_words").is_in([*known, *shared])
    parts = (
        pl.when(whole)
        .then(pl.concat_list("_words"))
        .otherwise(pl.col("_words").str.split(" "))
        .list.eval(pl.element().filter(pl.element() != ""))
    )
    named = parts.list.eval(
        pl.element().replace_strict(known, default=None, return_dtype=pl.String).drop_nulls().unique()
    )
    loose = parts.list.eval(pl.element().filter(pl.element().is_in(list(shared))))
    unknown = parts.list.eval(pl.element().filter(~pl.element().is_in([*known, *shared])))
    clash = pl.lit(stated is not None) & (named.list.len() == 0) & (loose.list.len() > 0)
    return {
        "currency": named.list.first(),
        "_sign_fault": pl.when(unknown.list.len() > 0)
        .then(pl.lit("not an amount: it holds other words"))
        .when(named.list.len() > 1)
        .then(pl.lit("it names two currencies"))
        .when(clash)
        .then(pl.format("the sign {} is not one of {}", loose.list.first(), pl.lit(stated or ""))),
    }


def _plain_digits(mark: str) -> pl.Expr:
    """Return `_number` as plain digits with "." ("-1234.50"), null where its marks do not fit."""
    other = "," if mark == "." else "."
    point, group = f"\\{mark}", f"\\{other}"
    bracketed = pl.col("_number").str.contains(r"^\(.*\)$")
    minus = pl.col("_number").str.contains(r"^-|-$|^\(\s*-") | bracketed
    body = (
        pl.col("_number")
        .str.replace(r"^\(\s*(.*?)\s*\)$", "$1")
        .str.replace(r"^[+-]\s*", "")
        .str.replace(r"\s*-$", "")
    )
    fits = body.str.contains(
        rf"^(?:\d+|\d{{1,3}}(?:{group}\d{{3}})+|\d{{1,3}}(?: \d{{3}})+|\d{{1,3}}(?:'\d{{3}})+"
        rf"|\d{{1,2}}(?:{group}\d{{2}})+{group}\d{{3}})(?:{point}\d+)?$|^{point}\d+$"
    )
    digits = body.str.replace_all(rf"[ '{group}]", "").str.replace(point, ".")
    doubled = pl.col("_number").str.contains(r"^\(\s*[+-]|^[+-].*-$")
    return pl.when(fits & ~doubled).then(pl.when(minus).then(pl.lit("-")).otherwise(pl.lit("")) + digits)


def _to_amount() -> pl.Expr:
    """Return `_digits` as a decimal; the noise of a spreadsheet's binary float is rounded off."""
    return (
        pl.col("_digits")
        .cast(FINER, strict=False)
        .round(4, mode="half_away_from_zero")
        .cast(AMOUNT, strict=False)
    )


def _number_fault(mark: str) -> pl.Expr:
    """Return why `_digits` is no amount, null where it is one."""
    three = [code for code, digits in currency_precisions().items() if digits == 3]
    looks_grouped = pl.col("_digits").str.contains(r"^-?[1-9]\d{0,2}\.\d{3}$") & ~pl.col("currency").is_in(
        three
    ).fill_null(value=False)
    return (
        pl.when(~pl.col("_number").str.contains(r"\d"))
        .then(pl.lit("not an amount: it holds no digit"))
        .when(pl.col("_digits").is_null())
        .then(pl.lit(f"not an amount with the decimal mark {mark!r}"))
        .when(looks_grouped)
        .then(pl.lit(f"three digits after {mark!r}: thousands written with the other decimal mark?"))
        .when(pl.col("amount").is_null())
        .then(pl.lit("too large to be an amount"))
    )


def _is_finer() -> pl.Expr:
    """Whether `_digits` says more than four decimals hold, the noise of a binary float aside."""
    decimals = pl.col("_digits").str.extract(r"\.(\d+)$")
    noise = decimals.str.contains(_TEN_NINES_OR_ZEROS) & (decimals.str.len_chars() >= 9)
    zeros = decimals.str.contains(r"^\d{0,4}0*$")
    return ((decimals.str.len_chars() > AMOUNT.scale) & ~noise & ~zeros).fill_null(value=False)
