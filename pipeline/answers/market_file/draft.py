"""A map on its way into the market file: what was proposed, what the owner answers and changes."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal, InvalidOperation
from typing import Any, Self

import tomlkit
from tomlkit.items import Item, Table

from pipeline.alike import find_alike
from pipeline.config import ExportMap
from pipeline.errors import MapError, suggest
from pipeline.ingest.heading_meaning import says_minor_units
from pipeline.ingest.proposal import MapProposal, meanings_of
from pipeline.ingest.settings import OF_EVERY_VENUE, OF_THE_VENUE, Question
from pipeline.schema import ENDINGS, PRICE_BASES, QUANTITY, SOURCE_FIELDS, STOCK_FIELDS

KEYS = tuple(
    name for name in ExportMap.model_fields if name not in ("columns", "status_words", "words", "skip")
)
"""The keys of a map that hold one value."""

SHORT_NAMES = {
    "price": "price_native", "ask": "ask_native", "size": "size_label", "lot": "lot_ref", "stock": "stock_ref",
    "sale": "sale_ref", "day": "closed_on", "date": "closed_on", "sold": "sold_on", "listed": "offered_on",
    "basis": "price_basis", "stamp": "stamp_text", "order": "date_order", "condition": "grade",
}  # fmt: skip
"""What an owner may call a field or key for short."""

NOTHING = ("", "none", "nothing", "-")
"""What takes a field or key out of the map."""

_LISTS = ("sheets", "fill_down")
"""The keys that hold several headings or names, which a line separates by commas."""

_FIELDS = (*SOURCE_FIELDS, *STOCK_FIELDS, QUANTITY)
"""What a column of a file may be read as."""

_ABOUT_THE_PRICE = ("amounts", "price_basis", "quantity_price", "tax", "tax_rate", "tax_column")
_LINE = re.compile(r"\s*(?P<key>[^=]+?)\s*=\s*(?P<value>.*?)\s*")


@dataclass(frozen=True)
class MapDraft:
    """A map as it stands: keys, columns (field → heading), words of the status column, and what is open.

    `whys` says of each key and column why it is so; `headings` are those of the file. `words` holds what the owner
    said of words of other columns, by field (box, grade, ...), `unread` those that mean nothing yet.
    """

    name: str
    keys: Mapping[str, Any]
    columns: Mapping[str, str]
    status_words: Mapping[str, str]
    whys: Mapping[str, str]
    headings: tuple[str, ...]
    questions: tuple[Question, ...] = ()
    open_words: tuple[str, ...] = ()
    words: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    unread: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @classmethod
    def of(cls, proposal: MapProposal) -> Self:
        """Return the draft of a proposal."""
        columns = {one.field: one.column for one in proposal.columns if one.field is not None}
        whys = {one.field: one.remark for one in proposal.columns if one.field is not None}
        status = proposal.words.get("status", {})
        return cls(
            name=proposal.name,
            keys={"files": proposal.files} | {one.key: one.value for one in proposal.settings},
            columns=columns,
            status_words={word: meaning for word, meaning in status.items() if meaning is not None},
            whys=whys | {one.key: one.why for one in proposal.settings},
            headings=tuple(dict.fromkeys(one.column for one in proposal.columns if one.example)),
            questions=proposal.questions,
            open_words=tuple(word for word, meaning in status.items() if meaning is None),
            unread={field: tuple(words) for field, words in proposal.words.items() if field != "status"},
        )

    def changed(self, line: str) -> Self:
        """Return the draft after a line such as `price = Hammer`, `price_basis = net` or `reserved = open`.

        Raises MapError where the line names no field, key or word, or a heading that the file does not have.
        """
        parts = _LINE.fullmatch(line)
        if parts is None:
            raise MapError(f"{line.strip()!r} changes nothing", "write a line such as `price = Hammer`.")
        key = parts["key"].strip("\"'` ")
        return self.answered(SHORT_NAMES.get(key.lower(), key), parts["value"].strip("\"'`"))

    def answered(self, key: str, value: str) -> Self:
        """Return the draft with a key, a field's column or a status word as the owner says.

        Of a name that is both (currency, venue, size_system) a heading of the file is the column, all else the key.
        A currency that was that of the venues goes with them: another venue's own counts.
        """
        words = (*self.status_words, *self.open_words)
        if key in _FIELDS and (key not in KEYS or find_alike(value, self.headings) is not None):
            left = replace(self, questions=tuple(one for one in self.questions if one.key != key))
            return left._with_column(key, value)
        if key in KEYS:
            return self.with_key(key, value)
        word = find_alike(key, words)
        if word is not None:
            return self.with_status(word, value)
        for other_field, several in self.unread.items():
            if (other := find_alike(key, several)) is not None:
                return self.translated(other_field, other, value)
        unread = [one for several in self.unread.values() for one in several]
        known = (*_FIELDS, *KEYS, *words, *unread)
        raise MapError(f"no field, key or status word is called {key!r}", suggest(key, known))

    def with_key(self, key: str, value: str) -> Self:
        """Return the draft with a key as the owner says, "none" for one that is taken out.

        Raises MapError where the value can be none of the key's.
        """
        settled = {key, "currency"} if key == "venue" and not self._has_signs() else {key}
        keys = self.keys
        if key == "venue" and self.whys.get("currency") in (OF_THE_VENUE, OF_EVERY_VENUE):
            keys = _without(keys, "currency")
        return replace(
            self,
            keys=_without(keys, key) | _scalar(key, value),
            whys=_without(self.whys, key),
            questions=tuple(one for one in self.questions if one.key not in settled),
        )

    def with_status(self, word: str, value: str) -> Self:
        """Return the draft with what a status word says of how an offer ended; raises MapError where it says none."""
        if value not in ENDINGS:
            raise MapError(f"{value!r} is no status", f"one of {', '.join(ENDINGS)}.")
        return replace(
            self,
            status_words={**self.status_words, word: value},
            open_words=tuple(one for one in self.open_words if one != word),
        )

    def translated(self, field: str, word: str, value: str) -> Self:
        """Return the draft with what a word of a field's column means: one of the field's values, or a grade.

        Raises MapError where it is none.
        """
        allowed = meanings_of(field)
        if field == "grade" and not is_grade(value):
            raise MapError(f"{value!r} is no grade", "write a number from 1 to 10 by halves, such as 8.5.")
        if field != "grade" and value not in allowed:
            raise MapError(f"{value!r} is no value of {field}", f"one of {', '.join(allowed)}.")
        said = {**self.words.get(field, {}), word: value.replace(",", ".")}
        left = tuple(one for one in self.unread.get(field, ()) if one != word)
        return replace(self, words={**self.words, field: said}, unread={**self.unread, field: left})

    def _has_signs(self) -> bool:
        """Whether cells name several currencies, so that a venue does not settle the question."""
        return any(one.key == "currency" and one.choices for one in self.questions)

    def _with_column(self, field: str, value: str) -> Self:
        """Return the draft with another column for a field; what was said of another price is asked again."""
        columns, whys = _without(self.columns, field), _without(self.whys, field)
        if value.lower() not in NOTHING:
            heading = find_alike(value, self.headings)
            if heading is None:
                raise MapError(f"the file has no column {value!r}", suggest(value, self.headings))
            columns = {other: name for other, name in columns.items() if name != heading} | {field: heading}
        changed = replace(self, columns=columns, whys=whys)
        if field == QUANTITY:
            return changed._with_price_of(QUANTITY in columns)
        if field != "price_native" or columns.get(field) == self.columns.get(field):
            return changed
        keys = {key: one for key, one in self.keys.items() if key not in _ABOUT_THE_PRICE}
        asked = tuple(one for one in self.questions if one.key not in _ABOUT_THE_PRICE)
        if field in columns:
            keys |= {"amounts": "minor"} if says_minor_units(columns[field]) else {}
            why = f"what does {columns[field]!r} count: the hammer price, all that the buyer paid, or the seller's net?"
            asked = (*asked, Question("price_basis", PRICE_BASES, why))
        return replace(changed, keys=keys, questions=asked)._with_price_of(QUANTITY in columns)

    def _with_price_of(self, counted: bool) -> Self:
        """Return the draft with the question whose price it is, where a column counts the pairs of a line."""
        kept = tuple(one for one in self.questions if one.key != "quantity_price")
        left = replace(self, keys=_without(self.keys, "quantity_price"), questions=kept)
        if not counted:
            return left
        why = "is the price that of the line, all its pairs together, or of the unit, one pair?"
        return replace(left, questions=(*kept, Question("quantity_price", ("line", "unit"), why)))

    def table(self) -> Table:
        """Return the map as a TOML table, each key with why it is so."""
        table = tomlkit.table()
        for key in KEYS:
            if key in self.keys:
                table.add(key, _item(self.keys[key], self.whys.get(key, "")))
        columns = tomlkit.table()
        for name in _FIELDS:
            if name in self.columns:
                columns.add(name, _item(self.columns[name], self.whys.get(name, "")))
        table.add("columns", columns)
        if self.status_words:
            words = tomlkit.table()
            for word, status in self.status_words.items():
                words.add(word, status)
            table.add("status_words", words)
        if said := {name: several for name, several in self.words.items() if name in self.columns}:
            table.add("words", tomlkit.item(said))
        return table


def is_grade(value: str) -> bool:
    """Whether a text is a grade: from 1 to 10, by halves."""
    return re.fullmatch(r"(?:[1-9](?:[.,][05])?|10(?:[.,]0)?)", value) is not None


def _without(values: Mapping[str, Any], key: str) -> dict[str, Any]:
    return {other: value for other, value in values.items() if other != key}


def _scalar(key: str, value: str) -> dict[str, Any]:
    """Return the key with its value as the market file holds it; nothing where the owner takes it out."""
    if value.lower() in NOTHING:
        return {}
    if key == "header_row":
        return {key: int(value)} if value.isdecimal() else {key: value}
    if key != "tax_rate":
        return {key: [part.strip() for part in value.split(",")]} if key in _LISTS else {key: value}
    try:
        share = Decimal(value.removesuffix("%").strip().replace(",", "."))
    except InvalidOperation as exc:
        raise MapError(f"{value!r} is no rate", "write a share such as 0.19, or 19 %.") from exc
    return {key: share / 100 if value.endswith("%") or share >= 1 else share}


def _item(value: Any, why: str) -> Item:
    plainer = list(value) if isinstance(value, tuple) else value
    held = tomlkit.item(float(value) if isinstance(value, Decimal) else plainer)
    plain = re.sub(r"[\x00-\x1f\x7f]+", " ", why)
    return held.comment(plain) if plain else held
