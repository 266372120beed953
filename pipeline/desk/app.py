"""The desk as a web application: every route, every asset, and the answer to what goes wrong."""

from functools import partial
from importlib.resources import files

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Mount, Route

from pipeline.desk.desk import Desk
from pipeline.desk.pages import desk_of, show
from pipeline.desk.routes import answer_others, first_routes
from pipeline.desk.safety import Safety
from pipeline.errors import PairbandError
from pipeline.last_catch import words_of

OWN_FILES = {"desk.css": "text/css", "desk.js": "text/javascript", "tables.js": "text/javascript"}
"""The files that every page of the desk loads, and their types."""


def build_app(desk: Desk) -> Safety:
    """Return the desk's application behind its checks."""
    app = Starlette(
        routes=[
            *(
                Route(f"/{name}", partial(_own_file, name=name, kind=kind))
                for name, kind in OWN_FILES.items()
            ),
            Route("/assets/{name}", _asset),
            Route("/draft", _keep_draft, methods=["POST"]),
            *first_routes(),
            Mount("/", app=answer_others),
        ],
        exception_handlers={HTTPException: _refused, PairbandError: _failed, Exception: _failed},
    )
    app.state.desk = desk
    return Safety(app, port=desk.port, entry_secret=desk.entry_secret, cookie_secret=desk.cookie_secret)


def _own_file(_request: Request, *, name: str, kind: str) -> Response:
    return Response(files("reports").joinpath("desk", name).read_bytes(), media_type=kind)


def _asset(request: Request) -> Response:
    found = desk_of(request).assets.get(request.path_params["name"])
    if found is None:
        raise HTTPException(404, "There is no such file.")
    kind, content = found
    return Response(
        content, headers={"content-type": kind, "cache-control": "private, max-age=86400, immutable"}
    )


async def _keep_draft(request: Request) -> Response:
    """Keep what is typed into a form, field by field, as it is typed."""
    try:
        said = await request.json()
    except (ValueError, RecursionError):
        said = None
    if (
        not isinstance(said, dict)
        or not isinstance(said.get("form"), str)
        or not isinstance(said.get("said"), dict)
    ):
        raise HTTPException(400, "This is no draft of a form.")
    desk_of(request).drafts.keep(said["form"], {str(key): str(value) for key, value in said["said"].items()})
    return JSONResponse({"kept": True})


def _refused(request: Request, exc: Exception) -> Response:
    status = exc.status_code if isinstance(exc, HTTPException) else 500
    words = exc.detail if isinstance(exc, HTTPException) else ""
    if status == 404 and words == "Not Found":
        words = "The desk has no such page."
    return show(
        request, "desk/sheets.html.j2", title="Not here", status=status, fault=words, said=(), sheets=()
    )


def _failed(request: Request, exc: Exception) -> Response:
    """Answer to an error with its words; one that nobody expected is logged."""
    words = words_of(exc, ["desk", request.url.path])[0].removeprefix("pairband: ")
    status = 400 if isinstance(exc, PairbandError) else 500
    return show(
        request,
        "desk/sheets.html.j2",
        title="It could not be done",
        status=status,
        fault=words,
        said=(),
        sheets=(),
    )
