"""View the market with the latest fit."""

from datetime import date

from pipeline.answers.market_view.answer import MarketView, view_market
from pipeline.workspace import Workspace


def view_ledger(workspace: Workspace, *, as_of: date) -> MarketView:
    """View the market of a ledger at a day."""
    return view_market(
        workspace.fitted,
        workspace.market,
        workspace.sales,
        workspace.ledger.read("marts/repeat_sales"),
        workspace.ledger.read("marts/market_activity", as_of=as_of),
        as_of=as_of,
        stale=workspace.stale,
    )
