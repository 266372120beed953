"""What the owner's form would make of the market file: its new text, or what is wrong, at the field that it is of."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pipeline.desk.market_file.edit import WHERE, Change, edited, value_at
from pipeline.desk.market_file.faults import Fault, faults_in
from pipeline.desk.market_file.fields import shape_at
from pipeline.desk.market_file.form import Answers, Posted, read_answers
from pipeline.desk.market_file.layout import Path
from pipeline.desk.market_file.references import with_name_followed
from pipeline.desk.market_file.splice import shown
from pipeline.errors import MarketFileError
from pipeline.toml_text import parse_toml


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


def proposed_by_form(text: str, path: Path, posted: Posted) -> Proposed:
    """Return what a posted form makes of the table at a path; what names it elsewhere follows a new name."""
    table = _table_at(text, path)
    answers = read_answers(shape_at(path), posted, table)
    if answers.faults:
        return _refused(text, answers)
    changed = text if answers.table == table else edited(text, Change("put", path, answers.table))
    before, after = table.get("name"), answers.table.get("name")
    if len(path) == 2 and before and after and before != after:
        changed = with_name_followed(changed, str(path[0]), before, after)
    return _judged(changed, path, answers)


def proposed_entry(text: str, path: Path, posted: Posted, name: str = "") -> Proposed:
    """Return what a posted form makes of a new entry of the list at a path, or of one under a new name there."""
    held = value_at(parse_toml(text, where=WHERE), path)
    if shape_at(path).kind == "by name" and not name:
        raise MarketFileError(
            f"a new entry of {shown(path)} needs a name; nothing was changed", "give it one."
        )
    entry: Path = (*path, name or len(held or ()))
    answers = read_answers(shape_at(entry), posted, {})
    if answers.faults:
        return _refused(text, answers)
    if isinstance(held, Mapping) and name in held:
        raise MarketFileError(f"{shown(entry)} is there already; nothing was changed", "give another name.")
    change = Change("put", entry, answers.table) if name else Change("add", path, answers.table)
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


def _table_at(text: str, path: Path) -> dict[str, Any]:
    table = value_at(parse_toml(text, where=WHERE), path)
    if isinstance(table, Mapping):
        return dict(table)
    if table is None and not any(isinstance(step, int) for step in path):
        return {}
    raise MarketFileError(f"the market file has no {shown(path)}", "go back to the list, and choose again.")


def _refused(text: str, answers: Answers) -> Proposed:
    return Proposed(text, {name: tuple(several) for name, several in answers.faults.items()})


def _judged(text: str, path: Path, answers: Answers) -> Proposed:
    faults: dict[str, tuple[str, ...]] = {}
    elsewhere = []
    for fault in faults_in(text):
        if fault.path and fault.path[: len(path)] == path:
            name = answers.name_of(fault.path[len(path) :])
            faults[name] = (*faults.get(name, ()), fault.message)
        else:
            elsewhere.append(in_words(fault))
    return Proposed(text, faults, tuple(elsewhere))
