"""The consignment of one pair as it is described: what each venue brings, the sheet to hand out, the tickets."""

from markupsafe import Markup
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from pipeline.desk import described
from pipeline.desk.answers import download
from pipeline.desk.calls import NOT_WRITTEN, Called, call
from pipeline.desk.described import (
    BESIDES,
    WORDS,
    form_of_pair,
    groups_of,
    query_of,
    query_of_words,
    say_kept,
    with_fault,
)
from pipeline.desk.desk import Desk
from pipeline.desk.forms import Form
from pipeline.desk.market_file.address import address_of
from pipeline.desk.pages import desk_of, show, show_alone, show_sentences_of, words_of_called
from reports.page import render_fragment

OF_THE_SHEET = ("venue", "language")
"""The fields that are of the sheet and the tickets alone."""

HINTS = described.HINTS | {
    "venue": "Left out, where the consignor gets most, and on tickets the shop.",
    "language": "Left out, as the market file says.",
    "patience": "At a fixed price; left out, as the market file says.",
}
"""What is said under the fields."""

SCRIPTS = ("desk/value.js",)
SHEET, TICKETS = "sheet", "tickets"
OUTPUTS = {
    SHEET: f"--page={NOT_WRITTEN / 'sheet.html'}",
    TICKETS: f"--tickets={NOT_WRITTEN / 'tickets.html'}",
}


def routes() -> list[Route]:
    """Return the routes of a consignment: the answer, its sheet and tickets, and keeping its prices."""
    return [
        Route("/consign", _page),
        Route("/consign/sheet", _sheet),
        Route("/consign/tickets", _tickets),
        Route("/consign/file/{kind}", _file),
        Route("/consign/keep", _keep, methods=["POST"]),
    ]


def _said(desk: Desk, form: Form, kind: str) -> Called:
    """Return what `pairband consign` says of the pair of a form, with its sheet or its tickets."""
    typed = [OUTPUTS[kind], *form.arguments()]
    moment = desk.moment()
    key = ("consign", tuple(typed), moment)

    def consign() -> Called:
        with desk.kept.lent(moment):
            return call("consign", typed)

    return desk.answers.once(key, consign)


def _page(request: Request) -> Response:
    """Answer with the form, and what the house should know of the consignment that it describes."""
    desk, form = desk_of(request), form_of_pair(request, "consign", hints=HINTS)
    if not any(one.value for one in form.fields):
        return _show(request, form, again=query_of_words(desk.drafts.get("consign")))
    called = _said(desk, form, SHEET)
    if called.fault:
        form, fault = with_fault(form, called.fault)
        return _show(request, form, fault=fault)
    return show(
        request,
        "desk/sheets.html.j2",
        title="A consignment",
        scripts=SCRIPTS,
        before=_describe(form, called),
        **words_of_called(called),
    )


def _show(request: Request, form: Form, *, fault: str = "", again: str = "") -> Response:
    """Answer with the form where there is no answer: nothing said yet, or an error."""
    return show(
        request,
        "desk/value.html.j2",
        title="A consignment",
        scripts=SCRIPTS,
        status=400 if fault or form.fields_wrong else 200,
        before=_describe(form, None),
        fault=show_sentences_of(fault),
        wrong=form.fields_wrong,
        pairs=[],
        action="/consign",
        again=again,
    )


def _describe(form: Form, called: Called | None) -> Markup:
    """Return the form and what stands beside it: the answer at a glance, what to do with it."""
    query = query_of(form)
    words = query_of(form, *WORDS, *BESIDES, "label", "as_of", "file", "row", "as_written")
    ways_out = (
        ("The sheet to hand out", f"/consign/sheet{query}", True),
        ("Save the sheet", f"/consign/file/{SHEET}{query}", False),
        ("Price ticket", f"/consign/tickets{query}", True),
        ("Its value", f"/value{words}", False),
        ("Your venues and their fees", address_of(("venues",)), False),
    )
    return render_fragment(
        "desk/describe.html.j2",
        action="/consign",
        draft="consign",
        glances=False,
        groups=groups_of(
            form,
            ("The pair", WORDS, True),
            ("With it, and its state", BESIDES, True),
            ("The sheet and the tickets", ("label", *OF_THE_SHEET), True),
            ("When", ("as_of", "patience"), True),
            ("From a list", ("file", "row"), False),
            ("Other", ("as_written",), False),
        ),
        glance=None if called is None else _glance_of(called),
        judged=None,
        ways_out=() if called is None else ways_out,
        keep="" if called is None else f"/consign/keep{query}",
        figures=(),
    )


def _glance_of(called: Called) -> dict[str, object]:
    """Return the figures of the answer, as the form shows them beside it."""
    sheet = called.sheets[0]
    return {"figures": sheet.figures, "weak": sheet.weak, "strip": None, "verdict": "", "fault": ""}


def _page_of(request: Request, kind: str) -> str:
    """Return the sheet or the tickets of what is described; raises HTTPException where there are none."""
    called = _said(desk_of(request), form_of_pair(request, "consign", hints=HINTS), kind)
    if called.fault or not called.pages:
        raise HTTPException(400, called.fault or "There is no such page.")
    if len(called.pages) > 1:
        raise HTTPException(400, "A sheet is of one pair: name its row.")
    return next(iter(called.pages.values()))


def _sheet(request: Request) -> Response:
    """Answer with the sheet as it would be written to a file, to print."""
    return show_alone(_page_of(request, SHEET))


def _tickets(request: Request) -> Response:
    """Answer with the tickets as they would be written to a file, to print."""
    return show_alone(_page_of(request, TICKETS))


def _file(request: Request) -> Response:
    """Answer with the sheet or the tickets as a file to keep."""
    kind = request.path_params["kind"]
    if kind not in OUTPUTS:
        raise HTTPException(404, "There is no such file of this page.")
    return download(_page_of(request, kind).encode(), f"{kind}.html", "text/html; charset=utf-8")


def _keep(request: Request) -> Response:
    """Keep the prices to set, as `--keep` does, and show them again."""
    form = form_of_pair(request, "consign", without=OF_THE_SHEET, hints=HINTS)
    called = call("consign", ["--keep", *form.arguments()])
    say_kept(desk_of(request), called)
    return RedirectResponse(f"/consign?{request.url.query}", 303)
