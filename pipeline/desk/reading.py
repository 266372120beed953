"""The view *Read*: files come in, are read, and what came of each is shown."""

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from urllib.parse import quote, urlencode

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route

from pipeline import formats
from pipeline.answers.ingest.tables import ingest_sheet
from pipeline.answers.understood.tables import account_sheet
from pipeline.clock import day_of
from pipeline.desk.calls import Called
from pipeline.desk.desk import EXPORTS, Desk
from pipeline.desk.pages import desk_of, show, show_sentences_of, words_of_called
from pipeline.desk.reading_files import FileKnown, known_file, known_files
from pipeline.desk.reading_run import Asked, FileRead, doubt_key, read_files
from pipeline.desk.reading_settled import faults_left
from pipeline.desk.reading_uploads import TakenIn, take_in
from pipeline.errors import ExportError
from pipeline.ingest.replacement import Answer, Doubt
from pipeline.untrusted import show_words

MOST_FILES = 200
"""Files that come in together."""

MOST_FIELDS = 20_000
MOST_FIELD_BYTES = 4_000_000
"""Fields of a form, and bytes of one of them."""

NAME_SIGNS = 120
"""The longest name of a file that is shown."""


def routes() -> list[Route]:
    """Return the routes of the list of files, of files that come in, and of reading them."""
    return [
        Route("/read", _list),
        Route("/read/upload", _upload, methods=["POST"]),
        Route("/read/begin", _begin, methods=["POST"]),
        Route("/read/done/{id}", _done),
    ]


def _list(request: Request) -> Response:
    """Show the files of the folder, with what is known of each."""
    return show_list(request)


def show_list(request: Request, *, faults: Sequence[str] = (), status: int = 200) -> Response:
    """Answer with the list of files, and what went wrong with those that came in."""
    desk = desk_of(request)
    files = known_files(desk)
    return show(
        request,
        "desk/read.html.j2",
        title="Read exports",
        status=status,
        scripts=("desk/read.js",),
        rows=[row_of(desk, one) for one in files],
        new=[one.name for one in files if one.is_new],
        outdated=[one.name for one in files if one.is_outdated],
        has_stock=any(one.holds == "stock" and one.is_new for one in files),
        has_market=desk.has_market,
        faults=[fault_words(fault) for fault in faults],
    )


def row_of(desk: Desk, one: FileKnown) -> dict[str, object]:
    """Return a file as the pages show it: what is known in words, and where to go from there."""
    of = one.reading
    query = urlencode({"file": one.name})
    return {
        "name": one.name,
        "shown": show_words(one.file_name, NAME_SIGNS),
        "folder": "" if Path(one.name).parent == Path() else f"{Path(one.name).parent}/",
        "known": one.known,
        "words": words_of_file(one),
        "fault": fault_words(one.fault),
        "map": show_words(one.map_name or "", 60),
        "query": query,
        "can_read": one.is_new or one.is_outdated,
        "is_stock": one.holds == "stock",
        "can_map": one.known not in ("no export", "unreadable"),
        "has_rows": of is not None and one.known in ("read", "outdated"),
        "is_aside": of is not None and any(of[key] for key in ("quarantined", "unread", "put_aside")),
        "understood": f"/understood?{urlencode({'file': one.file_name})}"
        if one.holds == "sales"
        else "/stock",
        "lots": f"/lots?{urlencode({'lots_file': one.name, 'file': one.name})}",
        "open": faults_left(desk, of["file_sha256"], of["quarantined"] + of["unread"]) if of else 0,
    }


def fault_words(fault: str) -> str:
    """Return an error as a page says it: each line a sentence of its own, fit to show."""
    lines = [line.strip() for line in show_sentences_of(fault).splitlines() if line.strip()]
    return "\n".join(f"{_begun(line)}{'' if line[-1] in '.:)?!' else '.'}" for line in lines)


def _begun(line: str) -> str:
    """Return a sentence with a capital at its beginning, unless the name of a file stands there."""
    first = line.split(" ", 1)[0]
    return line if "/" in first or "." in first or "`" in first else f"{line[:1].upper()}{line[1:]}"


def words_of_file(one: FileKnown) -> str:
    """Return what is known of a file, in a sentence."""
    match one.known:
        case "unread":
            return "Not read yet."
        case "unmapped":
            return "Not read yet: it needs a map." if not one.fault else "No map reads it as it is."
        case "unreadable":
            return "It cannot be read."
        case "lots":
            return "Lots to come."
        case "no export":
            return "No export."
    reading = one.reading or {}
    read_on = f" on {formats.day(day_of_reading(reading))}" if reading.get("read_at") else ""
    rows = formats.counted(int(reading["rows_read"]), "row")
    if one.known == "changed":
        return f"Changed since it was read{read_on} ({rows} then)."
    said = [rows, f"{formats.count(int(reading['recorded']))} recorded"]
    for key, words in (
        ("duplicates", "recorded before"),
        ("quarantined", "quarantined"),
        ("put_aside", "put aside"),
    ):
        if reading[key]:
            said.append(f"{formats.count(int(reading[key]))} {words}")
    again = " The map, the market file or the rates changed since." if one.known == "outdated" else ""
    return f"Read{read_on}: {', '.join(said)}.{again}"


def day_of_reading(reading: Mapping[str, object]) -> date:
    """Return the owner's day of a reading, which is kept in UTC."""
    from datetime import UTC, datetime

    read_at = reading["read_at"]
    if not isinstance(read_at, datetime):
        raise TypeError(read_at)
    return day_of(read_at.replace(tzinfo=UTC))


async def form_of_request(request: Request) -> FormData:
    """Return what a form sent; raises HTTPException where it is too large or no form."""
    return await request.form(max_files=MOST_FILES, max_fields=MOST_FIELDS, max_part_size=MOST_FIELD_BYTES)


def file_named(desk: Desk, name: str) -> str:
    """Return the name of a file of the folder as the desk lists it; raises HTTPException where it lists none."""
    if name not in desk.files():
        raise HTTPException(404, "The folder has no such file: it was renamed or moved, or its name was cut.")
    return name


async def _upload(request: Request) -> Response:
    """Keep the files that come in."""
    try:
        form = await form_of_request(request)
    except ClientDisconnect:
        return PlainTextResponse("The file did not arrive whole, and nothing of it was kept.", 400)
    try:
        return await run_in_threadpool(_take_all, request, form)
    finally:
        await form.close()


def _take_all(request: Request, form: FormData) -> Response:
    taken: list[TakenIn] = []
    faults: list[str] = []
    for sent in form.getlist("files"):
        if not isinstance(sent, UploadFile) or not sent.filename:
            continue
        try:
            taken.append(take_in(Path(EXPORTS), sent.filename, sent.file))
        except ExportError as exc:
            faults.append(f"{exc}")
    if not taken and not faults:
        faults.append("No file came in. Choose one first, or drop one here.")
    desk = desk_of(request)
    for one in taken:
        desk.notices.add(_words_of_taken(one))
    is_script = request.headers.get("accept") == "application/json"
    if faults and is_script:
        return JSONResponse({"faults": faults}, 400)
    if faults:
        return show_list(request, faults=faults, status=400)
    then = _after(desk, taken)
    return JSONResponse({"then": then}) if is_script else RedirectResponse(then, 303)


def _after(desk: Desk, taken: Sequence[TakenIn]) -> str:
    """Return where to go once files are there: to the map of a single one that has none, else to the list."""
    known = known_file(desk, str(Path(EXPORTS) / taken[0].name)) if len(taken) == 1 else None
    if known is not None and known.known == "unmapped" and desk.has_market:
        return f"/read/map?{urlencode({'file': known.name})}"
    return "/read"


def _words_of_taken(one: TakenIn) -> str:
    name = show_words(one.name, NAME_SIGNS)
    if one.how == "same":
        return f"{name} is here already, with the same content; it was not kept twice."
    if one.earlier is not None:
        return f"{name} is here. The file that had its name before is kept as {show_words(str(one.earlier), 200)}."
    return f"{name} is here."


async def _begin(request: Request) -> Response:
    """Begin to read files: those that are named, or all that are new."""
    form = await form_of_request(request)
    said = [(name, value) for name, value in form.multi_items() if isinstance(value, str)]
    return await run_in_threadpool(_begin_to_read, request, said)


def _begin_to_read(request: Request, said: Sequence[tuple[str, str]]) -> Response:
    desk = desk_of(request)
    names = [file_named(desk, value) for name, value in said if name == "file"]
    if not names and ("new", "yes") in said:
        names = [one.name for one in known_files(desk) if one.is_new]
    if not names and ("outdated", "yes") in said:
        names = [one.name for one in known_files(desk) if one.is_outdated]
    if not names:
        return show_list(request, faults=["Nothing was read. Tick the files to read."], status=400)
    answers: dict[str, Answer] = {}
    for name, value in said:
        if name.startswith("doubt:") and value in ("replace", "add"):
            answers[name.removeprefix("doubt:")] = "replace" if value == "replace" else "add"
    try:
        listed_on = next(
            (date.fromisoformat(value) for name, value in said if name == "listed_on" and value), None
        )
    except ValueError:
        return show_list(
            request, faults=["The day of the list is no day. Write it as 2026-07-01."], status=400
        )
    return begin_reading(desk, Asked(tuple(dict.fromkeys(names)), answers, listed_on))


def begin_reading(desk: Desk, asked: Asked) -> Response:
    """Begin to read files in the background, and go to how far it is."""
    what = (
        f"Reading {show_words(Path(asked.names[0]).name, 60)}"
        if len(asked.names) == 1
        else f"Reading {formats.counted(len(asked.names), 'file')}"
    )
    job = desk.jobs.start(what, lambda on_progress: read_files(desk, asked, on_progress), writes=True)
    return RedirectResponse(f"/work/{job.id}?then={quote(f'/read/done/{job.id}')}", 303)


def _done(request: Request) -> Response:
    """Show what came of the files that were read."""
    desk = desk_of(request)
    job = desk.jobs.find(request.path_params["id"])
    if job is None or not isinstance(job.result, tuple):
        return RedirectResponse("/read", 303)
    results: tuple[FileRead, ...] = job.result
    return show(
        request,
        "desk/read_done.html.j2",
        title="What was read",
        files=[_done_of(desk, one) for one in results],
    )


def _done_of(desk: Desk, one: FileRead) -> dict[str, object]:
    """Return what came of one file as the page shows it."""
    known = known_file(desk, one.name)
    sheets = () if one.run is None else (ingest_sheet(one.run), *map(account_sheet, one.run.understood))
    said = Called("ingest", (), sheets, {}, (), (), (), one.fault)
    return {
        "name": one.name,
        "shown": show_words(Path(one.name).name, NAME_SIGNS),
        "row": None if known is None else row_of(desk, known),
        "doubt": None if one.doubt is None else _doubt_of(one.doubt),
        "answered": [(f"doubt:{key}", value) for key, value in one.said],
        "is_empty": one.run is not None and not any(file.read for file in one.run.files),
        "all_refused": one.run is not None and not one.has_rows and any(file.read for file in one.run.files),
        **words_of_called(said),
        "fault": fault_words(one.fault),
    }


def _doubt_of(doubt: Doubt) -> dict[str, str]:
    gone = formats.counted(doubt.gone, "row")
    return {
        "what": show_sentences_of(doubt.what),
        "field": f"doubt:{doubt_key(doubt)}",
        "gone": f"{gone} of the earlier reading {'does' if doubt.gone == 1 else 'do'} not come again.",
    }
