"""The appraisal of one pair: median, bands, waterfall, comparables, support and cautions."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from pipeline.answers.appraisal.cautions import Caution
from pipeline.market.bands import Band
from pipeline.market.fitted_market import Source
from pipeline.market.pair import Pair


@dataclass(frozen=True)
class Step:
    """One step of the waterfall: what an attribute of this pair does to the price.

    `factor` multiplies the price (1.10 = 10 % more); `price_after` is the running median in
    the base currency; `error` is the standard error of log(factor); `sales` counts the fitted sales
    that share the value (0 = none: the step is estimated from similar models). `parts` split the factor of the second
    stage by attribute; that of the last, without a name, is the same in every pair.
    """

    attribute: str
    value: str
    factor: float
    price_after: float
    error: float
    sales: int
    parts: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class Adjustment:
    """One line by which a comparable is adjusted to the subject: its value → the subject's value."""

    attribute: str
    comparable_value: str
    subject_value: str
    factor: float


@dataclass(frozen=True)
class Comparable:
    """A past sale near to the subject, adjusted line by line.

    `adjusted_price` is what it says of the subject at the valuation date; `residual` is
    log(price paid / fitted price): what the adjustments leave unexplained. `distance` is in log price. `attributes`
    holds the values of its factor columns as a reader sees them.
    """

    record_id: str
    title: str
    venue: str
    sold_on: date
    price_paid: float
    adjustments: tuple[Adjustment, ...]
    adjusted_price: float
    distance: float
    residual: float
    attributes: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Appraisal:
    """The value of one pair at a date, in `currency` (the base currency).

    `start` names the pair from which the waterfall starts, `start_price` its price; the steps lead
    from it to `median`. `bands` hold the levels 0.5, 0.8, 0.95. `in_support` is False where there is no
    sale of the silhouette (the band is then wide and labelled so). `cautions` are sentences; `weak` those of them
    that put the value itself in doubt, each with why in few words.
    """

    pair: Pair
    as_of: date
    currency: str
    median: float
    bands: tuple[Band, ...]
    start: str
    start_price: float
    steps: tuple[Step, ...]
    comparables: tuple[Comparable, ...]
    in_support: bool
    cautions: tuple[str, ...]
    source: Source
    weak: tuple[Caution, ...] = ()
