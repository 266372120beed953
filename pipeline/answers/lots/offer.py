"""One pair that is offered: whether to buy it and the most to pay, by the owner's rule for lots."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl

from pipeline import formats
from pipeline.answers.appraisal.run import pair_of, records_of_file
from pipeline.answers.era_odds.answer import FROM_SALES, read_odds
from pipeline.answers.era_odds.run import learn_eras_of
from pipeline.answers.lots.answer import BID, LOOK, LOOK_FIRST, PASS, LotList, value_lots
from pipeline.answers.lots.run import lot_list, lot_terms
from pipeline.answers.lots.tables import in_base, lots_table, state_terms
from pipeline.answers.sheet import Sheet, source_words
from pipeline.config import Market, Venue
from pipeline.errors import UnknownName
from pipeline.fees.amounts import POINTS
from pipeline.market.era_mixture import EraChances
from pipeline.market.model import ANY_VENUE
from pipeline.market.pair import Pair
from pipeline.market.seen import Seen, SeenWords, read_seen, seen_of_record
from pipeline.market.subject import Description, override, pairs_of_records
from pipeline.schema import SALE_RECORD
from pipeline.untrusted import show_words
from pipeline.workspace import Workspace

PRIVATELY = "a stall, or privately"
"""Where a pair is offered that no venue offers: nothing is added to its price, which is in the base currency."""


def value_offer(
    workspace: Workspace,
    described: Description,
    *,
    as_of: date,
    offered_at: str | None = None,
    price: Decimal | None = None,
    era_odds: str | None = None,
    seen: SeenWords | None = None,
    file: Path | None = None,
    row: int | None = None,
    as_written: bool = False,
) -> LotList:
    """Return a pair as the one lot of a list: the verdict, the most to pay, and what it costs and brings.

    The pair is described, or one row of a file, as in `appraise_in_doubt`; so is its era, where it is in doubt by
    `era_odds`. `price` is what is asked where it is offered, in that venue's currency before its buyer's fee: at an
    auction the present bid; left out, only the most to pay is known. `offered_at` is a venue of the market file, None
    for PRIVATELY. The rule is that of the market file. Raises UnknownName, PairError.
    """
    market, fitted = workspace.market, workspace.fitted
    terms = lot_terms(market, margin=None, confidence=None, sells_at=None)
    if offered_at is not None and offered_at not in market.venue_by_name:
        raise UnknownName.among("venue", offered_at, market.venue_by_name)
    known = market if offered_at is not None else _with_private_sellers(market)
    place = known.venue(offered_at or ANY_VENUE)
    listed = None if file is None else records_of_file(file, market, row=row, as_of=as_of)
    if listed is None:
        pair, shown = pair_of(workspace, described, as_written=as_written), Seen()
    else:
        pair = override(pairs_of_records(listed)[0], described, market)
        shown = seen_of_record(listed.row(0, named=True), market, as_of=as_of)
    record = _record(replace(pair, venue=place.name), place, price)
    if listed is not None:
        record = record.with_columns(listed["flags"], listed["silhouette_origin"], listed["era_origin"])
    doubt = None
    if era_odds is not None:
        record = record.with_columns(era=pl.lit(None, pl.String))
        looked = read_seen(seen or SeenWords(), market, as_of=as_of, known=shown)
        doubt = _chances(workspace, pair, looked, era_odds, as_of=as_of)
    lots = value_lots(
        record,
        fitted,
        known,
        workspace.sales_of(pair.silhouette).filter(pl.col("sold_on") <= as_of),
        {**workspace.rates_on(as_of), market.base_currency: 1.0},
        terms,
        as_of=as_of,
        doubt=doubt,
    )
    read_so = (*pair.read_as, *(cell.words for cell in pair.unread))
    return lot_list(workspace, lots, terms, as_of=as_of, read_so=read_so)


def offer_sheet(listed: LotList, market: Market) -> Sheet:
    """Return the sheet of a pair that is offered: the verdict, and the money behind it."""
    lot = listed.lots.row(0, named=True)
    venue = market.venue_by_name.get(lot["venue"])
    rises = venue is not None and venue.kind == "auction"
    texts = dict(
        zip((column.key for column in lots_table(listed).columns), lots_table(listed).texts()[0], strict=True)
    )
    asked = lot["present_bid"] is not None
    headings = {
        "present_bid": ("Present bid" if rises else "Asked") if asked else "",
        "present_all_in": "All-in" if asked else "",
        in_base("landed_cost", listed): ("Cost if won now" if rises else "Cost if bought") if asked else "",
        "walk_away_bid": "Maximum bid" if rises else "Most to pay",
        in_base("walk_away_landed", listed): f"Cost at the {'maximum bid' if rises else 'most to pay'}",
        in_base("resale_net", listed): "Net of the resale",
        in_base("expected_gain", listed): "Expected gain" if asked else "",
        "chance_of_loss": "Chance of a loss" if asked else "",
    }
    figures = tuple((heading, texts[key]) for key, heading in headings.items() if heading)
    return Sheet(
        title="Buy or pass",
        figures=() if lot["why"] else figures,
        sentences=(state_offer(lot, rises=rises), state_terms(listed.terms, listed.currency)),
        warnings=listed.cautions,
        source=source_words(listed.source),
    )


def state_offer(lot: Mapping[str, Any], *, rises: bool) -> str:
    """Return in a sentence whether to buy; of a pair without a price, the most to pay."""
    if lot["why"]:
        return f"Cost unknown: {show_words(lot['why'], 200)}."
    currency = lot["native_currency"]
    most = formats.amount(lot["walk_away_bid"], currency) if lot["walk_away_bid"] else "nothing"
    limit = f"{'maximum bid' if rises else 'most to pay'} {most}"
    if lot["present_bid"] is None:
        return f"{limit[:1].upper()}{limit[1:]}."
    verdict = {BID: "Bid" if rises else "Buy", LOOK: "Look first", PASS: "Pass"}[lot["verdict"]]
    doubts = [flag for flag in lot["flags"] if flag in LOOK_FIRST]
    why = f" ({', '.join(doubts)})" if lot["verdict"] == LOOK else ""
    return f"{verdict}{why} at {formats.amount(lot['present_bid'], currency)}: {limit}."


def _with_private_sellers(market: Market) -> Market:
    """Return the market with a place that adds nothing to a price, at which a pair is valued as at any venue."""
    place = Venue.model_construct(name=ANY_VENUE, kind="shop", currency=market.base_currency)
    changed = market.model_copy(update={"venues": (*market.venues, place)})
    changed.__dict__.pop("venue_by_name", None)  # the copy has the names of before
    return changed


def _record(pair: Pair, place: Venue, price: Decimal | None) -> pl.DataFrame:
    """Return a pair that is offered as the one record of a file of lots, in the columns that `value_lots` reads."""
    return pl.DataFrame(
        {column.name: [getattr(pair, column.name, None)] for column in SALE_RECORD},
        schema={column.name: column.dtype for column in SALE_RECORD},
    ).with_columns(
        row_number=pl.lit(1, pl.Int64),
        title=pl.lit(pair.label or None, pl.String),
        currency=pl.lit(place.currency),
        price_native=pl.lit(price, pl.Decimal(18, POINTS)),
        flags=pl.lit([], pl.List(pl.String)),
        unread=pl.lit([cell.attribute for cell in pair.unread], pl.List(pl.String)),
        silhouette_origin=pl.lit("stated"),
        era_origin=pl.lit("stated"),
    )


def _chances(workspace: Workspace, pair: Pair, seen: Seen, odds: str, *, as_of: date) -> EraChances:
    """Return the chances of the eras of the one pair of a list: learned, or as the owner gives them."""
    first = np.zeros(1, dtype=np.int64)
    if odds.strip().casefold() != FROM_SALES:
        given = read_odds(odds, workspace.market)
        return EraChances(first, tuple(given), np.array([[*given.values()]]))
    learned = learn_eras_of(workspace, as_of=as_of)
    return EraChances(first, learned.model.eras, learned.chances([(pair, seen)]))
