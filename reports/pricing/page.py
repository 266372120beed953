"""The pricing page: it carries the fit, and the reader's choices move band, waterfall and comparables at once.

The arithmetic is that of model.js beside this file, which mirrors pipeline/hedonic, market and answers/appraisal; a
test holds the two against each other.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from types import MappingProxyType
from typing import Any

import polars as pl
from babel.dates import format_date
from babel.numbers import get_currency_precision, get_currency_symbol

from pipeline import formats
from pipeline.alike import fold_all, fold_keys
from pipeline.answers.appraisal.answer import TOGETHER_STEP
from pipeline.answers.appraisal.cautions import (
    ASKED,
    EXTRAPOLATED,
    FEW_SALES,
    STEPPED,
    fit_cautions,
    silhouette_hint,
    stale_cautions,
)
from pipeline.answers.appraisal.comparables import MOST, SMALLEST
from pipeline.answers.appraisal.sentences import SENTENCES, WEAKNESSES
from pipeline.answers.appraisal.tables import ANSWER, ANSWER_OUTSIDE, BAND_WORDS, LEAST_PART, SHORT
from pipeline.answers.appraisal.waterfall import describe_start
from pipeline.answers.era_odds.answer import BLIND, ODDS_CAUTIONS
from pipeline.answers.era_odds.tables import (
    ANSWER_IN_DOUBT,
    FINDING_OUT_AT_AVERAGE,
    FINDING_OUT_AT_PRICE,
    FINDING_OUT_NOTHING,
    WORTH_NOTHING,
)
from pipeline.answers.lots.run import lot_terms
from pipeline.config import Market
from pipeline.hedonic.levels import SEPARATOR, UNKNOWN
from pipeline.hedonic.scales import FITTED, FITTED_STEP, LEAST_SCALE
from pipeline.ingest.attributes import list_vocabulary, vocabulary
from pipeline.ingest.names import NOTHING, known_words
from pipeline.ingest.size_charts import size_charts
from pipeline.ingest.sizes import SYSTEM_PATTERNS, foot_mm
from pipeline.limits import LIMITS
from pipeline.market.attributes import ORDER, SINGULAR, TITLES
from pipeline.market.bands import LEVELS
from pipeline.market.era_mixture import GRID
from pipeline.market.fitted_market import FittedMarket
from pipeline.market.model import ANY_VENUE, month_number
from pipeline.market.pair import CLOSED
from pipeline.market.price_distribution import CHANCES
from pipeline.market_rules import ODDS_SLACK
from pipeline.schema import BOXES, FOOT_MM_RANGE, GRADES, LISTS, OVERLAYS, SIZE_STEP_MM, SIZE_SYSTEMS, TAGS
from pipeline.untrusted import show_words
from reports.links import Link
from reports.page import embed_json, render_page
from reports.pricing.buying import buying_document
from reports.pricing.fit import (
    MOST_ENTRIES,
    choose_carried,
    fit_document,
    mixture_document,
    scatter_document,
    score_document,
    trees_document,
)
from reports.pricing.sales import MOST_SALES, TITLE_WORDS, choose_sales, count_by_silhouette, sales_document
from reports.pricing.seen import seen_document, seen_map

SCRIPTS = (
    "print.js",
    *(
        f"pricing/{name}.js"
        for name in (
            "model",
            "buying",
            "era_odds",
            "sizes",
            "figures",
            "charts",
            "offer",
            "doubt",
            "kept",
            "page",
        )
    ),
)
ONE_CURRENCY: Mapping[str, float] = MappingProxyType({})
"""The exchange rates where only the base currency is known."""

FINE_LEVELS = tuple(round(1 - 2 * chance, 9) for chance in reversed(GRID) if chance < 0.5)
"""The levels of the bands whose ends are the prices of an era at the chances of the GRID."""

OTHER = "another silhouette"
"""The choice by which a pair outside the records is valued."""

SHOWN_OF_A_VALUE = ("fair value", "standard error")
SHOWN_OF_AN_OFFER = (
    *("all-in", "net", "maximum bid", "cost if won", "margin", "expected gain", "chance of a loss"),
)
"""The terms of the glossary that the page's scripts show of a value, and of an offer where it carries the rule."""

STALL_RESALE = (
    "It is assumed to be sold again without fees (`buying.sells_at` of the market file names a venue)."
)
LIMIT_NOT_TARGET = "The most to pay is a limit, not a target. It holds for a pair that is what you described."
"""What to be careful of in buying."""

NONE_NEAR = {
    "no_comparables": "No past sale is near enough to compare with this pair.",
    "no_dots": "No comparable sale",
}
NONE_CARRIED = {
    "no_comparables": "This page carries no sales, so it shows no comparables; `pairband appraise` shows them.",
    "no_dots": "This page carries no sales",
}
"""What the page says where it has no comparables to show."""


def pricing_page(
    fitted: FittedMarket,
    market: Market,
    sales: pl.DataFrame,
    *,
    as_of: date,
    rates: Mapping[str, float] = ONE_CURRENCY,
    stale: str = "",
    with_sales: bool = True,
    most_entries: int = MOST_ENTRIES,
    most_sales: int = MOST_SALES,
    links: Sequence[Link] = (),
) -> str:
    """Return the HTML of the pricing page, for pairs valued at `as_of`.

    `sales` are all priced sales (columns of sql/marts/priced_sales.sql); without `with_sales` the page carries none of
    them and not the owner's rule of buying: it values pairs, and shows no comparables. `rates` are units of each
    venue's currency for one of the base; without that of a venue the page does not say what buying there costs.
    `stale` is a sentence of caution where the fit is older than the records. The page says what it carries, and what
    it leaves out for its size (`most_entries` of the covariance, `most_sales`). Raises ReportError where the fit is
    too large for any page.
    """
    document = pricing_document(
        fitted,
        market,
        sales,
        as_of=as_of,
        rates=rates,
        stale=stale,
        with_sales=with_sales,
        most_entries=most_entries,
        most_sales=most_sales,
    )
    return render_page(
        "pricing/page.html.j2",
        scripts=SCRIPTS,
        own_style="pricing/page.css",
        links=links,
        shown_later=". ".join((*SHOWN_OF_A_VALUE, *(SHOWN_OF_AN_OFFER if document["buying"] else ()))),
        business=market.business.heading,
        as_of=formats.day(as_of),
        document=embed_json(document),
        currency=market.base_currency,
        seen_map=seen_map(market),
        rule=document["buying"]["rule"] if document["buying"] else "",
        carried=_carried(document),
        left_out=_left_out(document, with_sales=with_sales),
        choices=document["choices"],
        levels=[formats.level(level) for level in LEVELS],
        source=fitted.source,
    )


def pricing_document(
    fitted: FittedMarket,
    market: Market,
    sales: pl.DataFrame,
    *,
    as_of: date,
    rates: Mapping[str, float] = ONE_CURRENCY,
    stale: str = "",
    with_sales: bool = True,
    most_entries: int = MOST_ENTRIES,
    most_sales: int = MOST_SALES,
) -> dict[str, Any]:
    """Return all that the page computes with and chooses from, JSON-able; see `pricing_page`."""
    counts = count_by_silhouette(sales)
    wanted = sorted(counts, key=lambda silhouette: (-counts[silhouette], silhouette))
    carried = choose_carried(fitted.fit, wanted, most=most_entries)
    not_carried = set(counts) - set(carried.silhouettes)
    past = sales.filter(pl.col("sold_on") <= as_of, ~pl.col("silhouette").is_in(list(not_carried)))
    eras = [era.name for era in market.eras]
    on_every_value = fit_cautions(fitted, as_of)
    terms = lot_terms(market, margin=None, confidence=None, sells_at=None)
    return {
        "fit": fit_document(fitted.fit, carried),
        "scatter": scatter_document(fitted.scatter),
        "scores": score_document(fitted, _levels(terms.confidence), [*eras, UNKNOWN]),
        "mixture": mixture_document(fitted.fit.degrees_of_freedom),
        "trees": trees_document(fitted, carried),
        "records": fitted.records,
        "sales": sales_document(choose_sales(past, most=most_sales) if with_sales else past.clear()),
        "past": past.height,
        "silhouette_sales": count_by_silhouette(past),
        "not_carried": len(not_carried),
        "start": describe_start(fitted.fit),
        "month": month_number(as_of),
        "rules": _rules(),
        "cautions": {
            "stale": [caution.words for caution in stale_cautions(stale)],
            "market": [caution.words for caution in on_every_value],
            "weaknesses": {
                caution.words: caution.weakness for caution in (*stale_cautions(stale), *on_every_value)
            },
            "hints": _hints(market, [*counts, OTHER]),
        },
        "words": _words(fitted, as_of, with_sales=with_sales),
        "money": _money(fitted.currency),
        "currencies": {
            code: _money(code)
            for code in sorted({market.base_currency, *(venue.currency for venue in market.venues)})
        },
        "sizes": _sizes(market),
        "seen": seen_document(market),
        "era_sales": _era_sales(past),
        "doubt": {
            "slack": ODDS_SLACK,
            "blind": BLIND,
            "always": list(ODDS_CAUTIONS),
            "answer": ANSWER_IN_DOUBT,
            "at_average": FINDING_OUT_AT_AVERAGE,
            "at_price": FINDING_OUT_AT_PRICE,
            "nothing": FINDING_OUT_NOTHING,
            "worth_nothing": WORTH_NOTHING,
        },
        "buying": buying_document(market, terms, rates, as_of=as_of) if with_sales else None,
        "read": _vocabulary(market),
        "choices": _choices(market, sales, not_carried),
    }


def _levels(confidence: float) -> list[float]:
    """Return the levels of all bands that the arithmetic reads: the page's own, and those of a whole distribution."""
    distances = {round(abs(1 - 2 * chance), 9) for chance in (*CHANCES, 1 - confidence) if chance != 0.5}
    return sorted({*LEVELS, *FINE_LEVELS, *distances})


def _era_sales(sales: pl.DataFrame) -> dict[str, dict[str, int]]:
    """Return how many sales each silhouette has in each era."""
    counted: dict[str, dict[str, int]] = {}
    for silhouette, era, count in (
        sales.drop_nulls("era").group_by("silhouette", "era").len().sort("silhouette", "era").iter_rows()
    ):
        counted.setdefault(silhouette, {})[era] = count
    return counted


def _rules() -> dict[str, Any]:
    """Return the constants of the Python that the page's arithmetic reads."""
    return {
        "separator": SEPARATOR,
        "unknown": UNKNOWN,
        "closed": list(CLOSED),
        "any_venue": ANY_VENUE,
        "size_step": SIZE_STEP_MM,
        "fitted": FITTED,
        "fitted_step": FITTED_STEP,
        "least_scale": LEAST_SCALE,
        "most": MOST,
        "smallest": SMALLEST,
        "short": list(SHORT.values()),
        "order": list(ORDER),
        "lists": list(LISTS),
        "names": {name: TITLES.get(name, SINGULAR.get(name, name)) for name in ORDER},
        "together_step": list(TOGETHER_STEP),
        "least_part": LEAST_PART,
        "few_sales": FEW_SALES,
        "stepped": list(STEPPED),
        "extrapolated": list(EXTRAPOLATED),
        "asked": ASKED,
        "sentences": SENTENCES,
        "weaknesses": WEAKNESSES,
        "levels": list(LEVELS),
        "fine_levels": list(FINE_LEVELS),
    }


def _words(fitted: FittedMarket, as_of: date, *, with_sales: bool) -> dict[str, Any]:
    """Return what the page says around its figures."""
    return {
        "answer": ANSWER,
        "answer_outside": ANSWER_OUTSIDE,
        "bands": {str(share): words for share, words in BAND_WORDS.items()},
        "title_words": TITLE_WORDS,
        **(NONE_NEAR if with_sales else NONE_CARRIED),
        "as_of": formats.day(as_of),
        "source": f"{fitted.source.sale_records} to {formats.day(fitted.last_sale)}, "
        f"fit {show_words(fitted.fit_id, 40)}",
        "limits": list(LIMITS),
        "stall_resale": STALL_RESALE,
        "limit_not_target": LIMIT_NOT_TARGET,
    }


def _money(currency: str) -> dict[str, Any]:
    """Return how amounts and days are written (see `figures`)."""
    symbol = get_currency_symbol(currency, locale=formats.LANGUAGE)
    return {
        "currency": currency,
        "symbol": symbol + ("\u00a0" if symbol[-1].isalpha() else ""),
        "decimals": get_currency_precision(currency),
        "months": [
            format_date(date(2000, month, 1), "MMM", locale=formats.LANGUAGE) for month in range(1, 13)
        ],
    }


def _sizes(market: Market) -> dict[str, Any]:
    """Return, for each system, the foot length (mm) of size zero and the step of one size; all are straight lines.

    `charts` holds, for each silhouette of a maker with a size chart, each system's sizes with their foot lengths.
    """
    charts = size_charts(market)
    return {
        "systems": {
            system: [foot_mm(system, 0.0), foot_mm(system, 1.0) - foot_mm(system, 0.0)]
            for system in SIZE_SYSTEMS
        },
        "range": list(FOOT_MM_RANGE),
        "charts": {one.name: charts[one.maker] for one in market.silhouettes if one.maker in charts},
        "patterns": SYSTEM_PATTERNS,
    }


def _vocabulary(market: Market) -> dict[str, Any]:
    """Return the words by which a pair is described, folded, with what each means: those of `read_stated`."""
    words: dict[str, Any] = {
        name: known
        for name, known in vocabulary(market).items()
        if name in ("silhouette", "era", "box", "tags", "overlay")
    }
    return {
        **words,
        **{
            name: dict.fromkeys(fold_all([*NOTHING, *market.words.not_words]), "none") | known
            for name, known in list_vocabulary(market).items()
        },
        "grade": fold_keys({word: f"{grade:g}" for word, grade in market.words.grades.items()}),
        "venue": {},
        "colourways": {one.name: known_words(one.colourways) for one in market.silhouettes},
    }


def _choices(market: Market, sales: pl.DataFrame, not_carried: set[str]) -> dict[str, Any]:
    """Return what can be picked: the market file's names in its order, then what only the sales have."""
    known = {silhouette.name: silhouette for silhouette in market.silhouettes}
    sold = sales.select("silhouette", "colourway").unique().drop_nulls().sort("silhouette", "colourway")
    colourways: dict[str, list[str]] = {
        name: [colourway.name for colourway in silhouette.colourways] for name, silhouette in known.items()
    }
    for silhouette, colourway in sold.iter_rows():
        own = colourways.setdefault(silhouette, [])
        if colourway not in own:
            own.append(colourway)
    names = _together(known, sales["silhouette"].unique().sort())
    words = {grade: [word for word, of in market.words.grades.items() if of == grade] for grade in GRADES}
    systems = Counter(map_.size_system for map_ in market.maps.values() if map_.size_system is not None)
    return {
        "silhouettes": [name for name in names if name not in not_carried],
        "other": OTHER,
        "colourways": {name: own for name, own in colourways.items() if name not in not_carried},
        "eras": [
            [era.name, f"{era.first_year} to {era.last_year}" if era.last_year else f"from {era.first_year}"]
            for era in market.eras
        ],
        "grades": [[grade, words[grade][0] if words[grade] else ""] for grade in reversed(GRADES)],
        "boxes": _known(BOXES),
        "tags": _known(TAGS),
        "overlays": _known(OVERLAYS),
        "parts": [part.name for part in market.parts],
        "defects": [defect.name for defect in market.defects],
        "treatments": [treatment.name for treatment in market.treatments],
        "venues": [venue.name for venue in market.venues],
        "systems": _together(
            (market.sizes.usual,) if market.sizes.usual else (),
            [*(system for system, _ in systems.most_common()), *SIZE_SYSTEMS],
        ),
    }


def _known(values: Sequence[str]) -> list[str]:
    return [value for value in values if value != UNKNOWN]


def _together(first: Iterable[str], then: Iterable[str]) -> list[str]:
    return list(dict.fromkeys([*first, *then]))


def _hints(market: Market, silhouettes: Sequence[str]) -> dict[str, str]:
    names = _together((silhouette.name for silhouette in market.silhouettes), silhouettes)
    return {name: silhouette_hint(name, market) for name in names}


def _carried(document: dict[str, Any]) -> list[str]:
    """Return in words what anyone who has the page can read in it."""
    stated = [
        "The fitted market: the names of silhouettes, colourways, eras and venues, what each is worth, and how many "
        "sales each silhouette has.",
    ]
    if document["buying"]:
        stated.append(
            "Your rule of buying (margin, confidence, costs) and what each venue charges. Anyone who has this file can "
            "read how much you would pay: `pairband pricing --without-sales` makes the page without them."
        )
    carried = _sales_carried(document)
    if carried:
        stated.append(
            f"{formats.counted(carried, 'past sale')}, each with its title, venue, day of sale, exact price and "
            "record number. Anyone who has this file can read them: `pairband pricing --without-sales` makes the "
            "page without them."
        )
    return stated


def _sales_carried(document: dict[str, Any]) -> int:
    return sum(len(own["record"]) for own in document["sales"]["of"].values())


def _left_out(document: dict[str, Any], *, with_sales: bool) -> list[str]:
    """Return in words what the page does not carry."""
    stated = []
    carried = _sales_carried(document)
    if document["not_carried"]:
        stated.append(
            f"{formats.counted(document['not_carried'], 'silhouette')} with the fewest sales cannot be picked here, "
            "to keep the page light; `pairband appraise` values them."
        )
    if not with_sales:
        stated.append("The past sales, and with them the comparables; `pairband appraise` shows them.")
    elif carried < document["past"]:
        stated.append(
            f"The nearest sales are looked for among the {formats.count(carried)} most recent that the page "
            f"carries, of {formats.count(document['past'])}; `pairband appraise` looks among all."
        )
    return stated
