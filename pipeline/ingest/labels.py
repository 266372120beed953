"""The size of a row: its label, verbatim, and its place on the axis of foot length."""

from collections.abc import Mapping

import polars as pl

from pipeline.ingest.flags import flag_text
from pipeline.ingest.free_text import FROM_TITLE
from pipeline.ingest.lookup import look_up
from pipeline.ingest.names import allowed_words, read_names
from pipeline.ingest.sizes import SizeChart, read_sizes
from pipeline.schema import SIZE_STEP_MM, SIZE_SYSTEMS, UNKNOWN, SizeSystem


def read_labels(
    fields: pl.DataFrame,
    texts: pl.DataFrame,
    makers: pl.Series,
    charts: Mapping[str, SizeChart],
    *,
    system: SizeSystem | None,
) -> pl.DataFrame:
    """Return, row by row, size_label, size_label_origin, size_system, foot_mm and flags String (see `flag_text`).

    The column's label counts, else that of title or notes (see `said_in_texts`). A label that cannot be read is
    kept, flagged, and has no foot length; so is a column that differs from the title by more than one step. A
    label of one of the `makers` who has one of the `charts` is read by it.
    """
    systems = read_names(fields["size_system"], allowed_words(SIZE_SYSTEMS))
    own_systems = look_up(fields["size_system"], systems)["value"].fill_null(system or "")
    read = read_by_charts(fields["size_label"], own_systems, makers, charts)
    titled = read_by_charts(
        texts["size_label"],
        pl.Series([system or ""], dtype=pl.String).new_from_index(0, len(makers)),
        makers,
        charts,
    ).select(titled_mm="foot_mm", titled_system="size_system", titled_reason="reason")
    both = pl.concat(
        [read, titled, texts.select(titled_label="size_label", source="size_label_from")], how="horizontal"
    )
    from_column = pl.col("size_label").is_not_null()
    from_text = ~from_column & pl.col("titled_mm").is_not_null()
    apart = (pl.col("foot_mm") - pl.col("titled_mm")).abs() > SIZE_STEP_MM
    differ = apart & (pl.col("source") == FROM_TITLE)
    flags = flag_text(
        pl.when(from_column & pl.col("reason").is_not_null()).then(pl.lit("size label unreadable")),
        pl.when(from_column & differ).then(pl.lit("size conflict")),
    )
    return both.select(
        pl.when(from_column).then("size_label").when(from_text).then("titled_label").alias("size_label"),
        pl.when(from_column)
        .then(pl.lit("stated"))
        .when(from_text)
        .then("source")
        .otherwise(pl.lit(UNKNOWN))
        .alias("size_label_origin"),
        pl.when(from_column).then("size_system").when(from_text).then("titled_system").alias("size_system"),
        pl.when(from_column).then("foot_mm").when(from_text).then("titled_mm").alias("foot_mm"),
        flags.alias("flags"),
    )


def read_by_charts(
    labels: pl.Series, systems: pl.Series, makers: pl.Series, charts: Mapping[str, SizeChart]
) -> pl.DataFrame:
    """Return, row by row, size_label and what is read of it: in the row's system ("": none), by its maker's chart."""
    rows = pl.DataFrame(
        {
            "size_label": labels,
            "system": systems,
            "maker": makers.cast(pl.String).replace_strict(
                {maker: maker for maker in charts}, default="", return_dtype=pl.String
            ),
        }
    ).with_row_index("at")
    groups = rows.select("system", "maker").unique(maintain_order=True).rows() or [("", "")]
    read = []
    for system, maker in groups:
        own = rows.filter(pl.col("system") == system, pl.col("maker") == maker)
        found = read_sizes(own["size_label"], system=system or None, chart=charts.get(maker))
        read.append(
            pl.concat([own.select("at", "size_label"), look_up(own["size_label"], found)], how="horizontal")
        )
    return pl.concat(read).sort("at")
