"""Amounts of money as exports write them."""

from decimal import Decimal

import polars as pl
import pytest

from pipeline.ingest.numbers import decide_decimal_mark, low_end, read_amounts, to_minor_unit


def read_one(
    text: str, mark: str, currency: str | None = None
) -> tuple[Decimal | None, str | None, str | None]:
    """Return amount, currency and reason of one cell."""
    frame = read_amounts(pl.Series([text]), decimal_mark="," if mark == "," else ".", currency=currency)
    amount, code, reason = frame.select("amount", "currency", "reason").row(0)
    return amount, code, reason


@pytest.mark.parametrize(
    ("text", "mark", "amount"),
    [
        ("1.234,56", ",", "1234.56"),
        ("1234,5", ",", "1234.5"),
        ("1 234,50", ",", "1234.5"),
        ("1\u00a0234,50", ",", "1234.5"),
        ("1\u2009234,50", ",", "1234.5"),
        ("12.000", ",", "12000"),
        ("1.234.567,8", ",", "1234567.8"),
        ("1'234.50", ".", "1234.5"),
        ("1’234.50", ".", "1234.5"),
        ("1,234.56", ".", "1234.56"),
        ("1,23,456.50", ".", "123456.5"),
        ("(1,234.00)", ".", "-1234"),
        ("-12", ".", "-12"),
        ("−12", ".", "-12"),
        ("12-", ".", "-12"),
        ("１２，０００", ".", "12000"),
        ("450,-", ",", "450"),
        ("1'200.–", ".", "1200"),
        (".5", ".", "0.5"),
        ("129.99000000000001", ".", "129.99"),
        ("129.98999999999998", ".", "129.99"),
        ("1234.5600", ".", "1234.56"),
    ],
)
def test_an_amount_is_read_in_its_own_notation(text: str, mark: str, amount: str) -> None:
    assert read_one(text, mark) == (Decimal(amount), None, None)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("€ 12", "EUR"),
        ("12 EUR", "EUR"),
        ("12.00 chf", "CHF"),
        ("£12", "GBP"),
        ("¥12,000", "JPY"),
        ("12,000円", "JPY"),
        ("US$ 12", "USD"),
        ("Fr. 12.50", "CHF"),
        ("CN¥ 12", "CNY"),
        ("1250.00 TL", "TRY"),
        ("1250 lei", "RON"),
        ("128000원", "KRW"),
        ("$ 12", None),
        ("kr 12", None),
    ],
)
def test_a_sign_of_one_currency_names_it(text: str, code: str | None) -> None:
    assert read_one(text, ".")[1:] == (code, None)


@pytest.mark.parametrize(
    ("text", "mark", "amount", "code"),
    [
        ("1\u00a0000,00 лв.", ",", "1000", "BGN"),
        ("1 234,50 грн", ",", "1234.5", "UAH"),
        ("1 200 Kč", ",", "1200", "CZK"),
        ("12.000 Ft", ",", "12000", "HUF"),
        ("1.500,00 din.", ",", "1500", "RSD"),
        ("80,00 kn", ",", "80", "HRK"),
        ("1\u202f000 руб.", ",", "1000", "RUB"),
        ("5.000.000 ₫", ",", "5000000", "VND"),
        ("Rp1.500.000", ",", "1500000", "IDR"),
        ("R$ 1.200,50", ",", "1200.5", "BRL"),
        ("1,250 บาท", ".", "1250", "THB"),
        ("S/.120.50", ".", "120.5", "PEN"),
        ("RM1,200.00", ".", "1200", "MYR"),
        ("R 1 200.00", ".", "1200", "ZAR"),
        ('910.00 ש"ח', ".", "910", "ILS"),
        ("\u200f1,234.50 ر.س.\u200f", ".", "1234.5", "SAR"),
        ("1,000 Canadian dollars", ".", "1000", "CAD"),
    ],
)
def test_what_the_money_of_a_country_is_called_there_names_its_currency(
    text: str, mark: str, amount: str, code: str
) -> None:
    assert read_one(text, mark) == (Decimal(amount), code, None)


@pytest.mark.parametrize(
    ("text", "amount"), [("٣٤٥", "345"), ("๑,๒๐๐.๕๐", "1200.5"), ("१२", "12"), ("١٬٢٣٤٫٥", "1234.5")]
)
def test_the_digits_of_every_script_are_read(text: str, amount: str) -> None:
    assert read_one(text, ".")[0] == Decimal(amount)


@pytest.mark.parametrize(
    ("text", "amount"),
    [("$.50", "0.5"), ("EUR.50", "0.5"), ("Rs.500", "500"), ("Fr.50", "50"), ("kr.50", "50")],
)
def test_a_point_ends_an_abbreviation_and_begins_decimals_after_a_sign(text: str, amount: str) -> None:
    assert read_one(text, ".")[0] == Decimal(amount)


def test_a_sign_of_one_country_that_another_has_too_means_the_currency_of_the_column() -> None:
    assert read_one("£12", ".", "GIP")[1] == "GIP"


def test_a_letter_is_a_sign_only_in_a_column_of_its_currency() -> None:
    assert [read_one("Q 12", ".", stated)[0] for stated in ("GTQ", None)] == [Decimal(12), None]


def test_a_shared_sign_takes_the_currency_of_the_column() -> None:
    assert read_one("$12", ".", "CAD") == (Decimal(12), "CAD", None)


def test_a_sign_that_contradicts_the_column_is_refused() -> None:
    assert read_one("$12", ".", "EUR") == (None, None, "the sign $ is not one of EUR")


@pytest.mark.parametrize("text", ["", " ", "-", "–", "n/a", "N.A.", "null", "--"])
def test_an_empty_cell_is_no_fault(text: str) -> None:
    assert read_one(text, ".") == (None, None, None)


@pytest.mark.parametrize(
    ("text", "mark", "reason"),
    [
        ("hello", ".", "no digit|other words"),
        ("5 pairs", ".", "other words"),
        ("1.2k", ".", "other words"),
        ("12€50", ",", "decimal mark"),
        ("12.00", ",", "decimal mark ','"),
        ("1.234,56", ".", "decimal mark '.'"),
        ("1.234", ".", "three digits after"),
        ("12,345", ",", "three digits after"),
        ("EUR 12 USD", ".", "two currencies|decimal mark"),
        ("1,23", ".", "decimal mark"),
        ("12 50", ".", "decimal mark"),
        ("--12", ".", "decimal mark"),
        ("()", ".", "no digit"),
        ("12 пари", ",", "other words"),
        ("da 450", ".", "other words"),
        ("12 EUR/Paar", ".", "other words"),
        ("99999999999999999", ".", "too large"),
    ],
)
def test_what_is_no_amount_says_why(text: str, mark: str, reason: str) -> None:
    amount, _, why = read_one(text, mark)
    assert amount is None
    assert any(part in str(why) for part in reason.split("|"))


def test_three_decimals_are_read_in_a_currency_that_has_them() -> None:
    assert read_one("KWD 1.234", ".")[0] == Decimal("1.234")


def test_each_distinct_text_is_read_once() -> None:
    result = read_amounts(pl.Series(["7", None, "7", "8"]), decimal_mark=".")
    assert result["text"].to_list() == ["7", "8"]


def test_no_cells_give_no_amounts() -> None:
    result = read_amounts(pl.Series([], dtype=pl.String), decimal_mark=".")
    assert result.schema["amount"] == pl.Decimal(18, 4)
    assert result.is_empty()


@pytest.mark.parametrize(
    ("texts", "value"),
    [
        (["1.234,56", "12,50"], ","),
        (["1.234.567"], ","),
        (["1,234.50", "7.2"], "."),
        (["1'234.50"], "."),
        (["12.000", "13.500"], None),
        (["12", "13"], None),
        (["1.2", "1,2"], None),
        ([], None),
    ],
)
def test_the_decimal_mark_is_decided_by_the_whole_column(texts: list[str], value: str | None) -> None:
    assert decide_decimal_mark(pl.Series(texts, dtype=pl.String)).value == value


def test_more_telling_cells_give_more_confidence() -> None:
    few = decide_decimal_mark(pl.Series(["1,50"]))
    many = decide_decimal_mark(pl.Series([f"{euros},50" for euros in range(100)]))
    assert few.confidence < many.confidence < 1


def test_an_ambiguous_column_is_said_to_be_ambiguous() -> None:
    assert decide_decimal_mark(pl.Series(["12.000"])).why.startswith("ambiguous: '12.000'")


@pytest.mark.parametrize(
    ("text", "currency", "amount"),
    [
        ("12.345678", "EUR", "12.35"),
        ("12.345678", "JPY", "12"),
        ("12.345678", "KWD", "12.346"),
        ("12.345678", "CLF", "12.3457"),
        ("12.00499999", "EUR", "12.00"),
        ("12.00500001", "EUR", "12.01"),
        ("-12.345678", "EUR", "-12.35"),
    ],
)
def test_a_number_finer_than_an_amount_is_rounded_half_up_to_the_minor_unit(
    text: str, currency: str, amount: str
) -> None:
    read = read_amounts(pl.Series([text]), decimal_mark=".")
    [rounded] = read.select(to_minor_unit(pl.col("finer"), pl.lit(currency))).to_series()
    assert rounded == Decimal(amount)


@pytest.mark.parametrize("text", ["12.34", "12.3456", "12.345600000", "129.98999999999998", "n/a", "x"])
def test_a_number_no_finer_than_an_amount_is_not_rounded(text: str) -> None:
    assert read_amounts(pl.Series([text]), decimal_mark=".")["finer"].to_list() == [None]


@pytest.mark.parametrize(
    ("cell", "low"),
    [
        ("120 - 180 €", "120"),
        ("448–728 zł", "448"),
        ("120,00 € / 180,00 €", "120,00 €"),
        ("80,00", "80,00"),
        ("-12,00", "-12,00"),
        ("120.-", "120.-"),
        ("", ""),
    ],
)
def test_the_lower_of_two_estimates_in_one_cell_is_taken(cell: str, low: str) -> None:
    assert pl.DataFrame({"text": [cell]}).select(low_end(pl.col("text"))).item() == low


def test_the_backslash_of_a_japanese_code_page_is_the_yen_sign() -> None:
    [read] = read_amounts(pl.Series(["\\50,636"]), decimal_mark=".").to_dicts()
    assert (read["amount"], read["currency"]) == (Decimal(50636), "JPY")
