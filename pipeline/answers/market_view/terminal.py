"""The market in the terminal."""

from rich.markup import escape

from pipeline import formats
from pipeline.answers.market_view.answer import MarketView
from pipeline.answers.market_view.worth import Estimate, Worth
from pipeline.limits import LIMITS
from pipeline.terminal.console import OUT, table_of
from reports.market_view.words import (
    agreement_words,
    change_words,
    halves_words,
    moved_words,
    span_words,
    state_market,
)

QUARTERS = 4
"""The last quarters of each venue that are shown; the page and --json have all."""


def show_view(view: MarketView) -> None:
    """Print the market: what it did, by era and family, how busy it was, and what attributes are worth."""
    OUT.print(f"\n[bold]The market at {view.as_of.isoformat()}[/bold]")
    OUT.print(state_market(view), soft_wrap=True)
    _show_index(view)
    _show_groups(view)
    _show_activity(view)
    _show_worths(view)
    for caution in view.cautions:
        OUT.print(f"! {escape(caution)}", soft_wrap=True)
    source = view.source
    OUT.print(
        f"From {source.records:,} sales, {source.first_sale} to {source.last_sale}; fit {source.fit_id}, "
        f"pairband {source.version}.",
        soft_wrap=True,
    )
    OUT.print(" ".join(LIMITS), soft_wrap=True, style="dim")


def _show_index(view: MarketView) -> None:
    spans = table_of("prices, everything else equal", "change", "80 % band", right=(1, 2))
    for change in view.changes:
        spans.add_row(span_words(change), formats.percent_change(change.factor), change_words(change))
    if view.changes:
        OUT.print(spans)
    resold = {point.period.year: point for point in view.resales.points}
    years = table_of(
        "year", "index in its last month", "80 % band", "resales", "80 % band", right=(1, 2, 3, 4)
    )
    last = {point.period.year: point for point in view.index}
    for year, point in last.items():
        again = resold.get(year)
        years.add_row(
            str(year),
            f"{point.index:.0f}",
            f"{point.low:.0f} – {point.high:.0f}",
            f"{again.index:.0f}" if again else "–",
            f"{again.low:.0f} – {again.high:.0f}" if again else "–",
        )
    if last:
        OUT.print(years)
    OUT.print(agreement_words(view.resales), soft_wrap=True)


def _show_groups(view: MarketView) -> None:
    for split in view.splits:
        OUT.print(escape(split.words), soft_wrap=True)
        if split.groups:
            groups = table_of(split.kind, "sales", "in four quarters", "80 % band", right=(1, 2, 3))
            for group in split.groups:
                year = group.year
                groups.add_row(
                    escape(group.name),
                    formats.count(group.sales),
                    formats.percent_change(year.factor) if year else "–",
                    change_words(year) if year else "–",
                )
            OUT.print(groups)


def _show_activity(view: MarketView) -> None:
    quarters = sorted({row.quarter for row in view.activity})[-QUARTERS:]
    shown = table_of(
        "venue", "quarter", "sold", "unsold", "sell-through", "days on market", right=(2, 3, 4, 5)
    )
    for row in sorted(view.activity, key=lambda row: (row.venue, row.quarter)):
        if row.quarter in quarters:
            shown.add_row(
                escape(row.venue),
                formats.quarter(row.quarter),
                formats.count(row.sold),
                formats.count(row.unsold),
                "–" if row.sell_through is None else formats.level(row.sell_through),
                "–" if row.days is None else f"{row.days:.0f}",
            )
    OUT.print(shown)


def _show_worths(view: MarketView) -> None:
    shown = table_of(
        "attribute", "value", "against", "worth", "± s.e.", "sales", "earlier", "later", right=(3, 4, 5, 6, 7)
    )
    for worth in view.worths:
        shown.add_row(*_worth_row(worth))
    OUT.print(shown)
    OUT.print(escape(f"{halves_words(view)} {moved_words(view)}"), soft_wrap=True)


def _worth_row(worth: Worth) -> tuple[str, ...]:
    return (
        worth.attribute,
        escape(worth.value),
        escape(worth.against or "without it"),
        formats.share(worth.worth.share),
        f"{100 * worth.worth.error:.1f}",
        formats.count(worth.worth.sales),
        _half(worth.earlier),
        _half(worth.later) + (" moved" if worth.moved else ""),
    )


def _half(estimate: Estimate | None) -> str:
    return "–" if estimate is None else formats.share(estimate.share)
