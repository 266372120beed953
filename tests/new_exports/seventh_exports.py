"""The seventh part of the invented exports, from twelve countries: what each writes, and what is right about it."""

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

from tests.new_exports.drawing import Export, Layout, Offer, amount, cents, moment, short
from tests.new_exports.fifth_exports import _at_the_end, _grouped
from tests.new_exports.first_exports import euro, if_shoe, if_sold
from tests.new_exports.fourth_exports import columns_of, map_of
from tests.new_exports.sixth_exports import _cut, _near, _part, _session


def _summed(
    *cells: str | Callable[[Offer], Decimal], write: Callable[[Decimal], Any]
) -> Callable[..., list[Any]]:
    """Return how to write a line of totals: texts as they are, the sums of what each sale has in a column."""

    def line(offers: list[Offer]) -> list[Any]:
        sold = [each for each in offers if each.sold]
        return [
            cell if isinstance(cell, str) else write(sum((cell(each) for each in sold), Decimal(0)))
            for cell in cells
        ]

    return line


def _as_is(number: Decimal) -> Decimal:
    return number


def _line(offer: Offer) -> Decimal:
    """Return the price of all pairs of a line together."""
    return offer.price * offer.quantity


def _completed(offer: Offer, number: Decimal) -> str:
    """Return an amount of a completed order; a cancelled or refunded one pays nothing out."""
    return f"{number if offer.sold else Decimal(0):.2f}"


def _paid_by_buyer(offer: Offer) -> Decimal:
    """Return what the buyer of the English venue paid: the price and the postage."""
    return _line(offer) + _postage(offer)


def _postage(offer: Offer) -> Decimal:
    return Decimal("6.95") if offer.shoe else Decimal("2.50")


def _selling_fee(offer: Offer) -> Decimal:
    return cents(_line(offer) * Decimal("0.09"))


def _payment_fee(offer: Offer) -> Decimal:
    return cents(_paid_by_buyer(offer) * Decimal("0.029")) + Decimal("0.30")


FENNICK_MAP = {"venue": "Fennick Lane", "files": "fennicklane_*.csv", "date_order": "dmy", "price_basis": "all-in",
               "quantity_price": "unit", "size_system": "UK"}  # fmt: skip
FENNICK_COLUMNS = {"sale_ref": "Order number", "title": "Item title", "stock_ref": "Custom label (SKU)",
                   "size_label": "Size (UK)", "grade": "Condition", "quantity": "Quantity",
                   "price_native": "Item price", "currency": "Currency", "sold_on": "Order date",
                   "status": "Order status"}  # fmt: skip
FENNICK = Export(
    file="fennicklane_orders_report.csv",
    half="seventh",
    dealer="sandhythe",
    language="en",
    count=46,
    scale=Decimal("0.85"),
    first_day=date(2024, 1, 8),
    statuses={
        "Completed": ("sold", 8),
        "Cancelled by buyer": ("withdrawn", 1),
        "Refunded": ("withdrawn", 1),
    },
    others=(
        ("laces", "Flat cotton laces 140cm, off-white"),
        ("quantity above 1", "Pellmarch Tarrow Lo slate grey, reissue, deadstock, original box"),
        ("service", "Sole reglue service (send your own)"),
    ),
    columns={
        "Order date": lambda s: f"{s.closed:%d %b %Y}",
        "Order number": lambda s: s.code("FL-", 8),
        "Buyer username": lambda s: s.person.split()[0].lower() + s.code("", 2),
        "Ship-to postcode area": lambda s: s.one_of("QX", "ZN", "VJ", "XK"),
        "Item title": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Custom label (SKU)": lambda s: s.code("SH", 4),
        "Size (UK)": lambda s: if_shoe(s, short(s.uk)),
        "Condition": lambda s: if_shoe(s, s.grade_word),
        "Quantity": lambda s: str(s.quantity),
        "Item price": lambda s: f"{s.price:.2f}",
        "Postage paid by buyer": lambda s: f"{_postage(s):.2f}",
        "Order total": lambda s: f"{_paid_by_buyer(s):.2f}",
        "Currency": lambda s: "GBP",
        "Selling fee (9%)": lambda s: _completed(s, _selling_fee(s)),
        "Payment processing": lambda s: _completed(s, _payment_fee(s)),
        "Promoted listing fee": lambda s: "",
        "Postage label": lambda s: _completed(s, _postage(s) - 1),
        "Net payout": lambda s: _completed(
            s, _paid_by_buyer(s) - _selling_fee(s) - _payment_fee(s) - _postage(s) + 1
        ),
        "Payout date": lambda s: if_sold(s, f"{s.paid:%d %b %Y}"),
        "Order status": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="GBP",
    size=lambda s: short(s.uk),
    truth=columns_of(FENNICK_MAP, FENNICK_COLUMNS, "any"),
    ideal=map_of("fennicklane", FENNICK_MAP, FENNICK_COLUMNS, sold="Completed", cancelled="Cancelled by buyer",
                 refunded="Refunded"),
)  # fmt: skip


def _charges(offer: Offer) -> Decimal:
    """Return the commission and the insurance that the German house takes."""
    return offer.share("0.15") + offer.share("0.015")


def _tax_on_charges(offer: Offer) -> Decimal:
    return cents(_charges(offer) * Decimal("0.19"))


WIESEN_MAP = {"venue": "Auktionshaus Wiesenrain", "files": "wiesenrain_*.csv", "encoding": "cp1252",
              "header_row": 6, "date_order": "dmy", "decimal_mark": ",", "currency": "EUR",
              "price_basis": "hammer", "size_system": "EU"}  # fmt: skip
WIESEN_COLUMNS = {"sale_ref": "Auktion", "lot_ref": "Los", "title": "Kurzbeschreibung", "size_label": "Gr.",
                  "ask_native": "Schätzpreis", "price_native": "Zuschlag", "closed_on": "Auktionstag",
                  "status": "Ergebnis"}  # fmt: skip
WIESENRAIN = Export(
    file="wiesenrain_einliefererabrechnung.csv",
    half="seventh",
    dealer="sandhythe",
    language="de",
    count=44,
    seed=3,
    step=10,
    first_day=date(2023, 9, 4),
    layout=Layout(
        delimiter=";",
        encoding="cp1252",
        above=(
            ("Auktionshaus Wiesenrain GmbH & Co. KG",),
            ("Abrechnung für Einlieferer", "", "Nr. EA-2024-0187"),
            ("Einlieferer-Nr.: 40312",),
            ("Alle Beträge in EUR",),
            ("",),
        ),
        total_by=_at_the_end,
        total=_summed("Summe", "", "", "", "", "", "", "", lambda s: s.price, lambda s: s.share("0.15"),
                      lambda s: s.share("0.015"), _tax_on_charges,
                      lambda s: s.price - _charges(s) - _tax_on_charges(s), "", write=euro),
    ),
    statuses={
        "verkauft": ("sold", 7),
        "Rückgang": ("unsold", 2),
        "Nachverkauf": ("sold", 1),
        "zurückgezogen": ("withdrawn", 1),
    },
    others=(("bundle", "Konvolut: 4 Paar Sportschuhe, ungeprüft"), ("box", "Leerer Schuhkarton Strandvane")),
    columns={
        "Pos.": lambda s: str(s.number),
        "Auktion": lambda s: f"{s.closed.year % 100 * 12 + s.closed.month}/{s.closed:%y}",
        "Auktionstag": lambda s: f"{_session(s, 2):%d.%m.%Y}",
        "Los": lambda s: str(1200 + s.number * 2),
        "Kurzbeschreibung": lambda s: s.put("{maker} {silhouette}, {colourway}, {era}, {word}, {box}, {extra}"),
        "Gr.": lambda s: if_shoe(s, short(s.eu, ",")),
        "Limit": lambda s: euro(_near(s, "0.6")),
        "Schätzpreis": lambda s: euro(_near(s, "0.9")),
        "Zuschlag": lambda s: if_sold(s, euro(s.price)),
        "Abgeld 15 %": lambda s: if_sold(s, euro(s.share("0.15"))),
        "Vers. 1,5 %": lambda s: if_sold(s, euro(s.share("0.015"))),
        "USt. 19 % a. Geb.": lambda s: if_sold(s, euro(_tax_on_charges(s))),
        "Auszahlung": lambda s: if_sold(s, euro(s.price - _charges(s) - _tax_on_charges(s))),
        "Ergebnis": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: _session(s, 2),
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(WIESEN_MAP, WIESEN_COLUMNS),
    ideal=map_of("wiesenrain", WIESEN_MAP, WIESEN_COLUMNS, sold="verkauft|Nachverkauf", unsold="Rückgang",
                 withdrawn="zurückgezogen"),
)  # fmt: skip


def _euro_sign(number: Decimal) -> str:
    """Return an amount as a French results page shows it: 1 250 €."""
    return f"{amount(number, ',', ' ', 0 if number == number.to_integral_value() else 2)} €"


VALC_MAP = {"venue": "Étude Valcreuse", "files": "valcreuse_*.html", "header_row": 2, "date_order": "dmy",
            "decimal_mark": ",", "currency": "EUR", "price_basis": "hammer", "size_system": "EU"}  # fmt: skip
VALC_COLUMNS = {"lot_ref": "N° de lot", "title": "Désignation", "size_label": "Pointure",
                "ask_native": "Est. basse", "price_native": "Adjudication", "closed_on": "Date de vente",
                "status": "Résultat"}  # fmt: skip
VALCREUSE = Export(
    file="valcreuse_resultats_de_vente.html",
    half="seventh",
    dealer="sandhythe",
    language="fr",
    count=48,
    step=10,
    first_day=date(2024, 1, 15),
    days_apart=5,
    layout=Layout(kind="html", encoding="cp1252",
                  above=(("Étude Valcreuse – Résultats : baskets de collection et souliers sport",),)),
    statuses={
        "Adjugé": ("sold", 7),
        "Invendu": ("unsold", 2),
        "Vendu après vente": ("sold", 1),
        "Retiré de la vente": ("withdrawn", 1),
    },
    others=(("bundle", "Lot de trois paires de baskets, pointures diverses, en l'état"), ("box", "Boîte vide Vessary")),
    columns={
        "Date de vente": lambda s: f"{_session(s, 1):%d/%m/%Y}",
        "N° de lot": lambda s: str(s.number + 60),
        "Désignation": lambda s: s.put("{maker}, {silhouette} {colourway}, {era}. {word}, {box}. {extra}"),
        "Pointure": lambda s: if_shoe(s, short(s.eu, ",")),
        "Est. basse": lambda s: _euro_sign(_near(s, "0.7")),
        "Est. haute": lambda s: _euro_sign(_near(s, "1.1") + 20),
        "Mise à prix": lambda s: _euro_sign(_near(s, "0.5")),
        "Adjudication": lambda s: if_sold(s, _euro_sign(s.price)),
        "Frais ach. 24 % TTC": lambda s: if_sold(s, _euro_sign(s.share("0.24"))),
        "Total à payer": lambda s: if_sold(s, _euro_sign(s.share("1.24"))),
        "Enchère": lambda s: if_sold(s, s.one_of("salle", "live", "live", "ordre d'achat", "téléphone")),
        "Résultat": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: _session(s, 1),
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(VALC_MAP, VALC_COLUMNS),
    ideal=map_of("valcreuse", VALC_MAP, VALC_COLUMNS, sold="Adjugé|Vendu après vente", unsold="Invendu",
                 withdrawn="Retiré de la vente"),
)  # fmt: skip


def _yen_fee(offer: Offer) -> Decimal:
    return Decimal(int(offer.price * 3 / 10))


SHIMO_MAP = {"venue": "委託工房霜沢", "files": "shimosawa_*.xlsx", "header_row": 5, "currency": "JPY",
             "price_basis": "all-in", "tax": "included", "size_system": "JP"}  # fmt: skip
SHIMO_COLUMNS = {"stock_ref": "管理番号", "title": "商品名", "size_label": "サイズ", "grade": "ランク", "box": "箱",
                 "offered_on": "受託日", "ask_native": "委託希望額", "price_native": "販売価格（税込）",
                 "sold_on": "販売日", "status": "状況", "notes": "備考"}  # fmt: skip
SHIMOSAWA = Export(
    file="shimosawa_itaku_seisan.xlsx",
    half="seventh",
    dealer="sandhythe",
    language="ja",
    count=40,
    scale=Decimal(160),
    step=100,
    first_day=date(2024, 2, 3),
    layout=Layout(
        kind="xlsx",
        sheet="精算明細",
        above=(
            ("委託販売精算書",),
            ("委託者番号：S-0418", "", "", "発行日：2024年12月28日"),
            ("委託工房霜沢　登録番号 T0000000000000",),
            ("単位：円（税込）",),
        ),
        total_by=_at_the_end,
        total=_summed("合計", "", "", "", "", "", "", "", "", lambda s: s.price, _yen_fee,
                      lambda s: s.price - _yen_fee(s), "", "", write=int),
    ),
    statuses={"精算済": ("sold", 6), "精算待ち": ("sold", 1), "委託中": ("open", 2), "返却": ("unsold", 1)},
    others=(("laces", "シューレース 平紐 白 120cm"), ("bundle", "スニーカー 2足セット ジャンク")),
    columns={
        "No.": lambda s: s.number,
        "管理番号": lambda s: s.code("S0418-", 3),
        "受託日": lambda s: s.offered,
        "商品名": lambda s: s.put("{maker} {silhouette} {colourway} {era} {extra}"),
        "サイズ": lambda s: s.cm if s.shoe else "",
        "ランク": lambda s: if_shoe(s, s.grade_word),
        "箱": lambda s: if_shoe(s, s.box),
        "委託希望額": lambda s: int(s.price + _cut(s, 500)),
        "販売日": lambda s: if_sold(s, s.closed),
        "販売価格（税込）": lambda s: if_sold(s, int(s.price)),
        "手数料 30%": lambda s: if_sold(s, int(_yen_fee(s))),
        "お支払額": lambda s: if_sold(s, int(s.price - _yen_fee(s))),
        "状況": lambda s: s.word,
        "備考": lambda s: s.one_of("", "", "", "値引き了承済", "紐なし"),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="JPY",
    size=lambda s: short(s.cm),
    truth=columns_of(SHIMO_MAP, SHIMO_COLUMNS, "any"),
    ideal=map_of("shimosawa", SHIMO_MAP, SHIMO_COLUMNS, sold="精算済|精算待ち", open="委託中", unsold="返却"),
)  # fmt: skip

BREZ_MAP = {"venue": "Trgovina Brezovje", "files": "brezovje_*.xlsx", "sheets": ["Prodaja"], "header_row": 4,
            "currency": "EUR", "price_basis": "all-in", "tax": "included", "size_system": "EU"}  # fmt: skip
BREZ_COLUMNS = {"sale_ref": "Št. računa", "stock_ref": "Šifra", "title": "Naziv artikla", "size_label": "Vel.",
                "grade": "Stanje", "ask_native": "MPC", "price_native": "Prodajna vrednost z DDV",
                "sold_on": "Datum", "notes": "Opomba"}  # fmt: skip
BREZOVJE = Export(
    file="brezovje_pregled_prodaje.xlsx",
    half="seventh",
    dealer="sandhythe",
    language="sl",
    count=36,
    first_day=date(2024, 1, 5),
    layout=Layout(
        kind="xlsx",
        sheet="Prodaja",
        notes=(
            ("Povzetek", "po načinih plačila"),
            ("Gotovina", "glej dnevnik blagajne"),
            ("Kartica", "glej izpisek terminala"),
        ),
        above=(
            ("Trgovina Brezovje, rabljena in zbirateljska obutev",),
            ("Pregled prodaje po računih", "", "", "leto 2024"),
            ("",),
        ),
        total_by=_at_the_end,
        total=_summed("SKUPAJ", "", "", "", "", "", "", "", "", lambda s: s.price, lambda s: _part(s, 22),
                      "", "", write=_as_is),
    ),
    others=(("laces", "Vezalke bombažne, bele 120 cm"), ("service", "Čiščenje obutve"), ("refund", "")),
    columns={
        "Zap. št.": lambda s: s.number,
        "Datum": lambda s: s.closed,
        "Št. računa": lambda s: f"BR1-1-{s.number + 340}",
        "Šifra": lambda s: s.code("", 5),
        "Naziv artikla": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Vel.": lambda s: s.eu if s.shoe else "",
        "Stanje": lambda s: if_shoe(s, s.grade_word),
        "MPC": lambda s: s.price if s.price < 0 else s.price + _cut(s),
        "Popust": lambda s: "" if s.price < 0 or not _cut(s) else _cut(s),
        "Prodajna vrednost z DDV": lambda s: s.price,
        "Od tega DDV 22 %": lambda s: _part(s, 22),
        "Način plačila": lambda s: s.one_of("Gotovina", "Kartica", "Kartica", "Nakazilo"),
        "Opomba": lambda s: "vračilo blaga" if s.kind == "refund" else "",
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu),
    truth=columns_of(BREZ_MAP, BREZ_COLUMNS, "any"),
    ideal=map_of("brezovje", BREZ_MAP, BREZ_COLUMNS),
)  # fmt: skip

RANNALA_MAP = {"venue": "Oksjonikeskus Rannala", "files": "rannala_*.csv", "date_order": "dmy",
               "decimal_mark": ",", "currency": "EUR", "price_basis": "hammer", "size_system": "EU"}  # fmt: skip
RANNALA_COLUMNS = {"sale_ref": "Oksjoni nr", "title": "Oksjoni nimetus", "size_label": "Suurus",
                   "grade": "Seisukord", "offered_on": "Algusaeg", "price_native": "Lõpphind (€)",
                   "closed_on": "Lõpuaeg", "status": "Olek"}  # fmt: skip
RANNALA = Export(
    file="rannala_minu_oksjonid.csv",
    half="seventh",
    dealer="sandhythe",
    language="et",
    count=42,
    step=1,
    first_day=date(2024, 3, 1),
    days_apart=5,
    layout=Layout(delimiter=";", encoding="utf-8-sig"),
    statuses={
        "Müüdud": ("sold", 7),
        "Lõppenud pakkumisteta": ("unsold", 2),
        "Ostja ei tasunud": ("withdrawn", 1),
        "Müüja poolt katkestatud": ("withdrawn", 1),
    },
    others=(("laces", "Puuvillased paelad 120 cm, valged"), ("box", "Tühi kingakarp Pellmarch")),
    columns={
        "Oksjoni nr": lambda s: str(88120450 + s.number * 37),
        "Oksjoni nimetus": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Suurus": lambda s: if_shoe(s, short(s.eu, ",")),
        "Seisukord": lambda s: if_shoe(s, s.grade_word),
        "Algusaeg": lambda s: f"{s.offered:%d.%m.%Y} 12:00",
        "Lõpuaeg": lambda s: f"{s.closed:%d.%m.%Y} {s.clock[:5]}",
        "Alghind (€)": lambda s: euro(_near(s, "0.4", 5)),
        "Pakkumisi": lambda s: str(3 + s.number % 11) if s.sold else "0",
        "Lõpphind (€)": lambda s: if_sold(s, euro(s.price)),
        "Vahendustasu 6% (€)": lambda s: if_sold(s, euro(s.share("0.06"))),
        "Müüjale laekub (€)": lambda s: if_sold(s, euro(s.price - s.share("0.06"))),
        "Ostja kasutajanimi": lambda s: if_sold(s, s.person.split()[0].lower() + s.code("", 2)),
        "Tarneviis": lambda s: s.one_of("Pakiautomaat", "Pakiautomaat", "Tulen ise järele"),
        "Olek": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(RANNALA_MAP, RANNALA_COLUMNS),
    ideal=map_of("rannala", RANNALA_MAP, RANNALA_COLUMNS, sold="Müüdud", unsold="Lõppenud pakkumisteta",
                 unpaid="Ostja ei tasunud", withdrawn="Müüja poolt katkestatud"),
)  # fmt: skip

OZOL_MAP = {"venue": "Komisijas veikals Ozolkalns", "files": "ozolkalns_*.ods", "currency": "EUR",
            "price_basis": "all-in", "size_system": "EU"}  # fmt: skip
OZOL_COLUMNS = {"stock_ref": "Līguma Nr.", "title": "Preces nosaukums", "size_label": "Izm.",
                "grade": "Stāvoklis", "offered_on": "Pieņemts", "price_native": "Pārdošanas cena, EUR",
                "sold_on": "Pārdots", "status": "Statuss"}  # fmt: skip
OZOLKALNS = Export(
    file="ozolkalns_komisijas_preces.ods",
    half="seventh",
    dealer="sandhythe",
    language="lv",
    count=38,
    step=4,
    first_day=date(2024, 2, 1),
    layout=Layout(kind="ods", sheet="Komisija 2024"),
    statuses={"Pārdots": ("sold", 7), "Atdots komitentam": ("unsold", 1), "Tirdzniecībā": ("open", 1)},
    others=(("laces", "Šņores kokvilnas, 120 cm"), ("bundle", "Botas, 3 pāri kopā, dažādi izmēri")),
    columns={
        "Nr. p. k.": lambda s: s.number,
        "Līguma Nr.": lambda s: f"K-{s.number + 415}/24",
        "Pieņemts": lambda s: s.offered,
        "Preces nosaukums": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Izm.": lambda s: s.eu if s.shoe else "",
        "Stāvoklis": lambda s: if_shoe(s, s.grade_word),
        "Komitents": lambda s: s.person,
        "Pārdots": lambda s: if_sold(s, s.closed),
        "Pārdošanas cena, EUR": lambda s: if_sold(s, s.price),
        "Komisijas maksa 25 %": lambda s: if_sold(s, s.share("0.25")),
        "t. sk. PVN 21 %": lambda s: if_sold(s, cents(s.share("0.25") * 21 / 121)),
        "Izmaksājams komitentam": lambda s: if_sold(s, s.price - s.share("0.25")),
        "Statuss": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu),
    truth=columns_of(OZOL_MAP, OZOL_COLUMNS, "any"),
    ideal=map_of("ozolkalns", OZOL_MAP, OZOL_COLUMNS, sold="Pārdots", unsold="Atdots komitentam",
                 open="Tirdzniecībā"),
)  # fmt: skip

PATIKA_MAP = {"venue": "Patikarnica", "files": "patikarnica_*.csv", "encoding": "cp1250", "date_order": "dmy",
              "decimal_mark": ",", "currency": "RSD", "price_basis": "all-in", "size_system": "EU"}  # fmt: skip
PATIKA_COLUMNS = {"sale_ref": "ID oglasa", "title": "Naslov oglasa", "size_label": "Broj", "grade": "Ocena (1-10)",
                  "offered_on": "Postavljen", "price_native": "Cena (din)", "sold_on": "Datum prodaje",
                  "status": "Status"}  # fmt: skip
PATIKARNICA = Export(
    file="patikarnica_prodaje.csv",
    half="seventh",
    dealer="sandhythe",
    language="sr",
    graded=True,
    count=40,
    scale=Decimal(117),
    step=100,
    first_day=date(2024, 2, 1),
    layout=Layout(delimiter=";", encoding="cp1250"),
    statuses={"Isporučeno": ("sold", 8), "Otkazano": ("withdrawn", 1), "Vraćeno": ("withdrawn", 1)},
    others=(("laces", "Pertle pamučne 120 cm"), ("box", "Prazna kutija za patike")),
    columns={
        "R.br.": lambda s: str(s.number),
        "ID oglasa": lambda s: s.code("", 7),
        "Postavljen": lambda s: f"{s.offered:%d.%m.%Y.}",
        "Datum prodaje": lambda s: f"{s.closed:%d.%m.%Y.}",
        "Naslov oglasa": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Broj": lambda s: if_shoe(s, short(s.eu, ",")),
        "Ocena (1-10)": lambda s: if_shoe(s, short(s.grade, ",")),
        "Cena (din)": lambda s: euro(s.price),
        "Provizija 7%": lambda s: euro(s.share("0.07")),
        "Poštarina (plaća kupac)": lambda s: euro(Decimal(420 + 30 * (s.number % 4))),
        "Za isplatu": lambda s: euro(s.price - s.share("0.07")),
        "Kupac": lambda s: s.person,
        "Način plaćanja": lambda s: s.one_of("Pouzećem", "Pouzećem", "Na račun"),
        "Status": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="RSD",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(PATIKA_MAP, PATIKA_COLUMNS),
    ideal=map_of("patikarnica", PATIKA_MAP, PATIKA_COLUMNS, sold="Isporučeno", cancelled="Otkazano",
                 returned="Vraćeno"),
)  # fmt: skip

RIMBA_MAP = {"venue": "Kedai Kasut Rimba", "files": "rimba_*.json", "date_order": "ymd", "currency": "MYR",
             "price_basis": "all-in", "quantity_price": "unit", "size_system": "UK",
             "records": "orders.barangan"}  # fmt: skip
RIMBA_COLUMNS = {"sale_ref": "no_pesanan", "stock_ref": "barangan.kod_sku", "title": "barangan.nama_produk",
                 "size_label": "barangan.variasi", "quantity": "barangan.kuantiti",
                 "price_native": "barangan.harga_seunit", "sold_on": "tarikh_pesanan",
                 "status": "status_pesanan"}  # fmt: skip
RIMBA = Export(
    file="rimba_pesanan.json",
    half="seventh",
    dealer="sandhythe",
    language="ms",
    count=44,
    scale=Decimal(5),
    first_day=date(2024, 1, 10),
    layout=Layout(
        kind="json",
        nest="barangan",
        order_columns=(
            "no_pesanan",
            "tarikh_pesanan",
            "nama_pembeli",
            "kaedah_bayaran",
            "caj_penghantaran",
            "jumlah_bayaran",
            "status_pesanan",
        ),
    ),
    statuses={"Selesai": ("sold", 8), "Dibatalkan": ("withdrawn", 1), "Dipulangkan": ("withdrawn", 1)},
    others=(
        ("laces", "Tali kasut kapas 120 cm"),
        ("quantity above 1", "Vessary Wherling gading, keluaran semula, belum dipakai, kotak asal"),
    ),
    columns={
        "no_pesanan": lambda s: f"KKR{s.closed:%y%m%d}{s.number:03}",
        "tarikh_pesanan": lambda s: moment(s, " "),
        "nama_pembeli": lambda s: s.person,
        "kaedah_bayaran": lambda s: s.one_of("Kad", "Pindahan bank", "E-dompet"),
        "caj_penghantaran": lambda s: Decimal("10.00"),
        "jumlah_bayaran": lambda s: s.order_total + 10,
        "status_pesanan": lambda s: s.word,
        "barangan.kod_sku": lambda s: s.code("RB", 4),
        "barangan.nama_produk": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {word}, {box}, {extra}"),
        "barangan.variasi": lambda s: if_shoe(s, f"UK {short(s.uk)}"),
        "barangan.kuantiti": lambda s: s.quantity,
        "barangan.harga_seunit": lambda s: s.price,
        "barangan.jumlah": lambda s: _line(s),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="MYR",
    size=lambda s: short(s.uk),
    truth=columns_of(RIMBA_MAP, RIMBA_COLUMNS),
    ideal=map_of("rimba", RIMBA_MAP, RIMBA_COLUMNS, sold="Selesai", cancelled="Dibatalkan", returned="Dipulangkan"),
)  # fmt: skip

SIDRA_MAP = {"venue": "متجر دار السدرة", "files": "dar_alsidra_*.xlsx", "header_row": 4, "currency": "AED",
             "price_basis": "all-in", "tax": "included", "size_system": "EU"}  # fmt: skip
SIDRA_COLUMNS = {"sale_ref": "رقم الفاتورة", "stock_ref": "رمز الصنف", "title": "وصف الصنف", "size_label": "المقاس",
                 "grade": "الحالة", "price_native": "الإجمالي شامل الضريبة", "sold_on": "تاريخ الفاتورة",
                 "notes": "ملاحظات"}  # fmt: skip
SIDRA = Export(
    file="dar_alsidra_fawatir.xlsx",
    half="seventh",
    dealer="sandhythe",
    language="ar",
    count=36,
    scale=Decimal(4),
    first_day=date(2024, 1, 20),
    layout=Layout(
        kind="xlsx",
        sheet="الفواتير",
        above=(
            ("متجر دار السدرة للأحذية الكلاسيكية",),
            ("تقرير المبيعات لسنة 2024", "", "الرقم الضريبي: 100000000000000"),
            ("جميع المبالغ بالدرهم الإماراتي",),
        ),
        total_by=_at_the_end,
        total=_summed("المجموع", "", "", "", "", "", lambda s: s.price - _part(s, 5), lambda s: _part(s, 5),
                      lambda s: s.price, "", "", write=_as_is),
    ),
    others=(("laces", "أربطة قطنية 120 سم"), ("service", "خدمة تنظيف حذاء"), ("refund", "")),
    columns={
        "رقم الفاتورة": lambda s: f"INV-{s.number + 2060}",
        "تاريخ الفاتورة": lambda s: s.closed,
        "رمز الصنف": lambda s: s.code("DS", 4),
        "وصف الصنف": lambda s: s.put("{maker} {silhouette} {colourway}، {era}، {box}، {extra}").strip("، "),
        "المقاس": lambda s: s.eu if s.shoe else "",
        "الحالة": lambda s: if_shoe(s, s.grade_word),
        "المبلغ قبل الضريبة": lambda s: s.price - _part(s, 5),
        "ضريبة القيمة المضافة 5%": lambda s: _part(s, 5),
        "الإجمالي شامل الضريبة": lambda s: s.price,
        "طريقة الدفع": lambda s: s.one_of("نقدا", "بطاقة", "بطاقة", "تحويل بنكي"),
        "ملاحظات": lambda s: "إشعار دائن - مرتجع" if s.kind == "refund" else "",
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="AED",
    size=lambda s: short(s.eu),
    truth=columns_of(SIDRA_MAP, SIDRA_COLUMNS, "any"),
    ideal=map_of("dar_alsidra", SIDRA_MAP, SIDRA_COLUMNS),
)  # fmt: skip

SOLMARU_MAP = {"venue": "솔마루장터", "files": "solmaru_*.jsonl", "date_order": "ymd", "currency": "KRW",
               "price_basis": "all-in", "size_system": "mm"}  # fmt: skip
SOLMARU_COLUMNS = {"sale_ref": "상품번호", "title": "상품명", "size_label": "사이즈", "grade": "상품상태",
                   "offered_on": "등록일", "ask_native": "판매희망가", "price_native": "거래금액",
                   "sold_on": "거래완료일", "status": "거래상태"}  # fmt: skip
SOLMARU = Export(
    file="solmaru_geurae_naeyeok.jsonl",
    half="seventh",
    dealer="sandhythe",
    language="ko",
    count=45,
    scale=Decimal(1450),
    step=1000,
    first_day=date(2024, 2, 10),
    layout=Layout(kind="jsonl"),
    statuses={"거래완료": ("sold", 7), "판매중": ("open", 1), "거래취소": ("withdrawn", 1)},
    others=(("laces", "면 운동화끈 120cm"), ("bundle", "빈티지 운동화 3켤레 일괄")),
    columns={
        "상품번호": lambda s: s.code("", 9),
        "등록일": lambda s: f"{s.offered}",
        "상품명": lambda s: s.put("{maker} {silhouette} {colourway} {era} {box} {extra}"),
        "사이즈": lambda s: round(s.cm * 10) if s.shoe else None,
        "상품상태": lambda s: s.grade_word if s.shoe else None,
        "판매희망가": lambda s: int(s.price + _cut(s, 5000)),
        "거래상태": lambda s: s.word,
        "거래완료일": lambda s: moment(s, " ") if s.sold else None,
        "거래금액": lambda s: int(s.price) if s.sold else None,
        "수수료": lambda s: int(s.share("0.05")) if s.sold else None,
        "배송비": lambda s: 4000,
        "정산금액": lambda s: int(s.price) - int(s.share("0.05")) if s.sold else None,
        "구매자": lambda s: s.person if s.sold else None,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="KRW",
    size=lambda s: short(s.cm * 10),
    truth=columns_of(SOLMARU_MAP, SOLMARU_COLUMNS),
    ideal=map_of("solmaru", SOLMARU_MAP, SOLMARU_COLUMNS, sold="거래완료", open="판매중", cancelled="거래취소"),
)  # fmt: skip


def _discount(offer: Offer) -> Decimal:
    """Return what the Mexican shop takes off before tax: nothing for most, and never off two pairs."""
    return _cut(offer, 50) if offer.quantity == 1 else Decimal(0)


def _untaxed(offer: Offer) -> Decimal:
    """Return the price of one pair before the tax of 16 per cent."""
    return cents(offer.price / Decimal("1.16"))


BARRANCA_MAP = {"venue": "Tenis Barranca", "files": "barranca_*.csv", "encoding": "cp1252", "date_order": "dmy",
                "price_basis": "all-in", "quantity_price": "line", "tax": "included", "size_system": "JP"}  # fmt: skip
BARRANCA_COLUMNS = {"sale_ref": "Folio", "stock_ref": "Clave", "title": "Concepto", "quantity": "Cant.",
                    "price_native": "Total", "currency": "Moneda", "sold_on": "Fecha de emisión",
                    "size_label": "Talla (cm)", "status": "Estatus"}  # fmt: skip
BARRANCA = Export(
    file="barranca_facturas_emitidas.csv",
    half="seventh",
    dealer="sandhythe",
    language="es",
    count=44,
    scale=Decimal(20),
    step=10,
    first_day=date(2024, 1, 12),
    layout=Layout(encoding="cp1252"),
    statuses={"Vigente": ("sold", 9), "Cancelada": ("withdrawn", 1)},
    others=(
        ("laces", "Agujetas de algodón 120 cm"),
        ("service", "Servicio de limpieza de tenis"),
        ("quantity above 1", "Strandvane Orlop 3 verde pino, reedición, nuevo sin uso, caja original"),
    ),
    columns={
        "Serie": lambda s: "B",
        "Folio": lambda s: str(s.number + 1480),
        "Fecha de emisión": lambda s: f"{s.closed:%d/%m/%Y}",
        "Cliente": lambda s: s.one_of("PÚBLICO EN GENERAL", "PÚBLICO EN GENERAL", s.person),
        "Clave": lambda s: s.code("TB-", 4),
        "Concepto": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {word}, {box}, {extra}"),
        "Talla (cm)": lambda s: if_shoe(s, short(s.cm)),
        "Cant.": lambda s: str(s.quantity),
        "Valor unitario": lambda s: _grouped(_untaxed(s) + _discount(s)),
        "Descuento": lambda s: _grouped(_discount(s)),
        "Subtotal": lambda s: _grouped(_untaxed(s) * s.quantity),
        "IVA 16%": lambda s: _grouped(_line(s) - _untaxed(s) * s.quantity),
        "Total": lambda s: _grouped(_line(s)),
        "Moneda": lambda s: "MXN",
        "Forma de pago": lambda s: s.one_of("01 Efectivo", "03 Transferencia", "04 Tarjeta de crédito"),
        "Estatus": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="MXN",
    size=lambda s: short(s.cm),
    truth=columns_of(BARRANCA_MAP, BARRANCA_COLUMNS),
    ideal=map_of("barranca", BARRANCA_MAP, BARRANCA_COLUMNS, sold="Vigente", cancelled="Cancelada"),
)  # fmt: skip

SEVENTH = (FENNICK, WIESENRAIN, VALCREUSE, SHIMOSAWA, BREZOVJE, RANNALA, OZOLKALNS, PATIKARNICA, RIMBA, SIDRA,
           SOLMARU, BARRANCA)  # fmt: skip
