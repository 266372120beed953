"""The map of a file as a form: its columns, settings and words, and its first rows as they will be read."""

from collections.abc import Iterator, Mapping
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from babel.numbers import list_currencies
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import Route

from pipeline.answers.market_file.preview import first_rows
from pipeline.answers.market_file.tables import preview_sheet
from pipeline.answers.understood.tables import field_title
from pipeline.captured import OnProgress
from pipeline.clock import today
from pipeline.config import MOST_BYTES, Market, load_market
from pipeline.desk.desk import Desk
from pipeline.desk.pages import desk_of, show
from pipeline.desk.reading import NAME_SIGNS, begin_reading, fault_words, file_named, form_of_request
from pipeline.desk.reading_draft import KINDS, LAYOUT, NEW_VENUE, MapForm, map_form, market_with
from pipeline.desk.reading_run import Asked
from pipeline.errors import MarketFileError, PairbandError
from pipeline.ingest.choice import maps_of_name, read_mapped
from pipeline.ingest.proposal import ColumnProposal, meanings_of
from pipeline.ingest.readers.export import open_export
from pipeline.ingest.settings import LANGUAGES
from pipeline.outfile import edit_market_file
from pipeline.plain_file import read_plain_file
from pipeline.schema import PICTURE, PRICE_BASES, QUANTITY, SIZE_SYSTEMS, SOURCE_FIELDS, STOCK_FIELDS
from pipeline.untrusted import show_words
from reports.page import Table, render_fragment

DOUBTFUL = 0.6
"""A column of a confidence below it is marked as doubtful."""

MOST_LIVE_BYTES = 3_000_000
"""The largest file that is looked at before its page is shown, and again with each change of its form."""

WORDS_OF_KEYS: dict[str, str] = {
    "venue": "Venue",
    "holds": "The file holds",
    "files": "For files called",
    "sheets": "Sheets",
    "header_row": "Row of the headings",
    "encoding": "Encoding",
    "delimiter": "Sign between cells",
    "records": "List of the records (JSON)",
    "fill_down": "Columns that are filled once an order",
    "group_heading": "Column that headings between rows fill",
    "date_order": "Order of day, month, year",
    "language": "Language of months in words",
    "decimal_mark": "Decimal mark",
    "amounts": "Amounts are in",
    "currency": "Currency",
    "price_basis": "The price counts",
    "quantity_price": "The price is of",
    "tax": "Tax in the price",
    "tax_rate": "Rate of the tax",
    "tax_column": "Column of the tax",
    "size_system": "Sizes are",
    "list_mark": "Sign between the parts of a list",
}
CHOICES: dict[str, tuple[tuple[str, str], ...]] = {
    "holds": (("sales", "past sales"), ("stock", "my stock"), ("lots", "lots to come")),
    "date_order": (("dmy", "day, month, year"), ("mdy", "month, day, year"), ("ymd", "year, month, day")),
    "decimal_mark": ((".", "point: 1,234.50"), (",", "comma: 1.234,50")),
    "amounts": (("major", "the currency itself: 123.45"), ("minor", "cents or the like: 12345")),
    "price_basis": tuple(
        zip(
            PRICE_BASES,
            ("the hammer price", "all that the buyer paid", "what the seller receives (net)"),
            strict=True,
        )
    ),
    "quantity_price": (("line", "the line, all its pairs together"), ("unit", "the unit, one pair")),
    "tax": (
        ("included", "included"),
        ("excluded", "excluded: it is added"),
        ("margin", "paid on the margin: none to add"),
    ),
    "size_system": tuple((one, one) for one in SIZE_SYSTEMS),
    "language": tuple((one, one) for one in LANGUAGES),
}
FIRST = ("venue", "price_basis", "currency", "date_order", "decimal_mark", "size_system", "tax", "tax_rate")
"""The settings that are shown at once; the others are folded away until they are open or said."""

FURTHER = (
    *("tax_column", "quantity_price", "amounts", "language", "files", *LAYOUT),
    *("fill_down", "group_heading", "list_mark"),
)
GRADES = tuple(f"{half / 2:g}" for half in range(20, 1, -1))


def routes() -> list[Route]:
    """Return the routes of the map of a file."""
    return [
        Route("/read/map", _page),
        Route("/read/map", _send, methods=["POST"]),
        Route("/read/map/preview", _preview, methods=["POST"]),
    ]


def draft_name(file: str) -> str:
    """Return the name by which the draft of a file's map is kept."""
    return f"map of {file}"


def _page(request: Request) -> Response:
    """Show the map of a file as it is proposed, or as it was left."""
    desk = desk_of(request)
    file = file_named(desk, request.query_params.get("file", ""))
    if not desk.has_market:
        return RedirectResponse("/start", 303)
    said = desk.drafts.get(draft_name(file))
    if "map" in request.query_params:
        said = {**said, "instead": request.query_params["map"]}
    if Path(file).stat().st_size > MOST_LIVE_BYTES and "looked" not in request.query_params:
        return _look_first(request, file, said)
    return _shown(request, file, said, marked=request.query_params.get("column", ""))


def _look_first(request: Request, file: str, said: Mapping[str, str]) -> Response:
    """Look at a large file in the background, and then show its map."""
    desk = desk_of(request)

    def look(on_progress: OnProgress) -> MapForm:
        on_progress(f"Looking at {Path(file).name}", 0, 0)
        market, _ = _market_and_text(desk)
        return map_form(file, market, said, instead=_instead(file, market, said))

    job = desk.jobs.start(f"Looking at {show_words(Path(file).name, 60)}", look, writes=False)
    then = f"/read/map?{urlencode({**request.query_params, 'looked': 'yes'})}"
    return RedirectResponse(f"/work/{job.id}?{urlencode({'then': then})}", 303)


async def _send(request: Request) -> Response:
    """Keep what the form says, and show it again, start over, or take the map over."""
    form = await form_of_request(request)
    said = {name: value for name, value in form.multi_items() if isinstance(value, str)}
    return await run_in_threadpool(_sent, request, said)


async def _preview(request: Request) -> Response:
    """Answer with the parts of the form that follow from what it says."""
    form = await form_of_request(request)
    said = {name: value for name, value in form.multi_items() if isinstance(value, str)}
    return await run_in_threadpool(_parts, request, said)


def _parts(request: Request, said: dict[str, str]) -> Response:
    desk = desk_of(request)
    file = file_named(desk, said.get("file", ""))
    market, text = _market_and_text(desk)
    try:
        made = map_form(file, market, said, instead=_instead(file, market, said))
    except PairbandError as exc:
        return HTMLResponse(render_fragment("desk/read_map_fault.html.j2", fault=fault_words(str(exc))))
    values = _values(made, said, market, text, marked="")
    return HTMLResponse(render_fragment("desk/read_map_parts.html.j2", **values))


def _sent(request: Request, said: dict[str, str]) -> Response:
    desk = desk_of(request)
    file = file_named(desk, said.get("file", ""))
    again = RedirectResponse(f"/read/map?{_query(file)}", 303)
    key = draft_name(file)
    if said.get("do") == "afresh":
        desk.drafts.drop(key)
        return again
    desk.drafts.keep(key, {name: value for name, value in said.items() if name != "do"})
    if said.get("do") != "take":
        return again
    return _take_over(request, file, said)


def _take_over(request: Request, file: str, said: dict[str, str]) -> Response:
    """Write the map into the market file and read the file by it; where something is open, say what."""
    desk = desk_of(request)
    market, text = _market_and_text(desk)
    try:
        made = map_form(file, market, said, instead=_instead(file, market, said))
        wrong = list(made.faults.values()) or [_open_words(one.key) for one in made.draft.questions]
        if wrong:
            return _shown(request, file, said, fault="\n".join(wrong))
        made_market = market_with(made, text, market)
        read_mapped(open_export(Path(file)), made_market, made.draft.name, ("sales", "stock", "lots"))
        written = made.written_into(text)
    except PairbandError as exc:
        return _shown(request, file, said, fault=str(exc))
    before = read_plain_file(desk.market_path, "market file", MOST_BYTES, fault=MarketFileError)
    mark = b"\xef\xbb\xbf" if before.startswith(b"\xef\xbb\xbf") else b""
    if before.removeprefix(mark).decode() != text:
        return _shown(request, file, said, fault="The market file was changed just now. Look again.")
    earlier = edit_market_file(desk.market_path, before, mark + written.encode())
    desk.drafts.drop(draft_name(file))
    desk.notices.add(
        f"The map {show_words(made.draft.name, 60)} is in the market file; its earlier text is in {earlier}."
    )
    if made.holds == "lots":
        return RedirectResponse(f"/lots?{_query(file)}", 303)
    listed_on = said.get("listed_on", "") if made.holds == "stock" else ""
    return begin_reading(desk, Asked((file,), {}, date.fromisoformat(listed_on) if listed_on else None))


def _market_and_text(desk: Desk) -> tuple[Market, str]:
    """Return the market file, validated and as text; raises MarketFileError where it has a fault."""
    content = read_plain_file(desk.market_path, "market file", MOST_BYTES, fault=MarketFileError)
    return load_market(desk.market_path), content.decode("utf-8-sig")


def _instead(file: str, market: Market, said: Mapping[str, str]) -> str | None:
    """Return the map that is changed; None where a new one is made. Unsaid, it is the one that reads the file."""
    claimed = maps_of_name(Path(file), market)
    if "instead" in said:
        return said["instead"] if said["instead"] in claimed else None
    try:
        read = read_mapped(open_export(Path(file)), market, None, ("sales", "stock", "lots")).map_name
    except PairbandError:
        return None
    return read if read in claimed else None


def _shown(
    request: Request, file: str, said: Mapping[str, str], *, marked: str = "", fault: str = ""
) -> Response:
    """Answer with the form."""
    desk = desk_of(request)
    market, text = _market_and_text(desk)
    name = show_words(Path(file).name, NAME_SIGNS)
    status = 400 if fault else 200
    try:
        made = map_form(file, market, said, instead=_instead(file, market, said))
    except PairbandError as exc:
        return show(
            request,
            "desk/read_unreadable.html.j2",
            title=f"A map for {name}",
            status=400,
            fault=fault_words(str(exc)),
            file=file,
            has_draft=bool(said),
        )
    return show(
        request,
        "desk/read_map.html.j2",
        title=f"A map for {name}",
        status=status,
        scripts=("desk/read_map.js",),
        fault=fault_words(fault),
        draft=draft_name(file),
        has_draft=bool(said),
        is_live=Path(file).stat().st_size <= MOST_LIVE_BYTES,
        meanings=(),
        maps=list(maps_of_name(Path(file), market)),
        **_values(made, said, market, text, marked=marked),
    )


def _values(
    form: MapForm, said: Mapping[str, str], market: Market, text: str, *, marked: str
) -> dict[str, Any]:
    """Return what the templates of the form take."""
    asked = {one.key: one.why for one in form.draft.questions}
    settings = {key: _setting(key, form, said, market) for key in ("holds", *FIRST, *FURTHER)}
    shown = [key for key in FIRST if _matters(key, form)]
    open_keys = [key for key in (*FIRST, *FURTHER) if key in asked or f"key:{key}" in form.faults]
    shown = list(dict.fromkeys([*open_keys, *(key for key in shown)]))
    rows, fault, remarks = _rows(form, market, text)
    return {
        "file": form.file,
        "form_holds": form.holds,
        "instead": form.instead or "",
        "map_name": form.draft.name,
        "holds": settings["holds"],
        "columns": list(_columns_of(form, marked)),
        "fields": _fields_of(form),
        "missing": [
            (field_title(one.key).replace("_", " "), one.why)
            for one in form.draft.questions
            if one.key not in WORDS_OF_KEYS
        ],
        "settings": [settings[key] for key in shown],
        "further": [settings[key] for key in FURTHER if key not in shown],
        "new_venue": {name: said.get(f"new-venue:{name}", "") for name in ("name", "kind", "currency")},
        "kinds": KINDS,
        "words": list(_words_of(form)),
        "open_count": len(form.draft.questions),
        "rows": rows,
        "rows_fault": fault,
        "remarks": remarks,
        "listed_on": said.get("listed_on", ""),
    }


def _open_words(key: str) -> str:
    return f"{WORDS_OF_KEYS.get(key, field_title(key).capitalize())} is still open."


def _matters(key: str, form: MapForm) -> bool:
    """Whether a setting has to do with the columns that are read."""
    columns = form.draft.columns
    match key:
        case "price_basis":
            return "price_native" in columns
        case "tax":
            return "price_native" in columns and form.holds == "sales"
        case "tax_rate":
            return form.draft.keys.get("tax") == "excluded"
        case "size_system":
            return "size_label" in columns
    return True


def _setting(key: str, form: MapForm, said: Mapping[str, str], market: Market) -> dict[str, Any]:
    """Return a setting as the form shows it: what it is, what it can be, why, and whether it is open."""
    value = _text_of(form.draft.keys.get(key))
    if key == "holds":
        value = form.holds
    question = next((one for one in form.draft.questions if one.key == key), None)
    if f"key:{key}" in form.faults or (key == "venue" and said.get("key:venue") == NEW_VENUE):
        value = said.get(f"key:{key}", value)
    choices: list[tuple[str, str]] = list(CHOICES.get(key, ()))
    offered: list[str] = []
    if key == "venue":
        first = question.choices if question is not None else ()
        names = list(dict.fromkeys([*first, *(one.name for one in market.venues)]))
        choices = [*((one, one) for one in names), (NEW_VENUE, "a new venue …")]
    elif key == "tax_column":
        choices = [(one, one) for one in form.draft.headings]
    elif key == "currency":
        used = dict.fromkeys([market.base_currency, *(one.currency for one in market.venues)])
        offered = [*used, *(one for one in sorted(list_currencies()) if one not in used)]
    if choices and value and value not in [one for one, _ in choices]:
        choices.insert(0, (value, value))
    return {
        "key": key,
        "label": WORDS_OF_KEYS[key],
        "value": value,
        "choices": choices,
        "offered": offered,
        "why": "" if question is not None else form.draft.whys.get(key, ""),
        "question": "" if question is None else question.why,
        "fault": fault_words(form.faults.get(f"key:{key}", "")),
        "was": form.holds if key == "holds" else _text_of(form.unsaid.get(key)),
    }


def _text_of(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, tuple | list):
        return ", ".join(map(str, value))
    return f"{value:f}" if isinstance(value, Decimal) else str(value)


def _columns_of(form: MapForm, marked: str) -> Iterator[dict[str, Any]]:
    """Yield the columns of the file as the form shows them, one that holds several fields once for each."""
    times: dict[str, int] = {}
    headings_of = {name: set(several) for name, several in form.joined.items()}
    for one in form.proposal.columns:
        times[one.column] = times.get(one.column, 0) + 1
        also = next((name for name, several in headings_of.items() if one.column in several), None)
        field = one.field if one.field is not None else also
        yield {
            "name": f"col:{times[one.column]}:{one.column}",
            "heading": show_words(one.column, 80),
            "field": field or "",
            "samples": [
                show_words(text, 60) for text in one.samples or ((one.example,) if one.example else ())
            ],
            "why": one.remark,
            "doubt": _doubt_of(one),
            "is_marked": bool(marked) and one.column == marked,
            "is_joined": field in form.joined,
        }


def _doubt_of(one: ColumnProposal) -> str:
    if one.field is None or not one.confidence:
        return ""
    if one.confidence < DOUBTFUL:
        return "doubtful"
    return "or another" if "it may also be" in one.remark else ""


def _fields_of(form: MapForm) -> list[tuple[str, str]]:
    """Return the fields that a column can be, each with its name."""
    own = (
        (*STOCK_FIELDS, PICTURE) if form.holds == "stock" else ((QUANTITY,) if form.holds == "sales" else ())
    )
    names = {"price_native": "what it cost"} if form.holds == "stock" else {}
    return [(one, names.get(one, field_title(one).replace("_", " "))) for one in (*SOURCE_FIELDS, *own)]


def _words_of(form: MapForm) -> Iterator[dict[str, Any]]:
    """Yield the words of each field, with what each means and can mean."""
    for field, words in form.proposal.words.items():
        if field not in form.draft.columns:
            continue
        said = form.draft.status_words if field == "status" else form.draft.words.get(field, {})
        yield {
            "field": field,
            "title": field_title(field),
            "column": show_words(form.draft.columns[field], 80),
            "meanings": GRADES if field == "grade" else meanings_of(field),
            "words": [
                {
                    "name": f"word:{field}:{word}",
                    "word": show_words(word, 80),
                    "value": said.get(word, ""),
                    "fault": fault_words(form.faults.get(f"word:{field}:{word}", "")),
                }
                for word in words
            ],
        }


def _rows(form: MapForm, market: Market, text: str) -> tuple[Table | None, str, list[str]]:
    """Return the first rows as they will be read, or why they cannot be, and what there is to say of them."""
    try:
        made = market_with(form, text, market)
        read = first_rows(Path(form.file), made, form.draft.name, as_of=today())
    except PairbandError as exc:
        if form.draft.questions:
            return None, "The rows are shown once the open questions are answered.", []
        return None, fault_words(str(exc)), []
    sheet = preview_sheet(read, form.draft, market.base_currency)
    unread = [
        f"Words of {field_title(field)} that mean nothing yet: {show_words(', '.join(words), 200)}."
        for field, words in form.draft.unread.items()
        if field in form.draft.columns and words
    ]
    without = [
        f"{show_words(word, 60)!r} has no status yet: its rows go to quarantine."
        for word in form.draft.open_words
    ]
    return Table.of(sheet.tables[0]), "", [*unread, *without]


def _query(file: str) -> str:
    return urlencode({"file": file})
