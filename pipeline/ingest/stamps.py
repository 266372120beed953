"""Production stamps: a window of months and a factory code, as an inside label carries them.

The forms read, with the factory code before or after them or without one, and with one month or two:
03/85-06/85 or 03/1985-06/1985 (month/year), Mar 85 - Jun 85 (month in English), 85 03 – 85 06 and
0385 0685 (month and year in either order).
"""

from collections.abc import Iterable
from datetime import date

import polars as pl

from pipeline.config import Era
from pipeline.ingest.cells import distinct_texts, folded, plain
from pipeline.ingest.dates import month_words

YEARS_AHEAD = 10
"""A two-digit year is the latest year with these digits at most this many years after `as_of`."""

LONGEST_WINDOW_MONTHS = 12
"""No production window is longer (common practice): it distinguishes month, year from year, month."""

UNREADABLE, BACKWARDS, FUTURE = "stamp unreadable", "stamp runs backwards", "stamp in the future"

MONTH_NAME = r"(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]{0,6}\.?"
YEAR = r"(?:(?:19|20)\d\d|\d\d)"
TO = r"(?: ?(?:-|to|until) ?| )"
CODE = r"(?:[a-z]{1,3}-?\d{0,3}|\d[a-z]{1,3})"
MONTHS: dict[str, tuple[str, str, str]] = {
    "slashed": (r"\d{1,2}", r" ?[/.] ?", YEAR),
    "named": (MONTH_NAME, r"[ .]?'?", YEAR),
    "spaced": (r"\d\d", " ", r"\d\d"),
    "run together": (r"\d\d", "", r"\d\d"),
}
"""Each form as the patterns of its first part, what stands between, and its second part."""

_EMPTY = r"^(?:|-+|n\.?\s?/?\s?a\.?|null|none|\?+|unknown|no(?: stamp)?)$"
_LABEL_WORDS = r"\b(?:inside|label|labels|stamp|stamped|production|made|dated|date|reads|factory|code)\b"


def read_stamps(texts: pl.Series, *, as_of: date) -> pl.DataFrame:
    """Read production stamps.

    Returns one row per distinct non-null text: stamp_text String (verbatim), stamp_from Date and stamp_to
    Date (first day of the first and of the last month), factory_code String (capitals), production_year
    Int32 (the year in which the window ends), flag String (a stamp flag of schema.FLAGS, or null). With a slash
    or a name the month comes first, unless only the other order gives months. Without one, the order that gives
    months and a window of at most LONGEST_WINDOW_MONTHS is taken; where both do or neither does, the stamp
    is unreadable. A window that runs backwards keeps its months but has no year. An empty cell has no flag.
    """
    cells = distinct_texts(texts, "stamp_text").with_columns(
        _plain=folded(plain(pl.col("stamp_text")))
        .str.replace_all(_LABEL_WORDS, " ")
        .str.replace_all(r"[:;,|()\s]+", " ")
        .str.strip_chars(" -/")
    )
    parts = pl.concat([_parts_of(cells, form) for form in MONTHS]).unique(
        "stamp_text", keep="first", maintain_order=True
    )
    for order, (month, year) in {"my": ("a", "b"), "ym": ("b", "a")}.items():
        parts = parts.with_columns(
            _first_day(f"{month}1", f"{year}1", as_of).alias(f"from_{order}"),
            _first_day(f"{month}2", f"{year}2", as_of).alias(f"to_{order}"),
        )
    chosen = parts.with_columns(_order=_chosen_order()).select(
        "stamp_text",
        stamp_from=_by_order("from"),
        stamp_to=_by_order("to"),
        factory_code=pl.coalesce("code_before", "code_after").str.to_uppercase(),
    )
    read = cells.join(chosen, on="stamp_text", how="left", maintain_order="left")
    backwards = pl.col("stamp_from") > pl.col("stamp_to")
    flag = (
        pl.when(pl.col("_plain").str.contains(_EMPTY))
        .then(None)
        .when(pl.col("stamp_to").is_null())
        .then(pl.lit(UNREADABLE))
        .when(backwards)
        .then(pl.lit(BACKWARDS))
        .when(pl.col("stamp_from") > as_of)
        .then(pl.lit(FUTURE))
    )
    readable = pl.col("stamp_to").is_not_null()
    return read.select(
        "stamp_text",
        stamp_from=pl.when(readable).then("stamp_from"),
        stamp_to="stamp_to",
        factory_code=pl.when(readable).then("factory_code"),
        production_year=pl.when(~backwards).then(pl.col("stamp_to").dt.year()),
        flag=flag,
    )


def era_of_year(year: int | None, eras: Iterable[Era]) -> str | None:
    """Return the name of the era that holds a production year; None where none or several do."""
    holding = [
        era.name
        for era in eras
        if year is not None and era.first_year <= year and (era.last_year is None or year <= era.last_year)
    ]
    return holding[0] if len(holding) == 1 else None


def eras_of_years(years: pl.Series, eras: Iterable[Era]) -> pl.Series:
    """Return the era's name of each production year, row by row; equal to `era_of_year`."""
    distinct = years.drop_nulls().unique().sort().to_list()
    known = tuple(eras)
    names = {year: era_of_year(year, known) for year in distinct}
    return years.replace_strict(names, default=None, return_dtype=pl.String).alias("era")


def month_pattern(form: str) -> str:
    """Return the pattern of one month in a form, without capturing groups."""
    first, between, second = MONTHS[form]
    return f"{first}{between}{second}"


def _parts_of(cells: pl.DataFrame, form: str) -> pl.DataFrame:
    """Return stamp_text, form, code_before, a1, b1, a2, b2, code_after of the stamps in a form.

    a is what stands first in a month as written, b what stands second; a single month stands for both.
    """
    first, between, second = MONTHS[form]
    pattern = (
        rf"^(?:(?<code_before>{CODE})[ /-]+)?(?<a1>{first}){between}(?<b1>{second})"
        rf"(?:{TO}(?<a2>{first}){between}(?<b2>{second}))?(?:[ /-]+(?<code_after>{CODE}))?$"
    )
    months = {word: f"{number}" for word, number in month_words("en").items()}
    named = pl.col("^[ab][12]$").str.strip_chars(".").replace(months)
    is_month = pl.coalesce("code_before", "code_after").is_in(list(months)).fill_null(value=False)
    return (
        cells.select("stamp_text", _groups=pl.col("_plain").str.extract_groups(pattern))
        .unnest("_groups")
        .filter(pl.col("a1").is_not_null(), ~is_month)
        .with_columns(named)
        .with_columns(form=pl.lit(form), a2=pl.coalesce("a2", "a1"), b2=pl.coalesce("b2", "b1"))
    )


def _first_day(month: str, year: str, as_of: date) -> pl.Expr:
    """Return the first day of a month, null where there is no such month."""
    number = pl.col(year).cast(pl.Int32, strict=False)
    latest = as_of.year + YEARS_AHEAD
    full = pl.when(number >= 1000).then(number).otherwise(latest - (latest - number) % 100)
    return pl.format("{}-{}-01", full, pl.col(month).str.zfill(2)).str.to_date("%Y-%m-%d", strict=False)


def _chosen_order() -> pl.Expr:
    """Return "my" or "ym", null where the stamp leaves it open."""
    possible = {
        order: pl.col(f"to_{order}").is_not_null() & pl.col(f"from_{order}").is_not_null()
        for order in ("my", "ym")
    }
    both = possible["my"] & possible["ym"]
    single = (pl.col("a1") == pl.col("a2")) & (pl.col("b1") == pl.col("b2"))
    same = (pl.col("from_my") == pl.col("from_ym")) & (pl.col("to_my") == pl.col("to_ym"))
    short = {
        order: (pl.col(f"to_{order}") >= pl.col(f"from_{order}"))
        & (pl.col(f"to_{order}") <= pl.col(f"from_{order}").dt.offset_by(f"{LONGEST_WINDOW_MONTHS - 1}mo"))
        for order in ("my", "ym")
    }
    month_first = pl.col("form").is_in(["slashed", "named"])
    return (
        pl.when(both & month_first)
        .then(pl.lit("my"))
        .when(both & same)
        .then(pl.lit("my"))
        .when(both & ~single & short["my"] & ~short["ym"])
        .then(pl.lit("my"))
        .when(both & ~single & short["ym"] & ~short["my"])
        .then(pl.lit("ym"))
        .when(possible["my"] & ~possible["ym"])
        .then(pl.lit("my"))
        .when(possible["ym"] & ~possible["my"])
        .then(pl.lit("ym"))
    )


def _by_order(side: str) -> pl.Expr:
    """Return the first day of that side of the window, in the order chosen."""
    return (
        pl.when(pl.col("_order") == "my").then(f"{side}_my").when(pl.col("_order") == "ym").then(f"{side}_ym")
    )
