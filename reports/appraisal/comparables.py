"""The comparables chart: what each was paid, and what it says of this pair once adjusted."""

import altair as alt
import polars as pl

from pipeline.answers.appraisal.appraisal import Appraisal
from reports.appraisal.frames import band_frame, comparable_frame
from reports.charts.price_axis import edge_marks, price_axis
from reports.charts.rows import figure_room, median_rule, place_rows, row_position, row_words, stack_rows


def comparables_chart(appraisal: Appraisal) -> alt.LayerChart:
    """Return one row a comparable: paid (hollow) → adjusted (filled), beneath the 80 % band."""
    sales = comparable_frame(appraisal)
    band = band_frame(appraisal).filter(pl.col("level") == 0.8)
    count = sales.height + band.height
    axis = price_axis(
        [*band["low"], *band["high"], appraisal.median],
        [*sales["paid"], *sales["adjusted"]],
        room=figure_room([*sales["adjusted_text"], *band["range"]]),
    )
    title = f"Price, all-in ({appraisal.currency})"
    laid = place_rows(sales, first=band.height)
    own = place_rows(band.with_columns(row="This pair, " + pl.col("name") + " band"))
    tooltip = [
        "title",
        alt.Tooltip("sold"),
        alt.Tooltip("venue"),
        alt.Tooltip("paid_text", title="paid"),
        alt.Tooltip("total", title="adjusted by"),
        alt.Tooltip("adjusted_text", title="adjusted"),
        alt.Tooltip("residual", title="against the model"),
    ]
    bar = (
        alt.Chart(own)
        .mark_rect(style="band-80-weak" if appraisal.weak else "band-80")
        .encode(x=axis.encode("low", title), x2="high", y=row_position("mark_top", count), y2="mark_bottom")
    )
    rows = alt.Chart(laid)
    at = row_position("mark_at", count)
    links = (
        alt.Chart(laid.with_columns(axis.within("paid", "adjusted")))
        .mark_rule(style="link")
        .encode(x=axis.encode("paid", title), x2="adjusted", y=at)
    )
    paid = (
        alt.Chart(laid.filter(axis.holds("paid")))
        .mark_point(style="paid", size=60, filled=True)
        .encode(x=axis.encode("paid", title), y=at)
    )
    adjusted = (
        alt.Chart(laid.filter(axis.holds("adjusted")))
        .mark_point(style="sale", size=90, filled=True)
        .encode(x=axis.encode("adjusted", title), y=at, tooltip=tooltip)
    )
    layers = [
        bar,
        median_rule(appraisal.median, axis, title),
        links,
        paid,
        adjusted,
        *edge_marks(laid, "paid", "paid_text", at, axis, title),
        *edge_marks(laid.filter(axis.holds("paid")), "adjusted", "adjusted_text", at, axis, title),
        *row_words(alt.Chart(own), "row", "range", count),
        *row_words(rows, "row", "adjusted_text", count),
    ]
    return stack_rows(layers, count, "The nearest sales, adjusted to this pair")
