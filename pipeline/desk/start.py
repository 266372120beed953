"""The first steps in an empty folder: a few questions, or the demo."""

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from pipeline.desk.calls import call
from pipeline.desk.pages import desk_of, show


def routes() -> list[Route]:
    """Return the routes of the first steps."""
    return [Route("/start", _start), Route("/start/demo", _demo, methods=["POST"])]


def _start(request: Request) -> Response:
    if desk_of(request).has_market:
        return RedirectResponse("/", 303)
    return show(request, "desk/start.html.j2", title="Begin")


def _demo(request: Request) -> Response:
    """Make the demo in this folder."""
    desk = desk_of(request)
    job = desk.jobs.start(
        "Making the demo",
        lambda on_progress: call("demo", ["."], on_progress=on_progress, takes_pages=False),
        writes=True,
    )
    return RedirectResponse(f"/work/{job.id}?then=/", 303)
