"""The audit: whether the values and bands held up on sales that came after them."""

from collections.abc import Callable, Iterator, Sequence
from datetime import date

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline import __version__
from pipeline.answers.audit import words
from pipeline.answers.audit.figures import (
    TOO_NARROW,
    Audit,
    CoverageRow,
    Figure,
    Judged,
    Outcome,
    Pricer,
    Support,
    Verdict,
)
from pipeline.answers.audit.naive import naive_prices
from pipeline.answers.audit.residuals import describe_errors, most_influential
from pipeline.config import Market
from pipeline.errors import FitError
from pipeline.hedonic.accuracy import accuracy, margin, percentage_errors
from pipeline.hedonic.bands import half_width
from pipeline.hedonic.coverage import Coverage, coverage
from pipeline.hedonic.frame import FrameSource
from pipeline.hedonic.ratio_study import FEWEST, RANGES, Estimate, ratio_figures, ratio_study
from pipeline.hedonic.residuals import residuals
from pipeline.hedonic.scales import least_error
from pipeline.hedonic.scores import scores_of
from pipeline.market.bands import band_errors
from pipeline.market.fit import fit_market
from pipeline.market.fitted_market import FittedMarket
from pipeline.schema import UNKNOWN

Array = NDArray[np.float64]

LEVELS = (0.5, 0.8, 0.95)
SURE = 2.394
"""Standard errors beyond which a band is said to hold less, or more, than it claims: 95 % for three levels."""

SEED = 20_261_125
"""Of the bootstrap intervals, so that one ledger has one audit."""

GRADE_BANDS = {0.0: "under 2", 2.0: "2 to 3.5", 4.0: "4 to 5.5", 6.0: "6 to 7.5", 8.0: "8 to 10"}
FIFTHS = ("1 (cheapest)", "2", "3", "4", "5 (most expensive)")
SCATTERED = 40
"""How many times prices are drawn about exact values, to see what scatter alone does to a ratio study."""

FEWEST_IN_GROUP = 30
"""Groups of fewer sales are shown, but not judged."""


def audit(
    sales: pl.DataFrame,
    market: Market,
    *,
    as_of: date,
    fitted: FittedMarket | None = None,
    on_progress: Callable[[int, int], None] | None = None,
) -> Audit:
    """Audit the market's values and bands on the sales up to `as_of`.

    `sales` has the columns of sql/marts/priced_sales.sql, in any order. Every figure of accuracy and
    coverage is of sales that were priced from earlier months alone. `fitted` is the market as it was fitted to these
    sales; without one it is fitted here. Raises FitError where it cannot be.
    """
    known = sales.filter(pl.col("sold_on") <= as_of).sort("record_id")
    if not known.height:
        raise FitError(f"no sale that can be priced lies on or before {as_of}", "ingest more exports.")
    if fitted is None:
        fitted = fit_market(
            FrameSource(known),
            market,
            records_digest="",
            version=__version__,
            fitted_on=as_of,
            fewest=1,
            on_progress=on_progress,
        )
    sold, left = _sold(fitted, known), residuals(fitted.fit, known)
    eras = [era.name for era in market.eras]
    rows = tuple(_coverages(fitted, sold, eras))
    days = sold["sold_on"]
    return Audit(
        as_of=as_of,
        currency=market.base_currency,
        sales=known.height,
        priced=sold.height,
        first_priced=days.min(),  # type: ignore[arg-type]
        last_priced=days.max(),  # type: ignore[arg-type]
        origins=fitted.origins or 0,
        failed_origins=fitted.failed_origins,
        calibrated=fitted.calibration is not None,
        pricers=_pricers(known, sold),
        coverages=rows,
        ratios=_ratios(fitted, sold),
        errors=describe_errors(fitted.fit, left, sold["score"].to_numpy(), sold["value"].to_numpy()),
        second_stage=fitted.second_stage,
        second_stage_words=words.of_second_stage(
            fitted.second_stage, fitted.interactions.median_price, market.base_currency
        ),
        interactions=fitted.interactions,
        interactions_words=words.of_interactions(fitted.interactions, market.base_currency),
        trend=fitted.trend,
        trend_words=words.of_trend(fitted.trend),
        influential=most_influential(known, left),
        support=_support(known, eras),
        verdict=_verdict(rows, fitted),
    )


def _sold(fitted: FittedMarket, known: pl.DataFrame) -> pl.DataFrame:
    """Return the sales that were priced before they happened, with their `value` (log price) and `score`."""
    sold = fitted.priced_before.join(known, on="record_id", how="left", maintain_order="left")
    scores = scores_of(sold["error"], sold["variance"], sold["scale"], fitted.fit.degrees_of_freedom)
    return sold.with_columns(value=pl.col("log_price") - pl.col("error"), score=pl.Series(scores))


def _pricers(known: pl.DataFrame, sold: pl.DataFrame) -> tuple[Pricer, ...]:
    prices, periods = sold["log_price"].to_numpy(), sold["period"].to_numpy()
    ours = percentage_errors(sold["value"].to_numpy(), prices)
    naive = naive_prices(known, sold)
    pricers = [Pricer("pairband", accuracy(ours), None, words.of_accuracy(accuracy(ours)))]
    for column in naive.columns if sold.height else ():
        theirs = percentage_errors(naive[column].to_numpy(), prices)
        name = column.replace("_", " ")
        ahead = margin(ours, theirs, periods, seed=SEED)
        pricers.append(Pricer(name, accuracy(theirs), ahead, words.of_margin(name, ahead)))
    return tuple(pricers)


def _coverages(fitted: FittedMarket, sold: pl.DataFrame, eras: Sequence[str]) -> Iterator[CoverageRow]:
    """Yield the coverage rows of all levels: all sales, then by era (in this order), grade and fifth of the value.

    A group none of whose sales had a band that was known before it has no row: nothing is known of it.
    """
    groups = {
        "all": pl.Series(["all"] * sold.height, dtype=pl.String),
        "era": sold["era"].fill_null(UNKNOWN),
        "grade": (2 * (sold["grade"] / 2).floor()).clip(0, 8).replace_strict(GRADE_BANDS, default=None),
        "price fifth": _fifths(sold["value"]),
    }
    order = {name: place for place, name in enumerate((*eras, *GRADE_BANDS.values(), *FIFTHS, UNKNOWN))}
    for level in LEVELS:
        known, inside, width = _held(fitted, sold, level)
        periods = sold["period"].to_numpy()
        for kind, labels in groups.items():
            named = labels.fill_null(UNKNOWN)
            for group in sorted(named.unique(), key=lambda name: order.get(name, len(order))):
                some = known & (named == group).to_numpy()
                if not some.any():
                    continue
                found = coverage(level, inside[some], width[some], periods[some])
                outcome = _outcome(found, judged=kind == "all" or found.sales >= FEWEST_IN_GROUP)
                yield CoverageRow(kind, group, found, outcome, words.of_coverage(kind, group, found, outcome))


def _fifths(values: pl.Series) -> pl.Series:
    """Return the fifth of the value (not of the price: a band is known before the price is)."""
    if not len(values):
        return pl.Series([], dtype=pl.String)
    places = ((values.rank("ordinal") - 1) * 5 // len(values)).cast(pl.Int64)
    return places.replace_strict(dict(enumerate(FIFTHS)), return_dtype=pl.String)


def _held(
    fitted: FittedMarket, sold: pl.DataFrame, level: float
) -> tuple[NDArray[np.bool_], NDArray[np.bool_], Array]:
    """Return (whether a band was known, whether it held, its width as a share of the value), sale by sale."""
    error, score, variance, scale = (
        sold[column].to_numpy() for column in ("error", "score", "variance", "scale")
    )
    degrees_of_freedom = fitted.fit.degrees_of_freedom
    least = least_error(level)
    if fitted.calibration is None:
        half = np.maximum(half_width(variance, scale, degrees_of_freedom, level), least)
        return np.ones(len(half), dtype=bool), np.abs(error) <= half, np.exp(half) - np.exp(-half)
    low, high = fitted.calibration.replayed(level)
    known = ~np.isnan(low)
    lower, upper = np.nan_to_num(low), np.nan_to_num(high)
    inside = (score >= lower) & (score <= upper) | (np.abs(error) <= least)
    below, above = band_errors(level, (lower, upper), variance, scale, degrees_of_freedom)
    return known, inside, np.exp(above) - np.exp(below)


def _outcome(found: Coverage, *, judged: bool) -> Outcome:
    if not judged:
        return "unproven"
    if found.surprise < -SURE:
        return "too narrow"
    return "too wide" if found.surprise > SURE else "held up"


def _ratios(fitted: FittedMarket, sold: pl.DataFrame) -> tuple[Figure, ...]:
    if sold.height < FEWEST:
        return ()
    found = ratio_study(sold["value"].exp(), sold["price_paid"], seed=SEED)
    exact = _scattered(sold, fitted.fit.degrees_of_freedom)
    named = {"median ratio": found.median_ratio, "COD": found.cod, "PRD": found.prd, "PRB": found.prb}
    return tuple(_figure(name, estimate, exact[name]) for name, estimate in named.items())


def _scattered(sold: pl.DataFrame, degrees_of_freedom: float) -> dict[str, float]:
    """Return what a ratio study would find if every value were the true median, from scatter alone.

    Prices are drawn about the values by each sale's own scale and degrees of freedom.
    """
    draws = np.random.default_rng(SEED)
    log_values, scale = sold["value"].to_numpy(), sold["scale"].to_numpy()
    drawn = []
    for _ in range(SCATTERED):
        noise = (
            draws.standard_normal(len(scale))
            if np.isinf(degrees_of_freedom)
            else draws.standard_t(degrees_of_freedom, len(scale))
        )
        drawn.append(ratio_figures(np.exp(log_values), np.exp(log_values + scale * noise)))
    return {name: float(np.mean([each[name] for each in drawn])) for name in drawn[0]}


def _figure(name: str, found: Estimate, exact: float) -> Figure:
    low, high = RANGES[name]
    inside = low <= found.value <= high
    crossed = not (found.high < low or found.low > high) and not (low <= found.low and found.high <= high)
    verdict: Judged = "unclear" if crossed else "good" if inside else "poor"
    if not inside and found.low <= exact <= found.high:
        verdict = "scatter alone"
    meaning = words.of_ratio(name, found.value, exact)
    return Figure(name, found.value, found.low, found.high, "", (low, high), verdict, meaning, exact)


def _support(known: pl.DataFrame, eras: Sequence[str]) -> tuple[Support, ...]:
    counted = (
        known.with_columns(pl.col("era").fill_null(UNKNOWN))
        .group_by("silhouette", "era")
        .agg(pl.len().alias("sales"))
    )
    cells = counted.select("silhouette").unique().join(counted.select("era").unique(), how="cross")
    filled = cells.join(counted, on=["silhouette", "era"], how="left").with_columns(
        pl.col("sales").fill_null(0)
    )
    listed = pl.Enum(list(dict.fromkeys((*eras, *filled["era"].unique().sort()))))
    ordered = filled.sort("silhouette", pl.col("era").cast(listed))
    return tuple(Support(*row) for row in ordered.iter_rows())


def _verdict(rows: tuple[CoverageRow, ...], fitted: FittedMarket) -> Verdict:
    overall = [row for row in rows if row.kind == "all"]
    if fitted.calibration is None or not overall:
        return Verdict("unproven", 0, fitted.uncalibrated)
    outcome: Outcome = "held up"
    for worst in ("too narrow", "too wide"):
        if any(row.verdict == worst for row in overall):
            outcome = worst
            break
    sentence = words.of_verdict(outcome, [row.coverage for row in overall])
    return Verdict(outcome, TOO_NARROW if outcome == "too narrow" else 0, sentence)
