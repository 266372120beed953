"""Make a map together with the owner in a terminal, and write it into the market file."""

from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from pipeline.answers.market_file.draft import MapDraft
from pipeline.answers.market_file.map_text import map_name_for, maps_for, with_map
from pipeline.answers.market_file.preview import first_rows
from pipeline.answers.market_file.tables import draft_sheet, preview_sheet
from pipeline.clock import today
from pipeline.config import MOST_BYTES, Market, load_market, parse_market
from pipeline.errors import MarketFileError, PairbandError
from pipeline.ingest.proposal import Holds, MapProposal, meanings_of, propose_likely_map
from pipeline.outfile import edit_market_file
from pipeline.plain_file import read_plain_file
from pipeline.schema import ENDINGS
from pipeline.streams import say
from pipeline.terminal.questions import agrees, ask, choose
from pipeline.terminal.sheet import show_sheet

_NEW_VENUE = "a venue that the market file does not have yet"
_KINDS = ("auction", "shop", "online")
_SAMPLED = {
    "date_order": ("sold_on", "closed_on", "offered_on"),
    "decimal_mark": ("price_native",),
    "currency": ("price_native",),
    "amounts": ("price_native",),
    "price_basis": ("price_native",),
    "tax_rate": ("price_native",),
    "size_system": ("size_label",),
    "venue": ("venue",),
}
"""The fields whose cells show what a key is about."""


_NEXT: dict[Holds, str] = {"sales": "ingest", "stock": "ingest", "lots": "lots"}
"""The command that reads a file next, by what it holds."""


class _Talk(NamedTuple):
    """What stays the same while the owner answers."""

    file: Path
    path: Path
    text: str
    market: Market
    samples: dict[str, tuple[str, ...]]
    instead: str | None


def map_in_terminal(file: Path, path: Path, said: Holds | None = None) -> None:
    """Propose a map for a file, ask what is open, show how its rows are read, and write it as the owner wants it.

    Nothing is written before the owner says so. Raises PairbandError where the file or the market file cannot be
    read, or the market file was changed meanwhile.
    """
    before = read_plain_file(
        path, "market file", MOST_BYTES, fault=MarketFileError, missing="`pairband init` writes a starter."
    )
    market = load_market(path)
    holds, proposal = propose_likely_map(file, market, said)
    claimed = maps_for(file.name, market)
    instead = claimed[0] if claimed else None
    if instead is not None:
        say(f"The map {instead!r} is for files of this name already.")
        if not agrees("Put a new one in its place?"):
            say("Nothing was written.")
            return
    draft = replace(MapDraft.of(proposal), name=instead or map_name_for(proposal.name, market))
    show_sheet(draft_sheet(draft, file.name), limits=False)
    talk = _Talk(file, path, before.decode("utf-8-sig"), market, _samples(proposal), instead)
    written = _settle(draft, talk)
    if written is None:
        say("Nothing was written.")
        return
    mark = b"\xef\xbb\xbf" if before.startswith(b"\xef\xbb\xbf") else b""
    earlier = edit_market_file(path, before, mark + written.encode())
    say(f"\nThe map {draft.name!r} is in {path}; its earlier text is in {earlier}.")
    say(f"Next: `pairband {_NEXT[holds]} {file}`.")


def _samples(proposal: MapProposal) -> dict[str, tuple[str, ...]]:
    return {one.column: one.samples for one in proposal.columns}


def _settle(draft: MapDraft, talk: _Talk) -> str | None:
    """Return the market file's text with the map that the owner settles on, or None where they leave."""
    venue: dict[str, str] | None = None
    asked: set[str] = set()
    while True:
        draft, venue = _ask(draft, venue, asked, talk)
        text = _shown(draft, venue, talk)
        say("\nEnter writes the map. A line such as `price = Hammer` changes it. q leaves without writing.")
        line = ask(">", suffix=" ")
        if line.lower() in ("q", "quit", "exit"):
            return None
        if line:
            try:
                draft = draft.changed(line)
            except PairbandError as exc:
                say(str(exc))
        elif text is not None and not draft.questions:
            return text
        else:
            asked.clear()


def _ask(
    draft: MapDraft, venue: dict[str, str] | None, asked: set[str], talk: _Talk
) -> tuple[MapDraft, dict[str, str] | None]:
    """Ask what is open and was not asked yet; what stays without an answer stays open."""
    while (question := next((one for one in draft.questions if one.key not in asked), None)) is not None:
        asked.add(question.key)
        columns = [draft.columns[field] for field in _SAMPLED.get(question.key, ()) if field in draft.columns]
        samples = [cell for column in columns[:1] for cell in talk.samples.get(column, ())]
        choices = question.choices
        if question.key == "venue":
            choices = (*choices, _NEW_VENUE)
        answer = choose(f"{question.key}: {question.why}", samples, choices)
        if (
            question.key == "venue"
            and answer
            and "=" not in answer
            and answer not in talk.market.venue_by_name
        ):
            venue = _new_venue("" if answer == _NEW_VENUE else answer)
            answer = venue["name"] if venue is not None else ""
        if not answer:
            continue
        try:
            draft = draft.changed(answer) if "=" in answer else draft.answered(question.key, answer)
        except PairbandError as exc:
            say(str(exc))
            asked.discard(question.key)
    for word in draft.open_words:
        if word in asked:
            continue
        asked.add(word)
        answer = choose(f"What does {word!r} say of how an offer ended?", (), ENDINGS)
        if answer in ENDINGS:
            draft = draft.answered(word, answer)
    return _ask_of_words(draft, asked), venue


def _ask_of_words(draft: MapDraft, asked: set[str]) -> MapDraft:
    """Ask what words of other columns say (box, grade, ...); what stays without an answer is not known."""
    for field, word in [(field, word) for field, several in draft.unread.items() for word in several]:
        if field not in draft.columns or (key := f"{field}: {word}") in asked:
            continue
        asked.add(key)
        of_grade = field == "grade"
        question = f"What {'grade from 1 to 10 is' if of_grade else 'does'} {word!r}"
        question += "?" if of_grade else f" say of the {field}?"
        while answer := choose(question, (), () if of_grade else meanings_of(field)):
            try:
                draft = draft.translated(field, word, answer)
                break
            except PairbandError as exc:
                say(str(exc))
    return draft


def _new_venue(name: str) -> dict[str, str] | None:
    """Ask for a venue that the market file does not have; None where the owner leaves it open."""
    name = name or ask("  Its name")
    if not name:
        return None
    kind = choose(f"What kind of venue is {name!r}?", (), _KINDS)
    currency = ask("  Its currency (such as EUR)").upper()
    say("  Its fees are yours to add: without them it takes nothing from buyers or sellers.")
    return {"name": name, "kind": kind, "currency": currency}


def _shown(draft: MapDraft, venue: dict[str, str] | None, talk: _Talk) -> str | None:
    """Show the first rows as the map reads them; return the market file's text with it, None where it is not good."""
    new = venue if venue is not None and draft.keys.get("venue") == venue["name"] else None
    for question in draft.questions:
        say(f"Open: {question.key}.")
    try:
        text = with_map(talk.text, draft.name, draft.table(), new, instead=talk.instead)
        market = parse_market(text, where=str(talk.path)).model_copy(update={"rates": talk.market.rates})
        rows = first_rows(talk.file, market, draft.name, as_of=today())
    except PairbandError as exc:
        say(f"It cannot be kept as it is: {exc}")
        return None
    show_sheet(preview_sheet(rows, draft, market.base_currency), limits=False)
    return text
