"""How figures are put: money with its currency and no false precision, effects in percent."""

from math import exp, floor, log10


def round_to_significant(amount: float, digits: int = 3) -> float:
    """Return `amount` rounded to so many significant digits, and never finer than the hundredth."""
    if amount == 0:
        return 0.0
    places = digits - 1 - floor(log10(abs(amount)))
    return round(amount, min(places, 2))


def money(amount: float, currency: str) -> str:
    """Return an amount as text: the ISO code, thousands set apart, three significant figures."""
    rounded = round_to_significant(amount)
    places = 0 if abs(rounded) >= 100 or rounded == int(rounded) else (1 if abs(rounded) >= 10 else 2)
    return f"{currency} {rounded:,.{places}f}"


def percent(factor: float) -> str:
    """Return a factor on the price as a signed percentage: 1.125 is "+12.5 %"."""
    change = 100 * (factor - 1)
    return f"{change:+.1f} %" if abs(change) < 100 else f"{change:+.0f} %"


def error_in_points(factor: float, error: float) -> str:
    """Return the standard error of log(factor) as points of percent about the factor."""
    return f"±{100 * factor * (exp(error) - 1):.1f}"
