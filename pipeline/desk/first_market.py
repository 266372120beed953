"""The owner's first market file: the starter with their own answers in the place of its invented examples."""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal, InvalidOperation
from functools import cache
from importlib.resources import files
from typing import Any

import tomlkit
from babel.core import get_global
from babel.numbers import get_currency_name, get_territory_currencies
from pydantic import ValidationError

from pipeline.config import parse_market
from pipeline.errors import MarketFileError
from pipeline.value_faults import explain_value

ROWS = {
    "eras": ("name", "first_year", "last_year", "run", "phrases"),
    "silhouettes": ("name", "maker", "family", "phrases"),
}
"""The lists that the first questions ask for, each with its columns."""

EXAMPLE = {
    "base_currency": "",
    "business.language": "en",
    "venues.0.kind": "auction",
    "eras.0.name": "first",
    "eras.0.first_year": "1984",
    "eras.0.last_year": "1986",
    "eras.0.run": "original",
    "eras.0.phrases": "first run, first series",
    "eras.1.name": "second",
    "eras.1.first_year": "1987",
    "eras.1.last_year": "1991",
    "eras.1.run": "original",
    "eras.1.phrases": "second run, second series",
    "eras.2.name": "reissue",
    "eras.2.first_year": "1994",
    "eras.2.run": "re-issue",
    "eras.2.phrases": "re-issue, reissue, retro",
}
"""What the questions begin with: eras as an example of how they are written, to be changed."""

HELD_SINCE = date(1980, 1, 1)
"""The first day of a fee of which the owner said no day: before any sale that they could have a record of."""

_ROW = re.compile(r"(eras|silhouettes)\.(\d{1,3})\.(\w+)")
_TABLE = re.compile(r"^\[+([\w.]+)\]+", re.MULTILINE)
_NEEDED = "This is needed."
_INVENTED = ("eras", "silhouettes", "colourways", "venues", "venues.fees", "maps", "consigning.commission")
"""The tables of the starter that are an invented dealer's."""

_ASKED = ("eras", "silhouettes", "venues")


@dataclass(frozen=True)
class First:
    """What the owner answered, row by row, the market file that it makes, and what is wrong with it by field.

    `text` is "" where something is wrong; the fault of the field "" is of the whole.
    """

    said: dict[str, str]
    faults: dict[str, str] = field(default_factory=dict)
    text: str = ""


@cache
def currencies() -> tuple[tuple[str, str], ...]:
    """Return the currencies that are money somewhere today, each its ISO 4217 code and English name, by name."""
    codes = {
        code
        for territory in get_global("territory_currencies")
        for code in get_territory_currencies(territory, tender=True)
    }
    return tuple(
        sorted(((code, get_currency_name(code, locale="en")) for code in codes), key=lambda one: one[1])
    )


def rows_said(said: Mapping[str, str], table: str) -> list[dict[str, str]]:
    """Return the rows that were typed into a list, in order, each by column; a row may be empty."""
    rows: dict[int, dict[str, str]] = {}
    for name, text in said.items():
        found = _ROW.fullmatch(name)
        if found and found[1] == table and found[3] in ROWS[table]:
            rows.setdefault(int(found[2]), dict.fromkeys(ROWS[table], ""))[found[3]] = text
    return [rows[number] for number in sorted(rows)]


def with_rows(said: Mapping[str, str], table: str, rows: Iterable[Mapping[str, str]]) -> dict[str, str]:
    """Return what was said with other rows in a list."""
    others = {name: text for name, text in said.items() if not name.startswith(f"{table}.")}
    return others | {
        f"{table}.{number}.{column}": text for number, row in enumerate(rows) for column, text in row.items()
    }


def first_market(said: Mapping[str, str]) -> First:
    """Return the market file that answers make, or what is wrong with them; empty rows do not count."""
    said = {name: text.strip() for name, text in said.items()}
    for table in ROWS:
        typed = [row for row in rows_said(said, table) if _is_typed(row)]
        said = with_rows(said, table, typed)
    faults = dict(_missing(said))
    tables = _tables(said, faults)
    text = _written(tables)
    if faults:
        return First(said, faults)
    try:
        parse_market(text, where="The market file")
    except MarketFileError as exc:
        return First(said, _by_field(exc, said))
    return First(said, text=text)


def _is_typed(row: Mapping[str, str]) -> bool:
    """Whether more than a choice was made in a row."""
    return any(text for column, text in row.items() if column != "run")


def _missing(said: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """Yield the fields that are needed and empty, with the words for it."""
    needed = ["business.name", "base_currency", "venues.0.name"]
    eras = rows_said(said, "eras")
    needed += [
        f"eras.{number}.{column}" for number in range(len(eras)) for column in ("name", "first_year", "run")
    ]
    silhouettes = rows_said(said, "silhouettes")
    needed += [
        f"silhouettes.{number}.{column}" for number in range(len(silhouettes)) for column in ("name", "maker")
    ]
    yield from ((name, _NEEDED) for name in needed if not said.get(name))
    if not eras:
        yield "eras", "Give one era at least: prices depend on it."


def _tables(said: Mapping[str, str], faults: dict[str, str]) -> dict[str, Any]:
    """Return the market file's tables of what was said; what is no number is noted in `faults`."""

    def number(name: str, largest: int | None = None) -> Decimal | None:
        text = said.get(name, "").removesuffix("%").strip().replace(",", ".")
        if not text:
            return None
        try:
            found = Decimal(text)
        except InvalidOperation:
            found = Decimal("NaN")
        if not found.is_finite() or (largest is not None and not 0 <= found < largest):
            faults.setdefault(name, "This is no percentage: give one such as 20 or 12.5.")
            return None
        return found

    def year(name: str) -> int | None:
        text = said.get(name, "")
        if text and not re.fullmatch(r"[0-9]{4}", text):
            faults.setdefault(name, "This is no year: give one such as 1985.")
        return int(text) if re.fullmatch(r"[0-9]{4}", text) else None

    eras = [
        {
            "name": row["name"],
            "run": row["run"],
            "first_year": year(f"eras.{at}.first_year"),
            "last_year": year(f"eras.{at}.last_year"),
            "phrases": _phrases(row["phrases"]),
        }
        for at, row in enumerate(rows_said(said, "eras"))
    ]
    silhouettes = [{**row, "phrases": _phrases(row["phrases"])} for row in rows_said(said, "silhouettes")]
    venue: dict[str, Any] = {
        "name": said.get("venues.0.name", ""),
        "kind": said.get("venues.0.kind", "auction"),
        "currency": said.get("venues.0.currency") or said.get("base_currency", ""),
    }
    premium, tax = number("venues.0.premium", 100), number("venues.0.tax", 100)
    if premium:
        fee: dict[str, Any] = {"party": "buyer", "starts_on": HELD_SINCE, "tiers": [{"rate": premium / 100}]}
        venue["fees"] = [fee | ({"tax_rate": tax / 100} if tax else {})]
    elif tax:
        faults.setdefault("venues.0.premium", "There is a tax on the premium; give the premium too.")
    return {
        "base_currency": said.get("base_currency", ""),
        "business": {key: said.get(f"business.{key}", "") for key in ("name", "town", "language")},
        "sizes": {"usual": said.get("sizes.usual", "")},
        "eras": eras,
        "silhouettes": silhouettes,
        "venues": [venue],
    }


def _phrases(text: str) -> list[str]:
    return list(dict.fromkeys(part.strip() for part in text.split(",") if part.strip()))


def _written(tables: Mapping[str, Any]) -> str:
    """Return the starter with these tables in it; what was an invented dealer's stays as notes only."""
    parts, written = [], set()
    for part in _starter().split("\n\n"):
        found = _TABLE.search(part)
        name = found[1] if found else ""
        if name not in _INVENTED and name.split(".")[0] != "maps":
            parts.append(part)
            continue
        lines = part.splitlines()
        if name in _ASKED and name not in written:
            written.add(name)
            own = _own(name, tables[name])
            notes = [line for line in lines if line.startswith("#")]
            examples = [] if name == "eras" else [f"# {line}" for line in lines if not line.startswith("#")]
            parts.append("\n".join((*notes, *examples)) + (f"\n\n{own}" if own else ""))
        elif name != "eras":
            parts.append("\n".join(line if line.startswith("#") else f"# {line}" for line in lines))
    text = "\n\n".join(parts)
    if usual := tables["sizes"]["usual"]:
        text = text.replace('# usual = "UK"', f"usual = {_value(usual).as_string()}")
    return _filled(text, tables)


def _own(name: str, entries: list[dict[str, Any]]) -> str:
    """Return the entries of a list as TOML, without what they leave out."""
    blocks = tomlkit.aot()
    for entry in entries:
        one = tomlkit.table()
        for key, value in entry.items():
            if value not in ("", None, []):
                one.add(key, _value(value))
        blocks.append(one)
    return tomlkit.dumps({name: blocks}).strip() if entries else ""


def _value(value: Any) -> Any:
    """Return a value as it is written on one line."""
    if isinstance(value, Decimal):
        return tomlkit.value(format(value.normalize(), "f") if value else "0")
    if isinstance(value, dict):
        one = tomlkit.inline_table()
        for key, inner in value.items():
            one.add(key, _value(inner))
        return one
    if isinstance(value, list):
        many = tomlkit.array()
        for inner in value:
            many.append(_value(inner))
        return many
    return tomlkit.item(value)


def _filled(text: str, tables: Mapping[str, Any]) -> str:
    """Return a text of the starter with the single values put in."""
    document: Any = tomlkit.parse(text)
    document["base_currency"] = tables["base_currency"]
    for key, value in tables["business"].items():
        document["business"][key] = value
    document["buying"].remove("sells_at")
    return tomlkit.dumps(document)


@cache
def _starter() -> str:
    return files("pipeline").joinpath("starter.toml").read_text(encoding="utf-8")


def _by_field(exc: MarketFileError, said: Mapping[str, str]) -> dict[str, str]:
    """Return what is wrong with a market file by the field where it was said."""
    if not isinstance(exc.__cause__, ValidationError):
        return {"": str(exc.what).removeprefix("The market file: ")}
    faults: dict[str, str] = {}
    for fault in exc.__cause__.errors():
        steps = [str(step) for step in fault["loc"]]
        words = _plain(explain_value(fault))
        where = next(
            (name for count in range(len(steps), 0, -1) if (name := ".".join(steps[:count])) in said), ""
        )
        if not where and steps[:1] == ["eras"]:
            where = ".".join((*steps[:2], "last_year" if "last year" in words else "name"))
        faults.setdefault(where if where in said else "", f"{words[:1].upper()}{words[1:]}.")
    return faults


def _plain(words: str) -> str:
    """Return what is wrong with a value, the market file's keys called as the questions call them."""
    return words.replace("last_year", "the last year").replace("first_year", "the first year")
