"""Amounts of money as integers: ten-thousandths of a currency unit."""

from decimal import Decimal

POINTS = 4
"""Decimals of an amount as the ledger keeps it (schema.SALE_RECORD); more than any minor unit has."""

LARGEST_POINTS = 10**18
"""No amount is this large (in 10**-POINTS): a Decimal(18, 4) has at most 18 digits."""


def decimals(number: Decimal) -> int:
    """Return how many decimals a number has, without trailing zeros."""
    exponent = number.normalize().as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else 0


def to_points(amount: Decimal, name: str) -> int:
    """Return an amount in 10**-POINTS.

    Raises ValueError for one that is negative, not finite, or has more decimals; `name` is its name in the message.
    """
    if not amount.is_finite() or amount < 0:
        raise ValueError(f"{name} must be zero or more, not {amount}")
    if decimals(amount) > POINTS:
        raise ValueError(f"{name} must have at most {POINTS} decimals, not {amount}")
    return int(amount.scaleb(POINTS))


def from_points(points: int, unit: int) -> Decimal:
    """Return 10**-POINTS as an amount, with the decimals of the minor unit where they are enough."""
    amount = Decimal(points).scaleb(-POINTS)
    minor = Decimal(unit).scaleb(-POINTS).normalize()
    return amount.quantize(minor) if points % unit == 0 else amount.normalize()
