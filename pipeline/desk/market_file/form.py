"""A table of the market file as a form: its fields, what they show, and what the owner's answers make of the table.

Fields are named by keys and numbers: "kind", "tiers.0.rate", and "grades.2.name" with "grades.2.value" where the owner
gives the names. A field that was not asked for leaves its key as it is, and so does every key that has a page of its
own.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from pipeline.desk.market_file.fields import IN_MANY_FIELDS, Field, Shape
from pipeline.desk.market_file.layout import KeyPath
from pipeline.desk.market_file.written import BLANK, read_written, written

SPARE_ROWS = 2
"""Blank rows below those that are there, for the owner to fill in."""

Posted = Mapping[str, str]


@dataclass(frozen=True)
class Control:
    """A field of a form, with what it shows; rows, parts and pages of its own take the place of a text.

    `default` is what holds where it is left blank.
    """

    name: str
    field: Field
    text: str = ""
    default: str = ""
    faults: tuple[str, ...] = ()
    parts: tuple["Control", ...] = ()
    rows: tuple["Row", ...] = ()

    @property
    def shape(self) -> Shape:
        """What it asks for."""
        return self.field.shape


@dataclass(frozen=True)
class Row:
    """One row of a list, with its fields, and whether it is to go; `name` is what their names start with."""

    name: str
    controls: tuple[Control, ...]
    faults: tuple[str, ...] = ()
    is_removed: bool = False

    @property
    def is_blank(self) -> bool:
        """Whether nothing is written in it."""
        return not any(one.text.strip() for one in self.controls)


@dataclass(frozen=True)
class Answers:
    """What a form makes of a table: its new tables, which field each path of it is from, and faults by field."""

    table: dict[str, Any]
    names: dict[KeyPath, str]
    faults: dict[str, list[str]]

    def name_of(self, path: KeyPath) -> str:
        """Return the field that a path below the table is from, or the nearest above; "" for the form itself."""
        while path and path not in self.names:
            path = path[:-1]
        return self.names.get(path, "")


def filled_in(shape: Shape, table: Any) -> dict[str, str]:
    """Return what each field of a table's form shows, by its name, as the market file has it now."""
    found: dict[str, str] = {}
    _fill(found, shape, table, "")
    return found


def controls_of(shape: Shape, posted: Posted, faults: Mapping[str, Sequence[str]]) -> tuple[Control, ...]:
    """Return the fields of a table's form with what was posted, or filled in, and with faults by field."""
    return _controls(shape.fields, posted, faults, "")


def read_answers(shape: Shape, posted: Posted, table: Mapping[str, Any]) -> Answers:
    """Return what a posted form makes of a table of the market file; a key that it leaves at its default stays out."""
    reader = _Reader(posted)
    return Answers(reader.table(shape.fields, table, "", ()), reader.names, reader.faults)


def _fill(found: dict[str, str], shape: Shape, value: Any, name: str) -> None:
    if shape.kind not in IN_MANY_FIELDS:
        found[name] = written(value, shape)
    elif shape.kind == "table":
        for one in shape.fields:
            if one.shape.is_inline:
                key = one.key_in(value)
                given = isinstance(value, Mapping) and key in value
                shown = value[key] if given else one.default if one.shape.kind == "words" else None
                _fill(found, one.shape, shown, _below(name, one.key))
    elif shape.kind == "rows":
        for number, row in enumerate(value or ()):
            _fill(found, _row_shape(shape), row, _below(name, number))
    else:
        for number, (key, held) in enumerate((value or {}).items()):
            _fill(found, _row_shape(shape), {"name": key, "value": held}, _below(name, number))


def _controls(
    fields: Sequence[Field], posted: Posted, faults: Mapping[str, Sequence[str]], within: str
) -> tuple[Control, ...]:
    found = []
    for one in fields:
        name, shape = _below(within, one.key), one.shape
        parts: tuple[Control, ...] = ()
        rows: list[Row] = []
        if shape.is_inline and shape.kind == "table":
            parts = _controls(shape.fields, posted, faults, name)
        elif shape.is_inline and shape.kind in IN_MANY_FIELDS:
            numbers = _rows_posted(posted, name)
            spare = range(max(numbers, default=-1) + 1, max(numbers, default=-1) + 1 + SPARE_ROWS)
            rows = [
                Row(
                    _below(name, number),
                    _controls(_row_shape(shape).fields, posted, faults, _below(name, number)),
                    tuple(faults.get(_below(name, number), ())),
                    is_removed=bool(posted.get(f"{_below(name, number)}.remove")),
                )
                for number in (*numbers, *spare)
            ]
        default = "" if one.default in (None, "", (), {}) else written(one.default, shape)
        found.append(
            Control(name, one, posted.get(name, ""), default, tuple(faults.get(name, ())), parts, tuple(rows))
        )
    return tuple(found)


@dataclass
class _Reader:
    """Reads a posted form, and notes which field each path is from."""

    posted: Posted
    names: dict[KeyPath, str] = field(default_factory=dict)
    faults: dict[str, list[str]] = field(default_factory=dict)

    def table(self, fields: Sequence[Field], old: Any, within: str, path: KeyPath) -> dict[str, Any]:
        """Return a table as the form has it; keys that it does not ask for stay."""
        kept = dict(old) if isinstance(old, Mapping) else {}
        for one in fields:
            name, key = _below(within, one.key), one.key_in(kept)
            self.names[(*path, key)] = name
            if not one.shape.is_inline or not self._is_asked(name):
                continue
            new = self._value(one.shape, kept.get(key), name, (*path, key))
            if new is BLANK and one.shape.kind == "words" and one.default:
                new = []
            if new is BLANK:
                if kept.get(key) not in ("", [], {}):
                    kept.pop(key, None)
            elif key in kept or not _same_as_default(new, one.default):
                kept[key] = new
        return kept

    def _is_asked(self, name: str) -> bool:
        return name in self.posted or any(one.startswith(f"{name}.") for one in self.posted)

    def _value(self, shape: Shape, old: Any, name: str, path: KeyPath) -> Any:
        if shape.kind not in IN_MANY_FIELDS:
            return self._written(shape, old, name)
        if shape.kind == "table":
            return self.table(shape.fields, old, name, path) or BLANK
        return (self._rows if shape.kind == "rows" else self._by_name)(shape, old, name, path) or BLANK

    def _written(self, shape: Shape, old: Any, name: str) -> Any:
        text = self.posted[name]
        if old is not None and text.replace("\r\n", "\n") == written(old, shape):
            return old
        try:
            return read_written(text, shape)
        except ValueError as exc:
            self.faults.setdefault(name, []).append(str(exc))
            return BLANK

    def _rows(self, shape: Shape, old: Any, name: str, path: KeyPath) -> list[Any]:
        rows: list[Any] = []
        for number in self._rows_kept(name):
            below = _below(name, number)
            before = old[number] if isinstance(old, list) and number < len(old) else {}
            self.names[(*path, len(rows))] = below
            rows.append(self.table(shape.fields, before, below, (*path, len(rows))))
        return rows

    def _by_name(self, shape: Shape, old: Any, name: str, path: KeyPath) -> dict[str, Any]:
        names = list(old or {})
        found: dict[str, Any] = {}
        for number in self._rows_kept(name):
            below = _below(name, number)
            before = {"name": names[number], "value": old[names[number]]} if number < len(names) else {}
            row = self.table(_row_shape(shape).fields, before, below, (*path, number))
            key = row.get("name")
            if key is None or key in found or "value" not in row:
                say = (
                    "write both, the name and what it says"
                    if key not in found
                    else f"{key!r} stands here twice"
                )
                self.faults.setdefault(below, []).append(say)
                continue
            found[key] = row["value"]
            self.names[(*path, key)] = below
        return found

    def _rows_kept(self, name: str) -> list[int]:
        """Return the rows that say something and are not to be removed."""
        return [
            number
            for number in _rows_posted(self.posted, name)
            if not self.posted.get(f"{name}.{number}.remove")
            and any(text.strip() for one, text in self.posted.items() if one.startswith(f"{name}.{number}."))
        ]


def _row_shape(shape: Shape) -> Shape:
    """Return the shape of a row: its fields, or the name and the value of what the owner names."""
    if shape.key is None or shape.of is None:
        return Shape("table", fields=shape.fields)
    return Shape(
        "table",
        fields=(
            Field("name", shape.key, is_required=True, heading=shape.names[0]),
            Field("value", shape.of, heading=shape.names[1]),
        ),
    )


def _rows_posted(posted: Posted, name: str) -> list[int]:
    row = re.compile(re.escape(name) + r"\.(\d{1,6})\.")
    return sorted({int(found[1]) for one in posted if (found := row.match(one))})


def _below(within: str, step: str | int) -> str:
    return f"{within}.{step}" if within else str(step)


def _same_as_default(new: Any, default: Any) -> bool:
    if isinstance(default, tuple):
        return isinstance(new, list) and new == list(default)
    return default is not None and isinstance(new, bool) == isinstance(default, bool) and bool(new == default)
