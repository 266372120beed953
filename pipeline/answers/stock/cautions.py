"""What is odd in a stock list: nothing of it is guessed, every row is kept, and each oddity is said."""

from datetime import date

import polars as pl

from pipeline import formats
from pipeline.answers.stock.sold import DOUBTFUL, SOLD
from pipeline.untrusted import show_words

MOST_NAMED = 5
"""The most stock numbers that a caution names."""

MONEY_FIELDS = {
    "price_native": "cost",
    "work_paid": "work paid",
    "ask_native": "ask",
    "bought_on": "day of buying",
    "offered_at": "place of the offer",
}
"""What the fields are called that say nothing of a pair's value, and of which an unread cell is counted by field."""


def list_cautions(
    beside: pl.DataFrame, records: pl.DataFrame, currency: str, *, as_of: date
) -> tuple[str, ...]:
    """Return what is odd in the lists themselves.

    `beside` are the listed pairs with their sales (see `with_sales`) and amounts in the base currency, `records` the
    same pairs as they were read.
    """
    return (
        *_doubtful(beside),
        *_twice(beside),
        *_days(beside, as_of),
        *_without_rate(beside, records, currency),
        *_unread(records),
    )


def gone_cautions(gone: pl.DataFrame, sales: pl.DataFrame) -> tuple[str, ...]:
    """Return the pairs of the list before that are in none now, and of which no sale is known.

    `gone` has stock_ref and bought_on, `sales` stock_ref and sold_on.
    """
    sold = gone.join(sales, on="stock_ref").filter(
        (pl.col("sold_on") >= pl.col("bought_on")).fill_null(value=True)
    )
    left = gone.join(sold, on=["stock_ref", "bought_on"], how="anti", nulls_equal=True)
    if left.is_empty():
        return ()
    return (
        f"In the list before and no longer in this one, though no sale of it is known: {_named(left['stock_ref'])}. "
        "Read the export with its sale, or put it back into the list.",
    )


def _doubtful(beside: pl.DataFrame) -> tuple[str, ...]:
    doubtful = beside.filter(pl.col("state") == DOUBTFUL)
    if doubtful.is_empty():
        return ()
    pairs = formats.counted(doubtful.height, "pair")
    return (
        f"{pairs} may be sold or still there: sale and list disagree. Which is right? Till you correct one of them "
        "such a pair counts neither above nor as sold.",
    )


def _twice(beside: pl.DataFrame) -> tuple[str, ...]:
    """Say which stock numbers stand twice, of pairs that were not sold."""
    numbers = (
        beside.drop_nulls("stock_ref")
        .filter(pl.col("state") != SOLD)
        .group_by("stock_ref", maintain_order=True)
        .agg("row_number", "file_name", is_doubtful=(pl.col("state") == DOUBTFUL).any())
        .filter(pl.col("row_number").list.len() > 1)
    )
    cautions = []
    for row in numbers.head(MOST_NAMED).iter_rows(named=True):
        files = row["file_name"]
        names = [f" of {show_words(name, 60)}" if len(set(files)) > 1 else "" for name in files]
        places = ", ".join(f"{number}{name}" for number, name in zip(row["row_number"], names, strict=True))
        counts = (
            "each row may be a pair of its own"
            if row["is_doubtful"]
            else "each row counts as a pair of its own"
        )
        cautions.append(
            f"Stock number {show_words(row['stock_ref'], 60)} stands twice (rows {places}): {counts}."
        )
    return tuple(cautions)


def _days(beside: pl.DataFrame, as_of: date) -> tuple[str, ...]:
    cautions = []
    early = beside.filter("is_early")
    if early.height:
        cautions.append(
            f"Sold before it came in: {_named(early['stock_ref'])}. It counts as still there; correct its day in the "
            "list, or the sale."
        )
    future = beside.filter(pl.col("since") > as_of)
    if future.height:
        cautions.append(
            f"Bought on a day that is still to come: {_named(future['stock_ref'])}; correct it in the list."
        )
    return tuple(cautions)


def _without_rate(beside: pl.DataFrame, records: pl.DataFrame, currency: str) -> tuple[str, ...]:
    cautions = []
    for name, field, what in (
        ("cost", "price_native", "cost"),
        ("work", "work_paid", "work paid"),
        ("ask", "ask_native", "ask"),
    ):
        code = pl.col(f"{name}_currency")
        unrated = records.filter(pl.col(field).is_not_null() & code.is_not_null() & beside[name].is_null())
        if unrated.height:
            codes = ", ".join(sorted(set(unrated[f"{name}_currency"])))
            pairs = formats.counted(unrated.height, "pair")
            cautions.append(f"The {what} of {pairs} has no rate to {currency} ({codes}): left out.")
    return tuple(cautions)


def _unread(records: pl.DataFrame) -> tuple[str, ...]:
    """Say of each field that is no part of a value which cells of it do not count, and why, each reason once."""
    cells = (
        records.select("stock_ref", "row_number", "unread")
        .explode("unread", empty_as_null=False)
        .unnest("unread")
        .filter(pl.col("field").is_in(list(MONEY_FIELDS)))
        .with_columns(name=pl.coalesce("stock_ref", pl.format("row {}", "row_number")))
        .group_by("field", "reason", maintain_order=True)
        .agg("name", "value")
    )
    return tuple(
        f"The {MONEY_FIELDS[row['field']]} of {_named(pl.Series(row['name']))}: {show_words(row['value'][0], 40)!r}"
        f"{' and others' if len(set(row['value'])) > 1 else ''}: {row['reason']}."
        for row in cells.iter_rows(named=True)
    )


def _named(numbers: pl.Series) -> str:
    """Return the first stock numbers, and how many more there are."""
    names = ", ".join(
        show_words(number or "a pair without a number", 60) for number in numbers.head(MOST_NAMED)
    )
    more = numbers.len() - MOST_NAMED
    return f"{names} and {more} more" if more > 0 else names
