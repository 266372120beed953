"""The answers that are a page with settings: each a command of the command line, its options as a form."""

from dataclasses import dataclass
from functools import partial
from urllib.parse import urlencode

from markupsafe import Markup
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from pipeline.captured import OnProgress
from pipeline.desk.calls import NOT_WRITTEN, Called, call, command_named
from pipeline.desk.desk import Desk
from pipeline.desk.forms import Form, form_of
from pipeline.desk.jobs import Job, State
from pipeline.desk.pages import desk_of, show, show_called, words_of_called
from pipeline.desk.work import show_job
from pipeline.ingest.proposal import Holds
from reports.export import table_bytes, workbook_bytes
from reports.page import render_fragment

WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


SOON = 0.8
"""Seconds for which a page waits for its answer before it shows how far the work is."""


@dataclass(frozen=True)
class View:
    """One answer of the desk.

    `needs` are fields of which one must be said before there is an answer, and `asks` says so; `without` are options
    that the desk does in another way; `has_page` says that the command makes a page, `keeps` that its values can be
    kept, `holds` what the files hold that it reads.
    """

    path: str
    command: str
    title: str
    needs: tuple[str, ...] = ()
    asks: str = ""
    without: tuple[str, ...] = ()
    has_page: bool = True
    keeps: bool = False
    holds: Holds = "sales"


VIEWS = (
    View("/stock", "stock", "The stock", keeps=True, holds="stock"),
    View(
        "/lots",
        "lots",
        "Lots",
        needs=("file", "backtest"),
        asks="Choose a file of lots to come under Settings, or Backtest to try your rule on past lots.",
        keeps=True,
        holds="lots",
    ),
    View("/restore", "restore", "Restoration", keeps=True, holds="stock"),
    View("/market", "market", "The market"),
    View("/changed", "changed", "What changed", holds="stock"),
    View("/outcomes", "outcomes", "Outcomes"),
    View("/audit", "audit", "The audit"),
    View("/words", "words", "Words of titles", has_page=False),
    View("/understood", "understood", "What was understood"),
    View("/pricing", "pricing", "The pricing page"),
)


def routes() -> list[Route]:
    """Return the routes of all answers: the page, its files, and keeping its values."""
    found = []
    for view in VIEWS:
        found.append(Route(view.path, partial(_page, view=view)))
        found.append(Route(f"{view.path}/file/{{kind}}", partial(_file, view=view)))
        if view.keeps:
            found.append(Route(f"{view.path}/keep", partial(_keep, view=view), methods=["POST"]))
    return found


def _page(request: Request, *, view: View) -> Response:
    """Answer with a view: its settings, and what the command says with them."""
    desk = desk_of(request)
    form = form_of_view(request, view)
    if view.needs and not any(one.value for one in form.fields if one.name in view.needs):
        before = _settings(form, view, request)
        said = words_of_called(None) | {"said": [view.asks]}
        return show(request, "desk/sheets.html.j2", title=view.title, before=before, **said)
    found = answer(desk, view, form)
    if isinstance(found, Job):
        return show_job(request, found)
    return show_called(request, found, title=view.title, before=_settings(form, view, request, found))


def form_of_view(request: Request, view: View) -> Form:
    """Return the form of a view, filled from a request's address."""
    desk = desk_of(request)
    said = dict(request.query_params)
    command = command_named(view.command)
    files = desk.files_holding(view.holds)
    return form_of(command, said, market=desk.market(), files=files, without=view.without)


def answer(desk: Desk, view: View, form: Form) -> Called | Job[Called]:
    """Return what the command of a view says, at once where it is known or soon done; else the work under way."""
    typed = ([f"--page={NOT_WRITTEN / 'page.html'}"] if view.has_page else []) + form.arguments()
    key = (view.command, tuple(typed), desk.moment())
    known = desk.answers.get(key)
    if known is not None:
        return known
    job = desk.answering.get(key)
    if job is None or job.state in (State.FAILED, State.CANCELLED):

        def work(on_progress: OnProgress) -> Called:
            return desk.answers.keep(key, call(view.command, typed, on_progress=on_progress))

        job = desk.answering.keep(key, desk.jobs.start(view.title, work, writes=False))
    job.wait(SOON)
    return job.result if job.result is not None else job


def _settings(form: Form, view: View, request: Request, called: Called | None = None) -> Markup:
    query = urlencode({one.name: one.value for one in form.fields if one.value})
    tail = f"?{query}" if query else ""
    ways_out = []
    if called is not None and not called.fault:
        if called.pages:
            ways_out.append(("Save the page", f"{view.path}/file/page{tail}"))
        if called.tables:
            ways_out += [("CSV", f"{view.path}/file/csv{tail}"), ("Excel", f"{view.path}/file/xlsx{tail}")]
    return render_fragment(
        "desk/settings.html.j2",
        action=view.path,
        fields=form.fields,
        open=called is None or bool(called.fault),
        ways_out=ways_out,
        keep=f"{view.path}/keep{tail}" if view.keeps and ways_out else "",
    )


def _file(request: Request, *, view: View) -> Response:
    """Answer with a file of what a view shows: its page, or its table as CSV or a workbook."""
    found = answer(desk_of(request), view, form_of_view(request, view))
    if isinstance(found, Job):
        return show_job(request, found)
    kind = request.path_params["kind"]
    name = view.path.strip("/")
    if kind == "page" and found.pages:
        return download(next(iter(found.pages.values())).encode(), f"{name}.html", "text/html; charset=utf-8")
    if kind == "csv" and found.tables:
        return download(table_bytes(found.tables[0].rows), f"{name}.csv", "text/csv; charset=utf-8")
    if kind == "xlsx" and found.tables:
        table = found.tables[0]
        return download(workbook_bytes(table.rows, table.key), f"{name}.xlsx", WORKBOOK)
    raise HTTPException(404, "There is no such file of this page.")


def download(content: bytes, name: str, media: str) -> Response:
    """Answer with a file to keep, which the browser never shows as a page of the desk."""
    headers = {"content-disposition": f'attachment; filename="{name}"', "content-security-policy": "sandbox"}
    return Response(content, media_type=media, headers=headers)


def _keep(request: Request, *, view: View) -> Response:
    """Keep the values of a view, as `--keep` does, and show it again."""
    desk = desk_of(request)
    form = form_of_view(request, view)
    found = call(view.command, ["--keep", *form.arguments()])
    desk.notices.add(found.fault or " ".join(found.said) or "Kept.")
    query = f"?{request.url.query}" if request.url.query else ""
    return RedirectResponse(f"{view.path}{query}", 303)
