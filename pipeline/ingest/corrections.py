"""The owner's own text in the place of a row's cell: put in before a row is read, so that all else follows from it.

Corrections are a frame beside the rows, in their order: one String column a corrected field of SOURCE_FIELDS. A null
says that this row's field was not corrected, an empty text that its value is not known.
"""

import polars as pl

from pipeline.schema import COLUMN, UNKNOWN

CORRECTED = "corrected"
"""The origin of a value that the owner corrected."""

_READ_OF_TITLES = {
    "era": ("era", "year_from", "years_era", "years_odds"),
    "silhouette": ("silhouette", "colourway"),
}
"""What else of a title counts no more once a field is corrected: a colourway is that of its silhouette."""

_SETTLED_BY_ERA = ("era in conflict", "years of several eras")


def with_corrections(fields: pl.DataFrame, corrections: pl.DataFrame) -> pl.DataFrame:
    """Return the fields as text with the corrections in their place.

    A corrected day on which an offer ended is the day of its sale too, unless that is corrected as well.
    """
    corrected = fields.with_columns(
        pl.when(said.is_null()).then(fields[said.name]).when(said != "").then(said).alias(said.name)
        for said in corrections.iter_columns()
        if said.name in fields.columns
    )
    if "closed_on" not in corrections.columns:
        return corrected
    sold_on = corrections["sold_on"] if "sold_on" in corrections.columns else pl.lit(None, dtype=pl.String)
    follows = corrections["closed_on"].is_not_null() & sold_on.is_null()
    return corrected.with_columns(pl.when(~follows).then("sold_on").alias("sold_on"))


def own_prices(fields: pl.DataFrame, corrections: pl.DataFrame) -> pl.DataFrame:
    """Return what the owner says of prices beside the fields as they were written, row by row.

    Columns: price_is_own Boolean, price_written String (the cell that the owner's price takes the place of), and
    own_basis String (what the owner says that the price counts, null where that is what the map says).
    """
    said = dict.fromkeys(("price_native", "price_basis"), pl.lit(None, dtype=pl.String))
    own = corrections.select(pl.all().name.suffix("_own")) if corrections.width else pl.DataFrame()
    said |= {name: pl.col(f"{name}_own") for name in said if name in corrections.columns}
    return pl.concat([fields, own], how="horizontal").select(
        price_is_own=said["price_native"].is_not_null(),
        price_written="price_native",
        own_basis=said["price_basis"].replace("", None),
    )


def without_corrected(titles: pl.DataFrame, corrections: pl.DataFrame) -> pl.DataFrame:
    """Return what was read from titles without what the owner has corrected, row by row."""
    for said in corrections.iter_columns():
        names = [name for name in _READ_OF_TITLES.get(said.name, (said.name,)) if name in titles.columns]
        titles = titles.with_columns(pl.when(said.is_null()).then(name).alias(name) for name in names)
    return titles


def settle_corrected(records: pl.DataFrame, corrections: pl.DataFrame) -> pl.DataFrame:
    """Return records with "corrected" as the origin of what was corrected; what is not known is unknown.

    A corrected era is the owner's word, so that no doubt about it is left.
    """
    for said in corrections.iter_columns():
        column = COLUMN[said.name]
        if column.origin:
            nothing = pl.lit(UNKNOWN if column.may_be_unknown else None)
            value = pl.when(said == "").then(nothing).otherwise(pl.col(column.name)).alias(column.name)
            unknown = pl.col(column.name).is_null()
            if column.may_be_unknown:
                unknown = unknown | (pl.col(column.name) == UNKNOWN)
            origin = pl.when(unknown).then(pl.lit(UNKNOWN)).otherwise(pl.lit(CORRECTED))
            name = f"{column.name}_origin"
            records = records.with_columns(value).with_columns(
                pl.when(said.is_null()).then(name).otherwise(origin).alias(name)
            )
        if said.name == "era":
            left = pl.col("flags").list.set_difference(list(_SETTLED_BY_ERA))
            records = records.with_columns(
                pl.when(said.is_null()).then("flags").otherwise(left).alias("flags")
            )
    return records
