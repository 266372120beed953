"""When a pair was made: its stamp, and the era that stamp, column and title agree on."""

from datetime import date
from itertools import combinations

import polars as pl

from pipeline.config import Market
from pipeline.ingest.flags import flag_text
from pipeline.ingest.free_text import FROM_NOTES, FROM_TITLE
from pipeline.ingest.lookup import look_up
from pipeline.ingest.stamps import eras_of_years, read_stamps
from pipeline.ingest.years import SEVERAL_ERAS
from pipeline.schema import UNKNOWN

STAMP_COLUMNS = ("stamp_text", "stamp_from", "stamp_to", "factory_code", "production_year")
_KNOWN = {
    "stated": pl.lit("stated"),
    "title": pl.lit("title"),
    "notes": pl.lit("notes"),
    "inferred": pl.lit("inferred"),
    "stated_year": pl.lit("stated"),
    "text_year": pl.col("years_source"),
}
"""What may say the era, the surest first, with the origin that it is."""


def read_production(
    fields: pl.DataFrame,
    stated: pl.DataFrame,
    texts: pl.DataFrame,
    days: pl.Series,
    market: Market,
    *,
    as_of: date,
) -> pl.DataFrame:
    """Return, row by row, STAMP_COLUMNS, era, era_origin, era_unread String, flags String (see `flag_text`).

    `stated` is what the column says of the era (value, unread, by_year; see `read_stated`), `days` are the days on
    which the offers ended, `texts` what title and notes say. The era is the stated one, else the title's, else
    that of the notes, else that of the stamp's year (inferred); words go before the stamp, and the stamp before other
    years, the column's before the title's. Where two of these differ the record is flagged, but for the notes and
    for years in a text, which are not always those of the pair; such a year after the offer counts for nothing. A
    stamp that is later than the offer itself is in the future.
    """
    marks = pl.select(pl.coalesce(fields["stamp_text"], texts["stamp_text"])).to_series()
    stamps = look_up(marks, read_stamps(marks, as_of=as_of)).with_columns(marks.alias("stamp_text"))
    eras = pl.DataFrame(
        {
            "day": days,
            "value": stated["value"],
            "by_year": stated["by_year"],
            "era_unread": stated["unread"],
            "in_text": texts["era"],
            "source": texts["era_from"],
            "year_from": texts["year_from"],
            "years_era": texts["years_era"],
            "years_odds": texts["years_odds"],
            "years_source": texts["year_from_from"],
        }
    ).with_columns(
        stated=pl.when(~pl.col("by_year")).then("value"),
        stated_year=pl.when("by_year").then("value"),
        title=pl.when(pl.col("source") == FROM_TITLE).then("in_text"),
        notes=pl.when(pl.col("source") == FROM_NOTES).then("in_text"),
    )
    early_enough = (pl.col("year_from") <= pl.col("day").dt.year()).fill_null(value=True)
    usable = pl.col("flag").is_null()
    inferred = eras_of_years(stamps["production_year"], market.eras).alias("of_the_year").to_frame()
    joined = pl.concat([eras, stamps, inferred], how="horizontal").with_columns(
        pl.when(usable).then("of_the_year").alias("inferred"),
        pl.when(early_enough).then("years_era").alias("text_year"),
    )
    conflict = pl.any_horizontal(
        (pl.col(one) != pl.col(other)).fill_null(False)
        for one, other in combinations(("stated", "title", "inferred", "stated_year"), 2)
    )
    in_doubt = early_enough & pl.col("years_odds").is_not_null() & pl.coalesce(list(_KNOWN)).is_null()
    late = usable & (pl.col("stamp_from") > pl.col("day"))
    return joined.select(
        *STAMP_COLUMNS,
        pl.coalesce(list(_KNOWN)).alias("era"),
        pl.coalesce(
            *(pl.when(pl.col(name).is_not_null()).then(origin) for name, origin in _KNOWN.items()),
            pl.lit(UNKNOWN),
        ).alias("era_origin"),
        pl.coalesce("era_unread", pl.when(in_doubt).then(pl.format(SEVERAL_ERAS + "{}", "years_odds"))),
        flag_text(
            "flag",
            pl.when(late).then(pl.lit("stamp in the future")),
            pl.when(conflict).then(pl.lit("era in conflict")),
            pl.when(in_doubt).then(pl.lit("years of several eras")),
        ).alias("flags"),
    )
