"""The eighth part of the invented exports, from sixteen countries: what each writes, and what is right about it."""

from datetime import date
from decimal import Decimal

from tests.new_exports.drawing import Export, Layout, Offer, amount, cents, moment, short
from tests.new_exports.fifth_exports import _at_the_end, _grouped
from tests.new_exports.first_exports import euro, if_shoe, if_sold
from tests.new_exports.fourth_exports import columns_of, map_of
from tests.new_exports.seventh_exports import _as_is, _line, _summed
from tests.new_exports.sixth_exports import _cut, _near, _part, _session


def _gapped(number: Decimal) -> str:
    """Return an amount with blanks between thousands and a decimal comma: 1 250,00."""
    return amount(number, ",", " ")


def _dollars(number: Decimal) -> str:
    return f"${_grouped(number)}"


def _processing(offer: Offer) -> Decimal:
    """Return what the American venue takes for the payment of price and shipping."""
    return cents((offer.price + 12) * Decimal("0.03")) + Decimal("0.25")


LARCH_MAP = {"venue": "Larchmont Row", "files": "larchmont_*.csv", "date_order": "mdy", "currency": "USD",
             "price_basis": "all-in", "size_system": "US men"}  # fmt: skip
LARCH_COLUMNS = {"sale_ref": "Order ID", "stock_ref": "SKU", "title": "Listing Title", "size_label": "US Size",
                 "grade": "Condition", "ask_native": "List Price", "price_native": "Sold Price",
                 "sold_on": "Sold Date", "offered_on": "Listed Date", "status": "Status"}  # fmt: skip
LARCHMONT = Export(
    file="larchmont_sales_report.csv",
    half="eighth",
    dealer="osterquay",
    language="en",
    count=44,
    first_day=date(2024, 1, 6),
    statuses={"Delivered": ("sold", 7), "Canceled": ("withdrawn", 1), "Returned": ("withdrawn", 1)},
    others=(("laces", "Flat waxed laces 54 in, cream"), ("box", "Empty shoe box, Quillmere")),
    columns={
        "Listed Date": lambda s: f"{s.offered:%m/%d/%Y}",
        "Sold Date": lambda s: f"{s.closed:%m/%d/%Y}",
        "Order ID": lambda s: s.code("LR-", 8),
        "SKU": lambda s: s.code("OQ", 4),
        "Listing Title": lambda s: s.put("{maker} {silhouette} {colourway} {era} {box} {extra}"),
        "US Size": lambda s: if_shoe(s, short(s.us)),
        "Condition": lambda s: if_shoe(s, s.grade_word),
        "List Price": lambda s: _dollars(s.price + _cut(s)),
        "Offer Discount": lambda s: f"-{_dollars(_cut(s))}" if _cut(s) else "",
        "Sold Price": lambda s: _dollars(s.price),
        "Shipping Charged": lambda s: "$12.00",
        "Order Total": lambda s: _dollars(s.price + 12),
        "Selling Fee": lambda s: if_sold(s, f"-{_dollars(s.share('0.10'))}"),
        "Processing Fee": lambda s: if_sold(s, f"-{_dollars(_processing(s))}"),
        "Label Cost": lambda s: if_sold(s, "-$10.40"),
        "Net Earnings": lambda s: if_sold(
            s, _dollars(s.price + 12 - s.share("0.10") - _processing(s) - Decimal("10.40"))
        ),
        "Ship To State": lambda s: s.one_of("OR", "TX", "NY", "OH", "CA"),
        "Status": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="USD",
    size=lambda s: short(s.us),
    truth=columns_of(LARCH_MAP, LARCH_COLUMNS),
    ideal=map_of("larchmont", LARCH_MAP, LARCH_COLUMNS, sold="Delivered", cancelled="Canceled",
                 returned="Returned"),
)  # fmt: skip


def _commission_with_tax(offer: Offer) -> Decimal:
    """Return the Australian house's commission of 15 per cent with the tax of 10 per cent on it."""
    return offer.share("0.165")


BUND_MAP = {"venue": "Bundarra Street Auctions", "files": "bundarra_*.xlsx", "header_row": 5, "currency": "AUD",
            "price_basis": "hammer", "size_system": "US men"}  # fmt: skip
BUND_COLUMNS = {"sale_ref": "Sale No.", "lot_ref": "Lot", "title": "Description", "size_label": "Size (US)",
                "ask_native": "Est. Low", "price_native": "Hammer", "closed_on": "Sale Date",
                "status": "Result"}  # fmt: skip
BUNDARRA = Export(
    file="bundarra_vendor_account.xlsx",
    half="eighth",
    dealer="osterquay",
    language="en",
    count=38,
    scale=Decimal("1.6"),
    step=10,
    first_day=date(2024, 2, 3),
    layout=Layout(
        kind="xlsx",
        sheet="Account Sale",
        above=(
            ("Bundarra Street Auctions Pty Ltd", "", "", "", "ABN 00 000 000 000"),
            ("Account sale to vendor: Osterquay Footwear", "", "", "", "Vendor no. 2217"),
            ("All amounts in AUD. Buyer's premium 22% inc GST is paid by the buyer.",),
            ("",),
        ),
        total_by=_at_the_end,
        total=_summed("Total", "", "", "", "", "", "", "", lambda s: s.price, _commission_with_tax,
                      lambda s: Decimal(8), lambda s: s.price - _commission_with_tax(s) - 8, "", write=_as_is),
    ),
    statuses={"Sold": ("sold", 7), "Passed in": ("unsold", 2), "Withdrawn": ("withdrawn", 1)},
    others=(("bundle", "Five pairs of vintage runners, as found"), ("laces", "Quantity of boot laces")),
    columns={
        "Sale No.": lambda s: f"BS{_session(s, 1):%y%m}",
        "Sale Date": lambda s: _session(s, 1),
        "Lot": lambda s: s.number + 210,
        "Description": lambda s: s.put("{maker} {silhouette}, {colourway}, {era}, {word}, {box}, {extra}"),
        "Size (US)": lambda s: s.us if s.shoe else "",
        "Est. Low": lambda s: _near(s, "0.8"),
        "Est. High": lambda s: _near(s, "1.2") + 20,
        "Reserve": lambda s: _near(s, "0.7"),
        "Hammer": lambda s: if_sold(s, s.price),
        "Comm. 15% + GST": lambda s: if_sold(s, _commission_with_tax(s)),
        "Photo Fee": lambda s: if_sold(s, Decimal(8)),
        "Net to Vendor": lambda s: if_sold(s, s.price - _commission_with_tax(s) - 8),
        "Result": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: _session(s, 1),
    currency="AUD",
    size=lambda s: short(s.us),
    truth=columns_of(BUND_MAP, BUND_COLUMNS, "any"),
    ideal=map_of("bundarra", BUND_MAP, BUND_COLUMNS, sold="Sold", unsold="Passed in", withdrawn="Withdrawn"),
)  # fmt: skip


def _bought_for(offer: Offer) -> Decimal:
    return _near(offer, "0.5", 5)


HALL_MAP = {"venue": "Schuhkontor Hallbruck", "files": "hallbruck_*.csv", "encoding": "cp1252",
            "date_order": "dmy", "decimal_mark": ",", "currency": "EUR", "price_basis": "all-in",
            "tax": "margin", "size_system": "EU"}  # fmt: skip
HALL_COLUMNS = {"stock_ref": "Art.-Nr.", "title": "Artikel", "size_label": "Größe", "grade": "Zust.",
                "price_native": "VK-Preis", "sold_on": "VK-Datum", "sale_ref": "Beleg-Nr."}  # fmt: skip
HALLBRUCK = Export(
    file="hallbruck_differenzbesteuerung.csv",
    half="eighth",
    dealer="osterquay",
    language="de",
    count=40,
    first_day=date(2024, 1, 9),
    layout=Layout(
        delimiter=";",
        encoding="cp1252",
        total_by=_at_the_end,
        total=_summed("Gesamt", "", "", "", "", "", _bought_for, "", "", lambda s: s.price,
                      lambda s: s.price - _bought_for(s),
                      lambda s: cents((s.price - _bought_for(s)) * 19 / 119), "", write=euro),
    ),
    others=(("laces", "Schnürsenkel flach 120 cm"), ("service", "Schuhreinigung")),
    columns={
        "lfd. Nr.": lambda s: str(s.number),
        "Art.-Nr.": lambda s: s.code("SK-", 5),
        "Artikel": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Größe": lambda s: if_shoe(s, short(s.eu, ",")),
        "Zust.": lambda s: if_shoe(s, s.grade_word),
        "EK-Datum": lambda s: f"{s.offered:%d.%m.%y}",
        "EK-Preis": lambda s: euro(_bought_for(s)),
        "Beleg-Nr.": lambda s: f"R24{s.number + 118:04}",
        "VK-Datum": lambda s: f"{s.closed:%d.%m.%y}",
        "VK-Preis": lambda s: euro(s.price),
        "Differenz": lambda s: euro(s.price - _bought_for(s)),
        "USt. § 25a": lambda s: euro(cents((s.price - _bought_for(s)) * 19 / 119)),
        "Zahlart": lambda s: s.one_of("bar", "EC", "EC", "Überweisung"),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(HALL_MAP, HALL_COLUMNS),
    ideal=map_of("hallbruck", HALL_MAP, HALL_COLUMNS),
)  # fmt: skip

AUBR_MAP = {"venue": "Maison Aubrelle", "files": "aubrelle_*.csv", "date_order": "dmy", "decimal_mark": ",",
            "currency": "EUR", "price_basis": "hammer", "size_system": "EU"}  # fmt: skip
AUBR_COLUMNS = {"sale_ref": "Vacation", "lot_ref": "Lot", "title": "Libellé", "size_label": "Pointure",
                "price_native": "Marteau", "closed_on": "Date", "status": "Issue"}  # fmt: skip
AUBRELLE = Export(
    file="aubrelle_bordereau_vendeur.csv",
    half="eighth",
    dealer="osterquay",
    language="fr",
    count=42,
    step=10,
    first_day=date(2024, 1, 12),
    layout=Layout(delimiter="\t", encoding="utf-8-sig"),
    statuses={"Vendu": ("sold", 7), "Ravalé": ("unsold", 2), "Folle enchère": ("withdrawn", 1)},
    others=(("bundle", "Quatre paires de souliers de sport, état divers"), ("box", "Boîtes vides Hollinsett")),
    columns={
        "Vacation": lambda s: f"V{_session(s, 2):%Y%m}",
        "Date": lambda s: f"{_session(s, 2):%d/%m/%Y}",
        "Lot": lambda s: str(s.number + 30),
        "Libellé": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {word}, {box}, {extra}"),
        "Pointure": lambda s: if_shoe(s, short(s.eu, ",")),
        "Prix de réserve": lambda s: _gapped(_near(s, "0.6")),
        "Marteau": lambda s: if_sold(s, _gapped(s.price)),
        "Hon. vendeur 12 % HT": lambda s: if_sold(s, _gapped(s.share("0.12"))),
        "TVA 20 % s/ hon.": lambda s: if_sold(s, _gapped(cents(s.share("0.12") * Decimal("0.2")))),
        "Net vendeur": lambda s: if_sold(
            s, _gapped(s.price - s.share("0.12") - cents(s.share("0.12") * Decimal("0.2")))
        ),
        "Réglé le": lambda s: if_sold(s, f"{s.paid:%d/%m/%Y}" if s.paid > _session(s, 2) else ""),
        "Issue": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: _session(s, 2),
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(AUBR_MAP, AUBR_COLUMNS),
    ideal=map_of("aubrelle", AUBR_MAP, AUBR_COLUMNS, sold="Vendu", unsold="Ravalé", unpaid="Folle enchère"),
)  # fmt: skip

PASSO_MAP = {"venue": "Passolento", "files": "passolento_*.jsonl", "date_order": "ymd", "price_basis": "all-in",
             "size_system": "EU"}  # fmt: skip
PASSO_COLUMNS = {"sale_ref": "id_ordine", "title": "titolo", "size_label": "taglia", "grade": "condizioni",
                 "price_native": "prezzo_articolo", "currency": "valuta", "sold_on": "data_vendita",
                 "status": "stato"}  # fmt: skip
PASSOLENTO = Export(
    file="passolento_vendite.jsonl",
    half="eighth",
    dealer="osterquay",
    language="it",
    count=42,
    first_day=date(2024, 2, 2),
    layout=Layout(kind="jsonl"),
    statuses={"completato": ("sold", 8), "annullato": ("withdrawn", 1), "rimborsato": ("withdrawn", 1)},
    others=(("laces", "Lacci piatti in cotone 120 cm"), ("box", "Scatola vuota Dravane")),
    columns={
        "id_ordine": lambda s: s.code("PL", 7),
        "data_vendita": lambda s: moment(s),
        "titolo": lambda s: s.put("{maker} {silhouette} {colourway} - {era}, {box}, {extra}"),
        "taglia": lambda s: short(s.eu) if s.shoe else None,
        "condizioni": lambda s: s.grade_word if s.shoe else None,
        "prezzo_articolo": lambda s: s.price,
        "protezione_acquirente": lambda s: s.share("0.05") + Decimal("0.70"),
        "spedizione": lambda s: Decimal("5.90"),
        "totale_pagato": lambda s: s.price + s.share("0.05") + Decimal("6.60"),
        "commissione": lambda s: s.share("0.08") if s.sold else Decimal(0),
        "accredito": lambda s: s.price - s.share("0.08") if s.sold else Decimal(0),
        "valuta": lambda s: "EUR",
        "acquirente": lambda s: s.person.split()[0].lower() + s.code("_", 2),
        "stato": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu),
    truth=columns_of(PASSO_MAP, PASSO_COLUMNS),
    ideal=map_of("passolento", PASSO_MAP, PASSO_COLUMNS, sold="completato", cancelled="annullato",
                 refunded="rimborsato"),
)  # fmt: skip

BERRO_MAP = {"venue": "Casa Berrocal", "files": "berrocal_*.html", "date_order": "dmy", "decimal_mark": ",",
             "currency": "EUR", "price_basis": "hammer", "size_system": "EU"}  # fmt: skip
BERRO_COLUMNS = {"lot_ref": "Lote", "title": "Descripción", "size_label": "Talla", "grade": "Conservación",
                 "price_native": "Remate", "closed_on": "Fecha subasta", "status": "Situación"}  # fmt: skip
BERROCAL = Export(
    file="berrocal_remates.html",
    half="eighth",
    dealer="osterquay",
    language="es",
    count=45,
    step=10,
    first_day=date(2024, 1, 19),
    layout=Layout(kind="html"),
    statuses={"Adjudicado": ("sold", 7), "Desierto": ("unsold", 2), "Retirado": ("withdrawn", 1)},
    others=(("bundle", "Lote de tres pares de zapatillas, tallas varias"), ("laces", "Cordones antiguos, 6 pares")),
    columns={
        "Fecha subasta": lambda s: f"{_session(s, 3):%d-%m-%Y}",
        "Lote": lambda s: str(s.number + 400),
        "Descripción": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Talla": lambda s: if_shoe(s, short(s.eu, ",")),
        "Conservación": lambda s: if_shoe(s, s.grade_word),
        "Precio salida": lambda s: f"{euro(_near(s, '0.5'))} €",
        "Remate": lambda s: if_sold(s, f"{euro(s.price)} €"),
        "Comisión comprador 20%": lambda s: if_sold(s, f"{euro(s.share('0.20'))} €"),
        "IVA s/com.": lambda s: if_sold(s, f"{euro(cents(s.share('0.20') * Decimal('0.21')))} €"),
        "Total comprador": lambda s: if_sold(
            s, f"{euro(s.share('1.20') + cents(s.share('0.20') * Decimal('0.21')))} €"
        ),
        "Situación": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: _session(s, 3),
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(BERRO_MAP, BERRO_COLUMNS),
    ideal=map_of("berrocal", BERRO_MAP, BERRO_COLUMNS, sold="Adjudicado", unsold="Desierto",
                 withdrawn="Retirado"),
)  # fmt: skip

HOF_MAP = {"venue": "Hofwijk Kringloop", "files": "hofwijk_*.ods", "header_row": 3, "currency": "EUR",
           "price_basis": "all-in", "size_system": "EU"}  # fmt: skip
HOF_COLUMNS = {"stock_ref": "Inbrengnr.", "title": "Omschrijving", "size_label": "Maat", "grade": "Staat",
               "offered_on": "Ingebracht", "ask_native": "Vraagprijs", "price_native": "Verkocht voor",
               "sold_on": "Verkoopdatum", "status": "Status"}  # fmt: skip
HOFWIJK = Export(
    file="hofwijk_inbrenglijst.ods",
    half="eighth",
    dealer="osterquay",
    language="nl",
    count=36,
    first_day=date(2024, 2, 8),
    layout=Layout(kind="ods", sheet="Inbreng",
                  above=(("Hofwijk Kringloop - overzicht inbreng",), ("Inbrenger 318, Osterquay Footwear",))),
    statuses={"verkocht": ("sold", 7), "in de winkel": ("open", 2), "teruggehaald": ("unsold", 1)},
    others=(("laces", "Veters katoen, 5 paar"), ("bundle", "Doos met 4 paar sportschoenen")),
    columns={
        "Inbrengnr.": lambda s: f"318-{s.number:03}",
        "Ingebracht": lambda s: s.offered,
        "Omschrijving": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Maat": lambda s: s.eu if s.shoe else "",
        "Staat": lambda s: if_shoe(s, s.grade_word),
        "Vraagprijs": lambda s: s.price + _cut(s),
        "Status": lambda s: s.word,
        "Verkoopdatum": lambda s: if_sold(s, s.closed),
        "Verkocht voor": lambda s: if_sold(s, s.price),
        "Winkel 40%": lambda s: if_sold(s, s.share("0.40")),
        "Inbrenger 60%": lambda s: if_sold(s, s.price - s.share("0.40")),
        "Opmerking": lambda s: s.one_of("", "", "", "etalage"),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu),
    truth=columns_of(HOF_MAP, HOF_COLUMNS, "any"),
    ideal=map_of("hofwijk", HOF_MAP, {**HOF_COLUMNS, "notes": "Opmerking"}, sold="verkocht",
                 open="in de winkel", unsold="teruggehaald"),
)  # fmt: skip


def _yen(number: Decimal | int) -> str:
    return f"{int(number):,}"


def _yen_charge(offer: Offer) -> int:
    return int(offer.price * 88 / 1000)


HAMA_MAP = {"venue": "ハマベ古靴", "files": "hamabe_*.csv", "encoding": "cp932", "date_order": "ymd",
            "currency": "JPY", "price_basis": "all-in", "size_system": "JP"}  # fmt: skip
HAMA_COLUMNS = {"sale_ref": "注文番号", "title": "商品タイトル", "size_label": "サイズ(cm)", "grade": "商品の状態",
                "price_native": "落札金額", "closed_on": "終了日時", "status": "取引状況"}  # fmt: skip
HAMABE = Export(
    file="hamabe_rakusatsu_ichiran.csv",
    half="eighth",
    dealer="osterquay",
    language="ja",
    count=46,
    scale=Decimal(160),
    step=100,
    first_day=date(2024, 1, 14),
    layout=Layout(encoding="cp932"),
    statuses={"取引完了": ("sold", 8), "落札者削除": ("withdrawn", 1), "入札なし": ("unsold", 1)},
    others=(("laces", "靴紐 平紐 生成り 120cm"), ("box", "空箱 Quillmere")),
    columns={
        "注文番号": lambda s: s.code("h", 9),
        "商品タイトル": lambda s: s.put("{maker} {silhouette} {colourway} {era} {box} {extra}"),
        "サイズ(cm)": lambda s: if_shoe(s, short(s.cm)),
        "商品の状態": lambda s: if_shoe(s, s.grade_word),
        "開始価格": lambda s: _yen(_near(s, "0.3", 100)),
        "入札件数": lambda s: str(2 + s.number % 17) if s.word != "入札なし" else "0",
        "終了日時": lambda s: f"{s.closed:%Y/%m/%d} {s.clock[:5]}",
        "落札金額": lambda s: if_sold(s, _yen(s.price)),
        "送料": lambda s: if_sold(s, "1,150"),
        "落札システム利用料(税込)": lambda s: if_sold(s, _yen(_yen_charge(s))),
        "受取金額": lambda s: if_sold(s, _yen(s.price + 1150 - _yen_charge(s))),
        "落札者ID": lambda s: if_sold(s, s.code("u", 5)),
        "取引状況": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="JPY",
    size=lambda s: short(s.cm),
    truth=columns_of(HAMA_MAP, HAMA_COLUMNS),
    ideal=map_of("hamabe", HAMA_MAP, HAMA_COLUMNS, sold="取引完了", cancelled="落札者削除", unsold="入札なし"),
)  # fmt: skip

DALA_MAP = {"venue": "Башмачок-Дала", "files": "bashmachok_*.csv", "encoding": "cp1251", "date_order": "dmy",
            "decimal_mark": ",", "currency": "KZT", "price_basis": "all-in", "size_system": "EU"}  # fmt: skip
DALA_COLUMNS = {"sale_ref": "№ заказа", "stock_ref": "Артикул", "title": "Наименование товара",
                "size_label": "Размер", "grade": "Состояние", "ask_native": "Цена до скидки",
                "price_native": "Цена продажи, тг", "sold_on": "Дата заказа", "status": "Статус заказа"}  # fmt: skip
BASHMACHOK = Export(
    file="bashmachok_zakazy.csv",
    half="eighth",
    dealer="osterquay",
    language="ru",
    count=44,
    scale=Decimal(500),
    step=500,
    first_day=date(2024, 2, 1),
    layout=Layout(delimiter=";", encoding="cp1251"),
    statuses={"Выдан": ("sold", 9), "Возврат": ("withdrawn", 1)},
    others=(("laces", "Шнурки хлопковые плоские 120 см"), ("box", "Пустая обувная коробка")),
    columns={
        "№ заказа": lambda s: s.code("", 8),
        "Дата заказа": lambda s: f"{s.closed:%d.%m.%Y} {s.clock[:5]}",
        "Артикул": lambda s: s.code("БД-", 4),
        "Наименование товара": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Размер": lambda s: if_shoe(s, short(s.eu, ",")),
        "Состояние": lambda s: if_shoe(s, s.grade_word),
        "Цена до скидки": lambda s: _gapped(s.price + _cut(s, 500)),
        "Скидка": lambda s: _gapped(_cut(s, 500)),
        "Цена продажи, тг": lambda s: _gapped(s.price),
        "Комиссия 7%": lambda s: if_sold(s, _gapped(s.share("0.07"))),
        "Эквайринг 1%": lambda s: if_sold(s, _gapped(s.share("0.01"))),
        "К перечислению": lambda s: if_sold(s, _gapped(s.price - s.share("0.07") - s.share("0.01"))),
        "Город доставки": lambda s: s.one_of("Карасай", "Тасбулак", "Сарытогай"),
        "Статус заказа": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="KZT",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(DALA_MAP, DALA_COLUMNS),
    ideal=map_of("bashmachok", DALA_MAP, DALA_COLUMNS, sold="Выдан", returned="Возврат"),
)  # fmt: skip

DOORN_MAP = {"venue": "Skoensolder Doringpoort", "files": "doringpoort_*.csv", "header_row": 4,
             "date_order": "ymd", "decimal_mark": ",", "currency": "ZAR", "price_basis": "all-in",
             "tax": "included", "size_system": "UK"}  # fmt: skip
DOORN_COLUMNS = {"sale_ref": "Faktuurnr.", "stock_ref": "Itemkode", "title": "Beskrywing", "size_label": "Grootte",
                 "price_native": "Totaal ingesl. BTW", "sold_on": "Faktuurdatum", "notes": "Verwysing"}  # fmt: skip
DORINGPOORT = Export(
    file="doringpoort_fakture.csv",
    half="eighth",
    dealer="osterquay",
    language="af",
    count=36,
    scale=Decimal(19),
    step=10,
    first_day=date(2024, 1, 11),
    layout=Layout(
        delimiter="|",
        above=(
            ("Skoensolder Doringpoort BK",),
            ("Fakture per datum", "2024/01/01 tot 2024/12/31"),
            ("BTW-nr. 4000000000",),
        ),
        total_by=_at_the_end,
        total=_summed("Totaal", "", "", "", "", "", lambda s: s.price - _part(s, 15), lambda s: _part(s, 15),
                      lambda s: s.price, "", write=_gapped),
    ),
    others=(("laces", "Skoenveters katoen 120 cm"), ("service", "Skoonmaak van skoene"), ("refund", "")),
    columns={
        "Faktuurnr.": lambda s: f"{'KN' if s.kind == 'refund' else 'F'}{s.number + 5210:06}",
        "Faktuurdatum": lambda s: f"{s.closed:%Y/%m/%d}",
        "Kliënt": lambda s: s.one_of("Kontantverkope", "Kontantverkope", s.person),
        "Itemkode": lambda s: s.code("SD", 4),
        "Beskrywing": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {word}, {box}, {extra}"),
        "Grootte": lambda s: if_shoe(s, f"UK {short(s.uk, ',')}"),
        "Bedrag uitgesl. BTW": lambda s: _gapped(s.price - _part(s, 15)),
        "BTW 15%": lambda s: _gapped(_part(s, 15)),
        "Totaal ingesl. BTW": lambda s: _gapped(s.price),
        "Verwysing": lambda s: "kredietnota" if s.kind == "refund" else "",
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="ZAR",
    size=lambda s: short(s.uk, ","),
    truth=columns_of(DOORN_MAP, DOORN_COLUMNS),
    ideal=map_of("doringpoort", DOORN_MAP, DOORN_COLUMNS),
)  # fmt: skip

XESTAL_MAP = {"venue": "Poxas Xestal", "files": "xestal_*.csv", "date_order": "dmy", "decimal_mark": ",",
              "currency": "EUR", "price_basis": "hammer", "size_system": "EU"}  # fmt: skip
XESTAL_COLUMNS = {"lot_ref": "Nº lote", "title": "Descrición", "size_label": "Número", "grade": "Estado",
                  "ask_native": "Estimación mín.", "price_native": "Prezo de remate",
                  "closed_on": "Data da poxa", "status": "Resultado"}  # fmt: skip
XESTAL = Export(
    file="xestal_resultados_poxa.csv",
    half="eighth",
    dealer="osterquay",
    language="gl",
    count=42,
    step=10,
    first_day=date(2024, 1, 25),
    layout=Layout(delimiter=";"),
    statuses={"Rematado": ("sold", 7), "Sen poxa": ("unsold", 2), "Retirado": ("withdrawn", 1)},
    others=(("bundle", "Lote de tres pares de zapatillas de deporte"), ("box", "Caixa baleira Quillmere")),
    columns={
        "Data da poxa": lambda s: f"{_session(s, 1):%d/%m/%Y}",
        "Nº lote": lambda s: str(s.number + 150),
        "Descrición": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Número": lambda s: if_shoe(s, short(s.eu, ",")),
        "Estado": lambda s: if_shoe(s, s.grade_word),
        "Estimación mín.": lambda s: euro(_near(s, "0.8")),
        "Estimación máx.": lambda s: euro(_near(s, "1.2") + 20),
        "Prezo de saída": lambda s: euro(_near(s, "0.5")),
        "Prezo de remate": lambda s: if_sold(s, euro(s.price)),
        "Comisión 18%": lambda s: if_sold(s, euro(s.share("0.18"))),
        "IVE 21% s/ comisión": lambda s: if_sold(s, euro(cents(s.share("0.18") * Decimal("0.21")))),
        "Total a pagar": lambda s: if_sold(
            s, euro(s.share("1.18") + cents(s.share("0.18") * Decimal("0.21")))
        ),
        "Resultado": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: _session(s, 1),
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(XESTAL_MAP, XESTAL_COLUMNS),
    ideal=map_of("xestal", XESTAL_MAP, XESTAL_COLUMNS, sold="Rematado", unsold="Sen poxa",
                 withdrawn="Retirado"),
)  # fmt: skip

DEBR_MAP = {"venue": "Патика Дебрца", "files": "debrca_*.xlsx", "sheets": ["Продажба"], "currency": "MKD",
            "price_basis": "all-in", "tax": "included", "size_system": "EU"}  # fmt: skip
DEBR_COLUMNS = {"sale_ref": "Бр. на сметка", "title": "Назив на артикл", "size_label": "Број", "grade": "Состојба",
                "price_native": "Износ со ДДВ", "sold_on": "Датум", "notes": "Забелешка"}  # fmt: skip
DEBRCA = Export(
    file="debrca_prodazba.xlsx",
    half="eighth",
    dealer="osterquay",
    language="mk",
    count=36,
    scale=Decimal(61),
    step=50,
    first_day=date(2024, 1, 13),
    layout=Layout(
        kind="xlsx",
        sheet="Продажба",
        notes=(("Збирно", "по месеци"), ("Вкупно", "види дневен извештај")),
        total_by=_at_the_end,
        total=_summed("Вкупно", "", "", "", "", "", lambda s: s.price - _part(s, 18), lambda s: _part(s, 18),
                      lambda s: s.price, "", "", write=_as_is),
    ),
    others=(("laces", "Врвки памучни 120 см"), ("service", "Чистење патики"), ("refund", "")),
    columns={
        "Р.бр.": lambda s: s.number,
        "Датум": lambda s: s.closed,
        "Бр. на сметка": lambda s: f"{s.number + 87}/24",
        "Назив на артикл": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Број": lambda s: s.eu if s.shoe else "",
        "Состојба": lambda s: if_shoe(s, s.grade_word),
        "Износ без ДДВ": lambda s: s.price - _part(s, 18),
        "ДДВ 18%": lambda s: _part(s, 18),
        "Износ со ДДВ": lambda s: s.price,
        "Плаќање": lambda s: s.one_of("Готовина", "Картичка"),
        "Забелешка": lambda s: "сторно" if s.kind == "refund" else "",
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="MKD",
    size=lambda s: short(s.eu),
    truth=columns_of(DEBR_MAP, DEBR_COLUMNS, "any"),
    ideal=map_of("debrca", DEBR_MAP, DEBR_COLUMNS),
)  # fmt: skip

IPUA_MAP = {"venue": "Tênis Ipuã", "files": "ipua_*.json", "date_order": "ymd", "currency": "BRL",
            "price_basis": "all-in", "quantity_price": "unit", "size_system": "EU",
            "records": "orders.itens"}  # fmt: skip
IPUA_COLUMNS = {"sale_ref": "codigo_pedido", "stock_ref": "itens.sku", "title": "itens.descricao",
                "size_label": "itens.numeracao", "quantity": "itens.qtd", "price_native": "itens.valor_unitario",
                "sold_on": "data_pedido", "status": "situacao"}  # fmt: skip
IPUA = Export(
    file="ipua_pedidos.json",
    half="eighth",
    dealer="osterquay",
    language="pt",
    count=42,
    scale=Decimal(5),
    step=10,
    first_day=date(2024, 1, 16),
    layout=Layout(
        kind="json",
        nest="itens",
        order_columns=("codigo_pedido", "data_pedido", "cliente", "frete", "valor_total", "situacao"),
    ),
    statuses={"Entregue": ("sold", 8), "Cancelado": ("withdrawn", 1), "Devolvido": ("withdrawn", 1)},
    others=(
        ("laces", "Cadarço chato de algodão 120 cm"),
        ("quantity above 1", "Hollinsett Skirl Runner azul-marinho, relançamento, novo sem uso, caixa original"),
    ),
    columns={
        "codigo_pedido": lambda s: f"IP-{s.number + 3300}",
        "data_pedido": lambda s: moment(s),
        "cliente": lambda s: s.person,
        "frete": lambda s: Decimal("24.90"),
        "valor_total": lambda s: s.order_total + Decimal("24.90"),
        "situacao": lambda s: s.word,
        "itens.sku": lambda s: s.code("TI", 5),
        "itens.descricao": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {word}, {box}, {extra}"),
        "itens.numeracao": lambda s: f"EU {short(s.eu)}" if s.shoe else None,
        "itens.qtd": lambda s: s.quantity,
        "itens.valor_unitario": lambda s: s.price,
        "itens.subtotal": lambda s: _line(s),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="BRL",
    size=lambda s: short(s.eu),
    truth=columns_of(IPUA_MAP, IPUA_COLUMNS),
    ideal=map_of("ipua", IPUA_MAP, IPUA_COLUMNS, sold="Entregue", cancelled="Cancelado", returned="Devolvido"),
)  # fmt: skip


def _premium(offer: Offer) -> Decimal:
    return offer.share("0.225")


SORV_MAP = {"venue": "Auktionsverket Sörvik", "files": "sorvik_*.csv", "encoding": "cp1252",
            "date_order": "ymd", "decimal_mark": ",", "currency": "SEK", "price_basis": "hammer",
            "size_system": "EU"}  # fmt: skip
SORV_COLUMNS = {"lot_ref": "Utropsnr", "title": "Föremål", "size_label": "Strl", "ask_native": "Utrop",
                "price_native": "Klubbat pris", "closed_on": "Klubbdatum", "status": "Utfall"}  # fmt: skip
SORVIK = Export(
    file="sorvik_slutpriser.csv",
    half="eighth",
    dealer="osterquay",
    language="sv",
    count=40,
    scale=Decimal(11),
    step=50,
    first_day=date(2024, 2, 6),
    layout=Layout(delimiter=";", encoding="cp1252"),
    statuses={"Såld": ("sold", 7), "Återrop": ("unsold", 2), "Utgått": ("withdrawn", 1)},
    others=(("bundle", "Parti om fyra par sportskor"), ("box", "Tom skokartong Hollinsett")),
    columns={
        "Klubbdatum": lambda s: f"{_session(s, 2)}",
        "Utropsnr": lambda s: str(s.number + 700),
        "Föremål": lambda s: s.put("{maker} {silhouette}, {colourway}, {era}, {word}, {box}, {extra}"),
        "Strl": lambda s: if_shoe(s, short(s.eu, ",")),
        "Utrop": lambda s: _gapped(_near(s, "0.9", 50)),
        "Bevakning": lambda s: _gapped(_near(s, "0.6", 50)),
        "Klubbat pris": lambda s: if_sold(s, _gapped(s.price)),
        "Köparprovision 22,5 %": lambda s: if_sold(s, _gapped(_premium(s))),
        "Slagavgift": lambda s: if_sold(s, "60,00"),
        "Slutpris": lambda s: if_sold(s, _gapped(s.price + _premium(s) + 60)),
        "Utfall": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: _session(s, 2),
    currency="SEK",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(SORV_MAP, SORV_COLUMNS),
    ideal=map_of("sorvik", SORV_MAP, SORV_COLUMNS, sold="Såld", unsold="Återrop", withdrawn="Utgått"),
)  # fmt: skip

JIUL_MAP = {"venue": "舊履行", "files": "jiulu_*.xlsx", "header_row": 3, "currency": "TWD",
            "price_basis": "all-in", "size_system": "JP"}  # fmt: skip
JIUL_COLUMNS = {"stock_ref": "商品編號", "title": "商品名稱", "size_label": "尺寸(cm)", "grade": "鞋況",
                "offered_on": "上架日期", "ask_native": "定價", "price_native": "成交價", "sold_on": "成交日期",
                "status": "狀態", "notes": "備註"}  # fmt: skip
JIULU = Export(
    file="jiulu_xiaoshou_mingxi.xlsx",
    half="eighth",
    dealer="osterquay",
    language="zh",
    count=40,
    scale=Decimal(34),
    step=50,
    first_day=date(2024, 2, 15),
    layout=Layout(kind="xlsx", sheet="銷售明細", above=(("舊履行 113年度銷售明細",), ("幣別：新臺幣",))),
    statuses={"已售出": ("sold", 7), "上架中": ("open", 1), "已取消": ("withdrawn", 1)},
    others=(("laces", "棉質扁鞋帶 120cm"), ("bundle", "古著球鞋三雙合售")),
    columns={
        "商品編號": lambda s: s.code("JL", 4),
        "上架日期": lambda s: s.offered,
        "商品名稱": lambda s: s.put("{maker} {silhouette} {colourway} {era} {box} {extra}"),
        "尺寸(cm)": lambda s: s.cm if s.shoe else "",
        "鞋況": lambda s: if_shoe(s, s.grade_word),
        "定價": lambda s: int(s.price + _cut(s, 50)),
        "折扣": lambda s: int(_cut(s, 50)) or "",
        "成交價": lambda s: if_sold(s, int(s.price)),
        "成交日期": lambda s: if_sold(s, s.closed),
        "付款方式": lambda s: if_sold(s, s.one_of("現金", "轉帳", "刷卡")),
        "狀態": lambda s: s.word,
        "備註": lambda s: s.one_of("", "", "", "熟客"),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="TWD",
    size=lambda s: short(s.cm),
    truth=columns_of(JIUL_MAP, JIUL_COLUMNS, "any"),
    ideal=map_of("jiulu", JIUL_MAP, JIUL_COLUMNS, sold="已售出", open="上架中", cancelled="已取消"),
)  # fmt: skip

WRZE_MAP = {"venue": "Butodom Wrzesno", "files": "wrzesno_*.csv", "encoding": "cp1250", "date_order": "dmy",
            "decimal_mark": ",", "currency": "PLN", "price_basis": "all-in", "size_system": "EU"}  # fmt: skip
WRZE_COLUMNS = {"sale_ref": "Nr transakcji", "title": "Tytuł oferty", "size_label": "Rozmiar", "grade": "Stan",
                "price_native": "Cena", "sold_on": "Data sprzedaży", "status": "Status transakcji"}  # fmt: skip
WRZESNO = Export(
    file="wrzesno_historia_sprzedazy.csv",
    half="eighth",
    dealer="osterquay",
    language="pl",
    count=44,
    scale=Decimal("4.3"),
    first_day=date(2024, 1, 22),
    layout=Layout(delimiter=";", encoding="cp1250"),
    statuses={"Zrealizowana": ("sold", 8), "Anulowana": ("withdrawn", 1), "Zwrot": ("withdrawn", 1)},
    others=(("laces", "Sznurowadła płaskie 120 cm"), ("box", "Puste pudełko po butach")),
    columns={
        "Nr transakcji": lambda s: s.code("", 9),
        "Data sprzedaży": lambda s: f"{s.closed:%d.%m.%Y} {s.clock[:5]}",
        "Tytuł oferty": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Rozmiar": lambda s: if_shoe(s, short(s.eu, ",")),
        "Stan": lambda s: if_shoe(s, s.grade_word),
        "Cena": lambda s: f"{_gapped(s.price)} zł",
        "Dostawa": lambda s: f"{s.one_of('12,99', '14,99')} zł",
        "Prowizja 9%": lambda s: if_sold(s, f"-{_gapped(s.share('0.09'))} zł"),
        "Do wypłaty": lambda s: if_sold(s, f"{_gapped(s.price - s.share('0.09'))} zł"),
        "Kupujący": lambda s: s.person.split()[0].lower() + s.code("", 2),
        "Nr przesyłki": lambda s: if_sold(s, s.code("W", 11)),
        "Status transakcji": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="PLN",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(WRZE_MAP, WRZE_COLUMNS),
    ideal=map_of("wrzesno", WRZE_MAP, WRZE_COLUMNS, sold="Zrealizowana", cancelled="Anulowana",
                 returned="Zwrot"),
)  # fmt: skip

EIGHTH = (LARCHMONT, BUNDARRA, HALLBRUCK, AUBRELLE, PASSOLENTO, BERROCAL, HOFWIJK, HAMABE, BASHMACHOK, DORINGPOORT,
          XESTAL, DEBRCA, IPUA, SORVIK, JIULU, WRZESNO)  # fmt: skip
