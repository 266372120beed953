"""Amounts in minor units: an export that writes 12345 for 123.45 is read as 123.45, and nothing else is."""

from collections.abc import Iterator
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from pipeline.answers.market_file.draft import MapDraft
from pipeline.config import Market, parse_market
from pipeline.errors import MarketFileError
from pipeline.ingest.account import read_account
from pipeline.ingest.lots import read_lots
from pipeline.ingest.proposal import MapProposal, propose_map
from pipeline.ingest.put_right import correct
from pipeline.ingest.run import ingest_files
from pipeline.ledger import Ledger, open_ledger
from tests.kept import sales_of

TEXT = (Path(__file__).parents[1] / "market.toml").read_text(encoding="utf-8")
MAP = """
[[venues]]
name = "Counter"
kind = "shop"
currency = "EUR"

[maps.till]
venue = "Counter"
files = "till_*.csv"
price_basis = "all-in"
{keys}
columns = {{ lot_ref = "No", title = "Pair", closed_on = "Day", price_native = "Price", ask_native = "Asked"{more} }}
"""
NOW = datetime(2026, 6, 30, 12, tzinfo=UTC)


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with open_ledger(tmp_path / "pairband.duckdb", create=True) as opened:
        yield opened


def till(keys: str = 'amounts = "minor"', more: str = "") -> Market:
    """Return the market with a counter whose export has these keys and further columns."""
    return parse_market(TEXT + MAP.format(keys=keys, more=more), where="market.toml")


def read(ledger: Ledger, market: Market, folder: Path, price: str, asked: str = "", more: str = "") -> None:
    """Ingest one row of the till."""
    path = folder / "till_1.csv"
    path.write_text(f"No,Pair,Day,Price,Asked,More\n1,Gannet Hi,2024-03-01,{price},{asked},{more}\n", "utf-8")
    ingest_files(ledger, market, [path], as_of=date(2026, 6, 30), loaded_at=NOW)


def sale(ledger: Ledger) -> dict[str, Any]:
    """Return the one sale."""
    [found] = sales_of(ledger).to_dicts()
    return found


def refused(ledger: Ledger) -> tuple[str, str]:
    """Return the field and reason of the one row in quarantine."""
    [found] = ledger.connection.execute("SELECT field, reason FROM quarantine").fetchall()
    return (str(found[0]), str(found[1]))


def test_cents_are_read_as_euros(ledger: Ledger, tmp_path: Path) -> None:
    read(ledger, till(), tmp_path, "12345")
    assert sale(ledger)["price_native"] == Decimal("123.45")


def test_the_asking_price_is_in_cents_too(ledger: Ledger, tmp_path: Path) -> None:
    read(ledger, till(), tmp_path, "12345", asked="15000")
    assert sale(ledger)["ask_native"] == 150


def test_amounts_are_in_the_currency_itself_where_the_map_says_nothing(
    ledger: Ledger, tmp_path: Path
) -> None:
    read(ledger, till(""), tmp_path, "12345")
    assert sale(ledger)["price_native"] == 12345


@pytest.mark.parametrize(
    ("code", "price"),
    [("SEK", "1234.5"), ("PLN", "1234.5"), ("HUF", "1234.5"), ("JPY", "123450"), ("KRW", "123450")],
)
def test_a_minor_unit_is_that_of_the_currency_of_the_row(
    ledger: Ledger, tmp_path: Path, code: str, price: str
) -> None:
    read(ledger, till(more=', currency = "More"'), tmp_path, "123450", more=code)
    assert sale(ledger)["price_native"] == Decimal(price)


def test_the_currency_that_a_cell_names_says_its_minor_unit(ledger: Ledger, tmp_path: Path) -> None:
    read(ledger, till(), tmp_path, "JPY 12345")
    assert (sale(ledger)["currency"], sale(ledger)["price_native"]) == ("JPY", 12345)


def test_the_tax_in_a_column_of_its_own_is_in_cents_too(ledger: Ledger, tmp_path: Path) -> None:
    keys = 'amounts = "minor"\ntax = "excluded"\ntax_column = "More"'
    read(ledger, till(keys), tmp_path, "10000", more="1900")
    assert sale(ledger)["all_in_native"] == 119


def test_the_lower_end_of_an_estimate_in_cents_is_asked(ledger: Ledger, tmp_path: Path) -> None:
    read(ledger, till(), tmp_path, "12345", asked="12000 - 18000")
    assert sale(ledger)["ask_native"] == 120


def test_a_refund_in_cents_is_taken_off_its_sale(ledger: Ledger, tmp_path: Path) -> None:
    path = tmp_path / "till_1.csv"
    rows = "1,Gannet Hi,2024-03-01,12345,,\n1,Gannet Hi,2024-03-05,-2345,,\n"
    path.write_text("No,Pair,Day,Price,Asked,More\n" + rows, "utf-8")
    ingest_files(ledger, till(), [path], as_of=date(2026, 6, 30), loaded_at=NOW)
    assert sale(ledger)["price_native"] == 100


def test_the_cost_of_a_pair_in_a_stock_list_may_be_in_cents(tmp_path: Path) -> None:
    market = till('amounts = "minor"\nholds = "stock"')
    path = tmp_path / "till_1.csv"
    path.write_text("No,Pair,Day,Price,Asked,More\n1,Gannet Hi,2024-03-01,12345,,\n", "utf-8")
    pairs, _, _ = read_lots(path, market, as_of=date(2026, 6, 30))
    assert pairs["price_native"].to_list() == [Decimal("123.45")]


def test_whole_cents_with_empty_decimals_are_whole(ledger: Ledger, tmp_path: Path) -> None:
    read(ledger, till(), tmp_path, "12345.0")
    assert sale(ledger)["price_native"] == Decimal("123.45")


def test_cents_with_a_decimal_comma_are_read(ledger: Ledger, tmp_path: Path) -> None:
    read(ledger, till('amounts = "minor"\ndecimal_mark = ","'), tmp_path, "12345")
    assert sale(ledger)["price_native"] == Decimal("123.45")


def test_a_price_with_decimals_is_no_number_of_cents(ledger: Ledger, tmp_path: Path) -> None:
    read(ledger, till(), tmp_path, "123.45")
    field, reason = refused(ledger)
    assert field == "price_native"
    assert reason.startswith("it has decimals")


def test_what_is_no_amount_is_refused_as_ever(ledger: Ledger, tmp_path: Path) -> None:
    read(ledger, till(), tmp_path, "on request")
    assert refused(ledger) == ("price_native", "not an amount: it holds other words")


def test_a_corrected_price_is_written_in_the_currency_itself(ledger: Ledger, tmp_path: Path) -> None:
    market = till()
    read(ledger, market, tmp_path, "12345")
    said = {"price_native": "99.50"}
    correct(ledger, market, sale(ledger)["record_id"], said, note="", as_of=NOW.date(), ruled_at=NOW)
    assert sale(ledger)["price_native"] == Decimal("99.50")


def test_minor_units_are_refused_for_a_map_without_amounts() -> None:
    text = TEXT + MAP.format(keys='amounts = "minor"', more="")
    text = text.replace(', price_native = "Price", ask_native = "Asked"', "")
    with pytest.raises(MarketFileError, match="neither price_native nor ask_native"):
        parse_market(text, where="market.toml")


def test_a_wrong_word_for_the_unit_is_refused_with_the_words_allowed() -> None:
    with pytest.raises(MarketFileError, match=r"(?s)amounts.*'major' or 'minor'"):
        till('amounts = "cents"')


CENTS = ("10499", "13900", "28350", "4500", "37995", "61200", "8950", "24000")
EUROS = tuple(f"{int(cents) / 100:.2f}" for cents in CENTS)


def proposed(folder: Path, heading: str, amounts: tuple[str, ...], **more: tuple[str, ...]) -> MapProposal:
    """Return the proposal for an export with a column of amounts, and further columns."""
    columns = {
        "id": tuple(f"T{number}" for number in range(len(amounts))),
        "date": tuple(f"2024-03-{number + 11}" for number in range(len(amounts))),
        "title": ("Gannet Hi first run",) * len(amounts),
        heading: amounts,
        **more,
    }
    path = folder / "payouts.csv"
    path.write_text(pl.DataFrame(columns).write_csv(), "utf-8")
    return propose_map(path, parse_market(TEXT, where="market.toml"))


def keys(proposal: MapProposal) -> dict[str, object]:
    """Return the keys that a proposal decides."""
    return {one.key: one.value for one in proposal.settings}


def asked(proposal: MapProposal) -> list[str]:
    """Return the keys that a proposal asks."""
    return [one.key for one in proposal.questions]


def read_as(proposal: MapProposal) -> dict[str, str | None]:
    """Return what each column is read as."""
    return {one.column: one.field for one in proposal.columns}


HEADINGS = (
    *("amount_minor", "price_cents", "amountCents", "Price (pence)", "Betrag in Cent", "Preis (ct)"),
    *(
        "precio (centavos)",
        "Importe en céntimos",
        "prix en centimes",
        "Prezzo in centesimi",
        "Cena w groszach",
    ),
    *("Pris i öre", "Beløb (øre)", "Hinta senttiä", "Cena v haléřích", "Fiyat (kuruş)", "金額(最小単位)"),
)


@pytest.mark.parametrize("heading", HEADINGS)
def test_a_heading_of_whole_amounts_that_says_cents_proposes_minor_units(
    heading: str, tmp_path: Path
) -> None:
    assert keys(proposed(tmp_path, heading, CENTS))["amounts"] == "minor"


def test_a_heading_that_says_cents_is_not_believed_of_amounts_with_decimals(tmp_path: Path) -> None:
    assert "amounts" not in keys(proposed(tmp_path, "price_cents", EUROS))


def test_the_proposed_map_of_minor_units_says_them_as_toml(tmp_path: Path) -> None:
    assert '\namounts = "minor"  # ' in proposed(tmp_path, "amount_minor", CENTS).to_toml()


def test_a_price_is_read_from_the_column_in_the_currency_where_another_has_its_cents(tmp_path: Path) -> None:
    found = read_as(proposed(tmp_path, "price_cents", CENTS, price=EUROS))
    assert (found["price_cents"], found["price"]) == (None, "price_native")


def test_a_column_that_no_heading_explains_is_the_price_of_which_another_is_the_cents() -> None:
    cells = pl.DataFrame({"price": CENTS, "display": EUROS})
    assert read_account(cells, numbers_are_plain=False).price == "display"


def test_a_column_that_lacks_many_prices_does_not_replace_their_cents() -> None:
    cells = pl.DataFrame({"price": CENTS, "display": (*EUROS[:5], None, None, None)})
    assert read_account(cells, numbers_are_plain=False).price == "price"


def test_a_rate_beside_its_percentage_is_not_taken_for_cents() -> None:
    cells = pl.DataFrame({"price": EUROS, "VAT rate": ("0.19", "0.07") * 4, "VAT percent": ("19", "7") * 4})
    assert read_account(cells, numbers_are_plain=False).columns["VAT percent"].role == "rate"


def test_a_price_beside_its_cents_needs_no_key(tmp_path: Path) -> None:
    proposal = proposed(tmp_path, "price_cents", CENTS, price=EUROS)
    assert "amounts" not in {*keys(proposal), *asked(proposal)}


def test_whole_amounts_of_very_dear_pairs_are_asked_about(tmp_path: Path) -> None:
    assert "amounts" in asked(proposed(tmp_path, "price", CENTS))


def test_whole_amounts_of_usual_pairs_are_not_asked_about(tmp_path: Path) -> None:
    assert "amounts" not in asked(proposed(tmp_path, "price", tuple(cents[:-2] for cents in CENTS)))


def test_whole_amounts_beside_fees_with_decimals_are_not_asked_about(tmp_path: Path) -> None:
    fees = tuple(f"{int(cents) / 10:.2f}" for cents in CENTS)
    assert "amounts" not in asked(proposed(tmp_path, "price", CENTS, fee=fees))


@pytest.mark.parametrize("code", ["JPY", "KRW", "HUF"])
def test_large_whole_amounts_of_a_currency_of_small_units_are_not_asked_about(
    code: str, tmp_path: Path
) -> None:
    codes = (code,) * len(CENTS)
    assert "amounts" not in asked(proposed(tmp_path, "price", CENTS, currency=codes))


def test_what_is_asked_in_cents_is_no_ask_of_a_price_in_the_currency() -> None:
    cells = pl.DataFrame({"price": EUROS, "asking price cents": tuple(f"{int(one) + 1500}" for one in CENTS)})
    assert read_account(cells, numbers_are_plain=False).ask is None


def test_a_price_that_the_owner_moves_to_a_column_of_cents_is_in_minor_units(tmp_path: Path) -> None:
    draft = MapDraft.of(proposed(tmp_path, "price_cents", CENTS, price=EUROS))
    assert draft.changed("price = price_cents").keys["amounts"] == "minor"


def test_a_price_that_the_owner_moves_away_from_cents_is_in_the_currency(tmp_path: Path) -> None:
    draft = MapDraft.of(proposed(tmp_path, "amount_minor", CENTS, worth=tuple(one[:-1] for one in CENTS)))
    assert "amounts" not in draft.changed("price = worth").keys


def test_the_owner_answers_that_amounts_are_in_minor_units(tmp_path: Path) -> None:
    draft = MapDraft.of(proposed(tmp_path, "price", CENTS))
    assert draft.answered("amounts", "minor").table()["amounts"] == "minor"
