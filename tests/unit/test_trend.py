"""The trend: where the market's level is in its last months and beyond them, and whether it counts."""

from dataclasses import replace
from datetime import date
from functools import cache

import numpy as np
import polars as pl
import pytest

from pipeline.answers.audit.words import of_trend
from pipeline.answers.market_view.index import month_index
from pipeline.hedonic.fit import FitSettings, fit
from pipeline.hedonic.fitted import Fit, Trend
from pipeline.hedonic.frame import FrameSource
from pipeline.hedonic.index import period_index
from pipeline.hedonic.predict import log_prices, predict
from pipeline.hedonic.residuals import residuals
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.rolling import Rolled, choose_origins, roll, trended
from pipeline.hedonic.rows import rows_by_term
from pipeline.hedonic.specification import Specification, Term
from pipeline.hedonic.trend import (
    NO_TREND,
    SHAPES,
    Shape,
    TrendStage,
    find_trend,
    measure_trend,
    moves_at,
    slope_of,
    taken,
)
from pipeline.market.fitted_market import FittedMarket, from_stored, to_stored
from tests import drawn

MONTHS = 96
SPEC = Specification("log_price", (Term("kind", "pooled", ("kind",)), Term("month", "walk", ("month",))))
SETTINGS = FitSettings(
    lambda sales: SPEC,
    Robust(degrees_of_freedom=5.0),
    (Term("kind", "pooled", ("kind",)),),
    "month",
    {"kind": "kind", "month": "month"},
)
USED = TrendStage(True, 12, 0.8, 0.002, 0.001, 0.9, 0.3, 0.01)


def sold(rise: float, scatter: float, *, turned: int = MONTHS, seed: int = 1) -> pl.DataFrame:
    """Return sales of eight years; the level rises by `rise` a month until it `turned` flat, and scatters by month."""
    draws = np.random.default_rng(seed)
    steps = draws.normal(0, scatter, MONTHS) + np.where(np.arange(MONTHS) < turned, rise, 0.0)
    month, kind = draws.integers(0, MONTHS, 4000), draws.integers(0, 12, 4000)
    return pl.DataFrame(
        {
            "kind": [f"k{number}" for number in kind],
            "month": month,
            "log_price": 4 + 0.1 * kind + np.cumsum(steps)[month] + 0.15 * draws.standard_t(5, 4000),
        }
    )


@cache
def tried(
    rise: float, scatter: float, turned: int = MONTHS, seed: int = 1
) -> tuple[Rolled, Rolled, TrendStage]:
    """Return what rolling origins find without a trend, and with it where it serves."""
    sales = sold(rise, scatter, turned=turned, seed=seed)
    origins = choose_origins(sales["month"], step=3, most=12, fewest=40)
    rolled = roll(FrameSource(sales), SETTINGS, origins)
    return (rolled, *trended(rolled, "month"))


@cache
def rising() -> Fit:
    return fit(sold(0.01, 0.005), SPEC)


def rising_trend(shape: Shape = SHAPES[0]) -> Trend:
    trend = find_trend(rising(), "month", shape)
    assert trend is not None
    return trend


def at_months(*months: float) -> pl.DataFrame:
    return pl.DataFrame(
        {"kind": ["k1"] * len(months), "month": list(months)}, schema_overrides={"month": pl.Float64}
    )


def bias(rolled: Rolled) -> float:
    """Return the signed median error of later sales, in log price."""
    return float(np.median(rolled.sales["error"].to_numpy()))


def test_a_damped_trend_moves_by_the_sum_worked_out_by_hand() -> None:
    """Beyond the last level: its lag of 2, and 0.8, 0.8 + 0.64 + 0.512; between levels the lag between theirs."""
    trend = Trend("month", 12, 0.8, 12.0, (0.0, 1.0, 2.0))

    moved = trend.steps(np.array([0.0, 1.0, 2.0]), np.array([-3.0, 0.0, 1.5, 2.0, 3.0, 5.0]))

    assert moved == pytest.approx([0, 0, 1.5, 2, 2.8, 3.952])


def test_a_month_after_the_last_one_is_valued_by_the_slope_of_the_last_twelve() -> None:
    trend = rising_trend()
    effects = rising().effects.filter(pl.col("term") == "month")
    by_month = dict(zip(effects["level"].cast(pl.Int64), effects["effect"], strict=True))
    slope = (by_month[MONTHS - 1] - by_month[MONTHS - 13]) / trend.span

    plain, moved = (
        log_prices(one, at_months(MONTHS + 1)) for one in (rising(), replace(rising(), trend=trend))
    )

    assert moved - plain == pytest.approx([slope * (trend.lags[-1] + 0.8 + 0.64)])


def straight() -> tuple[np.ndarray, np.ndarray]:  # type: ignore[type-arg]
    """Return (a straight line by month, what a fit of sales that lie on it exactly shows), by normal equations.

    The line is 0 in the last month, the walk's reference, so that the intercept is the level of that month.
    """
    frame, walk = sold(0.01, 0.005), np.arange(MONTHS) - (MONTHS - 1.0)
    kinds = np.eye(12)[frame["kind"].str.strip_prefix("k").cast(pl.Int64).to_numpy()]
    months = np.eye(MONTHS)[frame["month"].to_numpy()][:, :-1]
    design = np.column_stack([np.ones(frame.height), kinds, months])
    steps = np.diff(np.eye(MONTHS), axis=0)[:, :-1]
    penalty = np.zeros((design.shape[1], design.shape[1]))
    penalty[1:13, 1:13] = rising().lambdas["kind"] * np.eye(12)
    penalty[13:, 13:] = rising().lambdas["month"] * steps.T @ steps
    found = np.linalg.solve(design.T @ design + penalty, design.T @ walk[frame["month"].to_numpy()])
    return walk, found[0] + np.append(found[13:], 0.0)


def test_the_lag_is_by_how_much_a_fit_of_an_exactly_straight_line_is_behind_it() -> None:
    line, shown = straight()

    assert rising_trend().lags == pytest.approx(np.maximum(line - shown, 0), abs=1e-6)


@pytest.mark.parametrize("months", [12, 24, 36])
def test_the_span_is_what_a_fit_of_an_exactly_straight_line_shows_of_it(months: int) -> None:
    _, shown = straight()

    assert rising_trend(Shape(months, 0.8)).span == pytest.approx(shown[-1] - shown[-1 - months], abs=1e-6)


def test_the_last_month_lags_most_and_a_year_before_it_hardly_at_all() -> None:
    lags = rising_trend().lags

    assert lags[-1] > 0.5
    assert lags[-1] == max(lags)
    assert lags[-13] < 0.1 * lags[-1]


def test_a_value_makes_no_step_where_the_last_month_ends() -> None:
    """From the last month to the next it moves by the damped slope alone: the last month has its lag too."""
    trended_fit = replace(rising(), trend=rising_trend())

    last, after = log_prices(trended_fit, at_months(MONTHS - 1, MONTHS))

    assert after - last == pytest.approx(0.8 * slope_of(rising(), rising_trend()))


def test_values_of_the_last_months_rise_as_fast_as_the_market_did() -> None:
    """A rise of .01 a month, scattered by .005 each month."""
    found = log_prices(replace(rising(), trend=rising_trend()), at_months(*range(MONTHS - 12, MONTHS)))

    assert np.polyfit(np.arange(12), found, 1)[0] == pytest.approx(0.01, abs=0.003)


def test_the_first_months_keep_their_level() -> None:
    early = at_months(-2, 0, 6.5)

    plain, moved = (log_prices(one, early) for one in (rising(), replace(rising(), trend=rising_trend())))

    assert moved == pytest.approx(plain, abs=1e-6)


@pytest.mark.parametrize("shape", range(len(SHAPES)))
def test_what_a_trend_adds_at_an_origin_is_what_a_fit_with_it_predicts(shape: int) -> None:
    frame = at_months(3, MONTHS - 6, MONTHS - 1, MONTHS, MONTHS + 2)
    trend = find_trend(rising(), "month", SHAPES[shape])
    plain, moved = (predict(one, frame) for one in (rising(), replace(rising(), trend=trend)))

    moves, variances = moves_at(rising(), "month", rows_by_term(rising(), frame), frame["month"].to_numpy())

    assert moves[:, shape] == pytest.approx((moved["log_price"] - plain["log_price"]).to_numpy())
    assert variances[:, shape] == pytest.approx(
        (moved["estimation_variance"] - plain["estimation_variance"]).to_numpy()
    )


def test_a_market_without_a_walk_over_months_has_no_trend() -> None:
    alone = fit(sold(0.01, 0.005), Specification("log_price", SPEC.terms[:1]))

    assert find_trend(alone, "month", SHAPES[0]) is None


def test_records_of_half_a_year_show_no_trend() -> None:
    assert find_trend(fit(sold(0.01, 0.005).filter(pl.col("month") < 7), SPEC), "month", SHAPES[0]) is None


def test_a_walk_that_shows_hardly_anything_of_a_slope_has_no_trend() -> None:
    flat = fit(sold(0.0, 0.0), SPEC)

    assert find_trend(flat, "month", SHAPES[0]) is None


@pytest.mark.parametrize("rise", [0.01, -0.01])
def test_in_a_market_that_moves_by_one_per_cent_a_month_the_trend_is_used(rise: float) -> None:
    _, _, stage = tried(rise, 0.005)

    assert stage.used
    assert stage.pace == pytest.approx(rise, abs=0.004)


@pytest.mark.parametrize("rise", [0.01, -0.01])
def test_later_sales_of_a_steadily_moving_market_lie_within_two_per_cent_of_their_values(rise: float) -> None:
    before, after, _ = tried(rise, 0.005)

    assert abs(bias(before)) > 0.02
    assert abs(bias(after)) < 0.02


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_in_a_market_that_goes_nowhere_no_trend_is_used(seed: int) -> None:
    before, after, stage = tried(0.0, 0.02, seed=seed)

    assert not stage.used
    assert after.sales.equals(before.sales)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_in_a_market_that_turned_flat_two_years_ago_no_trend_is_used(seed: int) -> None:
    _, _, stage = tried(0.01, 0.005, 72, seed)

    assert not stage.used


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_in_a_market_that_turned_flat_half_a_year_ago_later_sales_err_no_more(seed: int) -> None:
    before, after, _ = tried(0.01, 0.005, 90, seed)

    assert after.sales["error"].abs().mean() <= before.sales["error"].abs().mean()  # type: ignore[operator]


def test_bands_are_tried_on_the_prices_that_a_trend_gave_at_each_origin() -> None:
    before, after, _ = tried(0.01, 0.005)

    both = [(rolled.sales["log_price"] + rolled.sales["error"]).to_numpy() for rolled in (before, after)]
    assert both[1] == pytest.approx(both[0])
    assert not np.allclose(after.sales["log_price"].to_numpy(), before.sales["log_price"].to_numpy())
    assert (after.sales["variance"] >= 0).all()


def test_what_the_second_stage_learns_from_is_left_by_the_trend_too() -> None:
    """In a rising market sales of the last month fetched more than a walk says; with the trend hardly."""
    before, after, _ = tried(0.01, 0.005)
    months = before.singles.filter(pl.col("month") < before.origins[-1])["month"].to_numpy()
    plain, moved = (rolled.left[-1].past.residuals for rolled in (before, after))

    last = months == before.origins[-1] - 1
    assert plain[last].mean() > moved[last].mean() + 0.003
    assert moved[months < 12] == pytest.approx(plain[months < 12], abs=1e-6)


def test_what_sells_at_an_origin_chooses_no_trend_for_it() -> None:
    draws = np.random.default_rng(3)
    origins = np.repeat(np.arange(12), 50)
    moves = draws.normal(0, 0.05, (600, len(SHAPES)))
    errors = moves[:, 2] + draws.normal(0, 0.1, 600)
    later = np.where(origins == 11, moves[:, 4], errors)

    (_, one), (_, other) = (
        measure_trend(each, moves, np.full(600, 0.1), origins) for each in (errors, later)
    )

    assert (one == other).all()
    assert (one[origins == 0] == -1).all()
    assert (one[origins > 2] == 2).all()


def test_trends_that_predict_nothing_are_not_used() -> None:
    draws = np.random.default_rng(4)
    origins = np.repeat(np.arange(12), 50)

    moves = draws.normal(0, 0.05, (600, len(SHAPES)))

    stage, _ = measure_trend(draws.normal(0, 0.1, 600), moves, np.full(600, 0.1), origins)

    assert not stage.used


def test_one_mistyped_price_does_not_decide() -> None:
    """Ten times the price, where the trends predicted a fall: the share of what they predicted hardly moves."""
    draws = np.random.default_rng(5)
    origins, scale = np.repeat(np.arange(12), 50), np.full(600, 0.1)
    moves = draws.normal(0, 0.05, (600, 1)) * np.ones(len(SHAPES))
    errors = moves[:, 0] + draws.normal(0, 0.1, 600)
    mistyped = np.where(np.arange(600) == 300 + np.argmin(moves[300:, 0]), np.log(10), errors)

    (right, _), (wrong, _) = (measure_trend(each, moves, scale, origins) for each in (errors, mistyped))

    assert right.share == pytest.approx(1, abs=0.15)
    assert wrong.share == pytest.approx(right.share, abs=0.1)


def test_few_origins_prove_nothing() -> None:
    stage, chosen = measure_trend(np.ones(12), np.ones((12, len(SHAPES))), np.ones(12), np.arange(12) // 2)

    assert stage == NO_TREND
    assert (chosen == -1).all()


def test_a_trend_that_predicted_something_at_one_origin_only_is_not_used() -> None:
    """There the market did exactly as it said, so that no scatter over origins speaks against it."""
    origins = np.repeat(np.arange(12), 5)
    moves = np.where(origins >= 10, 0.1, 0.0)[:, None] * np.ones(len(SHAPES))

    stage, _ = measure_trend(moves[:, 0], moves, np.ones(60), origins)

    assert stage.gain > 0
    assert not stage.used


def test_no_shape_takes_nothing() -> None:
    assert taken(np.array([[1.0, 2.0], [3.0, 4.0]]), np.array([-1, 1])).tolist() == [0.0, 4.0]


@cache
def rising_shop() -> FittedMarket:
    """Return the fit of a shop's market, as `pairband fit` makes it, whose prices rise by 1 % a month more."""
    frame = drawn.sales(1500, 11)
    rise = 0.01 * (pl.col("month") - pl.col("month").min())
    return drawn.fitted_to(
        frame.with_columns(pl.col("log_price") + rise, price_paid=pl.col("price_paid") * rise.exp())
    )


def test_the_fit_of_a_rising_market_has_the_trend_that_served_best() -> None:
    fitted = rising_shop()

    assert fitted.trend.used
    assert fitted.fit.trend == find_trend(
        fitted.fit, "month", Shape(fitted.trend.months, fitted.trend.damping)
    )


def test_the_fit_of_a_rising_market_is_read_as_it_was_stored() -> None:
    again = from_stored(*to_stored(rising_shop()))

    assert (again.trend, again.fit.trend) == (rising_shop().trend, rising_shop().fit.trend)


def test_a_fit_says_that_its_values_go_on_with_the_trend() -> None:
    assert "Values in the last months and at later days go on with this trend" in of_trend(
        rising_shop().trend
    )


def test_residuals_are_those_of_the_regression() -> None:
    frame = sold(0.01, 0.005)

    assert residuals(replace(rising(), trend=rising_trend()), frame).equals(residuals(rising(), frame))


def test_the_index_goes_on_with_the_trend_after_the_last_month() -> None:
    found = period_index(
        replace(rising(), trend=rising_trend()), ["month"], [MONTHS - 1, MONTHS + 1], base=MONTHS - 1
    )

    slope = slope_of(rising(), rising_trend())
    assert found["effect"].to_list() == pytest.approx([0, slope * (0.8 + 0.64)])


def test_the_band_of_the_index_knows_that_the_slope_is_an_estimate() -> None:
    """The variance of the step is that of the slope, times the square of the step, and of the walk since."""
    trend = rising_trend()
    found = period_index(replace(rising(), trend=trend), ["month"], [MONTHS], base=MONTHS - 1)

    positions = rising().layout.positions[rising().factor("month").start :][[MONTHS - 1, MONTHS - 13]]
    weights = np.zeros(rising().layout.size + 1)
    weights[positions] = np.array([1, -1]) / trend.span
    slope = float(weights[:-1] @ (rising().covariance @ weights[:-1]))
    walk = rising().sigma2 / rising().lambdas["month"]
    assert found["error"][0] ** 2 == pytest.approx(0.64 * slope + walk)


def test_a_month_index_of_a_rising_market_rises_after_the_last_sale() -> None:
    later = sold(0.01, 0.005).with_columns(pl.col("month") + 12 * 2018)
    found = fit(later, SPEC)
    trend = find_trend(found, "month", SHAPES[0])

    _, points = month_index(replace(found, trend=trend), as_of=date(2026, 3, 31), base=None)

    assert [one.index for one in points[-3:]] == sorted(one.index for one in points[-3:])
    assert points[-1].index > points[-3].index


@pytest.mark.parametrize(
    ("stage", "said"),
    [
        (
            USED,
            "The market has risen by 12.7 % a year over its last 12 months. Values in the last months and at later "
            "days go on with this trend, by 20 % less each month: errors on later sales fell by 0.20 % of the price "
            "(standard error 0.10), and the market moved by 90 % (standard error 30) of what trends predicted.",
        ),
        (
            replace(USED, used=False, share=0.2, pace=-0.01),
            "The market has fallen by 11.3 % a year over its last 12 months. This trend is not counted, and values at "
            "later days keep the level of the last month: with trends errors on later sales fell by 0.20 % of the "
            "price (standard error 0.10), and the market moved by 20 % (standard error 30) of what trends predicted, "
            "which may be chance.",
        ),
        (
            replace(USED, used=False, gain=-0.001),
            "The market has risen by 12.7 % a year over its last 12 months. This trend is not counted, and values at "
            "later days keep the level of the last month: errors on later sales did not fall with trends; the market "
            "moved by 90 % (standard error 30) of what trends predicted.",
        ),
        (
            replace(USED, used=False, months=0, share=0.0, share_error=0.0),
            "The market has risen by 12.7 % a year over its last 12 months. This trend is not counted, and values at "
            "later days keep the level of the last month: before most of the later sales no trend had served yet.",
        ),
        (
            replace(NO_TREND, pace=0.01),
            "The market has risen by 12.7 % a year over its last 12 months. This trend is not counted, and values at "
            "later days keep the level of the last month: too few sales could be priced before they happened to try "
            "it.",
        ),
        (NO_TREND, ""),
    ],
)
def test_it_is_said_how_fast_the_market_moves_and_whether_values_go_on_with_it(
    stage: TrendStage, said: str
) -> None:
    assert of_trend(stage) == said
