"""Days as exports write them."""

from datetime import date
from functools import cache

import polars as pl
import pytest
from babel import Locale
from babel.dates import format_date
from babel.localedata import locale_identifiers

from pipeline.errors import MarketFileError
from pipeline.ingest.dates import Order, decide_date_order, read_dates


def read_one(text: str, order: Order = "dmy", language: str = "en") -> tuple[date | None, str | None]:
    """Return day and reason of one cell."""
    day, reason = read_dates(pl.Series([text]), order=order, language=language).select("day", "reason").row(0)
    return day, reason


@pytest.mark.parametrize(
    ("text", "order"),
    [
        ("04.03.2021", "dmy"),
        ("4/3/21", "dmy"),
        ("4-3-2021", "dmy"),
        ("03/04/2021", "mdy"),
        ("2021-03-04", "dmy"),
        ("2021/3/4", "mdy"),
        ("21.03.04", "ymd"),
        ("20210304", "dmy"),
        ("2021-03-04T23:30:00Z", "dmy"),
        ("2021-03-04 00:30:00+09:00", "ymd"),
        ("04.03.2021 14:30", "dmy"),
        ("03/04/2021 2:05 PM", "mdy"),
        ("44259", "dmy"),
        ("44259.75", "mdy"),
        ("4 March 2021", "mdy"),
        ("March 4, 2021", "dmy"),
        ("4th Mar 21", "dmy"),
        ("Thu, 4 Mar 2021", "dmy"),
        ("4-Mar-2021", "ymd"),
        ("2021年3月4日", "dmy"),
        ("２０２１年３月４日", "mdy"),
        ("2021년 3월 4일", "dmy"),
    ],
)
def test_a_day_is_read_however_it_is_written(text: str, order: Order) -> None:
    assert read_one(text, order) == (date(2021, 3, 4), None)


@pytest.mark.parametrize(
    ("text", "language"),
    [
        ("4. März 2021", "de"),
        ("Donnerstag, 4. Mrz. 2021", "de"),
        ("4 mars 2021", "fr"),
        ("jeudi 4 mars 2021", "fr"),
        ("4 de marzo de 2021", "es"),
        ("4 marzo 2021", "it"),
        ("4 mrt. 2021", "nl"),
        ("4 marca 2021", "pl"),
        ("4 de março de 2021", "pt_BR"),
        ("4 марта 2021 г.", "ru"),
        ("4 Μαρτίου 2021", "el"),
        ("2021. március 4.", "hu"),
        ("4. března 2021", "cs"),
        ("2021年3月4日(木)", "ja"),
    ],
)
def test_months_are_read_in_the_language_of_the_export(text: str, language: str) -> None:
    assert read_one(text, "dmy", language) == (date(2021, 3, 4), None)


@pytest.mark.parametrize(
    ("text", "year"), [("1/1/00", 2000), ("1/1/68", 2068), ("1/1/69", 1969), ("1/1/99", 1999)]
)
def test_a_year_of_two_digits_turns_at_sixty_nine(text: str, year: int) -> None:
    assert read_one(text) == (date(year, 1, 1), None)


@pytest.mark.parametrize(
    ("text", "serial_day"),
    [("10000", date(1927, 5, 18)), ("36526", date(2000, 1, 1)), ("73050", date(2099, 12, 31))],
)
def test_a_spreadsheet_serial_counts_from_1900(text: str, serial_day: date) -> None:
    assert read_one(text) == (serial_day, None)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("31/02/2021", "no such day: day 31 of month 02 of 2021"),
        ("29.02.2021", "no such day"),
        ("03/25/2021", "no month 25, in the order day-month-year"),
        ("99999", "serial outside"),
        ("May 2021", "not a date"),
        ("2021", "not a date"),
        ("yesterday", "not a date"),
        ("4/3-2021", "not a date"),
        ("04.03.021", "not a year"),
        ("31 February 2021", "no such day"),
    ],
)
def test_an_impossible_day_says_why(text: str, reason: str) -> None:
    day, why = read_one(text)
    assert day is None
    assert reason in str(why)


@pytest.mark.parametrize("text", ["", "-", "n/a", "null", "TBD"])
def test_an_empty_cell_is_no_fault(text: str) -> None:
    assert read_one(text) == (None, None)


def test_a_leap_day_exists_in_a_leap_year() -> None:
    assert read_one("29.02.2020") == (date(2020, 2, 29), None)


def test_an_unknown_language_is_refused() -> None:
    with pytest.raises(MarketFileError, match="'xx_nope', which is no known language"):
        read_one("4 mars 2021", "dmy", "xx_nope")


def test_no_cells_give_no_days() -> None:
    assert read_dates(pl.Series([None], dtype=pl.String), order="dmy").is_empty()


@pytest.mark.parametrize(
    ("texts", "value"),
    [
        (["03/04/21", "05/06/21", "11/12/21"], None),
        (["13/04/2021", "05/06/2021"], "dmy"),
        (["04/13/2021", "05/06/2021"], "mdy"),
        (["13/04/2021", "04/13/2021"], None),
        (["99/03/04"], "ymd"),
        (["21/03/04"], None),
        (["2021-03-04"], "ymd"),
        (["4 March 2021"], "ymd"),
        (["soon"], None),
        ([], None),
    ],
)
def test_the_order_is_decided_by_the_whole_column(texts: list[str], value: str | None) -> None:
    assert decide_date_order(pl.Series(texts, dtype=pl.String)).value == value


def test_where_years_have_two_digits_the_days_are_the_part_that_varies() -> None:
    texts = [f"{day:02}/{1 + day % 12:02}/{18 + day % 4}" for day in range(1, 31)]
    assert decide_date_order(pl.Series(texts)).value == "dmy"


def test_an_ambiguous_column_is_said_to_be_ambiguous() -> None:
    assert decide_date_order(pl.Series(["03/04/21"])).why.startswith(
        "ambiguous: day-month-year and month-day-year"
    )


def test_one_misprint_does_not_undo_the_order() -> None:
    texts = [f"{day:02}.01.2021" for day in range(1, 31)] + ["31.02.2021"]
    assert decide_date_order(pl.Series(texts)).value == "dmy"


def _long_days(locale: str) -> dict[str, date]:
    """Return the fourteenth of each month as a locale's own long format writes it."""
    return {
        format_date(day, "long", locale=locale): day
        for day in (date(2021, month, 14) for month in range(1, 13))
    }


@cache
def _read_of(language: str) -> tuple[tuple[date, date | None, str | None], ...]:
    written = _long_days(language)
    read = read_dates(pl.Series(list(written)), order="dmy", language=language)
    return tuple((written[text], day, reason) for text, day, reason in read.iter_rows())


LANGUAGES = sorted({name.split("_")[0] for name in locale_identifiers()})


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_language_of_the_world_is_read_aright_or_not_at_all(language: str) -> None:
    for locale in sorted(name for name in locale_identifiers() if name.split("_")[0] == language):
        if _speaks_as(locale) != locale:
            continue
        for day, read, reason in _read_of(locale):
            assert (read, reason) == (day, None) or (read is None and reason), locale


@cache
def _first_speakers() -> dict[str, str]:
    """Return what a locale calls its months, weekdays and days → the first locale that calls them so."""
    speakers: dict[str, str] = {}
    for name in sorted(locale_identifiers()):
        speakers.setdefault(_calls(name), name)
    return speakers


def _calls(name: str) -> str:
    locale = Locale.parse(name)
    days = [
        sorted(each[width].items())
        for each in (*locale.months.values(), locale.days["format"])
        for width in ("wide", "abbreviated")
    ]
    return repr((days, list(_long_days(name))))


def _speaks_as(name: str) -> str:
    return _first_speakers()[_calls(name)]


OFTEN = "ca cs da de el en es et fa fi fr hi hr hu id it ja ko mr nb nl pl pt ro ru sk sl sr sv sw ta te tr uk vi zh"


@pytest.mark.parametrize("language", OFTEN.split())
def test_a_day_in_a_languages_own_long_form_comes_back(language: str) -> None:
    assert [(day, read) for day, read, _ in _read_of(language) if day != read] == []


def test_most_languages_of_the_world_read_back_what_they_write() -> None:
    whole = [name for name in LANGUAGES if all(day == read for day, read, _ in _read_of(name))]
    assert len(whole) > 240


@pytest.mark.parametrize("text", ["07.02.2022 r.", "07.02.2022 roku", "07.02.2022 г."])
def test_a_word_for_the_year_behind_it_is_no_part_of_a_day(text: str) -> None:
    assert read_dates(pl.Series([text]), order="dmy")["day"].item() == date(2022, 2, 7)


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("令和4年2月3日", date(2022, 2, 3)),
        ("令和元年5月1日", date(2019, 5, 1)),
        ("平成31年4月30日", date(2019, 4, 30)),
        ("平成元年1月8日", date(1989, 1, 8)),
        ("昭和63年12月31日", date(1988, 12, 31)),
        ("R4.2.3", date(2022, 2, 3)),
        ("H30/01/05", date(2018, 1, 5)),
        ("S60-4-1", date(1985, 4, 1)),
        ("㋿4年2月3日", date(2022, 2, 3)),
    ],
)
def test_years_of_a_japanese_reign_are_read(text: str, day: date) -> None:
    """The first years: 昭和 1926, 平成 1989, 令和 2019 (from memory; Unicode CLDR, Japanese calendar)."""
    assert read_dates(pl.Series([text]), order="ymd", language="ja")["day"].to_list() == [day]


@pytest.mark.parametrize(
    ("text", "language"),
    [
        ("3 de febrero de 2022 11:31 hs.", "es"),
        ("3 de febrero de 2022 11:31 a. m.", "es"),
        ("3. Februar 2022, 14.30 Uhr", "de"),
        ("3. februar 2022 kl. 14.30", "da"),
        ("3. helmikuuta 2022 klo 14.30", "fi"),
        ("3 février 2022 à 14h", "fr"),
        ("3 февраля 2022 г. в 14:30 МСК", "ru"),
        ("3 февруари 2022 г. 11:31 ч.", "bg"),
        ("3 лютого 2022 р. о 14:30", "uk"),
        ("3 lutego 2022 r. godz. 14.30", "pl"),
        ("ngày 3 tháng 2 năm 2022 lúc 14:30", "vi"),
        ("2022. gada 3. februāris", "lv"),
        ("2022 m. vasario 3 d.", "lt"),
        ("3 de febrer del 2022", "ca"),
        ("3 בפברואר 2022", "he"),
        ("3 ก.พ. 2565 11:31 น.", "th"),
        ("๓ กุมภาพันธ์ พ.ศ. ๒๕๖๕", "th"),
        ("03/02/2022 (14:30 GMT+2)", "en"),
        ("2022-02-03 14:30 Europe/Berlin", "en"),
        ("\u200f03/02/2022\u200f", "he"),
        ("民國111年2月3日", "zh"),
    ],
)
def test_a_day_is_read_with_what_its_language_writes_around_it(text: str, language: str) -> None:
    read = read_dates(pl.Series([text]), order="dmy", language=language)

    assert read.row(0)[1:] == (date(2022, 2, 3), None)


def test_years_of_the_buddhist_era_are_read_where_a_column_has_no_others() -> None:
    read = read_dates(pl.Series(["03/02/2565", "2564-12-31"]), order="dmy")

    assert read["day"].to_list() == [date(2022, 2, 3), date(2021, 12, 31)]


@pytest.mark.parametrize("texts", [["03/02/2022", "04/02/2522"], ["2022-02-03", "2522-02-04", "2522-02-05"]])
def test_a_year_far_ahead_among_others_is_refused(texts: list[str]) -> None:
    read = read_dates(pl.Series(texts), order="dmy")

    assert "not a year" in str(read["reason"][-1])


def test_one_year_far_ahead_alone_is_refused() -> None:
    assert "not a year" in str(read_dates(pl.Series(["03/02/2522"]), order="dmy")["reason"][0])
