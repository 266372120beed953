"""Make the desk's pages: the ways to all of them at the top, what is to be said, and then the page itself."""

from collections.abc import Sequence
from typing import Any

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse

from pipeline.desk.calls import Called
from pipeline.desk.desk import Desk
from pipeline.desk.embed import NO_HTML, in_desk, policy_of
from pipeline.desk.notices import Notice
from pipeline.untrusted import show_sentences, show_words
from reports.links import Link
from reports.page import Table, render_fragment, render_page

_ALONE = "frame-ancestors 'none'; sandbox allow-scripts allow-modals"

WAYS: tuple[tuple[str, tuple[Link, ...]], ...] = (
    ("Records", (Link("Read", "/read"), Link("Records", "/records"), Link("Doubts", "/doubts"))),
    ("A pair", (Link("Value", "/value"), Link("Consign", "/consign"), Link("Pricing page", "/pricing"))),
    ("Decide", (Link("Stock", "/stock"), Link("Lots", "/lots"), Link("Restore", "/restore"))),
    (
        "Look",
        (
            Link("Market", "/market"),
            Link("Changed", "/changed"),
            Link("Outcomes", "/outcomes"),
            Link("Audit", "/audit"),
            Link("Words", "/words"),
        ),
    ),
    ("Settle", (Link("Market file", "/market-file"), Link("Fit", "/fit"), Link("Care", "/care"))),
)
"""The ways to all pages, by group."""

PLACES = {
    "appraise": Link("Value", "/value"),
    "ingest": Link("Read", "/read"),
    "map": Link("Read", "/read"),
    "understood": Link("What was understood", "/understood"),
    "quarantine": Link("Read", "/read"),
    "records": Link("Records", "/records"),
    "correct": Link("Records", "/records"),
    "remove": Link("Records", "/records"),
    "add": Link("Add a sale", "/records/add"),
    "review": Link("Doubts", "/doubts"),
    "rule": Link("Doubts", "/doubts"),
    "decisions": Link("Decisions", "/decisions"),
    "undo": Link("Decisions", "/decisions"),
    "consign": Link("Consign", "/consign"),
    "pricing": Link("Pricing page", "/pricing"),
    "stock": Link("Stock", "/stock"),
    "lots": Link("Lots", "/lots"),
    "restore": Link("Restore", "/restore"),
    "market": Link("Market", "/market"),
    "changed": Link("Changed", "/changed"),
    "outcomes": Link("Outcomes", "/outcomes"),
    "audit": Link("Audit", "/audit"),
    "words": Link("Words", "/words"),
    "check": Link("Market file", "/market-file"),
    "init": Link("Market file", "/market-file"),
    "phrases": Link("Market file", "/market-file"),
    "fit": Link("Fit", "/fit"),
    "doctor": Link("Care", "/care"),
    "backup": Link("Care", "/care"),
    "recover": Link("Care", "/care"),
    "compact": Link("Care", "/care"),
}
"""Where the desk does what a command does."""


def desk_of(request: Request) -> Desk:
    """Return the desk that a request is for."""
    found: Desk = request.app.state.desk
    return found


def show(
    request: Request,
    template: str,
    *,
    title: str,
    scripts: Sequence[str] = (),
    status: int = 200,
    before: Markup = NO_HTML,
    **values: Any,
) -> HTMLResponse:
    """Answer with a page of the desk's own (a template of `reports/desk`)."""
    desk = desk_of(request)
    market = desk.market()
    html = render_page(
        template,
        business=market.business.heading if market else "",
        title=title,
        scripts=scripts,
        **values,
    )
    return show_html(request, html, status=status, before=before)


def show_html(
    request: Request,
    html: str,
    *,
    status: int = 200,
    before: Markup = NO_HTML,
    scripts: Sequence[str] = (),
) -> HTMLResponse:
    """Answer with a whole page of pairband, the ways of the desk around it; `scripts` are more of the desk's."""
    desk = desk_of(request)
    ways = render_fragment(
        "desk/ways.html.j2",
        groups=WAYS,
        here=request.url.path,
        notices=(*desk.notices.take(), *standing(desk)),
    )
    page = in_desk(html, desk, ways=ways, before=before, places=PLACES, scripts=scripts)
    return HTMLResponse(page, status)


def show_alone(html: str) -> HTMLResponse:
    """Answer with a page as it would be written to a file: to print, without the ways of the desk.

    It keeps the policy that it carries in itself, and as a page of no origin it reaches nothing of the desk.
    """
    return HTMLResponse(
        html, headers={"content-security-policy": f"{policy_of(html)}; {_ALONE}", "cache-control": "no-store"}
    )


def show_called(request: Request, called: Called, *, title: str, before: Markup = NO_HTML) -> HTMLResponse:
    """Answer with what a command said: its page where it made one, else its sheets."""
    if called.pages and not called.fault:
        return show_html(request, next(iter(called.pages.values())), before=before)
    return show(
        request,
        "desk/sheets.html.j2",
        title=title,
        before=before,
        status=400 if called.fault else 200,
        **words_of_called(called),
    )


def words_of_called(called: Called | None) -> dict[str, Any]:
    """Return what `desk/sheets.html.j2` says of a command; of none, nothing."""
    if called is None:
        return {"fault": "", "said": (), "sheets": ()}
    return {
        "fault": show_sentences_of(called.fault),
        "said": called.said,
        "sheets": [_shown(one) for one in called.sheets],
    }


def show_sentences_of(words: str) -> str:
    """Return lines of our own, fit to show."""
    return "\n".join(show_sentences(line) for line in words.splitlines())


def _shown(sheet: Any) -> dict[str, Any]:
    """Return a sheet as the template takes it: all there is, nothing that stands only in place of details."""
    from pipeline.answers.sheet import Brief

    return {
        "title": show_words(sheet.title, 160),
        "weak": sheet.weak,
        "figures": sheet.figures,
        "sentences": [line for line in sheet.sentences if line and not isinstance(line, Brief)],
        "tables": [Table.of(one) for one in sheet.tables if one.rows.height and not one.brief],
        "warnings": [line for line in sheet.warnings if line and not isinstance(line, Brief)],
        "source": "" if isinstance(sheet.source, Brief) else sheet.source,
    }


def standing(desk: Desk) -> list[Notice]:
    """Return what every page says as long as it is so: work under way, and a fit that is missing or out of date."""
    found = [
        Notice(f"{job.what} is under way.", "See how far it is", f"/work/{job.id}")
        for job in desk.jobs.all()
        if job.writes and not job.ended
    ]
    if not found and desk.is_stale():
        words, button = (
            ("Records or the market file changed since the fit.", "Fit again")
            if desk.state().fitted_on
            else ("There is no fit yet, so no value either.", "Fit the market")
        )
        found.append(Notice(words, button, post="/fit"))
    return found
