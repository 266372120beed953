"""The size of a row: its label, verbatim, and its place on the axis of foot length."""

import polars as pl

from pipeline.ingest.free_text import FROM_TITLE
from pipeline.ingest.lookup import look_up
from pipeline.ingest.names import allowed_words, read_names
from pipeline.ingest.sizes import read_sizes
from pipeline.schema import SIZE_STEP_MM, SIZE_SYSTEMS, UNKNOWN, SizeSystem


def read_labels(fields: pl.DataFrame, texts: pl.DataFrame, *, system: SizeSystem | None) -> pl.DataFrame:
    """Return, row by row, size_label, size_label_origin, size_system, foot_mm and flags List(String).

    The column's label counts, else that of title or notes (see `said_in_texts`). A label that cannot be read is
    kept, flagged, and has no foot length; so is a column that differs from the title by more than one step.
    """
    systems = read_names(fields["size_system"], allowed_words(SIZE_SYSTEMS))
    stated = pl.DataFrame(
        {
            "size_label": fields["size_label"],
            "stated_system": look_up(fields["size_system"], systems)["value"],
        }
    ).with_row_index("at")
    own_systems = stated["stated_system"].drop_nulls().unique().to_list()
    read = pl.concat(
        [
            _read(stated.filter(pl.col("stated_system").is_null()), system),
            *(_read(stated.filter(pl.col("stated_system") == name), name) for name in own_systems),
        ]
    ).sort("at")
    titled_labels = texts["size_label"]
    titled = look_up(titled_labels, read_sizes(titled_labels, system=system)).select(
        titled_mm="foot_mm", titled_system="size_system", titled_reason="reason"
    )
    both = pl.concat(
        [read, titled, texts.select(titled_label="size_label", source="size_label_from")], how="horizontal"
    )
    from_column = pl.col("size_label").is_not_null()
    from_text = ~from_column & pl.col("titled_mm").is_not_null()
    apart = (pl.col("foot_mm") - pl.col("titled_mm")).abs() > SIZE_STEP_MM
    differ = apart & (pl.col("source") == FROM_TITLE)
    flags = pl.concat_list(
        pl.when(from_column & pl.col("reason").is_not_null()).then(pl.lit("size label unreadable")),
        pl.when(from_column & differ).then(pl.lit("size conflict")),
    ).list.drop_nulls()
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


def _read(rows: pl.DataFrame, system: str | None) -> pl.DataFrame:
    return pl.concat(
        [
            rows.select("at", "size_label"),
            look_up(rows["size_label"], read_sizes(rows["size_label"], system=system)),
        ],
        how="horizontal",
    )
