"""The grammar that the charts share: one row a thing, its words above, its mark below, its figure at the right."""

import math
from collections.abc import Iterable

import altair as alt
import polars as pl

from reports.charts.price_axis import PriceAxis

HEIGHT = 46
"""The height of one row, in px."""
_WORDS, _MARK, _HALF = 0.27, 0.68, 0.15
SCALE_ROOM = 44
"""The room at the right of a chart for the texts of a scale within its rows, in px."""
_SIGN, _NARROW, _PART = 8.2, 4.4, 12
"""The widths of a digit or letter of a figure and of a dot or space, and what parts figures from marks, in px."""


def place_rows(rows: pl.DataFrame, first: float = 0) -> pl.DataFrame:
    """Return the rows with where each stands, counted in rows from the top of the chart.

    Adds words_at, mark_at, mark_top, mark_bottom, next_mark (Float64).
    """
    top = pl.int_range(pl.len()) + first
    return rows.with_columns(
        words_at=top + _WORDS,
        mark_at=top + _MARK,
        mark_top=top + _MARK - _HALF,
        mark_bottom=top + _MARK + _HALF,
        next_mark=top + 1 + _MARK,
    )


def row_position(field: str, count: float) -> alt.Y:
    """Return the vertical encoding of a field that `place_rows` made, for a chart of `count` rows."""
    return alt.Y(field, type="quantitative", axis=None, scale=alt.Scale(domain=[count, 0], nice=False))


def figure_room(figures: Iterable[str]) -> int:
    """Return the room (px) that the longest of these figures needs at the right of a chart, with what parts it."""
    widths = (sum(_NARROW if sign in ".,: \u00a0\u202f" else _SIGN for sign in figure) for figure in figures)
    return math.ceil(max(widths, default=0.0)) + _PART


def row_words(rows: alt.Chart, words: str, figure: str, count: float) -> list[alt.Chart]:
    """Return the layers that write a row's words above its mark, and its figure at the right of it.

    The axis leaves `figure_room` for the figures; words are cut where a page's wider letters would not fit. A halo in
    the paper's colour keeps lines from crossing the words.
    """
    return [
        *_text(rows, words, "row-words", row_position("words_at", count), limit="width * 0.88"),
        *_text(rows, figure, "row-figure", row_position("mark_at", count)),
    ]


def row_heads(rows: alt.Chart, words: str, figure: str, count: int, room: int) -> list[alt.Chart]:
    """Return the layers that write a row's words at the left and its figure at the right, both above its marks.

    `room` (px) is what the figure needs: words that would run into it are cut short.
    """
    at = row_position("words_at", count)
    return [
        *_text(rows, words, "row-words", at, limit=f"width - {room}"),
        *_text(rows, figure, "row-figure", at),
    ]


def _text(rows: alt.Chart, field: str, style: str, at: alt.Y, *, limit: str = "") -> list[alt.Chart]:
    """Return the layers of one text a row, on its halo: words at the left, limited, or figures at the right."""
    x = alt.XValue(0 if limit else "width")  # type: ignore[no-untyped-call]  # altair leaves it untyped
    cut = alt.ExprRef(limit) if limit else alt.Undefined
    return [
        rows.mark_text(style=name, limit=cut).encode(x=x, y=at, text=alt.Text(field, type="nominal"))
        for name in (f"{style}-halo", style)
    ]


def row_scale(marks: pl.DataFrame, count: int) -> list[alt.Chart]:
    """Return the layers that mark heights within rows: a thin line at each, its text at the right.

    `marks` has scale_at (counted in rows from the top) and scale_text; the axis leaves SCALE_ROOM for the texts.
    """
    at = row_position("scale_at", count)
    rows = alt.Chart(marks)
    right = alt.XValue("width")  # type: ignore[no-untyped-call]
    return [
        rows.mark_rule(style="foot").encode(y=at),
        rows.mark_text(style="scale-words").encode(
            x=right, y=at, text=alt.Text("scale_text", type="nominal")
        ),
    ]


def stack_rows(layers: list[alt.Chart], count: float, title: str) -> alt.LayerChart:
    """Return the chart of `count` rows that these layers draw, as wide as what holds it."""
    return alt.LayerChart(layer=layers, width="container", height=round(count * HEIGHT), title=title)


def median_rule(median: float, axis: PriceAxis, title: str) -> alt.Chart:
    """Return the dashed line at the median, from the first row to the last; words stand on it with their halo."""
    rule: alt.Chart = alt.Chart(pl.DataFrame({"median": [median]})).mark_rule(style="median")
    return rule.encode(x=axis.encode("median", title))
