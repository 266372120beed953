"""The second half of the invented exports, kept for scoring: other layouts and other words than the first."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from babel.dates import format_date

from tests.new_exports.drawing import Export, Layout, Offer, amount, cents, moment, short


def when_sold(offer: Offer, text: Any) -> Any:
    """Return the text of a line that was sold, and an empty cell for any other."""
    return text if offer.sold else ""


def of_shoe(offer: Offer, text: Any) -> Any:
    """Return the text of a line about shoes, and an empty cell for any other."""
    return text if offer.shoe else ""


SHORTHAND = ((9.75, "UNW"), (9, "W1X"), (8, "TIDY+"), (7, "TIDY"), (5, "HONEST"), (0, "BEATER"))


def shorthand(offer: Offer) -> str:
    """Return the sellers' shorthand for the condition, which only its readers know."""
    return next(word for least, word in SHORTHAND if offer.grade >= least)


def swiss(number: Decimal) -> str:
    """Return an amount with apostrophes between thousands: 1'250.00."""
    return amount(number, ".", "'")


def half(number: float) -> str:
    """Return a size with a half sign: 42½."""
    return f"{int(number)}{'½' if number % 1 else ''}"


TALLOWGATE = Export(
    file="tallowgate statement Q1-Q4.csv",
    half="second",
    dealer="marrowgate",
    language="en",
    count=34,
    first_day=date(2024, 1, 5),
    layout=Layout(
        above=(("Tallowgate Consignment", "Statement of account"), ("Account", "4471"), ()),
        below=((), ("", "", "", "", "", "Balance due", "6204.10")),
    ),
    statuses={"Sold": ("sold", 7), "On the shelf": ("open", 2), "Collected by owner": ("withdrawn", 1)},
    others=(("service", "Handling and photography"), ("laces", "Bundle of laces, eight pairs")),
    columns={
        "Ticket": lambda s: f"TG{s.number:03}",
        "What": lambda s: s.put("{silhouette} / {colourway} / {era} / {box} / {extra}"),
        "UK size": lambda s: of_shoe(s, half(s.uk)),
        "Wear": lambda s: of_shoe(s, s.grade_word),
        "Taken in": lambda s: f"{s.offered.day}-{s.offered:%b-%y}",
        "Gone on": lambda s: when_sold(s, f"{s.closed.day}-{s.closed:%b-%y}"),
        "Ticket price": lambda s: amount(s.share("1.10")),
        "Rang up at": lambda s: when_sold(s, amount(s.price)),
        "House share (30%)": lambda s: when_sold(s, amount(s.share("0.30"))),
        "Due to you": lambda s: when_sold(s, amount(s.share("0.70"))),
        "Where it is": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="GBP",
    size=lambda s: half(s.uk),
    truth="""
price = "Rang up at"
price_basis = "all-in"
tax = "none stated"
day = "Gone on"
date_order = "dmy"
size = "UK size"
size_system = "UK"
grade = "Wear"
status = "Where it is"
currency = "GBP"
ask = "Ticket price"
""",
    ideal="""
# Wish: the statement has a price to the buyer and a net to the seller; the map takes one of them.
[maps.tallowgate]
venue = "Tallowgate Consignment"
files = "tallowgate statement *.csv"
header_row = 4
date_order = "dmy"
currency = "GBP"
price_basis = "all-in"
size_system = "UK"

[maps.tallowgate.columns]
stock_ref = "Ticket"
title = "What"
size_label = "UK size"
grade = "Wear"
offered_on = "Taken in"
sold_on = "Gone on"
ask_native = "Ticket price"
price_native = "Rang up at"
status = "Where it is"

[maps.tallowgate.status_words]
"Sold" = "sold"
"On the shelf" = "open"
"Collected by owner" = "withdrawn"
""",
)

THREAD = Export(
    file="closed-listings-export.tsv",
    half="second",
    dealer="marrowgate",
    language="en",
    count=46,
    step=1,
    layout=Layout(delimiter="\t", encoding="utf-16"),
    statuses={
        "Closed - paid": ("sold", 9),
        "Closed - no takers": ("unsold", 2),
        "Buyer backed out": ("withdrawn", 1),
    },
    others=(
        ("single shoe", "RIGHT SHOE ONLY Wherry Hi chalk US10"),
        ("bundle", "Two pairs Pintle US 9 and US 11, take both"),
    ),
    columns={
        "Ref": lambda s: s.code("L", 7),
        "Heading": lambda s: (
            s.other
            or f"{s.put('{maker} {silhouette} {colourway} {era} US{us}/UK{uk}')} {shorthand(s)} {s.put('{extra}')}"
        ).strip(),
        "Category": lambda s: "Footwear > Retro",
        "Watchers": lambda s: str(s.random.randrange(0, 60)),
        "Start price": lambda s: "USD 1.00",
        "Realised": lambda s: when_sold(s, f"USD {amount(s.price, '.', ',')}"),
        "Our cut": lambda s: when_sold(s, f"USD {amount(s.share('0.12'))}"),
        "You get": lambda s: when_sold(s, f"USD {amount(s.share('0.88'), '.', ',')}"),
        "Opened": lambda s: f"{s.offered:%b %d, %Y}",
        "Closed": lambda s: f"{s.closed:%b %d, %Y} {s.clock[:5]}",
        "How it ended": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="USD",
    size=lambda s: f"US{short(s.us)}/UK{short(s.uk)}",
    truth="""
price = "Realised"
price_basis = "all-in"
tax = "none stated"
day = "Closed"
date_order = "any"
size = "title"
size_system = "US men"
grade = "title"
status = "How it ended"
currency = "USD"
ask = ""
""",
    ideal="""
# Wish: the currency from the cell. A start price of one for every line is no asking price.
[maps.thread]
venue = "Cordwain Exchange"
files = "closed-listings-*.tsv"
currency = "USD"
price_basis = "all-in"

[maps.thread.columns]
lot_ref = "Ref"
title = "Heading"
price_native = "Realised"
offered_on = "Opened"
closed_on = "Closed"
status = "How it ended"

[maps.thread.status_words]
"Closed - paid" = "sold"
"Closed - no takers" = "unsold"
"Buyer backed out" = "withdrawn"
""",
)

PREMIUM_IN = Export(
    file="Autumn prices (incl. premium).xlsx",
    half="second",
    dealer="marrowgate",
    language="en",
    count=40,
    step=10,
    first_day=date(2023, 2, 10),
    layout=Layout(
        kind="xlsx",
        above=(("Prices realised, including buyer's premium at 25% and before VAT",),),
        group=lambda s: f"Session {1 + (s.number - 1) // 14}",
        group_column=1,
        sheet="List",
    ),
    statuses={"": ("sold", 6), "passed": ("unsold", 2)},
    others=(("quantity above 1", "Two pairs of Skein 4, both with wear"),),
    columns={
        "No.": lambda s: s.number,
        "Catalogue entry": lambda s: s.put(
            "{silhouette} by {maker}, {colourway}; {era}; size UK {uk} ({eu}); {word}; {box}"
        ),
        "Guide price": lambda s: f"{s.share('0.9'):.0f}-{s.share('1.4'):.0f}",
        "Price realised (£)": lambda s: when_sold(s, s.share("1.25")),
        "Date of session": lambda s: format_date(s.closed, "d MMMM y", locale="en"),
        "Note": lambda s: s.word,
    },
    price=lambda s: s.share("1.25"),
    day=lambda s: s.closed,
    currency="GBP",
    size=lambda s: f"UK {short(s.uk)} ({short(s.eu)})",
    truth="""
price = "Price realised (£)"
price_basis = "all-in"
tax = "excluded"
day = "Date of session"
date_order = "any"
size = "title"
size_system = "UK"
grade = "title"
status = "Note"
currency = "GBP"
ask = "Guide price"
""",
    ideal="""
# Wish: tax excluded, at a rate that the list does not give; a guide price written as a range; an
# empty status is a sale where there is a price.
[maps.autumn]
venue = "Marrowgate Salerooms"
files = "Autumn prices*.xlsx"
header_row = 2
currency = "GBP"
price_basis = "all-in"

[maps.autumn.columns]
lot_ref = "No."
title = "Catalogue entry"
ask_native = "Guide price"
price_native = "Price realised (£)"
closed_on = "Date of session"
status = "Note"

[maps.autumn.status_words]
"passed" = "unsold"
""",
)

ALMSTEIG = Export(
    file="almsteig_zuschlaege_2024.csv",
    half="second",
    dealer="seekante",
    language="de",
    count=38,
    step=10,
    first_day=date(2024, 1, 12),
    layout=Layout(
        delimiter=";",
        encoding="cp1252",
        above=(("Almsteig Auktionen", "Einlieferer 2207"), ("Stand: 31.10.2026",)),
    ),
    statuses={"verkauft": ("sold", 7), "unverkauft": ("unsold", 2), "unter Vorbehalt": ("open", 1)},
    others=(("box only", "Leere Schachtel zu Brockle Trail"), ("bundle", "Posten: 5 Paar zum Ausschlachten")),
    columns={
        "Los": lambda s: str(s.number),
        "Katalogtext": lambda s: s.put("{silhouette} ({maker}), {colourway}. {era}. {box}. {extra}"),
        "Gr.": lambda s: of_shoe(s, f"EU {short(s.eu)} / UK {short(s.uk)}"),
        "Erh.": lambda s: of_shoe(s, f"{short(s.grade)}/10"),
        "Ausruf": lambda s: f"CHF {swiss(s.share('0.5'))}",
        "Taxe": lambda s: f"CHF {swiss(s.share('0.8'))} / {swiss(s.share('1.2'))}",
        "Hammerpreis": lambda s: when_sold(s, f"CHF {swiss(s.price)}"),
        "Abzug Kommission": lambda s: when_sold(s, f"CHF -{swiss(s.share('0.10'))}"),
        "Gutschrift": lambda s: when_sold(s, f"CHF {swiss(s.share('0.90'))}"),
        "Valuta": lambda s: when_sold(s, f"{s.paid + timedelta(days=25):%d.%m.%y}"),
        "Datum Auktion": lambda s: f"{s.closed:%d.%m.%y}",
        "Stand": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="CHF",
    size=lambda s: f"EU {short(s.eu)} / UK {short(s.uk)}",
    graded=True,
    truth="""
price = "Hammerpreis"
price_basis = "hammer"
tax = "none stated"
day = "Datum Auktion"
date_order = "dmy"
size = "Gr."
size_system = "EU"
grade = "Erh."
status = "Stand"
currency = "CHF"
ask = "Taxe"
""",
    ideal="""
# Wish: an estimate written as a range.
[maps.almsteig]
venue = "Almsteig Auktionen"
files = "almsteig_*.csv"
header_row = 3
date_order = "dmy"
currency = "CHF"
price_basis = "hammer"
size_system = "EU"

[maps.almsteig.columns]
lot_ref = "Los"
title = "Katalogtext"
size_label = "Gr."
grade = "Erh."
ask_native = "Taxe"
price_native = "Hammerpreis"
closed_on = "Datum Auktion"
status = "Stand"

[maps.almsteig.status_words]
"verkauft" = "sold"
"unverkauft" = "unsold"
"unter Vorbehalt" = "open"
""",
)

PAARBOGEN = Export(
    file="paarbogen_verkaeufe.json",
    half="second",
    dealer="seekante",
    language="de",
    count=40,
    step=1,
    layout=Layout(
        kind="json",
        nest="positionen",
        order_columns=("bestellnr", "bezahlt_am", "bestellt_am", "bestellstatus"),
    ),
    statuses={"VERSANDT": ("sold", 7), "WIDERRUFEN": ("withdrawn", 1), "ZAHLUNG_OFFEN": ("open", 1)},
    others=(("laces", "Senkel rund, 3 Paar"), ("quantity above 1", "")),
    columns={
        "bestellnr": lambda s: s.code("PB-", 6),
        "bestellt_am": lambda s: moment(s) + ".000Z",
        "bezahlt_am": lambda s: f"{s.paid}T12:00:00.000Z",
        "bestellstatus": lambda s: s.word,
        "positionen.artikelnr": lambda s: f"A-{s.number:05}",
        "positionen.titel": lambda s: s.put("{maker} {silhouette} {colourway} {era} {box} {extra}"),
        "positionen.menge": lambda s: s.quantity,
        "positionen.verkaufspreis": lambda s: {"betrag": amount(s.price, ",", "."), "waehrung": "EUR"},
        "positionen.merkmale": lambda s: (
            {"schuhgroesse_eu": short(s.eu, ","), "note": short(s.grade, ",")} if s.shoe else {}
        ),
        "positionen.gebuehr": lambda s: {"betrag": amount(s.share("0.09"), ",", "."), "waehrung": "EUR"},
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    graded=True,
    truth="""
price = "positionen.verkaufspreis.betrag"
price_basis = "all-in"
tax = "none stated"
day = "bestellt_am"
date_order = "ymd"
size = "positionen.merkmale.schuhgroesse_eu"
size_system = "EU"
grade = "positionen.merkmale.note"
status = "bestellstatus"
currency_heading = "positionen.verkaufspreis.waehrung"
ask = ""
""",
    ideal="""
# Wish: orders with their lines, one row a line; fields within fields by a path.
[maps.paarbogen]
venue = "Paarbogen"
files = "paarbogen_*.json"
date_order = "ymd"
decimal_mark = ","
price_basis = "all-in"
quantity_price = "unit"
size_system = "EU"

[maps.paarbogen.columns]
sale_ref = "bestellnr"
sold_on = "bestellt_am"
status = "bestellstatus"
stock_ref = "positionen.artikelnr"
title = "positionen.titel"
price_native = "positionen.verkaufspreis.betrag"
quantity = "positionen.menge"
currency = "positionen.verkaufspreis.waehrung"
size_label = "positionen.merkmale.schuhgroesse_eu"
grade = "positionen.merkmale.note"

[maps.paarbogen.status_words]
"VERSANDT" = "sold"
"WIDERRUFEN" = "withdrawn"
"ZAHLUNG_OFFEN" = "open"
""",
)

VITRINE = Export(
    file="vitrine_ventes_terminees.csv",
    half="second",
    dealer="valdombre",
    language="fr",
    count=44,
    step=1,
    layout=Layout(delimiter=";", encoding="cp1252"),
    statuses={"Vendu": ("sold", 8), "Expiré": ("unsold", 2), "Litige remboursé": ("withdrawn", 1)},
    others=(("refund", ""), ("box only", "Boîte vide pour Quoin Runner")),
    columns={
        "Réf. annonce": lambda s: s.code("FR", 8),
        "Titre de l'annonce": lambda s: s.put("{silhouette} {maker} {colourway} {era} T{euc} {box}"),
        "Note d'usure": lambda s: of_shoe(s, f"{short(s.grade, ',')} sur 10"),
        "Mise en ligne": lambda s: f"{s.offered:%d/%m/%y}",
        "Fin": lambda s: f"{s.closed:%d/%m/%y} {s.clock[:5]}",
        "Montant acheteur": lambda s: when_sold(s, f"{amount(s.price, ',')} EUR"),
        "Frais de service": lambda s: when_sold(s, f"{amount(abs(s.share('0.10')), ',')} EUR"),
        "Port payé": lambda s: when_sold(s, f"{s.one_of('6,90', '0,00', '9,20')} EUR"),
        "Montant versé": lambda s: when_sold(s, f"{amount(s.share('0.90'), ',')} EUR"),
        "Issue": lambda s: s.word,
        "Dépt": lambda s: s.code("", 2),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    graded=True,
    truth="""
price = "Montant acheteur"
price_basis = "all-in"
tax = "none stated"
day = "Fin"
date_order = "dmy"
size = "title"
size_system = "EU"
grade = "Note d'usure"
status = "Issue"
currency = "EUR"
ask = ""
""",
    ideal="""
# Wish: "T42" as an EU size in a French title; a negative amount is a refund.
[maps.vitrine]
venue = "Vitrine aux Paires"
files = "vitrine_*.csv"
encoding = "cp1252"
date_order = "dmy"
decimal_mark = ","
currency = "EUR"
price_basis = "all-in"

[maps.vitrine.columns]
lot_ref = "Réf. annonce"
title = "Titre de l'annonce"
grade = "Note d'usure"
offered_on = "Mise en ligne"
closed_on = "Fin"
price_native = "Montant acheteur"
status = "Issue"

[maps.vitrine.status_words]
"Vendu" = "sold"
"Expiré" = "unsold"
"Litige remboursé" = "withdrawn"
""",
)

REGISTRE = Export(
    file="registre_marge.xlsx",
    half="second",
    dealer="valdombre",
    language="fr",
    count=30,
    layout=Layout(
        kind="xlsx",
        above=(("Maison Valdombre",), ("Registre des ventes, TVA sur la marge",), ()),
        below=(("", "", "", "", "", "Totaux", Decimal("3120.00"), Decimal("6480.00")),),
        sheet="Registre",
    ),
    others=(("service", "Ressemelage pour un client"),),
    columns={
        "Écriture": lambda s: s.number,
        "Date d'achat": lambda s: s.offered,
        "Date de sortie": lambda s: s.closed,
        "Article": lambda s: s.put("{maker} {silhouette} {colourway} {era}"),
        "Pt.": lambda s: of_shoe(s, s.eu),
        "État": lambda s: of_shoe(s, s.grade_word),
        "Prix d'achat": lambda s: s.share("0.45"),
        "Prix de vente": lambda s: s.price,
        "Marge TTC": lambda s: s.share("0.55"),
        "TVA sur marge": lambda s: cents(s.price * Decimal("0.55") / 6),
        "Règlement": lambda s: s.one_of("CB", "espèces", "virement"),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu),
    truth="""
price = "Prix de vente"
price_basis = "all-in"
tax = "margin"
day = "Date de sortie"
date_order = "any"
size = "Pt."
size_system = "EU"
grade = "État"
status = ""
currency = "EUR"
ask = ""
""",
    ideal="""
# Wish: the line of totals left out. What was paid for a pair is no asking price.
[maps.registre]
venue = "Boutique Valdombre"
files = "registre_*.xlsx"
header_row = 4
currency = "EUR"
price_basis = "all-in"
tax = "margin"
size_system = "EU"

[maps.registre.columns]
sale_ref = "Écriture"
sold_on = "Date de sortie"
title = "Article"
size_label = "Pt."
grade = "État"
price_native = "Prix de vente"
""",
)

MONTEFOSCO = Export(
    file="asta_montefosco_risultati.xls",
    half="second",
    dealer="valdombre",
    language="it",
    count=36,
    step=10,
    layout=Layout(
        kind="html",
        encoding="cp1252",
        above=(("Casa d'aste Montefosco",),),
        below=(("", "Totale aggiudicato", "", "", "", "8.870,00"),),
    ),
    statuses={"Aggiudicato": ("sold", 7), "Invenduto": ("unsold", 2), "Ritirato": ("withdrawn", 1)},
    others=(("quantity above 1", "Coppia di paia Tormentil, 41 e 43"),),
    columns={
        "Lotto": lambda s: str(s.number),
        "Descrizione": lambda s: s.put(
            "{maker} {silhouette}, {colourway}, {era}, misura {euc}, condizioni {word}. {box}"
        ),
        "Stima min.": lambda s: amount(s.share("0.8"), ",", "."),
        "Stima max.": lambda s: amount(s.share("1.3"), ",", "."),
        "Offerte": lambda s: str(s.random.randrange(0, 22)),
        "Aggiudicazione": lambda s: when_sold(s, amount(s.price, ",", ".")),
        "Diritti d'asta 26%": lambda s: when_sold(s, amount(s.share("0.26"), ",", ".")),
        "Totale con diritti": lambda s: when_sold(s, amount(s.share("1.26"), ",", ".")),
        "Giorno d'asta": lambda s: format_date(s.closed, "d MMMM y", locale="it"),
        "Esito": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth="""
price = "Aggiudicazione"
price_basis = "hammer"
tax = "none stated"
day = "Giorno d'asta"
date_order = "any"
size = "title"
size_system = "EU"
grade = "title"
status = "Esito"
currency = "EUR"
ask = "Stima min."
""",
    ideal="""
# Wish: an HTML table named as a workbook; "misura" as the word for an EU size.
[maps.montefosco]
venue = "Casa d'aste Montefosco"
files = "asta_*.xls"
header_row = 2
language = "it"
decimal_mark = ","
currency = "EUR"
price_basis = "hammer"

[maps.montefosco.columns]
lot_ref = "Lotto"
title = "Descrizione"
ask_native = "Stima min."
price_native = "Aggiudicazione"
closed_on = "Giorno d'asta"
status = "Esito"

[maps.montefosco.status_words]
"Aggiudicato" = "sold"
"Invenduto" = "unsold"
"Ritirato" = "withdrawn"
""",
)

FATTURE = Export(
    file="righe_fatture.txt",
    half="second",
    dealer="valdombre",
    language="it",
    count=36,
    layout=Layout(delimiter="|", order_columns=("Documento", "Del", "Cliente", "Stato doc.")),
    statuses={"saldata": ("sold", 7), "insoluta": ("withdrawn", 1), "nota di credito": ("withdrawn", 1)},
    others=(
        ("laces", "Lacci piatti cm 120"),
        ("service", "Pulizia e ingrassaggio"),
        ("quantity above 1", ""),
    ),
    columns={
        "Documento": lambda s: f"{s.number}/A",
        "Del": lambda s: f"{s.closed:%d.%m.%Y}",
        "Cliente": lambda s: s.person,
        "Stato doc.": lambda s: s.word,
        "Cod.": lambda s: s.code("VD", 4),
        "Merce": lambda s: s.put("{maker} {silhouette} {colourway} {era}"),
        "Mis.": lambda s: of_shoe(s, f"EUR {short(s.eu, ',')}"),
        "Q.tà": lambda s: str(s.quantity),
        "Imponibile": lambda s: amount(s.price, ","),
        "IVA 22%": lambda s: amount(s.share("0.22"), ","),
        "Peso kg": lambda s: s.one_of("1,1", "1,3"),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: f"EUR {short(s.eu, ',')}",
    truth="""
price = "Imponibile"
price_basis = "all-in"
tax = "excluded"
day = "Del"
date_order = "dmy"
size = "Mis."
size_system = "EU"
grade = "none"
status = "Stato doc."
currency = "EUR"
ask = ""
""",
    ideal="""
# Wish: fill a document's fields down to its other lines.
[maps.fatture]
venue = "Boutique Valdombre"
files = "righe_fatture*.txt"
delimiter = "|"
date_order = "dmy"
decimal_mark = ","
currency = "EUR"
price_basis = "all-in"
quantity_price = "unit"
tax = "excluded"
tax_column = "IVA 22%"
size_system = "EU"

[maps.fatture.columns]
sale_ref = "Documento"
sold_on = "Del"
status = "Stato doc."
stock_ref = "Cod."
title = "Merce"
size_label = "Mis."
price_native = "Imponibile"
quantity = "Q.tà"

[maps.fatture.status_words]
"saldata" = "sold"
"insoluta" = "withdrawn"
"nota di credito" = "withdrawn"
""",
)

REMATES = Export(
    file="remates_calvera.ods",
    half="second",
    dealer="calvera",
    language="es",
    count=36,
    step=10,
    layout=Layout(
        kind="ods", below=(("", "Suma de remates", "", "", "", "", Decimal("7340")),), sheet="Remates"
    ),
    statuses={"Sí": ("sold", 7), "No": ("unsold", 3)},
    others=(("single shoe", "Zapato izquierdo suelto, Brockle Trail"),),
    columns={
        "Lote nº": lambda s: s.number,
        "Título del lote": lambda s: s.put(
            "{maker} {silhouette} en {colourway}, {era}, {word}, {box}, {extra}"
        ),
        "Talla": lambda s: of_shoe(s, f"{short(s.eu, ',')} EU"),
        "Precio de salida": lambda s: s.share("0.5"),
        "Est. baja": lambda s: s.share("0.8"),
        "Est. alta": lambda s: s.share("1.3"),
        "Remate": lambda s: when_sold(s, s.price),
        "Remate + comisión": lambda s: when_sold(s, s.share("1.22")),
        "Celebrada el": lambda s: s.closed,
        "Liquidada el": lambda s: when_sold(s, s.paid + timedelta(days=20)),
        "¿Vendido?": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: f"{short(s.eu, ',')} EU",
    truth="""
price = "Remate"
price_basis = "hammer"
tax = "none stated"
day = "Celebrada el"
date_order = "any"
size = "Talla"
size_system = "EU"
grade = "title"
status = "¿Vendido?"
currency = "EUR"
ask = "Est. baja"
""",
    ideal="""
# Wish: OpenDocument sheets; the line of totals left out.
[maps.remates]
venue = "Subastas Calvera"
files = "remates_*.ods"
currency = "EUR"
price_basis = "hammer"
size_system = "EU"

[maps.remates.columns]
lot_ref = "Lote nº"
title = "Título del lote"
size_label = "Talla"
ask_native = "Est. baja"
price_native = "Remate"
closed_on = "Celebrada el"
status = "¿Vendido?"

[maps.remates.status_words]
"Sí" = "sold"
"No" = "unsold"
""",
)

MOVIMIENTOS = Export(
    file="movimientos.csv",
    half="second",
    dealer="calvera",
    language="es",
    count=32,
    step=1,
    layout=Layout(delimiter=";", encoding="utf-8-sig"),
    others=(
        ("refund", ""),
        ("service", "Cuota mensual de escaparate"),
        ("bundle", "Lote 3 pares Pintle tallas 40-42"),
    ),
    columns={
        "Fecha": lambda s: f"{s.closed:%d/%m/%Y}",
        "Concepto": lambda s: s.put(
            "Venta {maker} {silhouette} {colourway} {era} T.{euc} estado {gradec} {box}"
        ),
        "Importe": lambda s: amount(s.price, ",", "."),
        "Divisa": lambda s: "EUR",
        "Fecha valor": lambda s: f"{s.paid:%d/%m/%Y}",
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    graded=True,
    truth="""
price = "Importe"
price_basis = "all-in"
tax = "none stated"
day = "Fecha"
date_order = "dmy"
size = "title"
size_system = "EU"
grade = "title"
status = ""
currency_heading = "Divisa"
ask = ""
""",
    ideal="""
# Wish: "T.42,5" and "estado 8" in a Spanish title; a negative amount is a refund.
[maps.movimientos]
venue = "Tienda Calvera"
files = "movimientos*.csv"
date_order = "dmy"
decimal_mark = ","
price_basis = "all-in"

[maps.movimientos.columns]
sold_on = "Fecha"
title = "Concepto"
price_native = "Importe"
currency = "Divisa"
""",
)

PRIKBORD = Export(
    file="biedingen_afgerond.jsonl",
    half="second",
    dealer="seekante",
    language="nl",
    count=42,
    step=1,
    layout=Layout(kind="jsonl"),
    statuses={"gegund": ("sold", 7), "geen bod": ("unsold", 2), "koper niet betaald": ("withdrawn", 1)},
    others=(("single shoe", "Losse linkerschoen Ostler Mid"), ("laces", "Veterset met tasje")),
    columns={
        "kavelcode": lambda s: s.code("K", 6),
        "kop": lambda s: s.put("{silhouette} van {maker}, {colourway}, {era}, {box}, {extra}"),
        "schoenmaat": lambda s: {"eu": s.eu, "uk": s.uk} if s.shoe else None,
        "conditie": lambda s: of_shoe(s, s.grade_word),
        "startbod": lambda s: float(s.share("0.3")),
        "hoogste_bod": lambda s: float(s.price) if s.sold else None,
        "opgeld": lambda s: float(s.share("0.29")) if s.sold else None,
        "afgerond_op": lambda s: f"{s.closed:%d-%m-%Y} {s.clock[:5]}",
        "geplaatst_op": lambda s: f"{s.offered:%d-%m-%Y} 09:00",
        "uitslag": lambda s: s.word,
        "valuta": lambda s: "EUR",
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu),
    truth="""
price = "hoogste_bod"
price_basis = "hammer"
tax = "none stated"
day = "afgerond_op"
date_order = "dmy"
size = "schoenmaat.eu"
size_system = "EU"
grade = "conditie"
status = "uitslag"
currency_heading = "valuta"
ask = ""
""",
    ideal="""
[maps.prikbord]
venue = "Veilinghuis Duinrand"
files = "biedingen_*.jsonl"
date_order = "dmy"
price_basis = "hammer"
size_system = "EU"

[maps.prikbord.columns]
lot_ref = "kavelcode"
title = "kop"
size_label = "schoenmaat.eu"
grade = "conditie"
price_native = "hoogste_bod"
offered_on = "geplaatst_op"
closed_on = "afgerond_op"
status = "uitslag"
currency = "valuta"

[maps.prikbord.status_words]
"gegund" = "sold"
"geen bod" = "unsold"
"koper niet betaald" = "withdrawn"
""",
)

TARG = Export(
    file="targpar_transakcje.tsv",
    half="second",
    dealer="nordvik",
    language="pl",
    count=44,
    scale=Decimal(4),
    step=1,
    layout=Layout(delimiter="\t", encoding="cp1250"),
    statuses={
        "Zrealizowana": ("sold", 8),
        "Zwrot": ("withdrawn", 1),
        "Anulowana": ("withdrawn", 1),
        "Nieopłacona": ("withdrawn", 1),
    },
    others=(("laces", "Sznurówki płaskie 120 cm, 2 szt."), ("quantity above 1", "")),
    columns={
        "Transakcja": lambda s: s.code("T", 9),
        "Data zakupu": lambda s: f"{s.closed:%Y-%m-%d} {s.clock}",
        "Data wpłaty": lambda s: f"{s.paid:%Y-%m-%d} 10:15:00",
        "Oferta": lambda s: s.put("{maker} {silhouette} {colourway} {era} {word} {box}"),
        "Rozmiar": lambda s: of_shoe(s, f"{short(s.eu, ',')} ({short(s.cm, ',')} cm)"),
        "Liczba sztuk": lambda s: str(s.quantity),
        "Cena sprzedaży": lambda s: amount(s.price, ","),
        "Waluta": lambda s: "PLN",
        "Dostawa": lambda s: s.one_of("14,99", "0,00", "17,50"),
        "Prowizja": lambda s: amount(-s.share("0.09"), ","),
        "Wypłata": lambda s: amount(s.share("0.91"), ","),
        "Etap": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="PLN",
    size=lambda s: f"{short(s.eu, ',')} ({short(s.cm, ',')} cm)",
    truth="""
price = "Cena sprzedaży"
price_basis = "all-in"
tax = "none stated"
day = "Data zakupu"
date_order = "ymd"
size = "Rozmiar"
size_system = "EU"
grade = "title"
status = "Etap"
currency_heading = "Waluta"
ask = ""
""",
    ideal="""
[maps.targ]
venue = "Targ Par"
files = "targpar_*.tsv"
encoding = "cp1250"
date_order = "ymd"
decimal_mark = ","
price_basis = "all-in"
quantity_price = "unit"
size_system = "EU"

[maps.targ.columns]
sale_ref = "Transakcja"
sold_on = "Data zakupu"
title = "Oferta"
size_label = "Rozmiar"
price_native = "Cena sprzedaży"
quantity = "Liczba sztuk"
currency = "Waluta"
status = "Etap"

[maps.targ.status_words]
"Zrealizowana" = "sold"
"Zwrot" = "withdrawn"
"Anulowana" = "withdrawn"
"Nieopłacona" = "withdrawn"
""",
)

KLUBBAT = Export(
    file="nordvik_avrakning.csv",
    half="second",
    dealer="nordvik",
    language="sv",
    count=36,
    scale=Decimal(11),
    step=50,
    layout=Layout(
        delimiter=";", encoding="cp1252", group=lambda s: f"Avräkning {s.closed:%Y}", group_column=0
    ),
    statuses={"klubbat": ("sold", 7), "ej sålt": ("unsold", 2), "återtaget": ("withdrawn", 1)},
    others=(("box only", "Tom kartong, Wherry Lo"), ("bundle", "Parti om sju par, olika skick")),
    columns={
        "Rop": lambda s: str(s.number),
        "Föremål": lambda s: s.put("{maker} {silhouette}, {colourway}, {era}, strl {euc}, {word}, {box}"),
        "Bevakningspris": lambda s: f"{amount(s.share('0.6'), ',', ' ')} SEK",
        "Klubbat pris": lambda s: when_sold(s, f"{amount(s.price, ',', ' ')} SEK"),
        "Provision": lambda s: when_sold(s, f"{amount(s.share('0.12'), ',', ' ')} SEK"),
        "Moms på provision": lambda s: when_sold(s, f"{amount(s.share('0.03'), ',', ' ')} SEK"),
        "Att få": lambda s: when_sold(s, f"{amount(s.share('0.85'), ',', ' ')} SEK"),
        "Auktionsdag": lambda s: format_date(s.closed, "d MMMM y", locale="sv"),
        "Utgång": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="SEK",
    size=lambda s: short(s.eu, ","),
    truth="""
price = "Klubbat pris"
price_basis = "hammer"
tax = "none stated"
day = "Auktionsdag"
date_order = "any"
size = "title"
size_system = "EU"
grade = "title"
status = "Utgång"
currency = "SEK"
ask = ""
""",
    ideal="""
# Wish: rows that head a group left out; "strl" as the word for an EU size. A reserve is no asking price.
[maps.klubbat]
venue = "Nordvik Auktion"
files = "nordvik_*.csv"
encoding = "cp1252"
language = "sv"
decimal_mark = ","
currency = "SEK"
price_basis = "hammer"

[maps.klubbat.columns]
lot_ref = "Rop"
title = "Föremål"
price_native = "Klubbat pris"
closed_on = "Auktionsdag"
status = "Utgång"

[maps.klubbat.status_words]
"klubbat" = "sold"
"ej sålt" = "unsold"
"återtaget" = "withdrawn"
""",
)

MONTRA = Export(
    file="montra_vendas.parquet",
    half="second",
    dealer="calvera",
    language="pt",
    count=50,
    step=1,
    layout=Layout(kind="parquet"),
    statuses={"concluída": ("sold", 8), "devolvida": ("withdrawn", 1), "reservada": ("open", 1)},
    others=(("laces", "Atacadores 120 cm"),),
    columns={
        "venda": lambda s: s.code("", 8),
        "anúncio": lambda s: s.put("{maker} {silhouette} {colourway} {era} {extra}"),
        "tamanho": lambda s: of_shoe(s, f"EU {short(s.eu, ',')}"),
        "estado_do_par": lambda s: of_shoe(s, s.grade_word),
        "caixa": lambda s: of_shoe(s, s.box),
        "preço_pedido": lambda s: amount(s.share("1.15"), ",", "."),
        "preço_final": lambda s: amount(s.price, ",", "."),
        "taxa_da_montra": lambda s: amount(s.share("0.07"), ",", "."),
        "portes": lambda s: s.one_of("4,50", "6,00", "0,00"),
        "data_da_venda": lambda s: f"{s.closed:%d/%m/%Y}",
        "data_de_publicação": lambda s: f"{s.offered:%d/%m/%Y}",
        "situação": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: f"EU {short(s.eu, ',')}",
    truth="""
price = "preço_final"
price_basis = "all-in"
tax = "none stated"
day = "data_da_venda"
date_order = "dmy"
size = "tamanho"
size_system = "EU"
grade = "estado_do_par"
status = "situação"
currency = "EUR"
ask = "preço_pedido"
""",
    ideal="""
[maps.montra]
venue = "Montra Ribeira"
files = "montra_*.parquet"
date_order = "dmy"
decimal_mark = ","
currency = "EUR"
price_basis = "all-in"
size_system = "EU"

[maps.montra.columns]
sale_ref = "venda"
title = "anúncio"
size_label = "tamanho"
grade = "estado_do_par"
box = "caixa"
ask_native = "preço_pedido"
price_native = "preço_final"
sold_on = "data_da_venda"
offered_on = "data_de_publicação"
status = "situação"

[maps.montra.status_words]
"concluída" = "sold"
"devolvida" = "withdrawn"
"reservada" = "open"
""",
)

UMIBE = Export(
    file="umibe_rakusatsu.csv",
    half="second",
    dealer="nordvik",
    language="ja",
    count=38,
    scale=Decimal(160),
    step=1000,
    layout=Layout(encoding="utf-8-sig"),
    statuses={"落札": ("sold", 7), "不成立": ("unsold", 2), "出品取消": ("withdrawn", 1)},
    others=(("box only", "空箱 Wherry Hi 用"), ("bundle", "まとめ売り 三足")),
    columns={
        "出品番号": lambda s: str(1000 + s.number),
        "品名": lambda s: s.put("{maker} {silhouette} {colourway} {era} {box}"),
        "表記サイズ": lambda s: of_shoe(s, f"{s.cm:.1f}cm(UK{short(s.uk)})"),
        "評価": lambda s: of_shoe(s, f"{short(s.grade)}点"),
        "開始価格": lambda s: f"{amount(s.share('0.5'), '.', ',', 0)}円",
        "予想価格": lambda s: f"{amount(s.share('0.8'), '.', ',', 0)}円",
        "落札価格": lambda s: when_sold(s, f"{amount(s.price, '.', ',', 0)}円"),
        "落札手数料": lambda s: when_sold(s, f"{amount(s.share('0.15'), '.', ',', 0)}円"),
        "支払総額": lambda s: when_sold(s, f"{amount(s.share('1.15'), '.', ',', 0)}円"),
        "開催日": lambda s: f"{s.closed.year}/{s.closed.month}/{s.closed.day}",
        "支払日": lambda s: when_sold(s, f"{s.paid.year}/{s.paid.month}/{s.paid.day}"),
        "結果": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="JPY",
    size=lambda s: f"{s.cm:.1f}cm(UK{short(s.uk)})",
    graded=True,
    truth="""
price = "落札価格"
price_basis = "hammer"
tax = "none stated"
day = "開催日"
date_order = "ymd"
size = "表記サイズ"
size_system = "JP"
grade = "評価"
status = "結果"
currency = "JPY"
ask = "予想価格"
""",
    ideal="""
[maps.umibe]
venue = "Tate Auction Umibe"
files = "umibe_*.csv"
date_order = "ymd"
currency = "JPY"
price_basis = "hammer"
size_system = "JP"

[maps.umibe.columns]
lot_ref = "出品番号"
title = "品名"
size_label = "表記サイズ"
grade = "評価"
ask_native = "予想価格"
price_native = "落札価格"
closed_on = "開催日"
status = "結果"

[maps.umibe.status_words]
"落札" = "sold"
"不成立" = "unsold"
"出品取消" = "withdrawn"
""",
)

SKOBASAREN = Export(
    file="skobasaren_solgte.csv",
    half="second",
    dealer="nordvik",
    language="da",
    count=36,
    scale=Decimal("7.5"),
    step=5,
    layout=Layout(delimiter=";"),
    statuses={"Solgt": ("sold", 8), "Udløbet": ("unsold", 2), "Fortrudt køb": ("withdrawn", 1)},
    others=(("laces", "Snørebånd, tre par"), ("single shoe", "Kun højre sko, Skein 4")),
    columns={
        "Annoncenr.": lambda s: s.code("4", 7),
        "Overskrift": lambda s: s.put("{silhouette} fra {maker} i {colourway}, {era}, {extra}"),
        "Str.": lambda s: of_shoe(s, half(s.eu)),
        "Stand": lambda s: of_shoe(s, "*" * max(1, round(s.grade / 2))),
        "Æske": lambda s: of_shoe(s, s.box),
        "Forlangt": lambda s: f"{amount(s.share('1.2'), ',', '.')} kr.",
        "Handelspris": lambda s: when_sold(s, f"{amount(s.price, ',', '.')} kr."),
        "Gebyr": lambda s: when_sold(s, f"{amount(s.share('0.08'), ',', '.')} kr."),
        "Fragt": lambda s: s.one_of("45,00 kr.", "0,00 kr."),
        "Oprettet": lambda s: f"{s.offered:%d-%m-%Y}",
        "Handlet": lambda s: when_sold(s, f"{s.closed:%d-%m-%Y}"),
        "Tilstand": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="DKK",
    size=lambda s: half(s.eu),
    truth="""
price = "Handelspris"
price_basis = "all-in"
tax = "none stated"
day = "Handlet"
date_order = "dmy"
size = "Str."
size_system = "EU"
grade = "Stand"
status = "Tilstand"
currency = "DKK"
ask = "Forlangt"
""",
    ideal="""
# Wish: a grade in stars.
[maps.skobasaren]
venue = "Skobasaren"
files = "skobasaren_*.csv"
date_order = "dmy"
decimal_mark = ","
currency = "DKK"
price_basis = "all-in"
size_system = "EU"

[maps.skobasaren.columns]
lot_ref = "Annoncenr."
title = "Overskrift"
size_label = "Str."
grade = "Stand"
box = "Æske"
ask_native = "Forlangt"
price_native = "Handelspris"
offered_on = "Oprettet"
sold_on = "Handlet"
status = "Tilstand"

[maps.skobasaren.status_words]
"Solgt" = "sold"
"Udløbet" = "unsold"
"Fortrudt køb" = "withdrawn"
""",
)

SECOND = (TALLOWGATE, THREAD, PREMIUM_IN, ALMSTEIG, PAARBOGEN, VITRINE, REGISTRE, MONTEFOSCO, FATTURE, REMATES,
          MOVIMIENTOS, PRIKBORD, TARG, KLUBBAT, MONTRA, UMIBE, SKOBASAREN)  # fmt: skip
