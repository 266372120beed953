"""Figures as pages write them."""

from datetime import date

import pytest

from pipeline import formats


@pytest.mark.parametrize(
    ("value", "currency", "written"),
    [
        (1234.56, "EUR", "€1,230"),
        (1_235_000.0, "EUR", "€1,240,000"),
        (74.56, "GBP", "£75"),
        (7.456, "EUR", "€7.46"),
        (123_456.0, "JPY", "JP¥123,000"),
        (1234.0, "CHF", "CHF\u00a01,230"),
        (0.0, "EUR", "€0"),
    ],
)
def test_an_estimate_has_three_figures_and_its_currency(value: float, currency: str, written: str) -> None:
    assert formats.estimate(value, currency) == written


def test_a_recorded_amount_is_not_rounded_to_three_figures() -> None:
    assert formats.amount(1234.4, "EUR") == "€1,234"


def test_a_small_difference_is_stated_to_the_unit() -> None:
    assert formats.change(-5.57, "EUR", price=1390.0) == "−€6"


def test_a_difference_of_cents_is_zero_beside_a_price_of_hundreds() -> None:
    assert formats.change(-0.02, "EUR", price=336.0) == "€0"


def test_a_difference_of_cents_counts_beside_a_price_of_a_few_units() -> None:
    assert formats.change(0.25, "EUR", price=4.0) == "+€0.25"


def test_no_difference_has_no_sign() -> None:
    assert formats.change(0.0, "EUR", price=100.0) == "€0"


@pytest.mark.parametrize(
    ("factor", "written"),
    [
        (1.123, "+12\u00a0%"),
        (1.0042, "+0.4\u00a0%"),
        (0.9, "−10\u00a0%"),
        (0.961, "−3.9\u00a0%"),
        (1.0, "0.0\u00a0%"),
        (1.0001, "0.0\u00a0%"),
        (1.999, "+100\u00a0%"),
        (3.14159, "×3.1"),
    ],
)
def test_a_factor_is_written_as_what_it_does_to_the_price(factor: float, written: str) -> None:
    assert formats.percent_change(factor) == written.replace("0.0", "0")


def test_a_band_is_named_by_its_level() -> None:
    assert [formats.level(share) for share in (0.5, 0.8, 0.95)] == ["50\u00a0%", "80\u00a0%", "95\u00a0%"]


def test_one_sale_is_not_one_sales() -> None:
    assert [formats.counted(number, "sale") for number in (0, 1, 5321)] == [
        "0 sales",
        "1 sale",
        "5,321 sales",
    ]


def test_a_day_is_written_in_words() -> None:
    assert formats.day(date(2024, 5, 3)) == "3 May 2024"
