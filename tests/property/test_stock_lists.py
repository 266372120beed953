"""Stock lists of different days leave the same ledger in whatever order they are read, and no row is lost."""

import tempfile
from datetime import date, timedelta
from pathlib import Path

import polars as pl
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from pipeline.config import Market, load_market
from pipeline.ledger import open_ledger
from pipeline.ledger.checks import run_checks
from tests.stock_lists import listings, pair, read_stock, with_stock

MARKET: Market = with_stock(load_market(Path(__file__).parents[1] / "market.toml"))
SLOW = settings(
    max_examples=7,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=True,
    phases=[Phase.explicit, Phase.generate],
)
ROWS = st.builds(
    pair,
    number=st.sampled_from(["A1", "A2", "A3"]),
    cost=st.sampled_from(["80", "0", "", "eighty"]),
    ask=st.sampled_from(["200", "-1", ""]),
    currency=st.sampled_from(["EUR", "GBP", ""]),
)
LISTS = st.dictionaries(st.integers(0, 60), st.lists(ROWS, max_size=3), min_size=1, max_size=4)


def _stock(lists: list[tuple[int, list[str]]]) -> pl.DataFrame:
    """Return what the ledger holds once the lists were read one after another."""
    with tempfile.TemporaryDirectory() as name, open_ledger(Path(name) / "l.duckdb", create=True) as ledger:
        for day, rows in lists:
            read = read_stock(ledger, MARKET, Path(name), *rows, on=date(2026, 4, 1) + timedelta(days=day))
            assert (
                read.read == len(rows) == read.recorded + read.duplicates + read.quarantined + read.put_aside
            )
        assert run_checks(ledger) == ()
        return listings(ledger)


@SLOW
@given(lists=LISTS, data=st.data())
def test_the_order_in_which_lists_of_different_days_are_read_changes_nothing(
    lists: dict[int, list[str]], data: st.DataObject
) -> None:
    in_days = sorted(lists.items())
    other = data.draw(st.permutations(in_days))

    assert _stock(in_days).equals(_stock(other))
