"""The hedonic model of a pair's price: its terms, and how pairs and sales become factors.

The terms say how the trade reasons: a silhouette, its colourway, the era, a size curve, a grade
curve, completeness, faults, what was restored, the venue and the month.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import polars as pl

from pipeline.config import Market
from pipeline.hedonic.interactions import paired, pairs_of
from pipeline.hedonic.source import Known
from pipeline.hedonic.specification import SPREAD, Specification, Term
from pipeline.market.pair import Pair
from pipeline.schema import ALL_FACTORS, COLUMN, LISTS, UNKNOWN, Factor
from pipeline.schema import FACTORS as FACTORS

RESPONSE = "log_price"
ASKED = (*FACTORS, "sold_on")
"""The columns whose levels a fit asks its source for."""

ANY_VENUE = "(any venue)"
"""A venue without sales of its own: effect zero, with the spread between venues as its variance."""

THIN = 10
"""With fewer sales than this for each fixed level, the fixed levels are pooled too."""

FEW = 150
"""With fewer sales than this, what eras do to other effects is left out: it would only follow chance."""

SILHOUETTES_DIFFER = 0.2
"""The prior for how widely silhouettes differ, before two are seen: as much as single sales of one do."""

DEFAULT_TERMS: tuple[Term, ...] = (
    Term("silhouette", "pooled", ("silhouette",), spread=SILHOUETTES_DIFFER),
    Term("colourway", "pooled", ("silhouette", "colourway")),
    Term("era", "level", ("era",)),
    Term("era in silhouette", "pooled", ("era", "silhouette")),
    Term("size", "curve", ("size_mm",)),
    Term("grade", "curve", ("grade",)),
    Term("grade in era", "pooled", ("grade", "era")),
    Term("box", "level", ("box",), "none"),
    Term("tags", "level", ("tags",), "none"),
    Term("overlay", "level", ("overlay",), UNKNOWN),
    Term("parts", "flags", ("parts",)),
    Term("defects", "flags", ("defects",)),
    Term("treatments", "flags", ("treatments",)),
    Term("treatments in era", "pooled", ("treatments", "era")),
    Term("venue", "pooled", ("venue",)),
    Term("month", "walk", ("month",)),
)


def month_number(day: date) -> int:
    """Return the month of a day as one running integer: 12 · year + month − 1."""
    return 12 * day.year + day.month - 1


def specification(market: Market, sales: Known) -> Specification:
    """Return the specification: the market file's own terms where it has any, else the default ones.

    A default reference that no sale carries (no pair without a box, say) is left to the engine, which
    takes the most frequent level; one that the owner asks for stands, and the fit says if it is absent.
    A thin market's fixed levels (era, box, defects, …) are pooled like the others, and one of fewer than
    FEW sales has no terms over era and something else.
    """
    return Specification(RESPONSE, _with_pairs(_terms_for(market, sales), market))


def _terms_for(market: Market, sales: Known) -> tuple[Term, ...]:
    """Return the terms of sales without the pairs that the owner wants in every fit."""
    if market.model.terms:
        return declared_terms(market)
    if sales.height < THIN * sum(_levels(term, sales) for term in DEFAULT_TERMS):
        kept = (term for term in DEFAULT_TERMS if sales.height >= FEW or not _crosses_era(term))
        return tuple(_pooled(term) for term in kept)
    return tuple(
        term
        if term.reference is None or (sales[term.columns[0]] == term.reference).any()
        else replace(term, reference=None)
        for term in DEFAULT_TERMS
    )


def _with_pairs(terms: tuple[Term, ...], market: Market) -> tuple[Term, ...]:
    """Return terms and, of the pairs that the owner wants in every fit, those that none of them is over already."""
    known = {frozenset(term.columns) for term in terms}
    wanted = (paired(one, other, LISTS) for one, other in market.model.interactions.always)
    return (*terms, *(term for term in wanted if frozenset(term.columns) not in known))


def possible_pairs(market: Market) -> tuple[Term, ...]:
    """Return the interactions that a fit looks for: of the factors that have a term, without those ruled out."""
    never = {frozenset(pair) for pair in market.model.interactions.never}
    pairs = pairs_of(all_terms(market), LISTS)
    return tuple(term for term in pairs if frozenset(term.columns) not in never)


def all_terms(market: Market) -> tuple[Term, ...]:
    """Return the declared terms and the pairs that the owner wants in every fit."""
    return _with_pairs(declared_terms(market), market)


def declared_terms(market: Market) -> tuple[Term, ...]:
    """Return a market's terms, whatever its sales: the market file's own where it has any, else the default ones."""
    own = (
        Term(
            term.name,
            term.kind,
            term.columns,
            term.reference,
            SILHOUETTES_DIFFER if term.columns == ("silhouette",) else SPREAD,
        )
        for term in market.model.terms
    )
    return tuple(own) or DEFAULT_TERMS


def _levels(term: Term, sales: Known) -> int:
    """Return how many levels a term would fit without a penalty."""
    if term.kind not in ("level", "flags"):
        return 0
    column = sales[term.columns[0]]
    return (
        column.explode(keep_nulls=True, empty_as_null=True) if term.kind == "flags" else column
    ).n_unique()


def _crosses_era(term: Term) -> bool:
    return len(term.columns) > 1 and "era" in term.columns


def _pooled(term: Term) -> Term:
    """Return the term with its fixed levels shrunk towards zero, as a thin market needs."""
    return Term(term.name, "pooled", term.columns) if term.kind in ("level", "flags") else term


def record_factors(records: pl.DataFrame, *, as_of: date) -> pl.DataFrame:
    """Return one row of factors a record, valued at `as_of` and at its own venue, in the columns and dtypes of FACTORS.

    `records` have the columns of a sale record that the factors are made of, but for the day of sale. What is not
    known stays null (the model has a level for it); a record without a venue is valued at ANY_VENUE.
    """
    of_the_valuation = {
        "venue": pl.col("venue").fill_null(ANY_VENUE),
        "month": pl.lit(month_number(as_of)),
    }
    return records.select(
        of_the_valuation.get(factor.name, _made(factor)).cast(factor.dtype).alias(factor.name)
        for factor in ALL_FACTORS
    )


def _made(factor: Factor) -> pl.Expr:
    """Return the factor of a record, as `sql/macros/factors.jinja` makes it of a sale."""
    value = pl.col(factor.column)
    if factor.step is not None:
        value = factor.step * (value / factor.step).round()
    return value if factor.missing is None else value.fill_null(factor.missing)


def pair_factors(pairs: Sequence[Pair], *, as_of: date) -> pl.DataFrame:
    """Return one row of factors a pair, valued at `as_of`, in the columns and dtypes of FACTORS (`record_factors`)."""
    described = [factor.column for factor in ALL_FACTORS if factor.name != "month"]
    records = pl.DataFrame(
        [[getattr(pair, name) for name in described] for pair in pairs],
        schema={name: COLUMN[name].dtype for name in described},
        orient="row",
    )
    return record_factors(records, as_of=as_of)


def group_of(sales: pl.DataFrame) -> list[str]:
    """Return the group within which the bands of each sale are calibrated: its era."""
    return sales["era"].fill_null(UNKNOWN).to_list()
