"""A single value as a field of a form shows it, and what the owner wrote in one as a value."""

import re
from datetime import date
from decimal import Decimal
from typing import Any, Final

from pipeline.desk.market_file.fields import Shape
from pipeline.desk.market_file.literal import literal
from pipeline.errors import MarketFileError
from pipeline.toml_text import parse_toml

_MARK_LENGTH = 5
"""A text this short is a sign (what parts columns): spaces count, and a tab is shown as \\t."""

_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
_DECIMAL_COMMA = re.compile(r"-?\d+,\d{1,2}|-?0,\d+")


BLANK: Final = object()
"""Stands for a field that was left blank."""


def written(value: Any, shape: Shape) -> str:
    """Return a value as its field shows it; nothing for None."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if shape.kind in ("words", "one or several"):
        return "\n".join([value] if isinstance(value, str) else map(str, value))
    if shape.kind == "toml":
        return literal(value) if value else ""
    if isinstance(value, float):
        return f"{value:g}"
    text = f"{value:f}" if isinstance(value, Decimal) else str(value)
    return text.replace("\t", r"\t") if _is_mark(shape) else text


def read_written(text: str, shape: Shape) -> Any:
    """Return the value that a field says, BLANK where it says none; raises ValueError saying what to write."""
    text = text.replace("\r\n", "\n")
    if shape.kind == "paragraphs":
        return text if text.strip() else BLANK
    if _is_mark(shape):
        return text.replace(r"\t", "\t") or BLANK
    text = text.strip()
    if not text:
        return BLANK
    match shape.kind:
        case "words" | "one or several":
            lines = [line.strip() for line in text.split("\n") if line.strip()]
            return lines[0] if shape.kind == "one or several" and len(lines) == 1 else lines
        case "number":
            return _number(text, shape)
        case "whole":
            if not re.fullmatch(r"-?\d{1,12}", text):
                raise ValueError(f"{text!r} is no whole number: write it in digits, such as 30")
            return int(text)
        case "day":
            return _day(text)
        case "yes or no" | "choice":
            if text not in shape.choices:
                raise ValueError(f"{text!r} is none of {', '.join(shape.choices)}")
            return text == "yes" if shape.kind == "yes or no" else text
        case "toml":
            return _toml(text)
    return text


def _number(text: str, shape: Shape) -> Decimal | int:
    percent = shape.is_share and text.endswith("%")
    bare = text.removesuffix("%").strip() if percent else text
    if _DECIMAL_COMMA.fullmatch(bare):
        bare = bare.replace(",", ".")
    if not _NUMBER.fullmatch(bare) or len(bare) > 40:
        example = "0.25 or 25 %" if shape.is_share else "1250 or 12.50, without a sign for thousands"
        raise ValueError(f"{text!r} is no number: write it as {example}")
    if percent:
        return (Decimal(bare) / 100).normalize() + Decimal(0)
    return Decimal(bare) if "." in bare else int(bare)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as exc:
        raise ValueError(f"{text!r} is no day: write it as 2026-03-01") from exc


def _toml(text: str) -> Any:
    try:
        tables = parse_toml(f"value = {text}", where="this field")
    except MarketFileError as exc:
        raise ValueError(exc.what) from exc
    if set(tables) != {"value"}:
        raise ValueError('write one value, such as [["era", "box"]]')
    return tables["value"]


def _is_mark(shape: Shape) -> bool:
    return shape.kind == "text" and shape.longest is not None and shape.longest <= _MARK_LENGTH
