"""A back-test of the bidding rule in the terminal."""

from rich.markup import escape

from pipeline import formats
from pipeline.answers.backtest.answer import Backtest
from pipeline.limits import LIMITS
from pipeline.terminal.console import OUT, table_of
from reports.backtest.page import explain_backtest, state_backtest, years_of


def show_backtest(tested: Backtest) -> None:
    """Print a back-test: the answer, the years, what the winner's curse did."""
    OUT.print(f"\n[bold]{escape(state_backtest(tested))}[/bold]\n", soft_wrap=True)
    if tested.won.height:
        table = table_of(*("year", "won", "hoped", "forecast", "realised", "losses"), right=(1, 2, 3, 4, 5))
        for year in years_of(tested).iter_rows(named=True):
            table.add_row(
                str(year["year"]),
                f"{year['won']:,}",
                *(
                    formats.change(year[name], tested.currency, price=formats.SMALL)
                    for name in ("hoped", "forecast", "realised")
                ),
                f"{year['losses']:,}",
            )
        OUT.print(table)
    for line in (*explain_backtest(tested), *(f"! {fault}" for fault in tested.failed)):
        OUT.print(escape(line), soft_wrap=True)
    for limit in LIMITS:
        OUT.print(limit, style="dim", soft_wrap=True)


def backtest_document(tested: Backtest) -> dict[str, object]:
    """Return a back-test as one document."""
    return {
        "currency": tested.currency,
        "terms": tested.terms,
        "first": tested.first,
        "last": tested.last,
        "lots": tested.lots,
        "won": tested.won.height,
        "mean_gain": {
            "hoped": tested.hoped,
            "forecast": tested.forecast,
            "low": tested.low,
            "high": tested.high,
            "realised": tested.realised,
        },
        "losses": tested.losses,
        "kept_share": tested.kept,
        "pairs_sold_twice": tested.pairs,
        "failed": tested.failed,
        "won_lots": tested.won.to_dicts(),
        "limits": LIMITS,
        "source": tested.source,
    }
