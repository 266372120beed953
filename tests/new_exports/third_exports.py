"""The third part of the invented exports: what each writes, and what is right about it. Rules may be tuned with it."""

from decimal import Decimal

from babel.dates import format_date

from tests.new_exports.drawing import Export, Layout, amount, cents, moment, short
from tests.new_exports.first_exports import euro, if_shoe, if_sold, spaced

SHIPPING = Decimal("6.50")
"""What each venue charges for shipping, in the currency of a scale of one."""

ALMSTEIG = Export(
    file="almsteig_abrechnung_auktionen.csv",
    half="third",
    dealer="seekante",
    language="de",
    count=40,
    step=10,
    layout=Layout(delimiter=";", encoding="utf-8-sig"),
    statuses={"ja": ("sold", 7), "nein": ("unsold", 3)},
    others=(("bundle", "Posten: 3 Paar Pintle, 2 Paar Skein 4"), ("box only", "Leere Originalkartons")),
    columns={
        "Los": lambda s: str(s.number),
        "Einlieferer": lambda s: s.code("E-", 4),
        "Objekt": lambda s: s.put(
            "{silhouette} von {maker}, {colourway}, {era}; Grösse {eu}; {word}; {box}; {extra}"
        ),
        "Schätzung CHF": lambda s: (
            f"{amount(s.share('0.7'), '.', '’', 0)} – {amount(s.share('1.1'), '.', '’', 0)}"
        ),
        "Zuschlagspreis CHF": lambda s: if_sold(s, amount(s.price, ".", "’")),
        "Aufpreis netto": lambda s: if_sold(s, amount(s.share("0.20"))),
        "MWST 8.1%": lambda s: if_sold(s, amount(s.share("0.0162"))),
        "Käuferpreis brutto": lambda s: if_sold(s, amount(s.share("1.2162"), ".", "’")),
        "Abgabe Einlieferer": lambda s: if_sold(s, amount(-s.share("0.10"))),
        "Gutschrift": lambda s: if_sold(s, amount(s.share("0.90"), ".", "’")),
        "versteigert am": lambda s: if_sold(s, f"{s.closed:%d.%m.%y}"),
        "ausbezahlt am": lambda s: if_sold(s, f"{s.paid:%d.%m.%y}"),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="CHF",
    size=lambda s: short(s.eu),
    truth="""
price = "Zuschlagspreis CHF"
price_basis = "hammer"
tax = "none stated"
day = "versteigert am"
date_order = "dmy"
size = "title"
size_system = "EU"
grade = "title"
status = ""
currency = "CHF"
ask = "Schätzung CHF"
""",
    ideal="""
# Wish: "Grösse" as the word for an EU size. No column of words: a lot without a day of sale and a price was not sold.
[maps.almsteig]
venue = "Almsteig Auktionen"
files = "almsteig_*.csv"
date_order = "dmy"
currency = "CHF"
price_basis = "hammer"

[maps.almsteig.columns]
lot_ref = "Los"
title = "Objekt"
ask_native = "Schätzung CHF"
price_native = "Zuschlagspreis CHF"
sold_on = "versteigert am"
""",
)

HARROW = Export(
    file="harrow_flats_sale_recap.csv",
    half="third",
    dealer="fjordlia",
    language="en",
    count=44,
    step=10,
    layout=Layout(above=(("Harrow Flats Auctions",), ("Post-sale recap",), ("",))),
    statuses={
        "SOLD": ("sold", 8),
        "PASSED": ("unsold", 2),
        "NO SALE - RESERVE NOT MET": ("unsold", 1),
        "PULLED": ("withdrawn", 1),
    },
    others=(
        ("bundle", "Group of four assorted pairs, parts or repair"),
        ("single shoe", "Right shoe only, Pintle, soot"),
    ),
    columns={
        "Sale #": lambda s: f"HF{s.closed:%y%m}",
        "Lot #": lambda s: str(200 + s.number),
        "Consignor #": lambda s: s.code("", 4),
        "Lot Title": lambda s: s.put("{silhouette} by {maker}, {colourway}, {era}, US men {us}, {extra}"),
        "Condition Grade": lambda s: if_shoe(s, f"{short(s.grade)}/10"),
        "Est. (Low-High)": lambda s: (
            f"${amount(s.share('0.8'), '.', ',', 0)}-${amount(s.share('1.4'), '.', ',', 0)}"
        ),
        "Opening Bid": lambda s: f"${amount(s.share('0.4'), '.', ',')}",
        "# Bids": lambda s: if_sold(s, str(s.one_of(2, 5, 9, 14))),
        "Hammer Price": lambda s: if_sold(s, f"${amount(s.price, '.', ',')}"),
        "BP 25%": lambda s: if_sold(s, f"${amount(s.share('0.25'), '.', ',')}"),
        "Price w/ BP": lambda s: if_sold(s, f"${amount(s.share('1.25'), '.', ',')}"),
        "Sales Tax": lambda s: if_sold(s, f"${amount(s.share('0.0875'), '.', ',')}"),
        "Auction Date": lambda s: f"{s.closed:%m/%d/%y}",
        "Pd. Date": lambda s: if_sold(s, f"{s.paid:%m/%d/%y}"),
        "Disposition": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="USD",
    size=lambda s: short(s.us),
    graded=True,
    truth="""
price = "Hammer Price"
price_basis = "hammer"
tax = "none stated"
day = "Auction Date"
date_order = "mdy"
size = "title"
size_system = "US men"
grade = "Condition Grade"
status = "Disposition"
currency = "USD"
ask = "Est. (Low-High)"
""",
    ideal="""
[maps.harrow]
venue = "Harrow Flats Auctions"
files = "harrow_flats_*.csv"
header_row = 4
date_order = "mdy"
currency = "USD"
price_basis = "hammer"

[maps.harrow.columns]
sale_ref = "Sale #"
lot_ref = "Lot #"
title = "Lot Title"
grade = "Condition Grade"
ask_native = "Est. (Low-High)"
price_native = "Hammer Price"
closed_on = "Auction Date"
status = "Disposition"

[maps.harrow.status_words]
"SOLD" = "sold"
"PASSED" = "unsold"
"NO SALE - RESERVE NOT MET" = "unsold"
"PULLED" = "withdrawn"
""",
)

TALLOWGATE = Export(
    file="tallowgate_consignor_statement.xlsx",
    half="third",
    dealer="marrowgate",
    language="en",
    count=36,
    step=5,
    layout=Layout(kind="xlsx", sheet="Statement", above=(("Consignor statement", "", "all sums in GBP"), ())),
    statuses={
        "Paid out": ("sold", 6),
        "Sold, payout due": ("sold", 2),
        "On the shelf": ("open", 2),
        "Collected by consignor": ("withdrawn", 1),
    },
    others=(("laces", "Bundle of cotton laces"), ("service", "Clean and polish")),
    columns={
        "Taken in": lambda s: s.offered,
        "Tag": lambda s: s.code("TC", 5),
        "Item": lambda s: s.put("{maker} {silhouette} {colourway} {era}, {box}, {extra}"),
        "Sz (UK)": lambda s: s.uk if s.shoe else "",
        "Cond.": lambda s: if_shoe(s, s.grade_word),
        "Ticket price": lambda s: s.share("1.10"),
        "Went for": lambda s: if_sold(s, s.price),
        "House share 30%": lambda s: if_sold(s, s.share("0.30")),
        "Card charge": lambda s: if_sold(s, s.share("0.015")),
        "Due to you": lambda s: if_sold(s, s.share("0.685")),
        "Went on": lambda s: if_sold(s, s.closed),
        "Remitted": lambda s: if_sold(s, s.paid) if s.word == "Paid out" else "",
        "Where it stands": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="GBP",
    size=lambda s: short(s.uk),
    truth="""
price = "Went for"
price_basis = "all-in"
tax = "none stated"
day = "Went on"
date_order = "any"
size = "Sz (UK)"
size_system = "UK"
grade = "Cond."
status = "Where it stands"
currency = "GBP"
ask = "Ticket price"
""",
    ideal="""
[maps.tallowgate]
venue = "Tallowgate Consignment"
files = "tallowgate_*.xlsx"
header_row = 3
currency = "GBP"
price_basis = "all-in"
size_system = "UK"

[maps.tallowgate.columns]
offered_on = "Taken in"
stock_ref = "Tag"
title = "Item"
size_label = "Sz (UK)"
grade = "Cond."
ask_native = "Ticket price"
price_native = "Went for"
sold_on = "Went on"
status = "Where it stands"

[maps.tallowgate.status_words]
"Paid out" = "sold"
"Sold, payout due" = "sold"
"On the shelf" = "open"
"Collected by consignor" = "withdrawn"
""",
)

SECONDLAST = Export(
    file="second_last_payouts.jsonl",
    half="third",
    dealer="fjordlia",
    language="en",
    count=34,
    layout=Layout(kind="jsonl"),
    others=(("laces", "Two sets of rope laces"), ("refund", "")),
    columns={
        "payout_batch": lambda s: f"PB-{s.paid:%Y%m}",
        "consignment_no": lambda s: f"SL{3000 + s.number}",
        "description": lambda s: s.put("{maker} {silhouette} {colourway} {era} {word} {box} {extra}"),
        "mens_us": lambda s: if_shoe(s, short(s.us)),
        "tier": lambda s: s.one_of("60/40", "standard"),
        "your_split": lambda s: s.price,
        "split_currency": lambda s: "USD",
        "sale_closed": lambda s: s.closed.isoformat(),
        "released_on": lambda s: s.paid.isoformat(),
        "sent_via": lambda s: s.one_of("check", "bank transfer"),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="USD",
    size=lambda s: short(s.us),
    truth="""
price = "your_split"
price_basis = "net"
tax = "none stated"
day = "sale_closed"
date_order = "ymd"
size = "mens_us"
size_system = "US men"
grade = "title"
status = ""
currency_heading = "split_currency"
ask = ""
""",
    ideal="""
# Every record is a payout: all are sold. Wish: a negative amount is a refund of an earlier sale.
[maps.secondlast]
venue = "Second Last Consignment"
files = "second_last_*.jsonl"
date_order = "ymd"
price_basis = "net"
size_system = "US men"

[maps.secondlast.columns]
stock_ref = "consignment_no"
title = "description"
size_label = "mens_us"
price_native = "your_split"
currency = "split_currency"
sold_on = "sale_closed"
""",
)

VITRINE = Export(
    file="vitrine_mes_ventes.csv",
    half="third",
    dealer="valdombre",
    language="fr",
    count=42,
    step=1,
    layout=Layout(delimiter=";", encoding="cp1252"),
    statuses={
        "Finalisée": ("sold", 8),
        "Annulée par l'acheteur": ("withdrawn", 1),
        "Retournée": ("withdrawn", 1),
        "Expirée": ("unsold", 1),
        "Réservée": ("open", 1),
    },
    others=(("laces", "Lacets cirés 120 cm"), ("quantity above 1", "Lot 2 paires Pintle craie")),
    columns={
        "Statut": lambda s: s.word,
        "Réf. annonce": lambda s: s.code("V", 8),
        "Intitulé": lambda s: s.put("{silhouette} {maker} {colourway} {era} {extra} {box}"),
        "P.": lambda s: if_shoe(s, short(s.eu, ",")),
        "État": lambda s: if_shoe(s, s.grade_word),
        "Mise en ligne le": lambda s: f"{s.offered:%d/%m/%Y}",
        "Prix demandé": lambda s: amount(s.share("1.15"), ",", " ") + " €",
        "Montant de la vente": lambda s: if_sold(s, amount(s.price, ",", " ") + " €"),
        "Frais d'envoi facturés": lambda s: if_sold(s, amount(SHIPPING, ",") + " €"),
        "Total encaissé": lambda s: if_sold(s, amount(s.price + SHIPPING, ",", " ") + " €"),
        "Commission": lambda s: if_sold(s, amount(-s.share("0.10"), ",") + " €"),
        "Reversement": lambda s: if_sold(s, amount(s.share("0.90"), ",", " ") + " €"),
        "Vendue le": lambda s: if_sold(s, f"{s.closed:%d/%m/%Y}"),
        "Expédiée le": lambda s: if_sold(s, f"{s.paid:%d/%m/%Y}"),
        "Acheteur": lambda s: if_sold(s, s.person.split()[0]),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth="""
price = "Montant de la vente"
price_basis = "all-in"
tax = "none stated"
day = "Vendue le"
date_order = "dmy"
size = "P."
size_system = "EU"
grade = "État"
status = "Statut"
currency = "EUR"
ask = "Prix demandé"
""",
    ideal="""
# "État" is the condition, "Statut" the state of the offer.
[maps.vitrine]
venue = "Vitrine aux Paires"
files = "vitrine_*.csv"
encoding = "cp1252"
date_order = "dmy"
decimal_mark = ","
currency = "EUR"
price_basis = "all-in"
size_system = "EU"

[maps.vitrine.columns]
status = "Statut"
lot_ref = "Réf. annonce"
title = "Intitulé"
size_label = "P."
grade = "État"
offered_on = "Mise en ligne le"
ask_native = "Prix demandé"
price_native = "Montant de la vente"
sold_on = "Vendue le"

[maps.vitrine.status_words]
"Finalisée" = "sold"
"Annulée par l'acheteur" = "withdrawn"
"Retournée" = "withdrawn"
"Expirée" = "unsold"
"Réservée" = "open"
""",
)

CAISSE = Export(
    file="valdombre_journal_caisse.csv",
    half="third",
    dealer="valdombre",
    language="fr",
    count=34,
    layout=Layout(delimiter="\t"),
    others=(("service", "Ressemelage"), ("laces", "Lacets ronds 90 cm"), ("quantity above 1", "")),
    columns={
        "Ticket": lambda s: f"{s.closed:%y}-{s.number:05}",
        "Horodatage": lambda s: f"{s.closed:%d/%m/%Y} {s.clock[:5]}",
        "Caisse": lambda s: s.one_of("1", "2"),
        "Vendeur·se": lambda s: s.person.split()[0],
        "Code article": lambda s: f"VAL{s.number:04}",
        "Libellé article": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {word}, {box}"),
        "Pointure FR": lambda s: if_shoe(s, short(s.eu, ",")),
        "Qté": lambda s: str(s.quantity),
        "P.U. HT": lambda s: amount(cents(s.price / Decimal("1.2")), ","),
        "Tx TVA": lambda s: "20,00",
        "P.U. TTC": lambda s: amount(s.price, ","),
        "Montant TTC": lambda s: amount(s.price * s.quantity, ","),
        "Mode de règlement": lambda s: s.one_of("CB", "Espèces", "Chèque"),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth="""
price = "P.U. TTC"
price_basis = "all-in"
tax = "included"
day = "Horodatage"
date_order = "dmy"
size = "Pointure FR"
size_system = "EU"
grade = "title"
status = ""
currency = "EUR"
ask = ""
""",
    ideal="""
# All lines are sold.
[maps.caisse]
venue = "Boutique Valdombre"
files = "valdombre_journal_*.csv"
date_order = "dmy"
decimal_mark = ","
currency = "EUR"
price_basis = "all-in"
quantity_price = "unit"
tax = "included"
size_system = "EU"

[maps.caisse.columns]
sale_ref = "Ticket"
sold_on = "Horodatage"
stock_ref = "Code article"
title = "Libellé article"
size_label = "Pointure FR"
price_native = "P.U. TTC"
quantity = "Qté"
""",
)

MONTEFOSCO = Export(
    file="montefosco_risultati_asta.xls",
    half="third",
    dealer="valdombre",
    language="it",
    count=40,
    step=10,
    layout=Layout(kind="html", encoding="cp1252"),
    statuses={
        "Aggiudicato": ("sold", 7),
        "Invenduto": ("unsold", 2),
        "Ritirato": ("withdrawn", 1),
        "Non saldato": ("withdrawn", 1),
    },
    others=(("bundle", "Insieme di cinque paia spaiate"),),
    columns={
        "Tornata": lambda s: f"{s.closed:%Y}/{s.one_of('I', 'II')}",
        "Lotto n.": lambda s: str(s.number),
        "Scheda": lambda s: s.put("{maker} {silhouette} {colourway}, {era}. {box}. {extra}"),
        "Num.": lambda s: if_shoe(s, short(s.eu, ",")),
        "Conservazione": lambda s: if_shoe(s, s.grade_word),
        "Stima minima": lambda s: "€ " + euro(s.share("0.8")),
        "Stima massima": lambda s: "€ " + euro(s.share("1.2")),
        "Base d'asta": lambda s: "€ " + euro(s.share("0.5")),
        "Aggiudicazione": lambda s: if_sold(s, "€ " + euro(s.price)),
        "Diritti d'asta": lambda s: if_sold(s, "€ " + euro(s.share("0.26"))),
        "di cui IVA": lambda s: if_sold(s, "€ " + euro(s.share("0.0469"))),
        "Totale dovuto": lambda s: if_sold(s, "€ " + euro(s.share("1.26"))),
        "Data asta": lambda s: format_date(s.closed, "d MMMM y", locale="it"),
        "Saldato il": lambda s: if_sold(s, format_date(s.paid, "d MMMM y", locale="it")),
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
day = "Data asta"
date_order = "any"
size = "Num."
size_system = "EU"
grade = "Conservazione"
status = "Esito"
currency = "EUR"
ask = "Stima minima"
""",
    ideal="""
[maps.montefosco]
venue = "Casa d'aste Montefosco"
files = "montefosco_*.xls"
date_order = "dmy"
language = "it"
decimal_mark = ","
currency = "EUR"
price_basis = "hammer"
size_system = "EU"

[maps.montefosco.columns]
sale_ref = "Tornata"
lot_ref = "Lotto n."
title = "Scheda"
size_label = "Num."
grade = "Conservazione"
ask_native = "Stima minima"
price_native = "Aggiudicazione"
closed_on = "Data asta"
status = "Esito"

[maps.montefosco.status_words]
"Aggiudicato" = "sold"
"Invenduto" = "unsold"
"Ritirato" = "withdrawn"
"Non saldato" = "withdrawn"
""",
)

SUBASTAS = Export(
    file="subastas_calvera_remates.csv",
    half="third",
    dealer="calvera",
    language="es",
    count=40,
    step=10,
    layout=Layout(delimiter=";", below=(("", "", "Suma", "", "", "", "", "", "9.860,00", "", "", ""),)),
    statuses={
        "Rematado": ("sold", 7),
        "Desierto": ("unsold", 2),
        "Retirado por el cedente": ("withdrawn", 1),
    },
    others=(("bundle", "Tres pares Brockle Trail para restaurar"), ("box only", "Caja vacía Wherry Hi")),
    columns={
        "Nº lote": lambda s: str(s.number),
        "Cedente": lambda s: s.code("C", 4),
        "Artículo": lambda s: s.put("{silhouette} ({maker}) {colourway}, {era}, {extra}, {box}"),
        "Talla EU": lambda s: if_shoe(s, short(s.eu, ",")),
        "Conservación": lambda s: if_shoe(s, s.grade_word),
        "Fecha remate": lambda s: f"{s.closed:%d/%m/%y}",
        "Resultado": lambda s: s.word,
        "Salida": lambda s: euro(s.share("0.6")),
        "Remate": lambda s: if_sold(s, euro(s.price)),
        "Corretaje 22 %": lambda s: if_sold(s, euro(s.share("0.22"))),
        "IVA s/ corretaje": lambda s: if_sold(s, euro(s.share("0.0462"))),
        "Importe factura": lambda s: if_sold(s, euro(s.share("1.2662"))),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth="""
price = "Remate"
price_basis = "hammer"
tax = "none stated"
day = "Fecha remate"
date_order = "dmy"
size = "Talla EU"
size_system = "EU"
grade = "Conservación"
status = "Resultado"
currency = "EUR"
ask = ""
""",
    ideal="""
# "Salida" is where bidding starts: no asking price.
[maps.subastas]
venue = "Subastas Calvera"
files = "subastas_calvera_*.csv"
date_order = "dmy"
decimal_mark = ","
currency = "EUR"
price_basis = "hammer"
size_system = "EU"

[maps.subastas.columns]
lot_ref = "Nº lote"
title = "Artículo"
size_label = "Talla EU"
grade = "Conservación"
closed_on = "Fecha remate"
status = "Resultado"
price_native = "Remate"

[maps.subastas.status_words]
"Rematado" = "sold"
"Desierto" = "unsold"
"Retirado por el cedente" = "withdrawn"
""",
)

PAARBOGEN = Export(
    file="paarbogen_verkaufsabrechnung.csv",
    half="third",
    dealer="seekante",
    language="de",
    count=44,
    step=1,
    layout=Layout(delimiter=";", encoding="cp1252"),
    statuses={
        "versandt": ("sold", 7),
        "zugestellt": ("sold", 2),
        "Kauf abgebrochen": ("withdrawn", 1),
        "Retoure erstattet": ("withdrawn", 1),
        "Zahlung ausstehend": ("open", 1),
    },
    others=(("laces", "Rundsenkel, 2 Paar"), ("single shoe", "Nur linker Schuh, Pintle kreideweiß")),
    columns={
        "Vorgangsnr.": lambda s: s.code("PB", 9),
        "Bestellt am": lambda s: f"{s.closed:%d.%m.%Y} {s.clock[:5]}",
        "Bezahlt am": lambda s: f"{s.paid:%d.%m.%Y}",
        "Versandt am": lambda s: if_sold(s, f"{s.paid:%d.%m.%Y}"),
        "Bearbeitungsstand": lambda s: s.word,
        "Artikelbezeichnung": lambda s: s.put("{maker} {silhouette} {colourway} {era} {extra} {box}"),
        "Schuhgr.": lambda s: if_shoe(s, short(s.eu, ",")),
        "Erhaltung": lambda s: if_shoe(s, s.grade_word),
        "VK brutto": lambda s: euro(s.price),
        "Versand (vom Käufer)": lambda s: euro(SHIPPING),
        "Rechnungssumme": lambda s: euro(s.price + SHIPPING),
        "Provision 9 %": lambda s: euro(-s.share("0.09")),
        "Auszahlungsbetrag": lambda s: euro(s.share("0.91")),
        "Whg.": lambda s: "EUR",
        "Besteuerung": lambda s: "differenzbesteuert (§ 25a)",
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth="""
price = "VK brutto"
price_basis = "all-in"
tax = "margin"
day = "Bestellt am"
date_order = "dmy"
size = "Schuhgr."
size_system = "EU"
grade = "Erhaltung"
status = "Bearbeitungsstand"
currency_heading = "Whg."
ask = ""
""",
    ideal="""
[maps.paarbogen]
venue = "Paarbogen"
files = "paarbogen_*.csv"
encoding = "cp1252"
date_order = "dmy"
decimal_mark = ","
price_basis = "all-in"
tax = "margin"
size_system = "EU"

[maps.paarbogen.columns]
sale_ref = "Vorgangsnr."
sold_on = "Bestellt am"
status = "Bearbeitungsstand"
title = "Artikelbezeichnung"
size_label = "Schuhgr."
grade = "Erhaltung"
price_native = "VK brutto"
currency = "Whg."

[maps.paarbogen.status_words]
"versandt" = "sold"
"zugestellt" = "sold"
"Kauf abgebrochen" = "withdrawn"
"Retoure erstattet" = "withdrawn"
"Zahlung ausstehend" = "open"
""",
)

TARG = Export(
    file="targ_par_zakonczone.csv",
    half="third",
    dealer="nordvik",
    language="pl",
    scale=Decimal(4),
    count=42,
    step=1,
    layout=Layout(delimiter=";", encoding="cp1250"),
    statuses={
        "zakończona sprzedażą": ("sold", 8),
        "zakończona bez sprzedaży": ("unsold", 2),
        "wystawiona ponownie": ("unsold", 1),
        "nieopłacona": ("withdrawn", 1),
    },
    others=(("laces", "Sznurowadła woskowane"), ("service", "Renowacja podeszwy")),
    columns={
        "Nr oferty": lambda s: s.code("", 10),
        "Tytuł oferty": lambda s: s.put("{maker} {silhouette} {colourway} {era} {extra} {box}"),
        "Rozm.": lambda s: if_shoe(s, short(s.eu, ",")),
        "Stan obuwia": lambda s: if_shoe(s, s.grade_word),
        "Wystawiono": lambda s: f"{s.offered:%Y.%m.%d}",
        "Zakończono": lambda s: f"{s.closed:%Y.%m.%d}",
        "Stan oferty": lambda s: s.word,
        "Cena żądana": lambda s: amount(s.share("1.1"), ",", " ") + " zł",
        "Cena sprzedaży": lambda s: if_sold(s, spaced(s.price) + " zł"),
        "Dostawa": lambda s: if_sold(s, "14,99 zł"),
        "Kupujący zapłacił": lambda s: if_sold(s, spaced(s.price + Decimal("14.99")) + " zł"),
        "Prowizja": lambda s: if_sold(s, spaced(s.share("0.09")) + " zł"),
        "Do wypłaty": lambda s: if_sold(s, spaced(s.share("0.91")) + " zł"),
        "Opłacono": lambda s: if_sold(s, f"{s.paid:%Y.%m.%d}"),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="PLN",
    size=lambda s: short(s.eu, ","),
    truth="""
price = "Cena sprzedaży"
price_basis = "all-in"
tax = "none stated"
day = "Zakończono"
date_order = "ymd"
size = "Rozm."
size_system = "EU"
grade = "Stan obuwia"
status = "Stan oferty"
currency = "PLN"
ask = "Cena żądana"
""",
    ideal="""
[maps.targ]
venue = "Targ Par"
files = "targ_par_*.csv"
encoding = "cp1250"
date_order = "ymd"
decimal_mark = ","
currency = "PLN"
price_basis = "all-in"
size_system = "EU"

[maps.targ.columns]
lot_ref = "Nr oferty"
title = "Tytuł oferty"
size_label = "Rozm."
grade = "Stan obuwia"
offered_on = "Wystawiono"
closed_on = "Zakończono"
status = "Stan oferty"
ask_native = "Cena żądana"
price_native = "Cena sprzedaży"

[maps.targ.status_words]
"zakończona sprzedażą" = "sold"
"zakończona bez sprzedaży" = "unsold"
"wystawiona ponownie" = "unsold"
"nieopłacona" = "withdrawn"
""",
)

MONTRA = Export(
    file="montra_ribeira_extrato_vendas.xlsx",
    half="third",
    dealer="calvera",
    language="pt",
    count=36,
    layout=Layout(kind="xlsx", sheet="Extrato"),
    statuses={
        "Concluída": ("sold", 8),
        "Devolvida": ("withdrawn", 1),
        "Anulada": ("withdrawn", 1),
        "A aguardar pagamento": ("open", 1),
    },
    others=(("laces", "Atacadores encerados"), ("service", "Limpeza e colagem")),
    columns={
        "N.º encomenda": lambda s: f"MR-{s.code('', 6)}",
        "Situação": lambda s: s.word,
        "Anúncio": lambda s: s.put("{maker} {silhouette} {colourway} {era} {extra} {box}"),
        "Tam.": lambda s: s.eu if s.shoe else "",
        "Conservação": lambda s: if_shoe(s, s.grade_word),
        "Valor s/ IVA": lambda s: s.price,
        "IVA 23%": lambda s: s.share("0.23"),
        "Portes cobrados": lambda s: SHIPPING,
        "Taxa de serviço": lambda s: -s.share("0.07"),
        "A receber": lambda s: s.share("1.16"),
        "Moeda": lambda s: "EUR",
        "Encomendada em": lambda s: s.closed,
        "Paga em": lambda s: if_sold(s, s.paid),
        "Enviada em": lambda s: if_sold(s, s.paid),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu),
    truth="""
price = "Valor s/ IVA"
price_basis = "all-in"
tax = "excluded"
day = "Encomendada em"
date_order = "any"
size = "Tam."
size_system = "EU"
grade = "Conservação"
status = "Situação"
currency_heading = "Moeda"
ask = ""
""",
    ideal="""
[maps.montra]
venue = "Montra Ribeira"
files = "montra_ribeira_*.xlsx"
price_basis = "all-in"
tax = "excluded"
tax_column = "IVA 23%"
size_system = "EU"

[maps.montra.columns]
sale_ref = "N.º encomenda"
status = "Situação"
title = "Anúncio"
size_label = "Tam."
grade = "Conservação"
price_native = "Valor s/ IVA"
currency = "Moeda"
sold_on = "Encomendada em"

[maps.montra.status_words]
"Concluída" = "sold"
"Devolvida" = "withdrawn"
"Anulada" = "withdrawn"
"A aguardar pagamento" = "open"
""",
)

NORDVIK = Export(
    file="nordvik_auktion_redovisning.csv",
    half="third",
    dealer="nordvik",
    language="sv",
    scale=Decimal(11),
    count=40,
    step=50,
    layout=Layout(delimiter="\t", encoding="cp1252"),
    statuses={"Klubbad": ("sold", 7), "Återrop": ("unsold", 2), "Struken": ("withdrawn", 1)},
    others=(("bundle", "Parti om sex par, varierande skick"),),
    columns={
        "Nr": lambda s: str(s.number),
        "Inlämnare": lambda s: s.code("", 4),
        "Föremål": lambda s: s.put("{silhouette}, {maker}, {colourway}, {era}, {box}, {extra}"),
        "Strl": lambda s: if_shoe(s, short(s.eu, ",")),
        "Skick 1–10": lambda s: if_shoe(s, short(s.grade, ",")),
        "Värdering": lambda s: (
            f"{amount(s.share('0.8'), ',', ' ', 0)}–{amount(s.share('1.2'), ',', ' ', 0)} kr"
        ),
        "Bevakning": lambda s: amount(s.share("0.7"), ",", " ", 0),
        "Klubbslag": lambda s: if_sold(s, amount(s.price, ",", " ", 0)),
        "Slagavgift": lambda s: if_sold(s, amount(s.share("0.22"), ",", " ")),
        "Köparens pris": lambda s: if_sold(s, amount(s.share("1.22"), ",", " ")),
        "Provision inkl. moms": lambda s: if_sold(s, amount(-s.share("0.12"), ",", " ")),
        "Utbetalas": lambda s: if_sold(s, amount(s.share("0.88"), ",", " ")),
        "Auktionsdag": lambda s: format_date(s.closed, "d MMMM y", locale="sv"),
        "Redovisad": lambda s: if_sold(s, format_date(s.paid, "d MMMM y", locale="sv")),
        "Utfall": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="SEK",
    size=lambda s: short(s.eu, ","),
    graded=True,
    truth="""
price = "Klubbslag"
price_basis = "hammer"
tax = "none stated"
day = "Auktionsdag"
date_order = "any"
size = "Strl"
size_system = "EU"
grade = "Skick 1–10"
status = "Utfall"
currency = "SEK"
ask = "Värdering"
""",
    ideal="""
[maps.nordvikauktion]
venue = "Nordvik Auktion"
files = "nordvik_auktion_*.csv"
date_order = "dmy"
encoding = "cp1252"
language = "sv"
decimal_mark = ","
currency = "SEK"
price_basis = "hammer"
size_system = "EU"

[maps.nordvikauktion.columns]
lot_ref = "Nr"
title = "Föremål"
size_label = "Strl"
grade = "Skick 1–10"
ask_native = "Värdering"
price_native = "Klubbslag"
closed_on = "Auktionsdag"
status = "Utfall"

[maps.nordvikauktion.status_words]
"Klubbad" = "sold"
"Återrop" = "unsold"
"Struken" = "withdrawn"
""",
)

SKOBASAREN = Export(
    file="skobasaren_mine_handler.csv",
    half="third",
    dealer="nordvik",
    language="da",
    scale=Decimal(7),
    count=42,
    layout=Layout(delimiter=";", encoding="utf-8-sig"),
    statuses={
        "Handlet": ("sold", 8),
        "Udløbet": ("unsold", 1),
        "Genopslået": ("unsold", 1),
        "Annulleret": ("withdrawn", 1),
        "Reserveret": ("open", 1),
    },
    others=(("laces", "Snørebånd, flade, 120 cm"), ("single shoe", "Kun højre sko, Pintle, sodsort")),
    columns={
        "Handels-id": lambda s: s.code("SB", 7),
        "Handlet den": lambda s: if_sold(s, f"{s.closed:%d-%m-%Y}"),
        "Sendt den": lambda s: if_sold(s, f"{s.paid:%d-%m-%Y}"),
        "Oprettet den": lambda s: f"{s.offered:%d-%m-%Y}",
        "Overskrift": lambda s: s.put("{maker} {silhouette} {colourway} {era} {box} {extra}"),
        "Skostr.": lambda s: if_shoe(s, short(s.eu, ",")),
        "Stand": lambda s: if_shoe(s, s.grade_word),
        "Sat til": lambda s: euro(s.share("1.2")) + " kr.",
        "Handelspris": lambda s: if_sold(s, euro(s.price) + " kr."),
        "Fragt": lambda s: if_sold(s, "45,00 kr."),
        "Køber betalte": lambda s: if_sold(s, euro(s.price + 45) + " kr."),
        "Salgsgebyr": lambda s: if_sold(s, euro(s.share("0.08")) + " kr."),
        "Til udbetaling": lambda s: if_sold(s, euro(s.share("0.92")) + " kr."),
        "Handelsstatus": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="DKK",
    size=lambda s: short(s.eu, ","),
    truth="""
price = "Handelspris"
price_basis = "all-in"
tax = "none stated"
day = "Handlet den"
date_order = "dmy"
size = "Skostr."
size_system = "EU"
grade = "Stand"
status = "Handelsstatus"
currency = "DKK"
ask = "Sat til"
""",
    ideal="""
[maps.skobasaren]
venue = "Skobasaren"
files = "skobasaren_*.csv"
date_order = "dmy"
decimal_mark = ","
currency = "DKK"
price_basis = "all-in"
size_system = "EU"

[maps.skobasaren.columns]
sale_ref = "Handels-id"
sold_on = "Handlet den"
offered_on = "Oprettet den"
title = "Overskrift"
size_label = "Skostr."
grade = "Stand"
ask_native = "Sat til"
price_native = "Handelspris"
status = "Handelsstatus"

[maps.skobasaren.status_words]
"Handlet" = "sold"
"Udløbet" = "unsold"
"Genopslået" = "unsold"
"Annulleret" = "withdrawn"
"Reserveret" = "open"
""",
)

FJORDLIA = Export(
    file="fjordlia_auksjon_oppgjor.csv",
    half="third",
    dealer="fjordlia",
    language="no",
    scale=Decimal(11),
    count=40,
    step=50,
    layout=Layout(delimiter=";", above=(("Fjordlia Auksjon", "Oppgjør til innleverer"), ("",))),
    statuses={
        "Tilslått": ("sold", 7),
        "Ikke solgt": ("unsold", 2),
        "Trukket": ("withdrawn", 1),
        "Ikke betalt": ("withdrawn", 1),
    },
    others=(("bundle", "Samling på fire par, til deler"), ("box only", "Tom eske til Wherry Hi")),
    columns={
        "Utfall": lambda s: s.word,
        "Katalognr.": lambda s: str(s.number),
        "Gjenstand": lambda s: s.put("{silhouette} fra {maker}, {colourway}, {era}, {extra}, {box}"),
        "Str.": lambda s: if_shoe(s, f"EU {short(s.eu, ',')}"),
        "Tilstand": lambda s: if_shoe(s, s.grade_word),
        "Vurdering fra": lambda s: amount(s.share("0.8"), ",", " ", 0),
        "Vurdering til": lambda s: amount(s.share("1.2"), ",", " ", 0),
        "Minstepris": lambda s: amount(s.share("0.7"), ",", " ", 0),
        "Tilslag": lambda s: if_sold(s, amount(s.price, ",", " ", 0)),
        "Salær kjøper 20 %": lambda s: if_sold(s, amount(s.share("0.20"), ",", " ")),
        "Mva. av salær": lambda s: if_sold(s, amount(s.share("0.05"), ",", " ")),
        "Sum å betale": lambda s: if_sold(s, amount(s.share("1.25"), ",", " ")),
        "Oppgjør innleverer": lambda s: if_sold(s, amount(s.share("0.88"), ",", " ")),
        "Auksjonsdato": lambda s: f"{s.closed:%d.%m.%Y}",
        "Utbetalt dato": lambda s: if_sold(s, f"{s.paid:%d.%m.%Y}"),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="NOK",
    size=lambda s: f"EU {short(s.eu, ',')}",
    truth="""
price = "Tilslag"
price_basis = "hammer"
tax = "none stated"
day = "Auksjonsdato"
date_order = "dmy"
size = "Str."
size_system = "EU"
grade = "Tilstand"
status = "Utfall"
currency = "NOK"
ask = "Vurdering fra"
""",
    ideal="""
[maps.fjordliaauksjon]
venue = "Fjordlia Auksjon"
files = "fjordlia_auksjon_*.csv"
header_row = 3
date_order = "dmy"
decimal_mark = ","
currency = "NOK"
price_basis = "hammer"
size_system = "EU"

[maps.fjordliaauksjon.columns]
status = "Utfall"
lot_ref = "Katalognr."
title = "Gjenstand"
size_label = "Str."
grade = "Tilstand"
ask_native = "Vurdering fra"
price_native = "Tilslag"
closed_on = "Auksjonsdato"

[maps.fjordliaauksjon.status_words]
"Tilslått" = "sold"
"Ikke solgt" = "unsold"
"Trukket" = "withdrawn"
"Ikke betalt" = "withdrawn"
""",
)

PARIHYLLY = Export(
    file="parihylly_omat_ilmoitukset.csv",
    half="third",
    dealer="fjordlia",
    language="fi",
    count=40,
    step=1,
    layout=Layout(delimiter=";", encoding="utf-8-sig"),
    statuses={
        "Myyty": ("sold", 8),
        "Peruttu": ("withdrawn", 1),
        "Palautettu": ("withdrawn", 1),
        "Varattu": ("open", 1),
        "Vanhentunut": ("unsold", 1),
    },
    others=(("laces", "Vahatut kengännauhat"), ("service", "Pohjien liimaus")),
    columns={
        "Ilmoitusnro": lambda s: s.code("", 9),
        "Jätetty": lambda s: f"{s.offered.day}.{s.offered.month}.{s.offered.year}",
        "Otsikko": lambda s: s.put("{maker} {silhouette} {colourway} {era} {extra} {box}"),
        "Koko": lambda s: if_shoe(s, short(s.eu, ",")),
        "Kunto": lambda s: if_shoe(s, s.grade_word),
        "Pyynti €": lambda s: amount(s.share("1.15"), ","),
        "Kauppahinta €": lambda s: if_sold(s, amount(s.price, ",")),
        "Toimituskulut €": lambda s: if_sold(s, amount(SHIPPING, ",")),
        "Palvelumaksu €": lambda s: if_sold(s, amount(s.share("0.07"), ",")),
        "Tilitys €": lambda s: if_sold(s, amount(s.share("0.93"), ",")),
        "Tila": lambda s: s.word,
        "Myyntipäivä": lambda s: if_sold(s, f"{s.closed.day}.{s.closed.month}.{s.closed.year}"),
        "Maksettu": lambda s: if_sold(s, f"{s.paid.day}.{s.paid.month}.{s.paid.year}"),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth="""
price = "Kauppahinta €"
price_basis = "all-in"
tax = "none stated"
day = "Myyntipäivä"
date_order = "dmy"
size = "Koko"
size_system = "EU"
grade = "Kunto"
status = "Tila"
currency = "EUR"
ask = "Pyynti €"
""",
    ideal="""
[maps.parihylly]
venue = "Parihylly"
files = "parihylly_*.csv"
date_order = "dmy"
decimal_mark = ","
currency = "EUR"
price_basis = "all-in"
size_system = "EU"

[maps.parihylly.columns]
lot_ref = "Ilmoitusnro"
offered_on = "Jätetty"
title = "Otsikko"
size_label = "Koko"
grade = "Kunto"
ask_native = "Pyynti €"
price_native = "Kauppahinta €"
status = "Tila"
sold_on = "Myyntipäivä"

[maps.parihylly.status_words]
"Myyty" = "sold"
"Peruttu" = "withdrawn"
"Palautettu" = "withdrawn"
"Varattu" = "open"
"Vanhentunut" = "unsold"
""",
)

SAARELAN = Export(
    file="saarelan_huutokamari_tulokset.ods",
    half="third",
    dealer="fjordlia",
    language="fi",
    count=36,
    step=10,
    layout=Layout(kind="ods", sheet="Tulokset"),
    statuses={"huudettu": ("sold", 7), "ei huudettu": ("unsold", 2), "poistettu": ("withdrawn", 1)},
    others=(("bundle", "Viiden parin erä, koot vaihtelevat"),),
    columns={
        "Kohde nro": lambda s: s.number,
        "Kuvaus": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {word}, {box}, {extra}"),
        "Kengän koko": lambda s: s.eu if s.shoe else "",
        "Lähtöhinta": lambda s: s.share("0.5"),
        "Arvio": lambda s: f"{amount(s.share('0.8'), ',', ' ', 0)}–{amount(s.share('1.2'), ',', ' ', 0)}",
        "Huutoja": lambda s: if_sold(s, s.one_of(1, 3, 8)),
        "Loppuhinta sis. ostajan maksun": lambda s: if_sold(s, s.price),
        "josta alv": lambda s: if_sold(s, s.share("0.0309")),
        "Huutokauppapäivä": lambda s: s.closed,
        "Noudettu": lambda s: if_sold(s, s.paid),
        "Tulos": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu),
    truth="""
price = "Loppuhinta sis. ostajan maksun"
price_basis = "all-in"
tax = "none stated"
day = "Huutokauppapäivä"
date_order = "any"
size = "Kengän koko"
size_system = "EU"
grade = "title"
status = "Tulos"
currency = "EUR"
ask = "Arvio"
""",
    ideal="""
# The house states one price alone, with what the buyer pays on top of the hammer.
[maps.saarelan]
venue = "Saarelan Huutokamari"
files = "saarelan_*.ods"
currency = "EUR"
price_basis = "all-in"
size_system = "EU"

[maps.saarelan.columns]
lot_ref = "Kohde nro"
title = "Kuvaus"
size_label = "Kengän koko"
ask_native = "Arvio"
price_native = "Loppuhinta sis. ostajan maksun"
closed_on = "Huutokauppapäivä"
status = "Tulos"

[maps.saarelan.status_words]
"huudettu" = "sold"
"ei huudettu" = "unsold"
"poistettu" = "withdrawn"
""",
)

UMIBE = Export(
    file="umibe_auction_seisan.csv",
    half="third",
    dealer="nordvik",
    language="ja",
    scale=Decimal(160),
    count=38,
    step=500,
    layout=Layout(encoding="utf-8-sig"),
    statuses={
        "落札": ("sold", 7),
        "流札": ("unsold", 2),
        "出品取消": ("withdrawn", 1),
        "未入金": ("withdrawn", 1),
    },
    others=(("laces", "靴紐 ロウ引き 2本"), ("bundle", "まとめ売り 3足 ジャンク")),
    columns={
        "開催日": lambda s: f"{s.closed.year}年{s.closed.month}月{s.closed.day}日",
        "出品番号": lambda s: str(1000 + s.number),
        "品名": lambda s: s.put("{maker} {silhouette} {colourway} {era} {box} {extra}"),
        "寸法(cm)": lambda s: if_shoe(s, short(s.cm)),
        "状態評価": lambda s: if_shoe(s, short(s.grade)),
        "開始価格": lambda s: amount(s.share("0.4"), ".", ",", 0),
        "評価額下限": lambda s: amount(s.share("0.8"), ".", ",", 0),
        "評価額上限": lambda s: amount(s.share("1.3"), ".", ",", 0),
        "落札価格": lambda s: if_sold(s, amount(s.price, ".", ",", 0)),
        "落札手数料": lambda s: if_sold(s, amount(s.share("0.15"), ".", ",", 0)),
        "手数料消費税": lambda s: if_sold(s, amount(s.share("0.015"), ".", ",", 0)),
        "請求合計": lambda s: if_sold(s, amount(s.share("1.165"), ".", ",", 0)),
        "入金日": lambda s: if_sold(s, f"{s.paid.year}年{s.paid.month}月{s.paid.day}日"),
        "結果": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="JPY",
    size=lambda s: short(s.cm),
    graded=True,
    truth="""
price = "落札価格"
price_basis = "hammer"
tax = "none stated"
day = "開催日"
date_order = "any"
size = "寸法(cm)"
size_system = "JP"
grade = "状態評価"
status = "結果"
currency = "JPY"
ask = "評価額下限"
""",
    ideal="""
[maps.umibe]
venue = "Tate Auction Umibe"
files = "umibe_*.csv"
currency = "JPY"
price_basis = "hammer"
size_system = "JP"

[maps.umibe.columns]
closed_on = "開催日"
lot_ref = "出品番号"
title = "品名"
size_label = "寸法(cm)"
grade = "状態評価"
ask_native = "評価額下限"
price_native = "落札価格"
status = "結果"

[maps.umibe.status_words]
"落札" = "sold"
"流札" = "unsold"
"出品取消" = "withdrawn"
"未入金" = "withdrawn"
""",
)

BAZAR = Export(
    file="botovna_bazar_vyuctovani.csv",
    half="third",
    dealer="seekante",
    language="cs",
    scale=Decimal(25),
    count=40,
    step=50,
    layout=Layout(delimiter=";"),
    statuses={
        "prodáno": ("sold", 8),
        "zrušeno kupujícím": ("withdrawn", 1),
        "vráceno": ("withdrawn", 1),
        "neprodáno": ("unsold", 1),
        "rezervováno": ("open", 1),
    },
    others=(("laces", "Tkaničky ploché 120 cm"), ("single shoe", "Jen levá bota Pintle")),
    columns={
        "Č. inzerátu": lambda s: s.code("", 8),
        "Vloženo": lambda s: f"{s.offered.day}. {s.offered.month}. {s.offered.year}",
        "Titulek": lambda s: s.put("{maker} {silhouette} {colourway} {era} {extra} {box}"),
        "Vel. EU": lambda s: if_shoe(s, short(s.eu, ",")),
        "Opotřebení": lambda s: if_shoe(s, s.grade_word),
        "Stav inzerátu": lambda s: s.word,
        "Prodáno dne": lambda s: if_sold(s, f"{s.closed.day}. {s.closed.month}. {s.closed.year}"),
        "Odesláno dne": lambda s: if_sold(s, f"{s.paid.day}. {s.paid.month}. {s.paid.year}"),
        "Požadovaná cena": lambda s: amount(s.share("1.1"), ",", " ", 0) + " Kč",
        "Prodejní cena": lambda s: if_sold(s, amount(s.price, ",", " ", 0) + " Kč"),
        "Poštovné": lambda s: if_sold(s, "129 Kč"),
        "Provize 8 %": lambda s: if_sold(s, amount(s.share("0.08"), ",", " ", 0) + " Kč"),
        "K výplatě": lambda s: if_sold(s, amount(s.share("0.92"), ",", " ", 0) + " Kč"),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="CZK",
    size=lambda s: short(s.eu, ","),
    truth="""
price = "Prodejní cena"
price_basis = "all-in"
tax = "none stated"
day = "Prodáno dne"
date_order = "dmy"
size = "Vel. EU"
size_system = "EU"
grade = "Opotřebení"
status = "Stav inzerátu"
currency = "CZK"
ask = "Požadovaná cena"
""",
    ideal="""
[maps.bazar]
venue = "Botovna"
files = "botovna_bazar_*.csv"
date_order = "dmy"
decimal_mark = ","
currency = "CZK"
price_basis = "all-in"
size_system = "EU"

[maps.bazar.columns]
lot_ref = "Č. inzerátu"
offered_on = "Vloženo"
title = "Titulek"
size_label = "Vel. EU"
grade = "Opotřebení"
status = "Stav inzerátu"
sold_on = "Prodáno dne"
ask_native = "Požadovaná cena"
price_native = "Prodejní cena"

[maps.bazar.status_words]
"prodáno" = "sold"
"zrušeno kupujícím" = "withdrawn"
"vráceno" = "withdrawn"
"neprodáno" = "unsold"
"rezervováno" = "open"
""",
)

LASTLINE = Export(
    file="lastline_seller_activity.csv",
    half="third",
    dealer="marrowgate",
    language="en",
    count=44,
    step=1,
    statuses={
        "Sold": ("sold", 7),
        "Ended, no bids": ("unsold", 1),
        "Relisted": ("unsold", 1),
        "Buyer did not pay": ("withdrawn", 1),
        "Sent back": ("withdrawn", 1),
        "Live": ("open", 1),
    },
    others=(("laces", "Oval laces, two pairs"), ("single shoe", "One Skein 4, left foot, UK 8")),
    columns={
        "Ended": lambda s: f"{s.closed:%d-%b-%Y} {s.clock[:5]}",
        "Ref": lambda s: s.code("LB", 7),
        "Lot heading": lambda s: s.put("{silhouette} {maker} {colourway} {era} {word} {extra} {box}"),
        "Size": lambda s: if_shoe(s, f"UK {short(s.uk)}"),
        "Bids": lambda s: str(s.one_of(0, 1, 4, 11)),
        "Watchers": lambda s: str(s.one_of(2, 7, 19)),
        "Start": lambda s: f"£{amount(s.share('0.3'))}",
        "Buy outright": lambda s: f"£{amount(s.share('1.3'), '.', ',')}",
        "Winning bid": lambda s: if_sold(s, f"£{amount(s.price, '.', ',')}"),
        "P&P": lambda s: if_sold(s, f"£{amount(SHIPPING)}"),
        "Buyer paid": lambda s: if_sold(s, f"£{amount(s.price + SHIPPING, '.', ',')}"),
        "Fees": lambda s: if_sold(s, f"-£{amount(s.share('0.10'), '.', ',')}"),
        "Net to you": lambda s: if_sold(s, f"£{amount(s.share('0.90'), '.', ',')}"),
        "Despatched": lambda s: if_sold(s, f"{s.paid:%d-%b-%Y}"),
        "How it ended": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="GBP",
    size=lambda s: f"UK {short(s.uk)}",
    truth="""
price = "Winning bid"
price_basis = "all-in"
tax = "none stated"
day = "Ended"
date_order = "any"
size = "Size"
size_system = "UK"
grade = "title"
status = "How it ended"
currency = "GBP"
ask = "Buy outright"
""",
    ideal="""
# This venue asks no buyer's premium: the winning bid is all that the buyer pays for the pair.
[maps.lastline]
venue = "Lastline Bids"
files = "lastline_seller_*.csv"
date_order = "dmy"
currency = "GBP"
price_basis = "all-in"
size_system = "UK"

[maps.lastline.columns]
closed_on = "Ended"
lot_ref = "Ref"
title = "Lot heading"
size_label = "Size"
ask_native = "Buy outright"
price_native = "Winning bid"
status = "How it ended"

[maps.lastline.status_words]
"Sold" = "sold"
"Ended, no bids" = "unsold"
"Relisted" = "unsold"
"Buyer did not pay" = "withdrawn"
"Sent back" = "withdrawn"
"Live" = "open"
""",
)

PAARBOGEN_NL = Export(
    file="paarbogen_nl_bestellingen.json",
    half="third",
    dealer="seekante",
    language="nl",
    count=36,
    layout=Layout(
        kind="json",
        nest="regels",
        order_columns=("bestelnummer", "besteld_op", "verzonden_op", "toestand", "valuta", "verzendkosten"),
    ),
    statuses={
        "afgerond": ("sold", 7),
        "geannuleerd": ("withdrawn", 1),
        "geretourneerd": ("withdrawn", 1),
        "gereserveerd": ("open", 1),
    },
    others=(("laces", "Platte veters 120 cm"), ("service", "Zolen lijmen"), ("quantity above 1", "")),
    columns={
        "bestelnummer": lambda s: s.code("NL", 7),
        "besteld_op": lambda s: moment(s, " "),
        "verzonden_op": lambda s: s.paid.isoformat(),
        "toestand": lambda s: s.word,
        "valuta": lambda s: "EUR",
        "verzendkosten": lambda s: 6.95,
        "regels.artikelnr": lambda s: f"SK{s.number:04}",
        "regels.omschrijving": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "regels.schoenmaat": lambda s: if_shoe(s, short(s.eu)),
        "regels.staat": lambda s: if_shoe(s, s.grade_word),
        "regels.aantal": lambda s: s.quantity,
        "regels.stuksprijs_excl": lambda s: cents(s.price / Decimal("1.21")),
        "regels.stuksprijs_incl": lambda s: s.price,
        "regels.regeltotaal": lambda s: s.price * s.quantity,
        "regels.bemiddeling": lambda s: s.share("0.09"),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu),
    truth="""
price = "regels.stuksprijs_incl"
price_basis = "all-in"
tax = "included"
day = "besteld_op"
date_order = "ymd"
size = "regels.schoenmaat"
size_system = "EU"
grade = "regels.staat"
status = "toestand"
currency_heading = "valuta"
ask = ""
""",
    ideal="""
# "toestand" is the state of the order, "staat" the condition. Wish: a line with `aantal` above 1 is no single pair.
[maps.paarbogennl]
venue = "Paarbogen"
files = "paarbogen_nl_*.json"
date_order = "ymd"
price_basis = "all-in"
quantity_price = "unit"
tax = "included"
size_system = "EU"

[maps.paarbogennl.columns]
sale_ref = "bestelnummer"
sold_on = "besteld_op"
status = "toestand"
currency = "valuta"
stock_ref = "regels.artikelnr"
title = "regels.omschrijving"
size_label = "regels.schoenmaat"
grade = "regels.staat"
price_native = "regels.stuksprijs_incl"
quantity = "regels.aantal"

[maps.paarbogennl.status_words]
"afgerond" = "sold"
"geannuleerd" = "withdrawn"
"geretourneerd" = "withdrawn"
"gereserveerd" = "open"
""",
)

THIRD = (ALMSTEIG, HARROW, TALLOWGATE, SECONDLAST, VITRINE, CAISSE, MONTEFOSCO, SUBASTAS, PAARBOGEN, TARG, MONTRA,
         NORDVIK, SKOBASAREN, FJORDLIA, PARIHYLLY, SAARELAN, UMIBE, BAZAR, LASTLINE, PAARBOGEN_NL)  # fmt: skip
