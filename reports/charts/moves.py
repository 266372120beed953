"""The chart of moves: what an attribute was worth in the earlier half of the records, and in the later."""

import altair as alt
import polars as pl

from reports.charts.rows import lay_rows, row_position, row_words, stack_rows


def moves_chart(moves: pl.DataFrame, title: str) -> alt.LayerChart:
    """Return one row a worth: earlier (hollow) → later (filled), in per cent.

    `moves` has words and figure (of the row), earlier, later (per cent).
    """
    count = moves.height
    ends = [0.0, *moves["earlier"], *moves["later"]]
    pad = max((max(ends) - min(ends)) * 0.08, 1.0)
    scale = alt.Scale(domain=[float(f"{min(ends) - pad:.6g}"), float(f"{max(ends) + pad:.6g}")], nice=False)

    def x(field: str) -> alt.X:
        axis = alt.Axis(format="+~g", tickCount=6, labelOverlap=True)
        return alt.X(field, type="quantitative", title="Per cent of the price", scale=scale, axis=axis)

    rows = alt.Chart(lay_rows(moves))
    at = row_position("mark_at", count)
    tooltip = [alt.Tooltip("words", title="title"), alt.Tooltip("figure", title="moved")]
    layers = [
        alt.Chart(pl.DataFrame({"nought": [0.0]})).mark_rule(style="median").encode(x=x("nought")),
        rows.mark_rule(style="link").encode(x=x("earlier"), x2="later", y=at, tooltip=tooltip),
        rows.mark_point(style="paid", size=60, filled=True).encode(x=x("earlier"), y=at, tooltip=tooltip),
        rows.mark_point(style="sale", size=90, filled=True).encode(x=x("later"), y=at, tooltip=tooltip),
        *row_words(rows, "words", "figure", count, room=150),
    ]
    return stack_rows(layers, count, title)
