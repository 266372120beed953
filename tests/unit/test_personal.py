"""Names, addresses, e-mails and telephones of those who buy and sell are dropped before anything is kept."""

from pathlib import Path

import polars as pl
import pytest

from pipeline.config import ExportMap, Market
from pipeline.ingest.amount_words import AMOUNT_WORDS
from pipeline.ingest.header_words import FIELD_WORDS, NOT_READ_WORDS
from pipeline.ingest.lots import read_lots
from pipeline.ingest.personal import holds_personal, looks_personal, personal_columns
from pipeline.ingest.proposal import propose_map
from pipeline.ingest.quarantine import quarantine_csv
from pipeline.ledger import open_ledger
from tests.corpus.workbooks import parquet, workbook
from tests.exports import AS_OF, ingest
from tests.kept import sales_of

PERSONAL = {
    "English": "buyer;Buyer Name;buyer_email;buyerName;Bidder No;Paddle;Winning bidder;Customer ID;Sold to;"
    "Ship To Name;Shipping Address 1;Address line 2;Post code;ZIP;City;Buyer's phone;Tel no;"
    "Contact name;E-mail address;First name;"
    "Consignor;Consignor no;consignor_address;Vendor code;Seller ID;User name;Bank account;Date of birth",
    "German": "Käufer;Kaeufer;Käufername;Name des Käufers;Käufer-Nr.;Bieternummer;Einlieferer;Kundennummer;Anschrift;"
    "Straße;PLZ;Wohnort;Telefon;E-Mail-Adresse;Vorname;Name und Anschrift",
    "French": "Acheteur;Nom de l'acheteur;Adresse de l'acheteur;Courriel;Téléphone;Prénom;Vendeur;Déposant;Code postal",
    "Spanish": "Comprador;Nombre del comprador;Correo electrónico;Teléfono;Dirección;Vendedor;Apellido",
    "Italian": "Acquirente;Nome acquirente;Indirizzo;Telefono;Venditore;Cognome;Conferente",
    "Dutch": "Koper;Naam koper;Verkoper;Adres;Telefoonnummer;E-mailadres;Inbrenger",
    "the north and east": "Köpare;Säljare;Køber;Kjøper;E-post;Nabywca;Kupujący;Sprzedający;Покупатель;Телефон",
    "Asia": "落札者;落札者ID;購入者名;出品者;氏名;住所;郵便番号;電話番号;メールアドレス;买家姓名;电话"
    ";구매자;전화번호;賣家;寄售人",
    "the south-east": "Vevő;Vevő neve;Beadó;Cumpărător;Nume client;Deponent;"
    "Müşteri;Alıcı adı;Αγοραστής;Ονοματεπώνυμο",
}
NOT_PERSONAL = (
    "Name;Lot name;Brand name;Sale name;Seller fee;Seller's commission;Seller price;Buyer's premium;Buyer premium %;"
    "Vendor estimate;Käuferaufgeld;Einliefererprovision;Net to consignor;Seller proceeds;Consigned on;Shipping;"
    "Ship date;Shipping cost;Winning bid;Mail order;Telephone bid;Address label;Number of owners;Customer rating;"
    "落札者手数料;店名;買家佣金;賣家實收;구매자수수료;Vevő fizet"
)
LINE = "item,sku,title,listed,ended,asked,sold_for,state,size,grade,box"
SOLD = "7,,Gannet Hi,2021-01-01,2021-01-20,,80,sold,9,,"
BROKEN = "8,,Gannet Hi,2021-01-01,2021-02-31,,80,sold,9,,"


@pytest.mark.parametrize("language", PERSONAL)
def test_a_column_of_personal_data_is_known_by_its_name(language: str) -> None:
    names = PERSONAL[language].split(";")
    assert [name for name in names if not looks_personal(name)] == []
    assert [name for name in names if not looks_personal(f" {name.upper()} ")] == []


def test_a_fee_or_a_date_of_a_party_is_not_personal() -> None:
    assert [name for name in NOT_PERSONAL.split(";") if looks_personal(name)] == []


def test_no_column_that_a_field_is_read_from_is_taken_for_personal() -> None:
    words = [
        word for told in (*FIELD_WORDS.values(), *AMOUNT_WORDS.values(), NOT_READ_WORDS) for word in told
    ]
    assert [word for word in words if looks_personal(word)] == []


@pytest.mark.parametrize(
    ("values", "personal"),
    [
        (["q.nobody@example.org", None, "z@mail.example.org", "-"], True),
        (["+44 20 7946 0000", "0049 (89) 123-4567"], True),
        (["2021-03-04", "12 345 678", "0123456789"], False),
        (["tied @ 9", "sold@once"], False),
        ([None, None], False),
        ([], False),
    ],
)
def test_a_column_of_addresses_or_telephones_is_known_by_what_it_holds(
    values: list[str | None], personal: bool
) -> None:
    assert holds_personal(pl.Series(values, dtype=pl.String)) is personal


@pytest.mark.parametrize("called", ["Name", "namn", "Navn", "nom", "Nick", "handle"])
def test_a_column_called_name_is_dropped_unless_the_owner_maps_it(
    called: str, market: Market, tmp_path: Path
) -> None:
    path = tmp_path / "lantern_named.csv"
    path.write_text(f"{LINE},{called}\n{SOLD},Quentin Nobody\n")
    columns = {**market.maps["lantern"].columns, "notes": called}
    lantern = market.maps["lantern"].model_dump() | {"columns": columns}
    mapped = market.model_copy(update={"maps": {"lantern": ExportMap.model_validate(lantern)}})
    with open_ledger(tmp_path / "unmapped.duckdb", create=True) as ledger:
        [file] = ingest(ledger, market, [path]).files
    with open_ledger(tmp_path / "mapped.duckdb", create=True) as ledger:
        ingest(ledger, mapped, [path])
        assert sales_of(ledger)["notes"].to_list() == ["Quentin Nobody"]
    assert file.notes[-1] == f"columns of personal data were not read: {called}"
    assert b"obody" not in (tmp_path / "unmapped.duckdb").read_bytes()


@pytest.mark.parametrize("kind", ["csv", "jsonl", "xlsx", "parquet"])
def test_nothing_of_a_person_reaches_the_ledger_or_the_quarantine(
    kind: str, market: Market, tmp_path: Path
) -> None:
    header = [*LINE.split(","), "Käufer", "field 9", "buyerName"]
    rows = [
        [*row.split(","), "Quentin Nobody", f"{n}@nobody.example", "Q. Nobody"]
        for n, row in enumerate([SOLD, BROKEN])
    ]
    columns = {name: [row[at] for row in rows] for at, name in enumerate(header)}
    path = tmp_path / f"lantern_names.{kind}"
    if kind == "csv":
        path.write_text("\n".join(map(",".join, [header, *rows])) + "\n")
    elif kind == "jsonl":
        pl.DataFrame(columns).write_ndjson(path)
    else:
        path.write_bytes(workbook(Sale=[header, *rows]) if kind == "xlsx" else parquet(**columns))
    lantern = market.maps["lantern"].model_dump() | {"files": path.name}
    mapped = market.model_copy(update={"maps": {"lantern": ExportMap.model_validate(lantern)}})
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as ledger:
        [file] = ingest(ledger, mapped, [path]).files
        exported = quarantine_csv(ledger)
    assert (file.recorded, file.quarantined) == (1, 1)
    assert file.notes[-1] == "columns of personal data were not read: Käufer, field 9, buyerName"
    assert "obody" not in exported
    assert b"obody" not in (tmp_path / "ledger.duckdb").read_bytes()


def test_a_column_that_the_owner_maps_is_read_whatever_it_is_called(market: Market, tmp_path: Path) -> None:
    path = tmp_path / "lantern_own.csv"
    path.write_text(f"{LINE},consignor no\n{SOLD},C-17\n")
    columns = {**market.maps["lantern"].columns, "notes": "consignor no"}
    lantern = market.maps["lantern"].model_dump() | {"columns": columns}
    mapped = market.model_copy(update={"maps": {"lantern": ExportMap.model_validate(lantern)}})
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as ledger:
        ingest(ledger, mapped, [path])
        assert sales_of(ledger)["notes"].to_list() == ["C-17"]


def test_a_map_is_proposed_without_the_personal_columns_and_says_so(market: Market, tmp_path: Path) -> None:
    path = tmp_path / "new_house.csv"
    path.write_text(f"{LINE},Acheteur,field 9\n{SOLD},Quentin Nobody,q@nobody.example\n")
    proposed = propose_map(path, market).to_toml()
    assert '# not read: "Acheteur" (it looks like personal data, so ingest drops it)' in proposed
    assert '# not read: "field 9" (it looks like personal data, so ingest drops it)' in proposed
    assert "obody" not in proposed


def test_a_stock_list_is_read_without_its_consignors(market: Market, tmp_path: Path) -> None:
    stock = {"venue": "Lantern Listings", "files": "stock.csv", "holds": "stock", "currency": "GBP"}
    columns = {"stock_ref": "no", "title": "pair", "price_native": "cost"}
    mapped = market.model_copy(
        update={
            "maps": {"stock": ExportMap.model_validate(stock | {"price_basis": "all-in", "columns": columns})}
        }
    )
    path = tmp_path / "stock.csv"
    path.write_text(
        "no,pair,cost,Consignor,tel\n1,Gannet Hi,80,Quentin Nobody,+44 20 7946 0000\n2,Plover Lo,x,Q. Nobody,1\n"
    )
    pairs, refused, *_ = read_lots(path, mapped, as_of=AS_OF)
    assert (pairs.height, refused.height) == (1, 1)
    assert "Nobody" not in pairs.write_json() + refused.write_json()


def test_the_personal_columns_of_a_table_are_reported_in_their_order() -> None:
    cells = pl.DataFrame({"buyer": ["a"], "title": ["b"], "x": ["q@nobody.example"]})
    assert personal_columns(cells) == ["buyer", "x"]
