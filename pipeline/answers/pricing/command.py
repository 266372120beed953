"""One page in which any pair can be valued."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import options
from pipeline.streams import say

if TYPE_CHECKING:
    from pipeline.workspace import Workspace


@options.command()
@click.option(
    "--page",
    type=options.OUTPUT,
    default="pricing.html",
    show_default=True,
    help="Write the page there (HTML).",
)
@options.without_sales
@options.on
@options.workspace
def pricing(page: Path, without_sales: bool, as_of: date, workspace: "Workspace") -> None:
    """Write one page in which any pair can be valued, without a network and without pairband. Writes no record.

    The page carries past sales with their exact prices and days, for its comparables, and your rule of buying;
    --without-sales leaves both out of a page that you publish or pass on.

    Example: pairband pricing --page pricing.html
    """
    from pipeline.answers.pricing.run import write_pricing_page

    written = write_pricing_page(workspace, page, as_of=as_of, with_sales=not without_sales)
    say(f"wrote {written}; open it in a browser (no network needed).")
