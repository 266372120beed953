"""The warnings that belong with a value, in whole sentences."""

from collections.abc import Sequence
from datetime import date

from pipeline import formats
from pipeline.config import Market
from pipeline.errors import suggest
from pipeline.hedonic.fitted import Fit
from pipeline.market.attributes import SINGULAR, TITLES, attributes_by_term
from pipeline.market.fitted_market import FittedMarket
from pipeline.market.model import ANY_VENUE, month_number
from pipeline.market.pair import Pair

FEW_SALES = 5

SENTENCES: dict[str, str] = {
    "no silhouette": "No sale of the silhouette '{silhouette}' is in the records: the value is that of an average "
    "silhouette, and the band as wide as silhouettes differ. ({hint})",
    "later sales": "No sale of this silhouette up to this day is in the records: its effect rests on later sales, "
    "which the fit has seen.",
    "few sales": "Only {count} of this silhouette: much of its value comes from similar models.",
    "no colourway": "No sale of this silhouette in '{colourway}' is in the records: an average colourway is assumed.",
    "no attribute": "No sale in the records shares its {names}: what they add or take off is estimated from similar "
    "models, and the band is wider for it.",
    "extrapolated": "The {names} lies outside those sold: its effect is extrapolated from the nearest.",
    "not known": "Not known: {names}. Priced as if unstated; check and run again.",
    "any venue": "No venue chosen, so the band is wider.",
    "restored": "Tell the buyer what was restored: the value assumes that buyers know of it.",
}
"""The sentences that depend on the pair; the pricing page shows them too."""

STEPPED: tuple[str, ...] = ("era", "grade", "box", "tags", "overlay", "parts", "defects", "treatments")
"""The attributes whose step may have no sale behind it, in the order in which they are named."""

EXTRAPOLATED: tuple[str, ...] = ("grade", "size_mm")
"""The attributes on a curve, which is extrapolated past its ends."""

ASKED: dict[str, str] = {
    "colourway": "colourway",
    "era": "era",
    "size": "foot_mm",
    "grade": "grade",
    "box": "box",
    "tags": "tags",
    "defects": "defects",
    "treatments": "treatments",
}
"""What a dealer should know of a pair, by the field of Pair that holds it."""


def cautions(
    pair: Pair,
    fitted: FittedMarket,
    market: Market,
    *,
    as_of: date,
    unseen: Sequence[str],
    extrapolated: Sequence[str],
    own_sales: int,
) -> tuple[str, ...]:
    """Return the cautions of an appraisal, after those on how the pair's words were read.

    `unseen` and `extrapolated` name the terms for which the pair lies outside the records; `own_sales` counts the
    sales of the same silhouette up to `as_of`.
    """
    stated: list[str] = [*(cell.words for cell in pair.unread), *pair.read_as]
    attributes = attributes_by_term(fitted.fit.specification.terms)
    missing = {attributes[term] for term in unseen}
    if not knows_silhouette(fitted.fit, unseen, own_sales=own_sales):
        hint = silhouette_hint(pair.silhouette, market)
        stated.append(SENTENCES["no silhouette"].format(silhouette=pair.silhouette, hint=hint))
    elif own_sales == 0:
        stated.append(SENTENCES["later sales"])
    elif own_sales < FEW_SALES:
        stated.append(SENTENCES["few sales"].format(count=formats.counted(own_sales, "sale")))
    if "colourway" in missing and "silhouette" not in missing and pair.colourway:
        stated.append(SENTENCES["no colourway"].format(colourway=pair.colourway))
    steps = [
        SINGULAR.get(attribute, attribute)
        for attribute in STEPPED
        if attribute in missing and not (attribute == "era" and "silhouette" in missing)
    ]
    if steps:
        stated.append(SENTENCES["no attribute"].format(names=", ".join(steps)))
    if fitted.uncalibrated:
        stated.append(fitted.uncalibrated)
    stated.extend(date_cautions(fitted, as_of))
    outside = {attributes[term] for term in extrapolated} & set(EXTRAPOLATED)
    if outside:
        names = " and ".join(TITLES.get(name, name) for name in EXTRAPOLATED if name in outside)
        stated.append(SENTENCES["extrapolated"].format(names=names))
    stated.extend(_not_known(pair))
    if pair.treatments:
        stated.append(SENTENCES["restored"])
    return tuple(stated)


def knows_silhouette(fit: Fit, unseen: Sequence[str], *, own_sales: int) -> bool:
    """Tell whether there are sales of the silhouette behind a value.

    They do where the fit has an effect for it (`unseen` names the terms for which it has none); in a model without
    silhouettes, where the records hold such sales (`own_sales`).
    """
    attributes = attributes_by_term(fit.specification.terms)
    named = {term for term, attribute in attributes.items() if attribute == "silhouette"}
    return not named & set(unseen) if named else own_sales > 0


def silhouette_hint(silhouette: str, market: Market) -> str:
    """Return which known silhouettes may be meant by a name that no sale carries."""
    return suggest(silhouette, [known.name for known in market.silhouettes])


def date_cautions(fitted: FittedMarket, as_of: date) -> list[str]:
    """Return the warnings about the day of valuation and the days of the sales."""
    months = month_number(as_of) - month_number(fitted.last_sale)
    if months > 0:
        return [
            f"Valued {time_between(fitted.last_sale, as_of)} after the last sale ({formats.day(fitted.last_sale)}): "
            "prices are taken at that month's level, and the band is wider by what the market may have done since."
        ]
    if as_of < fitted.first_sale:
        return [
            f"Valued before the first sale ({formats.day(fitted.first_sale)}): prices are taken at that month's level."
        ]
    if as_of < fitted.last_sale:
        return [
            f"Valued on a day inside the records: the fit knows the sales up to {formats.day(fitted.last_sale)}, so "
            "this is not what could have been said on that day."
        ]
    return []


def time_between(earlier: date, later: date) -> str:
    """Return the time from one day to a later one in words: in days up to two months, then in whole months."""
    months = month_number(later) - month_number(earlier) - (later.day < earlier.day)
    days = (later - earlier).days
    if months < 2:
        return formats.counted(days, "day")
    return f"{months} months"


def _not_known(pair: Pair) -> list[str]:
    values = {name: getattr(pair, field) for name, field in ASKED.items()}
    unknown = [name for name, value in values.items() if value is None or value == "unknown"]
    stated = []
    if unknown:
        stated.append(SENTENCES["not known"].format(names=", ".join(unknown)))
    if pair.venue is None or pair.venue == ANY_VENUE:
        stated.append(SENTENCES["any venue"])
    return stated
