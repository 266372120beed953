"""The page of a back-test: what the bidding rule would have done with past lots, and the winner's curse."""

from pathlib import Path

import polars as pl

from pipeline import formats
from pipeline.answers.backtest.answer import Backtest
from pipeline.untrusted import show_words
from reports.page import Column, Table, render_page, tabulate, write_page

MOST_ROWS = 200
"""The most won lots that the page lists, the latest first."""


def backtest_page(tested: Backtest, *, business: str) -> str:
    """Return the HTML page of a back-test; `business` is the owner's name (untrusted text)."""
    return render_page(
        "backtest/page.html.j2",
        charts=False,
        business=business,
        sentence=state_backtest(tested),
        explained=explain_backtest(tested),
        years=_years_table(tested) if tested.won.height else None,
        won=_won_table(tested) if tested.won.height else None,
        left_off=max(tested.won.height - MOST_ROWS, 0),
        failed=[show_words(fault) for fault in tested.failed],
        source=tested.source,
        judged_on=formats.day(tested.source.fitted_on),
    )


def write_backtest(tested: Backtest, path: Path, *, business: str) -> Path:
    """Write the page of a back-test and return its path; raises ReportError where it cannot."""
    return write_page(backtest_page(tested, business=business), path)


def state_backtest(tested: Backtest) -> str:
    """Return the answer in a sentence or two."""
    if tested.first is None or tested.last is None:
        return "There are no past lots that came after sales enough to value them."
    span = f"{formats.day(tested.first)} to {formats.day(tested.last)}"
    lots, won = formats.counted(tested.lots, "past lot"), formats.count(tested.won.height)
    opening = f"Of {lots} from {span}, the rule wins {won}"
    if not tested.won.height:
        return f"{opening}: at these terms others always bid more."
    band = f"{_gain(tested, tested.low)} to {_gain(tested, tested.high)}, eight times in ten"
    return (
        f"{opening}, with a mean gain of {_gain(tested, tested.realised)} against a forecast of "
        f"{_gain(tested, tested.forecast)} ({band})."
    )


def explain_backtest(tested: Backtest) -> tuple[str, ...]:
    """Return in sentences what the numbers mean."""
    told = [
        "Each lot was valued with a fit to the sales before the quarter in which it was sold, and bid on by the rule; "
        "where the rule would have outbid the winner by one increment, that is what is taken to have been paid.",
        "Realised is judged in hindsight, by the fit to all sales: what the pair should have fetched at the resale, "
        "less fees, freight, duty, tax and costs. A forecast takes the market as it stood on the day: a rise since "
        "then adds to what is realised, a fall takes from it.",
    ]
    if tested.won.height:
        curse = tested.hoped - tested.forecast
        told.append(
            "The winner's curse: at the price of winning, the value alone promised "
            f"{_gain(tested, tested.hoped)} a lot. But a lot is won where others bid little, and part of that is "
            f"our own error: allowing for it, {_gain(tested, tested.forecast)} was to be expected, "
            f"{formats.amount(abs(curse), tested.currency)} {'less' if curse >= 0 else 'more'}. "
            f"{formats.counted(tested.losses, 'won lot')} would have lost money."
        )
    if tested.kept or tested.pairs:
        told.append(
            f"{formats.counted(tested.pairs, 'pair')} sold twice say that a pair keeps {formats.level(tested.kept)} of "
            "what it fetched beside its fair value; the rest is the luck of the day."
        )
    return tuple(told)


def years_of(tested: Backtest) -> pl.DataFrame:
    """Return one row a year: year, won, losses, and the mean gains hoped, forecast and realised."""
    return (
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


def _gain(tested: Backtest, value: float) -> str:
    return formats.change(value, tested.currency, price=formats.SMALL)


def _years_table(tested: Backtest) -> Table:
    years = years_of(tested)
    gains = {
        name: [_gain(tested, value) for value in years[name]] for name in ("hoped", "forecast", "realised")
    }
    return tabulate(
        years.with_columns(**{name: pl.Series(texts) for name, texts in gains.items()}),
        "Mean gain a won lot, by year",
        {
            "year": Column("Year"),
            "won": Column("Won", figures=True),
            "hoped": Column("By the value alone", figures=True),
            "forecast": Column("Forecast", figures=True),
            "realised": Column("Realised", figures=True),
            "losses": Column("Lost money", figures=True),
        },
    )


def _won_table(tested: Backtest) -> Table:
    latest = tested.won.sort("sold_on", descending=True, maintain_order=True).head(MOST_ROWS)
    texts = {
        "title": [show_words(title, 120) or "(no title)" for title in latest["title"]],
        "venue": [show_words(venue, 80) for venue in latest["venue"]],
        "sold": [formats.day(day) for day in latest["sold_on"]],
        "cost": [formats.amount(value, tested.currency) for value in latest["landed"]],
        "forecast": [_gain(tested, value) for value in latest["cursed_forecast"]],
        "realised": [_gain(tested, value) for value in latest["realised"]],
    }
    return tabulate(
        pl.DataFrame(texts),
        "Lots that the rule would have won",
        {
            "title": Column("Lot"),
            "venue": Column("Venue"),
            "sold": Column("Sold"),
            "cost": Column("Landed cost", figures=True),
            "forecast": Column("Forecast", figures=True),
            "realised": Column("Realised", figures=True),
        },
    )
