"""Everything that `pairband restore` says: effects, the two checks, the stock list, the best plan."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import polars as pl

from pipeline import formats
from pipeline.answers.appraisal.cautions import (
    Caution,
    fit_cautions,
    many_weak,
    stale_cautions,
    weak_ones,
    weak_values,
    weakness_column,
)
from pipeline.answers.restoration.cautions import safety_of, work_cautions
from pipeline.answers.restoration.grade_gains import GradeGains, estimate_gains
from pipeline.answers.restoration.net_gain import LEVEL, bands_at_sale, error_together, weigh_work
from pipeline.answers.restoration.resales import reasons
from pipeline.answers.restoration.restoration import (
    Evidence,
    eras_without_sales,
    total_effects,
    weigh_evidence,
)
from pipeline.answers.restoration.work import Work, possible_work
from pipeline.answers.restoration.workshop import Plan, best_plan
from pipeline.config import Market
from pipeline.market.bands import value_pairs
from pipeline.market.fitted_market import FittedMarket, Source
from pipeline.market.model import pair_factors
from pipeline.market.pair import Pair

GRADES: tuple[float, ...] = (4.0, 6.0, 8.0)
"""The grades for which the effects are listed."""


@dataclass(frozen=True)
class RestorationReport:
    """What restoring does, and what to restore next, at a day, in `currency` (the base currency).

    `effects` has the columns of `total_effects`; `evidence` and `gains` are what they rest on, `left_out` counts
    the resales that do not count, by reason. `works` has one row a pair and set of treatments (see
    `weigh_work`) with `label` and `silhouette`, the greatest gain first; `plan` the best of them (numbers of rows of
    `works`), None without a stock list. `not_weighed` names the pairs without any work, each with why.
    `safety` is what must be said before any work, `cautions` what to be careful of in the numbers; `weak` are those of
    them that put every value in doubt. `weak` of a work names what else puts the value of its pair in doubt.
    `unsold_eras` have no sale, and so no effects.
    """

    as_of: date
    currency: str
    effects: pl.DataFrame
    evidence: Evidence
    gains: GradeGains
    left_out: dict[str, int]
    pairs: tuple[Pair, ...]
    works: pl.DataFrame
    not_weighed: tuple[tuple[str, str], ...]
    plan: Plan | None
    level: float
    safety: tuple[str, ...]
    cautions: tuple[str, ...]
    source: Source
    weak: tuple[Caution, ...] = ()
    unsold_eras: tuple[str, ...] = ()


def report_restoration(
    fitted: FittedMarket,
    market: Market,
    resold: pl.DataFrame,
    pairs: Sequence[Pair] | None,
    sales: pl.DataFrame,
    *,
    as_of: date,
    hours: float,
    money: float,
    stale: str = "",
) -> RestorationReport:
    """Return the report: `resold` as of `resold_pairs`, `pairs` the stock (None: effects only).

    `sales` are the priced sales of the pairs' silhouettes, for the value of each as it is.
    """
    gains = estimate_gains(resold, market)
    evidence = weigh_evidence(fitted, resold, market)
    template = pair_factors((Pair(silhouette=""),), as_of=as_of)
    effects = total_effects(evidence, gains, market, template, grades=GRADES)
    stock = tuple(pairs or ())
    works, plan = _weighed(fitted, market, evidence, gains, stock, sales, as_of, hours, money)
    skipped = _not_weighed(stock, works)
    planned = works[list(plan.chosen)]["weak"]
    doubted = many_weak(planned, f"{formats.counted(len(planned), 'pair')} in the plan")
    warned = (*stale_cautions(stale), *doubted, *fit_cautions(fitted, as_of))
    return RestorationReport(
        as_of=as_of,
        currency=fitted.currency,
        effects=effects,
        evidence=evidence,
        gains=gains,
        left_out=reasons(resold),
        pairs=stock,
        works=works,
        not_weighed=skipped,
        plan=None if pairs is None else plan,
        level=LEVEL,
        safety=safety_of(market),
        cautions=(
            *(caution.words for caution in warned),
            *work_cautions(evidence, effects, stock),
        ),
        source=fitted.source,
        weak=weak_ones(warned),
        unsold_eras=eras_without_sales(evidence.before, market),
    )


def _weighed(
    fitted: FittedMarket,
    market: Market,
    evidence: Evidence,
    gains: GradeGains,
    stock: tuple[Pair, ...],
    sales: pl.DataFrame,
    as_of: date,
    hours: float,
    money: float,
) -> tuple[pl.DataFrame, Plan]:
    factors = pair_factors(stock, as_of=as_of)
    until = sales.filter(pl.col("sold_on") <= as_of)
    values = value_pairs(fitted, factors, (LEVEL,))
    outside = values.predictions
    dated = factors.with_columns(pl.Series("era", [pair.era for pair in stock], dtype=pl.String))
    weak = weakness_column(weak_values(dated, fitted.fit, outside["unseen"], outside["extrapolated"], until))
    weighed = weigh_work(
        possible_work(stock, market),
        factors,
        values,
        evidence.fit,
        gains,
        market,
        degrees_of_freedom=fitted.fit.degrees_of_freedom,
    )
    named = weighed.with_columns(
        pl.Series("label", [name_of(stock[number]) for number in weighed["pair"]], dtype=pl.String),
        pl.Series("silhouette", [stock[number].silhouette for number in weighed["pair"]], dtype=pl.String),
        weak.gather(weighed["pair"]),
        pl.col("treatments").list.join(" + ").alias("work"),
    ).sort(["gain", "pair", "work"], descending=[True, False, False])
    plan = best_plan(named, hours=hours, money=money)
    chosen = [
        Work(row["pair"], tuple(row["treatments"]), tuple(row["cures"]), row["hours"], row["materials"])
        for row in named[list(plan.chosen)].iter_rows(named=True)
    ]
    return named, replace(
        plan,
        error=error_together(chosen, factors, values, evidence.fit, gains, market),
        at_sale=bands_at_sale(
            chosen,
            factors,
            values,
            evidence.fit,
            gains,
            market,
            degrees_of_freedom=fitted.fit.degrees_of_freedom,
        ),
    )


def name_of(pair: Pair) -> str:
    """Return what a pair of the stock list is called: the owner's label, else its silhouette."""
    return pair.label or pair.silhouette


def _not_weighed(stock: tuple[Pair, ...], works: pl.DataFrame) -> tuple[tuple[str, str], ...]:
    with_work = set(works["pair"])
    return tuple(
        (
            name_of(pair),
            "its grade is not known: check it and run again" if pair.grade is None else "nothing to do",
        )
        for number, pair in enumerate(stock)
        if number not in with_work
    )
