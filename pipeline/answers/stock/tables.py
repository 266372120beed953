"""What the stock list says: the whole, its groups, each pair, and what was sold."""

from collections.abc import Mapping
from typing import Any

import polars as pl

from pipeline import formats
from pipeline.answers.appraisal.cautions import state_weakness
from pipeline.answers.appraisal.tables import range_words
from pipeline.answers.sheet import (
    NONE,
    Brief,
    Column,
    Detail,
    Sheet,
    Table,
    amount,
    change,
    count,
    day,
    difference,
    estimate,
    source_words,
    table,
    words,
)
from pipeline.answers.stock.answer import Stock, Together
from pipeline.untrusted import show_words

NOT_A_SUM = (
    "The band of all pairs together is narrower than the sum of their bands: they will not all sell low. It is wider "
    "than if each went its own way: they share one market, and one fit. Each pair may be sold at another venue; sold "
    "all at one, what they bring together varies more."
)


MOST_ASKS = 10
"""The most asks to look at that the terminal names without details."""


def stock_sheet(stock: Stock) -> Sheet:
    """Return the sheet of a stock list: what it is worth together, then pair by pair."""
    shown = (
        "stock_ref",
        "pair",
        *weak_column(stock),
        *paid_columns(stock),
        "median",
        "band",
        "best_venue",
        "margin",
    )
    pairs = pairs_table(stock).showing(*shown)
    return Sheet(
        title=stock_title(stock),
        figures=stock_figures(stock),
        sentences=(
            state_stock(stock),
            *_asks_in_brief(stock),
            *((Detail(NOT_A_SUM),) if len(stock.groups) > 1 else ()),
        ),
        tables=(
            pairs.marked(detail=("best_venue", "work", "offered_at"), cut=("pair", "weak")),
            *((groups_table(stock),) if len(stock.groups) > 1 else ()),
            *((look_table(stock).as_detail(),) if stock.pairs["look"].count() else ()),
            *((doubtful_table(stock),) if stock.doubtful.height else ()),
            *((sold_table(stock),) if stock.sold.height else ()),
        ),
        warnings=stock.cautions,
        source=source_words(stock.source),
        weak=state_weakness(stock.weak),
    )


def stock_title(stock: Stock) -> str:
    """Return the title: the day of valuation, and that of the list where it is one of the ledger."""
    valued = f"The stock, valued on {formats.day(stock.as_of)}"
    if stock.listed_on is None or stock.listed_on == stock.as_of:
        return valued
    return f"{valued}, by the list of {formats.day(stock.listed_on)}"


def paid_columns(stock: Stock) -> tuple[str, ...]:
    """Return the keys of the columns of what was paid and is asked, as far as the list says it."""
    pairs = stock.pairs
    return (
        *("days_held", "cost"),
        *(name for name in ("work", "offered_at", "ask") if pairs[name].count()),
    )


def state_stock(stock: Stock) -> str:
    """Return the answer in a sentence or two."""
    if stock.whole is None:
        return "No pair of this list is still there."
    whole, currency = stock.whole, stock.currency
    return (
        f"{formats.counted(whole.pairs, 'pair')} should sell for about {formats.estimate(whole.median, currency)} "
        f"together, all-in; 8 in 10 outcomes lie between {formats.estimate(whole.low, currency)} and "
        f"{formats.estimate(whole.high, currency)}. 19 in 20 bring more than {formats.estimate(whole.safe, currency)}: "
        + (
            "a low figure, but on evidence too weak to lend or insure on."
            if stock.weak
            else "a low figure to lend or insure on."
        )
    )


def stock_figures(stock: Stock) -> tuple[tuple[str, str], ...]:
    if stock.whole is None:
        return ()
    whole, currency = stock.whole, stock.currency
    about = "about " if stock.weak else ""
    return (
        ("Fair value together, all-in", f"{about}{formats.estimate(whole.median, currency)}"),
        ("80 % band", range_words(whole.low, whole.high, currency)),
        ("Low figure (19 in 20 bring more)", formats.estimate(whole.safe, currency)),
        ("At cost, with work" if stock.has_work else "At cost", _cost(whole, currency)),
    )


def _cost(part: Together, currency: str) -> str:
    known = formats.amount(part.cost, currency)
    missing = part.without_cost
    return known if not missing else f"{known}, {formats.counted(missing, 'pair')} without a cost"


def pairs_table(stock: Stock) -> Table:
    """Return one row a pair that is still there, in the order of the list."""
    currency = stock.currency
    return table(
        "pairs",
        "Each pair",
        (
            count("row_number", "Row"),
            words("stock_ref", "Stock number"),
            Column("pair", "Pair"),
            words("weak", "Weak"),
            words("era", "Era"),
            Column("grade", "Grade", "{:g}".format, number=True),
            day("since", "Since"),
            count("days_held", "Days held"),
            amount("cost", "Cost", currency),
            amount("work", "Work", currency),
            words("offered_at", "Offered at"),
            amount("ask", "Ask", currency),
            estimate("median", "Fair value", currency),
            Column("band", "80 % band", number=True),
            words("best_venue", "Where to sell"),
            estimate("net", "Net there", currency),
            change("margin", "Net less cost and work" if stock.has_work else "Net less cost", currency),
            words("look", "Look at the ask"),
        ),
        stock.pairs.with_columns(
            pair=pl.concat_str("silhouette", "colourway", "era", separator=" ", ignore_nulls=True),
            band=pl.Series(
                [
                    range_words(low, high, currency)
                    for low, high in stock.pairs.select("low", "high").iter_rows()
                ],
                dtype=pl.String,
            ),
        ),
        "Net there: what a typical sale leaves after the venue's fees.",
    )


def weak_column(stock: Stock) -> tuple[str, ...]:
    """Return the key of the column that says why values are weak, where one is."""
    return ("weak",) if stock.pairs["weak"].count() else ()


def groups_table(stock: Stock) -> Table:
    """Return one row a group, the most valuable first, and a last one of all pairs."""
    currency = stock.currency
    parts = (*stock.groups, *((stock.whole,) if stock.whole else ()))
    return table(
        "groups",
        f"By {stock.by}, each group together",
        (
            words("group", stock.by.capitalize()),
            count("pairs", "Pairs"),
            Column("cost", "At cost"),
            estimate("median", "Value", currency),
            Column("band", "80 % band", number=True),
            estimate("safe", "Low figure", currency),
        ),
        [
            {
                "group": part.group or "all pairs",
                "pairs": part.pairs,
                "cost": _cost(part, currency),
                "median": part.median,
                "band": range_words(part.low, part.high, currency),
                "safe": part.safe,
            }
            for part in parts
        ],
        "Bands and low figures do not add up: each is that of its own sum.",
    )


def look_table(stock: Stock) -> Table:
    """Return the pairs whose asking price should be looked at again."""
    where = ("offered_at",) if stock.pairs["offered_at"].count() else ()
    shown = pairs_table(stock).showing(
        "stock_ref", "pair", "days_held", *where, "ask", "median", "band", "look"
    )
    return table(
        "asks", "Asking prices to look at", shown.columns, shown.rows.filter(pl.col("look").is_not_null())
    )


def _asks_in_brief(stock: Stock) -> tuple[Brief, ...]:
    """Return which asks to look at as the terminal says it where it shows no table of them."""
    numbers = stock.pairs.filter(pl.col("look").is_not_null())["stock_ref"].fill_null("one without a number")
    if numbers.is_empty():
        return ()
    more = numbers.len() - MOST_ASKS
    named = ", ".join(show_words(number, 40) for number in numbers.head(MOST_ASKS))
    return (Brief(f"Asks to look at: {named}{f' and {more} more' if more > 0 else ''}."),)


def doubtful_table(stock: Stock) -> Table:
    """Return the pairs of which a sale and a list disagree."""
    return table(
        "doubtful",
        "Sold, or still there? They count in neither",
        (
            words("stock_ref", "Stock number"),
            words("pair", "Pair"),
            day("sold_on", "Sold on"),
            words("venue", "Venue"),
            amount("price_paid", "Paid", stock.currency),
            words("why", "But"),
        ),
        stock.doubtful.with_columns(
            pair=pl.concat_str("silhouette", "colourway", separator=" ", ignore_nulls=True)
        ),
        "Take the pair out of the list, or correct its sale (`pairband records --file`, `pairband correct`).",
    )


def history_table(events: pl.DataFrame, short_ids: Mapping[str, str]) -> Table:
    """Return the history of a pair, one row an event (see `pipeline.answers.stock.history`)."""
    shown = events.with_columns(
        what=pl.col("what").str.slice(0, 1).str.to_uppercase() + pl.col("what").str.slice(1),
        short_id=pl.col("record_id").replace_strict(short_ids, default=None, return_dtype=pl.String),
    )
    return table(
        "history",
        "History of the pair",
        (
            day("day", "Day"),
            words("what", "What"),
            Column("said", "Where, for how much, and what else", describe=_said_of_event),
            *([words("short_id", "Record")] if short_ids else []),
        ),
        shown,
    )


def _said_of_event(row: Mapping[str, Any]) -> str:
    amount, currency = row["amount"], row["currency"]
    money = None if amount is None else f"{amount:,.2f} (no currency)"
    if amount is not None and currency is not None:
        money = formats.amount(amount, currency)
    return "; ".join(filter(None, (row["place"], money, row["details"]))) or NONE


def sold_table(stock: Stock) -> Table:
    """Return the pairs of the list that were sold, by their stock number."""
    currency = stock.currency
    rows = stock.sold.with_columns(
        pair=pl.concat_str("silhouette", "colourway", separator=" ", ignore_nulls=True)
    )
    return table(
        "sold",
        "Sold since they came in; they do not count above",
        (
            words("stock_ref", "Stock number"),
            words("pair", "Pair"),
            words("venue", "Venue"),
            day("sold_on", "Sold on"),
            amount("price_paid", "Paid", currency),
            amount("net", "Net", currency),
            amount("cost", "Cost", currency),
            *([amount("work", "Work", currency)] if stock.has_work else []),
            difference("profit", "Profit", currency),
            count("days_held", "Days held"),
        ),
        rows,
        "Net: after the venue's fees. Profit: that less cost and work, and the freight and tax of the market file; "
        "`pairband outcomes` has each to the cent.",
    )
