"""The fifth part of the invented exports, from ten countries: what each writes, and what is right about it."""

from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import Any

from babel.dates import format_date

from tests.new_exports.drawing import Export, Layout, Offer, amount, cents, short
from tests.new_exports.first_exports import euro, if_shoe, if_sold, spaced
from tests.new_exports.fourth_exports import columns_of, map_of, or_zero


def _grouped(number: Decimal) -> str:
    """Return an amount with commas between thousands: 1,250.00."""
    return amount(number, ".", ",")


def _half(number: float) -> str:
    """Return a size with its half as a sign: 42½."""
    return f"{int(number)}{'½' if number % 1 else ''}"


def _totals(*cells: str | Callable[[Decimal], Any]) -> Callable[[list[Offer]], list[Any]]:
    """Return how to write a line of totals: texts as they are, amounts from the sum of the prices of the sales."""

    def write(offers: list[Offer]) -> list[Any]:
        total = sum((each.price * each.quantity for each in offers if each.sold), Decimal(0))
        return [cell if isinstance(cell, str) else cell(total) for cell in cells]

    return write


def _at_the_end(offer: Offer) -> str:
    """Return the one group of a file that has its totals in the last line."""
    return "all"


BALLY = {"venue": "Ballycorran Salerooms", "files": "ballycorran_*.csv", "header_row": 4, "date_order": "dmy",
         "currency": "EUR", "price_basis": "hammer"}  # fmt: skip
BALLY_COLUMNS = {"lot_ref": "Lot", "title": "Description", "ask_native": "Low Est. €",
                 "price_native": "Hammer €", "closed_on": "Sale Date", "status": "Outcome"}  # fmt: skip
BALLYCORRAN = Export(
    file="ballycorran_vendor_settlement.csv",
    half="fifth",
    dealer="marrowgate",
    language="en",
    count=34,
    step=10,
    layout=Layout(
        encoding="cp1252",
        above=(
            ("Ballycorran Salerooms – Vendor Settlement",),
            ("Vendor ref. V2207", "", "VAT at 23%"),
            ("",),
        ),
        total_by=_at_the_end,
        total=_totals(
            "Totals",
            "",
            "",
            "",
            "",
            _grouped,
            "",
            "",
            "",
            lambda each: _grouped(cents(each * Decimal("0.8032"))),
            "",
            "",
            "",
        ),
    ),
    statuses={"Sold": ("sold", 7), "Bought In": ("unsold", 2), "W/D": ("withdrawn", 1)},
    others=(("bundle", "Three pairs of old runners, as found"), ("box only", "Empty shoe box, 1980s")),
    columns={
        "Lot": lambda s: f"{s.number + 400}",
        "Description": lambda s: s.put(
            "{maker} {silhouette} in {colourway}, {era}, UK {uk}, {word}, {box}, {extra}"
        ),
        "Low Est. €": lambda s: amount(s.share("0.8"), ".", ",", 0),
        "High Est. €": lambda s: amount(s.share("1.2"), ".", ",", 0),
        "Reserve": lambda s: amount(s.share("0.7"), ".", ",", 0),
        "Hammer €": lambda s: if_sold(s, _grouped(s.price)),
        "Comm. 15%": lambda s: if_sold(s, _grouped(s.share("0.15"))),
        "Ins. 1%": lambda s: if_sold(s, _grouped(s.share("0.01"))),
        "VAT on charges": lambda s: if_sold(s, _grouped(s.share("0.0368"))),
        "Due to Vendor": lambda s: if_sold(s, _grouped(s.price - s.share("0.16") - s.share("0.0368"))),
        "Sale Date": lambda s: f"{s.closed:%d/%m/%y}",
        "Settled": lambda s: if_sold(s, f"{s.paid:%d/%m/%y}"),
        "Outcome": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.uk),
    truth=columns_of({**BALLY, "size_system": "UK"}, BALLY_COLUMNS),
    ideal=map_of("ballycorran", BALLY, BALLY_COLUMNS, sold="Sold", unsold="Bought In", withdrawn="W/D"),
)

YARRA = {"venue": "Yarralong Vintage", "files": "yarralong_*.xlsx", "header_row": 4, "date_order": "dmy",
         "currency": "AUD", "price_basis": "all-in", "quantity_price": "unit", "tax": "included",
         "size_system": "US men"}  # fmt: skip
YARRA_COLUMNS = {"sale_ref": "Docket", "sold_on": "Date & Time", "stock_ref": "SKU", "title": "Product",
                 "size_label": "Mens US", "quantity": "Qty", "price_native": "Each inc GST"}  # fmt: skip
YARRALONG = Export(
    file="yarralong_register_fy23.xlsx",
    half="fifth",
    dealer="marrowgate",
    language="en",
    count=34,
    scale=Decimal("1.6"),
    layout=Layout(
        kind="xlsx",
        sheet="Register",
        above=(("Yarralong Vintage", "", "Register sales"), ("All amounts AUD, inc GST",), ("",)),
        total_by=_at_the_end,
        total=_totals("TOTAL", "", "", "", "", "", "", lambda each: each, lambda each: cents(each / 11), ""),
    ),
    others=(
        ("laces", "Waxed laces 120 cm"),
        ("service", "Sole reglue"),
        ("quantity above 1", ""),
        ("refund", ""),
    ),
    columns={
        "Docket": lambda s: f"{s.number + 20500}",
        "Date & Time": lambda s: f"{s.closed.day}/{s.closed:%m/%Y} {s.clock[:5]}",
        "SKU": lambda s: s.code("YV-", 4),
        "Product": lambda s: s.put("{maker} {silhouette} {colourway} - {era} - {word} - {box}"),
        "Mens US": lambda s: if_shoe(s, short(s.us)),
        "Qty": lambda s: s.quantity,
        "Each inc GST": lambda s: s.price,
        "Line Total": lambda s: s.price * s.quantity,
        "GST Component": lambda s: cents(s.price * s.quantity / 11),
        "Tender": lambda s: s.one_of("Card", "Cash", "Card"),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="AUD",
    size=lambda s: short(s.us),
    truth=columns_of(YARRA, YARRA_COLUMNS),
    ideal=map_of("yarralong", YARRA, YARRA_COLUMNS),
)

LIND = {"venue": "Altschuh Lindtal", "files": "lindtal_*.csv", "encoding": "cp1252", "header_row": 3,
        "date_order": "dmy", "decimal_mark": ",", "currency": "EUR", "price_basis": "all-in",
        "tax": "included", "size_system": "EU"}  # fmt: skip
LIND_COLUMNS = {"sale_ref": "RE-Nr.", "sold_on": "Belegdatum", "title": "Bezeichnung", "size_label": "Gr.",
                "grade": "Zustand", "price_native": "Brutto", "status": "Vermerk"}  # fmt: skip
LINDTAL = Export(
    file="lindtal_rechnungsausgang.csv",
    half="fifth",
    dealer="seekante",
    language="de",
    count=36,
    layout=Layout(
        delimiter=";",
        encoding="cp1252",
        above=(("Rechnungsausgangsbuch für die Steuerberatung",), ("Alle Beträge in EUR",)),
        total_by=_at_the_end,
        total=_totals(
            "Summe",
            "",
            "",
            "",
            "",
            lambda each: euro(each / 6 * 5),
            "",
            lambda each: euro(each / 6),
            euro,
            "",
            "",
            "",
        ),
    ),
    statuses={"beglichen": ("sold", 8), "storniert": ("withdrawn", 1)},
    others=(("laces", "Schuhbänder gewachst"), ("service", "Sohle geklebt")),
    columns={
        "RE-Nr.": lambda s: f"{s.closed.year}/{s.number:03}",
        "Belegdatum": lambda s: f"{s.closed:%d.%m.%Y}",
        "Bezeichnung": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Gr.": lambda s: if_shoe(s, short(s.eu, ",")),
        "Zustand": lambda s: if_shoe(s, s.grade_word),
        "Netto": lambda s: euro(cents(s.price / Decimal("1.2"))),
        "USt-Satz": lambda s: "20 %",
        "USt": lambda s: euro(s.price - cents(s.price / Decimal("1.2"))),
        "Brutto": lambda s: euro(s.price),
        "Zahlungsart": lambda s: s.one_of("bar", "Überweisung", "Bankomat"),
        "Eingang am": lambda s: if_sold(s, f"{s.paid:%d.%m.%Y}"),
        "Vermerk": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(LIND, LIND_COLUMNS),
    ideal=map_of("lindtal", LIND, LIND_COLUMNS, sold="beglichen", cancelled="storniert"),
)

MONT = {"venue": "Friperie Montclair", "files": "montclair_*.csv", "header_row": 3, "date_order": "ymd",
        "decimal_mark": ",", "currency": "CAD", "price_basis": "all-in", "tax": "included",
        "size_system": "US men"}  # fmt: skip
MONT_COLUMNS = {"sale_ref": "Nº de facture / Invoice No.", "sold_on": "Date de vente / Sale date",
                "title": "Article / Item", "size_label": "Pointure US (h) / US men's size",
                "grade": "État / Condition", "price_native": "Total payé / Total paid",
                "status": "Statut / Status"}  # fmt: skip
MONTCLAIR = Export(
    file="montclair_ventes_sales.csv",
    half="fifth",
    dealer="valdombre",
    language="fr",
    count=36,
    scale=Decimal("1.5"),
    layout=Layout(
        delimiter=";",
        encoding="utf-8-sig",
        above=(("Journal des ventes / Sales journal",), ("Montants en CAD / Amounts in CAD",)),
    ),
    statuses={"Payée / Paid": ("sold", 9), "Remboursée / Refunded": ("withdrawn", 1)},
    others=(("laces", "Lacets cirés / Waxed laces"), ("service", "Nettoyage / Cleaning")),
    columns={
        "Nº de facture / Invoice No.": lambda s: f"M{s.number:05}",
        "Date de vente / Sale date": lambda s: f"{s.closed:%Y-%m-%d}",
        "Article / Item": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Pointure US (h) / US men's size": lambda s: if_shoe(s, short(s.us, ",")),
        "État / Condition": lambda s: if_shoe(s, s.grade_word),
        "Prix / Price": lambda s: f"{spaced(s.price)} $",
        "TPS / GST 5 %": lambda s: f"{spaced(s.share('0.05'))} $",
        "TVQ / QST 9,975 %": lambda s: f"{spaced(s.share('0.09975'))} $",
        "Total payé / Total paid": lambda s: f"{spaced(_with_both_taxes(s))} $",
        "Paiement / Payment": lambda s: s.one_of("Débit", "Comptant / Cash", "Virement"),
        "Statut / Status": lambda s: s.word,
    },
    price=lambda s: _with_both_taxes(s),
    day=lambda s: s.closed,
    currency="CAD",
    size=lambda s: short(s.us, ","),
    truth=columns_of(MONT, MONT_COLUMNS),
    ideal=map_of("montclair", MONT, MONT_COLUMNS, sold="Payée / Paid", refunded="Remboursée / Refunded"),
)


def _with_both_taxes(offer: Offer) -> Decimal:
    """Return the price with the federal and the provincial tax."""
    return offer.price + offer.share("0.05") + offer.share("0.09975")


OMB = {"venue": "Casa d'Aste Ombrosa", "files": "ombrosa_*.html", "date_order": "dmy", "language": "it",
       "decimal_mark": ",", "currency": "EUR", "price_basis": "hammer", "size_system": "EU"}  # fmt: skip
OMB_COLUMNS = {"lot_ref": "Lotto", "title": "Oggetto", "size_label": "Mis.", "ask_native": "Stima min.",
               "price_native": "Aggiudicazione", "closed_on": "Tornata del", "status": "Esito"}  # fmt: skip
OMBROSA = Export(
    file="ombrosa_esiti.html",
    half="fifth",
    dealer="valdombre",
    language="it",
    count=38,
    step=10,
    layout=Layout(
        kind="html",
        group=lambda s: f"Asta di {format_date(s.closed, 'MMMM yyyy', locale='it')}",
        group_column=1,
    ),
    statuses={"Aggiudicato": ("sold", 7), "Invenduto": ("unsold", 2), "Ritirato": ("withdrawn", 1)},
    others=(("bundle", "Lotto di quattro paia di scarpe usate"), ("single shoe", "Una sola scarpa, destra")),
    columns={
        "Lotto": lambda s: str(s.number),
        "Oggetto": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {word}, {box}, {extra}"),
        "Mis.": lambda s: if_shoe(s, short(s.eu, ",")),
        "Base d'asta": lambda s: f"€ {amount(s.share('0.5'), ',', '.', 0)}",
        "Stima min.": lambda s: f"€ {amount(s.share('0.8'), ',', '.', 0)}",
        "Stima max.": lambda s: f"€ {amount(s.share('1.3'), ',', '.', 0)}",
        "Offerte": lambda s: str(s.one_of(3, 5, 9)) if s.sold else "0",
        "Aggiudicazione": lambda s: if_sold(s, f"€ {euro(s.price)}"),
        "Diritti 25%": lambda s: if_sold(s, f"€ {euro(s.share('0.25'))}"),
        "Totale": lambda s: if_sold(s, f"€ {euro(s.share('1.25'))}"),
        "Tornata del": lambda s: format_date(s.closed, "d MMMM yyyy", locale="it"),
        "Esito": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(OMB, OMB_COLUMNS, "any"),
    ideal=map_of("ombrosa", OMB, OMB_COLUMNS, sold="Aggiudicato", unsold="Invenduto", withdrawn="Ritirato"),
)

TLAL = {"venue": "Mercado Tlalmara", "files": "tlalmara_*.csv", "header_row": 3, "language": "es", "date_order": "dmy",
        "currency": "MXN", "price_basis": "all-in", "size_system": "JP"}  # fmt: skip
TLAL_COLUMNS = {"sale_ref": "Folio", "sold_on": "Fecha de compra", "status": "Estatus", "title": "Artículo",
                "size_label": "Talla MX (cm)", "price_native": "Precio del artículo"}  # fmt: skip
TLALMARA = Export(
    file="tlalmara_reporte.csv",
    half="fifth",
    dealer="calvera",
    language="es",
    count=40,
    scale=Decimal(20),
    step=50,
    layout=Layout(encoding="utf-8-sig", above=(("Reporte de pedidos",), ("Moneda: MXN",))),
    statuses={"Entregado": ("sold", 7), "Cancelado": ("withdrawn", 1), "Devuelto": ("withdrawn", 1)},
    others=(("laces", "Agujetas enceradas"), ("bundle", "Lote de 3 pares de tenis")),
    columns={
        "Folio": lambda s: s.code("TL", 8),
        "Fecha de compra": lambda s: f"{s.closed:%d}/{MESES[s.closed.month - 1]}/{s.closed.year}",
        "Estatus": lambda s: s.word,
        "Artículo": lambda s: s.put("Tenis {maker} {silhouette} {colourway} {era}, {word}, {box}, {extra}"),
        "Talla MX (cm)": lambda s: if_shoe(s, short(s.cm)),
        "Precio del artículo": lambda s: f"${_grouped(s.price)}",
        "Envío cobrado": lambda s: "$149.00",
        "Pagó el comprador": lambda s: f"${_grouped(s.price + 149)}",
        "Comisión": lambda s: f"-${_grouped(s.share('0.13'))}",
        "IVA de la comisión": lambda s: f"-${_grouped(s.share('0.0208'))}",
        "Retención de ISR": lambda s: f"-${_grouped(s.share('0.01'))}",
        "Depósito": lambda s: if_sold(s, f"${_grouped(s.share('0.8362'))}"),
        "Fecha del depósito": lambda s: if_sold(s, f"{s.paid:%d}/{MESES[s.paid.month - 1]}/{s.paid.year}"),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="MXN",
    size=lambda s: short(s.cm),
    truth=columns_of(TLAL, TLAL_COLUMNS, "any"),
    ideal=map_of(
        "tlalmara", TLAL, TLAL_COLUMNS, sold="Entregado", cancelled="Cancelado", returned="Devuelto"
    ),
)
MESES = ("ene", "feb", "mar", "abr", "may", "jun", "jul", "ago", "sep", "oct", "nov", "dic")

MOLEN = {"venue": "Molenvaart Schoenen", "files": "molenvaart_*.xlsx", "currency": "EUR",
         "price_basis": "all-in", "size_system": "EU"}  # fmt: skip
MOLEN_COLUMNS = {"stock_ref": "Nr", "title": "Schoen", "size_label": "Maat", "grade": "Cijfer",
                 "offered_on": "Te koop sinds", "ask_native": "Vraagprijs", "status": "Weg?",
                 "sold_on": "Weg op", "price_native": "Gekregen"}  # fmt: skip
MOLENVAART = Export(
    file="molenvaart_handel.xlsx",
    half="fifth",
    dealer="seekante",
    language="nl",
    count=38,
    graded=True,
    layout=Layout(
        kind="xlsx",
        sheet="handel",
        total_by=_at_the_end,
        total=_totals("", "Totaal", "", "", "", "", "", "", "", lambda each: each, "", ""),
    ),
    statuses={"ja": ("sold", 7), "nog niet": ("open", 2)},
    others=(("laces", "Gewaxte veters"), ("box only", "Lege doos")),
    columns={
        "Nr": lambda s: s.number,
        "Schoen": lambda s: s.put("{maker} {silhouette} {colourway} {era} {box} {extra}"),
        "Maat": lambda s: if_shoe(s, _half(s.eu)),
        "Cijfer": lambda s: s.grade if s.shoe else "",
        "Inkoop": lambda s: s.share("0.5"),
        "Te koop sinds": lambda s: s.offered,
        "Vraagprijs": lambda s: s.share("1.15"),
        "Weg?": lambda s: s.word,
        "Weg op": lambda s: if_sold(s, s.closed),
        "Gekregen": lambda s: if_sold(s, s.price),
        "Porto": lambda s: if_sold(s, Decimal("7.95")),
        "Over": lambda s: if_sold(s, s.share("0.5") - Decimal("7.95")),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu),
    truth=columns_of(MOLEN, MOLEN_COLUMNS, "any"),
    ideal=map_of("molenvaart", MOLEN, MOLEN_COLUMNS, sold="ja", open="nog niet"),
)


def _polish_month(offers: Sequence[Offer]) -> list[str]:
    bought, sold = (sum((each.share(rate) for each in offers), Decimal(0)) for rate in ("0.6", "1"))
    tax = cents((sold - bought) * 23 / 123)
    named = f"Razem {offers[0].closed:%m.%Y}"
    return ["", "", named, "", "", "", *map(spaced, (bought, sold, sold - bought, sold - bought - tax, tax))]


EWID = {"venue": "Stary But Zielin", "files": "zielin_*.csv", "encoding": "cp1250", "header_row": 3,
        "date_order": "dmy", "decimal_mark": ",", "currency": "PLN", "price_basis": "all-in",
        "tax": "margin", "size_system": "EU"}  # fmt: skip
EWID_COLUMNS = {"sold_on": "Data sprzedaży", "sale_ref": "Nr dokumentu", "title": "Nazwa towaru",
                "size_label": "Rozmiar", "grade": "Stan", "price_native": "Kwota sprzedaży"}  # fmt: skip
ZIELIN = Export(
    file="zielin_ewidencja_vat_marza.csv",
    half="fifth",
    dealer="nordvik",
    language="pl",
    count=36,
    scale=Decimal("4.3"),
    step=10,
    layout=Layout(
        delimiter=";",
        encoding="cp1250",
        above=(("Ewidencja sprzedaży – procedura VAT marża",), ("Kwoty w PLN",)),
        total_by=lambda s: f"{s.closed:%Y-%m}",
        total=_polish_month,
    ),
    others=(("laces", "Sznurówki woskowane"), ("service", "Klejenie podeszwy")),
    columns={
        "Lp.": lambda s: str(s.number),
        "Data sprzedaży": lambda s: f"{s.closed:%d.%m.%Y} r.",
        "Nr dokumentu": lambda s: f"FM/{s.number}/{s.closed:%m/%Y}",
        "Nazwa towaru": lambda s: s.put("{maker} {silhouette} {colourway} {era} {box} {extra}"),
        "Rozmiar": lambda s: if_shoe(s, short(s.eu, ",")),
        "Stan": lambda s: if_shoe(s, s.grade_word),
        "Kwota nabycia": lambda s: spaced(s.share("0.6")),
        "Kwota sprzedaży": lambda s: spaced(s.price),
        "Marża brutto": lambda s: spaced(s.price - s.share("0.6")),
        "Marża netto": lambda s: spaced(s.share("0.4") - cents(s.share("0.4") * 23 / 123)),
        "VAT 23%": lambda s: spaced(cents(s.share("0.4") * 23 / 123)),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="PLN",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(EWID, EWID_COLUMNS),
    ideal=map_of("zielin", EWID, EWID_COLUMNS),
)

NORD = {"venue": "Nordhults Auktionskammare", "files": "nordhult_*.csv", "date_order": "ymd",
        "decimal_mark": ",", "currency": "SEK", "price_basis": "hammer", "size_system": "EU"}  # fmt: skip
NORD_COLUMNS = {"lot_ref": "Utropsnr", "title": "Föremål", "size_label": "Strl", "grade": "Skick",
                "ask_native": "Värdering", "price_native": "Klubbat", "closed_on": "Klubbades",
                "status": "Utfall"}  # fmt: skip
NORDHULT = Export(
    file="nordhult_avrakning.csv",
    half="fifth",
    dealer="nordvik",
    language="sv",
    count=38,
    scale=Decimal(11),
    step=50,
    layout=Layout(
        delimiter="\t",
        encoding="utf-16",
        total_by=_at_the_end,
        total=_totals(
            "Summa",
            "",
            "",
            "",
            "",
            "",
            lambda each: f"{amount(each, ',', ' ', 0)} kr",
            "",
            "",
            "",
            "",
            "",
            "",
        ),
    ),
    statuses={"Såld": ("sold", 7), "Återrop": ("unsold", 2), "Utgår": ("withdrawn", 1)},
    others=(("bundle", "Parti om fem par skor"), ("laces", "Vaxade skosnören")),
    columns={
        "Utropsnr": lambda s: str(s.number + 1200),
        "Föremål": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Strl": lambda s: if_shoe(s, short(s.eu, ",")),
        "Skick": lambda s: if_shoe(s, s.grade_word),
        "Värdering": lambda s: f"{amount(s.share('0.9'), ',', ' ', 0)} kr",
        "Bevakning": lambda s: f"{amount(s.share('0.6'), ',', ' ', 0)} kr",
        "Klubbat": lambda s: or_zero(s, lambda each: f"{amount(each, ',', ' ', 0)} kr"),
        "Slagavgift 20 %": lambda s: or_zero(s, lambda each: f"{spaced(each)} kr", "0.2"),
        "Provision 12,5 %": lambda s: or_zero(s, lambda each: f"{spaced(each)} kr", "0.125"),
        "Moms": lambda s: or_zero(s, lambda each: f"{spaced(each)} kr", "0.03125"),
        "Att utbetala": lambda s: or_zero(s, lambda each: f"{spaced(each)} kr", "0.84375"),
        "Klubbades": lambda s: f"{s.closed:%Y-%m-%d} {s.clock[:5]}",
        "Utfall": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="SEK",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(NORD, NORD_COLUMNS),
    ideal=map_of("nordhult", NORD, NORD_COLUMNS, sold="Såld", unsold="Återrop", withdrawn="Utgår"),
)

DAI = {"venue": "Furugutsu Hinata", "files": "hinata_*.csv", "encoding": "cp932", "header_row": 2,
       "currency": "JPY", "price_basis": "all-in", "tax": "included", "size_system": "JP"}  # fmt: skip
DAI_COLUMNS = {"sale_ref": "伝票番号", "sold_on": "売上日", "title": "品名", "size_label": "サイズ",
               "grade": "状態", "price_native": "売価(税込)", "notes": "備考"}  # fmt: skip
HINATA = Export(
    file="hinata_kobutsu_daicho.csv",
    half="fifth",
    dealer="nordvik",
    language="ja",
    count=36,
    scale=Decimal(150),
    step=550,
    layout=Layout(
        encoding="cp932",
        above=(("古物台帳 売上分",),),
        total_by=_at_the_end,
        total=_totals(
            "合計", "", "", "", "", "", lambda each: f"{amount(each, '.', ',', 0)}円", "", "", "", ""
        ),
    ),
    others=(("laces", "ワックス靴紐"), ("service", "ソール接着")),
    columns={
        "伝票番号": lambda s: f"U{s.number:04}",
        "売上日": lambda s: f"令和{s.closed.year - 2018}年{s.closed.month}月{s.closed.day}日",
        "品名": lambda s: s.put("{maker} {silhouette} {colourway} {era} {box} {extra}"),
        "サイズ": lambda s: if_shoe(s, f"{short(s.cm)}cm"),
        "状態": lambda s: if_shoe(s, s.grade_word),
        "仕入値": lambda s: f"{amount(s.share('0.5'), '.', ',', 0)}円",
        "売価(税込)": lambda s: f"{amount(s.price, '.', ',', 0)}円",
        "うち消費税": lambda s: f"{amount(s.price / 11, '.', ',', 0)}円",
        "税抜額": lambda s: f"{amount(s.price - s.price / 11, '.', ',', 0)}円",
        "支払": lambda s: s.one_of("現金", "カード"),
        "備考": lambda s: s.one_of("", "", "常連", "取り置き"),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="JPY",
    size=lambda s: short(s.cm),
    truth=columns_of(DAI, DAI_COLUMNS),
    ideal=map_of("hinata", DAI, DAI_COLUMNS),
)

FIFTH = (BALLYCORRAN, YARRALONG, LINDTAL, MONTCLAIR, OMBROSA, TLALMARA, MOLENVAART, ZIELIN, NORDHULT,
         HINATA)  # fmt: skip
