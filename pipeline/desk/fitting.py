"""The fit: begun in the background, and what the latest says, also once the desk was closed and opened again."""

from dataclasses import replace

from pydantic import TypeAdapter, ValidationError
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from pipeline import clock
from pipeline.answers.fit.run import FitSummary, fit_ledger, stored_summary
from pipeline.answers.fit.tables import fit_sheet
from pipeline.answers.sheet import Table
from pipeline.captured import OnProgress
from pipeline.desk.desk import Desk
from pipeline.desk.pages import desk_of, show
from pipeline.errors import PairbandError

KEPT = "the latest fit"
"""The name under which the desk keeps what the last fit that was made here said."""

NOT_KNOWN = -1
"""The doubted sales of a fit that was not made here: the ledger keeps the fit without them."""

WHAT = "Fitting the market"
_SUMMARY = TypeAdapter(FitSummary)


def routes() -> list[Route]:
    """Return the routes of the fit."""
    return [Route("/fit", _latest), Route("/fit", _begin, methods=["POST"])]


def _begin(request: Request) -> Response:
    desk = desk_of(request)
    under_way = next((job for job in desk.jobs.all() if job.what == WHAT and not job.ended), None)
    if under_way is None:
        under_way = desk.jobs.start(WHAT, lambda on_progress: fit_here(desk, on_progress), writes=True)
    return RedirectResponse(f"/work/{under_way.id}?then=/fit", 303)


def fit_here(desk: Desk, on_progress: OnProgress) -> FitSummary:
    """Fit the market as the command does, and keep what it says for as long as that fit is the latest."""
    summary = fit_ledger(desk.ledger_path, desk.market_path, fitted_at=clock.now(), on_progress=on_progress)
    desk.drafts.keep(KEPT, {"summary": _SUMMARY.dump_json(summary).decode()})
    return summary


def latest_summary(desk: Desk) -> FitSummary | None:
    """Return what the latest fit says; None where there is none. Of one made elsewhere, no single sale is known.

    Raises PairbandError where it cannot be read.
    """
    if not desk.has_ledger:
        return None
    with desk.workspace() as workspace:
        if not workspace.ledger.read("marts/latest_fit").height:
            return None
        kept = _kept(desk)
        if kept is not None and kept.fit_id == workspace.fitted.fit_id:
            return kept
        return replace(stored_summary(workspace), doubted_sales=NOT_KNOWN)


def _kept(desk: Desk) -> FitSummary | None:
    try:
        return _SUMMARY.validate_json(desk.drafts.get(KEPT).get("summary", ""))
    except ValidationError:
        return None


def _latest(request: Request) -> Response:
    """Show what the latest fit says, and the button for another."""
    desk = desk_of(request)
    summary, fault = None, ""
    try:
        summary = latest_summary(desk)
    except PairbandError as exc:
        fault = str(exc)
    sheet = None if summary is None else fit_sheet(summary)
    return show(
        request,
        "desk/fit.html.j2",
        title="The fit",
        state=desk.state(),
        fault=fault,
        is_whole=summary is None or summary.doubted_sales != NOT_KNOWN,
        sheet=sheet,
        doubted=[] if summary is None or sheet is None else rows_with_records(summary, sheet.tables[0]),
    )


def rows_with_records(summary: FitSummary, table: Table) -> list[tuple[str, tuple[str, ...]]]:
    """Return the doubted sales as the fit's table says them, each with its record."""
    return [
        (sale.record_id, tuple(texts)) for sale, texts in zip(summary.doubted, table.texts(), strict=True)
    ]
