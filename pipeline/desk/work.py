"""Work under way: how far it is, how it ended, and stopping it."""

from dataclasses import asdict
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from pipeline.desk.calls import Called
from pipeline.desk.jobs import Job
from pipeline.desk.pages import desk_of, show, show_called
from pipeline.desk.safety import is_local_path


def routes() -> list[Route]:
    """Return the routes of work under way."""
    return [
        Route("/work/{id}", _page),
        Route("/work/{id}/state", _state),
        Route("/work/{id}/stop", _stop, methods=["POST"]),
    ]


def show_job(request: Request, job: Job[Any]) -> Response:
    """Answer with the page of a piece of work; once it is done, that goes on to the page that was asked for."""
    query = f"?{request.url.query}" if request.url.query else ""
    return _show(request, job, then=f"{request.url.path}{query}")


def _job(request: Request) -> Job[Any]:
    job = desk_of(request).jobs.find(request.path_params["id"])
    if job is None:
        raise HTTPException(
            404, "This work is no longer known: the desk was closed since, or it ended long ago."
        )
    return job


def _then(request: Request) -> str:
    wanted = request.query_params.get("then", "")
    return wanted if is_local_path(wanted) else ""


def _page(request: Request) -> Response:
    job, then = _job(request), _then(request)
    if job.ended and then and not (job.error or (isinstance(job.result, Called) and job.result.fault)):
        return RedirectResponse(then, 303)
    return _show(request, job, then=then)


def _show(request: Request, job: Job[Any], *, then: str) -> Response:
    ended = job.ended  # asked once: it may end while the page is made
    if ended and isinstance(job.result, Called):
        return show_called(request, job.result, title=job.what)
    return show(request, "desk/work.html.j2", title=job.what, job=job, ended=ended, then=then)


def _state(request: Request) -> Response:
    job = _job(request)
    return JSONResponse({"ended": job.ended, **asdict(job.reached)})


def _stop(request: Request) -> Response:
    job = _job(request)
    job.cancel()
    return RedirectResponse(f"/work/{job.id}", 303)
