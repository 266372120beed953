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

from reports import figures
from reports.limits import LIMITS

if TYPE_CHECKING:
    from pipeline.config import Market
    from pipeline.decisions.appraisal import Appraisal
    from pipeline.ingest.run import IngestRun
    from pipeline.jobs.demo import Demo
    from pipeline.jobs.fit import FitSummary
    from pipeline.jobs.review import Review

OUT = Console(highlight=False)
ERR = Console(stderr=True, highlight=False)

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
    OUT.print(f"Fair value (median) [bold]{figures.estimate(appraisal.median, currency)}[/bold], all-in\n")
    bands = _table("band", "low", "high", right=(1, 2))
    for band in appraisal.bands:
        bands.add_row(
            f"{100 * band.level:.0f} %",
            figures.estimate(band.low, currency),
            figures.estimate(band.high, currency),
        )
    OUT.print(bands)
    steps = _table("step", "value", "effect", "points", "price", "sales", right=(2, 3, 4, 5))
    steps.add_row(
        "start", escape(appraisal.start), "", "", figures.estimate(appraisal.start_price, currency), ""
    )
    for step in appraisal.steps:
        steps.add_row(
            step.attribute,
            escape(step.value),
            figures.percent_change(step.factor),
            f"±{100 * step.factor * step.error:.1f}",
            figures.estimate(step.price_after, currency),
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
                figures.amount(sale.price_paid, currency),
                figures.estimate(sale.adjusted_price, currency),
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
    OUT.print(" ".join(LIMITS), soft_wrap=True, style="dim")


def _table(*headings: str, right: tuple[int, ...] = ()) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    for position, heading in enumerate(headings):
        table.add_column(heading, justify="right" if position in right else "left")
    return table


def show_fit(summary: "FitSummary") -> None:
    """Print what a fit was made of, and the sales that it doubts."""
    _show_model(summary)
    for left in summary.left_out:
        OUT.print(f"! left out of the model: {escape(left)}", soft_wrap=True)
    if summary.doubted:
        OUT.print(
            f"{len(summary.doubted)} sales count for less than half, their prices being hard to believe; first:"
        )
        doubted = _table("sale", "sold on", "paid", "times fair", "weight", right=(2, 3, 4))
        for sale in summary.doubted[:10]:
            doubted.add_row(
                escape(sale.title[:60]),
                sale.sold_on.isoformat(),
                f"{sale.price_paid:,.0f}",
                f"{sale.times_fair:.2f}",
                f"{sale.weight:.2f}",
            )
        OUT.print(doubted)


def show_demo(demo: "Demo", command: str) -> None:
    """Print what the demo made, the three values, and what to try next with `command`."""
    _show_counts(demo.ingested)
    flagged = sum(sum(file.flags.values()) for file in demo.ingested.files)
    OUT.print(f"{flagged} rows are flagged for the owner to look at.")
    _show_model(demo.fitted)
    OUT.print()
    values = _table("pair", "fair value", "80 % band", "sales of it", right=(1, 2, 3))
    for appraisal in demo.appraisals:
        band = next(band for band in appraisal.bands if band.level == 0.8)
        values.add_row(
            escape(f"{appraisal.pair.label}: {appraisal.pair.silhouette}"),
            figures.estimate(appraisal.median, appraisal.currency),
            f"{figures.estimate(band.low, appraisal.currency)} – {figures.estimate(band.high, appraisal.currency)}",
            figures.count(next(step.sales for step in appraisal.steps if step.attribute == "silhouette")),
        )
    OUT.print(values)
    OUT.print(f"\nPages: open [bold]{escape(str(demo.index))}[/bold] in a browser (no network needed).")
    OUT.print("Next:")
    for line in (
        f"cd {demo.directory}",
        f'{command} appraise --silhouette "Plover Lo" --era second --size "UK 8" --grade 7.5 --page plover.html',
        f"{command} appraise --file exports/stock.csv --row 3",
        f"{command} quarantine > quarantine.csv   # the rows that could not be read, and why",
        f"{command} fit                           # fit again; see which prices it doubts",
    ):
        OUT.print(f"  {line}", soft_wrap=True, markup=False)
    OUT.print(" ".join(LIMITS), soft_wrap=True, style="dim")


def show_ingest(run: "IngestRun") -> None:
    """Print what came of every row: recorded, duplicate or quarantined, and why."""
    _show_counts(run)
    for file in run.files:
        for reason in file.reasons:
            value = "" if reason.value is None else f" ({reason.value[:60]!r})"
            OUT.print(
                f"! {escape(file.name)}: {reason.kind}: {reason.rows} × {escape(reason.field)}: "
                f"{escape(reason.reason)}; first in row {reason.row_number}{escape(value)}",
                soft_wrap=True,
            )
        for flag, count in file.flags.items():
            OUT.print(f"! {escape(file.name)}: {count} flagged: {escape(flag)}", soft_wrap=True)
        for note in file.notes:
            OUT.print(f"  {escape(file.name)}: {escape(note)}", soft_wrap=True)
    for note in run.notes:
        OUT.print(f"  {escape(note)}", soft_wrap=True)


def _show_counts(run: "IngestRun") -> None:
    table = _table("file", "map", "rows read", "recorded", "duplicates", "quarantined", right=(2, 3, 4, 5))
    for file in run.files:
        counts = (file.read, file.recorded, file.duplicates, file.quarantined)
        name = f"{file.name} (read before, unchanged)" if file.unchanged else file.name
        table.add_row(escape(name), escape(file.map_name), *(f"{count:,}" for count in counts))
    totals = (
        sum(file.read for file in run.files),
        sum(file.recorded for file in run.files),
        sum(file.duplicates for file in run.files),
        sum(file.quarantined for file in run.files),
    )
    if len(run.files) > 1:
        table.add_row("[bold]all[/bold]", "", *(f"[bold]{count:,}[/bold]" for count in totals))
    OUT.print(table)
    OUT.print(
        f"{totals[0]:,} rows read = {totals[1]:,} recorded + {totals[2]:,} duplicates + {totals[3]:,} quarantined"
    )


def _show_model(summary: "FitSummary") -> None:
    OUT.print(
        f"Fit {summary.fit_id}: {summary.sales:,} sales, {summary.first_sale} to {summary.last_sale}; "
        f"{summary.coefficients} coefficients, {summary.effective:.0f} effective; "
        f"single sales scatter by ±{summary.scatter_percent:.0f} %.",
        soft_wrap=True,
    )
    if not summary.converged:
        OUT.print("! The search for the variances did not settle; treat errors and bands as rough.")
    if summary.held_out:
        OUT.print(f"! {summary.held_out} sales are held out until you rule on them (see `pairband review`).")


def show_review(review: "Review") -> None:
    """Print what awaits a ruling, and the rulings so far."""
    OUT.print(
        f'[bold]{len(review.near_matches)} pairs of sales may be one[/bold] (`pairband rule "same sale" ID ID`)'
    )
    for match in review.near_matches:
        OUT.print(f"  {match['left_id']} {match['right_id']}  {escape(match['why'])}", soft_wrap=True)
        for side in ("left", "right"):
            day, price = match[f"{side}_day"], match[f"{side}_price"]
            OUT.print(
                f"    {day} {escape(str(match[f'{side}_venue']))}: {escape(str(match[f'{side}_title'])[:90])}, "
                f"{'no price' if price is None else f'{price:,.2f}'}",
                soft_wrap=True,
            )
    OUT.print(
        f"[bold]{len(review.held_sales)} sales are held out of the fit[/bold] (`pairband rule era ID --era NAME`)"
    )
    for sale in review.held_sales:
        OUT.print(
            f"  {sale['record_id']} {sale['day']} {escape(str(sale['title'])[:70])}: {', '.join(sale['flags'])} "
            f"(era {sale['era']}, {sale['era_origin']}; stamp {escape(str(sale['stamp_text']))})",
            soft_wrap=True,
        )
    OUT.print(f"[bold]{len(review.rulings)} rulings so far[/bold]")
    for ruling in review.rulings:
        OUT.print(
            "  " + escape(", ".join(f"{key} {value}" for key, value in ruling.items() if value)),
            soft_wrap=True,
        )
