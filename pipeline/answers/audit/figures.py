"""What an audit finds: its figures, each with a sentence on what it means."""

from dataclasses import dataclass
from datetime import date
from typing import Literal

from pipeline.hedonic.accuracy import Accuracy, Margin
from pipeline.hedonic.coverage import Coverage
from pipeline.hedonic.interactions import Interactions
from pipeline.hedonic.second_stage import SecondStage
from pipeline.hedonic.trend import TrendStage

Outcome = Literal["held up", "too narrow", "too wide", "unproven"]
Judged = Literal["good", "scatter alone", "poor", "unclear"]


@dataclass(frozen=True)
class Figure:
    """One figure: its value and 95 % interval, the range wanted, whether it is in it, and what it means.

    `unit` is "%" (of the price), or "" for a plain number. `by_scatter` is what exact values would show, since
    single sales scatter about them (None where that is not asked). `verdict` is "scatter alone" where
    the value is outside the range, but its interval holds what exact values would show; "unclear" where the interval
    holds values inside the range and outside.
    """

    name: str
    value: float
    low: float | None
    high: float | None
    unit: str
    wanted: tuple[float, float] | None
    verdict: Judged | Literal[""]
    words: str
    by_scatter: float | None = None


@dataclass(frozen=True)
class Pricer:
    """How one way of pricing did: ours, or a naive one, with our margin over it (in MdAPE)."""

    name: str
    accuracy: Accuracy
    margin: Margin | None
    words: str


@dataclass(frozen=True)
class CoverageRow:
    """The coverage of one group of sales: `kind` is "all", "era", "grade" or "price fifth"."""

    kind: str
    group: str
    coverage: Coverage
    verdict: Outcome
    words: str


@dataclass(frozen=True)
class Influence:
    """A sale that pulls the fit towards it: `pull` is the share by which it moves its own fitted price."""

    record_id: str
    title: str
    venue: str
    sold_on: date
    price_paid: float
    price_to_value: float
    weight: float
    pull: float


@dataclass(frozen=True)
class Support:
    """How many sales stand behind a silhouette in an era."""

    silhouette: str
    era: str
    sales: int


@dataclass(frozen=True)
class Verdict:
    """The conclusion. `exit_code` is 0, or TOO_NARROW where a band held less than it claims."""

    outcome: Outcome
    exit_code: int
    words: str


TOO_NARROW = 3


@dataclass(frozen=True)
class Audit:
    """The whole audit, as of a day. `sales` were in the records, `priced` of them before they happened."""

    as_of: date
    currency: str
    sales: int
    priced: int
    first_priced: date | None
    last_priced: date | None
    origins: int
    failed_origins: tuple[str, ...]
    calibrated: bool
    pricers: tuple[Pricer, ...]
    coverages: tuple[CoverageRow, ...]
    ratios: tuple[Figure, ...]
    errors: tuple[Figure, ...]
    second_stage: SecondStage
    second_stage_words: str
    interactions: Interactions
    interactions_words: tuple[str, ...]
    trend: TrendStage
    trend_words: str
    influential: tuple[Influence, ...]
    support: tuple[Support, ...]
    verdict: Verdict
