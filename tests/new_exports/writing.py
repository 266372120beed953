"""Writes drawn offers in the formats in which exports come, and counts their rows as their reader does."""

import json
import zipfile
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from html import escape
from pathlib import Path
from typing import Any

import polars as pl
import xlsxwriter

from tests.new_exports.drawing import Export, Layout, Offer

Lines = list[tuple[list[Any], Offer | None]]
DAY = datetime(1980, 1, 1)


def lines_of(export: Export, offers: Sequence[Offer]) -> Lines:
    """Return the rows under the headings, each with its offer; a heading or a total between rows has none."""
    layout, headings = export.layout, list(export.columns)
    lines: Lines = []
    last_group = ""
    summed: list[Offer] = []
    for order in orders_of(export, offers):
        for place, offer in enumerate(order):
            if layout.total_by and summed and layout.total_by(offer) != layout.total_by(summed[0]):
                lines.append((layout.total(summed), None))
                summed = []
            summed.append(offer)
            blank = layout.order_columns if place else ()
            cells = ["" if name in blank else write(offer) for name, write in export.columns.items()]
            if layout.group and (name := layout.group(offer)) != last_group:
                last_group = name
                lines.append(
                    ([name if at == layout.group_column else "" for at in range(len(headings))], None)
                )
            lines.append((cells, offer))
    if layout.total_by and summed:
        lines.append((layout.total(summed), None))
    return lines


def orders_of(export: Export, offers: Sequence[Offer]) -> list[list[Offer]]:
    """Return the offers by order: the lines of one order share its day, its status and its buyer."""
    orders: list[list[Offer]] = []
    left = 0
    for offer in offers:
        if left:
            first, left = orders[-1][0], left - 1
            shared = {
                "closed": first.closed,
                "clock": first.clock,
                "word": first.word,
                "person": first.person,
            }
            orders[-1].append(replace(offer, outcome=first.outcome, **shared))
        else:
            orders.append([offer])
            left = offer.random.choice([0, 0, 1, 2]) if export.layout.order_columns else 0
    for order in orders:
        order[0].order_total = sum((offer.price * offer.quantity for offer in order), Decimal(0))
    return orders


def write_export(export: Export, lines: Lines, path: Path) -> None:
    """Write the rows to a file in the export's own format."""
    rows, layout, headings = [cells for cells, _ in lines], export.layout, list(export.columns)
    match layout.kind:
        case "csv":
            _write_delimited(layout, headings, rows, path)
        case "xlsx":
            _write_workbook(layout, headings, rows, path)
        case "ods":
            _write_ods(layout, [*layout.above, headings, *rows, *layout.below], path)
        case "html":
            _write_html(layout, headings, rows, path)
        case "json":
            path.write_text(
                json.dumps(_nested(layout, headings, rows), ensure_ascii=False, indent=1), "utf-8"
            )
        case "jsonl":
            records = [
                json.dumps(dict(zip(headings, row, strict=True)), ensure_ascii=False, default=_plain)
                for row in rows
            ]
            path.write_text("\n".join(records) + "\n", "utf-8")
        case "parquet":
            pl.DataFrame(dict(zip(headings, zip(*rows, strict=True), strict=True))).write_parquet(path)
        case kind:
            raise ValueError(f"no format is called {kind!r}")


def _plain(value: Any) -> Any:
    return float(value) if isinstance(value, Decimal) else value.isoformat()


def _write_delimited(layout: Layout, headings: list[str], rows: list[list[Any]], path: Path) -> None:
    def cell(value: Any) -> str:
        text = "" if value is None else str(value)
        return '"' + text.replace('"', '""') + '"' if layout.delimiter in text or '"' in text else text

    every = [*layout.above, headings, *rows, *layout.below]
    text = "".join(layout.delimiter.join(cell(value) for value in row) + "\r\n" for row in every)
    path.write_bytes(text.encode(layout.encoding))


def _write_workbook(layout: Layout, headings: list[str], rows: list[list[Any]], path: Path) -> None:
    book = xlsxwriter.Workbook(str(path))
    book.set_properties({"created": DAY})
    sheet = book.add_worksheet(layout.sheet)
    days = book.add_format({"num_format": "dd/mm/yyyy"})
    money = book.add_format({"num_format": "#,##0.00"})
    for at, row in enumerate([*layout.above, headings, *rows, *layout.below]):
        for column, value in enumerate(row):
            match value:
                case date():
                    sheet.write_datetime(at, column, datetime(value.year, value.month, value.day), days)
                case Decimal():
                    sheet.write_number(at, column, float(value), money)
                case None | "":
                    pass
                case _:
                    sheet.write(at, column, value)
    if layout.notes:
        notes = book.add_worksheet(layout.notes[0][0])
        for at, texts in enumerate(layout.notes):
            notes.write_row(at, 0, texts)
    book.close()


def _write_ods(layout: Layout, rows: Sequence[Sequence[Any]], path: Path) -> None:
    def cell(value: Any) -> str:
        if value is None or value == "":
            return "<table:table-cell/>"
        if isinstance(value, date):
            kind = f'office:value-type="date" office:date-value="{value.isoformat()}"'
            return f"<table:table-cell {kind}><text:p>{value:%d/%m/%Y}</text:p></table:table-cell>"
        if isinstance(value, Decimal | int | float):
            kind = f'office:value-type="float" office:value="{value}"'
            return f"<table:table-cell {kind}><text:p>{value}</text:p></table:table-cell>"
        text = escape(str(value))
        return f'<table:table-cell office:value-type="string"><text:p>{text}</text:p></table:table-cell>'

    body = "".join(f"<table:table-row>{''.join(map(cell, row))}</table:table-row>" for row in rows)
    names = "urn:oasis:names:tc:opendocument:xmlns"
    spaces = (
        f'xmlns:office="{names}:office:1.0" xmlns:table="{names}:table:1.0" xmlns:text="{names}:text:1.0"'
    )
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {spaces} office:version="1.2">'
        f'<office:body><office:spreadsheet><table:table table:name="{layout.sheet}">{body}</table:table>'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    entries = f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{kind}"/>'
    entries += '<manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/>'
    manifest = (
        f'<manifest:manifest xmlns:manifest="{names}:manifest:1.0" manifest:version="1.2">'
        f"{entries}</manifest:manifest>"
    )
    with zipfile.ZipFile(path, "w") as archive:
        for name, text in (("mimetype", kind), ("content.xml", content), ("META-INF/manifest.xml", manifest)):
            stored = zipfile.ZIP_STORED if name == "mimetype" else zipfile.ZIP_DEFLATED
            archive.writestr(zipfile.ZipInfo(name, DAY.timetuple()[:6]), text, stored)


def _write_html(layout: Layout, headings: list[str], rows: list[list[Any]], path: Path) -> None:
    def row_of(cells: Sequence[Any], tag: str) -> str:
        return (
            "<tr>"
            + "".join(f"<{tag}>{escape('' if cell is None else str(cell))}</{tag}>" for cell in cells)
            + "</tr>\n"
        )

    above = "".join(row_of(row, "td") for row in layout.above)
    body = "".join(row_of(row, "td") for row in [*rows, *layout.below])
    charset = layout.encoding.replace("cp", "windows-")
    page = f'<html><head><meta charset="{charset}"></head><body>\n<table border="1">\n'
    page += above + row_of(headings, "th") + body + "</table>\n</body></html>\n"
    path.write_bytes(page.encode(layout.encoding))


def _nested(layout: Layout, headings: list[str], rows: list[list[Any]]) -> dict[str, Any]:
    """Return orders with their lines: a heading `nest.name` belongs to a line, any other to the order."""
    orders: list[dict[str, Any]] = []
    for row in rows:
        fields = dict(zip(headings, row, strict=True))
        line = {
            name.removeprefix(f"{layout.nest}."): _json(value)
            for name, value in fields.items()
            if "." in name
        }
        order = {name: _json(value) for name, value in fields.items() if "." not in name}
        if orders and layout.order_columns and fields[layout.order_columns[0]] == "":
            orders[-1][layout.nest].append(line)
        else:
            orders.append({**order, layout.nest: [line]})
    return {"exported": "2026-11-02T08:00:00Z", "orders": orders}


def _json(value: Any) -> Any:
    return _plain(value) if isinstance(value, Decimal | date) else value
