"""Figures for elsewhere: a chart as SVG, PNG, PDF or JSON, its table as CSV that a spreadsheet opens safely."""

import io
import json
from datetime import datetime
from pathlib import Path
from textwrap import wrap
from typing import Any, Literal, get_args

import altair as alt
import polars as pl
import vl_convert

from pipeline.answers.sheet import Table
from pipeline.csv_guard import guarded_csv
from pipeline.errors import ReportError, suggest
from pipeline.outfile import write_file
from reports.theme import LIGHT, chart_config

Format = Literal["svg", "png", "pdf", "json"]
WIDTH = 640
"""The width of a figure that leaves the page, in px (svg, pdf) or half px (png)."""

VEGA_LITE = ".".join(alt.SCHEMA_VERSION.removeprefix("v").split(".")[:2])
"""The version of Vega-Lite in which altair speaks, as vl-convert calls it."""

LINE = 100
"""The most characters of one line under a figure's title."""


_NO_CLOCK = datetime(1980, 1, 1)
"""The time that a workbook carries: the first that a ZIP archive can hold, as on the files within it."""


def chart_spec(chart: alt.LayerChart) -> dict[str, Any]:
    """Return the Vega-Lite specification of a chart, without the configuration of any theme.

    It is not held against the schema here, which takes longer than all the rest: the tests do that.
    """
    spec: dict[str, Any] = chart.to_dict(validate=False)
    spec.pop("config", None)
    return spec


def chart_bytes(chart: alt.LayerChart, format: Format, *, note: str = "") -> bytes:
    """Return a chart as a file's bytes, in the light look, `note` (source, as-of date) under its title.

    Raises ReportError for a format that is not among svg, png, pdf, json.
    """
    if format not in get_args(Format):
        raise ReportError(f"no chart can be written as {format!r}", suggest(format, get_args(Format)))
    spec = chart_spec(chart)
    spec["config"] = chart_config(LIGHT)
    spec["width"] = WIDTH
    spec["title"] = {"text": spec["title"], "subtitle": wrap(note, LINE)} if note else spec["title"]
    offline: list[str] = []
    match format:
        case "svg":
            return vl_convert.vegalite_to_svg(spec, vl_version=VEGA_LITE, allowed_base_urls=offline).encode()
        case "png":
            return vl_convert.vegalite_to_png(spec, vl_version=VEGA_LITE, scale=2, allowed_base_urls=offline)
        case "pdf":
            return vl_convert.vegalite_to_pdf(spec, vl_version=VEGA_LITE, allowed_base_urls=offline)
        case "json":
            return json.dumps(spec, ensure_ascii=False, indent=1).encode()


def workbook_bytes(rows: pl.DataFrame, sheet: str) -> bytes:
    """Return a table as an Excel workbook of one sheet: every text is a text, never a formula or a link.

    It carries no time of the clock, so the same table gives the same bytes.
    """
    from xlsxwriter import Workbook

    packed = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    with Workbook(packed, options) as book:
        book.set_properties({"created": _NO_CLOCK})
        rows.write_excel(book, sheet, autofit=True, freeze_panes=(1, 0))
    return packed.getvalue()


def table_bytes(rows: pl.DataFrame) -> bytes:
    """Return a table as CSV (UTF-8 with its mark) that is safe to open in a spreadsheet."""
    return b"\xef\xbb\xbf" + guarded_csv(rows, line_end="\r\n").encode()


def write_table(table: Table, *, csv: Path | None = None, excel: Path | None = None) -> tuple[Path, ...]:
    """Write the rows of a table as CSV and workbook, as far as they are asked for; returns their paths.

    Raises ReportError where a file cannot be written.
    """
    written = []
    if csv is not None:
        written.append(write_file(table_bytes(table.rows), csv))
    if excel is not None:
        written.append(write_file(workbook_bytes(table.rows, table.key), excel))
    return tuple(written)
