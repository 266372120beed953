"""One record beside its rows: correct it, remove it, rule on it, take that back; and a sale added by hand."""

import json
from collections.abc import Mapping, Sequence
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from pipeline import clock, formats
from pipeline.answers.corrections.run import preview_correction
from pipeline.answers.corrections.tables import corrected_sheet
from pipeline.answers.records.answer import OneRecord, RowBeside
from pipeline.answers.records.run import show_record
from pipeline.answers.records.tables import record_sheet
from pipeline.answers.review.tables import decision_words
from pipeline.answers.understood.tables import USES, field_title
from pipeline.desk.calls import Called, call
from pipeline.desk.desk import Desk
from pipeline.desk.pages import desk_of, show
from pipeline.desk.posted import posted
from pipeline.desk.record_form import (
    REASON,
    changed_fields,
    fault_at,
    fields_of,
    present_values,
    reason_of,
)
from pipeline.errors import DecisionError, PairbandError, UnknownName
from pipeline.ingest.put_right import find_record, record_of
from reports.page import Table

ADDING = "records/add"
"""The name under which a sale that is being added is kept until it is sent."""

_NOT_LEFT = ("held_out", "flags")


def routes() -> list[Route]:
    """Return the routes of one record, and of adding one."""
    return [
        Route("/records/add", _add),
        Route("/records/add", _added, methods=["POST"]),
        Route("/records/{id}", _page),
        Route("/records/{id}/correct", _preview, methods=["POST"]),
        Route("/records/{id}/keep", _correct, methods=["POST"]),
        Route("/records/{id}/forget", _forget, methods=["POST"]),
        Route("/records/{id}/remove", _remove, methods=["POST"]),
        Route("/records/{id}/rule", _rule, methods=["POST"]),
        Route("/records/{id}/undo", _undo, methods=["POST"]),
    ]


def _page(request: Request) -> Response:
    word = str(request.path_params["id"])
    said = desk_of(request).drafts.get(_draft_of(word))
    return _show(request, word, said=said, begun=bool(said))


def _show(
    request: Request,
    word: str,
    *,
    said: Mapping[str, str],
    faults: Mapping[str, str] | None = None,
    preview: Table | None = None,
    changes: Mapping[str, str] | None = None,
    begun: bool = False,
) -> Response:
    """Answer with the page of a record: what is typed into its form, what is wrong there, what would change."""
    desk = desk_of(request)
    found, record = read_record(desk, word)
    market = desk.market()
    present = present_values(record)
    sheet = record_sheet(found)
    return show(
        request,
        "desk/record.html.j2",
        title="A record",
        status=400 if faults else 200,
        record=found,
        name=found.title,
        use=USES[found.use].replace(" (`pairband review`)", ""),
        paid="" if found.price_paid is None else formats.amount(found.price_paid, found.currency),
        value="" if found.value is None else formats.estimate(found.value, found.currency),
        known=[(field_title(field), text) for field, text in found.known.items() if field not in _NOT_LEFT],
        flags=record["flags"] or (),
        rows=[(row, _heading(row)) for row in found.rows],
        field_title=field_title,
        decisions=[decision_row(one) for one in found.decisions],
        offers=[(one, formats.day(one["day"]) if one["day"] else "no day") for one in found.offers],
        history=[Table.of(one) for one in sheet.tables if one.key == "history" and one.rows.height],
        eras=[era.name for era in market.eras] if market else [],
        era=record["era"],
        held=bool(record["held_out"]),
        fields=fields_of(present | dict(said), market, faults),
        present=present,
        reason=reason_of(said),
        faults=faults or {},
        preview=preview,
        changes=changes or {},
        open=bool(faults or begun) or preview is not None,
        begun=begun,
        draft=_draft_of(found.record_id),
    )


def read_record(desk: Desk, word: str) -> tuple[OneRecord, dict[str, Any]]:
    """Return a record beside its rows, and its columns; raises HTTPException (404) where there is none."""
    return read_records(desk, (word,))[0]


def read_records(desk: Desk, words: Sequence[str]) -> list[tuple[OneRecord, dict[str, Any]]]:
    """Return records beside their rows, each with its columns; raises HTTPException (404) where there is none."""
    try:
        with desk.workspace() as workspace:
            found = [show_record(workspace, word, as_of=clock.today()) for word in words]
            return [(one, record_of(workspace.ledger, one.record_id)) for one in found]
    except (UnknownName, DecisionError) as exc:
        raise HTTPException(404, str(exc)) from exc


def decision_row(row: Mapping[str, Any]) -> dict[str, str]:
    """Return a decision as a list of them shows it, with a button to take it back."""
    return {
        "id": row["decision_id"],
        "what": decision_words(row),
        "day": formats.day(row["decided_at"].date()),
        "note": row["note"] or "",
    }


def say_done(desk: Desk, called: Called, words: str = "") -> None:
    """Have the next page say what came of a command."""
    desk.notices.add(called.fault or words or " ".join(called.said))


def _heading(row: RowBeside) -> str:
    sheet = f", sheet {row.sheet}" if row.sheet else ""
    return f"Row {row.row_number} of {row.file_name}{sheet}"


def _draft_of(record_id: str) -> str:
    return f"records/{record_id}"


def _preview(request: Request) -> Response:
    """Show what a correction would change, before anything is kept."""
    word, desk, said = str(request.path_params["id"]), desk_of(request), posted(request)
    _, record = read_record(desk, word)
    changes = changed_fields(said, present_values(record))
    if not changes:
        return _show(request, word, said=said, faults={"": "Nothing was changed: every field is as it was."})
    try:
        found = preview_correction(
            desk.ledger_path, desk.market_path, record["record_id"], changes, decided_at=clock.now()
        )
    except PairbandError as exc:
        return _show(request, word, said=said, faults=fault_at(str(exc), changes))
    table = Table.of(corrected_sheet(found).table("changes"))
    return _show(request, word, said=said, preview=table, changes=changes)


def _correct(request: Request) -> Response:
    """Keep a correction, and show the record as it is then."""
    word, desk, said = str(request.path_params["id"]), desk_of(request), posted(request)
    _, record = read_record(desk, word)
    changes = changed_fields(said, present_values(record))
    words = [f"{field}={text}" for field, text in changes.items()]
    record_id = record["record_id"]
    called = call("correct", ["--json", f"--reason={said.get(REASON, '')}", "--", record_id, *words])
    if called.fault:
        return _show(request, word, said=said, faults=fault_at(called.fault, changes))
    desk.drafts.drop(_draft_of(record_id))
    desk.notices.add("Corrected. What follows from it was worked out again.")
    return RedirectResponse(f"/records/{_record_id(called)}", 303)


def _record_id(called: Called) -> str:
    """Return the id of the record that a command says, which may be another than before."""
    return str(json.loads(called.said[0])["record_id"])


def _forget(request: Request) -> Response:
    record_id = str(request.path_params["id"])
    desk_of(request).drafts.drop(_draft_of(record_id))
    return RedirectResponse(f"/records/{record_id}", 303)


def _remove(request: Request) -> Response:
    desk, record_id = desk_of(request), str(request.path_params["id"])
    reason = posted(request).get(REASON, "")
    called = call("remove", ["--yes", f"--reason={reason}", "--", record_id])
    desk.notices.add(
        called.fault or "Removed. It stays in the ledger without counting.", "Your decisions", "/decisions"
    )
    return RedirectResponse(f"/records/{record_id}" if called.fault else "/records", 303)


def _rule(request: Request) -> Response:
    """Keep a decision on one record: its era, into the fit, out of it."""
    desk, record_id, said = desk_of(request), str(request.path_params["id"]), posted(request)
    say_done(
        desk, rule(said.get("decision", ""), record_id, era=said.get("era", ""), note=said.get(REASON, ""))
    )
    return RedirectResponse(f"/records/{record_id}", 303)


def rule(kind: str, record_id: str, other_id: str = "", *, era: str = "", note: str = "") -> Called:
    """Keep a decision, as `pairband rule` does."""
    with_era = [f"--era={era}"] if kind == "era" else []
    others = [other_id] if other_id else []
    return call("rule", [f"--note={note}", *with_era, "--", kind, record_id, *others])


def _undo(request: Request) -> Response:
    """Take a decision back, and go to its record, or to the list where it is none any longer."""
    desk, record_id = desk_of(request), str(request.path_params["id"])
    called = call("undo", ["--", posted(request).get("decision", "")])
    say_done(desk, called)
    try:
        with desk.workspace() as workspace:
            now = find_record(workspace.ledger, record_id)[1]
    except PairbandError:
        return RedirectResponse("/records", 303)
    return RedirectResponse(f"/records/{now}", 303)


def _add(request: Request) -> Response:
    return _show_adding(request, desk_of(request).drafts.get(ADDING))


def _show_adding(
    request: Request, said: Mapping[str, str], faults: Mapping[str, str] | None = None
) -> Response:
    return show(
        request,
        "desk/add_record.html.j2",
        title="Add a sale by hand",
        status=400 if faults else 200,
        fields=fields_of(said, desk_of(request).market(), faults),
        reason=reason_of(said),
        faults=faults or {},
        draft=ADDING,
    )


def _added(request: Request) -> Response:
    """Add a sale and show it; where it cannot be read, show the form with what was typed and what is wrong."""
    desk, said = desk_of(request), posted(request)
    typed = changed_fields(said, {})
    words = [f"{field}={text}" for field, text in typed.items()]
    called = call("add", ["--json", f"--reason={said.get(REASON, '')}", "--", *words])
    if called.fault:
        return _show_adding(request, said, fault_at(called.fault, typed))
    desk.drafts.drop(ADDING)
    desk.notices.add("Added.")
    return RedirectResponse(f"/records/{_record_id(called)}", 303)
