"""An era in doubt: the band of a mixture of eras, and what it is worth to find out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import exp

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.alike import fold_all
from pipeline.answers.appraisal.cautions import Caution, fit_cautions, stale_cautions, weak_ones
from pipeline.answers.appraisal.sentences import WEAKNESSES
from pipeline.answers.era_odds.learned import LearnedOdds
from pipeline.answers.sheet import Detail
from pipeline.config import Market
from pipeline.errors import PairError, suggest
from pipeline.ingest.names import known_words
from pipeline.market.bands import LEVELS, Band
from pipeline.market.era_mixture import GRID, draw_quantiles, mixture_quantiles
from pipeline.market.fitted_market import FittedMarket, Source
from pipeline.market.model import pair_factors
from pipeline.market.pair import Pair
from pipeline.market.price_distribution import price_distribution
from pipeline.market_rules import ODDS_SLACK

Array = NDArray[np.float64]

FROM_SALES = "sales"
"""The word that asks for the odds in the owner's sales."""

MIDDLE = 0.8
"""The level of the band that is given for each era."""


BLIND = "No sale stands behind the value as {eras}: it is estimated from similar models."
ODDS_CAUTIONS: tuple[str, ...] = (
    "The band takes the odds as given; it is too narrow where they are wrong. Few such pairs sell at a price between "
    "two eras.",
    "It does not authenticate a pair: have the label, the last and the materials checked.",
)
"""What is said of every value by odds, and of eras without a sale; the pricing page says it too."""

AS_DESCRIBED = (
    "It does not authenticate a pair: the odds are from records as sellers described them, wrong descriptions and "
    "copies among them. Have an authenticator look at it."
)
OTHER_PAIRS = (
    "Pairs in doubt may be other ones than those whose era was stated: where you know so, give your own prior "
    "(`[era_odds]` in the market file)."
)
"""What is said instead and besides of odds that were learned."""


@dataclass(frozen=True)
class EraValue:
    """What the pair is worth if it is of an era: its chance, median, 80 % band; sales of its silhouette in it."""

    era: str
    chance: float
    median: float
    low: float
    high: float
    sales: int


@dataclass(frozen=True)
class EraInDoubt:
    """The value of a pair whose era is in doubt, in `currency` (the base currency).

    `median` and `bands` are those of the mixture of the eras' predictive distributions; `average` weighs the
    medians by their chances. `finding_out` is what a certain answer is worth to one who may take the pair at
    `at_price` or leave it. `most` is the most it can be worth, which it is at the price `average`. `learned` says how
    the chances came about; None where the owner gave them. `weak` are the cautions that put the value itself in doubt.
    """

    pair: Pair
    as_of: date
    currency: str
    eras: tuple[EraValue, ...]
    median: float
    bands: tuple[Band, ...]
    average: float
    at_price: float
    finding_out: float
    most: float
    learned: LearnedOdds | None
    cautions: tuple[str, ...]
    source: Source
    weak: tuple[Caution, ...] = ()


def read_odds(text: str, market: Market) -> dict[str, float]:
    """Return the chance of each era from words such as "first=0.7, late reissue=0.3".

    Raises PairError where an era is not known or named twice, a chance is none, or they do not come to 1.
    """
    words = known_words(market.eras)
    odds: dict[str, float] = {}
    for part in text.split(","):
        name, mark, chance = part.partition("=")
        era = words.get(fold_all([name])[0])
        if era is None:
            hint = suggest(name.strip(), [known.name for known in market.eras])
            raise PairError(f"era odds: no era is called {name.strip()!r}", hint)
        if era in odds:
            raise PairError(f"era odds name {era!r} twice", "give each era once.")
        odds[era] = _chance(era, chance if mark else "")
    total = sum(odds.values())
    if abs(total - 1) > ODDS_SLACK:
        raise PairError(
            f"the era odds come to {total:g}", "they must come to 1, such as first=0.7,second=0.3."
        )
    return {era: chance / total for era, chance in odds.items() if chance > 0}


def value_in_doubt(
    pair: Pair,
    odds: Mapping[str, float],
    fitted: FittedMarket,
    sales: pl.DataFrame,
    *,
    as_of: date,
    at_price: float | None = None,
    learned: LearnedOdds | None = None,
    stale: str = "",
) -> EraInDoubt:
    """Return the value of a pair whose era has these chances.

    `sales` are the priced sales of its silhouette. Left out, `at_price` is the average of the eras' medians,
    where an answer is worth the most. `learned` says how the odds came about, if not from the owner.
    """
    eras = tuple(odds)
    chances = np.array([odds[era] for era in eras])
    factors = pair_factors([replace(pair, era=era) for era in eras], as_of=as_of)
    until = sales.filter(pl.col("sold_on") <= as_of)
    prices = price_distribution(fitted, factors)
    medians = prices.centre
    quantiles = [(np.array(GRID), drawn) for drawn in draw_quantiles(prices)]
    average = float(np.sum(chances * np.exp(medians)))
    price = average if at_price is None else at_price
    counted = dict(until.group_by("era").len().iter_rows())
    warned = _cautions(
        fitted,
        prices.unseen.to_list(),
        eras,
        stale,
        as_of,
        ODDS_CAUTIONS[1] if learned is None else AS_DESCRIBED,
    )
    return EraInDoubt(
        pair=replace(pair, era=None),
        as_of=as_of,
        currency=fitted.currency,
        eras=tuple(
            EraValue(
                era,
                chance=float(chances[row]),
                median=exp(medians[row]),
                low=exp(np.interp(_edges(MIDDLE)[0], *quantiles[row])),
                high=exp(np.interp(_edges(MIDDLE)[1], *quantiles[row])),
                sales=int(counted.get(era, 0)),
            )
            for row, era in enumerate(eras)
        ),
        median=exp(mixture_quantile(quantiles, chances, 0.5)),
        bands=tuple(
            Band(level, *(exp(mixture_quantile(quantiles, chances, edge)) for edge in _edges(level)))
            for level in LEVELS
        ),
        average=average,
        at_price=price,
        finding_out=worth_of_finding_out(chances, np.exp(medians), price),
        most=worth_of_finding_out(chances, np.exp(medians), average),
        learned=learned,
        cautions=(
            *(cell.words for cell in pair.unread),
            *pair.read_as,
            *(caution.words for caution in warned),
            *((Detail(OTHER_PAIRS),) if learned else ()),
        ),
        source=fitted.source,
        weak=weak_ones(warned),
    )


def worth_of_finding_out(chances: Array, values: Array, price: float) -> float:
    """Return the expected value of perfect information to one who may take a thing at a price, or leave it.

    Knowing, one takes it where it is worth more; not knowing, one takes it where its average is worth
    more: E[max(V - price, 0)] - max(E[V] - price, 0) (Raiffa & Schlaifer 1961). Zero where every
    answer leads to the same decision.
    """
    knowing = float(np.sum(chances * np.maximum(values - price, 0)))
    not_knowing = max(float(np.sum(chances * values)) - price, 0.0)
    return max(knowing - not_knowing, 0.0)


def mixture_quantile(quantiles: Sequence[tuple[Array, Array]], chances: Array, chance: float) -> float:
    """Return the value below which the mixture lies with that chance.

    `quantiles` holds (chances, values), both rising, of each distribution; outside them there is nothing.
    """
    return float(mixture_quantiles(quantiles, chances, chance))


def _edges(level: float) -> tuple[float, float]:
    return (1 - level) / 2, (1 + level) / 2


def _chance(era: str, text: str) -> float:
    try:
        chance = float(text.strip())
    except ValueError:
        chance = -1.0
    if not 0 <= chance <= 1:
        raise PairError(
            f"the chance of the era {era!r} is {text.strip()!r}",
            "give a share from 0 to 1, such as first=0.7.",
        )
    return chance


def _cautions(
    fitted: FittedMarket,
    unseen: Sequence[Sequence[str]],
    eras: Sequence[str],
    stale: str,
    as_of: date,
    not_authenticated: str,
) -> tuple[Caution, ...]:
    alone = {
        term.name for term in fitted.fit.specification.terms if term.columns in (("silhouette",), ("era",))
    }
    blind = [era for era, terms in zip(eras, unseen, strict=True) if alone & set(terms)]
    as_guessed = (Caution(BLIND.format(eras=" or ".join(blind)), WEAKNESSES["no era"]),) if blind else ()
    return (
        *stale_cautions(stale),
        *as_guessed,
        *fit_cautions(fitted, as_of),
        Caution(ODDS_CAUTIONS[0], WEAKNESSES["odds"]),
        Caution(not_authenticated),
    )
