"""Upcoming lots: what to bid on, how far, and what to look at first."""

import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from polars.testing import assert_frame_equal

from pipeline.answers.lots.answer import BID, CLOSED, LOOK, LOOK_FIRST, PASS, UNKNOWN_COST
from pipeline.answers.lots.landed import landing
from pipeline.config import Market
from pipeline.errors import MapError
from pipeline.ingest.lots import read_lots
from pipeline.shipped import shipped
from sample_data import scenario
from tests.exports import AS_OF, write_lantern
from tests.upcoming import RATES, TERMS, demo_lots, upcoming_records, valued


def lot(number: int) -> dict[str, object]:
    """Return the demo's lot of that row."""
    return demo_lots().lots.filter(pl.col("row_number") == number).row(0, named=True)


def flagged(flag: str) -> set[int]:
    lots = demo_lots().lots
    return set(lots.filter(pl.col("flags").list.contains(flag))["row_number"])


def test_every_lot_of_the_file_is_ranked_once() -> None:
    lots = demo_lots().lots

    assert lots["rank"].to_list() == list(range(1, 41))
    assert sorted(lots["row_number"]) == sorted(upcoming_records()["row_number"])


def test_the_two_lots_whose_stamp_contradicts_their_era_are_flagged() -> None:
    records = upcoming_records()
    planted = records.filter(pl.col("flags").list.contains("era in conflict"))["row_number"]

    assert len(planted) == 2
    assert flagged("label and era disagree") == set(planted)


def fair_values() -> pl.DataFrame:
    """Return (lot_ref, fair): the known true value of each lot, all-in, in EUR."""
    text = (shipped("sample_data") / "expected.json").read_text(encoding="utf-8")
    known = json.loads(text)["fair_values_of_upcoming_lots"]
    return pl.DataFrame({"lot_ref": list(known), "fair": list(known.values())})


def test_the_two_lots_estimated_at_a_quarter_of_their_value_are_suspiciously_cheap() -> None:
    rate = pl.col("currency").replace_strict(RATES, return_dtype=pl.Float64)
    estimated = upcoming_records().join(fair_values(), on="lot_ref")
    share = pl.col("ask_native").cast(pl.Float64) / rate / pl.col("fair")
    planted = set(estimated.filter(share < 0.3)["row_number"])

    assert len(planted) == 2
    assert planted <= flagged("suspiciously cheap")


def test_few_other_lots_are_suspiciously_cheap() -> None:
    assert len(flagged("suspiciously cheap")) <= 4


def test_the_true_value_of_nearly_every_lot_is_in_its_range() -> None:
    known = (
        demo_lots()
        .lots.join(fair_values(), on="lot_ref")
        .filter(~pl.col("flags").list.contains("label and era disagree"))
    )

    inside = known.filter(pl.col("fair").is_between("low_80", "high_80"))
    assert inside.height >= 0.9 * known.height


def test_the_lot_of_an_unknown_silhouette_has_too_few_sales() -> None:
    unknown = upcoming_records().filter(pl.col("silhouette").is_null())["row_number"]

    assert flagged("too few sales") == set(unknown)


def test_a_lot_to_look_at_first_never_ranks_above_a_plain_bid() -> None:
    order = demo_lots().lots["verdict"].replace_strict({BID: 0, LOOK: 1, PASS: 2, UNKNOWN_COST: 3})

    assert order.is_sorted()


def test_a_lot_whose_sale_is_over_is_closed_and_ranks_last() -> None:
    early = upcoming_records().with_columns(
        closed_on=pl.when(pl.col("row_number") == 2).then(pl.date(2026, 9, 30)).otherwise("closed_on")
    )
    last = valued(early, TERMS).row(-1, named=True)

    assert (last["row_number"], last["verdict"]) == (2, CLOSED)


def test_a_flagged_lot_is_never_a_plain_bid() -> None:
    bids = demo_lots().lots.filter(pl.col("verdict") == BID)

    assert bids["flags"].list.set_intersection(list(LOOK_FIRST)).list.len().sum() == 0


def test_the_maximum_bid_leaves_the_margin_at_the_cautious_price() -> None:
    certain, greedy = (valued(upcoming_records(), replace(TERMS, confidence=level)) for level in (0.95, 0.5))

    both = certain.join(greedy, on="row_number", suffix="_greedy")
    assert (both["walk_away_bid"] < both["walk_away_bid_greedy"]).all()


def test_a_wider_margin_never_raises_a_maximum_bid() -> None:
    modest, wide = (valued(upcoming_records(), replace(TERMS, margin=margin)) for margin in (0.1, 0.4))

    both = modest.join(wide, on="row_number", suffix="_wide")
    assert (both["walk_away_bid"] >= both["walk_away_bid_wide"]).all()


def test_the_landed_cost_is_that_of_the_present_bid() -> None:
    first = lot(2)
    house = landing(
        scenario.market().venue(str(first["venue"])), scenario.market(), rate=1.0, on=date(2026, 10, 10)
    )
    bid = np.array([round(float(str(first["present_bid"])) * 10_000)])

    assert first["landed_cost"] == house.cost(bid)[0] / 100


def test_the_gain_is_what_the_resale_nets_less_the_landed_cost() -> None:
    lots = demo_lots().lots

    assert lots["expected_gain"].to_list() == pytest.approx(
        (lots["resale_net"] - lots["landed_cost"]).to_list()
    )


def test_the_order_of_the_file_changes_no_value() -> None:
    shuffled = upcoming_records().sample(fraction=1.0, shuffle=True, seed=3)

    assert_frame_equal(valued(shuffled), demo_lots().lots)


def test_a_lot_valued_alone_is_valued_as_among_others() -> None:
    alone = valued(upcoming_records().filter(pl.col("row_number") == 5)).drop("rank")

    assert_frame_equal(alone, demo_lots().lots.filter(pl.col("row_number") == 5).drop("rank"), rel_tol=1e-6)


def test_a_file_without_lots_gives_an_empty_list() -> None:
    empty = valued(upcoming_records().clear())

    assert empty.height == 0
    assert empty.columns == demo_lots().lots.columns


def test_a_lot_without_a_bid_has_a_maximum_bid_and_no_gain() -> None:
    no_bid = upcoming_records().head(1).with_columns(price_native=pl.lit(None, dtype=pl.Decimal(18, 4)))

    row = valued(no_bid).row(0, named=True)
    assert row["walk_away_bid"] > 0
    assert row["expected_gain"] is row["landed_cost"] is row["chance_of_loss"] is None


def asked_at(venue: str, above: int) -> str:
    """Return the verdict on a lot of a venue whose price is so much above its maximum bid."""
    sold_at = scenario.market().venue(venue)
    one = upcoming_records().filter(pl.col("grade").is_not_null()).head(1)
    one = one.with_columns(venue=pl.lit(venue), currency=pl.lit(sold_at.currency), flags=pl.lit([]))
    most = valued(one)["walk_away_bid"].item()
    assert most > 0
    priced = one.with_columns(price_native=pl.lit(most + above).cast(pl.Decimal(18, 4)))
    return str(valued(priced)["verdict"].item())


@pytest.mark.parametrize(("above", "verdict"), [(0, BID), (1, PASS)])
def test_a_fixed_price_is_to_buy_up_to_the_maximum_bid_itself(above: int, verdict: str) -> None:
    assert asked_at(scenario.LANTERN, above) == verdict


def test_a_lot_at_auction_that_stands_at_the_maximum_bid_is_passed() -> None:
    assert asked_at(scenario.HOLM, 0) == PASS


def test_a_lot_in_another_currency_than_its_houses_is_named() -> None:
    foreign = upcoming_records().head(1).with_columns(currency=pl.lit("USD"))

    row = valued(foreign).row(0, named=True)
    assert row["verdict"] == UNKNOWN_COST
    assert row["why"] == "the venue's fees are in EUR, the bid is in USD"


def test_a_currency_without_a_rate_is_named() -> None:
    from pipeline.answers.lots.answer import value_lots
    from tests.demo_ledger import demo_sales
    from tests.restorations import demo_market_fitted

    yen = upcoming_records().filter(pl.col("currency") == "JPY").head(1)
    rates = {name: rate for name, rate in RATES.items() if name != "JPY"}

    row = value_lots(
        yen, demo_market_fitted(), scenario.market(), demo_sales(), rates, TERMS, as_of=date(2026, 10, 1)
    ).row(0, named=True)
    assert row["why"] == "no exchange rate of JPY is known"


def test_without_a_resale_venue_a_pair_is_sold_again_where_it_was_bought() -> None:
    named = scenario.HOLM
    at_holm = upcoming_records().filter(pl.col("venue") == named)

    here, there = (valued(at_holm, replace(TERMS, sells_at=venue)) for venue in (None, named))
    assert_frame_equal(here, there)


def test_an_auction_nets_less_of_a_resale_than_the_owners_own_counter() -> None:
    at_auction = valued(upcoming_records(), replace(TERMS, sells_at=scenario.HOLM))

    both = at_auction.join(demo_lots().lots, on="row_number", suffix="_counter")
    assert (both["resale_net"] < both["resale_net_counter"]).all()


def test_a_stock_list_is_not_taken_for_upcoming_lots(market: Market, tmp_path: Path) -> None:
    listed = market.maps["lantern"].model_copy(update={"holds": "stock"})
    own = market.model_copy(update={"maps": {"lantern": listed}})
    with pytest.raises(MapError, match="no map is for files called"):
        read_lots(write_lantern(tmp_path), own, as_of=AS_OF, holds=("lots",))
