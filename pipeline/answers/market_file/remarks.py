"""What an owner should know of the venues and eras of a market file, beside its names and phrases."""

from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path

from pipeline import formats
from pipeline.answers.consignment.answer import RECENT_DAYS
from pipeline.config import Era, Market
from pipeline.errors import LedgerError
from pipeline.ledger import open_ledger

LastSold = Mapping[str, date]


def market_remarks(market: Market, ledger_path: Path, *, as_of: date) -> tuple[str, ...]:
    """Return what is worth saying of eras, venues and pictures; of the venues' sales where there is a ledger to ask."""
    known = (*static_remarks(market), *_folder_of_pictures(market))
    try:
        last_sold = _last_sold(ledger_path, as_of)
    except LedgerError as exc:
        return (*known, f"the sales of venues were not looked at: {exc.what}")
    return known if last_sold is None else (*known, *idle_venues(market, last_sold, as_of=as_of))


def static_remarks(market: Market) -> tuple[str, ...]:
    """Return what the market file alone says: eras that are hardly ever found, and venues without fees."""
    return (*_unreached_eras(market), *_venues_without_fees(market))


def _folder_of_pictures(market: Market) -> tuple[str, ...]:
    """Return the remark that the folder of pictures is not there; nothing where it is, or none is named."""
    folder = market.pictures.folder
    if folder is None or Path(folder).is_dir():
        return ()
    return (f"`pictures.folder`: there is no folder {folder}, so no page shows a photograph",)


def idle_venues(market: Market, last_sold: LastSold, *, as_of: date) -> tuple[str, ...]:
    """Return a remark on each venue that had no sale in the year before a day; `last_sold` is the last day of each."""
    remarks = []
    for venue in market.venues:
        sold_on = last_sold.get(venue.name)
        if sold_on is None:
            remarks.append(f"the ledger holds no sale at {venue.name!r}")
        elif (as_of - sold_on).days > RECENT_DAYS:
            remarks.append(
                f"the last sale at {venue.name!r} in the ledger was on {formats.day(sold_on)}, more than a year ago"
            )
    return tuple(remarks)


def _last_sold(ledger_path: Path, as_of: date) -> LastSold | None:
    """Return the day of the last sale of each venue; None where there is no ledger, or one without any record."""
    if not ledger_path.exists():
        return None
    with open_ledger(ledger_path, read_only=True, as_it_is=True) as ledger:
        sales = ledger.read("marts/venue_sales", as_of=as_of)
    return dict(sales.select("venue", "last_sold_on").iter_rows()) if sales.height else None


def _unreached_eras(market: Market) -> Iterator[str]:
    """Yield a remark on each era that has no phrase, and no year that is not another's too."""
    for era in market.eras:
        others = [other for other in market.eras if other is not era]
        if not era.phrases and others and not _own_years(era, others):
            yield (
                f"the era {era.name!r} has no phrase, and no year of its own: only its very name in a column or a "
                "title is read as it"
            )


def _own_years(era: Era, others: list[Era]) -> set[int]:
    """Return the years that are an era's alone, as far as the latest year that any era names."""
    named = [year for one in (era, *others) for year in (one.first_year, one.last_year) if year is not None]
    end = max(named) + 1  # stands for all the years of an era that lasts

    def years(one: Era) -> set[int]:
        return set(range(one.first_year, (end if one.last_year is None else one.last_year) + 1))

    return years(era).difference(*map(years, others))


def _venues_without_fees(market: Market) -> Iterator[str]:
    for venue in market.venues:
        parties = {schedule.party for schedule in venue.fees}
        if venue.kind == "auction" and "buyer" not in parties:
            yield (
                f"the auction {venue.name!r} has no buyer's fee: a hammer price there counts as all that the buyer paid"
            )
        if "seller" not in parties and venue.consignment is None:
            yield (
                f"{venue.name!r} has no seller's fee: `pairband consign` does not recommend it (write the fee, or "
                "`consignment = true` or `false` on the venue)"
            )
