"""The grammar that the charts share: one row a thing, its words and figure above, its mark below."""

import altair as alt
import polars as pl

from reports.charts.price_axis import PriceAxis

HEIGHT = 46
"""The height of one row, in px."""
_WORDS, _MARK, _HALF = 0.27, 0.68, 0.15


def place_rows(rows: pl.DataFrame, first: int = 0) -> pl.DataFrame:
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


def row_position(field: str, count: int) -> alt.Y:
    """Return the vertical encoding of a field that `place_rows` made, for a chart of `count` rows."""
    return alt.Y(field, type="quantitative", axis=None, scale=alt.Scale(domain=[count, 0], nice=False))


def row_words(rows: alt.Chart, words: str, figure: str, count: int, room: int = 110) -> list[alt.Chart]:
    """Return the layers that write a row's words at the left and its figure at the right.

    `room` (px) is what the figure needs: words that would run into it are cut short. A halo in the
    paper's colour keeps lines from crossing the words.
    """
    at = row_position("words_at", count)
    left = {
        "x": alt.XValue(0),  # type: ignore[no-untyped-call]  # altair leaves it untyped
        "y": at,
        "text": alt.Text(words, type="nominal"),
    }
    right = {
        "x": alt.XValue("width"),  # type: ignore[no-untyped-call]
        "y": at,
        "text": alt.Text(figure, type="nominal"),
    }
    limit = alt.ExprRef(f"width - {room}")
    return [
        rows.mark_text(style="row-words-halo", limit=limit).encode(**left),
        rows.mark_text(style="row-figure-halo").encode(**right),
        rows.mark_text(style="row-words", limit=limit).encode(**left),
        rows.mark_text(style="row-figure").encode(**right),
    ]


def stack_rows(layers: list[alt.Chart], count: int, title: str) -> alt.LayerChart:
    """Return the chart of `count` rows that these layers draw, as wide as what holds it."""
    return alt.LayerChart(layer=layers, width="container", height=count * HEIGHT, title=title)


def median_rule(median: float, axis: PriceAxis, title: str) -> alt.Chart:
    """Return the dashed line that stands at the median through every row."""
    rule: alt.Chart = alt.Chart(pl.DataFrame({"median": [median]})).mark_rule(style="median")
    return rule.encode(x=axis.encode("median", title))
