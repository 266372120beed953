"""What the owner's form would make of the market file: its new text, or what is wrong, at the field that it is of."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pipeline.desk.market_file.edit import Change, edited, tables_of, value_at
from pipeline.desk.market_file.faults import Fault, faults_in
from pipeline.desk.market_file.fields import Field, Shape, shape_at
from pipeline.desk.market_file.form import Answers, Posted, read_answers
from pipeline.desk.market_file.layout import KeyPath
from pipeline.desk.market_file.references import with_name_followed
from pipeline.desk.market_file.splice import shown
from pipeline.errors import MarketFileError

ENTRIES = "entries"
"""The field of a form that holds the entries of a list, where the form is of a whole list."""


@dataclass(frozen=True)
class Proposed:
    """The market file's text with a change, and what is wrong with it: by field, and elsewhere in the file."""

    text: str
    faults: dict[str, tuple[str, ...]]
    elsewhere: tuple[str, ...] = ()

    @property
    def is_good(self) -> bool:
        """Whether it can be saved."""
        return not self.faults and not self.elsewhere


def proposed_by_form(text: str, path: KeyPath, posted: Posted) -> Proposed:
    """Return what a posted form makes of what is at a path; what names it elsewhere follows a new name."""
    held = held_at(text, path)
    answers = read_answers(form_shape(path), posted, as_table(path, held))
    if answers.faults:
        return _refused(text, answers)
    value = _without_wrap(path, answers)
    changed = text if value == held else edited(text, Change("put", path, value))
    before, after = (one.get("name") if isinstance(one, Mapping) else None for one in (held, value))
    if len(path) == 2 and isinstance(path[1], int) and before and after and before != after:
        changed = with_name_followed(changed, str(path[0]), before, after)
    return _judged(changed, path, answers)


def proposed_entry(text: str, path: KeyPath, posted: Posted, name: str = "") -> Proposed:
    """Return what a posted form makes of a new entry of the list at a path, or of one under a new name there."""
    held = value_at(tables_of(text), path)
    if shape_at(path).kind == "by name" and not name:
        raise MarketFileError(
            f"a new entry of {shown(path)} needs a name; nothing was changed", "give it one."
        )
    entry: KeyPath = (*path, name or len(held or ()))
    if isinstance(held, Mapping) and name in held:
        raise MarketFileError(f"{shown(entry)} is there already; nothing was changed", "give another name.")
    answers = read_answers(form_shape(entry), posted, {})
    if answers.faults:
        return _refused(text, answers)
    value = _without_wrap(entry, answers)
    change = Change("put", entry, value) if name else Change("add", path, value)
    return _judged(edited(text, change), entry, answers)


def proposed_change(text: str, change: Change) -> Proposed:
    """Return what a change that no form makes would come to: an entry removed, or moved up."""
    return proposed_text(edited(text, change))


def proposed_text(text: str) -> Proposed:
    """Return a whole text that the owner wrote, with what is wrong with it."""
    return Proposed(text, {}, tuple(in_words(one) for one in faults_in(text)))


def in_words(fault: Fault) -> str:
    """Return a fault as a sentence, with where it is."""
    return f"{shown(fault.path)}: {fault.message}" if fault.path else fault.message


def held_at(text: str, path: KeyPath) -> Any:
    """Return what the market file holds at a path: an empty table, or list, where it has none yet.

    Raises MarketFileError where an entry of a list is not there.
    """
    held = value_at(tables_of(text), path)
    if held is None and any(isinstance(step, int) for step in path):
        raise MarketFileError(
            f"the market file has no {shown(path)}", "go back to the list, and choose again."
        )
    return ([] if shape_at(path).kind == "rows" else {}) if held is None else held


def form_shape(path: KeyPath) -> Shape:
    """Return what the form of a path asks for: a table's fields, or the entries of a list as its only field."""
    shape = shape_at(path)
    return shape if shape.kind == "table" else Shape("table", fields=(Field(ENTRIES, shape),))


def as_table(path: KeyPath, held: Any) -> Any:
    """Return what is held at a path as its form takes it."""
    return held if shape_at(path).kind == "table" else {ENTRIES: held}


def _without_wrap(path: KeyPath, answers: Answers) -> Any:
    if shape_at(path).kind == "table":
        return answers.table
    return answers.table.get(ENTRIES, [] if shape_at(path).kind == "rows" else {})


def _refused(text: str, answers: Answers) -> Proposed:
    return Proposed(text, {name: tuple(several) for name, several in answers.faults.items()})


def _judged(text: str, path: KeyPath, answers: Answers) -> Proposed:
    faults: dict[str, tuple[str, ...]] = {}
    elsewhere = []
    for fault in faults_in(text):
        if fault.path and fault.path[: len(path)] == path:
            below = fault.path[len(path) :]
            name = answers.name_of(below if shape_at(path).kind == "table" else (ENTRIES, *below))
            faults[name] = (*faults.get(name, ()), fault.message)
        else:
            elsewhere.append(in_words(fault))
    return Proposed(text, faults, tuple(elsewhere))
