"""The page of outcomes: what became of kept values, what sold pairs have left, what the rule would have made."""

from collections.abc import Sequence
from dataclasses import replace

import polars as pl

from pipeline import __version__, formats
from pipeline.answers.outcomes.answer import SOLD, Outcomes
from pipeline.answers.outcomes.profit import Profits
from pipeline.answers.outcomes.profit_tables import (
    ACCOUNT,
    NO_BOOKKEEPING,
    accounts_table,
    group_words,
    profit_cautions,
    profits_table,
    state_profits,
)
from pipeline.answers.outcomes.tables import (
    JUDGED,
    bands_table,
    prices_table,
    rule_table,
    state_outcomes,
    state_rule,
    values_table,
    works_table,
)
from pipeline.answers.sheet import Table as SheetTable
from pipeline.untrusted import show_words
from reports.links import Link
from reports.outcomes.profits import profits_chart
from reports.page import Figure, Table, render_page, spoken
from reports.stock.groups import groups_chart

MOST_BANDS = 20
"""The most values that the chart draws, those judged last first; the table has all."""

MOST_GROUPS = 12
"""The most groups that the chart of profits draws: a year of months."""

MOST_ACCOUNTS = 200
"""The most accounts that the page lists, the latest sales first; a file has all."""


def outcomes_page(outcomes: Outcomes, *, business: str, links: Sequence[Link] = ()) -> str:
    """Return the HTML page of outcomes; `business` is the owner's name (untrusted text)."""
    figures = {figure.key: figure for figure in outcomes_figures(outcomes)}
    return render_page(
        "outcomes/page.html.j2",
        business=business,
        links=links,
        as_of=formats.day(outcomes.as_of),
        profits=state_profits(outcomes.profits, outcomes.currency),
        said=state_outcomes(outcomes),
        rule=state_rule(outcomes),
        judged=JUDGED,
        figures=figures,
        tables={one.key: Table.of(one) for one in _tables(outcomes) if one.rows.height},
        cautions=profit_cautions(outcomes.profits) or (NO_BOOKKEEPING,),
        version=__version__,
    )


def _tables(outcomes: Outcomes) -> list[SheetTable]:
    tables = [bands_table(outcomes), prices_table(outcomes), rule_table(outcomes), works_table(outcomes)]
    profits = outcomes.profits
    if profits is not None and profits.pairs.height:
        shown = ("stock_ref", "pair", *ACCOUNT[1:], "why")
        accounts = accounts_table(profits, outcomes.currency).showing(*shown)
        tables.append(replace(accounts, rows=accounts.rows.head(MOST_ACCOUNTS), note=_note(accounts)))
    return tables


def _note(accounts: SheetTable) -> str:
    left = accounts.rows.height - MOST_ACCOUNTS
    if left <= 0:
        return accounts.note
    return f"{accounts.note}\n{formats.counted(left, 'earlier sale')} more: `--pairs` has all."


def outcomes_figures(outcomes: Outcomes) -> tuple[Figure, ...]:
    """Return the figures of the page: the bands with what was paid, and the profits, where there are any."""
    profits = outcomes.profits
    return (
        *_bands_figure(outcomes),
        *(_profits_figure(profits, outcomes.currency) if profits is not None else ()),
    )


def _bands_figure(outcomes: Outcomes) -> tuple[Figure, ...]:
    """Return the figure of the values that were judged last, one row a pair and question."""
    sold = outcomes.values.filter(pl.col("outcome") == SOLD, pl.col("low") > 0, pl.col("price_paid") > 0)
    shown = sold.sort("ended_on", "said_on", descending=True).unique(
        ["question", "pair", "record_id"], keep="first", maintain_order=True
    )
    if not shown.height:
        return ()
    rows, currency = shown.head(MOST_BANDS), outcomes.currency
    frame = pl.DataFrame(
        {
            "words": [
                f"{show_words(pair, 50)}, {formats.day(on)}"
                for pair, on in rows.select("pair", "ended_on").iter_rows()
            ],
            "figure": [formats.amount(paid, currency) for paid in rows["price_paid"]],
            "tip": [
                f"{formats.estimate(low, currency)} – {formats.estimate(high, currency)}, "
                f"{'held' if held else 'did not hold'}"
                for low, high, held in rows.select("low", "high", "held").iter_rows()
            ],
            "low": rows["low"],
            "median": rows["median"],
            "high": rows["high"],
            "cost": rows["price_paid"].cast(pl.Float64),
        }
    )
    title = "Bands, and what was paid"
    return (
        Figure(
            key="bands",
            chart=groups_chart(frame, title, currency, heading=f"All-in ({currency})"),
            alternative=f"{title}: {spoken(frame, '{words}: {figure} paid, band {tip}')}.",
            note=f"Bar: the 80 % band. Dot: the fair value. Hollow: what was paid. The last {rows.height} of "
            f"{shown.height} sold.",
            tables=(values_table(outcomes),),
            rows=frame,
        ),
    )


def _profits_figure(profits: Profits, currency: str) -> tuple[Figure, ...]:
    table = profits_table(profits, currency)
    known = table.rows.head(table.rows.height - 1).drop_nulls("profit").head(MOST_GROUPS)
    if not known.height:
        return ()
    frame = known.select(
        words=pl.Series(
            [
                f"{show_words(group_words(group, profits.by), 50)}, {sold} sold"
                for group, sold in known.select("group", "sold").iter_rows()
            ],
            dtype=pl.String,
        ),
        figure=pl.Series([formats.gain(float(value), currency) for value in known["profit"]]),
        tip=pl.Series(
            [
                f"net {formats.amount(float(net), currency)}, cost {formats.amount(float(cost), currency)}"
                for net, cost in known.select("net", "cost").iter_rows()
            ]
        ),
        profit=pl.col("profit").cast(pl.Float64),
    )
    return (
        Figure(
            key="profits",
            chart=profits_chart(frame, table.title, currency),
            alternative=f"{table.title}: {spoken(frame, '{words}: {figure} ({tip})')}.",
            note="Bar: what the pairs sold left after fees, freight, tax, cost and work.",
            tables=(table,),
            rows=frame,
        ),
    )
