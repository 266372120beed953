"""The third part of the invented exports: what each writes, and what is right about it. Rules may be tuned with it."""

from decimal import Decimal

from babel.dates import format_date

from tests.new_exports.drawing import Export, Layout, amount, cents, short
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
# Wish: no column of words: a lot without a day of sale and a price was not sold.
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
sale_ref = "Réf. annonce"
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
# All lines are sold. Wish: a line with "Qté" above 1 is no single pair.
[maps.caisse]
venue = "Boutique Valdombre"
files = "valdombre_journal_*.csv"
date_order = "dmy"
decimal_mark = ","
currency = "EUR"
price_basis = "all-in"
tax = "included"
size_system = "EU"

[maps.caisse.columns]
sale_ref = "Ticket"
sold_on = "Horodatage"
stock_ref = "Code article"
title = "Libellé article"
size_label = "Pointure FR"
price_native = "P.U. TTC"
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
sale_ref = "Nr oferty"
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

THIRD = (ALMSTEIG, HARROW, TALLOWGATE, SECONDLAST, VITRINE, CAISSE, MONTEFOSCO, SUBASTAS, PAARBOGEN, TARG)
