"""The care of the ledger: examined, copied, brought back, compacted; and all reports in one folder."""

from dataclasses import dataclass

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, RedirectResponse, Response
from starlette.routing import Route

from pipeline import formats
from pipeline.desk.calls import Called, call
from pipeline.desk.desk import Desk
from pipeline.desk.jobs import Job
from pipeline.desk.pages import desk_of, show, words_of_called
from pipeline.desk.posted import posted
from pipeline.errors import PairbandError
from pipeline.ledger.copy_log import Copy, read_log

REPORTS = "reports"
"""The folder of the dealer's folder into which all reports are written."""

DATABASE = "application/vnd.duckdb"
MOST_COPIES = 20


@dataclass(frozen=True)
class Kept:
    """A copy that lies where it was put, as the page names it: `id` is the digest of its content."""

    id: str
    words: str
    place: str


def routes() -> list[Route]:
    """Return the routes of the care of the ledger."""
    return [
        Route("/care", _care),
        Route("/care/examine", _examine),
        Route("/care/backup", _back_up, methods=["POST"]),
        Route("/care/recover", _ask_to_recover),
        Route("/care/recover", _recover, methods=["POST"]),
        Route("/care/compact", _ask_to_compact),
        Route("/care/compact", _compact, methods=["POST"]),
        Route("/care/copy/{id}", _download),
        Route("/care/report", _report, methods=["POST"]),
    ]


def _care(request: Request) -> Response:
    desk = desk_of(request)
    fault, copies = "", []
    try:
        copies = copies_there(desk)
    except PairbandError as exc:
        fault = str(exc)
    index = desk.folder / REPORTS / "index.html"
    return show(
        request,
        "desk/care.html.j2",
        title="Care of the ledger",
        has_ledger=desk.has_ledger,
        copies=[_kept(one) for one in copies],
        fault=fault,
        reports=str(index) if index.is_file() else "",
        folder=str(desk.folder / REPORTS),
    )


def copies_there(desk: Desk) -> list[Copy]:
    """Return the copies of the ledger that lie where they were put, the newest first; raises LedgerError."""
    found = {one.sha256: one for one in read_log(desk.ledger_path).copies if one.is_there}
    return sorted(found.values(), key=lambda one: one.made_at, reverse=True)[:MOST_COPIES]


def _kept(copy: Copy) -> Kept:
    made = formats.moment(copy.made_at.astimezone())
    return Kept(copy.sha256, f"{made}: {formats.counted(copy.sales, 'record')}", str(copy.path))


def _wanted(desk: Desk, digest: str) -> Copy:
    found = next((one for one in copies_there(desk) if one.sha256 == digest), None)
    if found is None:
        raise HTTPException(404, "There is no such copy.")
    return found


def _examine(request: Request) -> Response:
    """Have the ledger examined, as a job: every table of it is read."""
    desk = desk_of(request)
    key = ("doctor", desk.moment())
    job = desk.answering.get(key)
    if job is None or job.result is None:
        job = desk.answering.keep(key, _start(desk, "Examining the ledger", "doctor", writes=False))
    job.wait(0.8)
    if job.result is None:
        return RedirectResponse(f"/work/{job.id}?then=/care/examine", 303)
    return show(request, "desk/sheets.html.j2", title="The ledger examined", **words_of_called(job.result))


def _back_up(request: Request) -> Response:
    job = _start(desk_of(request), "Copying the ledger", "backup", writes=True)
    return RedirectResponse(f"/work/{job.id}", 303)


def _ask_to_recover(request: Request) -> Response:
    """Ask whether a copy is to come back, and say what becomes of what is there."""
    copy = _kept(_wanted(desk_of(request), request.query_params.get("copy", "")))
    return show(request, "desk/care_recover.html.j2", title="Bring a copy back", copy=copy)


def _recover(request: Request) -> Response:
    desk = desk_of(request)
    copy = _wanted(desk, posted(request).get("copy", ""))
    job = _start(desk, "Bringing the copy back", "recover", "--", str(copy.path), writes=True)
    return RedirectResponse(f"/work/{job.id}", 303)


def _ask_to_compact(request: Request) -> Response:
    return show(request, "desk/care_compact.html.j2", title="Compact the ledger")


def _compact(request: Request) -> Response:
    job = _start(desk_of(request), "Compacting the ledger", "compact", writes=True)
    return RedirectResponse(f"/work/{job.id}", 303)


def _download(request: Request) -> Response:
    """Answer with a copy of the ledger to keep elsewhere."""
    copy = _wanted(desk_of(request), request.path_params["id"])
    name = f"pairband-{copy.made_at:%Y%m%d-%H%M%S}.duckdb"
    return FileResponse(
        copy.path, media_type=DATABASE, filename=name, headers={"content-security-policy": "sandbox"}
    )


def _report(request: Request) -> Response:
    """Build all pages into the folder of reports."""
    desk = desk_of(request)
    job = _start(desk, "Building the reports", "report", "--", REPORTS, writes=False, takes_pages=False)
    return RedirectResponse(f"/work/{job.id}", 303)


def _start(
    desk: Desk, what: str, command: str, *arguments: str, writes: bool, takes_pages: bool = True
) -> Job[Called]:
    """Begin a command as a job."""
    return desk.jobs.start(
        what,
        lambda on_progress: call(command, arguments, on_progress=on_progress, takes_pages=takes_pages),
        writes=writes,
    )
