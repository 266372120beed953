"""A map on its way in the desk: what a form says of it, over what is proposed or what the market file has."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, get_args

import tomlkit
from tomlkit.items import Table

from pipeline.alike import find_alike
from pipeline.answers.market_file.draft import KEYS, MapDraft
from pipeline.answers.market_file.map_text import map_name_for, with_map
from pipeline.config import ExportMap, Market, parse_market
from pipeline.desk.desk import Newest
from pipeline.errors import MapError, PairbandError
from pipeline.ingest.choice import maps_of_name
from pipeline.ingest.proposal import Holds, MapProposal, likely_holds, propose_map
from pipeline.ingest.readers import Hints
from pipeline.ingest.settings import Question

NEW_VENUE = "(new venue)"
"""What the form says where the venue is one that the market file does not have."""

KINDS = ("auction", "shop", "online")
LAYOUT = ("header_row", "sheets", "delimiter", "encoding", "records")
"""The keys that say how a file is laid out: its columns are others where they change."""

_OF_THE_PRICE = ("amounts", "price_basis", "quantity_price", "tax", "tax_rate", "tax_column")
_PROPOSALS: Newest[MapProposal] = Newest(20)
_AS_THE_MAP_HAS_IT = "as the map has it"


@dataclass(frozen=True)
class MapForm:
    """A map as a form has it: the proposal under it, the draft, and what is wrong by the field of the form.

    `unsaid` are the keys as they are where the form says nothing. `joined` holds the fields that several columns make
    up together, `instead` the map whose place it takes, `venue` one that the market file gets with it.
    """

    file: str
    holds: Holds
    proposal: MapProposal
    draft: MapDraft
    instead: str | None
    unsaid: Mapping[str, Any]
    joined: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    venue: Mapping[str, str] | None = None
    faults: Mapping[str, str] = field(default_factory=dict)

    def written_into(self, text: str) -> str:
        """Return the market file's text with the map, and with the new venue; raises MapError where it cannot be."""
        table = self._table(text)
        return with_map(text, self.draft.name, table, self.venue, instead=self.instead)

    def _table(self, text: str) -> Table:
        """Return the map as TOML: over the lines of the map that it changes, with what the form does not show."""
        made = self.draft.table()
        for name, columns in self.joined.items():
            made["columns"][name] = list(columns)
        if self.instead is None:
            return made
        maps: Any = tomlkit.parse(text)["maps"]
        kept: Table = maps[self.instead]
        _put(kept, made, KEYS)
        for part in ("columns", "status_words", "words"):
            if part in made or part in kept:
                _replace_part(kept, made, part)
        return kept


def _put(kept: Any, made: Any, keys: tuple[str, ...]) -> None:
    """Put values into a table where they differ; lines that stay keep their comments."""
    for key in keys:
        if key not in made:
            kept.pop(key, None)
        elif key not in kept or _plain(kept[key]) != _plain(made[key]):
            kept[key] = _plain(made[key])


def _replace_part(kept: Any, made: Any, part: str) -> None:
    if part not in made:
        kept.pop(part)
    elif part not in kept or part == "words":
        kept[part] = made[part]
    else:
        _put(kept[part], made[part], tuple(dict.fromkeys([*kept[part], *made[part]])))


def _plain(value: Any) -> Any:
    return value.unwrap() if hasattr(value, "unwrap") else value


def map_form(
    file: str, market: Market, said: Mapping[str, str], *, instead: str | None, name: str | None = None
) -> MapForm:
    """Return the map that a form makes of a file; `said` is empty before anything was said.

    Raises ExportError and MapError where the file cannot be read as it is said to be laid out.
    """
    path = Path(file)
    before = market.maps[instead] if instead is not None else None
    faults: dict[str, str] = {}
    hints = _hints(said, before, faults)
    holds = _holds(said, before) or likely_holds(_proposed(path, market, "sales", hints, None))
    plain = _proposed(path, market, holds, hints, None)
    headings = tuple(dict.fromkeys(one.column for one in plain.columns))
    columns = _columns(said, before, headings)
    chosen = None if columns is None else {name: several[0] for name, several in columns.items()}
    proposal = plain if chosen is None else _proposed(path, market, holds, hints, chosen)
    draft = MapDraft.of(proposal)
    if before is not None:
        draft = _over_map(draft, before, chosen or {})
    draft = replace(draft, name=instead or map_name_for(name or proposal.name, market))
    unsaid = draft.keys
    draft, venue = _with_keys(draft, said, market, faults)
    draft = _with_words(draft, said, faults)
    joined = {name: several for name, several in (columns or {}).items() if len(several) > 1}
    return MapForm(file, holds, proposal, draft, instead, unsaid, joined, venue, faults)


def _proposed(
    path: Path, market: Market, holds: Holds, hints: Hints, chosen: Mapping[str, str] | None
) -> MapProposal:
    """Return what is proposed for a file; the proposals made last are known, so that a form can ask as it changes."""
    try:
        seen = path.stat()
    except OSError:
        return propose_map(path, market, holds, hints, chosen)
    columns = None if chosen is None else tuple(chosen.items())
    held = hashlib.sha256(market.model_dump_json().encode()).digest()
    key = (path.resolve(), seen.st_mtime_ns, seen.st_size, held, holds, hints, columns)
    known = _PROPOSALS.get(key)
    return known or _PROPOSALS.keep(key, propose_map(path, market, holds, hints, chosen))


def _holds(said: Mapping[str, str], before: ExportMap | None) -> Holds | None:
    """Return what the owner says that the file holds; None where nothing was said."""
    wanted = said.get("key:holds", before.holds if before is not None else None)
    return next((one for one in get_args(Holds) if one == wanted), None)


def _hints(said: Mapping[str, str], before: ExportMap | None, faults: dict[str, str]) -> Hints:
    """Return how the file is laid out as far as the owner says it."""
    values = {}
    for key in LAYOUT:
        value = said.get(f"key:{key}", "").strip()
        if is_said(said, key):
            values[key] = value
        elif before is not None and (held := getattr(before, key)):
            values[key] = ", ".join(held) if isinstance(held, tuple) else str(held)
    row = values.get("header_row", "")
    if row and not (row.isdecimal() and 1 <= int(row) <= 1_000_000):
        faults["key:header_row"] = "Write the number of the row, such as 3."
        row = ""
    delimiter = values.get("delimiter") or None
    if delimiter is not None and len(delimiter) != 1:
        faults["key:delimiter"] = "Write the one sign between cells."
        delimiter = None
    sheets = tuple(part.strip() for part in values.get("sheets", "").split(",") if part.strip())
    return Hints(
        encoding=values.get("encoding") or None,
        delimiter=delimiter,
        header_row=int(row) if row else None,
        sheets=sheets,
        records=values.get("records") or None,
    )


def is_said(said: Mapping[str, str], key: str) -> bool:
    """Whether the owner changed a key: it is not what the form showed."""
    return f"key:{key}" in said and said[f"key:{key}"].strip() != said.get(f"was:{key}", "").strip()


def _columns(
    said: Mapping[str, str], before: ExportMap | None, headings: tuple[str, ...]
) -> dict[str, tuple[str, ...]] | None:
    """Return the columns of each field, as the form says or else the map; None where neither does."""
    found: dict[str, tuple[str, ...]] = {}
    posted = [name.split(":", 2)[2] for name in said if name.startswith("col:") and name.count(":") >= 2]
    if any(column in headings for column in posted):
        for name, wanted in said.items():
            if name.startswith("col:") and wanted and (column := name.split(":", 2)[2]) in headings:
                several = found.get(wanted, ())
                found[wanted] = several if column in several else (*several, column)
        return found
    if before is None:
        return None
    for wanted, names in before.columns.items():
        each = (names,) if isinstance(names, str) else names
        there = [heading for one in each if (heading := find_alike(one, headings)) is not None]
        if there:
            found[wanted] = tuple(there)
    return found


def _over_map(draft: MapDraft, before: ExportMap, chosen: Mapping[str, str]) -> MapDraft:
    """Return the draft with what the map has that it changes; what counts another price is asked again."""
    has_price = _first(before.columns.get("price_native")) == chosen.get("price_native")
    dropped = () if has_price else _OF_THE_PRICE
    keys = {
        key: getattr(before, key) for key in KEYS if key in before.model_fields_set and key not in dropped
    }
    questions = [one for one in draft.questions if one.key not in KEYS or one.key in dropped]
    said = {name: dict(words) for name, words in before.words.items()}
    return replace(
        draft,
        keys={key: value for key, value in keys.items() if value is not None},
        whys={**draft.whys, **dict.fromkeys(keys, _AS_THE_MAP_HAS_IT)},
        questions=tuple(questions),
        status_words={**draft.status_words, **before.status_words},
        open_words=tuple(word for word in draft.open_words if word not in before.status_words),
        words=said,
        unread={
            name: tuple(word for word in words if word not in said.get(name, {}))
            for name, words in draft.unread.items()
        },
    )


def _first(names: str | tuple[str, ...] | None) -> str | None:
    return names if names is None or isinstance(names, str) else names[0]


def _with_keys(
    draft: MapDraft, said: Mapping[str, str], market: Market, faults: dict[str, str]
) -> tuple[MapDraft, Mapping[str, str] | None]:
    """Return the draft with the keys that the owner changed, and the new venue where there is one."""
    venue = None
    for key in ("venue", *(one for one in KEYS if one != "venue")):
        if not is_said(said, key):
            continue
        value = said[f"key:{key}"].strip()
        if key == "venue" and value == NEW_VENUE:
            venue = _new_venue(said, market, faults)
            if venue is None:
                continue
            value = venue["name"]
        try:
            draft = draft.with_key(key, value or "none")
            if not value and (asked := _asked_again(draft, key)) is not None:
                draft = replace(draft, questions=(*draft.questions, asked))
        except MapError as exc:
            faults[f"key:{key}"] = str(exc)
    return draft, venue


def _asked_again(draft: MapDraft, key: str) -> Question | None:
    """Return the question for a key that the owner took out and a map cannot do without."""
    if key == "venue" or (key == "price_basis" and "price_native" in draft.columns):
        return Question(key, (), "a map cannot do without it")
    return None


def _new_venue(said: Mapping[str, str], market: Market, faults: dict[str, str]) -> dict[str, str] | None:
    name = " ".join(said.get("new-venue:name", "").split())
    kind = said.get("new-venue:kind", "")
    currency = said.get("new-venue:currency", "").strip().upper()
    if not name:
        faults["key:venue"] = "Write the name of the new venue."
    elif find_alike(name, [one.name for one in market.venues]) is not None:
        faults["key:venue"] = f"The market file has a venue {name!r} already: choose it from the list."
    elif kind not in KINDS:
        faults["key:venue"] = "Say what kind of venue it is."
    elif not (len(currency) == 3 and currency.isalpha() and currency.isascii()):
        faults["key:venue"] = "Write the venue's currency by its three letters, such as EUR."
    else:
        return {"name": name, "kind": kind, "currency": currency}
    return None


def _with_words(draft: MapDraft, said: Mapping[str, str], faults: dict[str, str]) -> MapDraft:
    """Return the draft with what the owner says of words: how an offer ended, a grade, a box, …"""
    for name, meaning in said.items():
        if not name.startswith("word:") or name.count(":") < 2:
            continue
        _, of, word = name.split(":", 2)
        try:
            draft = _with_word(draft, of, word, meaning)
        except PairbandError as exc:
            faults[name] = str(exc)
    return draft


def _with_word(draft: MapDraft, of: str, word: str, meaning: str) -> MapDraft:
    if of == "status":
        known = (*draft.status_words, *draft.open_words)
        if word not in known or meaning == draft.status_words.get(word, ""):
            return draft
        if meaning:
            return draft.with_status(word, meaning)
        left = {one: ending for one, ending in draft.status_words.items() if one != word}
        return replace(draft, status_words=left, open_words=(*draft.open_words, word))
    known = (*draft.unread.get(of, ()), *draft.words.get(of, {}))
    if word not in known or meaning == draft.words.get(of, {}).get(word, ""):
        return draft
    if meaning:
        return draft.translated(of, word, meaning)
    kept = {one: value for one, value in draft.words.get(of, {}).items() if one != word}
    words = (
        {**draft.words, of: kept} if kept else {name: one for name, one in draft.words.items() if name != of}
    )
    return replace(draft, words=words, unread={**draft.unread, of: (*draft.unread.get(of, ()), word)})


def market_with(form: MapForm, text: str, market: Market) -> Market:
    """Return the market as it will be with the map; raises PairbandError where it cannot be kept as it is."""
    written = form.written_into(text)
    made = parse_market(written, where="the market file").model_copy(update={"rates": market.rates})
    if form.draft.name not in maps_of_name(Path(form.file), made):
        raise MapError(
            f"the map would be for files called {form.draft.keys.get('files')!r}, and this one is not",
            "write another pattern under `files`, such as harbour_*.csv.",
        )
    return made
