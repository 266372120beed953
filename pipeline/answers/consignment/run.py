"""Price pairs for consignment with the latest fit and the past offers."""

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from pipeline.answers.appraisal.run import MOST_COMPARABLE_SALES, latest_fit, pairs_of_file
from pipeline.answers.consignment.answer import Consignment, consign
from pipeline.answers.consignment.time_to_sale import TimeToSale, learn_time_to_sale
from pipeline.answers.lots.run import rates_on
from pipeline.config import Market, load_market
from pipeline.hedonic.predict import predict
from pipeline.ledger import Ledger, open_ledger
from pipeline.market.fitted_market import FittedMarket
from pipeline.market.pair import Pair
from pipeline.market.subject import Description, understand


def consign_descriptions(
    ledger_path: Path,
    market_path: Path,
    descriptions: Sequence[Description],
    *,
    as_of: date,
    patience_days: int | None = None,
    as_written: bool = False,
) -> tuple[Consignment, ...]:
    """Price pairs that the owner describes in words."""
    market = load_market(market_path)
    pairs = [understand(description, market, as_written=as_written) for description in descriptions]
    return _consign(ledger_path, market, pairs, as_of=as_of, patience_days=patience_days)


def consign_file(
    ledger_path: Path,
    market_path: Path,
    file: Path,
    *,
    row: int | None,
    as_of: date,
    patience_days: int | None = None,
    described: Description | None = None,
) -> tuple[Consignment, ...]:
    """Price the pairs of a file (see `pairs_of_file`), or one row of it."""
    market = load_market(market_path)
    pairs = pairs_of_file(file, market, row=row, as_of=as_of, described=described)
    return _consign(ledger_path, market, pairs, as_of=as_of, patience_days=patience_days)


def write_sheets(consignments: Sequence[Consignment], page: Path, market_path: Path) -> tuple[Path, ...]:
    """Write the sheet of each consignment; several are numbered: sheet.html, sheet-2.html, …"""
    from reports.consignment.page import write_consignment

    business = load_market(market_path).business.name
    return tuple(
        write_consignment(
            consignment, page if number == 1 else page.with_stem(f"{page.stem}-{number}"), business=business
        )
        for number, consignment in enumerate(consignments, start=1)
    )


def _consign(
    ledger_path: Path, market: Market, pairs: Sequence[Pair], *, as_of: date, patience_days: int | None
) -> tuple[Consignment, ...]:
    rates = rates_on(market, as_of)
    with open_ledger(ledger_path, read_only=True) as ledger:
        fitted, stale = latest_fit(ledger, market)
        pace = _pace(ledger, market, fitted, as_of)
        ends = ledger.read("marts/lot_ends", as_of=as_of)
        shares = {venue: sold / lots for venue, lots, sold in ends.iter_rows()}
        found = []
        for pair in pairs:
            sales = ledger.read("marts/priced_sales", silhouette=pair.silhouette, most=MOST_COMPARABLE_SALES)
            found.append(
                consign(
                    pair,
                    fitted,
                    market,
                    sales,
                    pace,
                    rates,
                    shares,
                    as_of=as_of,
                    patience_days=patience_days or market.consigning.patience_days,
                    stale=stale,
                )
            )
    return tuple(found)


def _pace(ledger: Ledger, market: Market, fitted: FittedMarket, as_of: date) -> TimeToSale:
    fixed = [venue.name for venue in market.venues if venue.kind != "auction"]
    listings = ledger.read("marts/listings", venues=fixed, as_of=as_of)
    return learn_time_to_sale(listings, predict(fitted.fit, listings)["log_price"].to_numpy())
