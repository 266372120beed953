"""What must be said beside a value, in whole sentences."""

from collections.abc import Sequence
from datetime import date

from pipeline.config import Market
from pipeline.decisions.attributes import SINGULAR, TITLES, attribute_of
from pipeline.decisions.fitted_market import FittedMarket
from pipeline.decisions.market_model import ANY_VENUE, month_number
from pipeline.decisions.pair import Pair
from pipeline.errors import suggest

FEW_SALES = 5


def cautions(
    pair: Pair,
    fitted: FittedMarket,
    market: Market,
    *,
    as_of: date,
    unseen: Sequence[str],
    beyond: Sequence[str],
    kin: int,
) -> tuple[str, ...]:
    """Return the cautions of an appraisal.

    `unseen` and `beyond` name the terms for which the pair lies outside the records; `kin` counts the
    sales of the same silhouette up to `as_of`.
    """
    told: list[str] = []
    attributes = {
        name: attribute_of(factor.term.columns)
        for factor in fitted.fit.design.factors
        for name in [factor.term.name]
    }
    missing = {attributes[term] for term in unseen}
    if "silhouette" in missing or kin == 0:
        known = [silhouette.name for silhouette in market.silhouettes]
        hint = suggest(pair.silhouette, known)
        told.append(
            f"No sale of the silhouette {pair.silhouette!r} is in the records: the value is that of an average "
            f"silhouette, and the band as wide as silhouettes differ. ({hint})"
        )
    elif kin < FEW_SALES:
        told.append(
            f"Only {kin} {'sale' if kin == 1 else 'sales'} of this silhouette: it borrows from its kin."
        )
    if "colourway" in missing and "silhouette" not in missing and pair.colourway:
        told.append(
            f"No sale of this silhouette in {pair.colourway!r} is in the records: an average colourway is assumed."
        )
    for attribute in ("era", "grade", "box", "tags", "overlay", "parts", "defects", "treatments"):
        if attribute in missing and not (attribute == "era" and "silhouette" in missing):
            name = SINGULAR.get(attribute, attribute)
            told.append(
                f"No sale with this {name} stands behind its step of the value; the band allows for that."
            )
    if fitted.uncalibrated:
        told.append(fitted.uncalibrated)
    told.extend(_dates(fitted, as_of))
    if any(attributes[term] in ("size_mm", "grade") for term in beyond):
        names = sorted(
            {
                TITLES.get(attributes[t], attributes[t])
                for t in beyond
                if attributes[t] in ("size_mm", "grade")
            }
        )
        told.append(
            f"The {' and '.join(names)} lies outside those sold: its effect is drawn on from the nearest."
        )
    told.extend(_not_known(pair))
    if pair.treatments:
        told.append(
            "Say to a buyer what was restored: the discount in the value supposes that buyers know of it."
        )
    return tuple(told)


def _dates(fitted: FittedMarket, as_of: date) -> list[str]:
    months = month_number(as_of) - month_number(fitted.last_sale)
    if months > 0:
        return [
            f"Valued {months} {'month' if months == 1 else 'months'} after the last sale ({fitted.last_sale}): "
            "the level of that month is carried on, and the band widened by what the market may have done since."
        ]
    if as_of < fitted.first_sale:
        return [
            f"Valued before the first sale ({fitted.first_sale}): the level of that month is carried back."
        ]
    if as_of < fitted.last_sale:
        return [
            f"Valued at a day inside the records: sales up to {fitted.last_sale} are known to the fit, so this is not "
            "what could have been said on that day."
        ]
    return []


def _not_known(pair: Pair) -> list[str]:
    unknown = [
        name
        for name, value in (
            ("colourway", pair.colourway),
            ("era", pair.era),
            ("size", pair.foot_mm),
            ("grade", pair.grade),
            ("box", pair.box),
            ("tags", pair.tags),
            ("defects", pair.defects),
            ("treatments", pair.treatments),
        )
        if value is None or value == "unknown"
    ]
    told = []
    if unknown:
        told.append(
            f"Not known: {', '.join(unknown)}. Priced as pairs are of which it is not said; look, and value again."
        )
    if pair.venue is None or pair.venue == ANY_VENUE:
        told.append("For no venue in particular: the band allows for what venues differ by.")
    return told
