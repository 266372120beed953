"""The pages: one in which any pair can be valued, all of them in a folder, and those of the demo."""

import os
import shutil
import sys
from datetime import date
from pathlib import Path

import click

from pipeline import clock
from pipeline.commands import options
from pipeline.streams import say

_without_sales = click.option(
    "--without-sales",
    is_flag=True,
    help="Leave the past sales out of the pricing page; it still values, and shows no comparables.",
)


@options.command()
@click.option(
    "--page",
    type=options.OUTPUT,
    default="pricing.html",
    show_default=True,
    help="Write the page there (HTML).",
)
@_without_sales
@options.on
@options.market
@options.ledger
def pricing(page: Path, without_sales: bool, as_of: date, market: Path, ledger: Path) -> None:
    """Write one page in which any pair can be valued, with no network and no pairband at hand. Writes no record.

    The page carries past sales with their exact prices and days, for its comparables; --without-sales leaves them
    out of a page that you publish or hand on.

    Example: pairband pricing --page pricing.html
    """
    from pipeline.jobs.pricing import write_pricing_page

    written = write_pricing_page(ledger, market, page, as_of=as_of, with_sales=not without_sales)
    say(f"wrote {written}; open it in a browser (no network needed).")


@options.command()
@click.argument("directory", type=options.OUTPUT_FOLDER, default="reports")
@click.option(
    "--stock", type=options.FILE, help='Your stock list (a map with holds = "stock"): a page for each pair.'
)
@click.option(
    "--lots", "lots_file", type=options.FILE, help='A file of upcoming lots (a map with holds = "lots").'
)
@_without_sales
@options.on
@options.market
@options.ledger
@options.as_json
def report(
    directory: Path,
    stock: Path | None,
    lots_file: Path | None,
    without_sales: bool,
    as_of: date,
    market: Path,
    ledger: Path,
    as_json: bool,
) -> None:
    """Build every report in one folder, tied together by an index page. Writes no record.

    DIRECTORY is the folder for the pages; left out, `reports`.

    Example: pairband report reports --stock stock.csv --lots upcoming_lots.csv
    """
    from pipeline.jobs.report import build_reports
    from pipeline.terminal.console import show_json
    from pipeline.terminal.progress import progress

    with progress("building", quiet=as_json) as on_progress:
        built = build_reports(
            ledger,
            market,
            directory,
            as_of=as_of,
            stock=stock,
            lots=lots_file,
            with_sales=not without_sales,
            on_progress=on_progress,
        )
    if as_json:
        show_json(built)
        return
    say(f"wrote {built.index} and {len(built.pages)} pages; open it in a browser (no network needed).")
    for line in built.skipped:
        say(f"left out: {line}.")


@options.command()
@click.argument("directory", type=options.OUTPUT_FOLDER, default="demo")
def demo(directory: Path) -> None:
    """Write the invented scenario, read it, fit it, value three pairs and build their pages.

    DIRECTORY is a folder for it; left out, `demo`.

    Example: pairband demo
    """
    from pipeline.jobs.demo import run_demo
    from pipeline.terminal.demo import show_demo
    from pipeline.terminal.progress import progress

    with progress("building the demo") as on_progress:
        outcome = run_demo(directory, now=clock.now(), on_progress=on_progress)
    show_demo(outcome, _own_command(directory))


def _own_command(directory: Path) -> str:
    """Return how this programme is called from a folder: by its name where the shell finds it."""
    if shutil.which("pairband"):
        return "pairband"
    return os.path.relpath(sys.argv[0], directory)
