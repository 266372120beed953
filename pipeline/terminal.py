"""What the terminal shows: tables, progress, questions, JSON."""

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, is_dataclass
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rich.console import Console
from rich.markup import escape
from rich.progress import BarColumn, Progress, TaskID, TextColumn, TimeElapsedColumn
from rich.table import Table

from pipeline.figures import error_in_points, money, percent

if TYPE_CHECKING:
    from pipeline.config import Market
    from pipeline.decisions.appraisal import Appraisal

OUT = Console(highlight=False)
ERR = Console(stderr=True, highlight=False)

LIMITS = (
    "An estimate from your own records; not an appraisal by a licensed appraiser, nor advice. For insurance, "
    "tax, estate or customs use a qualified professional and local rules. It does not authenticate a pair."
)
QUESTIONS = {
    "silhouette": "Silhouette",
    "colourway": "Colourway",
    "era": "Era",
    "size": "Size as on the label",
    "grade": "Grade, 1 to 10 or a trade word",
    "box": "Box: original, replacement, none",
    "tags": "Tags: attached, loose, none",
    "defects": "Defects, comma-separated, or none",
    "treatments": "Treatments done, comma-separated, or none",
}


def plain(value: Any) -> Any:
    """Return a value as JSON can hold it: dataclasses as objects, days as ISO text, money to the cent."""
    if is_dataclass(value) and not isinstance(value, type):
        return {key: plain(item) for key, item in asdict(value).items()}
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, float):
        return round(value, 6)
    return str(value) if isinstance(value, Path) else value


def show_json(value: Any) -> None:
    """Print a value as JSON, keys in their own order, one document."""
    sys.stdout.write(json.dumps(plain(value), ensure_ascii=False, indent=2, allow_nan=False) + "\n")


@contextmanager
def progress(what: str, *, quiet: bool = False) -> Iterator[Callable[[str, int, int], None]]:
    """Show a bar on stderr while work goes on; yields `on_progress(step, done, total)`."""
    with Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TimeElapsedColumn(),
        console=ERR,
        transient=True,
        disable=quiet or not ERR.is_terminal,
    ) as bar:
        task: TaskID = bar.add_task(what, total=None)

        def on_progress(step: str, done: int, total: int) -> None:
            bar.update(task, description=f"{what}: {escape(step)}", completed=done, total=total)

        yield on_progress


def ask_for_the_rest(words: dict[str, str | None], market_path: Path) -> dict[str, str | None]:
    """Ask for every attribute that was left out; Enter means "not known"."""
    import typer

    from pipeline.config import load_market

    market = load_market(market_path)
    known = {
        "silhouette": [silhouette.name for silhouette in market.silhouettes],
        "era": [era.name for era in market.eras],
        "defects": [defect.name for defect in market.defects],
        "treatments": [treatment.name for treatment in market.treatments],
    }
    answers = dict(words)
    for key, question in QUESTIONS.items():
        if answers[key] is None:
            hint = f" ({', '.join(known[key])})" if known.get(key) else ""
            answers[key] = typer.prompt(f"{question}{hint}", default="", show_default=False) or None
    return answers


def show_market(market: "Market", path: Path) -> None:
    """Print what a market file holds."""
    OUT.print(f"{escape(str(path))} is good: base currency {market.base_currency}.")
    for kind in ("eras", "silhouettes", "treatments", "defects", "parts", "venues"):
        names = [item.name for item in getattr(market, kind)]
        OUT.print(f"  {len(names):>3} {kind}: {escape(', '.join(names))}", soft_wrap=True)
    for name, export_map in market.maps.items():
        OUT.print(
            f"  map {escape(name)}: {escape(export_map.files)} of {escape(export_map.venue)}", soft_wrap=True
        )


def show_columns(rows: list[dict[str, str]]) -> None:
    """Print the columns of a sale record."""
    table = _table("column", "type", "unit", "allowed", "meaning")
    for row in rows:
        table.add_row(*(escape(row[key]) for key in ("column", "type", "unit", "allowed", "meaning")))
    OUT.print(table)


def show_appraisal(appraisal: "Appraisal") -> None:
    """Print an appraisal: the answer first, then bands, waterfall, comparables, cautions."""
    currency = appraisal.currency
    pair = appraisal.pair
    name = " · ".join(part for part in (pair.label, pair.silhouette, pair.colourway, pair.era) if part)
    OUT.print(f"\n[bold]{escape(name)}[/bold], valued at {appraisal.as_of.isoformat()}")
    if not appraisal.in_support:
        OUT.print("[bold]OUT OF SUPPORT[/bold]: no sale of this silhouette stands behind the value.")
    OUT.print(f"Fair value (median) [bold]{money(appraisal.median, currency)}[/bold], all-in\n")
    bands = _table("band", "low", "high", right=(1, 2))
    for band in appraisal.bands:
        bands.add_row(f"{100 * band.level:.0f} %", money(band.low, currency), money(band.high, currency))
    OUT.print(bands)
    steps = _table("step", "value", "effect", "points", "price", "sales", right=(2, 3, 4, 5))
    steps.add_row("start", escape(appraisal.start), "", "", money(appraisal.start_price, currency), "")
    for step in appraisal.steps:
        steps.add_row(
            step.attribute,
            escape(step.value),
            percent(step.factor),
            error_in_points(step.factor, step.error),
            money(step.price_after, currency),
            f"{step.sales:,}",
        )
    OUT.print(steps)
    if appraisal.comparables:
        nearest = _table("nearest sales", "sold on", "venue", "paid", "adjusted", right=(3, 4))
        for sale in appraisal.comparables:
            nearest.add_row(
                escape(sale.title[:60]),
                sale.sold_on.isoformat(),
                escape(sale.venue),
                money(sale.price_paid, currency),
                money(sale.adjusted_price, currency),
            )
        OUT.print(nearest)
    else:
        OUT.print("No comparable sale is in the records.")
    for caution in appraisal.cautions:
        OUT.print(f"! {escape(caution)}", soft_wrap=True)
    source = appraisal.source
    OUT.print(
        f"From {source.records:,} sales, {source.first_sale} to {source.last_sale}; fit {source.fit_id}, "
        f"pairband {source.version}.",
        soft_wrap=True,
    )
    OUT.print(LIMITS, soft_wrap=True, style="dim")


def _table(*headings: str, right: tuple[int, ...] = ()) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    for position, heading in enumerate(headings):
        table.add_column(heading, justify="right" if position in right else "left")
    return table
