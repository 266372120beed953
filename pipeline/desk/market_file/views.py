"""The market file in the desk: its tables as forms, each change shown before it is saved, and earlier texts."""

from collections.abc import Awaitable, Callable, Mapping
from datetime import date
from decimal import Decimal
from functools import partial
from typing import Any
from urllib.parse import urlencode

from babel.numbers import get_currency_precision
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from pipeline import formats
from pipeline.clock import today
from pipeline.config import Venue, parse_market
from pipeline.desk.market_file.difference import difference, with_endings_of
from pipeline.desk.market_file.edit import WHERE, Change, tables_of, value_at
from pipeline.desk.market_file.fields import IN_MANY_FIELDS, Field, Shape, market_shape, meaning_of, shape_at
from pipeline.desk.market_file.form import controls_of, filled_in
from pipeline.desk.market_file.layout import KeyPath
from pipeline.desk.market_file.proposed import (
    Proposed,
    as_table,
    form_shape,
    held_at,
    proposed_by_form,
    proposed_change,
    proposed_entry,
    proposed_text,
)
from pipeline.desk.market_file.references import names_for
from pipeline.desk.market_file.saving import MarketText, bring_back, earlier_texts, read_market_text, save
from pipeline.desk.market_file.worked_bid import USUAL, worked_prices
from pipeline.desk.market_file.written import BLANK, read_written
from pipeline.desk.pages import desk_of, show
from pipeline.errors import MarketFileError

HOME = "/market-file"
STYLE = "desk/market_file.css"

MOST_ENTRIES = 300
"""Entries of a list that its page shows; the rest are found by a word."""

MOST_FIELDS = 50_000
"""Fields of a form: a few for each grade word, colourway or tier."""

Said = dict[str, str]


def routes() -> list[Route]:
    """Return the routes of the market file."""
    both = ["GET", "POST"]
    return [
        Route(HOME, _with_form(_home), methods=both),
        Route(f"{HOME}/table", _with_form(_table), methods=both),
        Route(f"{HOME}/list", _list),
        Route(f"{HOME}/new", _with_form(_new), methods=both),
        Route(f"{HOME}/change", _with_form(_change), methods=["POST"]),
        Route(f"{HOME}/text", _with_form(_text), methods=both),
        Route(f"{HOME}/earlier", _with_form(_earlier), methods=both),
    ]


def address_of(path: KeyPath, page: str = "") -> str:
    """Return the address of the page of what stands at a path of the market file."""
    if not path:
        return HOME
    shape = shape_at(path)
    is_list = shape.kind == "rows" or (shape.kind == "by name" and not shape.is_inline)
    return f"{HOME}/{page or ('list' if is_list else 'table')}?{urlencode([('at', step) for step in path])}"


def _with_form(view: Callable[[Request, Said], Response]) -> Callable[[Request], Awaitable[Response]]:
    """Return a route that reads the form of a request, and then answers in a thread."""

    async def route(request: Request) -> Response:
        said: Said = {}
        if request.method == "POST":
            async with request.form(max_files=0, max_fields=MOST_FIELDS) as form:
                said = {name: value for name, value in form.items() if isinstance(value, str)}
        return await run_in_threadpool(view, request, said)

    return route


def _path_of(request: Request) -> KeyPath:
    """Return the path that a request is about; raises MarketFileError where a market file holds nothing there."""
    path: KeyPath = ()
    for step in request.query_params.getlist("at"):
        is_number = shape_at(path).kind == "rows" and step.isascii() and step.isdigit() and len(step) < 7
        path = (*path, int(step) if is_number else step)
    shape_at(path)
    return path


def _home(request: Request, said: Said) -> Response:
    """Show what the market file holds, table by table."""
    now = _now(request)
    if not proposed_text(now.text).is_good:
        return _text(request, {})
    tables = tables_of(now.text)
    plain = tuple(one for one in market_shape().fields if one.shape.kind not in IN_MANY_FIELDS)
    listed = [
        {
            "label": one.label,
            "href": address_of((one.key,)),
            "meaning": one.meaning or meaning_of((one.key,)),
            "holds": _holds(one, tables.get(one.key)),
        }
        for one in market_shape().fields
        if one not in plain
    ]
    return _answer_form(request, said, (), now, shape=Shape("table", fields=plain), listed=listed)


def _table(request: Request, said: Said) -> Response:
    """Show the form of a table, or what it would change."""
    path = _path_of(request)
    if not path or shape_at(path).kind not in IN_MANY_FIELDS:
        return RedirectResponse(HOME, 303)
    return _answer_form(request, said, path, _now(request), shape=form_shape(path))


def _answer_form(
    request: Request, said: Said, path: KeyPath, now: MarketText, *, shape: Shape, **values: Any
) -> Response:
    if not said:
        posted = filled_in(shape, as_table(path, held_at(now.text, path)))
        return _show_form(request, path, posted, {}, now, shape=shape, **values)
    posted, step, digest = _taken_apart(said)
    if digest != now.digest:
        return _show_form(request, path, posted, _CHANGED, now, shape=shape, status=409, **values)
    if step in ("rows", "back"):
        return _show_form(request, path, posted, {}, now, shape=shape, **values)
    proposed = proposed_by_form(now.text, path, posted)
    if not proposed.is_good:
        return _show_form(request, path, posted, _faults(proposed), now, shape=shape, status=400, **values)
    after = address_of(path[:-1]) if path and isinstance(path[-1], int) else address_of(path)
    return _look_or_save(request, posted, step, now, proposed, path=path, after=after)


_CHANGED: Mapping[str, tuple[str, ...]] = {
    "": (
        "The market file was changed meanwhile. Nothing was saved: look at what you wrote, and send it again.",
    )
}


def _new(request: Request, said: Said) -> Response:
    """Show the form of a new entry of a list, or what it would add."""
    path, now = _path_of(request), _now(request)
    is_named = shape_at(path).kind == "by name"
    entry: KeyPath = (*path, "new" if is_named else 0)
    shape = form_shape(entry)
    if not said:
        return _show_form(
            request, path, filled_in(shape, as_table(entry, {})), {}, now, shape=shape, is_new=True
        )
    posted, step, digest = _taken_apart(said)
    name = posted.get("desk-name", "").strip()
    if digest != now.digest or step in ("rows", "back"):
        faults = _CHANGED if digest != now.digest else {}
        return _show_form(request, path, posted, faults, now, shape=shape, is_new=True)
    try:
        proposed = proposed_entry(now.text, path, posted, name)
    except MarketFileError as exc:
        proposed = Proposed(now.text, {"": (str(exc),)})
    if not proposed.is_good:
        faults = _faults(proposed)
        return _show_form(request, path, posted, faults, now, shape=shape, is_new=True, status=400)
    return _look_or_save(request, posted, step, now, proposed, path=path, after=address_of(path))


def _list(request: Request) -> Response:
    """Show the entries of a list, each with what can be done to it."""
    path, now = _path_of(request), _now(request)
    shape = shape_at(path)
    held = held_at(now.text, path) or {}
    word = request.query_params.get("find", "").strip().casefold()
    steps: list[Any] = list(held) if isinstance(held, Mapping) else list(range(len(held)))
    entries = [
        {
            "name": _name_of(step, value_at(held, (step,))),
            "says": _summary(value_at(held, (step,))),
            "href": address_of((*path, step), "list" if _is_list((*path, step)) else "table"),
            "at": [str(one) for one in (*path, step)],
            "can_rise": isinstance(step, int) and step > 0,
        }
        for step in steps
    ]
    found = [one for one in entries if word in f"{one['name']} {one['says']}".casefold()]
    return show(
        request,
        "desk/market_list.html.j2",
        own_style=STYLE,
        title=_title(path, held),
        ways_up=_ways_up(path, now.text),
        meaning=meaning_of(path),
        entries=found[:MOST_ENTRIES],
        more=max(0, len(found) - MOST_ENTRIES),
        count=len(entries),
        find=request.query_params.get("find", ""),
        at=[str(one) for one in path],
        digest=now.digest,
        new=address_of(path, "new"),
        whole=address_of(path, "table") if shape.is_inline else "",
        worked=_worked(request, path, now.text),
    )


def _change(request: Request, said: Said) -> Response:
    """Remove an entry, or move it up: shown first, then saved."""
    path, now = _path_of(request), _now(request)
    posted, step, digest = _taken_apart(said)
    kind = posted.get("kind")
    if kind not in ("remove", "move up") or digest != now.digest or not path:
        desk_of(request).notices.add("The market file was changed meanwhile; nothing was done.")
        return RedirectResponse(address_of(path[:-1]), 303)
    proposed = proposed_change(now.text, Change("remove" if kind == "remove" else "move up", path))
    if not proposed.is_good:
        raise MarketFileError(
            f"it cannot be done: {' '.join(proposed.elsewhere)}", "change what names it first."
        )
    step = "save" if kind == "move up" else step
    return _look_or_save(request, posted, step, now, proposed, path=path, after=address_of(path[:-1]))


def _text(request: Request, said: Said) -> Response:
    """Show the whole text to write in, or what it would change."""
    now = _now(request)
    posted, step, digest = _taken_apart(said)
    written = with_endings_of(now.text, posted["text"]) if "text" in posted else now.text
    proposed = proposed_text(written)
    faults = list(proposed.elsewhere)
    if said and digest != now.digest:
        faults = list(_CHANGED[""])
    if said and not faults and step != "back":
        return _look_or_save(request, posted, step, now, proposed, path=(), after=HOME, sent=f"{HOME}/text")
    return show(
        request,
        "desk/market_text.html.j2",
        own_style=STYLE,
        title="The text of the market file",
        text=written,
        faults=faults,
        digest=now.digest,
        status=400 if said and faults else 200,
        ways_up=_ways_up((), now.text),
    )


def _earlier(request: Request, said: Said) -> Response:
    """Show the earlier texts, or what one of them would bring back, or bring it back."""
    desk, now = desk_of(request), _now(request)
    texts = earlier_texts(desk.market_path)
    wanted = said.get("number") or request.query_params.get("number", "")
    chosen = next((one for one in texts if str(one.number) == wanted), None)
    if wanted and chosen is None:
        raise HTTPException(404, "There is no such earlier text.")
    if said and chosen is not None:
        bring_back(desk.market_path, said.get("desk-digest", ""), chosen.number)
        desk.notices.add("The earlier text is back.", "Undo", f"{HOME}/earlier?number={_latest(request)}")
        return RedirectResponse(HOME, 303)
    return show(
        request,
        "desk/market_earlier.html.j2",
        own_style=STYLE,
        title="Earlier texts of the market file",
        texts=texts,
        chosen=chosen,
        places=difference(now.text, read_market_text(chosen.file).text) if chosen else (),
        digest=now.digest,
        ways_up=_ways_up((), now.text),
    )


def _look_or_save(
    request: Request,
    posted: Said,
    step: str,
    now: MarketText,
    proposed: Proposed,
    *,
    path: KeyPath,
    after: str,
    sent: str = "",
) -> Response:
    """Save a change that is good, or show what it would change, with a way back to its form."""
    desk = desk_of(request)
    changed = now.changed(proposed.text)
    if changed.content == now.content:
        desk.notices.add("Nothing was changed: the market file already says this.")
        return RedirectResponse(after, 303)
    if step == "save":
        save(desk.market_path, now.digest, changed)
        desk.notices.add("Saved.", "Undo", f"{HOME}/earlier?number={_latest(request)}")
        return RedirectResponse(after, 303)
    return show(
        request,
        "desk/market_look.html.j2",
        own_style=STYLE,
        title="What would change",
        places=difference(now.text, proposed.text),
        fields=posted,
        digest=now.digest,
        sent=sent or f"{request.url.path}?{request.url.query}".rstrip("?"),
        can_go_back=not request.url.path.endswith("/change"),
        cancel=after,
        worked_now=_worked(request, path, now.text),
        worked_then=_worked(request, path, proposed.text),
    )


def _show_form(
    request: Request,
    path: KeyPath,
    posted: Mapping[str, str],
    faults: Mapping[str, tuple[str, ...]],
    now: MarketText,
    *,
    shape: Shape,
    is_new: bool = False,
    status: int = 200,
    listed: Any = (),
) -> Response:
    held = held_at(now.text, path)
    tables = tables_of(now.text)
    entry = (*path, 0) if is_new and shape_at(path).kind == "rows" else path
    pages = {
        one.key: (address_of((*path, one.key)), _holds(one, value_at(held, (one.key,))))
        for one in shape.fields
        if path and not is_new and shape_at(path).kind == "table" and not one.shape.is_inline
    }
    return show(
        request,
        "desk/market_table.html.j2",
        own_style=STYLE,
        title="The market file"
        if not path
        else f"New: {_title(path, held)}"
        if is_new
        else _title(path, held),
        status=status,
        ways_up=_ways_up(path, now.text),
        meaning=meaning_of(entry),
        controls=controls_of(shape, posted, faults),
        faults=(*faults.get("", ()), *faults.get("elsewhere", ())),
        pages=pages,
        offered={one.key: names_for(tables, (*entry, one.key)) for one in shape.fields},
        digest=now.digest,
        sent=f"{request.url.path}?{request.url.query}".rstrip("?"),
        name=posted.get("desk-name", "") if is_new and shape_at(path).kind == "by name" else None,
        listed=listed,
        worked=() if is_new else _worked(request, path, now.text),
    )


def _taken_apart(said: Said) -> tuple[Said, str, str]:
    """Return the fields of a posted form, what its button says, and the text that it was made of."""
    own = ("desk-step", "desk-digest")
    fields = {name: text for name, text in said.items() if name not in own}
    return fields, said.get("desk-step", "look"), said.get("desk-digest", "")


def _faults(proposed: Proposed) -> dict[str, tuple[str, ...]]:
    return proposed.faults | ({"elsewhere": proposed.elsewhere} if proposed.elsewhere else {})


def _now(request: Request) -> MarketText:
    return read_market_text(desk_of(request).market_path)


def _latest(request: Request) -> int:
    return earlier_texts(desk_of(request).market_path)[0].number


def _is_list(path: KeyPath) -> bool:
    return address_of(path).startswith(f"{HOME}/list")


def _title(path: KeyPath, held: Any) -> str:
    """Return what a page of a path is headed by: the entry's name, or the words of the key."""
    name = _name_of(path[-1], held) if path else ""
    return name if isinstance(path[-1], int) else name.replace("_", " ").capitalize()


def _name_of(step: Any, held: Any) -> str:
    if isinstance(held, Mapping):
        words = held.get("name") or held.get("venue") or held.get("country")
        if words is None and "party" in held:
            words = f"{held['party']}, from {held.get('starts_on', '?')}"
        if words is not None and isinstance(step, int):
            return str(words)
    return f"Entry {step + 1}" if isinstance(step, int) else str(step)


def _summary(held: Any) -> str:
    """Return the single values of an entry, and how many its lists hold, in a line."""
    if not isinstance(held, Mapping):
        return ""
    parts = [
        f"{key.replace('_', ' ')} {len(value) if isinstance(value, list | dict) else value}"
        for key, value in held.items()
        if key != "name"
    ]
    return ", ".join(parts)[:160]


def _holds(one: Field, held: Any) -> str:
    """Return how much a table or a list holds, in words."""
    if held is None:
        return "left out"
    if one.shape.kind == "table":
        return f"{len(held)} of {len(one.shape.fields)} keys are written"
    return f"{len(held)} {'entry' if len(held) == 1 else 'entries'}"


def _ways_up(path: KeyPath, text: str) -> list[tuple[str, str]]:
    """Return the pages above a path, from the market file on, each with its address."""
    if not path:
        return []
    tables = tables_of(text)
    above = [path[:length] for length in range(1, len(path))]
    return [
        ("The market file", HOME),
        *((_title(one, value_at(tables, one)), address_of(one)) for one in above),
    ]


def _worked(request: Request, path: KeyPath, text: str) -> dict[str, Any] | None:
    """Return what bids at a venue come to by its fees, where a page is of one; as its texts show them."""
    if len(path) < 2 or path[0] != "venues" or not isinstance(path[1], int):
        return None
    venues = parse_market(text, where=WHERE).venues
    if path[1] >= len(venues):
        return None
    venue = venues[path[1]]
    own = request.query_params.get("hammer", "")
    hammers, fault = _hammers(own, venue)
    day = _day(request.query_params.get("on", ""))
    try:
        rows = worked_prices(venue, hammers, as_of=day)
    except ValueError as exc:
        rows, fault = (), str(exc)
    money = partial(formats.exact, currency=venue.currency)
    return {
        "venue": venue.name,
        "day": day,
        "own": own,
        "fault": fault,
        "at": [str(step) for step in path],
        "page": request.url.path,
        "rows": [
            [
                "" if amount is None else money(amount)
                for amount in (
                    one.hammer,
                    one.premium,
                    one.tax,
                    one.all_in,
                    one.net,
                )
            ]
            for one in rows
        ],
    }


def _hammers(own: str, venue: Venue) -> tuple[tuple[Decimal, ...], str]:
    """Return the hammer prices to work out: the owner's own, or the usual ones in the venue's currency."""
    usual = tuple(one * 100 if get_currency_precision(venue.currency) == 0 else one for one in USUAL)
    try:
        number = read_written(own, Shape("number"))
    except ValueError as exc:
        return usual, str(exc)
    return (usual, "") if number is BLANK else ((Decimal(number),), "")


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return today()
