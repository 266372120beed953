"""Naive pricers, to compare the value with: what a dealer would say without a model."""

import polars as pl

CELLS: tuple[tuple[str, ...], ...] = (
    ("silhouette", "colourway", "era", "whole_grade"),
    ("silhouette", "era", "whole_grade"),
    ("silhouette", "era"),
    ("silhouette",),
    (),
)
"""What makes a sale comparable, the narrowest first; the first cell with an earlier sale is taken."""

MOST_COMPARABLES = 12


def naive_prices(sales: pl.DataFrame, priced: pl.DataFrame) -> pl.DataFrame:
    """Return one row a priced sale: last_comparable, median_of_comparables (log price).

    `sales` are the priced sales (columns of sql/marts/priced_sales.sql), `priced` some of them with `origin`, the month
    at which the sale was priced: only sales of earlier months are known, as they were to the model. The median is that
    of the MOST_COMPARABLES last.
    """
    graded, upcoming = (
        frame.with_columns(pl.col("grade").round().alias("whole_grade")) for frame in (sales, priced)
    )
    parts = [
        _at_origin(graded.filter(pl.col("month") < origin), some)
        for (origin,), some in upcoming.with_row_index("row").partition_by("origin", as_dict=True).items()
    ]
    if not parts:
        return pl.DataFrame(schema={"last_comparable": pl.Float64, "median_of_comparables": pl.Float64})
    return pl.concat(parts).sort("row").select("last_comparable", "median_of_comparables")


def _at_origin(past: pl.DataFrame, upcoming: pl.DataFrame) -> pl.DataFrame:
    """Return row, last_comparable, median_of_comparables of the sales priced at one origin."""
    known = past.sort("sold_on", "record_id")
    found = upcoming.select("row", "silhouette", "colourway", "era", "whole_grade")
    for number, cell in enumerate(CELLS):
        said = (
            pl.col("log_price").last().alias(f"last {number}"),
            pl.col("log_price").tail(MOST_COMPARABLES).median().alias(f"median {number}"),
        )
        if cell:
            found = found.join(
                known.group_by(cell).agg(*said), on=cell, how="left", nulls_equal=True, maintain_order="left"
            )
        else:
            found = found.join(known.select(*said), how="cross", maintain_order="left")
    return found.select(
        "row",
        pl.coalesce(f"last {number}" for number in range(len(CELLS))).alias("last_comparable"),
        pl.coalesce(f"median {number}" for number in range(len(CELLS))).alias("median_of_comparables"),
    )
