"""The comparables chart: what each was paid, and what it says of this pair once adjusted."""

import altair as alt
import polars as pl

from pipeline.answers.appraisal.appraisal import Appraisal
from reports.appraisal.frames import band_frame, comparable_frame
from reports.charts.price_axis import price_axis
from reports.charts.rows import median_rule, place_rows, row_position, row_words, stack_rows


def comparables_chart(appraisal: Appraisal) -> alt.LayerChart:
    """Return one row a comparable: paid (hollow) → adjusted (filled), beneath the 80 % band."""
    sales = comparable_frame(appraisal)
    band = band_frame(appraisal).filter(pl.col("level") == 0.8)
    count = sales.height + band.height
    axis = price_axis([*sales["paid"], *sales["adjusted"], *band["low"], *band["high"], appraisal.median])
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
        .mark_rect(style="band-80")
        .encode(x=axis.encode("low", title), x2="high", y=row_position("mark_top", count), y2="mark_bottom")
    )
    rows = alt.Chart(laid)
    links = rows.mark_rule(style="link").encode(
        x=axis.encode("paid", title), x2="adjusted", y=row_position("mark_at", count), tooltip=tooltip
    )
    paid = rows.mark_point(style="paid", size=60, filled=True).encode(
        x=axis.encode("paid", title), y=row_position("mark_at", count), tooltip=tooltip
    )
    adjusted = rows.mark_point(style="sale", size=90, filled=True).encode(
        x=axis.encode("adjusted", title), y=row_position("mark_at", count), tooltip=tooltip
    )
    layers = [
        bar,
        median_rule(appraisal.median, axis, title),
        links,
        paid,
        adjusted,
        *row_words(alt.Chart(own), "row", "range", count),
        *row_words(rows, "row", "adjusted_text", count, room=64),
    ]
    return stack_rows(layers, count, "The nearest sales, adjusted to this pair")
