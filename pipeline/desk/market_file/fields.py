"""What a market file may hold, as a form can ask for it; read off the models, so that a new key needs no line here."""

import re
import types
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from functools import cache
from inspect import cleandoc
from typing import Annotated, Any, Literal, Union, get_args, get_origin

import annotated_types
from pydantic import AliasChoices, BaseModel, TypeAdapter, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from pipeline.config import Market
from pipeline.desk.market_file.labels import LABELS, ROWS
from pipeline.desk.market_file.layout import KeyPath
from pipeline.errors import MarketFileError

Kind = Literal[
    "text",
    "paragraphs",
    "number",
    "whole",
    "day",
    "yes or no",
    "choice",
    "words",
    "one or several",
    "rows",
    "table",
    "by name",
    "toml",
]
IN_MANY_FIELDS = ("rows", "table", "by name")
"""The kinds that a form asks for in several fields; all others are one field each."""

LONG_TEXT = 1000
"""A text that may be longer, and hold line breaks, is asked for in several lines."""


@dataclass(frozen=True)
class Shape:
    """What a value may be.

    `fields` are those of a table, or of each row; `of` is the shape of what a "by name" holds under each name, `key`
    that of its names, and `names` are what both are called. `is_share` is of numbers below 1.
    """

    kind: Kind
    choices: tuple[str, ...] = ()
    fields: "tuple[Field, ...]" = ()
    of: "Shape | None" = None
    key: "Shape | None" = None
    names: tuple[str, str] = ("Name", "Value")
    longest: int | None = None
    is_share: bool = False

    @property
    def is_inline(self) -> bool:
        """Whether a form asks for it among other fields; otherwise it has a page of its own."""
        if self.kind == "rows":
            return all(field.shape.kind not in IN_MANY_FIELDS for field in self.fields)
        if self.kind == "table":
            return all(field.shape.is_inline for field in self.fields)
        return self.of is None or self.of.kind not in IN_MANY_FIELDS


@dataclass(frozen=True)
class Field:
    """A key of a table: its earlier names, whether it must be there, what holds without it, and what it means."""

    key: str
    shape: Shape
    is_required: bool = False
    default: Any = None
    meaning: str = ""
    earlier: tuple[str, ...] = ()
    heading: str = ""

    @property
    def label(self) -> str:
        """What it is called: its own heading, or the key as one."""
        if self.heading:
            return self.heading
        words = self.key.replace("_", " ")
        return words[:1].upper() + words[1:]

    def key_in(self, table: Any) -> str:
        """Return the name by which a table gives this key."""
        return next(
            (one for one in (self.key, *self.earlier) if isinstance(table, dict) and one in table), self.key
        )


@cache
def market_shape() -> Shape:
    """Return the shape of the whole market file."""
    return _of_model(Market)


def shape_at(path: KeyPath) -> Shape:
    """Return the shape of what stands at a path; raises MarketFileError where nothing can."""
    shape: Shape | None = market_shape()
    for step in path:
        if shape is None:
            break
        if shape.kind == "rows":
            shape = Shape("table", fields=shape.fields) if isinstance(step, int) else None
        elif shape.kind == "by name":
            shape = shape.of
        else:
            shape = next((one.shape for one in shape.fields if step in (one.key, *one.earlier)), None)
    if shape is None:
        raise MarketFileError(
            f"a market file holds nothing at {'.'.join(map(str, path))}", "go back to the list of its tables."
        )
    return shape


def meaning_of(path: KeyPath) -> str:
    """Return what a table of the market file is, in the words of its model."""
    model: type[BaseModel] | None = Market
    for step in path:
        if model is not None and step in model.model_fields:
            model = next(_models_in(model.model_fields[str(step)].annotation), None)
    return " ".join(cleandoc(model.__doc__ or "").split()) if model is not None and path else ""


def is_labelled(path: KeyPath) -> bool:
    """Whether every field of the table at a path says what to write in it."""
    return bool(shape_at(path).fields) and all(one.heading for one in shape_at(path).fields)


def _models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for one in get_args(annotation):
        yield from _models_in(one)


def _of_model(model: type[BaseModel]) -> Shape:
    return Shape("table", fields=tuple(_field(model, key, one) for key, one in model.model_fields.items()))


def _field(model: type[BaseModel], key: str, info: FieldInfo) -> Field:
    default = info.get_default(call_default_factory=True, validated_data={})
    heading, says = LABELS.get(model.__name__, {}).get(key, ("", None))
    shape = _shape(Annotated[info.annotation, *info.metadata] if info.metadata else info.annotation)
    aliases = info.validation_alias.choices if isinstance(info.validation_alias, AliasChoices) else ()
    return Field(
        heading=heading,
        key=key,
        shape=replace(shape, names=ROWS[key]) if key in ROWS else shape,
        is_required=info.is_required(),
        default=None if default is PydanticUndefined or isinstance(default, BaseModel) else default,
        meaning=says if says is not None else _meaning(model.__doc__ or "", key) or (info.description or ""),
        earlier=tuple(str(one) for one in aliases if one != key),
    )


def _meaning(text: str, key: str) -> str:
    """Return those sentences of a model's description that name a key."""
    sentences = re.split(r"(?<=[.;]) ", " ".join(cleandoc(text).split()))
    return " ".join(f"{one.rstrip(';.')}." for one in sentences if f"`{key}`" in one)


def _shape(annotation: Any) -> Shape:
    bare, limits = _taken_apart(annotation)
    origin, inner = get_origin(bare), get_args(bare)
    if origin is Literal or (
        origin in (Union, types.UnionType) and all(get_origin(one) is Literal for one in inner)
    ):
        return Shape("choice", choices=_choices(bare))
    if bare is str:
        longest = next((one.max_length for one in limits if isinstance(one, annotated_types.MaxLen)), None)
        return Shape("paragraphs" if _takes_lines(annotation, longest) else "text", longest=longest)
    if isinstance(bare, type):
        return _of_type(bare, limits)
    if origin is tuple:
        return _of_list(inner)
    if origin is dict:
        return _of_names(*inner)
    kinds = [_shape(one) for one in inner]
    if origin in (Union, types.UnionType) and [one.kind for one in kinds] == ["text", "words"]:
        return Shape("one or several")
    return Shape("toml")


def _taken_apart(annotation: Any) -> tuple[Any, list[Any]]:
    """Return a type without None and without what is said of it, and what is said."""
    limits: list[Any] = []
    while True:
        if get_origin(annotation) is Annotated:
            annotation, *said = get_args(annotation)
            limits += [
                part for one in said for part in (one.metadata if isinstance(one, FieldInfo) else [one])
            ]
        elif get_origin(annotation) in (Union, types.UnionType) and type(None) in get_args(annotation):
            annotation = Union[tuple(one for one in get_args(annotation) if one is not type(None))]  # noqa: UP007
        else:
            return annotation, limits


def _of_type(bare: type, limits: list[Any]) -> Shape:
    if issubclass(bare, BaseModel):
        return _of_model(bare)
    if bare is bool:
        return Shape("yes or no", choices=("yes", "no"))
    if bare is int:
        return Shape("whole")
    if bare in (float, Decimal):
        below_one = any(isinstance(one, annotated_types.Lt) and one.lt == 1 for one in limits)
        return Shape("number", is_share=below_one)
    return Shape("day" if bare is date else "toml")


def _of_list(inner: tuple[Any, ...]) -> Shape:
    entry = _shape(inner[0]) if inner[1:] == (...,) else Shape("toml")
    if entry.kind == "text":
        return Shape("words", longest=entry.longest)
    return Shape("rows", fields=entry.fields) if entry.kind == "table" else Shape("toml")


def _of_names(key: Any, held: Any) -> Shape:
    names, of = _shape(key), _shape(held)
    if names.kind == "choice":
        return Shape("table", fields=tuple(Field(one, of) for one in names.choices))
    return Shape("by name", key=names, of=of)


def _choices(annotation: Any) -> tuple[str, ...]:
    return tuple(
        choice
        for one in get_args(annotation)
        for choice in (_choices(one) if get_origin(one) is Literal else (one,))
    )


def _takes_lines(annotation: Any, longest: int | None) -> bool:
    """Whether a text may hold line breaks, and be long."""
    if longest is None or longest < LONG_TEXT:
        return False
    try:
        TypeAdapter(annotation).validate_python("one\ntwo")
    except ValidationError:
        return False
    return True
