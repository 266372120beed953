"""Which pairs of the stock were sold: by stock number, from the day on which they were bought."""

from datetime import date

import polars as pl

from pipeline import formats

HERE, SOLD, DOUBTFUL = "here", "sold", "doubtful"
"""Whether a pair is in the stock, has left it, or nobody can say."""


def with_sales(listed: pl.DataFrame, earlier: pl.DataFrame, sales: pl.DataFrame) -> pl.DataFrame:
    """Return the listed pairs with their state (HERE, SOLD, DOUBTFUL), why it is doubtful, and their sale.

    `listed` has stock_ref, since (the day of buying, null where it is not known) and listed_on (the day that the list
    is of, null where that is not known); `earlier` stock_ref and bought_on of pairs of earlier lists; `sales`
    stock_ref, sold_on and what else is to be added of a sale. A sale is of the pair of its number that was bought last
    before it. One from before the list's own day is doubtful, since the list still names the pair, and so is one of
    several pairs of one number and day of buying. `is_early` says that a sale of the number is from before the pair
    was bought, and of no other pair that is known.
    """
    of_one = ["stock_ref", "since"]
    rows = listed.with_row_index("place").with_columns(
        twins=pl.len().over(of_one), twin=pl.int_range(1, pl.len() + 1).over(of_one)
    )
    starts = _starts(listed, earlier)
    spans = rows.join(starts, on=["stock_ref", "since"], how="left", maintain_order="left", nulls_equal=True)
    found = spans.join(sales, on="stock_ref", how="inner")
    is_later = (pl.col("sold_on") >= pl.col("since")).fill_null(value=True)
    is_own = is_later & (pl.col("sold_on") < pl.col("next_since")).fill_null(value=True)
    own = found.filter(is_own).sort("place", "sold_on", "record_id")
    turn = pl.col("sold_on").rank("ordinal", descending=True).over("place")
    counted = own.with_columns(sales_of_number=pl.len().over("place"), turn=turn)
    chosen = counted.filter(pl.col("turn") == pl.min_horizontal("twin", "sales_of_number"))
    beside = spans.join(
        chosen.select("place", *_added(sales), "sales_of_number"),
        on="place",
        how="left",
        maintain_order="left",
    )
    is_twin = (pl.col("twins") > 1) & (pl.col("sales_of_number") < pl.col("twins"))
    is_listed = pl.col("sold_on") < pl.col("listed_on")
    state = (
        pl.when(pl.col("sold_on").is_null())
        .then(pl.lit(HERE))
        .when(is_twin.fill_null(value=False) | is_listed.fill_null(value=False))
        .then(pl.lit(DOUBTFUL))
        .otherwise(pl.lit(SOLD))
    )
    why = (
        pl.when(is_twin)
        .then(pl.format("its number stands {} times", "twins"))
        .when(is_listed)
        .then(pl.format("still in the list of {}", pl.col("listed_on").map_elements(_day, pl.String)))
    )
    return beside.with_columns(
        state=state, why=why, is_early=pl.col("place").is_in(_early(found, starts).implode())
    ).drop("place", "next_since", "twin", "twins", "sales_of_number")


def _day(day: date) -> str:
    return formats.day(day)


def _added(sales: pl.DataFrame) -> list[str]:
    return [name for name in sales.columns if name != "stock_ref"]


def _starts(listed: pl.DataFrame, earlier: pl.DataFrame) -> pl.DataFrame:
    """Return stock_ref, since and next_since: when each pair of a number was bought, and the next one of it."""
    known = pl.concat([listed.select("stock_ref", "since"), earlier.select("stock_ref", since="bought_on")])
    return (
        known.drop_nulls()
        .unique()
        .sort("stock_ref", "since")
        .with_columns(next_since=pl.col("since").shift(-1).over("stock_ref"))
    )


def _early(found: pl.DataFrame, starts: pl.DataFrame) -> pl.Series:
    """Return the places of pairs of whose number a sale is known from before any pair of it was bought."""
    first = starts.group_by("stock_ref").agg(first_since=pl.col("since").min())
    early = found.join(first, on="stock_ref").filter(pl.col("sold_on") < pl.col("first_since"))
    return early["place"].unique()
