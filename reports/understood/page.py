"""The page of what was understood of exports: what a dealer looks at before believing any value."""

import polars as pl

from pipeline import __version__, formats
from pipeline.answers.sheet import Sheet
from pipeline.answers.understood.answer import FieldRead, Understood
from pipeline.answers.understood.tables import (
    ATTRIBUTES,
    cells_of,
    field_title,
    origin_title,
    origins_of,
    place_words,
    read_of,
    share_text,
    understood_sheet,
)
from pipeline.untrusted import show_words
from reports.page import Figure, Table, render_page, spoken
from reports.understood.bars import field_bars

SHOWN: tuple[str, ...] = (*ATTRIBUTES, "price_native")
"""The fields of which the page draws bars; its table has all."""

KNOWN = "What is known, field by field"


def understood_page(understood: Understood, *, business: str) -> str:
    """Return the HTML page of what was understood; `business` is the owner's name (untrusted text)."""
    sheet = understood_sheet(understood)
    return render_page(
        "understood/page.html.j2",
        business=business,
        heading=sheet.title,
        figures=sheet.figures,
        sentences=sheet.sentences,
        bars=_bars_figure(understood, sheet) if understood.recorded else None,
        tables={one.key: Table.of(one) for one in sheet.tables},
        rows=[
            {
                "place": show_words(place_words(row, understood), 120),
                "cells": cells_of(row),
                "read": read_of(row, understood.base_currency),
            }
            for row in understood.sample
        ],
        version=__version__,
    )


def understood_figures(understood: Understood) -> tuple[Figure, ...]:
    """Return the figures of the page."""
    return (_bars_figure(understood, understood_sheet(understood)),) if understood.recorded else ()


def parts_frame(understood: Understood) -> pl.DataFrame:
    """Return one row a field and origin, as `field_bars` reads it: the parts of each field's bar, unknown last."""
    rows = []
    for name in SHOWN:
        field = understood.field(name)
        start = 0.0
        for origin, number in (*field.origins.items(), ("unknown", field.unknown)):
            end = start + 100 * number / field.rows
            if number:
                rows.append(_part(field, origin, number, start, end))
            start = end
    texts = ("field", "origin", "origin_words", "said", "figure")
    return pl.DataFrame(
        rows, schema={**dict.fromkeys(texts, pl.String), "start": pl.Float64, "end": pl.Float64}
    )


def _part(field: FieldRead, origin: str, number: int, start: float, end: float) -> dict[str, object]:
    return {
        "field": field_title(field.field),
        "origin": origin,
        "origin_words": origin_title(origin),
        "said": f"{formats.count(number)} of {formats.count(field.rows)} ({share_text(number, field.rows)})",
        "figure": share_text(field.known, field.rows),
        "start": round(start, 4),
        "end": round(end, 4),
    }


def _key(understood: Understood) -> list[tuple[str, str]]:
    """Return the origins of the values that are drawn, and what they are called, the surest first."""
    drawn = origins_of(understood.field(name) for name in SHOWN)
    return [(origin, origin_title(origin)) for origin in (*drawn, "unknown")]


def _bars_figure(understood: Understood, sheet: Sheet) -> Figure:
    parts = parts_frame(understood)
    in_words = spoken(parts.select("field", "figure").unique(maintain_order=True), "{field}: {figure}")
    return Figure(
        key="fields",
        chart=field_bars(parts, _key(understood), KNOWN),
        alternative=f"{KNOWN}: {in_words}.",
        note=f"Of {formats.counted(understood.recorded, 'recorded row')}; the figure is the share that is known.",
        tables=(sheet.table("fields"),),
        rows=parts.select("field", "origin", "start", "end"),
    )
