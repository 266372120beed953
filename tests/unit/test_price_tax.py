"""A price is what a private buyer pays in all: tax that an export states apart is added, and none is added twice."""

from collections.abc import Iterator
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import pytest

from pipeline.answers.records.answer import row_beside
from pipeline.config import Market, parse_market
from pipeline.errors import MarketFileError
from pipeline.ingest.put_right import correct
from pipeline.ingest.run import ingest_files
from pipeline.ledger import Ledger, open_ledger
from tests.kept import sales_of

TEXT = (Path(__file__).parents[1] / "market.toml").read_text(encoding="utf-8")
MAP = """
[maps.till]
venue = "{venue}"
files = "till_*.csv"
currency = "EUR"
price_basis = "{basis}"
columns = {{ lot_ref = "No", title = "Pair", closed_on = "Day", price_native = "Price"{ask} }}
{tax}
"""
HEADER = "No,Pair,Day,Price,VAT,Asked"
EXCLUDED = 'tax = "excluded"\n'


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with open_ledger(tmp_path / "pairband.duckdb", create=True) as opened:
        yield opened


def with_map(
    tax: str = "", basis: str = "all-in", venue: str = "Counter", ask: str = ', ask_native = "Asked"'
) -> Market:
    """Return the market with a counter that takes nothing from buyers, and a map with these lines on tax."""
    counter = '\n[[venues]]\nname = "Counter"\nkind = "shop"\ncurrency = "EUR"\n'
    return parse_market(
        TEXT + counter + MAP.format(tax=tax, basis=basis, venue=venue, ask=ask), where="market.toml"
    )


def ingest_rows(ledger: Ledger, market: Market, folder: Path, *rows: str) -> None:
    """Ingest these rows of a till."""
    path = folder / "till_1.csv"
    path.write_text("\n".join([HEADER, *rows]) + "\n", encoding="utf-8")
    now = datetime(2026, 6, 30, 12, tzinfo=UTC)
    ingest_files(ledger, market, [path], as_of=date(2026, 6, 30), loaded_at=now)


def paid(ledger: Ledger, market: Market, folder: Path, row: str) -> Decimal | None:
    """Return what the buyer paid by this row, in euros."""
    ingest_rows(ledger, market, folder, row)
    found: Decimal | None = sales_of(ledger)["price_paid"].item()
    return found


@pytest.mark.parametrize("tax", ["", 'tax = "included"', 'tax = "margin"'])
def test_nothing_is_added_to_a_price_that_counts_its_tax(ledger: Ledger, tmp_path: Path, tax: str) -> None:
    assert paid(ledger, with_map(tax), tmp_path, "1,Gannet Hi,2024-03-01,100.00,20.00,") == 100


def test_a_column_of_tax_is_added_to_a_price_without_it(ledger: Ledger, tmp_path: Path) -> None:
    market = with_map(EXCLUDED + 'tax_column = "VAT"')
    assert paid(ledger, market, tmp_path, "1,Gannet Hi,2024-03-01,100.00,19.00,") == 119


def test_an_empty_cell_of_tax_adds_nothing(ledger: Ledger, tmp_path: Path) -> None:
    market = with_map(EXCLUDED + 'tax_column = "VAT"')
    assert paid(ledger, market, tmp_path, "1,Gannet Hi,2024-03-01,100.00,,") == 100


def test_a_rate_of_tax_is_added_to_the_cent(ledger: Ledger, tmp_path: Path) -> None:
    market = with_map(EXCLUDED + "tax_rate = 0.19")
    assert paid(ledger, market, tmp_path, "1,Gannet Hi,2024-03-01,83.99,,") == Decimal("99.95")


def test_tax_on_a_hammer_price_is_added_beside_the_premium(ledger: Ledger, tmp_path: Path) -> None:
    market = with_map(EXCLUDED + "tax_rate = 0.10", basis="hammer", venue="Holm Sound Auctions")
    assert paid(ledger, market, tmp_path, "1,Gannet Hi,2024-03-01,500.00,,") == 650 + 50


def test_a_tax_that_cannot_be_read_puts_its_sale_in_quarantine(ledger: Ledger, tmp_path: Path) -> None:
    market = with_map(EXCLUDED + 'tax_column = "VAT"')
    ingest_rows(ledger, market, tmp_path, "1,Gannet Hi,2024-03-01,100.00,twenty,")
    [row] = ledger.read("staging/quarantine_list").to_dicts()
    assert (row["value"], row["reason"].split(":")[0]) == ("twenty", "the tax on it cannot be read")


def test_an_asking_price_without_tax_is_compared_with_its_rate_added(ledger: Ledger, tmp_path: Path) -> None:
    ingest_rows(
        ledger, with_map(EXCLUDED + "tax_rate = 0.20"), tmp_path, "1,Gannet Hi,2024-03-01,100.00,,110.00"
    )
    assert sales_of(ledger)["ask_price"].item() == 132


@pytest.mark.parametrize(
    ("tax", "basis", "words"),
    [
        ("tax_rate = 0.2", "all-in", "added to a price without tax"),
        ('tax = "included"\ntax_rate = 0.2', "all-in", "added to a price without tax"),
        ('tax = "excluded"', "all-in", "needs one of `tax_rate`"),
        ('tax = "excluded"\ntax_rate = 0.2\ntax_column = "VAT"', "all-in", "needs one of `tax_rate`"),
        ('tax = "excluded"\ntax_rate = 0.2', "net", "leave `tax` out"),
        ('tax = "margin"\nholds = "lots"', "all-in", "a map of sales"),
        ('tax = "excluded"\ntax_rate = 0.12345678', "all-in", "at most 6 decimals"),
    ],
)
def test_a_tax_that_contradicts_itself_is_refused(tax: str, basis: str, words: str) -> None:
    with pytest.raises(MarketFileError, match=words):
        with_map(tax, basis)


OWN = {"note": "", "ruled_at": datetime(2026, 7, 1), "as_of": date(2026, 6, 30)}


def corrected(ledger: Ledger, market: Market, folder: Path, **said: str) -> Decimal | None:
    """Return what the buyer paid once the owner has corrected a sale at 100.00 with 19.00 of tax beside it."""
    ingest_rows(ledger, market, folder, "1,Gannet Hi,2024-03-01,100.00,19.00,")
    correct(ledger, market, sales_of(ledger)["record_id"].item(), said, **OWN)  # type: ignore[arg-type]
    found: Decimal | None = sales_of(ledger)["price_paid"].item()
    return found


def test_tax_of_a_column_follows_a_corrected_price_in_proportion(ledger: Ledger, tmp_path: Path) -> None:
    market = with_map(EXCLUDED + 'tax_column = "VAT"')
    assert corrected(ledger, market, tmp_path, price_native="200") == 238


def test_tax_at_a_rate_follows_a_corrected_price(ledger: Ledger, tmp_path: Path) -> None:
    market = with_map(EXCLUDED + "tax_rate = 0.2")
    assert corrected(ledger, market, tmp_path, price_native="200") == 240


@pytest.mark.parametrize("tax", ['tax_column = "VAT"', "tax_rate = 0.2"])
def test_nothing_is_added_to_a_corrected_price_that_is_said_to_be_all_in(
    ledger: Ledger, tmp_path: Path, tax: str
) -> None:
    market = with_map(EXCLUDED + tax)
    assert corrected(ledger, market, tmp_path, price_native="200", price_basis="all-in") == 200


def test_another_correction_leaves_the_tax_of_a_row_as_it_was(ledger: Ledger, tmp_path: Path) -> None:
    market = with_map(EXCLUDED + 'tax_column = "VAT"')
    assert corrected(ledger, market, tmp_path, grade="8") == 119


def test_a_hammer_price_that_is_corrected_to_all_in_gets_no_premium(ledger: Ledger, tmp_path: Path) -> None:
    market = with_map("", basis="hammer", venue="Holm Sound Auctions")
    assert corrected(ledger, market, tmp_path, price_native="200", price_basis="all-in") == 200


@pytest.mark.parametrize(
    ("tax", "said", "words"),
    [
        ("", {}, "is all that the buyer paid, as the export's is"),
        (
            EXCLUDED + 'tax_column = "VAT"',
            {},
            "is the price to the buyer without tax: the tax follows from it",
        ),
        (EXCLUDED + 'tax_column = "VAT"', {"price_basis": "all-in"}, "nothing is added to it"),
    ],
)
def test_a_record_says_what_its_corrected_price_counts(
    ledger: Ledger, tmp_path: Path, tax: str, said: dict[str, str], words: str
) -> None:
    market = with_map(tax)
    corrected(ledger, market, tmp_path, price_native="200", **said)
    keys = ledger.read_with("staging/keys_of_records", sales_of(ledger).select("record_id"))
    [row] = ledger.read_with("staging/rows_of_keys", keys.select("row_key")).to_dicts()
    kept = dict(ledger.read("staging/kept_corrections").select("field", "value").iter_rows())
    assert words in row_beside(row, market, kept).price_note
