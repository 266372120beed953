"""What is known of a pair, and of where its figures come from, as a page says it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Protocol

from pipeline import formats
from pipeline.answers.appraisal.appraisal import Appraisal
from pipeline.answers.appraisal.cautions import WEAKNESSES, Caution, weakness_names
from pipeline.answers.sheet import NOT_KNOWN
from pipeline.errors import ReportError
from pipeline.market.fitted_market import Source
from pipeline.market.pair import CLOSED, Pair
from pipeline.schema import SIZE_STEP_MM
from pipeline.untrusted import show_sentences, show_words


class Sourced(Protocol):
    """An answer that says where its figures come from, and as of which day."""

    @property
    def source(self) -> Source:
        """The fit and the records behind it."""

    @property
    def as_of(self) -> date:
        """The day of valuation."""


NOT_READ = "not read, valued as unknown"
NONE_FOUND = "none found"
UNREADABLE = "(unreadable)"
OUTSIDE = (
    "Outside the data: no sale of this silhouette. The figures are a first guess from other silhouettes; the band is "
    "wide because so little is known."
)


@dataclass(frozen=True)
class Notice:
    """What stands above a value that is weak: why, in few words, and the sentences that say so."""

    names: str
    sentences: tuple[str, ...]


def weak_notice(weak: Sequence[Caution], *, in_support: bool = True) -> Notice | None:
    """Return what stands above a value, None where it is not weak; a pair not `in_support` has no sale of its kind."""
    if not weak:
        return None
    few = WEAKNESSES["few sales"]
    said = [one.words for one in weak if one.words and (in_support or one.weakness != few)]
    return Notice(
        weakness_names(weak),
        tuple(show_sentences(words) for words in ((OUTSIDE,) * (not in_support) + tuple(said))),
    )


def cautions_below(cautions: Sequence[str], notice: Notice | None) -> list[str]:
    """Return the cautions that stand at the foot of a page: those that its notice does not say."""
    shown = [show_sentences(caution) for caution in cautions]
    return [words for words in shown if notice is None or words not in notice.sentences]


def pair_heading(pair: Pair) -> tuple[str, str]:
    """Return the page's heading and what stands under it (what the owner calls the pair; it may be empty)."""
    model = show_words(" ".join(part for part in (pair.silhouette, pair.colourway) if part), 120)
    label = show_words(pair.label, 120)
    return model, label


def pair_facts(pair: Pair) -> list[tuple[str, str]]:
    """Return (name, value) of every attribute of a pair, in the order in which a dealer looks."""
    foot = _foot(pair.foot_mm) if pair.foot_mm is not None else NOT_READ if pair.size_label else ""
    return [
        ("Silhouette", show_words(pair.silhouette, 120)),
        ("Colourway", _one(pair.colourway)),
        ("Era", _one(pair.era)),
        ("Size", _one(", ".join(part for part in (pair.size_text, foot) if part))),
        ("Grade", f"{pair.grade:g} of 10" if pair.grade is not None else NOT_KNOWN),
        *((name.capitalize(), _one(getattr(pair, name))) for name in CLOSED),
        ("Other parts", _several(pair.parts)),
        ("Defects", _several(pair.defects)),
        ("Treatments", _several(pair.treatments)),
        ("Venue", _one(pair.venue)),
    ]


def source_line(answer: Sourced) -> str:
    """Return the source and as-of date that a chart states where it leaves its page."""
    source = answer.source
    return (
        f"{formats.counted(source.records, 'sale record')} to {formats.day(source.last_sale)}, "
        f"as of {formats.day(answer.as_of)}, fit {show_words(source.fit_id, 40)}."
    )


def check_prices(appraisal: Appraisal) -> None:
    """Raise ReportError where an appraisal holds a price that is not finite, or not above zero."""
    prices = [
        ("median", appraisal.median),
        ("start price", appraisal.start_price),
        *(("band", end) for band in appraisal.bands for end in (band.low, band.high)),
        *(("price after a step", step.price_after) for step in appraisal.steps),
        *(("price paid", sale.price_paid) for sale in appraisal.comparables),
        *(("adjusted price", sale.adjusted_price) for sale in appraisal.comparables),
    ]
    wrong = [(name, price) for name, price in prices if not (math.isfinite(price) and price > 0)]
    if wrong:
        name, price = wrong[0]
        raise ReportError(
            f"this appraisal cannot be shown: its {name} is {price} ({formats.counted(len(wrong), 'such price')})",
            "run `pairband fit` again.",
        )


def _foot(length: int) -> str:
    """Return a foot length, and the step of sizes at which it is valued where that is another."""
    valued = SIZE_STEP_MM * round(length / SIZE_STEP_MM)
    return f"{length} mm foot" + (f" (valued as {valued} mm)" if valued != length else "")


def _one(value: str | None) -> str:
    return (show_words(value, 120) or UNREADABLE) if value else NOT_KNOWN


def _several(values: tuple[str, ...] | None) -> str:
    if values is None:
        return NOT_KNOWN
    return (show_words(", ".join(values), 240) or UNREADABLE) if values else NONE_FOUND
