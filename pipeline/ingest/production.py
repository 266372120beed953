"""When a pair was made: its stamp, and the era that stamp, column and title agree on."""

from datetime import date

import polars as pl

from pipeline.config import Market
from pipeline.ingest.lookup import look_up
from pipeline.ingest.stamps import eras_of_years, read_stamps
from pipeline.schema import UNKNOWN

STAMP_COLUMNS = ("stamp_text", "stamp_from", "stamp_to", "factory_code", "production_year")


def read_production(
    fields: pl.DataFrame,
    stated: pl.DataFrame,
    titles: pl.DataFrame,
    days: pl.Series,
    market: Market,
    *,
    as_of: date,
) -> pl.DataFrame:
    """Return, row by row, STAMP_COLUMNS, era, era_origin, era_unread String, flags List(String).

    `stated` is what the column says of the era (value, unread; see `read_stated`), `days` are the days on which
    the offers ended. The era is the stated one, else the title's, else that
    of the stamp's year (inferred). Where two of the three differ the record is flagged. A stamp that is
    later than the offer itself is in the future.
    """
    texts = pl.select(pl.coalesce(fields["stamp_text"], titles["stamp_text"])).to_series()
    stamps = look_up(texts, read_stamps(texts, as_of=as_of)).with_columns(texts.alias("stamp_text"))
    eras = pl.DataFrame(
        {
            "day": days,
            "stated": stated["value"],
            "era_unread": stated["unread"],
            "title": titles["era"],
        }
    )
    usable = pl.col("flag").is_null()
    inferred = eras_of_years(stamps["production_year"], market.eras).alias("of_the_year").to_frame()
    joined = pl.concat([eras, stamps, inferred], how="horizontal").with_columns(
        pl.when(usable).then("of_the_year").alias("inferred")
    )
    known = ("stated", "title", "inferred")
    conflict = pl.any_horizontal(
        (pl.col(one) != pl.col(other)).fill_null(False)
        for one, other in (("stated", "title"), ("stated", "inferred"), ("title", "inferred"))
    )
    late = usable & (pl.col("stamp_from") > pl.col("day"))
    return joined.select(
        *STAMP_COLUMNS,
        pl.coalesce(known).alias("era"),
        pl.coalesce(
            *(pl.when(pl.col(name).is_not_null()).then(pl.lit(name)) for name in known), pl.lit(UNKNOWN)
        ).alias("era_origin"),
        "era_unread",
        pl.concat_list(
            "flag",
            pl.when(late).then(pl.lit("stamp in the future")),
            pl.when(conflict).then(pl.lit("era in conflict")),
        )
        .list.drop_nulls()
        .alias("flags"),
    )
