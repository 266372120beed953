"""Reads an export as it lies there, by its truth file alone: nothing of pairband has a part in it."""

import csv
import io
import json
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import fastexcel
import polars as pl
from lxml import etree, html

TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"


def raw_rows(path: Path, said: Mapping[str, Any]) -> tuple[list[str], list[list[str]]]:
    """Return the headings and the rows of an export, every cell as text; nothing is left out."""
    match said["format"]:
        case "json":
            return _lines_of_orders(json.loads(path.read_text("utf-8"))["orders"])
        case "jsonl":
            records = [json.loads(line) for line in path.read_text("utf-8").splitlines()]
            return _of_records(records)
        case "parquet":
            return _of_records(pl.read_parquet(path).to_dicts())
        case "csv":
            text = path.read_bytes().decode(said["encoding"])
            rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=said["delimiter"]))
        case "html":
            page = html.fromstring(path.read_bytes())
            rows = [[cell.text or "" for cell in row] for row in page.iter("tr")]
        case "xlsx":
            sheet = fastexcel.read_excel(path).load_sheet(0, header_row=None, skip_rows=0, dtypes="string")
            rows = [["" if cell is None else str(cell) for cell in row] for row in sheet.to_polars().rows()]
        case _:
            content = etree.fromstring(zipfile.ZipFile(path).read("content.xml"))
            rows = [["".join(cell.itertext()) for cell in row] for row in content.iter(f"{TABLE}table-row")]
    at = int(said["first_row"]) - 2
    return rows[at], rows[at + 1 :]


def _lines_of_orders(orders: list[dict[str, Any]]) -> tuple[list[str], list[list[str]]]:
    records = []
    for order in orders:
        [name] = [key for key, value in order.items() if isinstance(value, list)]
        fields = {key: value for key, value in order.items() if key != name}
        records += [
            {**fields, **{f"{name}.{key}": value for key, value in line.items()}} for line in order[name]
        ]
    return _of_records(records)


def _of_records(records: list[dict[str, Any]]) -> tuple[list[str], list[list[str]]]:
    return list(records[0]), [["" if cell is None else str(cell) for cell in one.values()] for one in records]
