"""Which sales two fits took differently, and why."""

from dataclasses import dataclass

import polars as pl

from pipeline.answers.changed.answer import MARKET_FILE, NEW_SALES, PUT_RIGHT, Causes
from pipeline.ledger import Ledger


@dataclass(frozen=True)
class SaleChanges:
    """The sales of two fits, in the columns of sql/fits/sales_of_fits.sql but for is_earlier and is_later.

    `alike` are those that both took alike. `before` and `after` are all others as the earlier and the later fit took
    them, each with its `cause`: a sale that came in since, one that was put right, or one that the market file reads in
    another way.
    """

    alike: pl.DataFrame
    before: pl.DataFrame
    after: pl.DataFrame

    @property
    def records(self) -> dict[str, int]:
        """Return how many sales differ by each cause."""
        both = pl.concat([self.before, self.after]).group_by("cause").agg(pl.col("record_id").n_unique())
        return dict(both.sort("cause").iter_rows())

    @property
    def new(self) -> pl.DataFrame:
        """Return the sales that came in since."""
        return self.after.filter(pl.col("cause") == NEW_SALES).drop("cause")

    def with_causes(self, causes: Causes) -> pl.DataFrame:
        """Return the sales as they would be with some of the causes alone."""
        chosen = pl.col("cause").is_in(list(causes))
        parts = (self.before.filter(~chosen), self.after.filter(chosen))
        return pl.concat([self.alike, *(part.drop("cause") for part in parts)]).sort("record_id")


def sale_changes(ledger: Ledger, *, earlier: int, later: int, run_id: int, ruling_number: int) -> SaleChanges:
    """Return which sales two fits took differently; `run_id` and `ruling_number` are the last before the earlier."""
    sales = ledger.read("fits/sales_of_fits", earlier=earlier, later=later)
    in_both = pl.col("is_earlier") & pl.col("is_later")
    differing = _present(ledger, sales.filter(~in_both))
    happened = ledger.read_with(
        "fits/changes_of_sales",
        differing.select("record_id").unique(maintain_order=True),
        run_id=run_id,
        ruling_number=ruling_number,
    )
    known = differing.filter("is_earlier")["record_id"].unique().to_list()
    came = ~pl.col("record_id").is_in(known) & (pl.col("is_new_file") | pl.col("is_added"))
    right = pl.col("is_decided") | pl.col("is_new_file") | ~pl.col("is_read_again")
    causes = happened.select(
        "record_id",
        cause=pl.when(came)
        .then(pl.lit(NEW_SALES))
        .when(right)
        .then(pl.lit(PUT_RIGHT))
        .otherwise(pl.lit(MARKET_FILE)),
    )
    caused = differing.join(causes, on="record_id", how="left", maintain_order="left")
    before, after = (
        caused.filter(side).drop("is_earlier", "is_later") for side in ("is_earlier", "is_later")
    )
    same = _written(before).join(_written(after), on="text", how="semi")["text"]
    back = _written(before)["text"].is_in(same.implode())
    forth = _written(after)["text"].is_in(same.implode())
    return SaleChanges(
        pl.concat(
            [
                sales.filter(in_both).drop("is_earlier", "is_later"),
                after.filter(forth).drop("cause"),
            ]
        ),
        before.filter(~back),
        after.filter(~forth),
    )


def _present(ledger: Ledger, sales: pl.DataFrame) -> pl.DataFrame:
    """Return the sales by the ids that they go by now: a sale of two rows may go by another id than before."""
    ids = ledger.read_with("fits/present_ids", sales.filter("is_earlier").select("record_id"))
    return (
        sales.join(ids, on="record_id", how="left", maintain_order="left")
        .with_columns(
            record_id=pl.when("is_earlier")
            .then(pl.coalesce("present_id", "record_id"))
            .otherwise("record_id")
        )
        .drop("present_id")
    )


def _written(sales: pl.DataFrame) -> pl.DataFrame:
    """Return all that each sale says as one text."""
    return sales.select(text=pl.struct(pl.all().exclude("cause")).struct.json_encode())
