"""The first half of the invented exports: what each writes, and what is right about it."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from babel.dates import format_date

from tests.new_exports.drawing import Export, Layout, Offer, amount, cents, moment, short


def if_sold(offer: Offer, text: Any) -> Any:
    """Return the text of a line that was sold, and an empty cell for any other."""
    return text if offer.sold else ""


def if_shoe(offer: Offer, text: str) -> str:
    """Return the text of a line about shoes, and an empty cell for laces, services and boxes."""
    return text if offer.shoe else ""


def euro(number: Decimal) -> str:
    """Return an amount as German and Italian houses write it: 1.250,00."""
    return amount(number, ",", ".")


def spaced(number: Decimal) -> str:
    """Return an amount with a space between thousands and a decimal comma."""
    return amount(number, ",", " ")


def narrow(number: Decimal) -> str:
    """Return an amount with the narrow space that French typesetting asks for."""
    return amount(number, ",", "\u202f")


GRADE_LETTERS = ((9.5, "A+"), (9, "A"), (8, "A-"), (7, "B+"), (6, "B"), (5, "C"), (0, "D"))


def letter(offer: Offer) -> str:
    """Return a house's own letter for the condition."""
    return if_shoe(offer, next(sign for least, sign in GRADE_LETTERS if offer.grade >= least))


def stars(offer: Offer) -> str:
    """Return the condition as one to five stars."""
    return "★" * max(1, round(offer.grade / 2)) + "☆" * (5 - max(1, round(offer.grade / 2)))


BRACKMOOR = Export(
    file="brackmoor_ergebnisliste.csv",
    half="first",
    dealer="seekante",
    language="de",
    count=48,
    step=10,
    layout=Layout(delimiter=";", encoding="cp1252"),
    statuses={"zugeschlagen": ("sold", 8), "Rückgang": ("unsold", 2), "zurückgezogen": ("withdrawn", 1)},
    others=(
        ("quantity above 1", "Konvolut von 2 Paar Wherry Lo, verschiedene Größen"),
        ("laces", "Schnürsenkel, 6 Satz, gewachst"),
    ),
    columns={
        "Auktion": lambda s: f"A{s.closed:%y%m}",
        "Kat.-Nr.": lambda s: str(100 + s.number),
        "Objekt-ID": lambda s: s.code("", 7),
        "Bezeichnung": lambda s: s.put(
            "{maker} {silhouette}, {era}, {colourway}, Gr. {euc}, {word}, {box}, {extra}"
        ),
        "Größe EU": lambda s: if_shoe(s, short(s.eu, ",")),
        "Zustand (1-10)": lambda s: if_shoe(s, short(s.grade, ",")),
        "Schätzpreis von": lambda s: euro(s.share("0.8")),
        "Schätzpreis bis": lambda s: euro(s.share("1.3")),
        "Limit": lambda s: euro(s.share("0.7")),
        "Zuschlag": lambda s: if_sold(s, euro(s.price)),
        "Aufgeld 24 %": lambda s: if_sold(s, euro(s.share("0.24"))),
        "MwSt. auf Aufgeld": lambda s: if_sold(s, euro(s.share("0.0456"))),
        "Endbetrag": lambda s: if_sold(s, euro(s.share("1.2856"))),
        "Auktionstag": lambda s: f"{s.closed:%d.%m.%Y}",
        "Rechnung vom": lambda s: if_sold(s, f"{s.paid:%d.%m.%Y}"),
        "Ergebnis": lambda s: s.word,
        "Bieter-Nr.": lambda s: if_sold(s, s.code("", 3)),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    graded=True,
    truth="""
price = "Zuschlag"
price_basis = "hammer"
tax = "none stated"
day = "Auktionstag"
date_order = "dmy"
size = "Größe EU"
size_system = "EU"
grade = "Zustand (1-10)"
status = "Ergebnis"
currency = "EUR"
ask = "Schätzpreis von"
""",
    ideal="""
[maps.brackmoor]
venue = "Auktionshaus Brackmoor"
files = "brackmoor_*.csv"
date_order = "dmy"
decimal_mark = ","
currency = "EUR"
price_basis = "hammer"
size_system = "EU"

[maps.brackmoor.columns]
sale_ref = "Auktion"
lot_ref = "Kat.-Nr."
title = "Bezeichnung"
size_label = "Größe EU"
grade = "Zustand (1-10)"
ask_native = "Schätzpreis von"
price_native = "Zuschlag"
closed_on = "Auktionstag"
status = "Ergebnis"

[maps.brackmoor.status_words]
"zugeschlagen" = "sold"
"Rückgang" = "unsold"
"zurückgezogen" = "withdrawn"
""",
)

KLIPPSTEDT = Export(
    file="shop-bestellungen.csv",
    half="first",
    dealer="seekante",
    language="de",
    count=40,
    layout=Layout(delimiter=",", encoding="utf-8-sig"),
    statuses={
        "abgeschlossen": ("sold", 8),
        "storniert": ("withdrawn", 1),
        "zurückgesendet": ("withdrawn", 1),
        "offen": ("open", 1),
    },
    others=(
        ("service", "Sohle kleben, Werkstatt"),
        ("laces", "Flachsenkel 120 cm, ocker"),
        ("box only", "Leerkarton Gr. L"),
        ("quantity above 1", ""),
    ),
    columns={
        "order_id": lambda s: s.code("3", 8),
        "order_number": lambda s: f"KL-{10400 + s.number}",
        "order_state": lambda s: s.word,
        "created_at": lambda s: moment(s) + "+01:00",
        "shipped_at": lambda s: f"{s.paid}T09:00:00+01:00",
        "sku": lambda s: f"P{7000 + s.number}",
        "product_name": lambda s: s.put("{silhouette} „{colourway}“ von {maker} – {era}"),
        "variant": lambda s: if_shoe(s, f"Größe: EU {short(s.eu)} / Zustand: {s.grade_word}"),
        "quantity": lambda s: str(s.quantity),
        "weight_g": lambda s: s.one_of("1150", "1240", "980"),
        "unit_price_net": lambda s: amount(cents(s.price / Decimal("1.19"))),
        "tax_rate": lambda s: "19.00",
        "unit_price_gross": lambda s: amount(s.price),
        "shipping_gross": lambda s: "5.90",
        "order_total": lambda s: amount(s.price * s.quantity + Decimal("5.90")),
        "currency": lambda s: "EUR",
        "payment_method": lambda s: s.one_of("Vorkasse", "Rechnung", "Karte"),
        "shipping_zone": lambda s: s.one_of("DE", "EU1", "EU2"),
        "customer_group": lambda s: "1",
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: f"EU {short(s.eu)}",
    truth="""
price = "unit_price_gross"
price_basis = "all-in"
tax = "included"
day = "created_at"
date_order = "ymd"
size = "variant"
size_system = "EU"
grade = "variant"
status = "order_state"
currency_heading = "currency"
ask = ""
""",
    ideal="""
# Wish: a cell such as
# "Größe: EU 42.5 / Zustand: sehr gut" holds size and grade.
[maps.klippstedt]
venue = "Ladentheke Klippstedt"
files = "shop-bestellungen*.csv"
date_order = "ymd"
decimal_mark = "."
price_basis = "all-in"
quantity_price = "unit"
tax = "included"

[maps.klippstedt.columns]
sale_ref = "order_number"
status = "order_state"
sold_on = "created_at"
stock_ref = "sku"
title = ["product_name", "variant"]
price_native = "unit_price_gross"
quantity = "quantity"
currency = "currency"

[maps.klippstedt.status_words]
"abgeschlossen" = "sold"
"storniert" = "withdrawn"
"zurückgesendet" = "withdrawn"
"offen" = "open"
""",
)

SALEROOM = Export(
    file="marrowgate_sale_results.xlsx",
    half="first",
    dealer="marrowgate",
    language="en",
    count=42,
    step=10,
    layout=Layout(
        kind="xlsx",
        above=(
            ("Marrowgate Salerooms",),
            ("Footwear of four decades: prices realised",),
            ("Printed 3 November 2026", "", "All figures in pounds"),
            (),
        ),
        below=((), ("Lots offered", "44"), ("Total", "", "", "", "", "", "", "9,410.00")),
        sheet="Results",
    ),
    statuses={"Sold": ("sold", 7), "Bought in": ("unsold", 2), "W/D": ("withdrawn", 1)},
    others=(
        ("bundle", "Three pairs of Pintle for parts, sizes various"),
        ("box only", "Empty box for a Wherry Hi, UK 9"),
    ),
    columns={
        "Lot": lambda s: s.number,
        "Description": lambda s: s.put("{maker} {silhouette} in {colourway}, {era}, {word}, {box}, {extra}"),
        "UK": lambda s: s.uk if s.shoe else "",
        "EU": lambda s: s.eu if s.shoe else "",
        "Low est.": lambda s: s.share("0.75"),
        "High est.": lambda s: s.share("1.20"),
        "Reserve": lambda s: s.share("0.70"),
        "Hammer": lambda s: if_sold(s, s.price),
        "Premium": lambda s: if_sold(s, s.share("0.25")),
        "VAT on premium": lambda s: if_sold(s, s.share("0.05")),
        "Total due": lambda s: if_sold(s, s.share("1.30")),
        "Sale day": lambda s: s.closed,
        "Paid on": lambda s: if_sold(s, s.paid),
        "Outcome": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="GBP",
    size=lambda s: short(s.uk),
    truth="""
price = "Hammer"
price_basis = "hammer"
tax = "none stated"
day = "Sale day"
date_order = "any"
size = "UK"
size_system = "UK"
grade = "title"
status = "Outcome"
currency = "GBP"
ask = "Low est."
""",
    ideal="""
[maps.salerooms]
venue = "Marrowgate Salerooms"
files = "marrowgate_sale_*.xlsx"
header_row = 5
currency = "GBP"
price_basis = "hammer"
size_system = "UK"

[maps.salerooms.columns]
lot_ref = "Lot"
title = "Description"
size_label = "UK"
ask_native = "Low est."
price_native = "Hammer"
closed_on = "Sale day"
status = "Outcome"

[maps.salerooms.status_words]
"Sold" = "sold"
"Bought in" = "unsold"
"W/D" = "withdrawn"
""",
)

CORDWAIN = Export(
    file="cordwain_orders_report.csv",
    half="first",
    dealer="marrowgate",
    language="en",
    count=50,
    step=1,
    statuses={
        "Completed": ("sold", 10),
        "Refunded": ("withdrawn", 1),
        "Canceled": ("withdrawn", 1),
        "Awaiting payment": ("open", 1),
    },
    others=(
        ("refund", ""),
        ("single shoe", "Left shoe only, Corvane Tormentil, US 9"),
        ("laces", "Waxed laces, 54 in, off-white"),
    ),
    columns={
        "Order Number": lambda s: f"{s.code('', 2)}-{s.code('', 5)}-{s.code('', 5)}",
        "Item ID": lambda s: s.code("1", 11),
        "Item Title": lambda s: s.put("{maker} {silhouette} {colourway} {era} {word} {extra} {box}"),
        "Custom Label": lambda s: f"MP{s.number:04}",
        "Buyer Username": lambda s: s.person.split()[0].lower() + s.code("_", 2),
        "Ship To State": lambda s: s.one_of("OR", "ME", "TX"),
        "US Shoe Size": lambda s: if_shoe(s, short(s.us)),
        "Quantity": lambda s: "1",
        "Sold For": lambda s: f"{'-' if s.price < 0 else ''}${amount(abs(s.price), '.', ',')}",
        "Shipping And Handling": lambda s: s.one_of("$14.95", "$0.00"),
        "Sales Tax Collected": lambda s: "$" + amount(abs(s.share("0.06"))),
        "Final Value Fee": lambda s: "-$" + amount(abs(s.share("0.12"))),
        "Payout": lambda s: "$" + amount(s.share("0.88"), ".", ","),
        "Sale Date": lambda s: f"{s.closed:%m/%d/%Y}",
        "Paid On Date": lambda s: f"{s.paid:%m/%d/%Y}",
        "Order Status": lambda s: s.word,
        "Site": lambda s: "Main",
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="USD",
    size=lambda s: short(s.us),
    truth="""
price = "Sold For"
price_basis = "all-in"
tax = "none stated"
day = "Sale Date"
date_order = "mdy"
size = "US Shoe Size"
size_system = "US men"
grade = "title"
status = "Order Status"
currency = "USD"
ask = ""
""",
    ideal="""
# The tax of the buyer's state is no part of a price. Wish: a negative amount is a refund of an earlier order.
[maps.cordwain]
venue = "Cordwain Exchange"
files = "cordwain_orders_*.csv"
date_order = "mdy"
currency = "USD"
price_basis = "all-in"
size_system = "US men"

[maps.cordwain.columns]
sale_ref = "Order Number"
title = "Item Title"
stock_ref = "Custom Label"
size_label = "US Shoe Size"
price_native = "Sold For"
sold_on = "Sale Date"
status = "Order Status"

[maps.cordwain.status_words]
"Completed" = "sold"
"Refunded" = "withdrawn"
"Canceled" = "withdrawn"
"Awaiting payment" = "open"
""",
)

AUBRELLE = Export(
    file="vente_aubrelle.xls",
    half="first",
    dealer="valdombre",
    language="fr",
    count=38,
    step=10,
    layout=Layout(kind="html"),
    statuses={"Adjugé": ("sold", 7), "Invendu": ("unsold", 2), "Retiré": ("withdrawn", 1)},
    others=(("bundle", "Lot de quatre paires dépareillées"),),
    columns={
        "N° de lot": lambda s: str(s.number),
        "Désignation": lambda s: s.put(
            "{maker}, {silhouette} {colourway}, {era}. Pointure {euc}. {word}, {box}. {extra}"
        ),
        "Estimation": lambda s: f"{narrow(s.share('0.8'))} € / {narrow(s.share('1.2'))} €",
        "Mise à prix": lambda s: narrow(s.share("0.5")) + " €",
        "Prix marteau": lambda s: if_sold(s, narrow(s.price) + " €"),
        "Frais TTC": lambda s: if_sold(s, narrow(s.share("0.28")) + " €"),
        "Prix frais compris": lambda s: if_sold(s, narrow(s.share("1.28")) + " €"),
        "Date de vente": lambda s: format_date(s.closed, "d MMMM y", locale="fr"),
        "Date de règlement": lambda s: if_sold(s, format_date(s.paid, "d MMMM y", locale="fr")),
        "Résultat": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth="""
price = "Prix marteau"
price_basis = "hammer"
tax = "none stated"
day = "Date de vente"
date_order = "any"
size = "title"
size_system = "EU"
grade = "title"
status = "Résultat"
currency = "EUR"
ask = "Estimation"
""",
    ideal="""
# Wish: an estimate written as a range; "Pointure" as the word for an EU size.
[maps.aubrelle]
venue = "Hôtel des ventes Aubrelle"
files = "vente_*.xls"
language = "fr"
decimal_mark = ","
currency = "EUR"
price_basis = "hammer"

[maps.aubrelle.columns]
lot_ref = "N° de lot"
title = "Désignation"
ask_native = "Estimation"
price_native = "Prix marteau"
closed_on = "Date de vente"
status = "Résultat"

[maps.aubrelle.status_words]
"Adjugé" = "sold"
"Invendu" = "unsold"
"Retiré" = "withdrawn"
""",
)

BOUTIQUE = Export(
    file="commandes_boutique.json",
    half="first",
    dealer="valdombre",
    language="fr",
    count=36,
    layout=Layout(
        kind="json", nest="lignes", order_columns=("numero", "passee_le", "etat", "devise", "frais_port")
    ),
    statuses={"livrée": ("sold", 6), "annulée": ("withdrawn", 1), "remboursée": ("withdrawn", 1)},
    others=(("laces", "Lacets plats 110 cm"), ("service", "Nettoyage en atelier"), ("quantity above 1", "")),
    columns={
        "numero": lambda s: f"C{2000 + s.number}",
        "passee_le": lambda s: moment(s) + "Z",
        "etat": lambda s: s.word,
        "devise": lambda s: "EUR",
        "frais_port": lambda s: s.one_of(0, 690, 1190),
        "lignes.reference": lambda s: f"VD-{s.number:04}",
        "lignes.libelle": lambda s: s.put("{silhouette} {colourway} ({maker}), {era}"),
        "lignes.pointure": lambda s: if_shoe(s, short(s.eu)),
        "lignes.etat_paire": lambda s: if_shoe(s, s.grade_word),
        "lignes.quantite": lambda s: s.quantity,
        "lignes.prix_ttc": lambda s: s.price,
        "lignes.taux_tva": lambda s: 20,
        "lignes.prix_ht": lambda s: cents(s.price / Decimal("1.2")),
        "lignes.poids": lambda s: s.one_of(1.1, 1.25),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu),
    graded=False,
    truth="""
price = "lignes.prix_ttc"
price_basis = "all-in"
tax = "included"
day = "passee_le"
date_order = "ymd"
size = "lignes.pointure"
size_system = "EU"
grade = "lignes.etat_paire"
status = "etat"
currency_heading = "devise"
ask = ""
""",
    ideal="""
# Wish: orders with their lines, one row a line with the order's fields.
[maps.boutique]
venue = "Boutique Valdombre"
files = "commandes_*.json"
date_order = "ymd"
price_basis = "all-in"
quantity_price = "unit"
tax = "included"
size_system = "EU"

[maps.boutique.columns]
sale_ref = "numero"
sold_on = "passee_le"
status = "etat"
currency = "devise"
stock_ref = "lignes.reference"
title = "lignes.libelle"
size_label = "lignes.pointure"
grade = "lignes.etat_paire"
price_native = "lignes.prix_ttc"
quantity = "lignes.quantite"

[maps.boutique.status_words]
"livrée" = "sold"
"annulée" = "withdrawn"
"remboursée" = "withdrawn"
""",
)

DOPPIOPASSO = Export(
    file="rendiconto_conto_vendita.txt",
    half="first",
    dealer="valdombre",
    language="it",
    count=34,
    layout=Layout(delimiter="\t", encoding="utf-16"),
    statuses={"venduto": ("sold", 7), "reso": ("withdrawn", 1), "in vetrina": ("open", 2)},
    others=(
        ("single shoe", "Solo scarpa destra, Pintle gesso, campione"),
        ("box only", "Scatola vuota Wherry Hi"),
    ),
    columns={
        "Scheda": lambda s: f"{s.number:05}",
        "Conferente": lambda s: s.person,
        "Articolo": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Taglia": lambda s: if_shoe(s, short(s.eu, ",")),
        "Condizioni": lambda s: if_shoe(s, s.grade_word),
        "Data carico": lambda s: f"{s.offered:%d/%m/%y}",
        "Data vendita": lambda s: if_sold(s, f"{s.closed:%d/%m/%y}"),
        "Prezzo esposto": lambda s: euro(s.share("1.1")),
        "Provvigione 35%": lambda s: if_sold(s, euro(s.share("0.35"))),
        "Netto al conferente": lambda s: if_sold(s, euro(s.share("0.65"))),
        "Pagato il": lambda s: if_sold(s, f"{s.paid:%d/%m/%y}"),
        "Stato": lambda s: s.word,
    },
    price=lambda s: s.share("0.65"),
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth="""
price = "Netto al conferente"
price_basis = "net"
tax = "none stated"
day = "Data vendita"
date_order = "dmy"
size = "Taglia"
size_system = "EU"
grade = "Condizioni"
status = "Stato"
currency = "EUR"
ask = "Prezzo esposto"
""",
    ideal="""
[maps.doppiopasso]
venue = "Conto vendita Doppiopasso"
files = "rendiconto_*.txt"
encoding = "utf-16"
delimiter = "\\t"
date_order = "dmy"
decimal_mark = ","
currency = "EUR"
price_basis = "net"
size_system = "EU"

[maps.doppiopasso.columns]
stock_ref = "Scheda"
title = "Articolo"
size_label = "Taglia"
grade = "Condizioni"
offered_on = "Data carico"
sold_on = "Data vendita"
ask_native = "Prezzo esposto"
price_native = "Netto al conferente"
status = "Stato"

[maps.doppiopasso.status_words]
"venduto" = "sold"
"reso" = "withdrawn"
"in vetrina" = "open"
""",
)

ESCAPARATE = Export(
    file="escaparate_ventas.jsonl",
    half="first",
    dealer="calvera",
    language="es",
    count=40,
    step=1,
    layout=Layout(kind="jsonl"),
    statuses={"pagado": ("sold", 8), "impagado": ("withdrawn", 1), "cancelado": ("withdrawn", 1)},
    others=(("laces", "Cordones encerados 120 cm"), ("refund", "")),
    columns={
        "id_anuncio": lambda s: int(s.code("8", 9)),
        "anuncio": lambda s: s.put(
            "{maker} {silhouette} {colourway} {era} talla EU {eu} estado {grade}/10 {box} {extra}"
        ),
        "publicado": lambda s: f"{s.offered}T08:00:00",
        "vendido": lambda s: moment(s),
        "importe": lambda s: float(s.price),
        "comision": lambda s: float(s.share("0.11")),
        "envio": lambda s: s.one_of(4.5, 6.9, 0.0),
        "abonado": lambda s: float(s.share("0.89")),
        "moneda": lambda s: "EUR",
        "situacion": lambda s: s.word,
        "visitas": lambda s: s.random.randrange(10, 900),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu),
    graded=True,
    truth="""
price = "importe"
price_basis = "all-in"
tax = "none stated"
day = "vendido"
date_order = "ymd"
size = "title"
size_system = "EU"
grade = "title"
status = "situacion"
currency_heading = "moneda"
ask = ""
""",
    ideal="""
[maps.escaparate]
venue = "Escaparate Norte"
files = "escaparate_*.jsonl"
date_order = "ymd"
price_basis = "all-in"

[maps.escaparate.columns]
lot_ref = "id_anuncio"
title = "anuncio"
offered_on = "publicado"
sold_on = "vendido"
price_native = "importe"
currency = "moneda"
status = "situacion"

[maps.escaparate.status_words]
"pagado" = "sold"
"impagado" = "withdrawn"
"cancelado" = "withdrawn"
""",
)

TIENDA = Export(
    file="tienda_calvera_2025.csv",
    half="first",
    dealer="calvera",
    language="es",
    count=32,
    layout=Layout(delimiter="|", below=(("", "", "", "TOTAL", "", "", "", "", "7.912,00 €", "", ""),)),
    first_day=date(2025, 1, 8),
    others=(("service", "Arreglo de suela"), ("bundle", "Dos pares Skein 4, tallas 41 y 43")),
    columns={
        "Fecha": lambda s: f"{s.closed:%d-%m-%Y}",
        "Tique": lambda s: f"T{s.number:05}",
        "Sección": lambda s: "CALZADO",
        "Producto": lambda s: s.put("{silhouette} {colourway} {era}"),
        "Marca": lambda s: if_shoe(s, s.maker),
        "Nº": lambda s: if_shoe(s, f"{short(s.eu, ',')} / UK {short(s.uk, ',')}"),
        "Estado": lambda s: if_shoe(s, stars(s)),
        "Base": lambda s: euro(cents(s.price / Decimal("1.21"))) + " €",
        "PVP": lambda s: euro(s.price) + " €",
        "IVA": lambda s: "21%",
        "Vendedor": lambda s: s.person,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: f"{short(s.eu, ',')} / UK {short(s.uk, ',')}",
    truth="""
price = "PVP"
price_basis = "all-in"
tax = "included"
day = "Fecha"
date_order = "dmy"
size = "Nº"
size_system = "EU"
grade = "Estado"
status = ""
currency = "EUR"
ask = ""
""",
    ideal="""
# Wish: a grade in stars; a line of totals left out; no status: all lines are sold.
[maps.tienda]
venue = "Tienda Calvera"
files = "tienda_calvera_*.csv"
delimiter = "|"
date_order = "dmy"
decimal_mark = ","
currency = "EUR"
price_basis = "all-in"
tax = "included"
size_system = "EU"

[maps.tienda.columns]
sold_on = "Fecha"
sale_ref = "Tique"
title = "Producto"
maker = "Marca"
size_label = "Nº"
grade = "Estado"
price_native = "PVP"
""",
)

DUINRAND = Export(
    file="inbreng_duinrand_afrekening.csv",
    half="first",
    dealer="seekante",
    language="nl",
    count=36,
    layout=Layout(delimiter=";"),
    statuses={"Verkocht": ("sold", 7), "Niet verkocht": ("unsold", 1), "Ingetrokken": ("withdrawn", 1)},
    others=(("laces", "Veters, 5 paar, wit"),),
    columns={
        "Kavel": lambda s: str(300 + s.number),
        "Omschrijving": lambda s: s.put("{maker} {silhouette} {colourway} ({era})"),
        "Maat / staat / doos": lambda s: if_shoe(s, f"{short(s.eu, ',')} / {short(s.grade, ',')} / {s.box}"),
        "Richtprijs": lambda s: f"€ {amount(s.share('0.9'), ',', '.', 0)},-",
        "Hamerprijs": lambda s: if_sold(s, f"€ {amount(s.price, ',', '.', 0)},-"),
        "Inbrengcommissie": lambda s: if_sold(s, "€ " + euro(s.share("0.18"))),
        "Uit te betalen": lambda s: if_sold(s, "€ " + euro(s.share("0.82"))),
        "BTW-regeling": lambda s: "marge",
        "Veilingdatum": lambda s: format_date(s.closed, "d MMM y", locale="nl"),
        "Uitbetaald op": lambda s: if_sold(
            s, format_date(s.paid + timedelta(days=30), "d MMM y", locale="nl")
        ),
        "Resultaat": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    graded=True,
    truth="""
price = "Hamerprijs"
price_basis = "hammer"
tax = "margin"
day = "Veilingdatum"
date_order = "any"
size = "Maat / staat / doos"
size_system = "EU"
grade = "Maat / staat / doos"
status = "Resultaat"
currency = "EUR"
ask = "Richtprijs"
""",
    ideal="""
# Wish: one cell with size, grade and box.
[maps.duinrand]
venue = "Veilinghuis Duinrand"
files = "inbreng_*.csv"
language = "nl"
decimal_mark = ","
currency = "EUR"
price_basis = "hammer"
tax = "margin"
size_system = "EU"

[maps.duinrand.columns]
lot_ref = "Kavel"
title = "Omschrijving"
size_label = "Maat / staat / doos"
ask_native = "Richtprijs"
price_native = "Hamerprijs"
closed_on = "Veilingdatum"
status = "Resultaat"

[maps.duinrand.status_words]
"Verkocht" = "sold"
"Niet verkocht" = "unsold"
"Ingetrokken" = "withdrawn"
""",
)

OLSZYNEK = Export(
    file="olszynek_protokol.csv",
    half="first",
    dealer="nordvik",
    language="pl",
    count=40,
    scale=Decimal(4),
    step=20,
    layout=Layout(
        delimiter=";",
        encoding="cp1250",
        group=lambda s: f"AUKCJA {s.closed.year}/{(s.closed.month - 1) // 3 + 1}",
        group_column=1,
    ),
    statuses={"sprzedane": ("sold", 7), "niesprzedane": ("unsold", 2), "wycofane": ("withdrawn", 1)},
    others=(("box only", "Puste pudełko po Ostler Mid"), ("bundle", "Zestaw trzech par do renowacji")),
    columns={
        "Poz.": lambda s: str(s.number),
        "Opis obiektu": lambda s: s.put("{maker} {silhouette}, {colourway}, {era}, {box}, {extra}"),
        "Rozm.": lambda s: if_shoe(s, f"EU {short(s.eu, ',')}"),
        "Stan": lambda s: if_shoe(s, s.grade_word),
        "Cena wywoławcza": lambda s: spaced(s.share("0.5")) + " zł",
        "Estymacja": lambda s: (
            f"{amount(s.share('0.8'), ',', ' ', 0)}–{amount(s.share('1.3'), ',', ' ', 0)} zł"
        ),
        "Cena młotkowa": lambda s: if_sold(s, spaced(s.price) + " zł"),
        "Opłata aukcyjna": lambda s: if_sold(s, spaced(s.share("0.20")) + " zł"),
        "Do zapłaty": lambda s: if_sold(s, spaced(s.share("1.20")) + " zł"),
        "Data aukcji": lambda s: f"{s.closed:%d.%m.%Y} r.",
        "Wynik": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="PLN",
    size=lambda s: f"EU {short(s.eu, ',')}",
    truth="""
price = "Cena młotkowa"
price_basis = "hammer"
tax = "none stated"
day = "Data aukcji"
date_order = "dmy"
size = "Rozm."
size_system = "EU"
grade = "Stan"
status = "Wynik"
currency = "PLN"
ask = "Estymacja"
""",
    ideal="""
# Wish: an estimate written as a range; rows that head a group left out.
[maps.olszynek]
venue = "Dom Aukcyjny Olszynek"
files = "olszynek_*.csv"
encoding = "cp1250"
date_order = "dmy"
decimal_mark = ","
currency = "PLN"
price_basis = "hammer"
size_system = "EU"

[maps.olszynek.columns]
lot_ref = "Poz."
title = "Opis obiektu"
size_label = "Rozm."
grade = "Stan"
ask_native = "Estymacja"
price_native = "Cena młotkowa"
closed_on = "Data aukcji"
status = "Wynik"

[maps.olszynek.status_words]
"sprzedane" = "sold"
"niesprzedane" = "unsold"
"wycofane" = "withdrawn"
""",
)

PARHORNAN = Export(
    file="parhornan_mina_annonser.csv",
    half="first",
    dealer="nordvik",
    language="sv",
    count=44,
    scale=Decimal(11),
    step=50,
    layout=Layout(delimiter=";"),
    statuses={
        "Såld": ("sold", 8),
        "Utgången": ("unsold", 2),
        "Reserverad": ("open", 1),
        "Återköpt": ("withdrawn", 1),
    },
    others=(("laces", "Skosnören 2 par, kritvita"), ("single shoe", "En ensam vänstersko, Quoin Runner")),
    columns={
        "Annons-id": lambda s: s.code("5", 8),
        "Rubrik": lambda s: s.put("{maker} {silhouette} {colourway} {era} {extra}"),
        "Storlek": lambda s: if_shoe(s, short(s.eu, ",")),
        "Skick": lambda s: if_shoe(s, f"{short(s.grade, ',')}/10"),
        "Kartong": lambda s: if_shoe(s, s.box),
        "Begärt pris": lambda s: f"{amount(s.share('1.15'), ',', ' ', 0)} kr",
        "Slutpris": lambda s: if_sold(s, f"{amount(s.price, ',', ' ', 0)} kr"),
        "Förmedlingsavgift": lambda s: if_sold(s, f"{amount(s.share('0.10'), ',', ' ', 0)} kr"),
        "Frakt": lambda s: s.one_of("89 kr", "129 kr", "Hämtas"),
        "Upplagd": lambda s: str(s.offered),
        "Avslutad": lambda s: str(s.closed),
        "Läge": lambda s: s.word,
        "Postnummer": lambda s: s.code("", 5),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="SEK",
    size=lambda s: short(s.eu, ","),
    graded=True,
    truth="""
price = "Slutpris"
price_basis = "all-in"
tax = "none stated"
day = "Avslutad"
date_order = "ymd"
size = "Storlek"
size_system = "EU"
grade = "Skick"
status = "Läge"
currency = "SEK"
ask = "Begärt pris"
""",
    ideal="""
[maps.parhornan]
venue = "Parhörnan"
files = "parhornan_*.csv"
date_order = "ymd"
currency = "SEK"
price_basis = "all-in"
size_system = "EU"

[maps.parhornan.columns]
lot_ref = "Annons-id"
title = "Rubrik"
size_label = "Storlek"
grade = "Skick"
box = "Kartong"
ask_native = "Begärt pris"
price_native = "Slutpris"
offered_on = "Upplagd"
closed_on = "Avslutad"
status = "Läge"

[maps.parhornan.status_words]
"Såld" = "sold"
"Utgången" = "unsold"
"Reserverad" = "open"
"Återköpt" = "withdrawn"
""",
)

PEDRAFRIA = Export(
    file="leilao_pedrafria.ods",
    half="first",
    dealer="calvera",
    language="pt",
    count=34,
    step=10,
    layout=Layout(kind="ods", above=(("Leilões Pedrafria, mapa de vendas",), ()), sheet="Mapa"),
    statuses={"Arrematado": ("sold", 7), "Não vendido": ("unsold", 2), "Retirado": ("withdrawn", 1)},
    others=(("box only", "Caixa vazia Wherry Lo"),),
    columns={
        "Lote": lambda s: s.number,
        "Descrição": lambda s: s.put("{silhouette} {colourway}, {maker}, {era}, {word}, {box}, {extra}"),
        "Número": lambda s: s.eu if s.shoe else "",
        "Base de licitação": lambda s: s.share("0.6"),
        "Valor de martelo": lambda s: if_sold(s, s.price),
        "Comissão comprador 18%": lambda s: if_sold(s, s.share("0.18")),
        "IVA s/ comissão": lambda s: if_sold(s, s.share("0.0414")),
        "Total comprador": lambda s: if_sold(s, s.share("1.2214")),
        "Data": lambda s: s.closed,
        "Estado": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu),
    truth="""
price = "Valor de martelo"
price_basis = "hammer"
tax = "none stated"
day = "Data"
date_order = "any"
size = "Número"
size_system = "EU"
grade = "title"
status = "Estado"
currency = "EUR"
ask = ""
""",
    ideal="""
# Wish: OpenDocument sheets. The price at which bidding starts is no asking price.
[maps.pedrafria]
venue = "Leilões Pedrafria"
files = "leilao_*.ods"
header_row = 3
currency = "EUR"
price_basis = "hammer"
size_system = "EU"

[maps.pedrafria.columns]
lot_ref = "Lote"
title = "Descrição"
size_label = "Número"
price_native = "Valor de martelo"
closed_on = "Data"
status = "Estado"

[maps.pedrafria.status_words]
"Arrematado" = "sold"
"Não vendido" = "unsold"
"Retirado" = "withdrawn"
""",
)

MINATO = Export(
    file="minato_uriage.csv",
    half="first",
    dealer="nordvik",
    language="ja",
    count=38,
    scale=Decimal(160),
    step=100,
    layout=Layout(encoding="shift_jis"),
    statuses={"販売済": ("sold", 7), "キャンセル": ("withdrawn", 1), "取置中": ("open", 1)},
    others=(("laces", "シューレース 平紐 120cm"), ("service", "ソール補修 工賃")),
    columns={
        "管理番号": lambda s: f"M{s.number:05}",
        "部門": lambda s: "靴",
        "商品名": lambda s: s.put("{maker} {silhouette} {colourway} {era} {extra}").replace("&", "＆"),
        "サイズ(cm)": lambda s: if_shoe(s, short(s.cm)),
        "状態": lambda s: if_shoe(s, s.grade_word),
        "箱": lambda s: if_shoe(s, s.box),
        "数量": lambda s: "1",
        "税抜価格": lambda s: "¥" + amount(s.price / Decimal("1.1"), ".", ",", 0),
        "消費税": lambda s: "¥" + amount(s.price - s.price / Decimal("1.1"), ".", ",", 0),
        "税込価格": lambda s: "¥" + amount(s.price, ".", ",", 0),
        "受注日": lambda s: f"{s.closed.year}年{s.closed.month}月{s.closed.day}日",
        "入金日": lambda s: f"{s.paid.year}年{s.paid.month}月{s.paid.day}日",
        "区分": lambda s: s.word,
        "担当": lambda s: s.code("", 2),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="JPY",
    size=lambda s: short(s.cm),
    truth="""
price = "税込価格"
price_basis = "all-in"
tax = "included"
day = "受注日"
date_order = "ymd"
size = "サイズ(cm)"
size_system = "JP"
grade = "状態"
status = "区分"
currency = "JPY"
ask = ""
""",
    ideal="""
# Wish: in this encoding the byte of the backslash is the yen sign; lines of work
# and laces left out.
[maps.minato]
venue = "Kutsuya Minato"
files = "minato_*.csv"
encoding = "shift_jis"
date_order = "ymd"
currency = "JPY"
price_basis = "all-in"
tax = "included"
size_system = "JP"

[maps.minato.columns]
stock_ref = "管理番号"
title = "商品名"
size_label = "サイズ(cm)"
grade = "状態"
box = "箱"
price_native = "税込価格"
sold_on = "受注日"
status = "区分"

[maps.minato.status_words]
"販売済" = "sold"
"キャンセル" = "withdrawn"
"取置中" = "open"
""",
)

LASTLINE = Export(
    file="lastline_closed.parquet",
    half="first",
    dealer="marrowgate",
    language="en",
    count=55,
    layout=Layout(kind="parquet"),
    statuses={
        "SOLD": ("sold", 8),
        "NO_BIDS": ("unsold", 2),
        "RESERVE_NOT_MET": ("unsold", 1),
        "UNPAID": ("withdrawn", 1),
    },
    columns={
        "listing_key": lambda s: s.code("", 9),
        "headline": lambda s: s.put("{silhouette} {colourway} {era} UK{uk} {word} {extra}"),
        "uk_size": lambda s: s.uk,
        "condition_score": lambda s: s.grade,
        "opening_bid": lambda s: float(s.share("0.4")),
        "current_bid": lambda s: float(s.price),
        "bid_count": lambda s: s.random.randrange(0, 30),
        "listed_at": lambda s: s.offered,
        "ended_at": lambda s: s.closed,
        "end_state": lambda s: s.word,
        "seller_fee": lambda s: float(s.share("0.10")),
        "ccy": lambda s: "GBP",
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="GBP",
    size=lambda s: short(s.uk),
    graded=True,
    truth="""
price = "current_bid"
price_basis = "all-in"
tax = "none stated"
day = "ended_at"
date_order = "any"
size = "uk_size"
size_system = "UK"
grade = "condition_score"
status = "end_state"
currency_heading = "ccy"
ask = ""
""",
    ideal="""
[maps.lastline]
venue = "Lastline Bids"
files = "lastline_*.parquet"
price_basis = "all-in"
size_system = "UK"

[maps.lastline.columns]
lot_ref = "listing_key"
title = "headline"
size_label = "uk_size"
grade = "condition_score"
price_native = "current_bid"
offered_on = "listed_at"
closed_on = "ended_at"
status = "end_state"
currency = "ccy"

[maps.lastline.status_words]
"SOLD" = "sold"
"NO_BIDS" = "unsold"
"RESERVE_NOT_MET" = "unsold"
"UNPAID" = "withdrawn"
""",
)

COUNTER = Export(
    file="own_sheet.csv",
    half="first",
    dealer="marrowgate",
    language="en",
    count=30,
    statuses={"sold": ("sold", 6), "open": ("open", 1)},
    columns={
        "venue": lambda s: "Marrowgate Counter",
        "stock_ref": lambda s: f"S{s.number:04}",
        "title": lambda s: s.put("{maker} {silhouette} {colourway} {era}"),
        "status": lambda s: s.word,
        "offered_on": lambda s: str(s.offered),
        "sold_on": lambda s: if_sold(s, str(s.closed)),
        "currency": lambda s: "GBP",
        "price_basis": lambda s: "all-in",
        "price_native": lambda s: if_sold(s, amount(s.price)),
        "ask_native": lambda s: amount(s.share("1.2")),
        "silhouette": lambda s: s.silhouette,
        "colourway": lambda s: s.colourway,
        "era": lambda s: s.era_name,
        "size_label": lambda s: short(s.uk),
        "size_system": lambda s: "UK",
        "grade": lambda s: short(s.grade),
        "box": lambda s: s.one_of("original", "replacement", "none", "unknown"),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="GBP",
    size=lambda s: short(s.uk),
    graded=True,
    truth="""
price = "price_native"
price_basis = "all-in"
tax = "none stated"
day = "sold_on"
date_order = "ymd"
size = "size_label"
size_system = "UK"
grade = "grade"
status = "status"
currency_heading = "currency"
ask = "ask_native"
""",
    ideal="""
[maps.counter]
venue = "Marrowgate Counter"
files = "own_sheet*.csv"
price_basis = "all-in"

[maps.counter.columns]
venue = "venue"
stock_ref = "stock_ref"
title = "title"
status = "status"
offered_on = "offered_on"
sold_on = "sold_on"
currency = "currency"
price_native = "price_native"
ask_native = "ask_native"
silhouette = "silhouette"
colourway = "colourway"
era = "era"
size_label = "size_label"
size_system = "size_system"
grade = "grade"
box = "box"
""",
)

BOTOVNA = Export(
    file="botovna_objednavky.csv",
    half="first",
    dealer="seekante",
    language="cs",
    count=40,
    scale=Decimal(25),
    step=50,
    layout=Layout(
        delimiter=";",
        encoding="cp1250",
        order_columns=("Objednávka", "Datum objednávky", "Stav", "Zákazník", "Doprava", "Celkem objednávka"),
    ),
    statuses={"vyřízeno": ("sold", 7), "stornováno": ("withdrawn", 1)},
    others=(("laces", "Tkaničky ploché 120 cm"), ("service", "Impregnace")),
    columns={
        "Objednávka": lambda s: f"{2024000 + s.number}",
        "Datum objednávky": lambda s: f"{s.closed.day}. {s.closed.month}. {s.closed.year}",
        "Stav": lambda s: s.word,
        "Zákazník": lambda s: s.person,
        "Doprava": lambda s: s.one_of("99,00 Kč", "0,00 Kč"),
        "Celkem objednávka": lambda s: spaced(s.order_total + 99) + " Kč",
        "Kód zboží": lambda s: f"BT{s.number:03}",
        "Název": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {word}, {box}"),
        "Velikost": lambda s: if_shoe(s, short(s.eu, ",")),
        "Množství": lambda s: "1 ks",
        "Cena bez DPH": lambda s: spaced(cents(s.price / Decimal("1.21"))) + " Kč",
        "Cena s DPH": lambda s: spaced(s.price) + " Kč",
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="CZK",
    size=lambda s: short(s.eu, ","),
    truth="""
price = "Cena s DPH"
price_basis = "all-in"
tax = "included"
day = "Datum objednávky"
date_order = "dmy"
size = "Velikost"
size_system = "EU"
grade = "title"
status = "Stav"
currency = "CZK"
ask = ""
""",
    ideal="""
# Wish: fill the order's fields down to its other lines.
[maps.botovna]
venue = "Botovna"
files = "botovna_*.csv"
encoding = "cp1250"
date_order = "dmy"
decimal_mark = ","
currency = "CZK"
price_basis = "all-in"
tax = "included"
size_system = "EU"

[maps.botovna.columns]
sale_ref = "Objednávka"
sold_on = "Datum objednávky"
status = "Stav"
stock_ref = "Kód zboží"
title = "Název"
size_label = "Velikost"
price_native = "Cena s DPH"

[maps.botovna.status_words]
"vyřízeno" = "sold"
"stornováno" = "withdrawn"
""",
)

FIRST = (BRACKMOOR, KLIPPSTEDT, SALEROOM, CORDWAIN, AUBRELLE, BOUTIQUE, DOPPIOPASSO, ESCAPARATE, TIENDA, DUINRAND,
         OLSZYNEK, PARHORNAN, PEDRAFRIA, MINATO, LASTLINE, COUNTER, BOTOVNA)  # fmt: skip
