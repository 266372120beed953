"""Scatter: the spread of single sales, record by record."""

import numpy as np
import polars as pl
import pytest

from pipeline.errors import FitError
from pipeline.hedonic.fit import FitSettings
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.frame import FrameSource
from pipeline.hedonic.predict import log_prices
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.rolling import fit_origins
from pipeline.hedonic.scales import FITTED, scales
from pipeline.hedonic.specification import Specification, Term

TERMS = (Term("kind", "pooled", ("kind",)), Term("price", "walk", (FITTED,)))
PRICE = Specification("log_price", (Term("kind", "level", ("kind",)),))


def sold(spread: dict[str, float], count: int = 800, degrees_of_freedom: float = 5.0) -> pl.DataFrame:
    draws = np.random.default_rng(5)
    kind = np.array(list(spread))[np.arange(count) % len(spread)]
    noise = (
        draws.standard_t(degrees_of_freedom, count)
        if np.isfinite(degrees_of_freedom)
        else draws.standard_normal(count)
    )
    wide = np.array([spread[name] for name in kind])
    return pl.DataFrame({"kind": kind, "log_price": 5 + (kind == "b") * 0.5 + wide * noise})


def scattered(frame: pl.DataFrame, robust: Robust | None) -> tuple[Fit, dict[str, float]]:
    found = fit_origins(FrameSource(frame), FitSettings(lambda known: PRICE, robust, TERMS), ()).whole
    wide = frame.with_columns(pl.Series("scale", found.scale(frame, log_prices(found.fit, frame))))
    return found.scatter, dict(wide.group_by("kind").agg(pl.col("scale").mean()).iter_rows())


def test_a_kind_that_scatters_twice_as_much_is_found_to() -> None:
    _, found = scattered(sold({"a": 0.1, "b": 0.2}), Robust(degrees_of_freedom=5.0))

    assert found["a"] == pytest.approx(0.1, rel=0.1)
    assert found["b"] == pytest.approx(0.2, rel=0.1)


def test_gaussian_errors_have_their_standard_deviation_as_scale() -> None:
    _, found = scattered(sold({"a": 0.1, "b": 0.3}, degrees_of_freedom=np.inf), None)

    assert found["a"] == pytest.approx(0.1, rel=0.1)
    assert found["b"] == pytest.approx(0.3, rel=0.1)


def test_kinds_that_scatter_alike_share_one_scale() -> None:
    _, found = scattered(sold({"a": 0.15, "b": 0.15, "c": 0.15, "d": 0.15}), Robust(degrees_of_freedom=5.0))

    assert max(found.values()) < 1.06 * min(found.values())


def test_one_wrong_price_does_not_make_its_kind_look_wild() -> None:
    frame = sold({"a": 0.1, "b": 0.1})
    wrong = frame.with_columns(
        log_price=pl.when(pl.int_range(pl.len()) == 0).then(pl.lit(12.0)).otherwise("log_price")
    )

    right, mistaken = (
        scattered(frame, Robust(degrees_of_freedom=5.0))[1],
        scattered(wrong, Robust(degrees_of_freedom=5.0))[1],
    )

    assert mistaken["a"] == pytest.approx(right["a"], rel=0.04)


def test_a_kind_that_was_never_sold_has_the_usual_scale() -> None:
    scatter, found = scattered(sold({"a": 0.1, "b": 0.2}), Robust(degrees_of_freedom=5.0))

    unseen = scales(scatter, pl.DataFrame({"kind": ["new"]}), [5.0])[0]

    assert found["a"] < unseen < found["b"]


def test_huber_weights_say_nothing_of_the_scatter() -> None:
    frame = sold({"a": 0.1, "b": 0.2})
    settings = FitSettings(lambda known: PRICE, Robust(kind="huber"), TERMS)

    with pytest.raises(FitError, match="Huber weights state no distribution of errors"):
        fit_origins(FrameSource(frame), settings, ())


def test_without_terms_of_the_scatter_all_sales_have_one_scale() -> None:
    frame = sold({"a": 0.1, "b": 0.1})
    whole = fit_origins(FrameSource(frame), FitSettings(lambda known: PRICE, Robust()), ()).whole

    assert whole.scale(frame, log_prices(whole.fit, frame)) == pytest.approx(
        np.full(len(frame), 0.1), rel=0.1
    )
