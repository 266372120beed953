"""Figures as people read them: money with its currency, per cents, counts, dates; no false precision.

What a customer may read in another language takes a `locale` (Unicode CLDR, by babel); all else is in our own.
"""

import re
import unicodedata
from datetime import date, datetime
from decimal import ROUND_HALF_EVEN, Decimal
from functools import lru_cache

from babel import Locale
from babel.dates import format_date
from babel.numbers import format_currency, format_decimal, get_currency_precision, get_currency_symbol

LANGUAGE = "en_GB"
MINUS = "\u2212"
SMALL = 10
"""The amount from which money is written in whole units."""
_FIGURES = 3


def round_figures(value: float, figures: int = _FIGURES) -> Decimal:
    """Return a value rounded to so many significant figures, halves to the even digit."""
    exact = Decimal(repr(float(value)))
    if not exact.is_finite() or exact == 0:
        return exact
    step = Decimal(1).scaleb(exact.adjusted() - figures + 1)
    return (exact / step).to_integral_value(rounding=ROUND_HALF_EVEN) * step


def estimate(value: float, currency: str, locale: str = LANGUAGE) -> str:
    """Return an estimated amount with its currency, to three significant figures: €1,230; small ones to the unit."""
    return _money(round_figures(value), currency, locale=locale)


def amount(value: float, currency: str, locale: str = LANGUAGE) -> str:
    """Return a recorded amount with its currency, to the whole unit: €1,234."""
    return _money(Decimal(repr(float(value))), currency, locale=locale)


def exact(value: Decimal, currency: str, locale: str = LANGUAGE) -> str:
    """Return an amount that is charged or paid, to the currency's minor unit: €1,234.50."""
    return _money(value, currency, decimals=get_currency_precision(currency), locale=locale)


def exact_or_whole(value: Decimal, currency: str, locale: str = LANGUAGE) -> str:
    """Return an amount as `exact` does, without decimals where it is whole: €400."""
    decimals = 0 if value == value.to_integral_value() else get_currency_precision(currency)
    return _money(value, currency, decimals=decimals, locale=locale)


def change(value: float, currency: str, *, price: float) -> str:
    """Return a difference of amounts with its sign: +€140, −€6; to the unit unless the price is small."""
    size = round_figures(abs(value))
    return _signed(_money(size.quantize(Decimal(1)) if price >= SMALL else size, currency, price), value)


def gain(value: float, currency: str) -> str:
    """Return a recorded gain or loss with its sign, to the whole unit: +€1,234, −€56."""
    return _signed(_money(Decimal(repr(abs(float(value)))), currency), value)


def percent_change(factor: float) -> str:
    """Return what a factor does to a price: +12 %, −0.4 %; ×3.1 from a doubling on."""
    if factor >= 2:
        return f"×{format_decimal(round_figures(factor, 2), locale=LANGUAGE)}"
    return _signed(_percent(abs(factor - 1)), factor - 1)


def share(part: float) -> str:
    """Return a share of the price with its sign: +12 %, −0.4 %; never as a multiple."""
    return _signed(_percent(abs(part)), part)


def quarter(on: date) -> str:
    """Return the quarter of a day: 2024 Q3."""
    return f"{on.year} Q{(on.month + 2) // 3}"


def level(share: float, locale: str = LANGUAGE) -> str:
    """Return the level of a band: 80 %."""
    return _with_percent_sign(Decimal(repr(share * 100)).quantize(Decimal(1)), locale)


def rate(share: Decimal, locale: str = LANGUAGE) -> str:
    """Return a rate with all its digits: 12.5 %."""
    return _with_percent_sign(100 * share, locale)


def count(number: int, locale: str = LANGUAGE) -> str:
    """Return a count with its thousands separated: 5,321."""
    return format_decimal(number, locale=locale)


def number(value: float, figures: int, locale: str = LANGUAGE) -> str:
    """Return a number to so many significant figures: 0.8712, 170."""
    return format_decimal(round_figures(value, figures), locale=locale, decimal_quantization=False)


def counted(number: int, noun: str) -> str:
    """Return a count with its noun in the number that it asks for: 1 sale, 12 sales."""
    return f"{count(number)} {noun if number == 1 else noun + 's'}"


def day(on: date, locale: str = LANGUAGE) -> str:
    """Return a day in words: 3 May 2024; in another language in full: 3. Mai 2024, 2024年5月3日."""
    return format_date(on, "d MMM y" if locale == LANGUAGE else "long", locale=locale)


def moment(at: datetime) -> str:
    """Return a day and time in words: 3 May 2024, 16:05."""
    return f"{day(at)}, {at:%H:%M}"


def month(on: date) -> str:
    """Return the month of a day in words: October 2017."""
    return format_date(on, "MMMM y", locale=LANGUAGE)


def is_zero(figure: str) -> bool:
    """Return whether a figure as written shows nothing but zeros."""
    return not any(digit in figure for digit in "123456789")


def _percent(share: float) -> str:
    points = Decimal(repr(share * 100))
    return f"{format_decimal(points.quantize(Decimal(1) if points >= 10 else Decimal('0.1')), locale=LANGUAGE)}\u00a0%"


def _with_percent_sign(points: Decimal, locale: str) -> str:
    figure = format_decimal(points, locale=locale, decimal_quantization=False)
    usual = "\u00a0%" if locale == LANGUAGE else str(Locale.parse(locale).percent_formats[None].pattern)
    return f"{figure}\u00a0%" if "\u00a0" in usual else f"{figure}%"


def _signed(unsigned: str, value: float) -> str:
    if is_zero(unsigned):
        return unsigned
    return f"{'+' if value > 0 else MINUS}{unsigned}"


def _money(
    value: Decimal,
    currency: str,
    price: float | None = None,
    *,
    decimals: int | None = None,
    locale: str = LANGUAGE,
) -> str:
    """Return an amount in whole units; one that is small, or stands beside a small `price`, with its cents, if any.

    `decimals` says how many decimals it has whatever its size.
    """
    if decimals is None:
        small = 0 < (abs(value) if price is None else price) < SMALL
        decimals = get_currency_precision(currency) if small else 0
        if round(value, decimals) == round(value):
            decimals = 0
    return _with_symbol(value or Decimal(0), currency, decimals, locale)


@lru_cache(maxsize=4096)
def _with_symbol(value: Decimal, currency: str, decimals: int, locale: str) -> str:
    figure = "#,##0" + ("." + "0" * decimals if decimals else "")
    symbol = get_currency_symbol(currency, locale=locale)
    gap = "\u00a0" if symbol[-1].isalpha() else ""
    pattern = f"¤{gap}{figure}"
    if locale != LANGUAGE:
        usual = Locale.parse(locale).currency_formats["standard"].pattern.split(";")[0]
        placed = re.sub(r"[#0,.]*0[#0,.]*", figure, usual)
        pattern = (
            placed.replace("¤", f"¤{gap}") if placed.startswith("¤") and "\u00a0" not in placed else placed
        )
    written = format_currency(value, currency, format=pattern, locale=locale, currency_digits=False)
    return written.replace(symbol, unicodedata.normalize("NFKC", symbol))  # a yen sign as wide as other signs
