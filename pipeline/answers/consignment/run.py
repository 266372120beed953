"""Price pairs for consignment with the latest fit and the past offers."""

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from pipeline.answers.appraisal.run import pair_of, pairs_of_file
from pipeline.answers.consignment.answer import Consignment, consign
from pipeline.answers.consignment.time_to_sale import TimeToSale, learn_time_to_sale
from pipeline.config import Market
from pipeline.hedonic.predict import predict
from pipeline.ledger import Ledger
from pipeline.market.fitted_market import FittedMarket
from pipeline.market.pair import Pair
from pipeline.market.subject import Description
from pipeline.workspace import Workspace


def consign_descriptions(
    workspace: Workspace,
    descriptions: Sequence[Description],
    *,
    as_of: date,
    patience_days: int | None = None,
    as_written: bool = False,
) -> tuple[Consignment, ...]:
    """Price pairs that the owner describes in words."""
    pairs = [pair_of(workspace, described, as_written=as_written) for described in descriptions]
    return consign_pairs(workspace, pairs, as_of=as_of, patience_days=patience_days)


def consign_file(
    workspace: Workspace,
    file: Path,
    *,
    row: int | None,
    as_of: date,
    patience_days: int | None = None,
    described: Description | None = None,
) -> tuple[Consignment, ...]:
    """Price the pairs of a file (see `pairs_of_file`), or one row of it."""
    pairs = pairs_of_file(file, workspace.market, row=row, as_of=as_of, described=described)
    return consign_pairs(workspace, pairs, as_of=as_of, patience_days=patience_days)


def consign_pairs(
    workspace: Workspace, pairs: Sequence[Pair], *, as_of: date, patience_days: int | None = None
) -> tuple[Consignment, ...]:
    """Price pairs at every venue."""
    market, fitted = workspace.market, workspace.fitted
    rates, days = workspace.rates_on(as_of), workspace.rate_days(as_of)
    pace = _pace(workspace.ledger, market, fitted, as_of)
    ends = workspace.ledger.read("marts/lot_ends", as_of=as_of)
    shares = {venue: sold / lots for venue, lots, sold in ends.iter_rows()}
    made = workspace.ledger.read("marts/venue_sales", as_of=as_of)
    last_sold = dict(made.select("venue", "last_sold_on").iter_rows())
    return tuple(
        consign(
            pair,
            fitted,
            market,
            workspace.sales_of(pair.silhouette),
            pace,
            rates,
            shares,
            last_sold=last_sold,
            as_of=as_of,
            patience_days=patience_days or market.consigning.patience_days,
            stale=workspace.stale,
            rate_days=days,
        )
        for pair in pairs
    )


def _pace(ledger: Ledger, market: Market, fitted: FittedMarket, as_of: date) -> TimeToSale:
    fixed = [venue.name for venue in market.venues if venue.kind != "auction"]
    listings = ledger.read("marts/listings", venues=fixed, as_of=as_of)
    return learn_time_to_sale(listings, predict(fitted.fit, listings)["log_price"].to_numpy())
