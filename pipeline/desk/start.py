"""The first steps in an empty folder: a few questions, or the demo."""

import re
from collections import defaultdict
from typing import get_args

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from pipeline.desk.calls import call
from pipeline.desk.first_market import EXAMPLE, ROWS, First, currencies, first_market, rows_said, with_rows
from pipeline.desk.pages import desk_of, show
from pipeline.desk.posted import posted
from pipeline.errors import ReportError
from pipeline.outfile import write_new_file
from pipeline.phrases.languages import SHIPPED
from pipeline.schema import SizeSystem

DRAFT = "start"
"""The name under which the answers are kept until the market file is written."""

LANGUAGES = {"en": "English", "de": "German", "ja": "Japanese"}
MOST_ROWS = 100
"""Rows of a list that the questions take; the market file takes more."""

_REMOVE = re.compile(r"remove (eras|silhouettes) (\d{1,3})")


def routes() -> list[Route]:
    """Return the routes of the first steps."""
    return [
        Route("/start", _start),
        Route("/start/demo", _demo, methods=["POST"]),
        Route("/start/own", _questions),
        Route("/start/own", _answered, methods=["POST"]),
    ]


def _start(request: Request) -> Response:
    desk = desk_of(request)
    if desk.has_market:
        return RedirectResponse("/", 303)
    return show(request, "desk/start.html.j2", title="Begin", begun=bool(desk.drafts.get(DRAFT)))


def _demo(request: Request) -> Response:
    """Make the demo in this folder."""
    desk = desk_of(request)
    if desk.has_market:
        return RedirectResponse("/", 303)
    job = desk.jobs.start(
        "Making the demo",
        lambda on_progress: call("demo", ["."], on_progress=on_progress, takes_pages=False),
        writes=True,
    )
    return RedirectResponse(f"/work/{job.id}?then=/", 303)


def _questions(request: Request) -> Response:
    desk = desk_of(request)
    if desk.has_market:
        return RedirectResponse("/", 303)
    return _ask(request, First(desk.drafts.get(DRAFT) or EXAMPLE))


def _answered(request: Request) -> Response:
    """Add or remove a row where that is asked for; else write the market file, or say what is wrong with it."""
    desk = desk_of(request)
    if desk.has_market:
        return RedirectResponse("/", 303)
    said = posted(request)
    wanted = said.pop("do", "")
    changed = _with_other_rows(said, wanted)
    desk.drafts.keep(DRAFT, changed)
    if changed is not said:
        return RedirectResponse(f"/start/own#{wanted.split()[1]}", 303)
    first = first_market(said)
    if not first.text:
        return _ask(request, first, status=400)
    try:
        write_new_file(first.text.encode(), desk.market_path)
    except ReportError as exc:
        return _ask(request, First(first.said, {"": str(exc)}), status=400)
    desk.drafts.drop(DRAFT)
    desk.notices.add("Your market file is written; you can change all of it later.", "See it", "/market-file")
    return RedirectResponse("/read", 303)


def _with_other_rows(said: dict[str, str], wanted: str) -> dict[str, str]:
    """Return what was said with a row more or a row less; itself where neither is asked for."""
    for table in ROWS:
        rows = rows_said(said, table)
        if wanted == f"add {table}" and len(rows) < MOST_ROWS:
            return with_rows(said, table, [*rows, dict.fromkeys(ROWS[table], "")])
    found = _REMOVE.fullmatch(wanted)
    if found:
        rows = rows_said(said, found[1])
        return with_rows(said, found[1], [row for at, row in enumerate(rows) if at != int(found[2])])
    return said


def _ask(request: Request, first: First, *, status: int = 200) -> Response:
    return show(
        request,
        "desk/start_own.html.j2",
        title="Your records",
        status=status,
        said=defaultdict(str, first.said),
        faults=defaultdict(str, first.faults),
        eras=rows_said(first.said, "eras"),
        silhouettes=rows_said(first.said, "silhouettes") or [dict.fromkeys(ROWS["silhouettes"], "")],
        currencies=currencies(),
        systems=get_args(SizeSystem),
        languages=[(code, LANGUAGES.get(code, code)) for code in SHIPPED],
    )
