"""The bars of a file: one row a field, of how many rows it is known, and where from."""

from collections.abc import Sequence

import altair as alt
import polars as pl

ROW = 26
"""The height of one row, in px."""

_WORDS, _FIGURE = 104, 84
"""The room for a field's name at the left and for its share at the right, in px."""

_KEY, _KEYS = 86, 4
"""The room of one word of the key, in px, and how many stand beside each other on a phone."""

STYLES: dict[str, str] = {"stated": "band-50", "title": "band-80", "unknown": "whole"}
"""The style of a part of a bar by the origin of its values; any other is lighter."""

_OTHER = "other-part"


def field_bars(parts: pl.DataFrame, origins: Sequence[tuple[str, str]], title: str) -> alt.LayerChart:
    """Return one bar a field, of 100 % of the rows, parted by where the values come from.

    `parts` has field (as a dealer calls it), origin, origin_words, start and end (per cent of the rows), and figure
    (the share that is known); the parts of a field follow each other, the fields stand in their order. `origins`
    are (origin, what it is called), in the order of the key.
    """
    fields = parts["field"].unique(maintain_order=True).to_list()
    first = -(-len(origins) // _KEYS)
    count = first + len(fields)
    placed = parts.with_columns(
        row=pl.col("field").replace_strict(fields, list(range(first, count)), return_dtype=pl.Int64)
    ).with_columns(top=pl.col("row") + 0.16, bottom=pl.col("row") + 0.84, at=pl.col("row") + 0.5)
    layers = [
        *(_bars(placed.filter(pl.col("origin") == origin), origin, count) for origin, _ in origins),
        *_words(placed.unique("field", keep="first", maintain_order=True), count),
        *_key(origins, count),
    ]
    return alt.LayerChart(layer=layers, width="container", height=count * ROW, title=title)


def _across(field: str) -> alt.X:
    scale = alt.Scale(domain=[0, 100], nice=False, range=[_WORDS, {"expr": f"width - {_FIGURE}"}])
    return alt.X(field, type="quantitative", scale=scale, axis=None)


def _down(field: str, count: int) -> alt.Y:
    return alt.Y(field, type="quantitative", axis=None, scale=alt.Scale(domain=[count, 0], nice=False))


def _bars(parts: pl.DataFrame, origin: str, count: int) -> alt.Chart:
    bars: alt.Chart = alt.Chart(parts).mark_rect(style=STYLES.get(origin, _OTHER))
    return bars.encode(
        x=_across("start"),
        x2="end",
        y=_down("top", count),
        y2="bottom",
        tooltip=[
            alt.Tooltip("field", title="title"),
            alt.Tooltip("origin_words", title="where from"),
            alt.Tooltip("said", title="rows"),
        ],
    )


def _words(fields: pl.DataFrame, count: int) -> list[alt.Chart]:
    """Return the layers that write each field's name at the left of its bar and its share at the right."""
    rows = alt.Chart(fields)
    at = _down("at", count)
    name = {"x": alt.XValue(0), "y": at, "text": alt.Text("field", type="nominal")}  # type: ignore[no-untyped-call]
    figure = {
        "x": alt.XValue("width"),  # type: ignore[no-untyped-call]
        "y": at,
        "text": alt.Text("figure", type="nominal"),
    }
    return [
        rows.mark_text(style="row-words", limit=_WORDS - 8).encode(**name),
        rows.mark_text(style="row-figure").encode(**figure),
    ]


def _key(origins: Sequence[tuple[str, str]], count: int) -> list[alt.Chart]:
    """Return the layers of the first rows: a square of each origin's style, and its name."""
    layers = []
    for number, (origin, name) in enumerate(origins):
        row, left = number // _KEYS, number % _KEYS * _KEY
        one = alt.Chart(
            pl.DataFrame({"name": [name], "top": [row + 0.24], "bottom": [row + 0.7], "at": [row + 0.47]})
        )
        layers += [
            one.mark_rect(style=STYLES.get(origin, _OTHER)).encode(
                x=alt.XValue(left),  # type: ignore[no-untyped-call]
                x2=alt.X2Value(left + 12),  # type: ignore[no-untyped-call]
                y=_down("top", count),
                y2="bottom",
            ),
            one.mark_text(style="row-words", fontSize=12).encode(
                x=alt.XValue(left + 17),  # type: ignore[no-untyped-call]
                y=_down("at", count),
                text=alt.Text("name", type="nominal"),
            ),
        ]
    return layers
