"""The desk's first page: what there is, what awaits the owner, what to do next."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from pipeline import formats
from pipeline.desk.doubt_list import TITLES, Doubt, address
from pipeline.desk.pages import desk_of, show
from pipeline.desk.reading_settled import faults_left
from pipeline.desk.state import Done, State
from reports.links import Link

MOST_NAMED = 5

DECIDED = {
    "correct": "Corrected a record",
    "remove": "Removed a row",
    "add": "Added a record by hand",
    "same sale": "Took two records as one sale",
    "different sales": "Kept two records apart",
    "same pair": "Took two sales as those of one pair",
    "era": "Set the era of a record",
    "accept": "Accepted a record as it is",
    "hold": "Kept a record out of the fit",
}
"""What each kind of decision did, in words."""


@dataclass(frozen=True)
class Step:
    """One step of the way to a value: what it is, where it is done, and whether it is done by now.

    `posts` says that it is begun by a button rather than on a page.
    """

    words: str
    button: str
    href: str
    is_done: bool
    posts: bool = False


def routes() -> list[Route]:
    """Return the route of the first page."""
    return [Route("/", _home)]


def _home(request: Request) -> Response:
    desk = desk_of(request)
    if not desk.has_market:
        return RedirectResponse("/start", 303)
    state = desk.state()
    doubts = () if state.fault else desk.doubts() or ()
    steps = steps_of(state, len(doubts))
    return show(
        request,
        "desk/home.html.j2",
        title="The desk",
        state=state,
        waiting=waiting_of(state, doubts, sum(faults_left(desk, *read) for read in state.faults_read)),
        steps=steps,
        next_step=next(step for step in steps if not step.is_done),
        done=[done_words(one) for one in state.done],
        broken=desk.market_fault() if state.fault else "",
    )


def steps_of(state: State, doubts: int) -> tuple[Step, ...]:
    """Return the steps from an export to a value; the last is never done."""
    return (
        Step("Read your exports", "Read an export", "/read", bool(state.records) and not state.unread),
        Step("Settle what is in doubt", "Settle the doubts", "/doubts", bool(state.records) and not doubts),
        Step(
            "Fit the market", "Fit the market", "/fit", bool(state.fitted_on) and not state.stale, posts=True
        ),
        Step("Value a pair", "Value a pair", "/value", False),
    )


def waiting_of(state: State, doubts: Sequence[Doubt], faulty: int = 0) -> list[Link]:
    """Return what awaits the owner, each with where it is settled; `faulty` rows and cells are not put right yet."""
    waiting = []
    if state.unread:
        named = ", ".join(state.unread[:MOST_NAMED]) + (", …" if len(state.unread) > MOST_NAMED else "")
        waiting.append(Link(f"{formats.counted(len(state.unread), 'file')} to read: {named}", "/read"))
    for kind, title in TITLES.items():
        if left := sum(doubt.kind == kind for doubt in doubts):
            waiting.append(Link(f"{title}: {formats.count(left)}", address(kind)))
    if faulty:
        words = "row or cell" if faulty == 1 else "rows and cells"
        waiting.append(Link(f"{formats.count(faulty)} {words} that could not be read", "/read"))
    return waiting


def done_words(done: Done) -> tuple[str, str]:
    """Return when something was done, in the owner's own time, and what it was."""
    at = formats.moment(done.done_at.replace(tzinfo=UTC).astimezone())
    match done.kind:
        case "read":
            return at, f"Read {done.what}: {formats.counted(done.counted, 'row')}"
        case "decided":
            said = DECIDED.get(done.what, f"Decided: {done.what}")
            return at, said + (f", {done.counted} changes together" if done.counted > 1 else "")
    return at, "Fitted the market"
