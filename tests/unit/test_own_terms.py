"""An owner's own terms: what a term does follows from the columns that it reads, not from its name."""

from datetime import date
from functools import cache

import numpy as np
import polars as pl

from pipeline.answers.appraisal.answer import appraise
from pipeline.answers.era_odds.answer import value_in_doubt
from pipeline.answers.lots.answer import value_lots
from pipeline.config import Market, Model, ModelTerm
from pipeline.market.fitted_market import FittedMarket
from pipeline.market.model import DEFAULT_TERMS
from pipeline.market.pair import Pair
from tests import drawn
from tests.upcoming import RATES, TERMS, upcoming_records

TODAY = date(2026, 10, 1)
OWN_NAMES = {"silhouette": "shape", "era": "run", "grade": "condition"}
UNHEARD = "Great Auk"


@cache
def own_market() -> Market:
    """Return the demo's market file with the usual terms, two of them under names of the owner's own."""
    terms = tuple(
        ModelTerm(
            name=OWN_NAMES.get(term.name, term.name),
            kind=term.kind,  # type: ignore[arg-type]
            columns=term.columns,
        )
        for term in DEFAULT_TERMS
    )
    return drawn.scenario_market().model_copy(update={"model": Model(terms=terms)})


@cache
def own_fit() -> FittedMarket:
    return drawn.fitted_plainly(drawn.sales(1500, 11), market=own_market())


def sales_with_one_unheard() -> pl.DataFrame:
    """Return the sales behind the fit, and one of another silhouette that came after it."""
    known = drawn.sales(1500, 11)
    return pl.concat([known, known.head(1).with_columns(silhouette=pl.lit(UNHEARD))])


def test_a_grade_curve_of_any_name_is_held_to_a_rise() -> None:
    fit = drawn.fitted_plainly(drawn.sales_falling_in_grade(), market=own_market()).fit
    effects = fit.effects.filter(pl.col("term") == "condition", pl.col("level") != "unknown")

    assert np.diff(effects["effect"].to_numpy()).min() > -1e-9


def test_a_silhouette_that_the_fit_never_saw_is_out_of_support_under_any_name_of_its_term() -> None:
    sales = sales_with_one_unheard().filter(pl.col("silhouette") == UNHEARD)

    value = appraise(Pair(silhouette=UNHEARD), own_fit(), own_market(), sales, as_of=TODAY)

    assert value.in_support is False


def test_an_era_that_the_fit_never_saw_is_reported_under_any_name_of_its_term() -> None:
    sales = drawn.sales(1500, 11).filter(pl.col("era") != "first")
    fitted = drawn.fitted_plainly(sales, market=own_market())

    doubt = value_in_doubt(
        Pair(silhouette="Gannet Hi"), {"first": 0.5, "second": 0.5}, fitted, sales.clear(), as_of=TODAY
    )

    assert doubt.cautions[0].startswith("No sale stands behind the value as first:")


def test_a_lot_of_a_silhouette_that_the_fit_never_saw_is_flagged_under_any_name_of_its_term() -> None:
    records = upcoming_records().with_columns(silhouette=pl.lit(UNHEARD))

    lots = value_lots(records, own_fit(), own_market(), sales_with_one_unheard(), RATES, TERMS, as_of=TODAY)

    assert lots["flags"].list.contains("too few sales").all()
