"""What must hold, and what is worth saying, between the names and amounts of a market file."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING

from babel.numbers import get_currency_precision

from pipeline.alike import fold_all
from pipeline.errors import suggest
from pipeline.schema import CLOSED_FIELDS

if TYPE_CHECKING:
    from pipeline.config import Colourway, Era, FeeSchedule, Maker, Market, Silhouette

SHARE_DECIMALS = 6
"""Decimals of a share: 0.123456 is 12.3456 %, finer than any venue states its fee."""

MOST_OF_A_PRICE = Decimal("0.9")
"""What a seller's fee may take of each further unit of a price, tax included."""


def refuse_alike(groups: Mapping[str, Iterable[str]]) -> None:
    """Raise ValueError where two names of a group are one by the rule of `pipeline.alike`."""
    named = [(what, name) for what, names in groups.items() for name in names]
    seen: dict[tuple[str, str], str] = {}
    for (what, name), form in zip(named, fold_all(name for _, name in named), strict=True):
        if (what, form) in seen:
            first = seen[what, form]
            differ = (
                f": {first!r} and {name!r} differ by case, accents or spaces only" if first != name else ""
            )
            raise ValueError(f"`{what}` holds the name {first!r} twice{differ}")
        seen[what, form] = name


def refuse_two_meanings(groups: Mapping[str, Mapping[str, str]]) -> None:
    """Raise ValueError where words of a group are one by the rule of `pipeline.alike` and mean different things."""
    named = [(what, word) for what, words in groups.items() for word in words]
    seen: dict[tuple[str, str], str] = {}
    for (what, word), form in zip(named, fold_all(word for _, word in named), strict=True):
        first = seen.setdefault((what, form), word)
        if groups[what][first] != groups[what][word]:
            raise ValueError(
                f"`{what}` gives {first!r} and {word!r} different meanings, and they are one word: they differ by "
                "case, accents or spaces only"
            )


def refuse_falling_chart(maker: "Maker") -> None:
    """Raise ValueError where the sizes of a maker's chart do not rise from row to row, or a row tells no size."""
    last: dict[str, float] = {}
    for number, row in enumerate(maker.sizes, 1):
        if len(row) < 2:
            raise ValueError(
                f"row {number} of `sizes` of {maker.name!r} needs a size in two systems, or its foot_mm"
            )
        for system, size in row.items():
            if size <= last.get(system, 0.0):
                raise ValueError(
                    f"`sizes` of {maker.name!r} must rise from row to row: {system} {last[system]:g} stands before "
                    f"{size:g} (row {number})"
                )
            last[system] = size


ODDS_SLACK = 0.005
"""How far the sum of the chances of eras may differ from 1, for rounding."""


def refuse_odd_prior(prior: Mapping[str, float], eras: Sequence[str]) -> None:
    """Raise ValueError where the prior of the eras names none of them, leaves one out, or does not come to 1."""
    if not prior:
        return
    for name in prior:
        if name not in eras:
            raise ValueError(f"`era_odds.prior` names {name!r}, which is no era; {suggest(name, eras)}")
    for era in eras:
        if era not in prior:
            raise ValueError(
                f"`era_odds.prior` leaves out the era {era!r}: give each a chance, if a small one"
            )
    total = sum(prior.values())
    if abs(total - 1) > ODDS_SLACK:
        raise ValueError(f"`era_odds.prior` comes to {total:g}: the chances must come to 1")


def with_common_colourways(silhouette: "Silhouette", common: "tuple[Colourway, ...]") -> "Silhouette":
    """Return a silhouette with the common colourways of which it lists none of its own by that name.

    Raises ValueError where a phrase stands for one of its own and for another that is common.
    """
    own = {form: one.name for one in silhouette.colourways for form in fold_all((one.name, *one.phrases))}
    names = set(fold_all(one.name for one in silhouette.colourways))
    added = [
        one
        for one, form in zip(common, fold_all(one.name for one in common), strict=True)
        if form not in names
    ]
    for one in added:
        for phrase, form in zip((one.name, *one.phrases), fold_all((one.name, *one.phrases)), strict=True):
            if form in own:
                raise ValueError(
                    f"the phrase {phrase!r} stands for the colourway {own[form]!r} of {silhouette.name!r} and for "
                    f"{one.name!r} of the common `colourways`; give {silhouette.name!r} a {one.name!r} of its own"
                )
    return silhouette.model_copy(update={"colourways": (*silhouette.colourways, *added)})


def faults_of(market: "Market") -> tuple[str, ...]:
    """Return what is wrong with the amounts, shares and encodings of a market file, in sentences.

    An amount has no more decimals than its currency, a share no more than SHARE_DECIMALS, a seller's fee leaves
    something of each further unit of the price, an encoding is one of text, and a language has all its phrases.
    """
    return (
        *_fine_amounts(market),
        *_fees_beyond(market),
        *_unknown_encodings(market),
        *_phrases_missing(market),
    )


def _phrases_missing(market: "Market") -> Iterator[str]:
    if market.phrases or market.business.language != "en":
        from pipeline.phrases.languages import faults_of_phrases

        yield from faults_of_phrases(market)


def _unknown_encodings(market: "Market") -> Iterator[str]:
    for name, export_map in market.maps.items():
        try:
            "".encode(export_map.encoding or "utf-8")
        except (LookupError, ValueError):
            yield (
                f"`maps.{name}.encoding`: no encoding is called {export_map.encoding!r}; usual ones are utf-8 and "
                "cp1252"
            )


def _fine_amounts(market: "Market") -> Iterator[str]:
    for key, amount, currency in _amounts(market):
        digits = get_currency_precision(currency)
        if amount != round(amount, digits):
            most = f"has at most {digits} decimals" if digits else "is a whole number"
            yield f"{key} is {amount}; an amount in {currency} {most}"


def _fees_beyond(market: "Market") -> Iterator[str]:
    shares = [("`buying.margin`", market.buying.margin)]
    if market.selling.tax_rate is not None:
        shares += [("`selling.tax_rate`", market.selling.tax_rate)]
    for one in market.imports:
        of = f"of the import from {one.venue or one.country!r}"
        shares += [(f"`duty_rate` {of}", one.duty_rate), (f"`tax_rate` {of}", one.tax_rate)]
    for of, schedule, _ in _schedules(market):
        shares += [(f"`tax_rate` {of}", schedule.tax_rate)]
        shares += [(f"`rate` {of}", tier.rate) for tier in schedule.tiers]
        most = max(tier.rate for tier in schedule.tiers) * (1 + schedule.tax_rate)
        if schedule.party == "seller" and most > MOST_OF_A_PRICE:
            yield (
                f"the fee {of} takes {most:.1%} of each further unit of the price, tax included; "
                f"{MOST_OF_A_PRICE:.0%} is the most"
            )
    shares += [
        (f"`maps.{name}.tax_rate`", one.tax_rate)
        for name, one in market.maps.items()
        if one.tax_rate is not None
    ]
    for key, share in shares:
        if share != round(share, SHARE_DECIMALS):
            yield f"{key} is {share}; a share has at most {SHARE_DECIMALS} decimals"


def _schedules(market: "Market") -> Iterator[tuple[str, "FeeSchedule", str]]:
    """Yield every fee schedule with whose it is and its currency."""
    for schedule in market.consigning.commission:
        yield f"of `consigning.commission` from {schedule.starts_on}", schedule, market.base_currency
    for venue in market.venues:
        for schedule in venue.fees:
            of = f"of the venue {venue.name!r}, {schedule.party}, from {schedule.starts_on}"
            yield of, schedule, venue.currency


def _amounts(market: "Market") -> Iterator[tuple[str, Decimal, str]]:
    """Yield every amount of money with its key and its currency."""
    base = market.base_currency
    for treatment in market.treatments:
        yield f"`materials` of the treatment {treatment.name!r}", treatment.materials, base
    yield "`workshop.money`", market.workshop.money, base
    yield "`workshop.hour_cost`", market.workshop.hour_cost, base
    yield "`buying.costs`", market.buying.costs, base
    for one in market.imports:
        yield f"`freight` of the import from {one.venue or one.country!r}", one.freight, base
    for of, schedule, currency in _schedules(market):
        for key, amount in schedule.amounts():
            yield f"`{key}` {of}", amount, currency
    for venue in market.venues:
        if venue.freight is not None:
            yield f"`freight` of the venue {venue.name!r}", venue.freight, base
        for increment in venue.increments:
            of = f"of the increments of the venue {venue.name!r}"
            yield f"`step` {of}", increment.step, venue.currency
            if increment.up_to is not None:
                yield f"`up_to` {of}", increment.up_to, venue.currency


def remarks_on(market: "Market") -> tuple[str, ...]:
    """Return what the owner should know of years and phrases, in sentences; none of it is a fault."""
    return (*_shared_years(market.eras), *_shared_phrases(market))


def _shared_years(eras: "tuple[Era, ...]") -> Iterator[str]:
    """Yield a sentence for every two eras that share years."""
    for number, one in enumerate(eras):
        for other in eras[number + 1 :]:
            first = max(one.first_year, other.first_year)
            lasts = [era.last_year for era in (one, other) if era.last_year is not None]
            last = min(lasts, default=None)
            if last is None or first <= last:
                years = (
                    f"from {first} on"
                    if last is None
                    else f"{first}" + (f" to {last}" if last > first else "")
                )
                yield (
                    f"the eras {one.name!r} and {other.name!r} share years ({years}): a production stamp of "
                    "these years does not decide"
                )


def _shared_phrases(market: "Market") -> Iterator[str]:
    """Yield a sentence for every phrase that stands for two things of one kind, and so for neither."""
    kinds: list[tuple[str, Iterable[tuple[str, Iterable[str]]]]] = [
        (kind, [(item.name, (item.name, *item.phrases)) for item in getattr(market, kind)])
        for kind in ("eras", "colourways", "silhouettes", "treatments", "defects", "parts")
    ]
    kinds += [
        (
            f"the colourways of {one.name!r}",
            [(own.name, (own.name, *own.phrases)) for own in market.own_colourways(one)],
        )
        for one in market.silhouettes
    ]
    kinds += [(f"words.{field}", getattr(market.words, field).items()) for field in CLOSED_FIELDS]
    for kind, items in kinds:
        meant: dict[str, dict[str, str]] = {}
        phrases = [(phrase, meaning) for meaning, several in items for phrase in several]
        for (phrase, meaning), form in zip(phrases, fold_all(one for one, _ in phrases), strict=True):
            meant.setdefault(form, {}).setdefault(meaning, phrase)
        for meanings in meant.values():
            if len(meanings) > 1:
                phrase = next(iter(meanings.values()))
                yield (
                    f"{kind}: the phrase {phrase!r} stands for {' and '.join(map(repr, meanings))}; a column that "
                    "says it is not read by it"
                )
