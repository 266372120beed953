"""The desk's first page: what there is, what awaits the owner, what to do next."""

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from pipeline.desk.calls import call
from pipeline.desk.pages import desk_of, show


def routes() -> list[Route]:
    """Return the routes of the first page, and of the fit."""
    return [Route("/", _home), Route("/fit", _fit, methods=["GET", "POST"])]


def _home(request: Request) -> Response:
    desk = desk_of(request)
    if not desk.has_market:
        return RedirectResponse("/start", 303)
    return show(
        request,
        "desk/home.html.j2",
        title="The desk",
        state=desk.state(),
        files=desk.files(),
    )


def _fit(request: Request) -> Response:
    """Begin a fit where it is asked for; else show what the latest says."""
    desk = desk_of(request)
    if request.method == "POST":
        job = desk.jobs.start(
            "Fitting the market", lambda on_progress: call("fit", (), on_progress=on_progress), writes=True
        )
        return RedirectResponse(f"/work/{job.id}", 303)
    return show(request, "desk/fit.html.j2", title="Fit the market", state=desk.state())
