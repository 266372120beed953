"""The eras of a pair in doubt: one row an era, its median a dot on its band, on one price axis."""

import altair as alt
import polars as pl

from reports.charts.price_axis import price_axis
from reports.charts.rows import figure_room, place_rows, row_position, row_words, stack_rows


def era_odds_chart(rows: pl.DataFrame, currency: str) -> alt.LayerChart:
    """Return the chart of rows with words, figure, range (String), middle, low, high (Float64, prices), chance, guess
    (Boolean: no sale of its silhouette is of the era).

    The row without a chance mixes the eras: it has the bar of each, as thick as its chance.
    """
    count = rows.height
    axis = price_axis([*rows["low"], *rows["high"]], room=figure_room(rows["figure"]))
    title = f"Price paid, all-in ({currency})"
    laid = place_rows(rows)
    mixed = laid.filter(pl.col("chance").is_null()).select("mark_top", "mark_bottom")
    eras = laid.filter(pl.col("chance").is_not_null())
    sliced = (
        eras.drop("mark_top", "mark_bottom")
        .join(mixed, how="cross")
        .with_columns(upto=pl.col("chance").cum_sum(), thick=pl.col("mark_bottom") - pl.col("mark_top"))
        .with_columns(
            mark_top=pl.col("mark_top") + pl.col("thick") * (pl.col("upto") - pl.col("chance")),
            mark_bottom=pl.col("mark_top") + pl.col("thick") * pl.col("upto"),
        )
        .drop("upto", "thick")
    )
    tooltip = [
        alt.Tooltip("words", title="title"),
        alt.Tooltip("figure", title="median"),
        alt.Tooltip("range", title="from – to"),
    ]
    bars = [
        alt.Chart(part)
        .mark_rect(style="band-80-weak" if guess else "band-80")
        .encode(
            x=axis.encode("low", title),
            x2="high",
            y=row_position("mark_top", count),
            y2="mark_bottom",
            tooltip=tooltip,
        )
        for (guess,), part in pl.concat([sliced, eras], how="diagonal").group_by("guess", maintain_order=True)
    ]
    dots = (
        alt.Chart(laid)
        .mark_point(style="total", size=90, filled=True)
        .encode(x=axis.encode("middle", title), y=row_position("mark_at", count), tooltip=tooltip)
    )
    words = row_words(alt.Chart(laid), "words", "figure", count)
    return stack_rows([*bars, dots, *words], count, "What the pair is worth in each era")
