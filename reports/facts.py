"""What is known of a pair, and of where its figures come from, as a page says it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Protocol

from pipeline import formats
from pipeline.answers.appraisal.appraisal import Appraisal
from pipeline.answers.appraisal.cautions import Caution, weakness_names
from pipeline.answers.appraisal.sentences import WEAKNESSES, weakness_key
from pipeline.answers.sheet import NOT_KNOWN
from pipeline.errors import ReportError
from pipeline.market.fitted_market import Source
from pipeline.market.pair import CLOSED, Pair
from pipeline.phrases.phrases import ENGLISH, Phrases
from pipeline.schema import GRADES, SIZE_STEP_MM
from pipeline.untrusted import show_sentences, show_words


class Sourced(Protocol):
    """An answer that says where its figures come from, and as of which day."""

    @property
    def source(self) -> Source:
        """The fit and the records behind it."""

    @property
    def as_of(self) -> date:
        """The day of valuation."""


UNREADABLE = ENGLISH.say("value_unreadable")
OUTSIDE = (
    "Outside the data: no sale of this silhouette. The figures are a first guess from other silhouettes; the band is "
    "wide because so little is known."
)


@dataclass(frozen=True)
class Notice:
    """What stands above a value that is weak: why, in few words, and the sentences that say so."""

    heading: str
    sentences: tuple[str, ...]


def weak_notice(
    weak: Sequence[Caution], *, in_support: bool = True, language: Phrases = ENGLISH
) -> Notice | None:
    """Return what stands above a value, None where it is not weak; a pair not `in_support` has no sale of its kind."""
    if not weak:
        return None
    few = WEAKNESSES["few sales"]
    said = [one.words for one in weak if one.words and (in_support or one.weakness != few)]
    sentences = (*((OUTSIDE,) * (not in_support)), *map(language.translate, said))
    return Notice(
        language.say("weak_evidence", reasons=_reasons(weak, language)), tuple(map(show_sentences, sentences))
    )


def _reasons(weak: Sequence[Caution], language: Phrases) -> str:
    """Return in few words why a value is weak."""
    if language.is_english:
        return weakness_names(weak)
    said = dict.fromkeys(language.say(weakness_key(one.weakness)) for one in weak if one.weakness)
    return language.texts["reason_mark"].join(said)


def cautions_below(cautions: Sequence[str], notice: Notice | None, language: Phrases = ENGLISH) -> list[str]:
    """Return the cautions that stand at the foot of a page: those that its notice does not say."""
    shown = [show_sentences(language.translate(caution)) for caution in cautions]
    return [words for words in shown if notice is None or words not in notice.sentences]


def pair_heading(pair: Pair) -> tuple[str, str]:
    """Return the page's heading and what stands under it (what the owner calls the pair; it may be empty)."""
    model = show_words(" ".join(part for part in (pair.silhouette, pair.colourway) if part), 120)
    label = show_words(pair.label, 120)
    return model, label


def pair_facts(pair: Pair) -> list[tuple[str, str]]:
    """Return (name, value) of every attribute of a pair, in the order in which a dealer looks."""
    said = described(pair)
    facts = [
        (ENGLISH.say(f"fact_{key}"), NOT_KNOWN if value is None else value) for key, value in said.items()
    ]
    return [*facts, ("Venue", NOT_KNOWN if not pair.venue else show_words(pair.venue, 120) or UNREADABLE)]


def described(pair: Pair, language: Phrases = ENGLISH) -> dict[str, str | None]:
    """Return the value of every attribute of a pair but the venue, by its name; None for what is not known."""

    def one(value: str | None) -> str | None:
        return (show_words(value, 120) or language.say("value_unreadable")) if value else None

    def several(values: tuple[str, ...] | None) -> str | None:
        if not values:
            return None if values is None else language.say("value_none_found")
        return show_words(language.listed(values), 240) or language.say("value_unreadable")

    def grade(value: float) -> str:
        figure = formats.number(value, 3, language.locale)
        return language.say("grade_of", grade=figure, best=f"{GRADES[-1]:g}")

    not_read = language.say("value_not_read") if pair.size_label else ""
    foot = _foot(pair.foot_mm, language) if pair.foot_mm is not None else not_read
    closed = {name: getattr(pair, name) for name in CLOSED}
    return {
        "silhouette": show_words(pair.silhouette, 120),
        "colourway": one(pair.colourway),
        "era": one(pair.era),
        "size": one(language.listed([part for part in (pair.size_text, foot) if part])),
        "grade": None if pair.grade is None else grade(pair.grade),
        **{name: language.say(f"value_{value}") if value else None for name, value in closed.items()},
        "parts": several(pair.parts),
        "defects": several(pair.defects),
        "treatments": several(pair.treatments),
    }


def source_line(answer: Sourced) -> str:
    """Return the source and as-of date that a chart states where it leaves its page."""
    source = answer.source
    return (
        f"{source.sale_records} to {formats.day(source.last_sale)}, "
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


def _foot(length: int, language: Phrases) -> str:
    """Return a foot length, and the step of sizes at which it is valued where that is another."""
    valued = SIZE_STEP_MM * round(length / SIZE_STEP_MM)
    return language.say("foot" if valued == length else "foot_valued", length=length, valued=valued)
