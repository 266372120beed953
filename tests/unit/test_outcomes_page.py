"""The page of outcomes: profits and bands in charts and in words, and nothing on it that is not known."""

import re
from dataclasses import replace
from datetime import date

import polars as pl

from pipeline.answers.outcomes.answer import Outcomes, judge
from pipeline.answers.outcomes.profit_tables import NO_BOOKKEEPING
from pipeline.answers.outcomes.rule import earn_by_rule
from reports.outcomes.page import outcomes_figures, outcomes_page
from tests.unit.test_profit import of_two
from tests.unit.test_rule import AGAIN, LOT, MARKET

ON = date(2025, 1, 1)
TEXTS = ("stock_ref", "lot_ref", "currency")
LISTS = dict.fromkeys(("treatments", "treatments_at_sale"), pl.List(pl.String))
NUMBERS = ("value_before", "work_cost", "expected_gain")


def judged(**change: object) -> Outcomes:
    """Return what became of one kept lot and of two pairs of the stock."""
    settled = pl.DataFrame([LOT | {"sold_at": "Quay", "price_paid": 240.0} | change]).with_columns(
        *(pl.lit(None, pl.String).alias(name) for name in TEXTS),
        *(pl.lit(None, dtype).alias(name) for name, dtype in LISTS.items()),
        *(pl.lit(None, pl.Float64).alias(name) for name in NUMBERS),
        price_kind=pl.lit("maximum bid"),
    )
    again = pl.DataFrame(
        [AGAIN], schema_overrides={"net_native": pl.Decimal(18, 4), "flags": pl.List(pl.String)}
    )
    found = judge(settled, as_of=ON, currency="EUR")
    return replace(found, profits=of_two(), rule=earn_by_rule(settled, again, MARKET, as_of=ON))


def text_of(page: str) -> str:
    return " ".join(re.sub(r"<(style|script|svg)\b.*?</\1>|<[^>]*>", " ", page, flags=re.DOTALL).split())


def test_the_page_says_the_profit_the_bands_and_what_the_rule_would_have_made() -> None:
    said = text_of(outcomes_page(judged(), business="Tidewrack Pairs")).replace("\u00a0", " ")
    for sentence in (
        "1 pair sold for €180 net, at a cost of €100: a profit of €62, 34 % of the net.",
        "1 value kept, 1 sold since: the 80 % band held 1 of 1 (100 %).",
        "Of 1 lot sold, your rule would have bought 1: 1 sold again since, a gain of €69 in all.",
    ):
        assert sentence in said


def test_the_page_says_that_it_is_no_bookkeeping() -> None:
    assert NO_BOOKKEEPING in text_of(outcomes_page(judged(), business="Tidewrack Pairs"))


def test_every_figure_of_the_page_is_also_said_in_words() -> None:
    said = {figure.key: figure.alternative for figure in outcomes_figures(judged())}
    assert said == {
        "bands": "Bands, and what was paid: Gannet Hi first, 9 Mar 2024: €240 paid, band €150 – €260, held.",
        "profits": "Profit by month: June 2024, 2 sold: +€62 (net €180, cost €100).",
    }


def test_a_page_of_no_stock_and_no_sale_draws_nothing() -> None:
    unsold = replace(judged(status="unsold"), profits=None, rule=None)
    assert outcomes_figures(unsold) == ()


def test_a_page_of_no_stock_and_no_sale_says_that_nothing_was_sold() -> None:
    unsold = replace(judged(status="unsold"), profits=None, rule=None)
    said = text_of(outcomes_page(unsold, business="Tidewrack Pairs"))
    assert "1 value kept; none of these pairs was sold since." in said


def test_what_a_pair_is_called_cannot_steer_the_page() -> None:
    page = outcomes_page(judged(pair="<script>alert(1)</script>"), business="Tidewrack Pairs")
    assert "<script>alert" not in page
