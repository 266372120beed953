"""The warnings that belong with a value, in whole sentences, and which of them make it weak."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import polars as pl

from pipeline import formats
from pipeline.answers.appraisal.sentences import SENTENCES, WEAKNESSES, phrase_key
from pipeline.config import Market
from pipeline.errors import suggest
from pipeline.hedonic.fitted import Fit
from pipeline.market.attributes import SINGULAR, TITLES, attributes_by_term
from pipeline.market.fitted_market import FittedMarket
from pipeline.market.model import ANY_VENUE, month_number
from pipeline.market.pair import Pair
from pipeline.phrases.phrases import ENGLISH, Phrases, Sentence, Value
from pipeline.schema import UNKNOWN

FEW_SALES = 5
"""A value is weak with fewer sales of its silhouette: under five, most of it may come from similar models."""

OLD_DAYS = 92
"""A value is weak if its day is further from the last sale: a quarter, in which a dealer at work sells something."""

STEPPED: tuple[str, ...] = ("grade", "box", "tags", "overlay", "parts", "defects", "treatments")
"""The attributes whose step may have no sale behind it, in the order in which they are named."""

EXTRAPOLATED: tuple[str, ...] = ("grade", "size_mm")
"""The attributes on a curve, which is extrapolated past its ends."""

PLURAL: dict[str, str] = {one: several for several, one in SINGULAR.items()}
"""What an attribute of which a pair has several is called on a sheet, by the name of one."""

ASKED: dict[str, str] = {
    "colourway": "colourway",
    "size": "foot_mm",
    "grade": "grade",
    "box": "box",
    "tags": "tags",
    "defects": "defects",
    "treatments": "treatments",
}
"""What a dealer should know of a pair, by the field of Pair that holds it."""


@dataclass(frozen=True)
class Caution:
    """A warning: `words` is a sentence; `weakness` says in few words why the value itself is in doubt ("": it is not).

    Weaknesses are those of WEAKNESSES; their sentences stand above the value, all other cautions below it.
    """

    words: str
    weakness: str = ""


def cautions(
    pair: Pair,
    fitted: FittedMarket,
    market: Market,
    *,
    as_of: date,
    unseen: Sequence[str],
    extrapolated: Sequence[str],
    own_sales: int,
    stale: str = "",
) -> tuple[Caution, ...]:
    """Return the cautions of an appraisal: of the fit where it is `stale`, of the pair, then of the fit again."""
    of_pair = pair_cautions(
        pair, fitted, market, unseen=unseen, extrapolated=extrapolated, own_sales=own_sales
    )
    return (*stale_cautions(stale), *of_pair, *fit_cautions(fitted, as_of))


def pair_cautions(
    pair: Pair,
    fitted: FittedMarket,
    market: Market,
    *,
    unseen: Sequence[str],
    extrapolated: Sequence[str],
    own_sales: int,
) -> tuple[Caution, ...]:
    """Return the cautions of a pair's own value, after those on how the pair's words were read.

    `unseen` and `extrapolated` name the terms for which the pair lies outside the records; `own_sales` counts the
    sales of the same silhouette up to the day of valuation.
    """
    stated = [Caution(words) for words in (*(cell.words for cell in pair.unread), *pair.read_as)]
    attributes = attributes_by_term(fitted.fit.specification.terms)
    missing = {attributes[term] for term in unseen}
    if not knows_silhouette(fitted.fit, unseen, own_sales=own_sales):
        hint = silhouette_hint(pair.silhouette, market)
        said = SENTENCES["no silhouette"].format(silhouette=pair.silhouette, hint=hint)
        stated.append(_said("no silhouette", said, silhouette=pair.silhouette))
    elif own_sales == 0:
        stated.append(_said("later sales"))
    elif own_sales < FEW_SALES:
        said = SENTENCES["few sales"].format(count=formats.counted(own_sales, "sale"))
        stated.append(_said("few sales", said, count=lambda language: language.counted(own_sales, "sale")))
    if pair.era is None:
        stated.append(_said("era not known"))
    elif set(unseen) & set(terms_of_era(fitted.fit)):
        stated.append(_said("no era"))
    elif "era" in missing and "silhouette" not in missing:
        stated.append(_said("no such era of it"))
    if "colourway" in missing and "silhouette" not in missing and pair.colourway:
        stated.append(_said("no colourway", colourway=pair.colourway))
    steps = [
        SINGULAR.get(attribute, attribute)
        for attribute in STEPPED
        if attribute in missing and getattr(pair, attribute) not in (None, UNKNOWN)
    ]
    if steps:
        stated.append(_said_of("no attribute", steps, ", "))
    outside = {attributes[term] for term in extrapolated} & set(EXTRAPOLATED)
    if outside:
        stated.append(
            _said_of(
                "extrapolated", [TITLES.get(name, name) for name in EXTRAPOLATED if name in outside], " and "
            )
        )
    stated.extend(_not_known(pair))
    if pair.treatments:
        stated.append(_said("restored"))
    return tuple(stated)


def stale_cautions(stale: str) -> tuple[Caution, ...]:
    """Return the caution that a fit is older than the records or the market file: nothing where it is not."""
    return (Caution(stale, WEAKNESSES["stale"]),) if stale else ()


def fit_cautions(fitted: FittedMarket, as_of: date) -> tuple[Caution, ...]:
    """Return the cautions on every value of a fit at a day: of its bands, and of the days of the sales."""
    if not fitted.uncalibrated:
        return date_cautions(fitted, as_of)
    untested = _said("uncalibrated", fitted.uncalibrated)
    return (untested, *date_cautions(fitted, as_of))


def weak_ones(stated: Iterable[Caution]) -> tuple[Caution, ...]:
    """Return the cautions that put the value itself in doubt."""
    return tuple(caution for caution in stated if caution.weakness)


def many_weak(weak: pl.Series, pairs: str) -> tuple[Caution, ...]:
    """Return the caution on pairs of which half or more have a weak value; `pairs` names them.

    `weak` says for each in few words why, null where its value is not weak.
    """
    known = weak.drop_nulls()
    if not len(known) or 2 * len(known) < len(weak):
        return ()
    why = "; ".join(dict.fromkeys(reason for reasons in known for reason in reasons.split("; ")))
    return (Caution(f"Of the {pairs}, {len(known)} have a value on weak evidence: {why}.", why),)


def weakness_names(weak: Iterable[Caution]) -> str:
    """Return in few words, each once, why a value is weak: "too few sales; bands not tested"; "" where it is not."""
    return "; ".join(dict.fromkeys(caution.weakness for caution in weak if caution.weakness))


def state_weakness(weak: Iterable[Caution]) -> str:
    """Return the line that stands above a value that is weak; "" where it is not."""
    names = weakness_names(weak)
    return f"Weak evidence: {names}." if names else ""


def weak_values(
    factors: pl.DataFrame, fit: Fit, unseen: pl.Series, extrapolated: pl.Series, sales: pl.DataFrame
) -> pl.DataFrame:
    """Return of many pairs at once what `pair_cautions` calls weak: one row a pair, (few, undated, outside), Boolean.

    `factors` have the pairs' silhouette and era, `unseen` and `extrapolated` the terms for which each lies outside the
    records; `sales` are the priced sales up to the day of valuation.
    """
    attributes = attributes_by_term(fit.specification.terms)
    of_silhouette, of_era, on_curves = (
        [term for term, attribute in attributes.items() if attribute in wanted]
        for wanted in (("silhouette",), ("era",), EXTRAPOLATED)
    )

    def among(terms: pl.Series, names: Sequence[str]) -> pl.Series:
        return terms.list.set_intersection(list(names)).list.len() > 0

    counted = sales.group_by("silhouette").len("own")
    own = factors.select("silhouette").join(counted, on="silhouette", how="left", maintain_order="left")
    nameless = among(unseen, of_silhouette)
    dated = factors["era"].is_not_null()
    no_era = among(unseen, terms_of_era(fit)) | (among(unseen, of_era) & ~nameless)
    return pl.DataFrame(
        {
            "few": nameless | (own["own"].fill_null(0) < FEW_SALES),
            "undated": ~dated,
            "outside": (dated & no_era) | among(extrapolated, on_curves),
        }
    )


def weakness_column(weak: pl.DataFrame) -> pl.Series:
    """Return in few words why each value of `weak_values` is weak, null where it is not."""
    names = (WEAKNESSES[key] for key in ("few sales", "era not known", "extrapolated"))
    stated = (
        pl.when(pl.col(column)).then(pl.lit(name, pl.String))
        for column, name in zip(weak.columns, names, strict=True)
    )
    joined = pl.concat_str(*stated, separator="; ", ignore_nulls=True)
    return weak.select(weak=pl.when(joined != "").then(joined)).to_series()


def marked_name(row: Mapping[str, Any]) -> str:
    """Return the name of a row's `pair`, with an asterisk where the row says that its value is `weak`."""
    return f"{row['pair']} *" if row["weak"] else str(row["pair"])


def explain_marks(rows: pl.DataFrame) -> str:
    """Return what the asterisks of `marked_name` mean, in the order of the rows; "" where there is none."""
    marked = (
        rows.drop_nulls("weak")
        .group_by("weak", maintain_order=True)
        .agg(pl.col("pair").unique(maintain_order=True))
    )
    reasons = [f"{weak} ({', '.join(pairs)})" for weak, pairs in marked.iter_rows()]
    return f" * Weak evidence for the value: {'; '.join(reasons)}." if reasons else ""


def terms_of_era(fit: Fit) -> tuple[str, ...]:
    """Return the names of the terms of the era alone, which an owner may choose freely."""
    return tuple(term.name for term in fit.specification.terms if term.columns == ("era",))


def _said(key: str, said: str = "", **values: Value) -> Caution:
    """Return a caution of SENTENCES, or what is `said` in its stead in English, with the values of other languages."""
    text = said or SENTENCES[key].format(**values)
    return Caution(Sentence.of(text, phrase_key(key), **values), WEAKNESSES.get(key, ""))


def _said_of(key: str, attributes: Sequence[str], mark: str) -> Caution:
    """Return a caution on attributes, by their names, which `mark` parts in English."""

    def names(language: Phrases) -> str:
        return language.listed([language.say(f"fact_{PLURAL.get(name, name)}") for name in attributes])

    return _said(key, SENTENCES[key].format(names=mark.join(attributes)), names=names)


def knows_silhouette(fit: Fit, unseen: Sequence[str], *, own_sales: int) -> bool:
    """Tell whether there are sales of the silhouette behind a value.

    They do where the fit has an effect for it (`unseen` names the terms for which it has none); in a model without
    silhouettes, where the records hold such sales (`own_sales`).
    """
    attributes = attributes_by_term(fit.specification.terms)
    named = {term for term, attribute in attributes.items() if attribute == "silhouette"}
    return not named & set(unseen) if named else own_sales > 0


def silhouette_hint(silhouette: str, market: Market) -> str:
    """Return which known silhouettes may be meant by a name that no sale carries; "" where it is one of them."""
    known = [one.name for one in market.silhouettes]
    return "" if silhouette in known else f" ({suggest(silhouette, known)})"


def date_cautions(fitted: FittedMarket, as_of: date) -> tuple[Caution, ...]:
    """Return the warnings about the day of valuation and the days of the sales."""
    if month_number(as_of) > month_number(fitted.last_sale):
        old = (as_of - fitted.last_sale).days > OLD_DAYS
        after = Sentence.saying(
            "caution_after_last_sale" if fitted.fit.trend is None else "caution_after_last_sale_by_trend",
            time=lambda language: time_between(fitted.last_sale, as_of, language),
            day=lambda language: language.day(fitted.last_sale),
        )
        return (Caution(after, WEAKNESSES["old sales"] if old else ""),)
    if as_of < fitted.first_sale:
        before = Sentence.saying(
            "caution_before_first_sale",
            day=lambda language: language.day(fitted.first_sale),
        )
        return (Caution(before, WEAKNESSES["before the sales"]),)
    if as_of < fitted.last_sale:
        within = Sentence.saying(
            "caution_within_records",
            day=lambda language: language.day(fitted.last_sale),
        )
        return (Caution(within),)
    return ()


def time_between(earlier: date, later: date, language: Phrases = ENGLISH) -> str:
    """Return the time from one day to a later one in words: in days up to two months, then in whole months."""
    months = month_number(later) - month_number(earlier) - (later.day < earlier.day)
    days = (later - earlier).days
    return language.counted(days, "day") if months < 2 else language.counted(months, "month")


def _not_known(pair: Pair) -> list[Caution]:
    values = {name: getattr(pair, field) for name, field in ASKED.items()}
    unknown = [name for name, value in values.items() if value in (None, UNKNOWN)]
    stated = [_said_of("not known", unknown, ", ")] if unknown else []
    if pair.venue is None or pair.venue == ANY_VENUE:
        stated.append(_said("any venue"))
    return stated
