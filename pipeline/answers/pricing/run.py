"""Build the pricing page: the latest fit and the sales behind it, for valuing pairs where there is no pairband."""

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from pipeline.workspace import Workspace
from reports.links import Link
from reports.page import write_page
from reports.pricing.page import pricing_page


def write_pricing_page(
    workspace: Workspace, page: Path, *, as_of: date, with_sales: bool = True, links: Sequence[Link] = ()
) -> Path:
    """Write the page in which a reader values any pair, as of a day; returns its path.

    Without `with_sales` the page carries no sales and shows no comparables.
    """
    html = pricing_page(
        workspace.fitted,
        workspace.market,
        workspace.sales,
        as_of=as_of,
        rates=workspace.rates_on(as_of),
        stale=workspace.stale,
        with_sales=with_sales,
        links=links,
    )
    return write_page(html, page)
