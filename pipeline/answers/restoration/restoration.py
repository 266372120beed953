"""What restoring does to a price, in total: the grade it gains, less the discount for being restored.

Two checks: the regression over all sales, with the full covariance of its coefficients, and pairs that
were sold before and after. Each counts by its precision.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.answers.appraisal.cautions import terms_of_era
from pipeline.answers.restoration.before_after import DRIFT, Contrast, effects_on_changes
from pipeline.answers.restoration.grade_gains import GradeGains
from pipeline.answers.restoration.resales import USED, did, side
from pipeline.config import Market
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.levels import SEPARATOR
from pipeline.hedonic.predict import design_rows, differences, predict
from pipeline.hedonic.scales import scales
from pipeline.market.fitted_market import FittedMarket
from pipeline.market.model import FACTORS

Array = NDArray[np.float64]

FEWEST_PAIRS = 3
"""A treatment done to fewer pairs than this between two sales is not judged by them."""

FEWEST_UNTOUCHED = 5
"""Fewer untouched pairs than this do not show what reselling alone does."""

DISAGREE = 1.96
"""The checks disagree where their difference exceeds this many of its standard errors (95 %)."""

TOP_GRADE = 10.0
STEP = 0.5


@dataclass(frozen=True)
class Evidence:
    """What both checks say of the pairs restored between two sales, and the effects combined from both.

    `judged` has one row a treatment: treatment, pairs, before_after and regression (total effect on those
    pairs, log price) with `_error`, difference, difference_error, disagree. `untouched` pairs show
    `drift` (log price; ± drift_error), what a pair gains by being sold again. `fit` holds the coefficients and
    covariance after both; the regression's own stand in `before`.
    """

    judged: pl.DataFrame
    untouched: int
    drift: float
    drift_error: float
    why_none: str
    before: Fit
    fit: Fit


def weigh_evidence(fitted: FittedMarket, resold: pl.DataFrame, market: Market) -> Evidence:
    """Compare pairs sold before and after (see `resold_pairs`) with the regression, and weigh both by precision.

    The change of a pair's log price, less what the fit says of the month, the venue and all else that is not
    work on the pair, is compared between restored and untouched pairs. The regression's effect on the same
    pairs is the same contrast of its own effects; the covariance of the difference holds that of the
    coefficients. The update is that of normal theory, as if both were independent: the resales are a
    small part of the sales behind the fit.
    """
    fit = fitted.fit
    names = tuple(treatment.name for treatment in market.treatments)
    used = resold.filter(pl.col("reason") == USED)
    few = [name for name in names if used.filter(did(name)).height < FEWEST_PAIRS]
    used = used.filter(~pl.any_horizontal([pl.lit(False), *(did(name) for name in few)]))
    untouched = used.filter(pl.col("between").list.len() == 0).height
    judged = tuple(name for name in names if name not in few and used.filter(did(name)).height)
    if not judged:
        return _no_evidence(fit, f"no treatment was done to {FEWEST_PAIRS} pairs between two sales")
    if untouched < FEWEST_UNTOUCHED:
        why = (
            f"only {untouched} pairs were sold twice without work in between ({FEWEST_UNTOUCHED} are needed)"
        )
        return _no_evidence(fit, why)
    first, second = side(used, "first"), side(used, "second")
    worked = first.with_columns(second.select("grade", "defects", "treatments"))
    start, between, end = (design_rows(fit, rows) for rows in (first, worked, second))
    work, rest = between - start, end - between
    spread = np.hypot(_scales(fitted, first), _scales(fitted, second))
    change = (used["log_price_second"] - used["log_price_first"]).to_numpy() - rest @ fit.coefficients
    treated = used.select(did(name).alias(name) for name in judged).to_numpy().astype(bool)
    while np.linalg.matrix_rank(np.column_stack([np.ones(len(treated)), treated])) < 1 + len(judged):
        rare = int(np.argmin(treated.sum(axis=0)))
        treated, judged = np.delete(treated, rare, axis=1), judged[:rare] + judged[rare + 1 :]
    contrast = effects_on_changes(change, treated, judged, spread, degrees_of_freedom=fit.degrees_of_freedom)
    return _weigh(fit, contrast, work, rest, treated, judged, untouched)


def _weigh(
    fit: Fit,
    contrast: Contrast,
    work: Any,
    rest: Any,
    treated: NDArray[np.bool_],
    judged: tuple[str, ...],
    untouched: int,
) -> Evidence:
    from scipy.sparse import csr_array

    effects = slice(1, 1 + len(judged))
    smoother = csr_array(contrast.smoother[effects])
    by_work, by_rest = smoother @ work, smoother @ rest
    own = contrast.covariance[effects, effects]
    by_pairs = contrast.coefficients[effects]
    regression = by_work @ fit.coefficients
    both = by_work + by_rest
    spread = own + fit.covariance.between(both, both)
    by_pairs_error = np.sqrt(np.maximum(np.diag(own + fit.covariance.between(by_rest, by_rest)), 0))
    precision = np.linalg.inv(spread).astype(np.float64)
    difference = by_pairs - regression
    updated = replace(
        fit,
        coefficients=fit.coefficients + fit.covariance @ (both.T @ (precision @ difference)),
        covariance=fit.covariance.less(both, precision),
    )
    error = np.sqrt(np.maximum(np.diag(spread), 0))
    rows = pl.DataFrame(
        {
            "treatment": list(judged),
            "pairs": treated.sum(axis=0),
            "before_after": by_pairs,
            "before_after_error": by_pairs_error,
            "regression": regression,
            "regression_error": np.sqrt(np.maximum(np.diag(fit.covariance.between(by_work, by_work)), 0)),
            "difference": difference,
            "difference_error": error,
            "disagree": np.abs(difference) > DISAGREE * error,
        },
        schema_overrides={"pairs": pl.Int64},
    )
    return Evidence(rows, untouched, contrast.effect(DRIFT), contrast.error(DRIFT), "", fit, updated)


def total_effects(
    evidence: Evidence,
    gains: GradeGains,
    market: Market,
    template: pl.DataFrame,
    *,
    grades: tuple[float, ...],
) -> pl.DataFrame:
    """Return the total effect of each treatment by era and grade: one row each, in log price.

    `template` is one row of FACTORS (whatever else it says cancels out). Columns: treatment, era, run, grade,
    gain (grades, at most up to the market file's limit), grade_effect, discount, total with total_error
    (after both checks), regression with regression_error, before_after (the regression moved by the
    difference that the resold pairs showed, for judged treatments; else null), sales (those behind the
    effect: of the treatment in the era, or in all eras where no term of the model separates eras), borrowed
    (where the era has none: the sales of other eras from which the effect is taken; else 0). `total_error`
    allows for the error of the average gain. Defects that the treatment cures are not in it: for a pair that
    has them, their value is added. Eras without any sale (see `eras_without_sales`) have no row.
    """
    unsold = eras_without_sales(evidence.before, market)
    eras = [era for era in market.eras if era.name not in unsold]
    if not gains.treatments or not eras:
        return pl.DataFrame(schema=EFFECTS)
    limit = float(market.workshop.grade_limit)
    cases = pl.DataFrame(
        [
            {
                "treatment": name,
                "era": era.name,
                "run": era.run,
                "grade": grade,
                "place": place,
                "gain": min(max(gains.mean[place], 0.0), max(limit - grade, 0.0)),
                "gain_error": float(np.sqrt(gains.covariance[place, place])) if grade < limit else 0.0,
            }
            for place, name in enumerate(gains.treatments)
            for era in eras
            for grade in grades
        ]
    )
    base = _repeat(template, cases.height).with_columns(
        cases["era"], cases["grade"], pl.lit([], pl.List(pl.String)).alias("treatments")
    )
    treated = base.with_columns(cases.select(pl.concat_list("treatment").alias("treatments")))
    fit = evidence.before
    discount = design_rows(fit, treated) - design_rows(fit, base)
    low = np.floor(cases["gain"].to_numpy() / STEP)
    share = cases["gain"].to_numpy() / STEP - low
    rung = [_lifted(base, STEP * (low + more)) for more in (0, 1)]
    start, lower, upper = (design_rows(fit, rows) for rows in (base, *rung))
    climb = lower.multiply(1 - share[:, None]) + upper.multiply(share[:, None]) - start
    slope = (upper - lower) / STEP
    whole = climb + discount
    unseen = unseen_variance(fit, base, treated)
    after, own = evidence.fit, fit
    judged = dict(evidence.judged.select("treatment", "difference").iter_rows())
    by_pairs = [judged.get(name) for name in cases["treatment"]]
    return cases.select(
        "treatment",
        "era",
        "run",
        "grade",
        "gain",
        pl.Series("grade_effect", climb @ after.coefficients),
        pl.Series("discount", discount @ after.coefficients),
        pl.Series("total", whole @ after.coefficients),
        pl.Series("total_error", _error(whole, slope, cases, after, unseen)),
        pl.Series("regression", whole @ own.coefficients),
        pl.Series("regression_error", _error(whole, slope, cases, own, unseen)),
        pl.Series("before_after", by_pairs, dtype=pl.Float64) + pl.Series(whole @ own.coefficients),
        *_sales_behind(fit, cases),
    )


def eras_without_sales(fit: Fit, market: Market) -> tuple[str, ...]:
    """Return the eras of the market file of which the fit has no sale; none where its model has no term of the era."""
    named = terms_of_era(fit)
    if not named:
        return ()
    sold = set(fit.labels.filter(pl.col("term").is_in(named), pl.col("rows") > 0)["level"])
    return tuple(era.name for era in market.eras if era.name not in sold)


def unseen_variance(fit: Fit, start: pl.DataFrame, end: pl.DataFrame) -> Array:
    """Return the variance (rows,) of steps that no coefficient carries: of treatments that no sale has."""
    change = design_rows(fit, end) - design_rows(fit, start)
    whole = differences(fit, start, end)["error"].to_numpy() ** 2
    unseen: Array = np.maximum(whole - fit.covariance.row_variances(change), 0)
    return unseen


EFFECTS: dict[str, pl.DataType] = {
    "treatment": pl.String(),
    "era": pl.String(),
    "run": pl.String(),
    "grade": pl.Float64(),
    "gain": pl.Float64(),
    "grade_effect": pl.Float64(),
    "discount": pl.Float64(),
    "total": pl.Float64(),
    "total_error": pl.Float64(),
    "regression": pl.Float64(),
    "regression_error": pl.Float64(),
    "before_after": pl.Float64(),
    "sales": pl.Int64(),
    "borrowed": pl.Int64(),
}


def _no_evidence(fit: Fit, why: str) -> Evidence:
    empty = pl.DataFrame(
        schema={
            "treatment": pl.String,
            "pairs": pl.Int64,
            **dict.fromkeys(
                (
                    "before_after",
                    "before_after_error",
                    "regression",
                    "regression_error",
                    "difference",
                    "difference_error",
                ),
                pl.Float64,
            ),
            "disagree": pl.Boolean,
        }
    )
    return Evidence(empty, 0, 0.0, 0.0, why, fit, fit)


def _scales(fitted: FittedMarket, factors: pl.DataFrame) -> Array:
    return scales(fitted.scatter, factors, predict(fitted.fit, factors)["log_price"].to_numpy())


def _repeat(row: pl.DataFrame, times: int) -> pl.DataFrame:
    return row.select(list(FACTORS))[[0] * times]


def _lifted(factors: pl.DataFrame, gain: Array) -> pl.DataFrame:
    """Return the factors with the grade risen, at most to the top of the scale."""
    return factors.with_columns(
        (pl.col("grade") + pl.Series(gain)).clip(upper_bound=TOP_GRADE).alias("grade")
    )


def _error(whole: Any, slope: Any, cases: pl.DataFrame, fit: Fit, unseen: Array) -> Array:
    gain_variance = (slope @ fit.coefficients * cases["gain_error"].to_numpy()) ** 2
    error: Array = np.sqrt(np.maximum(fit.covariance.row_variances(whole), 0) + gain_variance + unseen)
    return error


def _sales_behind(fit: Fit, cases: pl.DataFrame) -> tuple[pl.Series, pl.Series]:
    """Return sales and borrowed of each case (see `total_effects`)."""
    counted: dict[tuple[str, ...], dict[str, int]] = {
        factor.term.columns: dict(zip(factor.keys, (int(rows) for rows in factor.rows), strict=True))
        for factor in fit.design.factors
        if factor.term.columns in (("treatments",), ("treatments", "era"))
    }
    whole = counted.get(("treatments",), {})
    by_era = counted.get(("treatments", "era"))
    pairs = cases.select("treatment", "era").rows()
    of_all = pl.Series([whole.get(name, 0) for name, _ in pairs], dtype=pl.Int64)
    if by_era is None:
        return of_all.alias("sales"), pl.Series("borrowed", [0] * len(pairs), dtype=pl.Int64)
    own = pl.Series([by_era.get(f"{name}{SEPARATOR}{era}", 0) for name, era in pairs], dtype=pl.Int64)
    borrowed = pl.select(pl.when(own == 0).then(of_all).otherwise(0)).to_series()
    return own.alias("sales"), borrowed.alias("borrowed")
