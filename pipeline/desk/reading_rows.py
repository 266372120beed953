"""The rows of a file that became no record, and cells that were not read: why, and what to do about each."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import polars as pl
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from pipeline.alike import find_alike
from pipeline.answers.understood.tables import AMOUNTS, DAYS, field_title
from pipeline.config import ExportMap, Market
from pipeline.desk.calls import call
from pipeline.desk.desk import Desk
from pipeline.desk.pages import desk_of, show
from pipeline.desk.reading import NAME_SIGNS, fault_words, file_named, form_of_request, row_of
from pipeline.desk.reading_files import digest_of, known_file
from pipeline.desk.reading_map import GRADES
from pipeline.desk.reading_settled import forget_others, settle_row, settled_rows
from pipeline.desk.reading_words import give_meaning
from pipeline.errors import PairbandError
from pipeline.ingest.dates import read_dates
from pipeline.ingest.numbers import read_amounts
from pipeline.ingest.proposal import meanings_of
from pipeline.ingest.status_meaning import status_of
from pipeline.schema import CLOSED_FIELDS, SOURCE_FIELDS
from pipeline.untrusted import show_sentences, show_words

MOST_ROWS = 100
"""Rows that a page shows; what is settled makes room for more."""

HEADINGS = {
    "quarantined": "Quarantined: rows that cannot be records as they are",
    "not read": "Not read: cells without which their row is recorded",
    "put aside": "Put aside: rows that are no sale of one pair",
}
_WORDED = ("status", "grade", *CLOSED_FIELDS)
"""The fields a word of which a map can give a meaning."""

_BY_HAND = tuple(name for name in SOURCE_FIELDS if name not in ("sale_ref", "offered_on", "notes"))


@dataclass(frozen=True)
class _File:
    """The file that a request is about, and the map by which it was read, where the market file still has it."""

    name: str
    sha256: str
    market: Market | None
    export_map: ExportMap | None
    map_name: str | None


def routes() -> list[Route]:
    """Return the routes of the rows of a file that are to be settled."""
    return [
        Route("/read/rows", _page),
        Route("/read/rows/settle", _settle, methods=["POST"]),
        Route("/read/rows/word", _word, methods=["POST"]),
        Route("/read/rows/add", _form),
        Route("/read/rows/add", _add, methods=["POST"]),
    ]


def _file_of(desk: Desk, name: str) -> _File:
    file = file_named(desk, name)
    market = desk.market()
    known = known_file(desk, file)
    map_name = known.map_name if known is not None else None
    export_map = market.maps.get(map_name) if market is not None and map_name is not None else None
    return _File(file, digest_of(desk, file), market, export_map, map_name)


def _rows_of(desk: Desk, sha256: str, left_out: list[str], most: int) -> list[dict[str, Any]]:
    if not desk.has_ledger:
        return []
    with desk.workspace() as workspace:
        found = workspace.ledger.read(
            "staging/rows_to_settle", file_sha256=sha256, left_out=left_out, most=most
        )
    return found.to_dicts()


def _page(request: Request) -> Response:
    """Show the rows of a file that are to be settled."""
    return _shown(request, request.query_params.get("file", ""))


def _shown(request: Request, name: str, *, fault: str = "") -> Response:
    desk = desk_of(request)
    file = _file_of(desk, name)
    settled = settled_rows(desk, file.sha256)
    found = _rows_of(desk, file.sha256, list(settled), MOST_ROWS + 1)
    known = known_file(desk, file.name)
    reading = known.reading if known is not None else None
    total = sum(int(reading[key]) for key in ("quarantined", "unread", "put_aside")) if reading else 0
    done = _rows_of_marks(desk, file.sha256, settled) if settled else []
    groups: dict[str, list[dict[str, Any]]] = {}
    for row in found[:MOST_ROWS]:
        groups.setdefault(row["kind"], []).append(_shown_row(row, file))
    return show(
        request,
        "desk/read_rows.html.j2",
        title=f"Rows of {show_words(Path(file.name).name, NAME_SIGNS)}",
        status=400 if fault else 200,
        fault=fault_words(fault),
        file=file.name,
        row=None if known is None else row_of(desk, known),
        groups=[(HEADINGS[kind], kind, groups[kind]) for kind in HEADINGS if kind in groups],
        more=max(0, total - len(done) - MOST_ROWS) if len(found) > MOST_ROWS else 0,
        settled=[(_shown_row(row, file), settled[row["mark"]]) for row in done[:MOST_ROWS]],
    )


def _rows_of_marks(desk: Desk, sha256: str, settled: Mapping[str, str]) -> list[dict[str, Any]]:
    """Return the rows that are settled and still there; what was settled of others is forgotten."""
    there = _rows_of(desk, sha256, [], 1_000_000)
    forget_others(desk, sha256, {row["mark"] for row in there})
    return [row for row in there if row["mark"] in settled]


def _shown_row(row: Mapping[str, Any], file: _File) -> dict[str, Any]:
    """Return a row as the page shows it, with what can be done about it."""
    column = _column_of(row["field"], file.export_map)
    field, value = row["field"], row["value"]
    is_worded = field in _WORDED and value is not None and file.export_map is not None
    return {
        "mark": row["mark"],
        "place": f"{row['sheet']}, row {row['row_number']}" if row["sheet"] else f"row {row['row_number']}",
        "number": row["row_number"],
        "field": "" if field.startswith("(") else field_title(field),
        "value": show_words(value or "", 120),
        "reason": show_sentences(row["reason"]),
        "cells": _cells(row["cells"]),
        "at_fault": show_words(column or "", 80),
        "map": f"/read/map?{urlencode({'file': file.name, 'column': column or ''})}#marked",
        "meanings": () if not is_worded else GRADES if field == "grade" else meanings_of(field),
        "raw_field": field,
        "raw_value": value or "",
        "record": row["record_id"] or "",
        "add": f"/read/rows/add?{urlencode({'file': file.name, 'mark': row['mark']})}",
        "can_add": row["kind"] == "quarantined"
        and (file.export_map is None or file.export_map.holds == "sales"),
    }


def _column_of(field: str, export_map: ExportMap | None) -> str | None:
    names = export_map.columns.get(field) if export_map is not None else None
    return names if names is None or isinstance(names, str) else names[0]


def _cells(text: str | None) -> list[tuple[str, str]]:
    return [(show_words(name, 80), show_words(cell, 200)) for name, cell in _raw_cells(text).items() if cell]


def _raw_cells(text: str | None) -> dict[str, str]:
    try:
        cells = json.loads(text or "{}")
    except ValueError:
        return {}
    return (
        {str(name): str(cell) for name, cell in cells.items() if cell is not None}
        if isinstance(cells, dict)
        else {}
    )


async def _said(request: Request) -> dict[str, str]:
    form = await form_of_request(request)
    return {name: value for name, value in form.multi_items() if isinstance(value, str)}


async def _settle(request: Request) -> Response:
    """Keep that a row is skipped, or take that back."""
    said = await _said(request)

    def settle() -> Response:
        desk = desk_of(request)
        file = _file_of(desk, said.get("file", ""))
        how = "skipped" if said.get("how") == "skip" else ""
        settle_row(desk, file.sha256, said.get("mark", ""), how)
        desk.notices.add("The row is skipped; it stands at the foot." if how else "The row is open again.")
        return _back(file.name)

    return await run_in_threadpool(settle)


async def _word(request: Request) -> Response:
    """Give a word a meaning in the map of the file."""
    said = await _said(request)

    def give() -> Response:
        desk = desk_of(request)
        file = _file_of(desk, said.get("file", ""))
        if file.map_name is None or file.export_map is None:
            raise HTTPException(404, "The map by which this file was read is no longer in the market file.")
        try:
            earlier = give_meaning(
                desk.market_path,
                file.map_name,
                said.get("field", ""),
                said.get("word", ""),
                said.get("meaning", ""),
            )
        except PairbandError as exc:
            return _shown(request, file.name, fault=str(exc))
        desk.notices.add(
            f"{show_words(said.get('word', ''), 60)} means {said['meaning']} in the map "
            f"{show_words(file.map_name, 60)} now. Read the file again once you are done. The earlier text of the "
            f"market file is in {earlier}."
        )
        return _back(file.name)

    return await run_in_threadpool(give)


def _back(name: str) -> Response:
    return RedirectResponse(f"/read/rows?{urlencode({'file': name})}", 303)


def _row_named(desk: Desk, file: _File, mark: str) -> dict[str, Any]:
    found = next((row for row in _rows_of(desk, file.sha256, [], 1_000_000) if row["mark"] == mark), None)
    if found is None:
        raise HTTPException(404, "This row is no longer among those to settle.")
    return found


def _form(request: Request) -> Response:
    """Show a form that writes the sale of a row by hand, filled with what its cells say."""
    desk = desk_of(request)
    file = _file_of(desk, request.query_params.get("file", ""))
    mark = request.query_params.get("mark", "")
    row = _row_named(desk, file, mark)
    said = desk.drafts.get(_draft(file, mark)) or _texts_of(row, file)
    return _form_shown(request, file, row, said)


def _form_shown(
    request: Request, file: _File, row: Mapping[str, Any], said: Mapping[str, str], *, fault: str = ""
) -> Response:
    return show(
        request,
        "desk/read_row.html.j2",
        title="Write the sale by hand",
        status=400 if fault else 200,
        fault=fault_words(fault),
        file=file.name,
        shown_file=show_words(Path(file.name).name, NAME_SIGNS),
        row=_shown_row(row, file),
        draft=_draft(file, row["mark"]),
        fields=[
            {
                "name": name,
                "title": field_title(name).replace("_", " "),
                "value": said.get(name, ""),
                "choices": _choices(name, file.market),
                "is_at_fault": name == row["field"],
            }
            for name in (*_BY_HAND, "price_basis")
        ],
        reason=said.get("reason", ""),
    )


async def _add(request: Request) -> Response:
    """Add the sale, as `pairband add` does, and settle its row."""
    said = await _said(request)

    def add() -> Response:
        desk = desk_of(request)
        file = _file_of(desk, said.get("file", ""))
        mark = said.get("mark", "")
        row = _row_named(desk, file, mark)
        texts = [
            f"{name}={said[name].strip()}"
            for name in (*_BY_HAND, "price_basis")
            if said.get(name, "").strip()
        ]
        why = said.get("reason", "").strip() or f"row {row['row_number']} of {Path(file.name).name}"
        done = call("add", [f"--reason={why}", "--", *texts])
        if done.fault:
            return _form_shown(request, file, row, said, fault=done.fault)
        settle_row(desk, file.sha256, mark, "by hand")
        desk.drafts.drop(_draft(file, mark))
        desk.notices.add("The sale is added by hand.", "Your decisions", "/decisions")
        return _back(file.name)

    return await run_in_threadpool(add)


def _draft(file: _File, mark: str) -> str:
    return f"row {mark} of {file.sha256}"


def _choices(name: str, market: Market | None) -> tuple[str, ...]:
    """Return the values that a field of the form can have, where they are few."""
    if name == "venue" and market is not None:
        return tuple(market.venue_by_name)
    if name == "price_basis":
        return ("all-in", "hammer", "net")
    if name == "status":
        return ("sold", "unsold", "withdrawn", "open")
    return meanings_of(name) if name in CLOSED_FIELDS else ()


def _texts_of(row: Mapping[str, Any], file: _File) -> dict[str, str]:
    """Return what the cells of a row say, field by field, as the owner would write it."""
    export_map = file.export_map
    if export_map is None:
        return {}
    cells = _raw_cells(row["cells"])
    said: dict[str, str] = {}
    for name, columns in export_map.columns.items():
        each = (columns,) if isinstance(columns, str) else columns
        texts = [cells[found] for one in each if (found := find_alike(one, cells)) is not None]
        if name in _BY_HAND and (text := " ".join(filter(None, texts))):
            said[name] = _in_plain_form(name, text, export_map)
    said.setdefault("venue", export_map.venue)
    if file.market is not None and find_alike(said["venue"], file.market.venue_by_name) is None:
        said["venue"] = export_map.venue
    if "price_native" in said:
        said.setdefault("price_basis", export_map.price_basis or "all-in")
        currency = export_map.currency
        if currency is not None:
            said.setdefault("currency", currency)
    if export_map.size_system is not None and "size_label" in said:
        said.setdefault("size_system", export_map.size_system)
    return said


def _in_plain_form(name: str, text: str, export_map: ExportMap) -> str:
    """Return a cell as the owner would write it: a day as 2024-05-03, an amount with a point, a word by its meaning."""
    if name in DAYS:
        read = read_dates(pl.Series([text]), order=export_map.date_order, language=export_map.language)
        day = read["day"][0] if read.height else None
        return str(day) if day is not None else text
    if name in AMOUNTS:
        amounts = read_amounts(pl.Series([text]), decimal_mark=export_map.decimal_mark)
        amount = amounts["amount"][0] if amounts.height else None
        return f"{amount:.2f}" if amount is not None else text
    if name == "status":
        word = find_alike(text, export_map.status_words)
        return export_map.status_words[word] if word is not None else status_of(text) or text
    words = export_map.words.get(name, {})
    word = find_alike(text, words)
    return words[word] if word is not None else text
