"""The sales that the pricing page carries, from which it takes its comparables."""

from typing import Any

import polars as pl

from pipeline.market.model import FACTORS

MOST_SALES = 8_000
"""The most sales that a page carries, of all silhouettes together."""

TITLE_WORDS = 90
"""The most characters of a sale's title that the page shows; one more is carried, so that a cut can be seen."""

CODED: tuple[str, ...] = tuple(name for name in FACTORS if name not in ("silhouette", "month"))
"""The factor columns that are carried as numbers into the list of their values; month follows from the day."""


def choose_sales(sales: pl.DataFrame, *, most: int = MOST_SALES) -> pl.DataFrame:
    """Return the sales that are carried: the most recent of each silhouette, as many of each as `most` allows.

    `sales` has the columns of sql/marts/priced_sales.sql, the most recent first.
    """
    quota = _quota(sales["silhouette"].value_counts()["count"].to_list(), most)
    return sales.filter(pl.int_range(pl.len()).over("silhouette") < quota)


def sales_document(sales: pl.DataFrame) -> dict[str, Any]:
    """Return the sales, JSON-able: the values of each coded column, and by silhouette the columns."""
    values = {name: _values(sales[name]) for name in CODED}
    coded = sales.select(
        "silhouette",
        record="record_id",
        title=pl.col("title").str.slice(0, TITLE_WORDS + 1),
        day=pl.col("sold_on").dt.to_string("%Y-%m-%d"),
        paid=pl.col("price_paid"),
        **{name: _codes(sales[name], values[name]) for name in CODED},
    )
    return {
        "values": {name: column.to_list() for name, column in values.items()},
        "of": {
            str(silhouette): own.drop("silhouette").to_dict(as_series=False)
            for (silhouette,), own in coded.group_by("silhouette", maintain_order=True)
        },
    }


def count_by_silhouette(sales: pl.DataFrame) -> dict[str, int]:
    """Return how many sales each silhouette has."""
    return dict(sales.group_by("silhouette", maintain_order=True).len().iter_rows())


def _quota(counts: list[int], most: int) -> int:
    """Return how many sales of each silhouette may be carried, so that `most` in all are not exceeded."""
    left, remaining = most, len(counts)
    for count in sorted(counts):
        if count * remaining >= left:
            return left // remaining
        left -= count
        remaining -= 1
    return max(counts, default=0)


def _values(column: pl.Series) -> pl.Series:
    return column.unique(maintain_order=True)


def _codes(column: pl.Series, values: pl.Series) -> pl.Series:
    """Return, for each entry of a column, the number of its value."""
    table = pl.DataFrame({"value": values, "code": pl.int_range(len(values), eager=True)})
    found = column.to_frame("value").join(
        table, on="value", how="left", nulls_equal=True, maintain_order="left"
    )
    return found["code"]
