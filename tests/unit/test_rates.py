"""Exchange rates: the last known one, the owner's own, and crosses through the euro."""

from datetime import date
from pathlib import Path

import polars as pl
import pytest

from pipeline.errors import ExportError
from pipeline.ingest.rates import RATE_COLUMNS, convert_rates, owner_rates, with_owner_rates

FRIDAY, SUNDAY, MONDAY = date(2024, 1, 5), date(2024, 1, 7), date(2024, 1, 8)


def rates(*rows: tuple[str, date, float]) -> pl.DataFrame:
    """Return rates from (currency, day, per_euro)."""
    return pl.DataFrame(rows, schema=RATE_COLUMNS, orient="row")


def converted(
    currency: str, day: date | None, known: pl.DataFrame, base: str
) -> tuple[float | None, date | None]:
    """Return rate and rate_on of one key."""
    keys = pl.DataFrame(
        {"currency": [currency], "day": [day]}, schema={"currency": pl.String, "day": pl.Date}
    )
    rate, rate_on = convert_rates(keys, known, base=base).select("rate", "rate_on").row(0)
    return rate, rate_on


def test_a_sunday_takes_fridays_rate_and_never_mondays() -> None:
    known = rates(("GBP", FRIDAY, 0.8), ("GBP", MONDAY, 0.9))
    assert converted("GBP", SUNDAY, known, "EUR") == (0.8, FRIDAY)


def test_before_the_first_rate_nothing_is_known() -> None:
    assert converted("GBP", SUNDAY, rates(("GBP", MONDAY, 0.9)), "EUR") == (None, None)


def test_an_unknown_currency_has_no_rate() -> None:
    assert converted("XXX", MONDAY, rates(("GBP", FRIDAY, 0.8)), "EUR") == (None, None)


def test_the_base_currency_is_one_on_any_day() -> None:
    assert converted("EUR", SUNDAY, rates(), "EUR") == (1.0, SUNDAY)
    assert converted("GBP", SUNDAY, rates(), "GBP") == (1.0, SUNDAY)


def test_a_cross_goes_through_the_euro_and_is_as_old_as_its_older_half() -> None:
    known = rates(("GBP", FRIDAY, 0.8), ("JPY", MONDAY, 160.0))
    assert converted("JPY", MONDAY, known, "GBP") == (pytest.approx(200.0), FRIDAY)


def test_without_a_day_there_is_no_rate() -> None:
    assert converted("GBP", None, rates(("GBP", FRIDAY, 0.8)), "EUR") == (None, None)


def test_the_owners_rates_replace_a_currency_whole() -> None:
    published = rates(("GBP", MONDAY, 0.9), ("JPY", MONDAY, 160.0))
    combined = with_owner_rates(published, rates(("GBP", FRIDAY, 0.7)))
    assert converted("GBP", MONDAY, combined, "EUR") == (0.7, FRIDAY)
    assert converted("JPY", MONDAY, combined, "EUR") == (160.0, MONDAY)


def written(tmp_path: Path, text: str) -> Path:
    """Return a rate file holding a text."""
    path = tmp_path / "rates.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_rate_file_is_read(tmp_path: Path) -> None:
    path = written(tmp_path, "currency,day,per_euro\ngbp , 2024-01-05,0.8\n")
    assert owner_rates(path).rows() == [("GBP", FRIDAY, 0.8)]


@pytest.mark.parametrize(
    ("lines", "fault"),
    [
        ("pounds,2024-01-05,0.8", "line 2: currency 'pounds'"),
        ("GBP,05.01.2024,0.8", r"line 2: day '05\.01\.2024'"),
        ("GBP,2024-01-05,0", "line 2: per_euro '0'"),
        ("GBP,2024-01-05,cheap", "line 2: per_euro 'cheap'"),
        ("GBP,2024-01-05,", "line 2: per_euro None"),
        ("GBP,2024-01-05,0.8\nGBP,2024-01-05,0.9", r"line 2: day '2024-01-05' .*1 more"),
    ],
)
def test_a_rate_that_cannot_be_is_named_with_its_line(tmp_path: Path, lines: str, fault: str) -> None:
    path = written(tmp_path, f"currency,day,per_euro\n{lines}\n")
    with pytest.raises(ExportError, match=fault):
        owner_rates(path)


def test_a_rate_file_without_its_columns_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ExportError, match="lacks the column 'per_euro'"):
        owner_rates(written(tmp_path, "currency,day\nGBP,2024-01-05\n"))


def test_a_rate_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(ExportError, match=r"there is no rate file .*nowhere\.csv"):
        owner_rates(tmp_path / "nowhere.csv")


def test_each_key_is_converted_once() -> None:
    keys = pl.DataFrame({"currency": ["GBP", "GBP"], "day": [FRIDAY, FRIDAY]})
    assert convert_rates(keys, rates(("GBP", FRIDAY, 0.8)), base="EUR").height == 1


COLUMNS = "write the columns currency,day,per_euro."


@pytest.mark.parametrize(
    ("text", "said", "remedy"),
    [
        ("currency,day\nGBP,2024-01-05\n", " lacks the column 'per_euro'; it has currency, day", COLUMNS),
        (
            "currency,day,per_euro\nGBP,2024-01-05,0.8\npounds,2024-01-08,0.9\nGBP,2024-01-09,0.9\n",
            ", line 3: currency 'pounds' cannot be read",
            "currencies are ISO 4217 codes, such as GBP.",
        ),
        (
            "currency,day,per_euro\n,2024-01-05,0.8\n",
            ", line 2: currency None cannot be read",
            "currencies are ISO 4217 codes, such as GBP.",
        ),
        (
            "currency,day,per_euro\nGBP,05.01.2024,0.8\n",
            ", line 2: day '05.01.2024' cannot be read",
            "days are written 2024-01-05.",
        ),
        (
            "currency,day,per_euro\nGBP,2024-01-05,inf\n",
            ", line 2: per_euro 'inf' cannot be read",
            "rates are units of the currency for one euro, above zero, with a decimal point.",
        ),
        (
            "currency,day,per_euro\nGBP,2024-01-05,0.8\nGBP,2024-01-05,0.9\nGBP,2024-01-05,0.7\n",
            ", line 2: day '2024-01-05' cannot be read (2 more such lines)",
            "give one rate for a currency and day.",
        ),
    ],
)
def test_a_rate_file_that_cannot_be_used_says_where_and_what_to_do(
    tmp_path: Path, text: str, said: str, remedy: str
) -> None:
    path = written(tmp_path, text)
    with pytest.raises(ExportError) as refused:
        owner_rates(path)
    assert str(refused.value) == f"{path}{said}\n{remedy}"


def test_a_missing_rate_file_is_mended_in_the_market_file(tmp_path: Path) -> None:
    with pytest.raises(ExportError) as refused:
        owner_rates(tmp_path / "nowhere.csv")
    assert refused.value.remedy == "correct `rates.file` in the market file."


def test_an_empty_rate_file_is_no_csv(tmp_path: Path) -> None:
    path = written(tmp_path, "")
    with pytest.raises(ExportError) as refused:
        owner_rates(path)
    assert refused.value.what.startswith(f"{path} is not a CSV: ")
    assert "empty" in refused.value.what
    assert refused.value.remedy == COLUMNS


def test_a_note_beside_the_rates_may_hold_any_byte(tmp_path: Path) -> None:
    path = tmp_path / "rates.csv"
    path.write_bytes("currency,day,per_euro,note\nGBP,2024-01-05,0.8,später\n".encode("cp1252"))
    assert owner_rates(path).rows() == [("GBP", FRIDAY, 0.8)]


def test_a_whole_number_is_a_rate_as_it_is_written(tmp_path: Path) -> None:
    path = written(
        tmp_path, "currency,day,per_euro\nJPY,2024-01-08, 160 \nGBP,2024-01-08,0.9\nGBP,2024-01-05,0.8\n"
    )
    assert owner_rates(path).rows() == [("GBP", FRIDAY, 0.8), ("GBP", MONDAY, 0.9), ("JPY", MONDAY, 160.0)]


def test_published_and_owners_rates_lie_in_order_of_currency_and_day() -> None:
    published = rates(("JPY", FRIDAY, 155.0), ("JPY", MONDAY, 160.0), ("AUD", MONDAY, 1.6))
    own = rates(("GBP", MONDAY, 0.9), ("GBP", FRIDAY, 0.7))
    assert with_owner_rates(published, own).rows() == [
        ("AUD", MONDAY, 1.6),
        ("GBP", FRIDAY, 0.7),
        ("GBP", MONDAY, 0.9),
        ("JPY", FRIDAY, 155.0),
        ("JPY", MONDAY, 160.0),
    ]


def test_days_in_any_order_take_each_its_own_last_rate() -> None:
    known = rates(("GBP", FRIDAY, 0.8), ("GBP", MONDAY, 0.9), ("JPY", FRIDAY, 160.0), ("JPY", MONDAY, 150.0))
    days = [MONDAY, FRIDAY, date(2024, 1, 9), SUNDAY]
    keys = pl.DataFrame(
        [(code, day) for day in days for code in ("JPY", "GBP")], schema=["currency", "day"], orient="row"
    )
    found = convert_rates(keys, known, base="EUR")
    assert found.select("currency", "day").equals(keys)
    assert found["rate"].to_list() == [150.0, 0.9, 160.0, 0.8, 150.0, 0.9, 160.0, 0.8]
    assert found["rate_on"].to_list() == [MONDAY, MONDAY, FRIDAY, FRIDAY, MONDAY, MONDAY, FRIDAY, FRIDAY]
