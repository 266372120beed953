"""Attributes worth more or less together than apart: what the market file, the fit and the words make of them."""

from dataclasses import replace
from functools import cache

import polars as pl
import pytest

from pipeline.answers.appraisal.answer import appraise
from pipeline.answers.audit.answer import audit as make_audit
from pipeline.answers.audit.tables import audit_sheet
from pipeline.answers.audit.words import of_interactions
from pipeline.config import Market, Model, PairsOfFactors
from pipeline.errors import FitError
from pipeline.hedonic.interactions import Interactions
from pipeline.market.fit import fit_at_origins, fit_prices
from pipeline.market.fitted_market import FittedMarket, from_stored, to_stored
from pipeline.market.model import possible_pairs
from pipeline.market.pair import Pair
from tests import drawn
from tests.audits import usual_audit

FOUND = Interactions(True, 1, (("era", "box"), ("defects", "size_mm")), (), 0.0042, 0.0011, 208.5)


def market(**interactions: object) -> Market:
    """Return the demo's market file with these pairs of factors."""
    model = Model(interactions=PairsOfFactors(**interactions))  # type: ignore[arg-type]
    return drawn.scenario_market().model_copy(update={"model": model})


def sales() -> pl.DataFrame:
    """Return drawn sales of which a first run with a box fetched 80 % more than its run and its box are worth apart."""
    both = (pl.col("era") == "first") & (pl.col("box") != "none")
    raised = drawn.sales(1500, 11).with_columns(pl.col("log_price") + 0.6 * both)
    return raised.with_columns(pl.col("log_price").exp().alias("price_paid"))


@cache
def fitted() -> FittedMarket:
    return drawn.fitted_to(sales())


def names(fit_of: Market, frame: pl.DataFrame) -> list[str]:
    return [term.name for term in fit_prices(drawn.source_of(frame), fit_of).specification.terms]


def test_a_pair_in_always_is_in_every_fit() -> None:
    wanted = market(always=[["box", "era"]])

    assert "box by era" in names(wanted, drawn.sales(1500, 11))
    assert "box by era" in names(wanted, drawn.sales(1500, 11).head(60))


def test_a_pair_in_always_that_a_usual_term_is_over_is_in_the_fit_once() -> None:
    assert names(market(always=[["silhouette", "era"]]), drawn.sales(1500, 11)) == names(
        market(), drawn.sales(1500, 11)
    )


def test_a_pair_in_never_is_not_looked_for_in_either_order() -> None:
    asked = {frozenset(term.columns) for term in possible_pairs(market())}
    ruled_out = {frozenset(term.columns) for term in possible_pairs(market(never=[["box", "era"]]))}

    assert asked - ruled_out == {frozenset({"era", "box"})}


def test_a_pair_in_always_is_not_looked_for() -> None:
    pairs = {frozenset(term.columns) for term in possible_pairs(market(always=[["box", "era"]]))}

    assert frozenset({"era", "box"}) not in pairs


def test_a_market_finds_the_pair_that_fetches_more_together() -> None:
    assert fitted().interactions.pairs == (("era", "box"),)
    assert [term.name for term in fitted().found] == ["era by box"]


def test_a_boxed_first_run_is_valued_as_such_pairs_sold() -> None:
    pair = Pair(silhouette="Gannet Hi", era="first", box="original", grade=7.0)
    own = sales().filter(pl.col("silhouette") == "Gannet Hi")

    with_pair, without = (
        appraise(pair, fit, drawn.scenario_market(), own, as_of=fit.fitted_on).median
        for fit in (fitted(), drawn.fitted())
    )

    assert 1.5 < with_pair / without < 2.1


def test_a_fit_is_read_back_with_the_pairs_that_it_found() -> None:
    again = from_stored(*to_stored(fitted()))

    assert again.interactions == fitted().interactions
    assert again.found == fitted().found


def test_a_fit_that_names_a_pair_without_its_term_is_damaged() -> None:
    stored = to_stored(replace(fitted(), interactions=FOUND))

    with pytest.raises(FitError, match="no term for a pair of factors"):
        from_stored(*stored)


def test_fits_of_past_days_have_the_pairs_that_were_known_then() -> None:
    past = fit_at_origins(drawn.source_of(sales()), drawn.scenario_market(), (24_300,), rounds=1).past

    assert "era by box" in [term.name for term in past[0].fit.specification.terms]  # type: ignore[union-attr]


def test_the_pairs_that_count_are_named_with_what_they_gain() -> None:
    assert of_interactions(FOUND, "EUR") == (
        "Worth more or less together than apart, and valued so: era × box, defects × size. By that errors on later "
        "sales fell by 0.42 % of the price (± 0.11): €0.88 (± €0.23) at the median price.",
    )


def test_pairs_that_gain_no_more_than_chance_are_said_not_to_count() -> None:
    (said,) = of_interactions(replace(FOUND, rounds=0, gain=0.001), "EUR")

    assert "They do not count: errors on later sales fell by 0.1 % of the price (± 0.11)" in said


def test_pairs_that_make_later_errors_larger_are_said_to() -> None:
    (said,) = of_interactions(replace(FOUND, rounds=0, gain=-0.001), "EUR")

    assert said.endswith(
        "They do not count: errors on later sales rose by 0.1 % of the price (± 0.11): €0.21 (± €0.23) at the median "
        "price."
    )


def test_pairs_that_no_later_sale_could_judge_are_said_not_to_count() -> None:
    (said,) = of_interactions(Interactions(True, pairs=(("era", "box"),)), "EUR")

    assert "era × box. No later sale can show yet" in said


def test_a_search_that_found_nothing_says_so() -> None:
    assert of_interactions(Interactions(True), "EUR") == (
        "No pair of attributes was found that is worth more or less together than apart.",
    )


def test_nothing_is_said_where_pairs_were_not_looked_for() -> None:
    assert of_interactions(Interactions(False), "EUR") == ()


def test_a_pair_left_out_for_its_many_combinations_is_named() -> None:
    said = of_interactions(replace(FOUND, too_many=(("silhouette", "size_mm"),)), "EUR")

    assert said[-1].startswith("silhouette × size is left out: ")


def test_the_audit_says_which_pairs_count_beside_the_nearest_sales() -> None:
    audit = replace(usual_audit(), interactions=FOUND, interactions_words=of_interactions(FOUND, "EUR"))
    (errors,) = (one for one in audit_sheet(audit).tables if one.key == "errors")

    assert "valued so: era × box, defects × size." in str(errors.note)


def test_the_audit_of_a_market_has_what_its_fit_found() -> None:
    found = make_audit(sales(), drawn.scenario_market(), as_of=fitted().last_sale)

    assert found.interactions == fitted().interactions
    assert "valued so: era × box. By that errors on later sales fell by" in found.interactions_words[0]
