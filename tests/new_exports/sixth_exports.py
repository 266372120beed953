"""The sixth part of the invented exports, from twenty countries: what each writes, and what is right about it."""

from datetime import date, timedelta
from decimal import Decimal

from tests.new_exports.drawing import Export, Layout, Offer, amount, moment, short
from tests.new_exports.fifth_exports import _at_the_end, _grouped, _totals
from tests.new_exports.first_exports import euro, if_shoe, if_sold, spaced
from tests.new_exports.fourth_exports import columns_of, map_of, or_zero


def _dots(number: Decimal) -> str:
    """Return an amount without decimals, with dots between thousands."""
    return amount(number, ",", ".", 0)


def _pesos(number: Decimal) -> str:
    return f"$ {euro(number)}"


def _rupiah(number: Decimal) -> str:
    return f"Rp{_dots(number)}"


def _rand(number: Decimal) -> str:
    return f"R {amount(number, '.', ' ')}"


def _cut(offer: Offer, step: int = 5) -> Decimal:
    """Return what a shop took off the ask: about a tenth of the price for every third buyer, in round steps."""
    return _near(offer, "0.1", step) if offer.number % 3 == 0 else Decimal(0)


def _near(offer: Offer, rate: str, step: int = 10) -> Decimal:
    """Return a share of the price in round steps, as estimates, first bids and discounts are stated."""
    return Decimal(max(1, round(offer.price * Decimal(rate) / step)) * step)


def _session(offer: Offer, week: int) -> date:
    """Return the day of the month's auction: the Saturday of a week of the month, counted from zero."""
    first = offer.closed.replace(day=1)
    return first + timedelta(days=(5 - first.weekday()) % 7 + 7 * week)


def _part(offer: Offer, rate: int) -> Decimal:
    """Return the tax at a rate in per cent that is in a price."""
    return offer.share(str(Decimal(rate) / (100 + rate)))


BRANDRETH_MAP = {"venue": "Brandreth Live", "files": "brandreth_*.csv", "date_order": "mdy",
                 "price_basis": "hammer", "size_system": "US men"}  # fmt: skip
BRANDRETH_COLUMNS = {"lot_ref": "Lot Number", "title": "Lot Title", "grade": "Condition Report",
                     "ask_native": "Low Estimate", "price_native": "Hammer Price", "currency": "Currency",
                     "closed_on": "Sale Date", "status": "Lot Status"}  # fmt: skip
BRANDRETH = Export(
    file="brandreth_live_results.csv",
    half="sixth",
    dealer="tarnholm",
    language="en",
    count=48,
    step=10,
    layout=Layout(),
    statuses={
        "Sold": ("sold", 7),
        "Passed": ("unsold", 2),
        "Sold After Sale": ("sold", 1),
        "Withdrawn": ("withdrawn", 1),
    },
    others=(("bundle", "Lot of (4) pairs vintage sneakers, assorted sizes"), ("box", "Empty shoe box, Ferndell")),
    columns={
        "Sale Name": lambda s: f"Vintage Sneakers & Streetwear, {_session(s, 1):%B %Y}",
        "Sale Date": lambda s: f"{_session(s, 1):%m/%d/%Y}",
        "Lot Number": lambda s: str(100 + s.number),
        "Lot Title": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, US {us}, {box}"),
        "Condition Report": lambda s: if_shoe(s, s.put("{word}, {extra}")),
        "Low Estimate": lambda s: _grouped(_near(s, "0.8")),
        "High Estimate": lambda s: _grouped(_near(s, "1.2")),
        "Starting Bid": lambda s: _grouped(_near(s, "0.4")),
        "Hammer Price": lambda s: if_sold(s, _grouped(s.price)),
        "Buyer's Premium": lambda s: if_sold(s, _grouped(s.share("0.25"))),
        "Total Due": lambda s: if_sold(s, _grouped(s.share("1.25"))),
        "Currency": lambda s: "USD",
        "Paddle": lambda s: if_sold(s, s.code("", 4)),
        "Bidder Type": lambda s: if_sold(s, s.one_of("Online", "Online", "Floor", "Absentee", "Phone")),
        "Lot Status": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: _session(s, 1),
    currency="USD",
    size=lambda s: short(s.us),
    truth=columns_of(BRANDRETH_MAP, BRANDRETH_COLUMNS),
    ideal=map_of("brandreth", BRANDRETH_MAP, BRANDRETH_COLUMNS, sold="Sold|Sold After Sale", unsold="Passed",
                 withdrawn="Withdrawn"),
)  # fmt: skip

PAROKRAM_MAP = {"venue": "Парокрам", "files": "parokram_*.csv", "date_order": "dmy", "decimal_mark": ",",
                "currency": "UAH", "price_basis": "all-in", "size_system": "EU"}  # fmt: skip
PAROKRAM_COLUMNS = {"sale_ref": "№ замовлення", "title": "Назва товару", "size_label": "Розмір",
                    "grade": "Стан", "stock_ref": "Артикул", "price_native": "Ціна, грн", "sold_on": "Дата замовлення",
                    "status": "Статус"}  # fmt: skip
PAROKRAM = Export(
    file="parokram_zamovlennia.csv",
    half="sixth",
    dealer="tarnholm",
    language="uk",
    count=42,
    scale=Decimal(40),
    step=50,
    layout=Layout(delimiter=";", encoding="utf-8-sig"),
    statuses={
        "Виконано": ("sold", 8),
        "Скасовано": ("withdrawn", 1),
        "Повернено": ("withdrawn", 1),
    },
    others=(("laces", "Шнурки бавовняні 120 см"), ("service", "Чистка взуття, послуга")),
    columns={
        "№ замовлення": lambda s: str(7040 + s.number * 3),
        "Дата замовлення": lambda s: f"{s.closed:%d.%m.%Y} {s.clock[:5]}",
        "Назва товару": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Артикул": lambda s: s.code("PK-", 5),
        "Розмір": lambda s: if_shoe(s, short(s.eu, ",")),
        "Стан": lambda s: if_shoe(s, s.grade_word),
        "Ціна, грн": lambda s: spaced(s.price),
        "Комісія сервісу 8 %, грн": lambda s: spaced(s.share("0.08")),
        "До виплати, грн": lambda s: spaced(s.share("0.92")),
        "Доставка за рахунок покупця, грн": lambda s: spaced(Decimal(80 + 5 * (s.number % 7))),
        "ПІБ покупця": lambda s: s.person,
        "№ ТТН": lambda s: s.code("2045", 10),
        "Статус": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="UAH",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(PAROKRAM_MAP, PAROKRAM_COLUMNS),
    ideal=map_of("parokram", PAROKRAM_MAP, PAROKRAM_COLUMNS, sold="Виконано", cancelled="Скасовано",
                 returned="Повернено"),
)  # fmt: skip

LASTAVEC_MAP = {"venue": "Trgovina Lastavec", "files": "lastavec_*.xlsx", "header_row": 5,
                "currency": "EUR", "price_basis": "all-in", "tax": "margin", "size_system": "EU"}  # fmt: skip
LASTAVEC_COLUMNS = {"sale_ref": "Broj računa", "title": "Naziv artikla", "size_label": "Vel.", "stock_ref": "Šifra",
                    "price_native": "Prodajna cijena", "sold_on": "Datum"}  # fmt: skip
LASTAVEC = Export(
    file="lastavec_knjiga_racuna.xlsx",
    half="sixth",
    dealer="tarnholm",
    language="hr",
    count=36,
    first_day=date(2023, 2, 1),
    layout=Layout(
        kind="xlsx",
        sheet="Računi",
        above=(
            ("Trgovina Lastavec, obrt za trgovinu rabljenom obućom",),
            ("Knjiga izlaznih računa – poseban postupak oporezivanja marže",),
            ("Razdoblje: 01.02.2023. – 31.12.2023.",),
            ("Iznosi u EUR",),
        ),
        total_by=_at_the_end,
        total=_totals("", "UKUPNO", "", "", "", "", "", lambda total: total, "", "", "", ""),
    ),
    others=(("laces", "Vezice pamučne, bijele"), ("service", "Čišćenje obuće")),
    columns={
        "Rbr.": lambda s: s.number,
        "Broj računa": lambda s: f"{s.number + 210}-P1-1",
        "Datum": lambda s: s.closed,
        "Šifra": lambda s: s.code("A", 5),
        "Naziv artikla": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {word}, {box}, {extra}"),
        "Vel.": lambda s: s.eu if s.shoe else "",
        "Nabavna cijena": lambda s: s.share("0.45"),
        "Prodajna cijena": lambda s: s.price,
        "Razlika (marža)": lambda s: s.price - s.share("0.45"),
        "Osnovica": lambda s: s.share("0.55") - s.share("0.11"),
        "PDV 25 % na maržu": lambda s: s.share("0.11"),
        "Način plaćanja": lambda s: s.one_of("Gotovina", "Kartica", "Transakcijski račun"),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu),
    truth=columns_of(LASTAVEC_MAP, LASTAVEC_COLUMNS, "any"),
    ideal=map_of("lastavec", LASTAVEC_MAP, LASTAVEC_COLUMNS),
)

GRIMM_MAP = {"venue": "Altschuh Grimmbach", "files": "grimmbach_*.csv", "encoding": "cp1252", "date_order": "dmy",
             "decimal_mark": ",", "currency": "EUR", "price_basis": "all-in", "quantity_price": "line",
             "tax": "included", "size_system": "EU"}  # fmt: skip
GRIMM_COLUMNS = {"sale_ref": "Beleg-Nr.", "title": "Artikelbezeichnung", "quantity": "Menge",
                 "price_native": "Brutto", "sold_on": "Datum", "status": "Belegart"}  # fmt: skip
GRIMMBACH = Export(
    file="grimmbach_registrierkasse.csv",
    half="sixth",
    dealer="tarnholm",
    language="de",
    count=50,
    days_apart=4,
    layout=Layout(
        delimiter=";",
        encoding="cp1252",
        total_by=_at_the_end,
        total=_totals("Summe", "", "", "", "", "", "", euro, "", "", "", ""),
    ),
    statuses={"Barumsatz": ("sold", 1)},
    others=(
        ("laces", "Schuhbänder gewachst 120 cm"),
        ("service", "Reinigung inkl. Imprägnieren"),
        ("quantity above 1", "Ferndell Vantor Lo kupferfarben, zweite Serie, Gr. 42, gut"),
        ("refund", ""),
    ),
    columns={
        "Beleg-Nr.": lambda s: str(2200 + s.number),
        "Datum": lambda s: f"{s.closed:%d.%m.%Y}",
        "Uhrzeit": lambda s: s.clock[:5],
        "Belegart": lambda s: "Stornobeleg" if s.kind == "refund" else s.word,
        "Warengruppe": lambda s: "10 Schuhe gebraucht" if s.shoe else "90 Sonstiges",
        "Artikelbezeichnung": lambda s: s.put(
            "{maker} {silhouette} {colourway}, {era}, Gr. {euc}, {word}, {box}"
        ),
        "Menge": lambda s: str(-1 if s.kind == "refund" else s.quantity),
        "Brutto": lambda s: euro(s.price * s.quantity),
        "USt. %": lambda s: "20",
        "USt. Betrag": lambda s: euro(_part(s, 20) * s.quantity),
        "Netto": lambda s: euro((s.price - _part(s, 20)) * s.quantity),
        "Zahlart": lambda s: s.one_of("Bar", "Bankomat", "Kreditkarte"),
    },
    price=lambda s: s.price * s.quantity,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(GRIMM_MAP, GRIMM_COLUMNS),
    ideal=map_of("grimmbach", GRIMM_MAP, GRIMM_COLUMNS, sold="Barumsatz", refunded="Stornobeleg"),
)

DABRAVA_MAP = {"venue": "Аукционна къща Дъбрава", "files": "dabrava_*.csv", "encoding": "cp1251",
               "date_order": "dmy", "decimal_mark": ",", "currency": "BGN", "price_basis": "hammer",
               "size_system": "EU"}  # fmt: skip
DABRAVA_COLUMNS = {"lot_ref": "Лот №", "title": "Описание", "size_label": "Размер", "grade": "Състояние",
                   "ask_native": "Оценка от", "price_native": "Достигната цена", "closed_on": "Дата на търга",
                   "status": "Резултат"}  # fmt: skip
DABRAVA = Export(
    file="dabrava_rezultati.csv",
    half="sixth",
    dealer="tarnholm",
    language="bg",
    count=44,
    scale=Decimal(2),
    step=10,
    layout=Layout(delimiter=";", encoding="cp1251"),
    statuses={"Продаден": ("sold", 6), "Непродаден": ("unsold", 3), "Оттеглен": ("withdrawn", 1)},
    others=(("bundle", "Три чифта спортни обувки, различни размери"), ("box", "Празна кутия Ferndell")),
    columns={
        "Лот №": lambda s: str(s.number),
        "Описание": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Размер": lambda s: if_shoe(s, short(s.eu, ",")),
        "Състояние": lambda s: if_shoe(s, s.grade_word),
        "Оценка от": lambda s: f"{spaced(_near(s, '0.8', 20))} лв.",
        "Оценка до": lambda s: f"{spaced(_near(s, '1.3', 20))} лв.",
        "Начална цена": lambda s: f"{spaced(_near(s, '0.5', 20))} лв.",
        "Достигната цена": lambda s: if_sold(s, f"{spaced(s.price)} лв."),
        "Комисиона купувач 20 %": lambda s: if_sold(s, f"{spaced(s.share('0.2'))} лв."),
        "ДДС в/у комисионата": lambda s: if_sold(s, f"{spaced(s.share('0.04'))} лв."),
        "Всичко дължимо": lambda s: if_sold(s, f"{spaced(s.share('1.24'))} лв."),
        "Дата на търга": lambda s: f"{_session(s, 2):%d.%m.%Y} г.",
        "Резултат": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: _session(s, 2),
    currency="BGN",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(DABRAVA_MAP, DABRAVA_COLUMNS),
    ideal=map_of("dabrava", DABRAVA_MAP, DABRAVA_COLUMNS, sold="Продаден", unsold="Непродаден",
                 withdrawn="Оттеглен"),
)  # fmt: skip

HOUFFRAY_MAP = {"venue": "Atelier Houffray", "files": "houffray_*.csv", "encoding": "cp1252", "date_order": "dmy",
                "decimal_mark": ",", "price_basis": "all-in", "size_system": "EU"}  # fmt: skip
HOUFFRAY_COLUMNS = {"sale_ref": "N° de séquence", "title": "Communication", "price_native": "Montant",
                    "currency": "Devise", "sold_on": "Date d'exécution", "status": "Statut"}  # fmt: skip
HOUFFRAY = Export(
    file="houffray_extrait_de_compte.csv",
    half="sixth",
    dealer="tarnholm",
    language="fr",
    count=40,
    layout=Layout(delimiter=";", encoding="cp1252"),
    statuses={"Accepté": ("sold", 14), "Refusé": ("withdrawn", 1)},
    others=(
        ("expense", "Loyer atelier et cave"),
        ("expense", "Frais de tenue de compte"),
        ("expense", "Achat lot chaussures vide-grenier"),
        ("service", "Facture nettoyage et imprégnation"),
    ),
    columns={
        "N° de séquence": lambda s: f"{s.closed:%Y}-{s.number:04}",
        "Date d'exécution": lambda s: f"{s.closed:%d/%m/%Y}",
        "Date valeur": lambda s: f"{s.closed:%d/%m/%Y}",
        "Montant": lambda s: amount(-s.price if s.kind == "expense" else s.price, ","),
        "Devise": lambda s: "EUR",
        "Compte donneur d'ordre": lambda s: "BE00 0000 0415 0000",
        "Type de transaction": lambda s: "Virement émis" if s.kind == "expense" else "Virement reçu",
        "Contrepartie": lambda s: s.code("BE00 0000 ", 8),
        "Nom de la contrepartie": lambda s: s.person,
        "Communication": lambda s: s.put("{maker} {silhouette} {colourway} {era}, p. {euc}, {word}, {box}"),
        "Statut": lambda s: s.word,
        "Motif du refus": lambda s: "" if s.sold else "Provision insuffisante",
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(HOUFFRAY_MAP, HOUFFRAY_COLUMNS),
    ideal=map_of("houffray", HOUFFRAY_MAP, HOUFFRAY_COLUMNS, sold="Accepté", unpaid="Refusé"),
)

MONTHS = ("enero", "febrero", "marzo", "abril", "mayo", "junio", "julio", "agosto", "septiembre", "octubre",
          "noviembre", "diciembre")  # fmt: skip


def _post(offer: Offer) -> Decimal:
    """Return what the seller pays for the parcel: nothing for every third offer."""
    return Decimal(4500 if offer.number % 3 else 0)


QUILLAY_MAP = {"venue": "Feria Quillay", "files": "quillay_*.csv", "date_order": "dmy", "decimal_mark": ",",
               "currency": "ARS", "price_basis": "all-in", "size_system": "US men", "language": "es"}  # fmt: skip
QUILLAY_COLUMNS = {"sale_ref": "Nro. de venta", "title": "Publicación", "size_label": "Talle",
                   "grade": "Condición", "price_native": "Precio de venta", "sold_on": "Fecha de la venta",
                   "status": "Situación"}  # fmt: skip
QUILLAY = Export(
    file="quillay_mis_ventas.csv",
    half="sixth",
    dealer="tarnholm",
    language="es",
    count=45,
    scale=Decimal(900),
    step=1000,
    days_apart=4,
    layout=Layout(delimiter=";", above=(("Feria Quillay: mis ventas",), ("Generado el 2 de noviembre de 2026",))),
    statuses={
        "Entregada": ("sold", 8),
        "En camino": ("sold", 1),
        "Cancelada": ("withdrawn", 1),
        "Devuelta": ("withdrawn", 1),
    },
    others=(("laces", "Cordones encerados 120 cm"), ("box", "Caja vacía Quarrick")),
    columns={
        "Nro. de venta": lambda s: s.code("20000", 9),
        "Fecha de la venta": lambda s: (
            f"{s.closed.day} de {MONTHS[s.closed.month - 1]} de {s.closed.year} {s.clock[:5]} hs."
        ),
        "Situación": lambda s: s.word,
        "Publicación": lambda s: s.put("{maker} {silhouette} {colourway} {era} {box} {extra}"),
        "Talle": lambda s: if_shoe(s, f"{short(s.us)} US"),
        "Condición": lambda s: if_shoe(s, s.grade_word),
        "Precio de venta": lambda s: _pesos(s.price),
        "Cargo por vender": lambda s: _pesos(-s.share("0.13")),
        "IVA del cargo": lambda s: _pesos(-s.share("0.0273")),
        "Envío a tu cargo": lambda s: _pesos(-_post(s)),
        "Neto a cobrar": lambda s: _pesos(s.price - s.share("0.13") - s.share("0.0273") - _post(s)),
        "Comprador": lambda s: s.person,
        "Provincia": lambda s: s.one_of("Río Manso", "Alto Quillay", "La Vega Chica"),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="ARS",
    size=lambda s: short(s.us),
    truth=columns_of(QUILLAY_MAP, QUILLAY_COLUMNS, "any"),
    ideal=map_of("quillay", QUILLAY_MAP, QUILLAY_COLUMNS, sold="Entregada|En camino", cancelled="Cancelada",
                 returned="Devuelta"),
)  # fmt: skip


def _slovak(day: date) -> str:
    """Return a day as Slovaks write it, with spaces: 6. 2. 2022."""
    return f"{day.day}. {day.month}. {day.year}"


BOROVINA_MAP = {"venue": "Aukčný dom Borovina", "files": "borovina_*.csv", "encoding": "cp1250",
                "date_order": "dmy", "decimal_mark": ",", "currency": "EUR", "price_basis": "hammer",
                "size_system": "EU"}  # fmt: skip
BOROVINA_COLUMNS = {"lot_ref": "Pol. č.", "title": "Popis položky", "size_label": "Veľ. (EU)", "grade": "Stav",
                    "ask_native": "Odhad", "price_native": "Vydražená cena", "closed_on": "Dátum dražby",
                    "status": "Výsledok"}  # fmt: skip
BOROVINA = Export(
    file="borovina_vysledky_aukcii.csv",
    half="sixth",
    dealer="tarnholm",
    language="sk",
    count=42,
    layout=Layout(
        delimiter=";",
        encoding="cp1250",
        group=lambda s: f"{s.closed.month}. aukcia {s.closed.year}",
        group_column=1,
    ),
    statuses={"vydražené": ("sold", 7), "nevydražené": ("unsold", 2), "stiahnuté": ("withdrawn", 1)},
    others=(("bundle", "Konvolút piatich párov tenisiek"), ("single shoe", "Ferndell Vantor Hi, iba ľavá topánka")),
    columns={
        "Pol. č.": lambda s: str(s.number),
        "Popis položky": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Veľ. (EU)": lambda s: if_shoe(s, short(s.eu, ",")),
        "Stav": lambda s: if_shoe(s, s.grade_word),
        "Vyvolávacia cena": lambda s: f"{spaced(_near(s, '0.5'))} €",
        "Odhad": lambda s: f"{spaced(_near(s, '0.9'))} €",
        "Vydražená cena": lambda s: if_sold(s, f"{spaced(s.price)} €"),
        "Aukčná prirážka 18 %": lambda s: if_sold(s, f"{spaced(s.share('0.18'))} €"),
        "Cena s prirážkou": lambda s: if_sold(s, f"{spaced(s.share('1.18'))} €"),
        "Dátum dražby": lambda s: _slovak(_session(s, 2)),
        "Výsledok": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: _session(s, 2),
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(BOROVINA_MAP, BOROVINA_COLUMNS),
    ideal=map_of("borovina", BOROVINA_MAP, BOROVINA_COLUMNS, sold="vydražené", unsold="nevydražené",
                 withdrawn="stiahnuté"),
)  # fmt: skip


def _work(offer: Offer) -> Decimal:
    """Return what the work on a pair cost: nothing for most."""
    return Decimal(12 if offer.number % 4 == 0 else 0)


VALLE_MAP = {"venue": "Mercatino Vallescura", "files": "vallescura_*.ods", "currency": "EUR",
             "price_basis": "all-in", "size_system": "EU"}  # fmt: skip
VALLE_COLUMNS = {"title": "Modello", "size_label": "Tg.", "grade": "Condizioni", "box": "Scatola", "notes": "Note",
                 "ask_native": "Chiesto", "price_native": "Venduto a", "sold_on": "Data vendita",
                 "status": "Venduto?"}  # fmt: skip
VALLESCURA = Export(
    file="vallescura_mercatino.ods",
    half="sixth",
    dealer="tarnholm",
    language="it",
    count=38,
    layout=Layout(kind="ods", sheet="Scarpe"),
    statuses={"sì": ("sold", 5), "no": ("open", 1)},
    others=(("laces", "Lacci piatti cotone"), ("bundle", "Scatolone con 3 paia da rifare")),
    columns={
        "N.": lambda s: s.number,
        "Modello": lambda s: s.put("{maker} {silhouette} {colourway} {era}, {extra}"),
        "Tg.": lambda s: s.eu if s.shoe else "",
        "Condizioni": lambda s: if_shoe(s, s.grade_word),
        "Scatola": lambda s: if_shoe(s, s.box),
        "Comprato il": lambda s: s.offered,
        "Pagato": lambda s: s.share("0.4"),
        "Lavori": lambda s: _work(s) or "",
        "Chiesto": lambda s: s.price + _cut(s),
        "Venduto?": lambda s: s.word,
        "Data vendita": lambda s: if_sold(s, s.closed),
        "Venduto a": lambda s: if_sold(s, s.price),
        "Guadagno": lambda s: if_sold(s, s.price - s.share("0.4") - _work(s)),
        "Note": lambda s: s.one_of("", "", "", "cliente di Aldo", "mercato di domenica"),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu),
    truth=columns_of(VALLE_MAP, VALLE_COLUMNS, "any"),
    ideal=map_of("vallescura", VALLE_MAP, VALLE_COLUMNS, sold="sì", open="no"),
)

LAWAS_MAP = {"venue": "Pasar Sepatu Lawas", "files": "lawas_*.xlsx", "header_row": 4, "date_order": "ymd",
             "decimal_mark": ",", "currency": "IDR", "price_basis": "all-in", "quantity_price": "unit",
             "size_system": "EU"}  # fmt: skip
LAWAS_COLUMNS = {"sale_ref": "No. Pesanan", "title": "Nama Produk", "size_label": "Variasi", "quantity": "Jumlah",
                 "ask_native": "Harga Awal", "price_native": "Harga Setelah Diskon",
                 "sold_on": "Waktu Pembayaran", "status": "Status Pesanan"}  # fmt: skip
LAWAS = Export(
    file="lawas_laporan_penjualan.xlsx",
    half="sixth",
    dealer="tarnholm",
    language="id",
    count=44,
    scale=Decimal(16000),
    step=5000,
    days_apart=4,
    layout=Layout(
        kind="xlsx",
        sheet="Pesanan",
        above=(("Laporan Penjualan",), ("Toko: Tarnholm Pairs",), ("Periode: 01-02-2022 s/d 31-12-2022",)),
    ),
    statuses={
        "Selesai": ("sold", 8),
        "Dibatalkan": ("withdrawn", 1),
        "Dana Dikembalikan": ("withdrawn", 1),
    },
    others=(
        ("laces", "Tali sepatu katun 120 cm"),
        ("quantity above 1", "Lodestane Hobnall krem pasir, rilis ulang, baru, kotak asli"),
    ),
    columns={
        "No. Pesanan": lambda s: f"{s.closed:%y%m%d}{s.code('LWS', 4)}",
        "Status Pesanan": lambda s: s.word,
        "Waktu Pembayaran": lambda s: f"{s.closed:%Y-%m-%d} {s.clock[:5]}",
        "Nama Produk": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {word}, {box}, {extra}"),
        "Variasi": lambda s: if_shoe(s, f"EU {short(s.eu)}"),
        "Harga Awal": lambda s: _rupiah(s.price + _cut(s, 5000)),
        "Diskon Penjual": lambda s: _rupiah(_cut(s, 5000)),
        "Harga Setelah Diskon": lambda s: _rupiah(s.price),
        "Jumlah": lambda s: s.quantity,
        "Total Harga": lambda s: _rupiah(s.price * s.quantity),
        "Biaya Layanan 6,5%": lambda s: _rupiah(s.share("0.065") * s.quantity),
        "Ongkir Dibayar Pembeli": lambda s: _rupiah(Decimal(9000 + 1000 * (s.number % 9))),
        "Penghasilan Bersih": lambda s: _rupiah(s.price * s.quantity - s.share("0.065") * s.quantity),
        "Nama Pembeli": lambda s: s.person,
        "Catatan": lambda s: "",
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="IDR",
    size=lambda s: short(s.eu),
    truth=columns_of(LAWAS_MAP, LAWAS_COLUMNS),
    ideal=map_of("lawas", LAWAS_MAP, LAWAS_COLUMNS, sold="Selesai", cancelled="Dibatalkan",
                 refunded="Dana Dikembalikan"),
)  # fmt: skip

LEEST_MAP = {"venue": "Inbrengwinkel Leestkade", "files": "leestkade_*.xlsx", "header_row": 3,
             "currency": "EUR", "price_basis": "all-in", "size_system": "EU", "sheets": ["Afrekening"]}  # fmt: skip
LEEST_COLUMNS = {"lot_ref": "Inbrengnr.", "title": "Omschrijving", "size_label": "Mt.", "grade": "Staat",
                 "offered_on": "Ingebracht op", "ask_native": "Vraagprijs", "price_native": "Verkoopprijs",
                 "sold_on": "Verkocht op", "status": "Status"}  # fmt: skip
LEESTKADE = Export(
    file="leestkade_afrekening.xlsx",
    half="sixth",
    dealer="tarnholm",
    language="nl",
    count=40,
    layout=Layout(
        kind="xlsx",
        sheet="Afrekening",
        above=(("Inbrengwinkel Leestkade", "", "Afrekening inbrenger 0417"), ("Tarnholm Pairs", "", "2022")),
        notes=(
            ("Toelichting",),
            ("Commissie", "40 % van de verkoopprijs, plus 21 % btw"),
            ("Uitbetaling", "binnen 14 dagen na het einde van de maand"),
            ("Niet verkocht", "na 90 dagen op te halen"),
        ),
    ),
    statuses={"Verkocht": ("sold", 6), "Te koop": ("open", 1), "Opgehaald": ("withdrawn", 1)},
    others=(("box", "Lege doos Quarrick"), ("single shoe", "Losse linkerschoen Cobbin Mid")),
    columns={
        "Inbrengnr.": lambda s: f"0417-{s.number:03}",
        "Omschrijving": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Mt.": lambda s: if_shoe(s, short(s.eu, ",")),
        "Staat": lambda s: if_shoe(s, s.grade_word),
        "Ingebracht op": lambda s: s.offered,
        "Vraagprijs": lambda s: s.price + _cut(s),
        "Verkoopprijs": lambda s: if_sold(s, s.price),
        "Commissie 40 %": lambda s: if_sold(s, s.share("0.4")),
        "Btw commissie": lambda s: if_sold(s, s.share("0.084")),
        "Uit te betalen": lambda s: if_sold(s, s.share("0.516")),
        "Verkocht op": lambda s: if_sold(s, s.closed),
        "Status": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(LEEST_MAP, LEEST_COLUMNS, "any"),
    ideal=map_of(
        "leestkade", LEEST_MAP, LEEST_COLUMNS, sold="Verkocht", open="Te koop", withdrawn="Opgehaald"
    ),
)

AZUOL_MAP = {"venue": "Komisas Ąžuolynė", "files": "azuolyne_*.csv", "encoding": "cp1257", "date_order": "ymd",
             "decimal_mark": ",", "currency": "EUR", "price_basis": "all-in", "size_system": "EU"}  # fmt: skip
AZUOL_COLUMNS = {"lot_ref": "Sutarties Nr.", "title": "Prekės pavadinimas", "size_label": "Dydis",
                 "grade": "Būklė", "offered_on": "Priimta", "ask_native": "Prašoma kaina",
                 "price_native": "Pardavimo kaina", "sold_on": "Pardavimo data", "status": "Būsena"}  # fmt: skip
AZUOLYNE = Export(
    file="azuolyne_komitento_ataskaita.csv",
    half="sixth",
    dealer="tarnholm",
    language="lt",
    count=36,
    layout=Layout(delimiter=";", encoding="cp1257"),
    statuses={"Parduota": ("sold", 6), "Neparduota": ("unsold", 1), "Grąžinta komitentui": ("withdrawn", 1)},
    others=(("laces", "Batraiščiai medvilniniai"), ("service", "Batų valymas")),
    columns={
        "Sutarties Nr.": lambda s: f"K-{s.number + 330}",
        "Prekės pavadinimas": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Dydis": lambda s: if_shoe(s, short(s.eu, ",")),
        "Būklė": lambda s: if_shoe(s, s.grade_word),
        "Priimta": lambda s: f"{s.offered:%Y-%m-%d}",
        "Prašoma kaina": lambda s: amount(s.price + _cut(s), ","),
        "Pardavimo data": lambda s: if_sold(s, f"{s.closed:%Y-%m-%d}"),
        "Pardavimo kaina": lambda s: if_sold(s, amount(s.price, ",")),
        "Komisinis 30 %": lambda s: if_sold(s, amount(s.share("0.3"), ",")),
        "Mokėtina suma": lambda s: if_sold(s, amount(s.share("0.7"), ",")),
        "Būsena": lambda s: s.word,
        "Pastabos": lambda s: "",
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(AZUOL_MAP, AZUOL_COLUMNS),
    ideal=map_of("azuolyne", AZUOL_MAP, AZUOL_COLUMNS, sold="Parduota", unsold="Neparduota",
                 withdrawn="Grąžinta komitentui"),
)  # fmt: skip

GESHER_MAP = {"venue": "חנות גשר-ים", "files": "gesheryam_*.csv", "date_order": "dmy", "currency": "ILS",
              "price_basis": "all-in", "tax": "included", "size_system": "EU"}  # fmt: skip
GESHER_COLUMNS = {"sale_ref": "מס' הזמנה", "title": "שם המוצר", "size_label": "מידה", "grade": "מצב",
                  "stock_ref": 'מק"ט', "price_native": 'סה"כ לתשלום', "sold_on": "תאריך",
                  "status": "סטטוס"}  # fmt: skip
GESHERYAM = Export(
    file="gesheryam_hazmanot.csv",
    half="sixth",
    dealer="tarnholm",
    language="he",
    count=36,
    scale=Decimal(4),
    step=10,
    layout=Layout(encoding="utf-8-sig"),
    statuses={"הושלמה": ("sold", 8), "בוטלה": ("withdrawn", 1), "זוכתה": ("withdrawn", 1)},
    others=(("laces", "שרוכי כותנה לבנים"), ("service", "ניקוי נעליים")),
    columns={
        "מס' הזמנה": lambda s: str(s.number + 5100),
        "תאריך": lambda s: f"{s.closed:%d/%m/%Y}",
        "שם הלקוח": lambda s: s.person,
        'מק"ט': lambda s: s.code("", 5),
        "שם המוצר": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "מידה": lambda s: if_shoe(s, short(s.eu)),
        "מצב": lambda s: if_shoe(s, s.grade_word),
        'מחיר לפני מע"מ': lambda s: f"₪{_grouped(s.price - _part(s, 17))}",
        'מע"מ 17%': lambda s: f"₪{_grouped(_part(s, 17))}",
        'סה"כ לתשלום': lambda s: f"₪{_grouped(s.price)}",
        "אמצעי תשלום": lambda s: s.one_of("אשראי", "מזומן", "העברה בנקאית"),
        "סטטוס": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="ILS",
    size=lambda s: short(s.eu),
    truth=columns_of(GESHER_MAP, GESHER_COLUMNS),
    ideal=map_of("gesheryam", GESHER_MAP, GESHER_COLUMNS, sold="הושלמה", cancelled="בוטלה", refunded="זוכתה"),
)

SOSNO_MAP = {"venue": "Dom Aukcyjny Sosnobrzeg", "files": "sosnobrzeg_*.html", "date_order": "dmy",
             "decimal_mark": ",", "currency": "PLN", "price_basis": "hammer", "size_system": "EU"}  # fmt: skip
SOSNO_COLUMNS = {"lot_ref": "Poz.", "title": "Opis obiektu", "size_label": "Rozm.", "grade": "Stan zach.",
                 "ask_native": "Estymacja od", "price_native": "Cena uzyskana", "closed_on": "Data aukcji",
                 "status": "Wynik"}  # fmt: skip
SOSNOBRZEG = Export(
    file="sosnobrzeg_wyniki.html",
    half="sixth",
    dealer="tarnholm",
    language="pl",
    count=40,
    scale=Decimal(4),
    step=50,
    layout=Layout(kind="html", encoding="iso-8859-2", above=(("Wyniki aukcji obuwia kolekcjonerskiego",),)),
    statuses={"sprzedany": ("sold", 7), "niesprzedany": ("unsold", 3), "wycofany": ("withdrawn", 1)},
    others=(("bundle", "Zestaw czterech par butów sportowych"), ("box", "Puste pudełko Lodestane")),
    columns={
        "Poz.": lambda s: str(s.number),
        "Opis obiektu": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Rozm.": lambda s: if_shoe(s, short(s.eu, ",")),
        "Stan zach.": lambda s: if_shoe(s, s.grade_word),
        "Cena wyw.": lambda s: f"{amount(_near(s, '0.5', 50), ',', ' ', 0)} zł",
        "Estymacja od": lambda s: f"{amount(_near(s, '0.8', 50), ',', ' ', 0)} zł",
        "Estymacja do": lambda s: f"{amount(_near(s, '1.2', 50), ',', ' ', 0)} zł",
        "Cena uzyskana": lambda s: f"{amount(s.price, ',', ' ', 0)} zł" if s.sold else "-",
        "Opłata aukcyjna 18%": lambda s: f"{spaced(s.share('0.18'))} zł" if s.sold else "-",
        "Do zapłaty": lambda s: f"{spaced(s.share('1.18'))} zł" if s.sold else "-",
        "Data aukcji": lambda s: f"{_session(s, 1):%d.%m.%Y}",
        "Wynik": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: _session(s, 1),
    currency="PLN",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(SOSNO_MAP, SOSNO_COLUMNS),
    ideal=map_of("sosnobrzeg", SOSNO_MAP, SOSNO_COLUMNS, sold="sprzedany", unsold="niesprzedany",
                 withdrawn="wycofany"),
)  # fmt: skip

BANSUAN_MAP = {"venue": "ร้านรองเท้าบ้านสวน", "files": "bansuan_*.csv", "date_order": "dmy", "currency": "THB",
               "price_basis": "all-in", "tax": "included", "size_system": "EU"}  # fmt: skip
BANSUAN_COLUMNS = {"sale_ref": "เลขที่ใบเสร็จ", "title": "รายการสินค้า", "size_label": "ไซส์", "grade": "สภาพ",
                   "ask_native": "ราคาตั้ง", "price_native": "ราคาขายสุทธิ", "sold_on": "วันที่"}  # fmt: skip
BANSUAN = Export(
    file="bansuan_yodkhai.csv",
    half="sixth",
    dealer="tarnholm",
    language="th",
    count=36,
    scale=Decimal(38),
    step=50,
    layout=Layout(
        encoding="utf-8-sig",
        above=(("รายงานยอดขาย ร้านรองเท้าบ้านสวน",),),
        total_by=_at_the_end,
        total=_totals("รวม", "", "", "", "", "", "", _grouped, "", "", ""),
    ),
    others=(("laces", "เชือกรองเท้าผ้าฝ้าย"), ("service", "บริการซักรองเท้า"), ("refund", "")),
    columns={
        "เลขที่ใบเสร็จ": lambda s: f"RC{(s.closed.year + 543) % 100}{s.closed.month:02}-{s.number:04}",
        "วันที่": lambda s: f"{s.closed:%d/%m}/{s.closed.year + 543}",
        "รายการสินค้า": lambda s: s.put("{maker} {silhouette} {colourway} {era} {box} {extra}"),
        "ไซส์": lambda s: if_shoe(s, short(s.eu)),
        "สภาพ": lambda s: if_shoe(s, s.grade_word),
        "ราคาตั้ง": lambda s: _grouped(s.price + _cut(s, 50)),
        "ส่วนลด": lambda s: _grouped(_cut(s, 50)),
        "ราคาขายสุทธิ": lambda s: _grouped(s.price),
        "มูลค่าก่อน VAT": lambda s: _grouped(s.price - _part(s, 7)),
        "VAT 7%": lambda s: _grouped(_part(s, 7)),
        "ชำระโดย": lambda s: s.one_of("เงินสด", "โอน", "บัตรเครดิต"),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="THB",
    size=lambda s: short(s.eu),
    truth=columns_of(BANSUAN_MAP, BANSUAN_COLUMNS),
    ideal=map_of("bansuan", BANSUAN_MAP, BANSUAN_COLUMNS),
)

KAREE_MAP = {"venue": "Kareebosch Auctions", "files": "kareebosch_*.csv", "header_row": 4, "date_order": "dmy",
             "currency": "ZAR", "price_basis": "hammer", "size_system": "UK"}  # fmt: skip
KAREE_COLUMNS = {"lot_ref": "Lot", "title": "Description", "size_label": "Size", "price_native": "Hammer",
                 "closed_on": "Sale Date", "status": "Result"}  # fmt: skip
KAREEBOSCH = Export(
    file="kareebosch_vendor_statement.csv",
    half="sixth",
    dealer="tarnholm",
    language="en",
    count=40,
    scale=Decimal(20),
    step=100,
    layout=Layout(
        above=(
            ("Kareebosch Auctions (Pty) Ltd",),
            ("Vendor Statement", "Vendor 2290", "Tarnholm Pairs"),
            ("All amounts in ZAR",),
        ),
        total_by=_at_the_end,
        total=_totals(
            "TOTAL",
            "",
            "",
            "",
            _rand,
            lambda total: _rand(total * Decimal("0.1")),
            lambda total: _rand(total * Decimal("0.015")),
            lambda total: _rand(total * Decimal("0.01")),
            lambda total: _rand(total * Decimal("0.875")),
            "",
            "",
        ),
    ),
    statuses={"Sold": ("sold", 7), "Unsold": ("unsold", 2), "W/D": ("withdrawn", 1)},
    others=(("bundle", "Five pairs various takkies, as found"), ("laces", "Waxed laces, box of 12")),
    columns={
        "Lot": lambda s: str(s.number + 300),
        "Description": lambda s: s.put("{maker} {silhouette}, {colourway}, {era}, {word}, {box}, {extra}"),
        "Size": lambda s: if_shoe(s, f"UK {short(s.uk)}"),
        "Reserve": lambda s: _rand(_near(s, "0.7", 100)),
        "Hammer": lambda s: or_zero(s, _rand),
        "Comm @ 10%": lambda s: or_zero(s, _rand, "0.1"),
        "VAT on Comm": lambda s: or_zero(s, _rand, "0.015"),
        "Insurance @ 1%": lambda s: or_zero(s, _rand, "0.01"),
        "Nett to Vendor": lambda s: or_zero(s, _rand, "0.875"),
        "Sale Date": lambda s: f"{_session(s, 3):%d %b %Y}",
        "Result": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: _session(s, 3),
    currency="ZAR",
    size=lambda s: short(s.uk),
    truth=columns_of(KAREE_MAP, KAREE_COLUMNS, "any"),
    ideal=map_of("kareebosch", KAREE_MAP, KAREE_COLUMNS, sold="Sold", unsold="Unsold", withdrawn="W/D"),
)

ROCA_MAP = {"venue": "Subhastes Rocamora", "files": "rocamora_*.tsv", "date_order": "dmy", "decimal_mark": ",",
            "currency": "EUR", "price_basis": "hammer", "size_system": "EU"}  # fmt: skip
ROCA_COLUMNS = {"lot_ref": "Núm. de lot", "title": "Descripció", "size_label": "Talla", "grade": "Conservació",
                "ask_native": "Estimació mín.", "price_native": "Preu de remat",
                "closed_on": "Data de la subhasta", "status": "Resultat"}  # fmt: skip
ROCAMORA = Export(
    file="rocamora_resultats.tsv",
    half="sixth",
    dealer="tarnholm",
    language="ca",
    count=42,
    step=10,
    layout=Layout(delimiter="\t"),
    statuses={"Adjudicat": ("sold", 7), "Desert": ("unsold", 3), "Retirat": ("withdrawn", 1)},
    others=(("bundle", "Lot de sis parells de sabatilles"), ("laces", "Cordons encerats")),
    columns={
        "Núm. de lot": lambda s: str(s.number + 40),
        "Data de la subhasta": lambda s: f"{_session(s, 3):%d-%m-%Y}",
        "Descripció": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Talla": lambda s: if_shoe(s, short(s.eu, ",")),
        "Conservació": lambda s: if_shoe(s, s.grade_word),
        "Preu de sortida": lambda s: f"{euro(_near(s, '0.5', 20))} €",
        "Estimació mín.": lambda s: f"{euro(_near(s, '0.8', 20))} €",
        "Estimació màx.": lambda s: f"{euro(_near(s, '1.2', 20))} €",
        "Preu de remat": lambda s: if_sold(s, f"{euro(s.price)} €"),
        "Comissió comprador 22 %": lambda s: if_sold(s, f"{euro(s.share('0.22'))} €"),
        "IVA comissió 21 %": lambda s: if_sold(s, f"{euro(s.share('0.0462'))} €"),
        "Total comprador": lambda s: if_sold(s, f"{euro(s.price + s.share('0.22') + s.share('0.0462'))} €"),
        "Resultat": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: _session(s, 3),
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(ROCA_MAP, ROCA_COLUMNS),
    ideal=map_of("rocamora", ROCA_MAP, ROCA_COLUMNS, sold="Adjudicat", unsold="Desert", withdrawn="Retirat"),
)

MIO_MAP = {"venue": "フリマ澪町", "files": "miomachi_*.jsonl", "date_order": "ymd", "currency": "JPY",
           "price_basis": "all-in", "size_system": "JP"}  # fmt: skip
MIO_COLUMNS = {"sale_ref": "transaction_id", "title": "item_name", "size_label": "size",
               "grade": "item_condition", "offered_on": "listed_at",
               "price_native": "selling_price", "sold_on": "purchased_at", "status": "transaction_status"}  # fmt: skip
MIOMACHI = Export(
    file="miomachi_torihiki.jsonl",
    half="sixth",
    dealer="tarnholm",
    language="ja",
    count=44,
    scale=Decimal(160),
    step=100,
    layout=Layout(kind="jsonl"),
    statuses={"取引完了": ("sold", 9), "キャンセル": ("withdrawn", 1)},
    others=(("laces", "シューレース 120cm 白"), ("box", "Quarrick 空箱のみ")),
    columns={
        "transaction_id": lambda s: s.code("m", 10),
        "item_name": lambda s: s.put("{maker} {silhouette} {colourway} {era} {box} {extra}"),
        "size": lambda s: f"{short(s.cm)}cm" if s.shoe else None,
        "item_condition": lambda s: s.grade_word if s.shoe else None,
        "listed_at": lambda s: f"{s.offered}T12:00:00+09:00",
        "purchased_at": lambda s: f"{moment(s)}+09:00",
        "selling_price": lambda s: int(s.price),
        "sales_fee": lambda s: int(s.share("0.1")),
        "shipping_fee": lambda s: 850 if s.shoe else 230,
        "sales_profit": lambda s: int(s.price) - int(s.share("0.1")) - (850 if s.shoe else 230),
        "shipping_method": lambda s: s.one_of("宅配便", "コンパクト便"),
        "transaction_status": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="JPY",
    size=lambda s: short(s.cm),
    truth=columns_of(MIO_MAP, MIO_COLUMNS),
    ideal=map_of("miomachi", MIO_MAP, MIO_COLUMNS, sold="取引完了", cancelled="キャンセル"),
)

BENLAU_MAP = {"venue": "Tiệm Giày Bến Lau", "files": "benlau_*.json", "date_order": "ymd", "currency": "VND",
              "price_basis": "all-in", "quantity_price": "unit", "size_system": "EU",
              "records": "orders.line_items"}  # fmt: skip
BENLAU_COLUMNS = {"sale_ref": "order_code", "title": "line_items.product_name", "stock_ref": "line_items.sku",
                  "size_label": "line_items.variant", "quantity": "line_items.quantity",
                  "price_native": "line_items.unit_price", "sold_on": "created_on",
                  "status": "order_status"}  # fmt: skip
BENLAU = Export(
    file="benlau_don_hang.json",
    half="sixth",
    dealer="tarnholm",
    language="vi",
    count=46,
    scale=Decimal(27000),
    step=10000,
    layout=Layout(
        kind="json",
        nest="line_items",
        order_columns=(
            "order_code",
            "created_on",
            "customer_name",
            "payment_method",
            "shipping_fee",
            "total_price",
            "order_status",
        ),
    ),
    statuses={"Hoàn thành": ("sold", 8), "Đã hủy": ("withdrawn", 1), "Trả hàng": ("withdrawn", 1)},
    others=(
        ("laces", "Dây giày cotton 120 cm"),
        ("quantity above 1", "Quarrick Sallow 2 màu cát, tái bản, mới, hộp gốc"),
    ),
    columns={
        "order_code": lambda s: f"DH{s.number + 1000:05}",
        "created_on": lambda s: f"{moment(s)}+07:00",
        "customer_name": lambda s: s.person,
        "payment_method": lambda s: s.one_of("COD", "Chuyển khoản", "Thẻ"),
        "shipping_fee": lambda s: 30000,
        "total_price": lambda s: int(s.order_total) + 30000,
        "order_status": lambda s: s.word,
        "line_items.sku": lambda s: s.code("GC", 5),
        "line_items.product_name": lambda s: s.put(
            "{maker} {silhouette} {colourway}, {era}, {word}, {box}, {extra}"
        ),
        "line_items.variant": lambda s: if_shoe(s, f"EU {short(s.eu)}"),
        "line_items.quantity": lambda s: s.quantity,
        "line_items.unit_price": lambda s: int(s.price),
        "line_items.line_total": lambda s: int(s.price) * s.quantity,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="VND",
    size=lambda s: short(s.eu),
    truth=columns_of(BENLAU_MAP, BENLAU_COLUMNS),
    ideal=map_of(
        "benlau", BENLAU_MAP, BENLAU_COLUMNS, sold="Hoàn thành", cancelled="Đã hủy", returned="Trả hàng"
    ),
)

EYRAR_MAP = {"venue": "Básinn Eyrarvík", "files": "eyrarvik_*.csv", "encoding": "cp1252", "date_order": "dmy",
             "decimal_mark": ",", "currency": "ISK", "price_basis": "all-in", "tax": "included",
             "size_system": "EU"}  # fmt: skip
EYRAR_COLUMNS = {"sale_ref": "Nr. kvittunar", "title": "Lýsing", "size_label": "Stærð", "grade": "Ástand",
                 "notes": "Ath.", "ask_native": "Ásett verð", "price_native": "Söluverð m. vsk",
                 "sold_on": "Dags."}  # fmt: skip
EYRARVIK = Export(
    file="eyrarvik_sala.csv",
    half="sixth",
    dealer="tarnholm",
    language="is",
    count=34,
    scale=Decimal(145),
    step=500,
    layout=Layout(
        delimiter=";",
        encoding="cp1252",
        total_by=_at_the_end,
        total=_totals("Samtals", "", "", "", "", "", "", _dots, "", "", ""),
    ),
    others=(("laces", "Skóreimar 120 cm"), ("service", "Skóhreinsun"), ("refund", "")),
    columns={
        "Dags.": lambda s: f"{s.closed.day}.{s.closed.month}.{s.closed.year}",
        "Nr. kvittunar": lambda s: str(s.number + 880),
        "Lýsing": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Stærð": lambda s: if_shoe(s, short(s.eu, ",")),
        "Ástand": lambda s: if_shoe(s, s.grade_word),
        "Ásett verð": lambda s: _dots(s.price + _cut(s, 500)),
        "Afsl.": lambda s: _dots(_cut(s, 500)) if _cut(s, 500) else "",
        "Söluverð m. vsk": lambda s: _dots(s.price),
        "Þar af vsk 24%": lambda s: _dots(_part(s, 24)),
        "Greitt með": lambda s: s.one_of("Kort", "Reiðufé", "Millifærsla"),
        "Ath.": lambda s: "Skilað" if s.kind == "refund" else "",
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="ISK",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(EYRAR_MAP, EYRAR_COLUMNS),
    ideal=map_of("eyrarvik", EYRAR_MAP, EYRAR_COLUMNS),
)

SIXTH = (BRANDRETH, PAROKRAM, LASTAVEC, GRIMMBACH, DABRAVA, HOUFFRAY, QUILLAY, BOROVINA, VALLESCURA, LAWAS,
         LEESTKADE, AZUOLYNE, GESHERYAM, SOSNOBRZEG, BANSUAN, KAREEBOSCH, ROCAMORA, MIOMACHI, BENLAU,
         EYRARVIK)  # fmt: skip
