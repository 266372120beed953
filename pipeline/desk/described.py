"""The form by which a pair is described on the desk: its fields in groups, with the market file's own names."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from urllib.parse import urlencode

from starlette.requests import Request

from pipeline.config import Market
from pipeline.desk.calls import Called, command_named
from pipeline.desk.desk import Desk
from pipeline.desk.forms import OPTION_NAMES, Field, Form, form_of, label_of
from pipeline.desk.pages import desk_of
from pipeline.market.subject import SINGULAR

WORDS = ("silhouette", "colourway", "era", "size", "grade")
BESIDES = ("box", "tags", "overlay", "parts", "defects", "treatments")
"""The fields that describe the pair itself."""

LABELS = {
    "venue": "Venue",
    "label": "What you call it",
    "as_written": "Take the silhouette's name as it is",
    "row": "Row of the list",
    "file": "From a list",
    "patience": "Days to wait",
    "made": "Said to be of",
}
HINTS = {
    "silhouette": "",
    "colourway": "",
    "era": "",
    "grade": "1 to 10 by half, or your word.",
    "size": "As on the label: UK 9, EU 43 1/3, 275 mm.",
    "box": "",
    "tags": "",
    "overlay": "",
    "parts": "With commas between, or none.",
    "defects": "With commas between, or none.",
    "treatments": "With commas between, or none.",
    "venue": "Where it is sold; left out, anywhere.",
    "label": "A stock number or a name, for sheets and tickets.",
    "as_of": "Left out, today.",
    "era_odds": "“sales” for odds learned from your records, or your own: first=0.7, second=0.3. Leave the era empty.",
    "lasting": "board or foam, or your word.",
    "factory_code": "The code on the label.",
    "stamp": "The label's months: 03/86-06/86 KX2.",
    "made": "Years in words: 1980s, 1984-86.",
    "file": "A list of stock or of lots; what you say besides goes before it.",
    "row": "Counted from 1; left out, all of them are listed.",
    "as_written": "",
}
"""What is said under a field, where the help of its option is for the command line."""

_NAMED = re.compile(r"--([a-z][a-z-]*)")
_FIRST_WORD = re.compile(r"(?:The )?(?:chance of the )?(\w+)")
_OF_FIRST_WORD = {
    **{one: several for several, one in SINGULAR.items()},
    "no": "silhouette",
    "pair": "silhouette",
    "odds": "era_odds",
    "factory": "factory_code",
}


@dataclass(frozen=True)
class Group:
    """Fields that stand together under a heading; `open` where they are seen without being asked for."""

    heading: str
    fields: tuple[Field, ...]
    open: bool = True


def form_of_pair(
    request: Request,
    command: str,
    *,
    without: tuple[str, ...] = (),
    hints: Mapping[str, str] = HINTS,
) -> Form:
    """Return the form of a command that values described pairs, filled from a request's address."""
    desk = desk_of(request)
    market = desk.market()
    stated = dict(request.query_params)
    form = form_of(command_named(command), stated, market=market, files=desk.lists(), without=without)
    return Form(form.command, tuple(_for_the_desk(one, stated, market, hints) for one in form.fields))


def _for_the_desk(
    one: Field, said: Mapping[str, str], market: Market | None, hints: Mapping[str, str]
) -> Field:
    """Return a field as the desk asks for it: its label, its hint, the names that fit what is said already."""
    offered = one.offered
    if market is not None:
        offered = _offered(one.name, said, market) or offered
    return replace(
        one,
        label=LABELS.get(one.name, one.label),
        hint=hints.get(one.name, one.hint),
        offered=tuple(offered),
    )


def _offered(name: str, said: Mapping[str, str], market: Market) -> tuple[str, ...]:
    match name:
        case "colourway":
            wanted = said.get("silhouette", "").strip().casefold()
            return tuple(
                colourway.name
                for silhouette in market.silhouettes
                if silhouette.name.casefold() == wanted
                for colourway in silhouette.colourways
            )
        case "grade":
            return tuple(market.words.grades)
        case "parts":
            return ("none", *(one.name for one in market.parts))
        case "lasting":
            return ("board", "foam")
        case "era_odds":
            return ("sales",)
        case "language":
            return tuple(dict.fromkeys(("en", "de", "ja", *market.phrases)))
    return ()


def groups_of(form: Form, *headed: tuple[str, tuple[str, ...], bool] | Group) -> tuple[Group, ...]:
    """Return the fields of a form in groups (heading, names, whether open), with groups of other fields among them.

    A group with something said in it is always open.
    """
    by_name = {one.name: one for one in form.fields}
    groups = []
    for group in headed:
        if isinstance(group, Group):
            groups.append(group)
            continue
        heading, names, is_open = group
        fields = tuple(by_name[name] for name in names)
        groups.append(Group(heading, fields, is_open or any(one.value or one.fault for one in fields)))
    return tuple(groups)


def with_fault(form: Form, fault: str) -> tuple[Form, str]:
    """Return the form with an error's words at the field that they are of, and those that are of no field."""
    if not fault:
        return form, ""
    name = _field_of(fault, {one.name for one in form.fields})
    words = in_words_of_the_desk(fault)
    if name is None:
        return form, words
    return (
        Form(
            form.command,
            tuple(replace(one, fault=words) if one.name == name else one for one in form.fields),
        ),
        "",
    )


def in_words_of_the_desk(fault: str) -> str:
    """Return an error's words on one line, with options named as their fields are."""
    own = _NAMED.sub(
        lambda found: f"“{label_on_desk(found[1])}”",
        re.sub(r"^Invalid value for '?(--[a-z-]+|[A-Z]+)'?: ", "", fault).replace("`", ""),
    )
    lines = [line.strip() for line in own.splitlines() if line.strip()]
    return " ".join(line[:1].upper() + line[1:].rstrip(".") + "." for line in lines)


def label_on_desk(option: str) -> str:
    """Return what the field of an option is called."""
    name = OPTION_NAMES.get(option, option.replace("-", "_"))
    return LABELS.get(name, label_of(name))


def _field_of(fault: str, names: set[str]) -> str | None:
    """Return the name of the field that an error is of: the option that it names at its head, or its first word."""
    invalid = re.match(r"Invalid value for '?--([a-z-]+)", fault)
    if invalid:
        name = OPTION_NAMES.get(invalid[1], invalid[1].replace("-", "_"))
        return name if name in names else None
    if fault.startswith("'") and " may be " in fault:
        return "silhouette" if "silhouette" in names else None
    if re.match(r"(The )?(era odds|chance of the era)", fault, re.IGNORECASE):
        return "era_odds" if "era_odds" in names else None
    found = _FIRST_WORD.match(fault)
    word = found[1].casefold() if found else ""
    name = _OF_FIRST_WORD.get(word, word)
    return name if name in names else None


def query_of(form: Form, *names: str, **more: str) -> str:
    """Return a form's values as the query of an address, "" where there is none; those of `names` alone, if any."""
    said = {one.name: one.value for one in form.fields if not names or one.name in names}
    return query_of_words({**said, **more})


def query_of_words(words: Mapping[str, str]) -> str:
    """Return words by field as the query of an address, "" where none says anything."""
    found = urlencode({name: value for name, value in words.items() if value})
    return f"?{found}" if found else ""


def say_kept(desk: Desk, called: Called) -> None:
    """Have the next page say what a command with `--keep` has kept."""
    if called.fault:
        desk.notices.add(in_words_of_the_desk(called.fault))
        return
    kept = next(line.split(";")[0] for line in called.said if line.startswith("kept "))
    desk.notices.add(f"K{kept[1:]}.", "What becomes of kept values", "/outcomes")
