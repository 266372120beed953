"""The waterfall: what each attribute of a pair does to its price, step by step."""

from collections.abc import Iterator
from math import exp, sqrt

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.answers.appraisal.appraisal import Step
from pipeline.answers.sheet import known
from pipeline.hedonic.design import Factor
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.rows import TermRows, rows_of_term
from pipeline.market.attributes import ORDER, SINGULAR, TITLES, attribute_of, factor_texts
from pipeline.market.model import ANY_VENUE
from pipeline.schema import LISTS, UNKNOWN


def start_price(fit: Fit) -> float:
    """Return the price at all references: where the waterfall starts."""
    return exp(float(fit.coefficients[0]))


def describe_start(fit: Fit) -> str:
    """Say which pair the waterfall starts from: the reference of each attribute, an average silhouette."""
    parts = ["an average silhouette"]
    for factor in fit.design.factors:
        if factor.term.kind in ("level", "curve") and factor.references and len(factor.term.columns) == 1:
            key = factor.keys[factor.references[0]]
            name = TITLES.get(factor.term.columns[0], factor.term.columns[0])
            parts.append(f"{name} {key} mm" if name == "size" else f"{name} {known(key)}")
    return ", ".join(parts)


def waterfall(fit: Fit, factors: pl.DataFrame, laid: tuple[TermRows, ...]) -> tuple[Step, ...]:
    """Return the steps from the reference pair to the pair in `factors` (one row, columns of FACTORS).

    `laid` is its design row.

    Each step is the sum of the effects of its attribute's terms, with the error of that sum; a list
    (defects, treatments, parts) makes one step for each entry. Steps multiply: their product times the
    start price is the pair's median price.
    """
    texts = factor_texts(factors)
    price = start_price(fit)
    steps: list[Step] = []
    rows = {term.term: term for term in laid}
    for attribute, owned in _factors_by_attribute(fit).items():
        whole = tuple(rows[factor.term.name] for factor in owned)
        for value, terms in _values(fit, owned, whole, factors, attribute, texts):
            effect, error, sales = _sum_of(fit, terms)
            if effect == 0 and sales == 0 and (attribute == "month" or value in (UNKNOWN, ANY_VENUE)):
                continue  # nothing is said and nothing moves; the band and the cautions allow for it
            price *= exp(effect)
            name = TITLES.get(attribute, SINGULAR.get(attribute, attribute))
            steps.append(Step(name, value, exp(effect), price, error, sales))
    return tuple(steps)


def _factors_by_attribute(fit: Fit) -> dict[str, tuple[Factor, ...]]:
    """Return the factors that make each attribute's step, in the order of the waterfall."""
    owned: dict[str, tuple[Factor, ...]] = {}
    for factor in fit.design.factors:
        attribute = attribute_of(factor.term.columns)
        owned[attribute] = (*owned.get(attribute, ()), factor)
    last = len(ORDER)
    return dict(sorted(owned.items(), key=lambda item: ORDER.index(item[0]) if item[0] in ORDER else last))


def _sum_of(fit: Fit, terms: tuple[TermRows, ...]) -> tuple[float, float, int]:
    """Return (effect, standard error, sales that share the value) of the sum of some terms of one row."""
    positions = np.concatenate([term.positions for term in terms], axis=1)
    values = np.concatenate([term.values for term in terms], axis=1)
    padded: NDArray[np.float64] = np.append(fit.coefficients, 0.0)
    effect = float(np.sum(padded[positions] * values))
    extra = sum(float(term.extra[0]) for term in terms)
    variance = float(fit.covariance.quadratic(positions, values)[0]) + extra
    return effect, sqrt(max(variance, 0.0)), max(int(term.records[0]) for term in terms)


def _values(
    fit: Fit,
    owned: tuple[Factor, ...],
    whole: tuple[TermRows, ...],
    factors: pl.DataFrame,
    attribute: str,
    texts: dict[str, list[str]],
) -> Iterator[tuple[str, tuple[TermRows, ...]]]:
    """Yield (value as text, design rows) for each step of an attribute: a list is priced entry by entry."""
    listed = factors[attribute][0] if attribute in LISTS else None
    if listed is None:
        yield texts[attribute][0] if attribute in texts else str(factors[attribute][0]), whole
        return
    for entry in listed:
        priced = factors.with_columns(pl.Series(attribute, [[entry]], dtype=pl.List(pl.String)))
        yield entry, tuple(rows_of_term(fit, factor, priced) for factor in owned)
