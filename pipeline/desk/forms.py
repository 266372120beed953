"""The options of a command as the fields of a form, and a form's values as what would be typed."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

import click

from pipeline.config import Market
from pipeline.options import OUTPUT, OUTPUT_FOLDER, Day

HIDDEN = (
    "market",
    "ledger",
    "as_json",
    "json",
    "figure",
    "figure_format",
    "help",
    "force",
    "details",
    "yes",
    "keep",
)
"""What a form never asks for: where the desk's files are, and how a terminal prints."""

LABELS = {
    "as_of": "Valued on",
    "listed_on": "The list is of",
    "era_odds": "Odds of the era",
    "at_price": "At a price of",
    "sells_at": "Resale at",
    "on_day": "On the day",
    "said": "Text",
    "file_name": "Of the file",
    "only_left_out": "Not in the fit",
    "only_corrected": "Corrected by me",
}
"""What a field is called where the name of its option does not say it."""


OPTION_NAMES = {"on": "as_of", "text": "said", "not-in-fit": "only_left_out", "corrected": "only_corrected"}
"""The fields of options that are called otherwise on the command line."""


def label_of(name: str) -> str:
    """Return what a field is called on a form."""
    return LABELS.get(name, name.replace("_", " ").capitalize())


@dataclass(frozen=True)
class Field:
    """One field of a form: how it is asked for, what it may be, what it is now.

    `kind` is "choice", "flag", "day", "number" or "text"; `offered` are values to choose from, which for a text are
    suggestions.
    """

    name: str
    label: str
    kind: str
    hint: str
    offered: tuple[str, ...] = ()
    value: str = ""
    fault: str = ""
    needed: bool = False


@dataclass(frozen=True)
class Form:
    """The fields of a command, and which of its files the desk knows."""

    command: click.Command
    fields: tuple[Field, ...] = field(default=())

    @property
    def fields_wrong(self) -> tuple[Field, ...]:
        """The fields with something wrong."""
        return tuple(one for one in self.fields if one.fault)

    def arguments(self) -> list[str]:
        """Return what would be typed after the command's name for the values that the form holds."""
        by_name = {parameter.name: parameter for parameter in self.command.params}
        typed: list[str] = []
        last: list[str] = []
        for one in self.fields:
            parameter = by_name[one.name]
            if not one.value:
                continue
            if isinstance(parameter, click.Argument):
                last.append(one.value)
            elif one.kind == "flag":
                typed.append(parameter.opts[0])
            else:
                typed.append(f"{parameter.opts[0]}={one.value}")
        return [*typed, "--", *last] if last else typed


def form_of(
    command: click.Command,
    said: Mapping[str, str],
    *,
    market: Market | None,
    files: Sequence[str] = (),
    without: Collection[str] = (),
) -> Form:
    """Return the form of a command, filled with what was `said` by field; `files` are those that can be named."""
    fields = []
    for parameter in command.params:
        name = parameter.name or ""
        if name in HIDDEN or name in without or parameter.type in (OUTPUT, OUTPUT_FOLDER):
            continue
        fields.append(_field(parameter, name, said.get(name, "").strip(), market, files))
    return Form(command, tuple(fields))


def _field(
    parameter: click.Parameter, name: str, value: str, market: Market | None, files: Sequence[str]
) -> Field:
    label = label_of(name)
    hint = (parameter.help or "") if isinstance(parameter, click.Option) else ""
    needed = parameter.required
    kind: str
    offered: tuple[str, ...] = ()
    if isinstance(parameter, click.Option) and parameter.is_flag:
        kind, value = "flag", "yes" if value else ""
    elif isinstance(parameter.type, click.Choice):
        kind, offered = "choice", tuple(str(one) for one in parameter.type.choices)
        if not value and isinstance(parameter.default, str):
            value = parameter.default
    elif name in ("file", "lots_file", "stock") and parameter.type.name == "path":
        kind, offered = "choice", tuple(files)
        value = (
            value if value in files else ""
        )  # a file is one that the desk lists, never a path of a request
    elif isinstance(parameter.type, Day):
        kind = "day"
    elif parameter.type.name.startswith(("float", "integer")):
        kind = "number"
    else:
        kind, offered = "text", _suggested(name, market)
    return Field(name, label, kind, hint, offered, value, needed=needed)


def _suggested(name: str, market: Market | None) -> tuple[str, ...]:
    """Return the market file's own names for a field."""
    if market is None:
        return ()
    match name:
        case "silhouette":
            return tuple(one.name for one in market.silhouettes)
        case "era":
            return tuple(one.name for one in market.eras)
        case "venue" | "sells_at":
            return tuple(one.name for one in market.venues)
        case "colourway":
            return tuple(dict.fromkeys(c.name for s in market.silhouettes for c in s.colourways))
        case "box":
            return ("original", "replacement", "none")
        case "tags":
            return ("attached", "loose", "none")
        case "overlay":
            return ("leather", "vinyl", "textile")
        case "defects":
            return ("none", *(one.name for one in market.defects))
        case "treatments":
            return ("none", *(one.name for one in market.treatments))
    return ()
