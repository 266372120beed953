"""Lists with pairs whose era nobody states: their prices are mixed by the learned odds of their eras."""

import json
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

import numpy as np
import polars as pl
import pytest
from click.testing import Result

from pipeline.answers.era_odds.answer import value_in_doubt
from pipeline.market.era_mixture import EraChances, mix_eras
from pipeline.market.model import pair_factors
from pipeline.market.pair import Pair
from pipeline.market.price_distribution import PriceDistribution, price_distribution
from tests.demo_ledger import demo_sales
from tests.restorations import VALUED_ON, demo_market_fitted
from tests.unit.test_learned_odds import called, export
from tests.unit.test_rests_on import TEXT

UNKNOWN = Pair("Gannet Hi", colourway="Buoy Red", foot_mm=270, grade=7.0)
PAIRS = (Pair("Gannet Hi", era="first", grade=7.0), UNKNOWN, Pair("Dunlin"))
LOTS = """
[maps.lots]
venue = "Lantern Dock"
files = "lots*.csv"
holds = "lots"
currency = "GBP"
price_basis = "all-in"
columns = { lot_ref = "lot", title = "title", era = "era", box = "box", price_native = "bid" }

[maps.stock]
venue = "Lantern Dock"
files = "stock*.csv"
holds = "stock"
price_basis = "all-in"
columns = { stock_ref = "stock", title = "title", era = "era", box = "box" }
"""
STOCK = "stock,title,era,box\nS1,Gannet Hi,,original\n"
ROWS = "lot,title,era,box,bid\n1,Gannet Hi,first,original,90\n2,Gannet Hi,,original,90\n3,Gannet Hi,1980s,none,90\n"


def mixed(*chances: float) -> tuple[PriceDistribution, PriceDistribution]:
    """Return the prices of PAIRS, and those with the second one's era in doubt: first or late reissue."""
    fitted = demo_market_fitted()
    factors = pair_factors(PAIRS, as_of=VALUED_ON)
    known = price_distribution(fitted, factors)
    doubt = EraChances(np.array([1]), ("first", "late reissue"), np.array([chances]))
    return known, mix_eras(known, doubt, fitted, factors)


def test_a_certain_era_has_the_prices_of_that_era() -> None:
    fitted = demo_market_fitted()
    _, prices = mixed(1.0, 0.0)
    factors = pair_factors(
        [PAIRS[0], Pair("Gannet Hi", "Buoy Red", "first", foot_mm=270, grade=7.0)], as_of=VALUED_ON
    )
    certain = price_distribution(fitted, factors)

    assert [prices.quantile(chance)[1] for chance in (0.1, 0.5, 0.9)] == pytest.approx(
        [certain.quantile(chance)[1] for chance in (0.1, 0.5, 0.9)]
    )


def test_a_pair_of_a_list_has_the_value_that_it_has_alone() -> None:
    _, prices = mixed(0.7, 0.3)
    sales = demo_sales().filter(pl.col("silhouette") == "Gannet Hi")
    alone = value_in_doubt(
        UNKNOWN, {"first": 0.7, "late reissue": 0.3}, demo_market_fitted(), sales, as_of=VALUED_ON
    )

    assert np.exp(prices.centre[1]) == pytest.approx(alone.median, rel=1e-3)
    assert np.exp([prices.quantile(0.1)[1], prices.quantile(0.9)[1]]) == pytest.approx(
        [alone.bands[1].low, alone.bands[1].high], rel=2e-3
    )


def test_pairs_whose_era_is_stated_keep_their_prices() -> None:
    known, prices = mixed(0.5, 0.5)

    assert prices.table[[0, 2]].tolist() == known.table[[0, 2]].tolist()
    assert prices.quantile(0.2)[[0, 2]].tolist() == known.quantile(0.2)[[0, 2]].tolist()


def test_some_of_the_pairs_keep_the_prices_that_they_had_among_all() -> None:
    _, prices = mixed(0.5, 0.5)
    part = prices.rows(np.array([2, 1]))

    assert part.table.tolist() == prices.table[[2, 1]].tolist()
    assert part.quantile(0.3).tolist() == prices.quantile(0.3)[[2, 1]].tolist()
    assert part.centre.tolist() == prices.centre[[2, 1]].tolist()


def test_without_a_pair_in_doubt_nothing_changes() -> None:
    known, _ = mixed(0.5, 0.5)
    nobody = EraChances(np.array([], dtype=np.int64), ("first",), np.zeros((0, 1)))
    factors = pair_factors(PAIRS, as_of=VALUED_ON)

    assert mix_eras(known, nobody, demo_market_fitted(), factors) is known


@cache
def shop(more: str = "") -> Path:
    """Return a folder with a ledger of 300 sales and a list of three lots."""
    folder = Path(mkdtemp(prefix="pairband-lots-"))
    (folder / "market.toml").write_text(TEXT + LOTS + more, encoding="utf-8")
    (folder / "lantern_2023.csv").write_text(export(300), encoding="utf-8")
    (folder / "lots.csv").write_text(ROWS, encoding="utf-8")
    (folder / "stock.csv").write_text(STOCK, encoding="utf-8")
    called(folder, "ingest", str(folder / "lantern_2023.csv"))
    called(folder, "fit")
    return folder


def bid_on(folder: Path, *words: str) -> Result:
    return called(folder, "lots", str(folder / "lots.csv"), "--on", "2024-10-01", "--json", *words)


def test_a_list_by_odds_says_which_rows_are_valued_so() -> None:
    cautions = " ".join(json.loads(bid_on(shop(), "--era-odds", "sales").stdout)["cautions"])

    assert "Valued by learned odds of the eras, since no era is stated: rows 3, 4." in cautions
    assert "could not be read" not in cautions


def test_only_lots_without_an_era_are_valued_otherwise() -> None:
    plain, by_odds = (
        {lot["lot_ref"]: lot["median"] for lot in json.loads(bid_on(shop(), *words).stdout)["lots"]}
        for words in ((), ("--era-odds", "sales"))
    )

    assert plain["1"] == by_odds["1"]
    assert plain["2"] != by_odds["2"]


def test_a_decade_counts_in_the_odds_of_a_lot() -> None:
    lots = {lot["lot_ref"]: lot for lot in json.loads(bid_on(shop(), "--era-odds", "sales").stdout)["lots"]}

    assert lots["3"]["median"] != lots["2"]["median"]


def test_the_market_file_may_ask_for_odds_in_lists() -> None:
    always = shop("\n[era_odds]\nin_lists = true\n")

    assert (
        json.loads(bid_on(always).stdout)["lots"]
        == json.loads(bid_on(shop(), "--era-odds", "sales").stdout)["lots"]
    )


def test_a_list_can_be_valued_without_the_odds_that_the_market_file_asks_for() -> None:
    always = shop("\n[era_odds]\nin_lists = true\n")

    assert (
        json.loads(bid_on(always, "--era-odds", "none").stdout)["lots"]
        == json.loads(bid_on(shop()).stdout)["lots"]
    )


def stock(*words: str) -> Any:
    listed = ("stock", str(shop() / "stock.csv"), "--on", "2024-10-01", "--json")
    return json.loads(called(shop(), *listed, *words).stdout)


def test_a_stock_list_by_odds_says_which_rows_are_valued_so() -> None:
    assert any(
        "no era is stated: row 2. It does not" in one for one in stock("--era-odds", "sales")["cautions"]
    )


def test_a_stock_list_is_valued_by_odds_only_where_asked() -> None:
    assert stock()["pairs"][0]["median"] != stock("--era-odds", "sales")["pairs"][0]["median"]


def test_a_stock_of_one_pair_in_doubt_is_worth_what_the_pair_is() -> None:
    found = stock("--era-odds", "sales")
    [pair], whole = found["pairs"], found["whole"]

    assert [whole["low"], whole["median"], whole["high"]] == pytest.approx(
        [pair["low"], pair["median"], pair["high"]], rel=0.03
    )


def test_odds_are_of_lots_to_come() -> None:
    said = called(shop(), "lots", "--backtest", "--era-odds", "sales")

    assert said.exit_code == 2
    assert "lots to come" in said.output
