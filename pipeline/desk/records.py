"""The records as a list that is searched, filtered, put in order and paged through; the address holds all of it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, get_args
from urllib.parse import urlencode

import click
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from pipeline import formats
from pipeline.answers.records.answer import Record, Records
from pipeline.answers.records.run import NEWEST, Order, OrderBy, Wanted, find_records
from pipeline.answers.records.tables import records_table
from pipeline.answers.understood.tables import USES
from pipeline.desk.answers import download
from pipeline.desk.calls import command_named
from pipeline.desk.desk import Desk
from pipeline.desk.forms import Form, form_of
from pipeline.desk.pages import desk_of, show
from pipeline.errors import PairbandError
from pipeline.options import read_wanted, wanted_records
from pipeline.workspace import Workspace
from reports.export import table_bytes

PAGE = 50
"""Records of one page."""

MOST_SIGNS = 9
"""The digits of a number in an address, at most."""

HEADINGS: tuple[tuple[OrderBy | None, str, bool], ...] = (
    ("day", "Day", False),
    ("venue", "Venue", False),
    (None, "Title", False),
    ("pair", "Pair", False),
    ("size", "Size", False),
    ("grade", "Grade", True),
    ("price", "Paid", True),
    (None, "Status", False),
    (None, "In the fit", False),
)
"""The columns: what they are put in order by, the heading, whether they are figures."""

_NOT_ASKED = ("record", "removed", "limit", "csv", "parquet")
_FIRST = ("said", "silhouette", "venue", "since", "until", "price")
"""The fields that come first, since they are asked for most."""


@dataclass(frozen=True)
class Heading:
    """The heading of a column, where it leads, and how the rows stand by it ("" where by another)."""

    words: str
    figures: bool
    href: str
    sorted: str


@dataclass(frozen=True)
class Asked:
    """What an address asks for: the form with what is wrong in it, which records, in which order, from where on."""

    form: Form
    wanted: Wanted | None
    order: Order
    start: int
    fault: str = ""

    def without(self, name: str) -> str:
        """Return the address of the same search without one of its filters."""
        others: dict[str, Any] = {name: None}
        return self.address(**others)

    def address(self, path: str = "/records", **others: object) -> str:
        """Return the address of the same search, with other settings beside it; None leaves one out."""
        said: dict[str, object] = {one.name: one.value for one in self.form.fields if one.value}
        if self.order != NEWEST:
            said |= {"sort": self.order.by, "way": "down" if self.order.descending else "up"}
        said |= others
        query = urlencode({name: value for name, value in said.items() if value is not None})
        return f"{path}?{query}" if query else path


def routes() -> list[Route]:
    """Return the routes of the list."""
    return [Route("/records", _page), Route("/records/csv", _csv)]


def _page(request: Request) -> Response:
    desk = desk_of(request)
    if not desk.has_ledger:
        return show(request, "desk/no_records.html.j2", title="Records")
    with desk.workspace() as workspace:
        asked = _asked(request, desk, workspace)
        found: Records | None = None
        if asked.wanted is not None:
            try:
                found = find_records(
                    workspace.ledger,
                    workspace.market,
                    asked.wanted,
                    first=PAGE,
                    start=asked.start,
                    order=asked.order,
                )
            except PairbandError as exc:
                asked = replace(asked, fault=str(exc))
    return show(
        request,
        "desk/records.html.j2",
        title="Records",
        status=400 if asked.fault else 200,
        asked=asked,
        narrowed=[one for one in asked.form.fields if one.value and one.name != "said"],
        fault=asked.fault,
        headings=[_heading(asked, *one) for one in HEADINGS],
        rows=[_row(one, found.currency) for one in found.listed] if found else [],
        **_paging(asked, found),
    )


def _csv(request: Request) -> Response:
    """Answer with all that is found as CSV, as `pairband records --csv` writes it."""
    desk = desk_of(request)
    with desk.workspace() as workspace:
        asked = _asked(request, desk, workspace)
        if asked.wanted is None:
            return RedirectResponse(asked.address(), 303)
        found = find_records(workspace.ledger, workspace.market, asked.wanted, first=None, order=asked.order)
    return download(table_bytes(records_table(found).rows), "records.csv", "text/csv; charset=utf-8")


def _asked(request: Request, desk: Desk, workspace: Workspace) -> Asked:
    """Return what an address asks for, read by the options of the command itself."""
    said = dict(request.query_params)
    command = command_named("records")
    form = form_of(command, said, market=desk.market(), without=_NOT_ASKED)
    files = tuple(dict.fromkeys(workspace.ledger.read("understood/files")["file_name"].to_list()))
    venues = tuple(workspace.market.venue_by_name)
    choices = {"file_name": files, "venue": venues}
    fields = [
        replace(one, kind="choice", offered=choices[one.name]) if one.name in choices else one
        for one in form.fields
    ]
    fields.sort(key=lambda one: _FIRST.index(one.name) if one.name in _FIRST else len(_FIRST))
    form = Form(command, tuple(fields))
    by = said.get("sort", NEWEST.by)
    order = (
        Order(by, descending=said.get("way") == "down")  # type: ignore[arg-type]  # it is one of them
        if "sort" in said and by in get_args(OrderBy)
        else NEWEST
    )
    said_start = said.get("start", "")
    start = int(said_start) if said_start.isdecimal() and len(said_start) <= MOST_SIGNS else 0
    try:
        return Asked(form, _wanted(form), order, start)
    except click.UsageError as exc:
        name = getattr(getattr(exc, "param", None), "name", None)
        at_field = [replace(one, fault=exc.message) if one.name == name else one for one in form.fields]
        return Asked(Form(command, tuple(at_field)), None, order, start, exc.message)


def _wanted(form: Form) -> Wanted:
    """Return which records the values of a form mean; raises UsageError where one cannot be read."""
    read = click.Command("records", params=list(_options()))
    context = read.make_context("records", form.arguments())
    return read_wanted(dict(context.params))


def _options() -> list[click.Parameter]:
    def asked(**_words: Any) -> None:
        """Take the options."""

    return list(reversed(wanted_records(asked).__click_params__))  # type: ignore[attr-defined]


def _heading(asked: Asked, by: OrderBy | None, words: str, figures: bool) -> Heading:
    if by is None:
        return Heading(words, figures, "", "")
    is_by = asked.order.by == by
    descends = not asked.order.descending if is_by else by in ("day", "price", "grade")
    href = asked.address(sort=by, way="down" if descends else "up")
    return Heading(words, figures, href, ("descending" if asked.order.descending else "ascending") * is_by)


def _row(record: Record, currency: str) -> dict[str, Any]:
    """Return a record as the list shows it."""
    label, system = record.size_label or "", record.size_system
    use = USES[record.use].replace(" (`pairband review`)", "")
    return {
        "href": f"/records/{record.record_id}",
        "day": formats.day(record.day) if record.day else "no day",
        "venue": record.venue,
        "title": record.title or record.short_id,
        "pair": " ".join(filter(None, (record.silhouette, record.colourway, record.era))),
        "size": label if not system or system in label else f"{system} {label}",
        "grade": "" if record.grade is None else f"{record.grade:g}",
        "price": "" if record.price_paid is None else formats.amount(float(record.price_paid), currency),
        "status": record.status,
        "use": use + ", corrected" * record.is_corrected,
    }


def _paging(asked: Asked, found: Records | None) -> Mapping[str, Any]:
    """Return where a page stands in all that is found, and the addresses around it."""
    if found is None:
        return {"place": "", "previous": "", "following": "", "csv": ""}
    shown, last = len(found.listed), max(0, (found.matching - 1) // PAGE * PAGE)
    place = f"{found.start + 1:,}–{found.start + shown:,} of {formats.counted(found.matching, 'record')}"
    return {
        "place": place if shown else "No record matches.",
        "previous": asked.address(start=max(0, found.start - PAGE) or None) if found.start else "",
        "following": asked.address(start=found.start + PAGE) if found.start < last else "",
        "csv": asked.address("/records/csv") if shown else "",
    }
