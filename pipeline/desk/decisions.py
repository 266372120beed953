"""The owner's decisions: a list with a button to take each back, written to a file and brought in from one."""

from pathlib import Path
from tempfile import TemporaryDirectory

from anyio import from_thread
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from pipeline.answers.review.run import Review, decisions_csv, list_decisions
from pipeline.answers.review.tables import decisions_sheet
from pipeline.desk.answers import download
from pipeline.desk.calls import call
from pipeline.desk.pages import desk_of, show, show_called
from pipeline.desk.posted import posted
from pipeline.desk.record import decision_row, say_done
from pipeline.ingest.readers.limits import LARGEST_FILE

PAGE = 200
"""Decisions of one page, the last made first."""

MOST_SIGNS = 9


def routes() -> list[Route]:
    """Return the routes of decisions."""
    return [
        Route("/decisions", _page),
        Route("/decisions/csv", _csv),
        Route("/decisions/undo", _undo, methods=["POST"]),
        Route("/decisions/take", _take, methods=["POST"]),
    ]


def _page(request: Request) -> Response:
    desk = desk_of(request)
    found = list_decisions(desk.ledger_path) if desk.has_ledger else Review((), (), (), {})
    said = request.query_params.get("start", "")
    start = int(said) if said.isdecimal() and len(said) <= MOST_SIGNS else 0
    kept = found.decisions[::-1]
    page = Review((), (), kept[start : start + PAGE], found.short_ids)
    records = decisions_sheet(page).tables[0].texts() if page.decisions else []
    return show(
        request,
        "desk/decisions.html.j2",
        title="Your decisions",
        total=len(kept),
        rows=[
            (decision_row(row), row["record_id"] if row["field"] != "file" else None, texts[2])
            for row, texts in zip(page.decisions, records, strict=True)
        ],
        previous=f"/decisions?start={max(0, start - PAGE)}" if start else "",
        following=f"/decisions?start={start + PAGE}" if start + PAGE < len(kept) else "",
    )


def _csv(request: Request) -> Response:
    """Answer with all decisions as the file that can be brought in again."""
    return download(decisions_csv(desk_of(request).ledger_path), "decisions.csv", "text/csv; charset=utf-8")


def _undo(request: Request) -> Response:
    desk = desk_of(request)
    say_done(desk, call("undo", ["--", posted(request).get("decision", "")]))
    return RedirectResponse("/decisions", 303)


def _take(request: Request) -> Response:
    """Bring in the decisions of a file, and say what came of each."""

    async def read() -> bytes | None:
        async with request.form(max_files=1, max_fields=1) as form:
            file = form.get("file")
            return (
                await file.read(LARGEST_FILE + 1) if isinstance(file, UploadFile) and file.filename else None
            )

    content = from_thread.run(read)
    if content is None:
        desk_of(request).notices.add("Choose a file of decisions first.")
        return RedirectResponse("/decisions", 303)
    if len(content) > LARGEST_FILE:
        raise HTTPException(413, "This is larger than a file of decisions may be.")
    with TemporaryDirectory() as folder:
        given = Path(folder) / "decisions.csv"
        given.write_bytes(content)
        called = call("decisions", [f"--take={given}"])
    return show_called(request, called, title="Decisions brought in")
