"""The consignment of a pair: what each venue should bring, who gets what of it, and which prices to set."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import ROUND_FLOOR, Decimal
from math import exp
from typing import Literal

import numpy as np
import polars as pl

from pipeline import formats
from pipeline.answers.appraisal.cautions import Caution, cautions, weak_ones
from pipeline.answers.consignment.price_split import PriceSplit, divide_hammer, divide_price, hammer_behind
from pipeline.answers.consignment.settlement import Settlement, settle
from pipeline.answers.consignment.time_to_sale import Hazard, TimeToSale
from pipeline.config import Market, Venue
from pipeline.market.fitted_market import FittedMarket, Source
from pipeline.market.model import pair_factors
from pipeline.market.pair import Pair
from pipeline.market.price_distribution import PriceDistribution, price_distribution
from pipeline.market.shop_words import ShopWords, in_shop_words
from pipeline.phrases.phrases import Sentence

RATIOS: tuple[float, ...] = tuple(round(0.5 + 0.02 * step, 2) for step in range(126))
"""The asks that are weighed, as multiples of fair value: those between the lowest and highest usually tried."""

SHOWN = 5
"""Every so many of them is on the curve."""

HORIZONS: tuple[int, ...] = (30, 60, 90)
LOW_ESTIMATE, HIGH_ESTIMATE, RESERVE = 0.3, 0.7, 0.2
"""The quantiles of the price at which estimates and reserve are set (a habit of the trade, no optimum)."""

RECENT_DAYS = 365
"""A venue whose last sale is older than this, in days, is not recommended unless the owner says so."""

FREIGHT = Sentence.saying("caution_freight")


@dataclass(frozen=True)
class AskPoint:
    """One ask: `ratio` over fair value, `ask` in the base currency, the chance of a sale within each of HORIZONS.

    `expected_net` is what the consignor ends with on average: the net of a sale at the ask, as often as one is made
    within the owner's patience, else what a typical sale at the auction afterwards leaves.
    """

    ratio: float
    ask: float
    chances: tuple[float, ...]
    chance_in_patience: float
    expected_net: float


@dataclass(frozen=True)
class Suggestion:
    """A price to set, in the venue's currency, and how it was reached."""

    name: Literal["ask", "least to take", "reserve", "low estimate", "high estimate"]
    amount: Decimal
    currency: str
    how: str


@dataclass(frozen=True)
class VenueOffer:
    """What to expect of a pair at one venue; money in the base currency but for the suggestions.

    `median` and the 80 % band are all-in; `at_median` divides the median: of half of such sales each side gets as
    much or more. Venues are compared by it. A mean would not do: that of a price whose logarithm has heavy tails
    is set by its rarest sales, and where little is known it has no bound. `doubts` are what speaks against the venue,
    in words, and `qualifies` says whether it is recommended, and stands on the consignor's sheet.
    """

    venue: str
    kind: str
    currency: str
    median: float
    low: float
    high: float
    at_median: PriceSplit
    net_low: float
    net_high: float
    share_sold: float | None
    suggestions: tuple[Suggestion, ...]
    curve: tuple[AskPoint, ...]
    doubts: tuple[str, ...] = ()
    qualifies: bool = True
    settlements: tuple[Settlement, ...] = ()
    """What becomes of the lower and the higher suggested price: the estimates, or the least to take and the ask."""
    rate: float = 1.0
    """Units of the venue's currency for one of the base, that of the day `rate_on`."""
    rate_on: date | None = None

    @property
    def net(self) -> float:
        """Return what a typical sale leaves the consignor, in the base currency: that at the median price."""
        return float(self.at_median.to_consignor)


@dataclass(frozen=True)
class Consignment:
    """A pair on consignment, with the venue first whose typical sale leaves the consignor most.

    Venues that do not qualify come last. `patience_days` is the owner's. `weak` are the cautions that put the value
    itself in doubt.
    """

    pair: Pair
    as_of: date
    currency: str
    patience_days: int
    offers: tuple[VenueOffer, ...]
    slope: float | None
    slope_error: float | None
    offers_behind_curve: int
    cautions: tuple[str, ...]
    source: Source
    shop_words: ShopWords
    weak: tuple[Caution, ...] = ()

    @property
    def recommended(self) -> tuple[VenueOffer, ...]:
        """Return the offers of the venues that qualify, the best for the consignor first."""
        return tuple(offer for offer in self.offers if offer.qualifies)


def consign(
    pair: Pair,
    fitted: FittedMarket,
    market: Market,
    sales: pl.DataFrame,
    pace: TimeToSale,
    rates: Mapping[str, float],
    shares_sold: Mapping[str, float],
    *,
    last_sold: Mapping[str, date],
    as_of: date,
    patience_days: int,
    stale: str = "",
    rate_days: Mapping[str, date] | None = None,
) -> Consignment:
    """Return what each venue of the market file should bring for a pair at a day.

    `sales` are the priced sales of its silhouette, of which those after `as_of` are not used, `pace` how fast
    fixed-price offers sell, `rates` units of each currency for one of the base and `rate_days` the days of those rates,
    `shares_sold` the share of each venue's lots that found a buyer, `last_sold` the day of each venue's last sale of
    any pair. A venue that is not for consignment is left out.
    """
    until = sales.filter(pl.col("sold_on") <= as_of)
    venues = [venue for venue in market.venues if venue.currency in rates and venue.consignment is not False]
    factors = pair_factors([replace(pair, venue=venue.name) for venue in venues], as_of=as_of)
    seen = price_distribution(fitted, factors)
    doubts = {venue.name: venue_doubts(venue, last_sold.get(venue.name), as_of=as_of) for venue in venues}

    def judged(offer: VenueOffer, venue: Venue) -> VenueOffer:
        against = doubts[venue.name]
        return replace(
            offer,
            doubts=against,
            qualifies=venue.consignment is True or not against,
            settlements=_settlements(offer, venue, market, rates[venue.currency], as_of),
            rate=rates[venue.currency],
            rate_on=(rate_days or {}).get(venue.currency),
        )

    auctions = [
        judged(
            _at_auction(venue, _one(seen, number), market, rates[venue.currency], shares_sold, as_of), venue
        )
        for number, venue in enumerate(venues)
        if venue.kind == "auction"
    ]
    fallback = max(
        (offer for offer in auctions if offer.qualifies), key=lambda offer: offer.net, default=None
    )
    fixed = [
        judged(
            _at_fixed_price(
                venue,
                _one(seen, number),
                market,
                rates[venue.currency],
                pace.hazard,
                fallback,
                patience_days,
                as_of,
            ),
            venue,
        )
        for number, venue in enumerate(venues)
        if venue.kind != "auction"
    ]
    offers = sorted((*auctions, *fixed), key=lambda offer: (not offer.qualifies, -offer.net))
    warned = cautions(
        replace(pair, venue=offers[0].venue if offers else None),
        fitted,
        market,
        as_of=as_of,
        unseen=seen.unseen[0].to_list() if len(seen.unseen) else [],
        extrapolated=seen.extrapolated[0].to_list() if len(seen.extrapolated) else [],
        own_sales=until.height,
        stale=stale,
    )
    return Consignment(
        pair=pair,
        as_of=as_of,
        currency=fitted.currency,
        patience_days=patience_days,
        offers=tuple(offers),
        slope=pace.hazard.slope if pace.hazard else None,
        slope_error=pace.hazard.error if pace.hazard else None,
        offers_behind_curve=pace.hazard.sold + pace.hazard.unsold if pace.hazard else 0,
        cautions=(
            *((pace.why_not,) if pace.why_not else ()),
            *(caution.words for caution in warned),
            FREIGHT,
        ),
        source=fitted.source,
        weak=weak_ones(warned),
        shop_words=in_shop_words(pair, market),
    )


def _settlements(
    offer: VenueOffer, venue: Venue, market: Market, rate: float, on: date
) -> tuple[Settlement, ...]:
    """Return what becomes of the prices between which a sale is expected, the lowest first."""
    prices = sorted((line.amount, line.name) for line in offer.suggestions if line.name != "reserve")
    return tuple(settle(name, amount, venue, market, rate=rate, on=on) for amount, name in prices)


def venue_doubts(venue: Venue, last_sold: date | None, *, as_of: date) -> tuple[str, ...]:
    """Return what speaks against recommending a venue: no seller's fee that is known, no sale in the last year."""
    doubts = []
    if venue.schedule("seller", as_of) is None:
        doubts.append("no seller's fee is written for it, so what is left counts none")
    if last_sold is None:
        doubts.append("no sale there is in your records")
    elif (as_of - last_sold).days > RECENT_DAYS:
        doubts.append(
            f"its last sale in your records was on {formats.day(last_sold)}, more than a year before"
        )
    return tuple(doubts)


def _one(seen: PriceDistribution, number: int) -> PriceDistribution:
    part = slice(number, number + 1)
    return replace(
        seen,
        centre=seen.centre[part],
        variance=seen.variance[part],
        scale=seen.scale[part],
        group=seen.group[part],
        unseen=seen.unseen[part],
        extrapolated=seen.extrapolated[part],
    )


def _priced(
    venue: Venue, seen: PriceDistribution, market: Market, rate: float, on: date
) -> dict[str, object]:
    """Return what an offer says of the price itself, whatever the way in which it is set."""
    low, high = (exp(float(seen.quantile(chance)[0])) for chance in (0.1, 0.9))
    median = exp(float(seen.centre[0]))
    return {
        "venue": venue.name,
        "kind": venue.kind,
        "currency": venue.currency,
        "median": median,
        "low": low,
        "high": high,
        "at_median": divide_price(median, venue, market, rate=rate, on=on),
        "net_low": float(divide_price(low, venue, market, rate=rate, on=on).to_consignor),
        "net_high": float(divide_price(high, venue, market, rate=rate, on=on).to_consignor),
    }


def _at_auction(
    venue: Venue, seen: PriceDistribution, market: Market, rate: float, shares: Mapping[str, float], on: date
) -> VenueOffer:
    def bid(chance: float) -> Decimal:
        return _down(hammer_behind(exp(float(seen.quantile(chance)[0])), venue, rate=rate, on=on), venue)

    low, high, reserve = bid(LOW_ESTIMATE), bid(HIGH_ESTIMATE), min(bid(RESERVE), bid(LOW_ESTIMATE))
    return VenueOffer(
        **_priced(venue, seen, market, rate, on),  # type: ignore[arg-type]
        share_sold=shares.get(venue.name),
        suggestions=(
            Suggestion("low estimate", low, venue.currency, Sentence.saying("how_low_estimate")),
            Suggestion("high estimate", high, venue.currency, Sentence.saying("how_high_estimate")),
            Suggestion("reserve", reserve, venue.currency, Sentence.saying("how_reserve")),
        ),
        curve=(),
    )


def _at_fixed_price(
    venue: Venue,
    seen: PriceDistribution,
    market: Market,
    rate: float,
    hazard: Hazard | None,
    fallback: VenueOffer | None,
    patience: int,
    on: date,
) -> VenueOffer:
    fair = exp(float(seen.centre[0]))
    priced = _priced(venue, seen, market, rate, on)
    if hazard is None:
        ask = Suggestion(
            "ask",
            _plain(hammer_behind(fair, venue, rate=rate, on=on)),
            venue.currency,
            Sentence.saying("how_fair_value"),
        )
        return VenueOffer(
            **priced,  # type: ignore[arg-type]
            share_sold=None,
            suggestions=(ask,),
            curve=(),
        )
    after = _after(fallback, venue, seen, market, rate, on)
    curve = ask_curve(fair, venue, market, hazard, after=after, rate=rate, patience=patience, on=on)
    best = best_ask(curve)
    asked = _plain(hammer_behind(best.ask, venue, rate=rate, on=on))
    sent = {"venue": fallback.venue} if fallback else {}
    to = "_auction" if fallback else ""
    least = least_to_take(after, venue, market, rate=rate, on=on)
    suggestions = (
        Suggestion(
            "ask",
            asked,
            venue.currency,
            Sentence.saying(
                f"how_ask{to}",
                share=lambda language: language.level(best.ratio),
                sold=lambda language: language.level(best.chance_in_patience),
                days=str(patience),
                **sent,
            ),
        ),
        Suggestion(
            "least to take",
            least,
            venue.currency,
            Sentence.saying(f"how_least{to}", **sent),
        ),
    )
    return VenueOffer(
        **priced,  # type: ignore[arg-type]
        share_sold=None,
        suggestions=suggestions,
        curve=tuple(point for number, point in enumerate(curve) if number % SHOWN == 0 or point is best),
    )


def ask_curve(
    fair: float,
    venue: Venue,
    market: Market,
    hazard: Hazard,
    *,
    after: float,
    rate: float,
    patience: int,
    on: date,
) -> tuple[AskPoint, ...]:
    """Return what each ask of RATIOS should do; `after` is the consignor's net where patience has run out.

    Asks that are rare in the records (below `hazard.lowest`, above `hazard.highest`) are left out. A sale is made
    at the ask times what buyers paid of their asks (`hazard.paid_to_ask`).
    """
    ratios = np.array([ratio for ratio in RATIOS if hazard.lowest <= ratio <= hazard.highest] or [1.0])
    within = hazard.chance(ratios, patience)
    horizons = [hazard.chance(ratios, days) for days in HORIZONS]
    points = []
    for number, ratio in enumerate(ratios.tolist()):
        net = float(
            divide_price(fair * ratio * hazard.paid_to_ask, venue, market, rate=rate, on=on).to_consignor
        )
        chance = float(within[number])
        points.append(
            AskPoint(
                ratio=ratio,
                ask=fair * ratio,
                chances=tuple(float(chances[number]) for chances in horizons),
                chance_in_patience=chance,
                expected_net=chance * net + (1 - chance) * after,
            )
        )
    return tuple(points)


def best_ask(curve: Sequence[AskPoint]) -> AskPoint:
    """Return the ask that should leave the consignor most: the suggested one."""
    return max(curve, key=lambda point: point.expected_net)


def least_to_take(net: float, venue: Venue, market: Market, *, rate: float, on: date) -> Decimal:
    """Return the least whole price (the venue's currency) that leaves the consignor a net in the base currency."""
    low, high = 0, 2
    while float(divide_hammer(Decimal(high), venue, market, rate=rate, on=on).to_consignor) < net:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        enough = float(divide_hammer(Decimal(middle), venue, market, rate=rate, on=on).to_consignor) >= net
        low, high = (low, middle) if enough else (middle, high)
    return Decimal(high)


def _after(
    fallback: VenueOffer | None, venue: Venue, seen: PriceDistribution, market: Market, rate: float, on: date
) -> float:
    """Return what the consignor should net once patience has run out: at the auction that leaves most, typically."""
    if fallback is not None:
        return fallback.net
    cautious = exp(float(seen.quantile(RESERVE)[0]))
    return float(divide_price(cautious, venue, market, rate=rate, on=on).to_consignor)


def _down(hammer: Decimal, venue: Venue) -> Decimal:
    """Return the highest valid bid step up to a hammer price."""
    for increment in venue.increments:
        if increment.up_to is None or hammer <= increment.up_to:
            return (hammer / increment.step).to_integral_value(ROUND_FLOOR) * increment.step
    return _whole(hammer)


def _plain(amount: Decimal) -> Decimal:
    """Return a price as one is asked: rounded down to three figures, and to whole units."""
    step = Decimal(1).scaleb(max(amount.adjusted() - 2, 0))
    return (amount / step).to_integral_value(ROUND_FLOOR) * step


def _whole(amount: Decimal) -> Decimal:
    return amount.to_integral_value(ROUND_FLOOR)
