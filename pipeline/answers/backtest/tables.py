"""What the bidding rule would have done with past lots, in words and tables, and as one document."""

from dataclasses import replace

import polars as pl

from pipeline import formats
from pipeline.answers.backtest.answer import Backtest
from pipeline.answers.sheet import (
    Column,
    Detail,
    Sheet,
    Table,
    amount,
    change,
    count,
    day,
    decimal,
    source_words,
    table,
    words,
)
from pipeline.limits import LIMITS

MOST_WON = 10
"""The most won lots that the terminal shows, the latest first."""


def backtest_sheet(tested: Backtest) -> Sheet:
    """Return the sheet of a back-test: the answer, the years, what the winner's curse did, the latest lots won."""
    won = latest_won(tested)
    latest = replace(
        won,
        title=f"{won.title}, the latest {min(MOST_WON, won.rows.height)}",
        rows=won.rows.head(MOST_WON),
    ).marked(cut=("title", "venue"))
    return Sheet(
        title="What the bidding rule would have done",
        sentences=(state_backtest(tested), *map(Detail, explain_backtest(tested))),
        tables=(years_table(tested), latest),
        warnings=tested.failed,
        source=source_words(tested.source),
    )


def state_backtest(tested: Backtest) -> str:
    """Return the answer in a sentence or two."""
    if tested.first is None or tested.last is None:
        return "There are no past lots with enough earlier sales to value them."
    span = f"{formats.day(tested.first)} to {formats.day(tested.last)}"
    lots, won = formats.counted(tested.lots, "past lot"), formats.count(tested.won.height)
    opening = f"Of {lots} from {span}, the rule wins {won}"
    if not tested.won.height:
        return f"{opening}: on these terms others always bid more."
    return (
        f"{opening}, with a mean gain in hindsight of {_gain(tested, tested.realised)} against a forecast of "
        f"{_gain(tested, tested.forecast)} (80 % range {_gain(tested, tested.low)} to {_gain(tested, tested.high)})."
    )


def explain_backtest(tested: Backtest) -> tuple[str, ...]:
    """Return in sentences what the numbers mean."""
    lines = [
        "Each lot was valued with a fit to the sales before the quarter in which it was sold, and bid on by the rule. "
        "Where the rule would have outbid the winner by one increment, that bid is taken as the price paid.",
        "A gain in hindsight is that of the value in hindsight: its net at the resale, less the cost if won and the "
        "costs in the shop; the pair itself was not sold again. A forecast uses the market of that day: a rise since "
        "then adds to the gain in hindsight, a fall reduces it.",
    ]
    if tested.won.height:
        curse = tested.hoped - tested.forecast
        lines.append(
            "The winner's curse: at the winning price, the value alone promised "
            f"{_gain(tested, tested.hoped)} a lot. But a lot is won where others bid little, and part of that is "
            f"our own error: allowing for it, the forecast is {_gain(tested, tested.forecast)}, "
            f"{formats.amount(abs(curse), tested.currency)} {'less' if curse >= 0 else 'more'}. "
            f"{formats.counted(tested.losses, 'won lot')} would have lost money in hindsight."
        )
    again = tested.won.drop_nulls("earned")
    if again.height:
        lines.append(
            f"Sold again later in the ledger: {formats.counted(again.height, 'won pair')}. These sales left "
            f"{_gain(tested, _mean(again['earned']))} a pair after all costs, where hindsight says "
            f"{_gain(tested, _mean(again['realised']))} for the same pairs."
        )
    if tested.kept or tested.pairs:
        lines.append(
            f"{formats.counted(tested.pairs, 'pair')} sold twice show that a pair keeps {formats.level(tested.kept)} "
            "of the difference between its price and its fair value; the rest is luck."
        )
    return tuple(lines)


def years_table(tested: Backtest) -> Table:
    """Return one row a year: lots won, mean gains by the value alone, forecast and realised, lots that lost money."""
    rows = (
        tested.won.group_by(year=pl.col("sold_on").dt.year())
        .agg(
            won=pl.len(),
            hoped=pl.col("forecast").mean(),
            forecast=pl.col("cursed_forecast").mean(),
            realised=pl.col("realised").mean(),
            losses=(pl.col("realised") < 0).sum(),
        )
        .sort("year")
    )
    total = (
        f"In total {formats.counted(tested.won.height, 'lot')} won, mean gain in hindsight "
        f"{_gain(tested, tested.realised)} against a forecast of {_gain(tested, tested.forecast)}, "
        f"{formats.count(tested.losses)} lost money."
    )
    return table(
        "years",
        "Mean gain of a won lot, by year",
        (
            Column("year", "Year"),
            count("won", "Won"),
            change("hoped", "Value alone", tested.currency),
            change("forecast", "Forecast", tested.currency),
            change("realised", "In hindsight", tested.currency),
            count("losses", "Lost money"),
        ),
        rows,
        note=total,
    )


def won_table(tested: Backtest) -> Table:
    """Return the lots that the rule would have won, in order of their day; its rows are those of CSV and workbook."""
    return table(
        "won lots",
        "The lots it would have won",
        (
            words("title", "Lot"),
            words("venue", "Venue"),
            day("sold_on", "Sold on"),
            decimal("knocked_down", "Hammer price", 2),
            decimal("walk_away", "Maximum bid", 2),
            decimal("paid", "Bid paid", 2),
            amount("landed", "Cost if won", tested.currency),
            change("cursed_forecast", "Forecast", tested.currency),
            change("realised", "In hindsight", tested.currency),
            change("earned", "Sold again", tested.currency),
        ),
        tested.won,
    )


def latest_won(tested: Backtest) -> Table:
    """Return the won lots as page and terminal show them, the latest first."""
    shown = won_table(tested).showing("title", "venue", "sold_on", "landed", "cursed_forecast", "realised")
    return replace(shown, rows=shown.rows.sort("sold_on", descending=True, maintain_order=True))


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


def _gain(tested: Backtest, value: float) -> str:
    return formats.change(value, tested.currency, price=formats.SMALL).removeprefix("+")


def _mean(values: pl.Series) -> float:
    return float(values.to_numpy().mean())
