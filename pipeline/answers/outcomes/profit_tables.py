"""What pairs that were sold have left, in words and tables, to the cent."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

import polars as pl

from pipeline import formats
from pipeline.answers.outcomes.profit import By, Profits
from pipeline.answers.sheet import Column, Detail, Table, count, day, difference, level, table, words

NO_BOOKKEEPING = (
    "This is no bookkeeping and no tax advice: what you owe, and what counts as cost, is for a licensed accountant and "
    "the local rules to say."
)
_HEADINGS = {
    "paid": "Buyer paid",
    "buyer_fees": "Buyer's fees",
    "venue_fees": "Venue's fees",
    "sales_tax": "Sales tax",
    "tax": "Tax",
    "freight": "Freight",
    "cost": "Cost",
    "work": "Work",
}
"""The price paid and what goes off it, as headings."""

UNSTATED = {"freight": "freight", "tax": "your tax", "work": "work"}
"""What goes off a profit only where somebody stated it."""

GROUP = ("group", "sold", "net", "cost", "work", "profit", "margin", "days")
ACCOUNT = ("stock_ref", "sold_on", "paid", "fees", "taxes", "freight", "cost", "work", "profit", "days_held")
"""The columns of a group and of an account that a terminal has room for."""


def state_profits(profits: Profits | None, currency: str) -> tuple[str, ...]:
    """Return in a sentence or two what the sold pairs have left, and of how many it is not known."""
    if profits is None:
        return ()
    one = profits.whole.row(0, named=True)
    if not one["sold"]:
        return ("No pair of your stock list was sold since it came in.",)
    lines = _sums_in_words(one, currency) if one["known"] else []
    missing = one["sold"] - one["known"]
    if missing:
        counted = profits.pairs.drop_nulls("why").group_by("why").len("pairs")
        reasons = counted.sort("pairs", "why", descending=[True, False])
        why = "; ".join(f"{reason}: {pairs}" for reason, pairs in reasons.iter_rows())
        lines.append(f"In no sum: {missing} of {formats.counted(one['sold'], 'pair')} sold ({why}).")
    return tuple(lines)


def _sums_in_words(one: Mapping[str, Any], currency: str) -> list[str]:
    net, cost = (formats.amount(float(one[name]), currency) for name in ("net", "cost"))
    said = (
        f"{formats.counted(one['known'], 'pair')} sold for {net} net, at a cost of {cost}: "
        f"{gain_words(float(one['profit']), currency, gain='a profit')}"
    )
    lines = [
        f"{said}, {formats.level(one['margin'])} of the net." if one["margin"] is not None else f"{said}."
    ]
    unstated = [words for name, words in UNSTATED.items() if one[name] is None]
    if unstated:
        lines.append(f"Nothing is taken off for {' or '.join(unstated)}: none is stated.")
    return lines


def gain_words(value: float, currency: str, *, gain: str = "a gain") -> str:
    """Return a gain or a loss in words, without a sign that a line may part from its amount: a loss of €56."""
    return f"{gain if value >= 0 else 'a loss'} of {formats.amount(abs(value), currency)}"


def group_words(group: str, by: By) -> str:
    """Return what a group is called: a month in words, else its own name."""
    return formats.month(date.fromisoformat(f"{group}-01")) if by == "month" else group


def profits_table(profits: Profits, currency: str) -> Table:
    """Return one row a group, the latest month or the greatest profit first, and a last one of all pairs."""
    by = profits.by
    groups = profits.groups.reverse() if by == "month" else profits.groups
    return table(
        "profits",
        f"Profit by {by}",
        (
            Column("group", by.capitalize(), cut=True),
            count("sold", "Sold"),
            count("known", "Known"),
            *(
                Column(name, heading, lambda value: formats.amount(float(value), currency), number=True)
                for name, heading in (
                    ("paid", "Paid"),
                    ("fees", "Fees"),
                    ("taxes", "Taxes"),
                    ("freight", "Freight"),
                    ("net", "Net"),
                    ("cost", "Cost"),
                    ("work", "Work"),
                )
            ),
            difference("profit", "Profit", currency),
            level("margin", "Margin"),
            Column("days", "Days", "{:.0f}".format, number=True),
        ),
        _with_sums(pl.concat([groups, profits.whole])),
        "Sums are of the pairs with a known profit. Net: after the venue's fees. Days: the median of days held.",
    )


def accounts_table(profits: Profits, currency: str) -> Table:
    """Return one row a pair that was sold, to the cent: the price paid is the sum of what follows it."""

    def exact(name: str, heading: str) -> Column:
        return Column(name, heading, lambda value: _exact(value, currency), number=True)

    return table(
        "accounts",
        "Each pair that was sold, to the cent",
        (
            words("stock_ref", "Number"),
            Column("pair", "Pair", cut=True),
            words("venue", "Venue"),
            day("sold_on", "Sold on"),
            *(exact(name, heading) for name, heading in _HEADINGS.items()),
            exact("fees", "Fees"),
            exact("taxes", "Taxes"),
            exact("profit", "Profit"),
            exact("rate_gain", "Of it by the rate"),
            count("days_held", "Days"),
            words("why", "No profit because"),
        ),
        _with_sums(profits.pairs.drop("flags")).with_columns(
            pair=pl.concat_str("silhouette", "colourway", "era", separator=" ", ignore_nulls=True)
        ),
        "Paid by the buyer = fees, taxes, freight, cost, work and profit.",
    )


def _exact(value: Decimal, currency: str) -> str:
    return (formats.MINUS if value < 0 else "") + formats.exact(abs(value), currency)


def _with_sums(accounts: pl.DataFrame) -> pl.DataFrame:
    """Add fees (the buyer's and the venue's) and taxes (the sales tax on the price, and the owner's own)."""
    return accounts.with_columns(
        fees=pl.col("buyer_fees") + pl.col("venue_fees"),
        taxes=pl.when(pl.col("tax").is_not_null() | (pl.col("sales_tax") > 0)).then(
            pl.sum_horizontal("sales_tax", "tax")
        ),
    )


def profit_cautions(profits: Profits | None) -> tuple[str, ...]:
    """Return what the profits leave out because nobody stated it, and that they are no bookkeeping."""
    if profits is None:
        return ()
    pairs = profits.pairs.drop_nulls("profit")
    cautions = []
    no_freight = pairs.filter(pl.col("freight").is_null())["venue"].unique().sort()
    if len(no_freight):
        cautions.append(
            f"No freight is taken off for {', '.join(no_freight)}: write `freight` of the venue in the market file."
        )
    if pairs.height and not pairs["tax"].count():
        cautions.append(
            "No tax of yours is taken off: `[selling]` in the market file says how your sales are taxed."
        )
    if pairs["work"].null_count():
        cautions.append(
            f"Of {pairs.height} pairs, {pairs['work'].null_count()} state no work: none is taken off."
        )
    if profits.doubtful:
        cautions.append(
            f"{formats.counted(profits.doubtful, 'pair')} may be sold or not, and in no sum: `pairband stock` says why."
        )
    if profits.not_listed:
        cautions.append(
            f"{formats.counted(profits.not_listed, 'more sale')} with a stock number of yours: no stock list has the "
            "pair, so its cost is not known."
        )
    return (*map(Detail, cautions), NO_BOOKKEEPING)
