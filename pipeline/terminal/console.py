"""The terminal itself: its two streams, tables, JSON."""

import json
import sys
from dataclasses import asdict, is_dataclass
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table

OUT = Console(highlight=False, emoji=False)
ERR = Console(stderr=True, highlight=False, emoji=False)


def plain(value: Any) -> Any:
    """Return a value as JSON can hold it: dataclasses as objects, days as ISO text, money to the cent."""
    if is_dataclass(value) and not isinstance(value, type):
        return {key: plain(item) for key, item in asdict(value).items()}
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, float):
        return round(value, 6)
    return str(value) if isinstance(value, Path) else value


def show_json(value: Any) -> None:
    """Print a value as JSON, keys in their own order, one document."""
    sys.stdout.write(json.dumps(plain(value), ensure_ascii=False, indent=2, allow_nan=False) + "\n")


def table_of(*headings: str, right: tuple[int, ...] = ()) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    for position, heading in enumerate(headings):
        table.add_column(heading, justify="right" if position in right else "left")
    return table
