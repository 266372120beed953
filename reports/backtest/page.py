"""The page of a back-test: what the bidding rule would have done with past lots, and the winner's curse."""

from dataclasses import replace

from pipeline import formats
from pipeline.answers.backtest.answer import Backtest
from pipeline.answers.backtest.tables import explain_backtest, latest_won, state_backtest, years_table
from pipeline.untrusted import show_sentences
from reports.page import Table, render_page

MOST_ROWS = 200
"""The most won lots that the page lists, the latest first."""


def backtest_page(tested: Backtest, *, business: str) -> str:
    """Return the HTML page of a back-test; `business` is the owner's name (untrusted text)."""
    won = latest_won(tested)
    return render_page(
        "backtest/page.html.j2",
        business=business,
        sentence=state_backtest(tested),
        explained=explain_backtest(tested),
        years=Table.of(years_table(tested)) if tested.won.height else None,
        won=Table.of(replace(won, rows=won.rows.head(MOST_ROWS))) if tested.won.height else None,
        left_off=max(tested.won.height - MOST_ROWS, 0),
        failed=[show_sentences(fault) for fault in tested.failed],
        source=tested.source,
        judged_on=formats.day(tested.source.fitted_on),
    )
