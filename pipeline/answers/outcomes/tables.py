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
    gain_words,
    profit_cautions,
    profits_table,
    state_profits,
)
from pipeline.answers.outcomes.rule import BOUGHT, EARNED, EXPECTED
from pipeline.answers.sheet import (
    NONE,
    Column,
    Sheet,
    Table,
    amount,
    change,
    count,
    day,
    difference,
    estimate,
    factor,
    level,
    table,
    words,
)

NOTHING = "Nothing is kept yet: add --keep to `pairband appraise`, `consign`, `lots`, `restore` or `stock`."
JUDGED = "Only what ended after the value was said, and after the last sale that its fit knew, judges it."
MOST_VALUES = 10
"""The most kept values that are listed without details; of more, only how they fared is shown."""

MOST_GROUPS = 6
"""The groups of profits that are shown without details: the last half year."""

FEW = 20
"""Fewer sales than this say little of a band."""


def outcomes_sheet(outcomes: Outcomes) -> Sheet:
    """Return the sheet of outcomes: how often bands held, what prices brought, and each kept value."""
    profits = _profit_tables(outcomes)
    return Sheet(
        title=f"What became of your values, by {formats.day(outcomes.as_of)}",
        sentences=(
            *state_outcomes(outcomes),
            *state_rule(outcomes),
            *state_profits(outcomes.profits, outcomes.currency),
        ),
        tables=(
            *profits,
            *((bands_table(outcomes),) if outcomes.bands.height else ()),
            *((replace(prices_table(outcomes), detail=bool(profits)),) if outcomes.prices.height else ()),
            *((rule_table(outcomes).as_detail(),) if _bought(outcomes) else ()),
            *((works_table(outcomes).as_detail(),) if outcomes.works.height else ()),
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


def state_rule(outcomes: Outcomes) -> tuple[str, ...]:
    """Return what the rule of buying would have earned, what was earned apart from what is only expected."""
    rule = outcomes.rule
    if rule is None or not rule.ended:
        return ()
    currency, bought = outcomes.currency, rule.bought
    parts = []
    for kind, said in ((EARNED, "sold again since, {} in all"), (EXPECTED, "not sold again, {} expected")):
        of_kind = bought.filter(pl.col("kind") == kind)
        if of_kind.height:
            parts.append(
                f"{of_kind.height} {said.format(gain_words(float(of_kind['gain'].sum()), currency))}"
            )
    if rule.unknown:
        parts.append(f"{rule.unknown} without a kept expectation")
    known = f": {'; '.join(parts)}" if parts else ""
    wins = bought.height + rule.unknown
    return (f"Of {formats.counted(rule.ended, 'lot')} sold, your rule would have bought {wins}{known}.",)


def _bought(outcomes: Outcomes) -> int:
    return outcomes.rule.bought.height if outcomes.rule else 0


def rule_table(outcomes: Outcomes) -> Table:
    """Return the lots that the rule would have bought; what was earned and what was expected stand apart."""
    currency = outcomes.currency
    rows = outcomes.rule.bought if outcomes.rule else pl.DataFrame(schema=BOUGHT)
    return table(
        "rule",
        "What your rule of buying would have bought",
        (
            Column("pair", "Pair", cut=True),
            words("venue", "Venue"),
            day("ended_on", "Ended on"),
            Column("hammer", "Hammer", number=True, describe=lambda row: _in_native(row, "hammer")),
            Column(
                "maximum_bid", "Maximum bid", number=True, describe=lambda row: _in_native(row, "maximum_bid")
            ),
            amount("landed", "Cost if won", currency),
            words("kind", "Gain is"),
            difference("gain", "Gain", currency),
            Column("band", "80 % band", number=True),
            words("stock_ref", "Sold as"),
            difference("own", "You made", currency),
        ),
        _with_own(rows, outcomes).with_columns(
            band=pl.Series(
                [
                    None
                    if low is None
                    else f"{formats.gain(low, currency)} to {formats.gain(high, currency)}"
                    for low, high in rows.select("low", "high").iter_rows()
                ],
                dtype=pl.String,
            )
        ),
        "Bought at one bid above the hammer price. Earned: the net of the next sale of that pair, less the cost if "
        "won and the costs in the shop. Expected: that gain on average, as kept before the lot ended; not earned yet.",
    ).marked(detail=("venue", "hammer", "maximum_bid", "band"), cut=("pair",))


def _with_own(bought: pl.DataFrame, outcomes: Outcomes) -> pl.DataFrame:
    """Add what the owner made of a lot who bought it and sold it under a stock number, where the profit is known."""
    if outcomes.profits is None:
        return bought.with_columns(own=pl.lit(None, pl.Float64))
    made = outcomes.profits.pairs.select(pl.col("profit").cast(pl.Float64).alias("own"), sale_id="record_id")
    return bought.join(made, on="sale_id", how="left", maintain_order="left")


def works_table(outcomes: Outcomes) -> Table:
    """Return the kept works on pairs: what was expected of each, and what it made where the pair was sold."""
    currency = outcomes.currency
    return table(
        "works",
        "Work that you decided on",
        (
            words("stock_ref", "Number"),
            Column("pair", "Pair", cut=True),
            Column("work", "Work", cut=True),
            amount("work_cost", "Cost", currency),
            estimate("value_before", "Value before", currency),
            change("expected_gain", "Expected gain", currency),
            amount("price_paid", "Paid", currency),
            Column("done", "Done", {True: "yes", False: "no"}.__getitem__),
            difference("made", "Made", currency),
        ),
        outcomes.works.with_columns(work=pl.col("treatments").list.join(" + ")).drop("treatments"),
        "Made: the price paid, less the value before and the cost, where the sale says that the work was done.",
    ).marked(detail=("pair",), cut=("work",))


def _in_native(row: Mapping[str, Any], key: str) -> str:
    return formats.amount(row[key], row["native_currency"])


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
        outcomes.values.drop("treatments", "treatments_at_sale"),
    )


def _latest_values(outcomes: Outcomes) -> Table:
    """Return the kept values as the terminal shows them."""
    values = values_table(outcomes).marked(detail=("price_kind", "price", "brought"), cut=("pair",))
    return values.as_detail() if values.rows.height > MOST_VALUES else values


def _native(row: Mapping[str, Any], key: str) -> str:
    value, currency = row[key], row["price_currency"]
    return NONE if value is None or currency is None else formats.amount(value, currency)
