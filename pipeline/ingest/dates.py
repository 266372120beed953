"""Days as exports write them: numbers, ISO, spreadsheet serials, and months written in words."""

from collections.abc import Iterable
from datetime import date
from functools import cache
from typing import Literal

import polars as pl
from babel import Locale, UnknownLocaleError

from pipeline.errors import MarketFileError
from pipeline.ingest.cells import distinct_texts, each, folded, plain
from pipeline.ingest.column_choice import ColumnChoice

Order = Literal["dmy", "mdy", "ymd"]
ORDER_NAMES: dict[Order, str] = {"dmy": "day-month-year", "mdy": "month-day-year", "ymd": "year-month-day"}
ORDERS: tuple[Order, ...] = tuple(ORDER_NAMES)

_EMPTY = r"(?i)^(?:|-+|n\.?\s?/?\s?a\.?|null|none|nan|nat|tbd|tba)$"
_BEFORE_TIME = (
    r"(?:at|um|à|a las?|às?|alle(?: ore)?|ore|om|kl\.?|klo\.?|klokken|(?:o )?godz\.?|o|о|об|в|у|u|v|saat"
    r"|ora|ώρα|lúc|เวลา)"
)
_AFTER_TIME = r"(?:uhr|uur|h(?:s|rs?|od)?\b\.?|hodin|ч(?:ас(?:а|ов)?)?\b\.?|год\b\.?|น\.|giờ|óra|o'clock)"
"""What stands before and after a time of day in the languages of exports, without meaning anything else there."""

_CLOCK = (
    rf"(?i)(?:[ ,]+\(?|\dT| - )(?:{_BEFORE_TIME} )?(?P<hour>\d{{1,2}})\s?[:h]\s?(?P<minute>\d{{2}})"
    r"(?::\d{2}(?:\.\d+)?)?\s*(?:(?P<half>[ap])\.?\s?m\b)?"
)
"""The clock in what _TIME drops: hour, minute, and the half of a day of twelve hours."""

_TIME = (
    rf"(?i)(?:[ ,]+\(?|T| - )(?:(?:{_BEFORE_TIME} )?(?:\d{{1,2}}\s?[:h]\s?\d{{2}}(?::\d{{2}}(?:\.\d+)?)?"
    rf"\s*(?:[ap]\.?\s?m\.?|{_AFTER_TIME})?|\d{{1,2}}(?:\.\d{{2}})?\s?{_AFTER_TIME})"
    rf"|{_BEFORE_TIME} \d{{1,2}}\.\d{{2}})"
    r"\s*\(?(?:z|(?:utc|gmt)?[+-]\d{1,2}(?::?\d{2})?|\p{L}{3,4}|[a-z]+/[a-z_]+)?\)?$"
)
"""A time of day at the end of a cell, with what stands around it and its zone."""

_YEAR_WORD = r"(?i)(\d)\.? (?:r|г|roku|года|година|р|року|g|god|godine|m|gada)\.?$"
"""The word for a year that stands behind it (07.02.2022 r.); what is left is the day."""

_ISO = r"^\d{4}-\d{2}-\d{2}(?:[T ]\d{2}:\d{2}(?::\d{2}(?:\.\d{1,9})?)?(?:Z|[+-]\d{2}:?\d{2})?)?$"
_NUMERIC = r"^(\d{1,4})\s?([./-])\s?(\d{1,2})\s?([./-])\s?(\d{1,4})\.?$"
_IDEOGRAPHIC = r"^(\d{2,4})\s?[年년]\s?(\d{1,2})\s?[月월]\s?(\d{1,2})\s?[日일]"
_OF_REIGN = (
    r"(?i)^(昭和|平成|令和|[shr]|中[華华]民[國国]|民[國国])\s?(\d{1,3}|元)\s?[年./-]"
    r"\s?(\d{1,2})\s?[月./-]\s?(\d{1,2})(?:\s?日|$)"
)
_REIGNS: dict[str, int] = {"昭和": 1925, "平成": 1988, "令和": 2018, "s": 1925, "h": 1988, "r": 2018}
_REIGNS |= dict.fromkeys(("民國", "民国", "中華民國", "中华民国"), 1911)
"""The years before the first of each Japanese reign (昭和 1926, 平成 1989, 令和 2019), by name and letter, and before
the first of the Republic in Taiwan (1912)."""

_BUDDHIST_ERA = 543
"""A year of the Buddhist era, by which Thailand counts, less the same year of the common era."""

_FILLERS = (
    r"\b(?:st|nd|rd|th|er|ère|the|of|de|del|den|der|do|di|da|du|dne|le|el|am"
    r"|г|р|m|d|gada|ngay|nam)\b|[º°ª]|พ\.ศ\.?|ค\.ศ\.?"
)
_TWO_NUMBERS = r"\d\D+\d"
"""What every day in words holds, in any language."""

_THREE_NUMBERS = r"\d\s?[./-]\s?\d{1,2}\s?[./-]\s?\d"
"""What every day holds that depends on the order of day and month."""

_NO_DATE = "not a date"
_FIRST_SERIAL, _LAST_SERIAL = 10_000, 73_050
_LAST_YEAR_OF_PIVOT = 68
_ALSO_MONTHS = {"en": {"sept": 9}, "de": {"mrz": 3, "maerz": 3, "janner": 1}}
_MIXED_SHARE = 0.9


def read_dates(texts: pl.Series, *, order: Order, language: str = "en") -> pl.DataFrame:
    """Read days.

    Takes cells as text, the column's order of day, month and year, and the language (a CLDR locale, such
    as "de") of months in words; English months are always understood. Returns one row per distinct
    non-null text: text, day Date, reason String. An empty cell has neither day nor reason.

    A four-digit year in front is read year-month-day whatever the order. A two-digit year from 00 to 68 is
    20xx, from 69 to 99 it is 19xx (the rule of POSIX strptime). A time of day and a zone are dropped: the
    day is the one that was written, in the venue's own zone. A bare number of five digits is a spreadsheet
    serial (1900 system, from 10000 = 1927-05-18 to 73050 = 2099-12-31). Years of a Japanese reign are read
    (令和4年2月3日, R4.2.3, 平成元年), and of the Republic in Taiwan (民國111年2月3日). Where all years of at least two
    cells, or of a column in Thai, lie from 2443 to 2643, they are of the Buddhist era (2565 is 2022). Raises
    MarketFileError for a language that is not known.
    """
    _locale(language)
    distinct = distinct_texts(texts, "text").with_columns(
        day=pl.when(pl.col("text").str.contains(_ISO)).then(
            pl.col("text").str.slice(0, 10).str.to_date("%Y-%m-%d", strict=False)
        )
    )
    usual = pl.col("day").is_between(date(1900, 1, 1), date(2100, 12, 31)).fill_null(value=False)
    plainly = distinct.filter(usual).with_columns(reason=pl.lit(None, dtype=pl.String))
    if plainly.height == distinct.height:
        return plainly
    unusual = distinct.filter(~usual).select("text", _plain=plain(pl.col("text")))
    has_digit = pl.col("_plain").str.contains(r"\d")
    no_days = unusual.filter(~has_digit).select(
        "text",
        day=pl.lit(None, dtype=pl.Date),
        reason=pl.when(~pl.col("_plain").str.contains(_EMPTY)).then(pl.lit(_NO_DATE)),
    )
    parts = [plainly, no_days]
    if no_days.height < unusual.height:
        buddhist = plainly.is_empty()
        parts.append(_read_unusual(unusual.filter(has_digit), order, language, may_be_buddhist=buddhist))
    return distinct.select("text").join(pl.concat(parts), on="text", how="left", maintain_order="left")


def read_in_each_order(texts: pl.Series, *, language: str = "en") -> dict[Order, pl.Series]:
    """Return for each order the days that `read_dates` reads of the distinct texts, null where it reads none."""
    first = read_dates(texts, order=ORDERS[0], language=language)
    if not first.select(plain(pl.col("text")).str.contains(_THREE_NUMBERS)).to_series().any():
        return dict.fromkeys(ORDERS, first["day"])
    others = {order: read_dates(texts, order=order, language=language)["day"] for order in ORDERS[1:]}
    return {ORDERS[0]: first["day"], **others}


def language_of_days(texts: pl.Series, languages: Iterable[str]) -> str:
    """Return the language in which the most texts read as days; English where it makes no difference."""
    read = read_dates(texts, order="dmy")
    unread = read.filter(pl.col("day").is_null() & pl.col("text").str.contains(_TWO_NUMBERS))["text"]
    if unread.is_empty():
        return "en"
    letters = " ".join(each(unread, lambda text: folded(plain(text))))
    known = {*month_words("en"), *_weekday_words("en")}
    days = {"en": int(read["day"].count())}
    for language in languages:
        words = {*month_words(language), *_weekday_words(language)} - known
        if any(word in letters for word in words):
            days[language] = int(read_dates(texts, order="dmy", language=language)["day"].count())
    return max(days, key=lambda language: (days[language], language == "en"))


def read_times(texts: pl.Series) -> pl.Series:
    """Return the time of day beside a day ("3 May 2026, 7.30 pm" has none, "2026-05-03 19:30" has) as "19:30".

    Null where a cell has none; midnight is none either, since that is how a day alone is often written.
    """
    found = plain(pl.col("text")).str.extract_groups(_CLOCK)
    hour, minute, half = (found.struct.field(name) for name in ("hour", "minute", "half"))
    hours = hour.cast(pl.Int64)
    moved = hours % 12 + pl.when(half.str.to_lowercase() == "p").then(12).otherwise(0)
    read = distinct_texts(texts, "text").with_columns(
        hours=pl.when(half.is_null()).then(hours).otherwise(moved), minutes=minute.cast(pl.Int64)
    )
    is_time = (pl.col("hours") < 24) & (pl.col("minutes") < 60) & (pl.col("hours") + pl.col("minutes") > 0)
    times = read.select(
        "text",
        time=pl.when(is_time).then(
            pl.format("{}:{}", *(pl.col(part).cast(pl.String).str.zfill(2) for part in ("hours", "minutes")))
        ),
    )
    return texts.to_frame("text").join(times, on="text", how="left", maintain_order="left")["time"]


def decide_date_order(texts: pl.Series) -> ColumnChoice:
    """Say in which order a whole column writes day, month and year: "dmy", "mdy", "ymd", or undecided.

    An order is possible for a cell when it gives a day that exists. The order is decided when it reads at
    least nine cells in ten and no other order reads as many. Where day-month-year and year-month-day with
    two-digit years read as many, the part with at least twice as many different values is the day. ISO
    days, serials and months in words read the same in any order: a column of nothing else is "ymd".
    """
    cells = distinct_texts(texts, "text").with_columns(
        _day_text=plain(pl.col("text"))
        .str.replace(_TIME, "")
        .str.replace(_YEAR_WORD, "$1")
        .str.strip_chars(" ,")
    )
    open_cells = cells.filter(
        pl.col("_day_text").str.contains(_NUMERIC) & ~pl.col("_day_text").str.contains(r"^\d{4}\D")
    )
    if open_cells.is_empty():
        if cells["_day_text"].str.contains(r"\d").any():
            return ColumnChoice.counted(
                "ymd", cells.height, cells.height, "no cell depends on the order of day and month"
            )
        return ColumnChoice.undecided("no cell holds a date")
    readings = {order: days.is_not_null() for order, days in read_in_each_order(open_cells["text"]).items()}
    counts = {order: int(reads.sum()) for order, reads in readings.items()}
    most = max(counts.values())
    best = [order for order in ORDERS if counts[order] == most]
    example = open_cells["text"][0]
    if most < _MIXED_SHARE * open_cells.height:
        return ColumnChoice.undecided(
            f"no one order reads the column; the best reads {most} of {open_cells.height} cells"
        )
    if set(best) == {"dmy", "ymd"} and (spread := _decide_by_spread(open_cells)).value is not None:
        return spread
    if len(best) > 1:
        return ColumnChoice.undecided(
            f"ambiguous: {' and '.join(ORDER_NAMES[order] for order in best)} both read every cell, such as {example!r}"
        )
    others = ~pl.select(
        pl.any_horizontal(*(readings[order] for order in ORDERS if order != best[0]))
    ).to_series()
    decisive = open_cells.filter(readings[best[0]] & others)
    shown = decisive["text"][0] if decisive.height else example
    return ColumnChoice.counted(
        best[0], max(decisive.height, 1), max(decisive.height, 1) + open_cells.height - most,
        f"{decisive.height} of {open_cells.height} cells can only be {ORDER_NAMES[best[0]]}, such as {shown!r}",
    )  # fmt: skip


def _read_unusual(
    distinct: pl.DataFrame, order: Order, language: str, *, may_be_buddhist: bool
) -> pl.DataFrame:
    """Return what `read_dates` does, of cells (text, _plain) that are no plain ISO days."""
    cells = distinct.with_columns(_empty=pl.col("_plain").str.contains(_EMPTY)).with_columns(
        _day_text=pl.col("_plain").str.replace(_TIME, "").str.replace(_YEAR_WORD, "$1").str.strip_chars(" ,")
    )
    parts = pl.concat(
        [_worded(cells, language), _numeric(cells, order), _compact(cells)], how="vertical"
    ).unique("text", keep="first", maintain_order=True)
    if may_be_buddhist:
        parts = _of_common_era(parts, language)
    dated = (
        cells.join(parts, on="text", how="left", maintain_order="left")
        .join(_serials(cells), on="text", how="left", maintain_order="left")
        .with_columns(_year=_full_year("_y"))
        .with_columns(
            day=pl.coalesce(
                "_serial_day",
                pl.format(
                    "{}-{}-{}", pl.col("_year"), pl.col("_m").str.zfill(2), pl.col("_d").str.zfill(2)
                ).str.to_date("%Y-%m-%d", strict=False),
            )
        )
    )
    reason = pl.when(~pl.col("_empty") & pl.col("day").is_null()).then(_fault(order))
    return dated.select("text", day=pl.when(~pl.col("_empty")).then("day"), reason=reason)


def _of_common_era(parts: pl.DataFrame, language: str) -> pl.DataFrame:
    """Return the parts of days with years of the common era, where all of them are of the Buddhist one."""
    year = parts["_y"].cast(pl.Int32, strict=False)
    enough = parts.height > 1 or (parts.height == 1 and _locale(language).language == "th")
    if not enough or not year.is_between(1900 + _BUDDHIST_ERA, 2100 + _BUDDHIST_ERA).all():
        return parts
    return parts.with_columns(_y=(year - _BUDDHIST_ERA).cast(pl.String))


@cache
def month_words(language: str) -> dict[str, int]:
    """Return the folded names and abbreviations of the months in a language and in English → 1 to 12.

    Source: Unicode CLDR through babel. A word that means two months in the two languages keeps the
    language's own meaning. Raises MarketFileError for a language that babel does not know.
    """
    locales = (Locale("en"), _locale(language))
    names = [
        (name, number)
        for locale in locales
        for context in ("stand-alone", "format")
        for width in ("wide", "abbreviated")
        for number, name in locale.months[context][width].items()
    ]
    words = _fold_words(name for name, _ in names)
    named = {
        word: number for word, (_, number) in zip(words, names, strict=True) if word and not word.isdigit()
    }
    also = {
        word: month for locale in locales for word, month in _ALSO_MONTHS.get(locale.language, {}).items()
    }
    in_hebrew = {f"ב{word}": number for word, number in named.items() if _locale(language).language == "he"}
    return also | named | in_hebrew


@cache
def _weekday_words(language: str) -> list[str]:
    """Return the folded names and abbreviations of the weekdays in a language and in English."""
    words = _fold_words(
        name
        for locale in (Locale("en"), _locale(language))
        for width in ("wide", "abbreviated")
        for name in locale.days["format"][width].values()
    )
    return sorted({word for word in words if len(word) > 1}, key=len, reverse=True)


def _locale(language: str) -> Locale:
    """Return babel's locale of a language."""
    try:
        return Locale.parse(language, sep="-" if "-" in language else "_")
    except (UnknownLocaleError, ValueError) as exc:
        raise MarketFileError(
            f"`language` is {language!r}, which is no known language",
            "write a code such as en, de, fr, it, es, nl, pl or ja.",
        ) from exc


def _fold_words(names: Iterable[str]) -> list[str]:
    """Return names as `folded` gives them, without full stops at their ends."""
    return [word.strip(" .") for word in each(names, lambda text: folded(plain(text)))]


def _worded(cells: pl.DataFrame, language: str) -> pl.DataFrame:
    """Return text, _y, _m, _d of the cells that write the month in words (or with 年月日, or years of a reign)."""
    of_reign = (
        cells.with_columns(_parts=pl.col("_day_text").str.extract_groups(_OF_REIGN))
        .unnest("_parts")
        .filter(pl.col("1").is_not_null())
        .select(
            "text",
            _y=(
                pl.col("1").str.to_lowercase().replace_strict(_REIGNS, return_dtype=pl.Int64)
                + pl.col("2").replace("元", "1").cast(pl.Int64)
            ).cast(pl.String),
            _m="3",
            _d="4",
        )
    )
    ideographic = (
        cells.with_columns(_parts=pl.col("_day_text").str.extract_groups(_IDEOGRAPHIC))
        .unnest("_parts")
        .filter(pl.col("1").is_not_null())
        .select("text", _y="1", _m="2", _d="3")
    )
    months = month_words(language)
    words = sorted(months, key=len, reverse=True)
    named = cells.filter(pl.col("_day_text").str.contains(r"\p{L}")).with_columns(
        _folded=folded(pl.col("_day_text"))
        .str.replace_all(r"(\d)(\p{L})", "$1 $2")
        .str.replace_all(r"(\p{L}\.?)(\d)", "$1 $2")
    )
    month = rf"(?:^|[^\p{{L}}])({'|'.join(pl.escape_regex(word) for word in words)})(?:$|[^\p{{L}}])"
    weekday = rf"\b(?:{'|'.join(pl.escape_regex(word) for word in _weekday_words(language))})\b\.?"
    rest = (
        pl.col("_folded")
        .str.replace(month, " # ")
        .str.replace_all(weekday, " ")
        .str.replace_all(_FILLERS, " ")
        .str.replace_all(r"[ .,/'’-]+", " ")
        .str.strip_chars()
    )
    return pl.concat(
        [
            of_reign,
            ideographic,
            named.with_columns(
                _month=pl.col("_folded")
                .str.extract(month)
                .replace_strict(months, default=None, return_dtype=pl.Int64),
                _rest=rest,
            )
            .filter(pl.col("_month").is_not_null())
            .with_columns(
                _a=pl.col("_rest").str.extract_groups(r"^(?<d>\d{1,2}) # (?<y>\d{4}|\d{2})$"),
                _b=pl.col("_rest").str.extract_groups(r"^# (?<d>\d{1,2}) (?<y>\d{4}|\d{2})$"),
                _c=pl.col("_rest").str.extract_groups(r"^(?<y>\d{4}) # (?<d>\d{1,2})$"),
                _d=pl.col("_rest").str.extract_groups(r"^(?<y>\d{4}) (?<d>\d{1,2}) #$"),
            )
            .select(
                "text",
                _y=pl.coalesce(*(pl.col(form).struct.field("y") for form in ("_a", "_b", "_c", "_d"))),
                _m=pl.col("_month").cast(pl.String),
                _d=pl.coalesce(*(pl.col(form).struct.field("d") for form in ("_a", "_b", "_c", "_d"))),
            )
            .filter(pl.col("_y").is_not_null()),
        ]
    )


def _numeric(cells: pl.DataFrame, order: Order) -> pl.DataFrame:
    """Return text, _y, _m, _d of the cells of three numbers separated by one and the same mark."""
    parted = (
        cells.select("text", _parts=pl.col("_day_text").str.extract_groups(_NUMERIC))
        .unnest("_parts")
        .filter(pl.col("1").is_not_null(), pl.col("2") == pl.col("4"))
    )
    year_first = (pl.col("1").str.len_chars() == 4) | pl.lit(order == "ymd")
    day, month = ("3", "1") if order == "mdy" else ("1", "3")
    return parted.select(
        "text",
        _y=pl.when(year_first).then("1").otherwise("5"),
        _m=pl.when(year_first).then("3").otherwise(month),
        _d=pl.when(year_first).then("5").otherwise(day),
    )


def _compact(cells: pl.DataFrame) -> pl.DataFrame:
    """Return text, _y, _m, _d of the cells of eight digits, year first."""
    return (
        cells.select(
            "text", _parts=pl.col("_day_text").str.extract_groups(r"^((?:19|20)\d{2})(\d{2})(\d{2})$")
        )
        .unnest("_parts")
        .filter(pl.col("1").is_not_null())
        .select("text", _y="1", _m="2", _d="3")
    )


def _serials(cells: pl.DataFrame) -> pl.DataFrame:
    """Return text, _serial_day of the cells that are spreadsheet serials (day 1 = 1900-01-01)."""
    serial = pl.col("_plain").str.extract(r"^(\d{5})(?:[.,]\d+)?$").cast(pl.Int32, strict=False)
    return cells.select(
        "text",
        _serial_day=pl.when(serial.is_between(_FIRST_SERIAL, _LAST_SERIAL)).then(
            (serial - 25_569).cast(pl.Date)
        ),
    ).drop_nulls()


def _full_year(column: str) -> pl.Expr:
    """Return a year of four digits within 1900 to 2100, from one of two or four; else null."""
    year = pl.col(column)
    short = year.str.len_chars() <= 2
    number = year.cast(pl.Int32, strict=False)
    full = (
        pl.when(short)
        .then(number + pl.when(number <= _LAST_YEAR_OF_PIVOT).then(2000).otherwise(1900))
        .otherwise(number)
    )
    return pl.when(full.is_between(1900, 2100) & (year.str.len_chars() != 3)).then(full.cast(pl.String))


def _fault(order: Order) -> pl.Expr:
    """Return why a cell with no day has none."""
    month = pl.col("_m").cast(pl.Int32, strict=False)
    return (
        pl.when(pl.col("_plain").str.contains(r"^\d{5}(?:[.,]\d+)?$"))
        .then(pl.lit("a spreadsheet serial outside the years 1927 to 2099"))
        .when(pl.col("_m").is_null())
        .then(pl.lit(_NO_DATE))
        .when(pl.col("_year").is_null())
        .then(pl.lit(f"not a year from 1900 to 2100, in the order {ORDER_NAMES[order]}"))
        .when(~month.is_between(1, 12))
        .then(pl.format("no month {}, in the order " + ORDER_NAMES[order], pl.col("_m")))
        .otherwise(pl.format("no such day: day {} of month {} of {}", "_d", "_m", "_year"))
    )


def _decide_by_spread(cells: pl.DataFrame) -> ColumnChoice:
    """Decide for the order that puts the day where at least twice as many different values are."""
    parts = cells.select("text", _parts=pl.col("_day_text").str.extract_groups(_NUMERIC)).unnest("_parts")
    first, last = parts["1"].n_unique(), parts["5"].n_unique()
    more, fewer = max(first, last), min(first, last)
    if more < 2 * fewer:
        return ColumnChoice.undecided("neither part takes far more values than the other")
    why = f"the {'first' if first > last else 'last'} part takes {more} values, the other {fewer}: it is the day"
    return ColumnChoice(
        "dmy" if first > last else "ymd", more / (more + fewer + 1), f"{why}; such as {cells['text'][0]!r}"
    )
