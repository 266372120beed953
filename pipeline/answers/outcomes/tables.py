"""What became of kept values, in words and tables."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import polars as pl

from pipeline import formats
from pipeline.answers.outcomes.answer import Outcomes, lots_within_limit
from pipeline.answers.outcomes.profit_tables import (
    ACCOUNT,
    GROUP,
    accounts_table,
    profit_cautions,
    profits_table,
    state_profits,
)
from pipeline.answers.sheet import (
    NONE,
    Column,
    Sheet,
    Table,
    amount,
    count,
    day,
    estimate,
    factor,
    level,
    table,
    words,
)

NOTHING = "Nothing is kept yet: add --keep to `pairband appraise`, `consign`, `lots` or `stock`."
JUDGED = "Only what ended after the value was said, and after the last sale that its fit knew, judges it."
MOST_VALUES = 20
"""The kept values that are shown without details."""

MOST_GROUPS = 13
"""The groups of profits that are shown without details: a year of months and the whole."""

FEW = 20
"""Fewer sales than this say little of a band."""


def outcomes_sheet(outcomes: Outcomes) -> Sheet:
    """Return the sheet of outcomes: how often bands held, what prices brought, and each kept value."""
    return Sheet(
        title=f"What became of your values, by {formats.day(outcomes.as_of)}",
        sentences=(*state_outcomes(outcomes), *state_profits(outcomes.profits, outcomes.currency)),
        tables=(
            *_profit_tables(outcomes),
            *((bands_table(outcomes),) if outcomes.bands.height else ()),
            *((prices_table(outcomes),) if outcomes.prices.height else ()),
            *((_latest_values(outcomes),) if outcomes.values.height else ()),
        ),
        warnings=profit_cautions(outcomes.profits),
    )


def _profit_tables(outcomes: Outcomes) -> tuple[Table, ...]:
    profits = outcomes.profits
    if profits is None or not profits.pairs.height:
        return ()
    groups = replace(profits_table(profits, outcomes.currency).showing(*GROUP), first=MOST_GROUPS)
    return groups, accounts_table(profits, outcomes.currency).showing(*ACCOUNT).as_detail()


def state_outcomes(outcomes: Outcomes) -> tuple[str, ...]:
    """Return the answer in a few sentences."""
    if not outcomes.values.height:
        return (NOTHING,)
    sold, held = int(outcomes.bands["sold"].sum()), int(outcomes.bands["held"].sum())
    kept = formats.counted(int(outcomes.bands["kept"].sum()), "value")
    if not sold:
        return (f"{kept} kept; none of these pairs was sold since.", JUDGED)
    lines = [
        f"{kept} kept, {sold} sold since: the 80 % band held {held} of {sold} ({formats.level(held / sold)})."
    ]
    if sold < FEW:
        lines.append(f"With {formats.counted(sold, 'sale')} that may well be chance.")
    within, bids = lots_within_limit(outcomes)
    if bids:
        lines.append(f"{within} of {bids} lots went for no more than your maximum bid.")
    return (*lines, JUDGED)


def bands_table(outcomes: Outcomes) -> Table:
    """Return how often bands held, one row a question."""
    rows = outcomes.bands.with_columns(
        share=pl.when(pl.col("sold") > 0).then(pl.col("held") / pl.col("sold"))
    )
    return table(
        "bands",
        "How often the 80 % band held",
        (
            words("question", "Said in"),
            count("kept", "Kept"),
            count("sold", "Sold since"),
            count("held", "Held"),
            level("share", "Share"),
            factor("ratio", "Price over value"),
        ),
        rows,
        "Price over value: the median of price paid against fair value; at a sound fit it is near 0 %.",
    )


def prices_table(outcomes: Outcomes) -> Table:
    """Return what bids, asks and estimates brought, one row a kind of price and venue."""
    return table(
        "prices",
        "What your prices brought",
        (
            words("price_kind", "Price"),
            words("venue", "Venue"),
            count("kept", "Kept"),
            count("sold", "Sold"),
            count("unsold", "Not sold"),
            Column("reached", "At it or more", describe=lambda row: f"{row['reached']} of {row['known']}"),
            factor("share", "Brought against it"),
            Column("days", "Days to the end", "{:.0f}".format, number=True),
        ),
        outcomes.prices,
        "Brought: the hammer price or fixed price, without the buyer's fees; medians.",
    )


def values_table(outcomes: Outcomes) -> Table:
    """Return every kept value with its outcome, the latest first."""
    currency = outcomes.currency
    return table(
        "values",
        "Each value",
        (
            day("said_on", "Said on"),
            words("question", "In"),
            words("pair", "Pair"),
            estimate("median", "Fair value", currency),
            words("price_kind", "Price"),
            Column("price", "Amount", number=True, describe=lambda row: _native(row, "price")),
            words("outcome", "Outcome"),
            day("ended_on", "On"),
            amount("price_paid", "Paid", currency),
            Column("held", "In the band", {True: "yes", False: "no"}.__getitem__),
            Column("brought", "Brought", number=True, describe=lambda row: _native(row, "brought")),
        ),
        outcomes.values,
    )


def _latest_values(outcomes: Outcomes) -> Table:
    """Return the kept values as the terminal shows them."""
    values = values_table(outcomes).marked(detail=("price_kind", "price", "brought"), cut=("pair",))
    return replace(values, first=MOST_VALUES)


def _native(row: Mapping[str, Any], key: str) -> str:
    value, currency = row[key], row["price_currency"]
    return NONE if value is None or currency is None else formats.amount(value, currency)
