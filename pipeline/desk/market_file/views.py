"""The market file in the desk: its tables as forms, each change shown before it is saved, and earlier texts."""

from collections.abc import Callable, Mapping
from typing import Any
from urllib.parse import urlencode

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from pipeline.desk.market_file.address import HOME, address_of
from pipeline.desk.market_file.difference import difference, with_endings_of
from pipeline.desk.market_file.edit import Change, tables_of, value_at
from pipeline.desk.market_file.faults import around, faults_in, market_in
from pipeline.desk.market_file.fields import (
    IN_MANY_FIELDS,
    Shape,
    is_labelled,
    market_shape,
    meaning_of,
    shape_at,
)
from pipeline.desk.market_file.form import controls_of, filled_in
from pipeline.desk.market_file.groups import heading_of
from pipeline.desk.market_file.layout import KeyPath
from pipeline.desk.market_file.overview import listed_groups, remarks_of
from pipeline.desk.market_file.proposed import (
    Proposed,
    as_table,
    form_shape,
    held_at,
    in_words,
    proposed_by_form,
    proposed_change,
    proposed_entry,
)
from pipeline.desk.market_file.references import names_for
from pipeline.desk.market_file.saving import MarketText, bring_back, earlier_texts, read_market_text, save
from pipeline.desk.market_file.titles import holds, line_on, name_of, title_of
from pipeline.desk.market_file.worked_page import bids_at
from pipeline.desk.pages import desk_of, show
from pipeline.desk.posted import posted
from pipeline.errors import MarketFileError
from pipeline.rests_on import records_decided_by

STYLE = "desk/market_file.css"
SCRIPTS = ("desk/market_file.js",)
TEXT = f"{HOME}/text"

MOST_ENTRIES = 300
"""Entries of a list that its page shows; the rest are found by a word."""

MOST_FIELDS = 50_000
"""Fields of a form: a few for each grade word, colourway or tier."""

MOST_SHOWN = 12
"""Entries of a list that the page of its owner shows, such as the fees of a venue."""

Said = dict[str, str]


def routes() -> list[Route]:
    """Return the routes of the market file."""
    both = ["GET", "POST"]
    return [
        Route(HOME, _with_form(_home), methods=both),
        Route(f"{HOME}/table", _with_form(_table), methods=both),
        Route(f"{HOME}/list", _with_form(_list)),
        Route(f"{HOME}/new", _with_form(_new), methods=both),
        Route(f"{HOME}/change", _with_form(_change), methods=["POST"]),
        Route(f"{HOME}/text", _with_form(_text), methods=both),
        Route(f"{HOME}/earlier", _with_form(_earlier), methods=both),
    ]


def _with_form(view: Callable[[Request, Said], Response]) -> Callable[[Request], Response]:
    """Return a route that reads the form of a request, and then answers."""

    def route(request: Request) -> Response:
        said = posted(request, most_fields=MOST_FIELDS) if request.method == "POST" else {}
        return _readable(view, request, said)

    return route


def _readable(view: Callable[[Request, Said], Response], request: Request, said: Said) -> Response:
    """Answer by a view, but first see to a market file that is missing, or that has to be put right in its text."""
    if not desk_of(request).has_market:
        return RedirectResponse("/start", 303)
    if view not in (_home, _text, _earlier) and faults_in(_now(request).text):
        return RedirectResponse(HOME, 303)
    return view(request, said)


def _path_of(request: Request) -> KeyPath:
    """Return the path that a request is about; raises MarketFileError where a market file holds nothing there."""
    path: KeyPath = ()
    for step in request.query_params.getlist("at"):
        is_number = shape_at(path).kind == "rows" and step.isascii() and step.isdigit() and len(step) < 7
        path = (*path, int(step) if is_number else step)
    shape_at(path)
    return path


def _home(request: Request, said: Said) -> Response:
    """Show what the market file holds, table by table, and what there is to say of it."""
    now = _now(request)
    if faults_in(now.text):
        return _text(request, {})
    plain = tuple(one for one in market_shape().fields if one.shape.kind not in IN_MANY_FIELDS)
    return _answer_form(
        request,
        said,
        (),
        now,
        shape=Shape("table", fields=plain),
        groups=listed_groups(tables_of(now.text)),
        remarks=remarks_of(desk_of(request), tables_of(now.text)),
    )


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
        filled = filled_in(shape, as_table(path, held_at(now.text, path)))
        return _show_form(request, path, filled, {}, now, shape=shape, is_first=True, **values)
    posted, step, digest = _taken_apart(said)
    if step == "discard":
        return _discarded(request)
    desk_of(request).drafts.keep(_sent_to(request), said)
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
        filled = filled_in(shape, as_table(entry, {}))
        return _show_form(request, path, filled, {}, now, shape=shape, is_new=True, is_first=True)
    posted, step, digest = _taken_apart(said)
    if step == "discard":
        return _discarded(request)
    desk_of(request).drafts.keep(_sent_to(request), said)
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


def _list(request: Request, _said: Said) -> Response:
    """Show the entries of a list, each with what can be done to it."""
    path, now = _path_of(request), _now(request)
    shape = shape_at(path)
    held = held_at(now.text, path) or {}
    word = request.query_params.get("find", "").strip().casefold()
    steps: list[Any] = list(held) if isinstance(held, Mapping) else list(range(len(held)))
    entries = [
        {
            "number": number,
            "name": name_of(step, value_at(held, (step,))),
            "says": line_on(value_at(held, (step,))),
            "href": address_of((*path, step), "list" if _is_list((*path, step)) else "table"),
            "at": [str(one) for one in (*path, step)],
            "can_rise": isinstance(step, int) and step > 0,
        }
        for number, step in enumerate(steps, start=1)
    ]
    found = [one for one in entries if word in f"{one['name']} {one['says']}".casefold()]
    return show(
        request,
        "desk/market_list.html.j2",
        own_style=STYLE,
        title=title_of(path, held),
        ways_up=_ways_up(path, now.text),
        meaning=_says(path),
        entries=found[:MOST_ENTRIES],
        more=max(0, len(found) - MOST_ENTRIES),
        count=len(entries),
        here=_sent_to(request),
        find=request.query_params.get("find", ""),
        at=[str(one) for one in path],
        digest=now.digest,
        new=address_of(path, "new"),
        whole=address_of(path, "table") if shape.is_inline else "",
        worked=bids_at(request, path, now.text),
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
    """Show the whole text to write in, with what is wrong at which line, or what it would change."""
    now, drafts = _now(request), desk_of(request).drafts
    posted, step, digest = _taken_apart(said)
    if step == "discard":
        drafts.drop(TEXT)
        return RedirectResponse(TEXT, 303)
    if said:
        drafts.keep(TEXT, said)
    drafted = {} if said else drafts.get(TEXT)
    written = with_endings_of(now.text, (posted or drafted).get("text", now.text))
    is_older = drafted.get("desk-digest", now.digest) != now.digest
    faults = faults_in(written)
    is_changed = bool(said) and digest != now.digest
    if said and not faults and not is_changed and step != "back":
        proposed = Proposed(written, {})
        return _look_or_save(request, posted, step, now, proposed, path=(), after=HOME, sent=TEXT)
    return show(
        request,
        "desk/market_text.html.j2",
        own_style=STYLE,
        scripts=SCRIPTS,
        title="The text of the market file",
        text=written,
        changed=_CHANGED[""] if is_changed else (),
        faults=[
            {"line": one.line, "words": in_words(one), "lines": around(written, one.line)} for one in faults
        ],
        is_draft=not said and written != now.text,
        is_older=is_older,
        digest=now.digest,
        status=400 if said and (faults or is_changed) else 200,
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
        _say(request, "The earlier text is back.", now.text)
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
    if changed.content == now.content or step == "save":
        desk.drafts.drop(sent or _sent_to(request))
    if changed.content == now.content:
        desk.notices.add("Nothing was changed: the market file already says this.")
        return RedirectResponse(after, 303)
    if step == "save":
        save(desk.market_path, now.digest, changed)
        _say(request, "Saved.", now.text)
        return RedirectResponse(after, 303)
    return show(
        request,
        "desk/market_look.html.j2",
        own_style=STYLE,
        title="What would change",
        places=difference(now.text, proposed.text),
        fields=posted,
        digest=now.digest,
        sent=sent or _sent_to(request),
        can_go_back=not request.url.path.endswith("/change"),
        cancel=after,
        worked_now=bids_at(request, path, now.text),
        worked_then=bids_at(request, path, proposed.text),
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
    is_first: bool = False,
    status: int = 200,
    **values: Any,
) -> Response:
    """Show a form with what was posted; as it is first asked for, with what was typed there before and never saved."""
    held = held_at(now.text, path)
    tables = tables_of(now.text)
    entry = (*path, 0) if is_new and shape_at(path).kind == "rows" else path
    drafted, _, typed_into = _taken_apart(desk_of(request).drafts.get(_sent_to(request)) if is_first else {})
    is_draft = bool(drafted) and _said(drafted) != _said(posted)
    posted = _said(drafted) if is_draft else posted
    title = title_of(path, held) if path else "The market file"
    return show(
        request,
        "desk/market_table.html.j2" if path else "desk/market_overview.html.j2",
        own_style=STYLE,
        scripts=SCRIPTS,
        title=f"Add to: {title}" if is_new else title,
        status=status,
        ways_up=_ways_up((*path, "new") if is_new else path, now.text),
        meaning=_says(entry),
        controls=controls_of(shape, posted, faults),
        faults=(*faults.get("", ()), *faults.get("elsewhere", ())),
        is_draft=is_draft,
        is_older=typed_into != now.digest,
        pages=_pages(path, shape, held) if path and not is_new and shape_at(path).kind == "table" else {},
        offered={one.key: names_for(tables, (*entry, one.key)) for one in shape.fields},
        digest=now.digest,
        sent=_sent_to(request),
        name=posted.get("desk-name", "") if is_new and shape_at(path).kind == "by name" else None,
        worked=None if is_new else bids_at(request, path, now.text),
        **values,
    )


def _pages(path: KeyPath, shape: Shape, held: Any) -> dict[str, dict[str, Any]]:
    """Return the keys of a table that have pages of their own, each with the entries that it holds."""
    found = {}
    for one in shape.fields:
        if one.shape.is_inline:
            continue
        below, inner = (*path, one.key), value_at(held, (one.key,))
        listed = inner if isinstance(inner, list) else ()
        found[one.key] = {
            "href": address_of(below),
            "holds": holds(one, inner),
            "new": address_of(below, "new") if one.shape.kind in ("rows", "by name") else "",
            "entries": [
                {"name": name_of(step, each), "href": address_of((*below, step)), "says": line_on(each)}
                for step, each in enumerate(listed[:MOST_SHOWN])
            ],
        }
    return found


def _says(path: KeyPath) -> str:
    """Return what a page says of what it shows: a sentence of a whole table, and of others what their model does."""
    if len(path) <= 1:
        return heading_of(str(path[0]))[1] if path else ""
    return "" if is_labelled(path) else meaning_of(path)


def _sent_to(request: Request) -> str:
    """Return the address of a form, by which its draft is kept too."""
    steps = urlencode([("at", step) for step in request.query_params.getlist("at")])
    return f"{request.url.path}?{steps}".rstrip("?")


def _said(fields: Mapping[str, str]) -> Said:
    """Return what the fields of a form say, however the browser ends lines."""
    return {name: text.replace("\r\n", "\n") for name, text in fields.items() if text.strip()}


def _discarded(request: Request) -> Response:
    desk_of(request).drafts.drop(_sent_to(request))
    return RedirectResponse(_sent_to(request), 303)


def _say(request: Request, done: str, before: str) -> None:
    """Have the next page say what was done, how to undo it, and what to do as exports are read otherwise now."""
    desk = desk_of(request)
    desk.notices.add(done, "Undo", f"{HOME}/earlier?number={_latest(request)}")
    if desk.has_ledger and not faults_in(before):
        now = market_in(_now(request).text)
        if records_decided_by(market_in(before)) != records_decided_by(now):
            desk.notices.add(
                "Your exports are read in another way from now on. Before the next fit:",
                "Read them again",
                "/read",
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


def _ways_up(path: KeyPath, text: str) -> list[tuple[str, str]]:
    """Return the pages above a path, from the market file on, each with its address."""
    if not path:
        return []
    tables = tables_of(text)
    above = [path[:length] for length in range(1, len(path))]
    return [
        ("The market file", HOME),
        *((title_of(one, value_at(tables, one)), address_of(one)) for one in above),
    ]
