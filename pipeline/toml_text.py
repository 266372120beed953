"""A TOML text as tables, with every number small enough to work with, and every fault in words."""

import re
import tomllib
from collections.abc import Iterator
from datetime import date, time
from decimal import Decimal, InvalidOperation
from typing import Any

from pipeline.errors import MarketFileError

LARGEST = 1_000_000_000
"""The largest number that a market file may hold, an amount of money in its currency above all."""

MOST_DECIMALS = 12
DEEPEST = 30
"""How many tables and lists may lie within one another; a market file needs five."""

_KEY_STEP = r"""(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+"""
_DEEP_KEY = re.compile(rf"(?:^|[\[{{,])[ \t]*(?:{_KEY_STEP}){{{DEEPEST}}}", re.MULTILINE)
"""A dotted key of more than DEEPEST steps; the parser's time grows with the square of them."""


def parse_toml(text: str, *, where: str) -> dict[str, Any]:
    """Return the tables of a TOML text; numbers with a decimal point are Decimal.

    Raises MarketFileError for what is not TOML, for a number beyond LARGEST or with more than MOST_DECIMALS
    decimals, and for tables within one another deeper than DEEPEST. `where` names the file in messages.
    """
    if _DEEP_KEY.search(text):
        raise _too_deep(where)
    try:
        tables = tomllib.loads(text, parse_float=_decimal)
    except RecursionError as exc:
        raise _too_deep(where) from exc
    except tomllib.TOMLDecodeError as exc:
        raise MarketFileError(f"{where} is not TOML: {exc}", "correct that line and run again.") from exc
    except (ValueError, InvalidOperation) as exc:  # an integer of thousands of digits, an exponent of more
        raise MarketFileError(f"{where} holds a number that is far too long", _WITHIN) from exc
    for path, value in _leaves(tables, where):
        if isinstance(value, Decimal | int) and not _can_be_worked_with(value):
            finite = not isinstance(value, Decimal) or value.is_finite()
            what = "is beyond the numbers that are read" if finite else "is not a finite number"
            raise MarketFileError(f"{where}: {path}: {_shown(value)} {what}", _WITHIN)
    return tables


_WITHIN = f"give a number from -{LARGEST:,} to {LARGEST:,}, with at most {MOST_DECIMALS} decimals."


def _decimal(text: str) -> Decimal:
    """Return a number as it is written; -0.0 is 0."""
    return Decimal(text) or Decimal(0)


def _shown(number: Decimal | int) -> str:
    """Return a number as a message shows it; one of thousands of digits cannot be written out."""
    if isinstance(number, int) and abs(number) >= 10**40:
        return "a number of more than 40 digits"
    text = str(number)
    return text if len(text) <= 40 else f"{text[:40]}…"


def _can_be_worked_with(number: Decimal | int) -> bool:
    if isinstance(number, int):
        return abs(number) <= LARGEST
    if not number.is_finite() or number.adjusted() > len(str(LARGEST)) or abs(number) > LARGEST:
        return False
    return (number.adjusted() >= -MOST_DECIMALS and number == round(number, MOST_DECIMALS)) or not number


def _leaves(tables: dict[str, Any], where: str) -> Iterator[tuple[str, Any]]:
    """Yield every value with the path of its keys; lists count from 1. No recursion: a text may be deep."""
    waiting: list[tuple[str, Any, int]] = [("", tables, 0)]
    while waiting:
        path, value, depth = waiting.pop()
        if depth > DEEPEST:
            raise _too_deep(where)
        if isinstance(value, dict):
            steps = [(str(key)[:80], one) for key, one in value.items()]
        elif isinstance(value, list):
            steps = [(str(number), one) for number, one in enumerate(value, start=1)]
        else:
            if not isinstance(value, bool | str | date | time):
                yield path, value
            continue
        waiting += [(f"{path}.{step}" if path else step, one, depth + 1) for step, one in reversed(steps)]


def _too_deep(where: str) -> MarketFileError:
    return MarketFileError(
        f"{where} is not a market file: it holds tables or lists within one another, more than {DEEPEST} deep",
        "look at the brackets; `pairband init` writes a starter that shows every key.",
    )
