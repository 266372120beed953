"""A refund takes back as much as it pays, whichever pairs of a line it is for."""

from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.config import ExportMap, load_market
from pipeline.ledger import open_ledger
from pipeline.ledger.checks import run_checks
from tests.exports import ingest
from tests.kept import sales_of

MARKET = load_market(Path(__file__).parents[1] / "market.toml")
COLUMNS = {
    "sale_ref": "order",
    "title": "title",
    "closed_on": "date",
    "price_native": "paid",
    "quantity": "pieces",
}
MAP = ExportMap.model_validate(
    {
        "venue": "Lantern Dock",
        "files": "orders*.csv",
        "price_basis": "all-in",
        "quantity_price": "line",
        "columns": COLUMNS,
    }
)


@settings(max_examples=6, deadline=None)
@given(st.integers(1, 5), st.lists(st.integers(1, 60), min_size=1, max_size=3))
def test_what_is_left_of_a_line_and_what_was_paid_back_are_its_price(pairs: int, refunds: list[int]) -> None:
    rows = [f"1,Plover Lo,2021-03-01,{100 * pairs},{pairs}"]
    rows += [f"1,Plover Lo,2021-03-{day:02},-{amount}," for day, amount in enumerate(refunds, start=2)]
    with TemporaryDirectory() as folder:
        path = Path(folder) / "orders.csv"
        path.write_text("\n".join([",".join(COLUMNS.values()), *rows]) + "\n", encoding="utf-8")
        with open_ledger(Path(folder) / "ledger.duckdb", create=True) as ledger:
            ingest(ledger, MARKET.model_copy(update={"maps": {"orders": MAP}}), [path])
            assert run_checks(ledger) == ()
            sales = sales_of(ledger)
    left = sum(float(price) for price in sales.filter(status="sold")["price_native"])
    undone = sales.filter(status="withdrawn").height
    assert left == max(100 * pairs - sum(refunds), 0)
    assert undone == min(sum(refunds) // 100, pairs)
