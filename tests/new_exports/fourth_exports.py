"""The fourth part of the invented exports, in twelve languages: what each writes, and what is right about it."""

import json
from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import Any

from babel.dates import format_date

from tests.new_exports.drawing import Export, Layout, Offer, amount, cents, moment, short
from tests.new_exports.first_exports import euro, if_shoe, if_sold, spaced

POSTAGE = Decimal("7.90")
"""What a venue charges for sending a pair, in the currency of a scale of one."""


def map_of(name: str, settings: dict[str, Any], columns: dict[str, str], **words: str) -> str:
    """Return an ideal map as the market file has it; `words` are status words by what they mean."""
    said = {f'"{word}"': meaning for meaning, each in words.items() for word in each.split("|")}
    tables = {"": settings, ".columns": columns, **({".status_words": said} if said else {})}
    return "\n".join(
        f"[maps.{name}{part}]\n"
        + "".join(f"{key} = {json.dumps(value, ensure_ascii=False)}\n" for key, value in table.items())
        for part, table in tables.items()
    )


def columns_of(settings: dict[str, Any], columns: dict[str, str], order: str = "") -> str:
    """Return what the columns of an export mean, as its ideal map says; `order` is given where none can err."""
    stated = columns.get("currency")
    said = {
        "price": columns["price_native"],
        "price_basis": settings["price_basis"],
        "tax": settings.get("tax", "none stated"),
        "day": columns.get("sold_on", columns.get("closed_on", "")),
        "date_order": order or settings.get("date_order", "ymd"),
        "size": columns.get("size_label", "title"),
        "size_system": settings.get("size_system", ""),
        "grade": columns.get("grade", "title"),
        "status": columns.get("status", ""),
        "currency_heading" if stated else "currency": stated or settings.get("currency", ""),
        "ask": columns.get("ask_native", ""),
    }
    return "\n".join(f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in said.items())


def or_zero(offer: Offer, write: Callable[[Decimal], str], share: str = "1") -> str:
    """Return an amount of a sale; a ledger writes zero where there was none."""
    return write(offer.share(share) if offer.sold else Decimal(0))


def _whole(number: Decimal) -> str:
    """Return an amount without decimals, with a space between thousands."""
    return amount(number, ",", " ", 0)


def _indian(number: Decimal) -> str:
    """Return an amount with the Indian grouping: 1,25,000.00."""
    whole, places = f"{number:.2f}".lstrip("-").split(".")
    head, tail = whole[:-3], whole[-3:]
    while head:
        head, tail = head[:-2], f"{head[-2:]},{tail}"
    return f"{'-' if number < 0 else ''}₹{tail}.{places}"


def _stars(offer: Offer) -> str:
    """Return one to five stars."""
    full = round(offer.grade / 2)
    return "★" * full + "☆" * (5 - full)


def _minor(number: Decimal) -> str:
    """Return an amount in minor units: 12550 for 125.50."""
    return str(int(number * 100))


HARS = {"venue": "Hársligeti Árverező", "files": "harsliget_*.csv", "encoding": "cp1250", "date_order": "ymd",
        "decimal_mark": ",", "currency": "HUF", "price_basis": "hammer", "size_system": "EU"}  # fmt: skip
HARS_COLUMNS = {"lot_ref": "Tétel", "title": "Megnevezés", "size_label": "Méret", "grade": "Állapot",
                "price_native": "Leütési ár", "closed_on": "Árverés napja", "status": "Eredmény"}  # fmt: skip
HARSLIGET = Export(
    file="harsliget_elszamolas.csv",
    half="fourth",
    dealer="tresmar",
    language="hu",
    count=38,
    scale=Decimal(380),
    step=500,
    layout=Layout(delimiter=";", encoding="cp1250", above=(("Elszámolás a beadott tételekről",), ("",))),
    statuses={"elkelt": ("sold", 7), "nem kelt el": ("unsold", 2), "visszavonva": ("withdrawn", 1)},
    others=(("laces", "Viaszolt cipőfűző, 3 pár"), ("bundle", "Vegyes tétel: 4 pár viseltes cipő")),
    columns={
        "Tétel": lambda s: str(s.number),
        "Beadó": lambda s: s.code("B", 4),
        "Megnevezés": lambda s: s.put("{maker} {silhouette}, {colourway}, {era}, {box}, {extra}"),
        "Méret": lambda s: if_shoe(s, short(s.eu, ",")),
        "Állapot": lambda s: if_shoe(s, s.grade_word),
        "Kikiáltási ár": lambda s: _whole(s.share("0.5")),
        "Leütési ár": lambda s: or_zero(s, _whole),
        "Vételi jutalék 18%": lambda s: or_zero(s, _whole, "0.18"),
        "Vevő fizet": lambda s: or_zero(s, _whole, "1.18"),
        "Beadói jutalék": lambda s: or_zero(s, _whole, "-0.12"),
        "Beadónak jár": lambda s: or_zero(s, _whole, "0.88"),
        "Árverés napja": lambda s: f"{s.closed:%Y. %m. %d.}",
        "Kifizetve": lambda s: if_sold(s, f"{s.paid:%Y. %m. %d.}"),
        "Eredmény": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="HUF",
    size=lambda s: short(s.eu),
    truth=columns_of(HARS, HARS_COLUMNS),
    ideal=map_of("hars", HARS, HARS_COLUMNS, sold="elkelt", unsold="nem kelt el", withdrawn="visszavonva"),
)

TAS = {"venue": "Taşlıkule Ayakkabı", "files": "taslikule_*.xlsx", "header_row": 3, "date_order": "dmy",
       "currency": "TRY", "price_basis": "all-in", "quantity_price": "unit", "tax": "included",
       "size_system": "EU"}  # fmt: skip
TAS_COLUMNS = {"sold_on": "Tarih", "stock_ref": "Stok Kodu", "title": "Ürün Adı", "size_label": "Numara",
               "quantity": "Adet", "price_native": "Birim Fiyat (KDV Dahil)"}  # fmt: skip
TASLIKULE = Export(
    file="taslikule_kasa_raporu.xlsx",
    half="fourth",
    dealer="tresmar",
    language="tr",
    count=36,
    scale=Decimal(38),
    step=50,
    layout=Layout(kind="xlsx", sheet="Satışlar", above=(("Kasa satış raporu", "", "Şube: Taşlıkule"), ("",))),
    others=(("laces", "Mumlu bağcık 120 cm"), ("service", "Taban yapıştırma"), ("quantity above 1", "")),
    columns={
        "Fiş No": lambda s: f"F{s.number:06}",
        "Tarih": lambda s: f"{s.closed:%d.%m.%Y} {s.clock[:5]}",
        "Stok Kodu": lambda s: f"TK-{s.number:04}",
        "Ürün Adı": lambda s: s.put("{maker} {silhouette} {colourway} {era} {word} {box}"),
        "Numara": lambda s: if_shoe(s, short(s.eu, ",")),
        "Adet": lambda s: s.quantity,
        "Birim Fiyat (KDV Dahil)": lambda s: s.price,
        "KDV %": lambda s: 20,
        "KDV Tutarı": lambda s: cents(s.price * s.quantity / 6),
        "Satır Tutarı": lambda s: s.price * s.quantity,
        "Ödeme Şekli": lambda s: s.one_of("Nakit", "Kredi Kartı", "Havale"),
        "Kasiyer": lambda s: s.one_of("K1", "K2"),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="TRY",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(TAS, TAS_COLUMNS),
    ideal=map_of("taslikule", TAS, TAS_COLUMNS),
)

GREEK_MONTHS = ("Ιανουαρίου", "Φεβρουαρίου", "Μαρτίου", "Απριλίου", "Μαΐου", "Ιουνίου", "Ιουλίου", "Αυγούστου",
                "Σεπτεμβρίου", "Οκτωβρίου", "Νοεμβρίου", "Δεκεμβρίου")  # fmt: skip


def _greek_month(offers: Sequence[Offer]) -> list[str]:
    net = sum((cents(each.price / Decimal("1.24")) for each in offers), Decimal(0))
    gross = sum((each.price for each in offers), Decimal(0))
    day = offers[0].closed
    named = f"Σύνολο {GREEK_MONTHS[day.month - 1]} {day.year}"
    return ["", "", named, "", euro(net), euro(gross - net), euro(gross), ""]


KAL = {"venue": "Καλαφάτης Παλιά Παπούτσια", "files": "kalafatis_*.txt", "date_order": "dmy",
       "decimal_mark": ",", "currency": "EUR", "price_basis": "all-in", "tax": "included",
       "size_system": "EU"}  # fmt: skip
KAL_COLUMNS = {"sale_ref": "Αρ. Παραστατικού", "sold_on": "Ημερομηνία", "title": "Περιγραφή είδους",
               "size_label": "Νούμερο", "price_native": "Συνολική αξία"}  # fmt: skip
KALAFATIS = Export(
    file="kalafatis_timologia.txt",
    half="fourth",
    dealer="tresmar",
    language="el",
    count=40,
    layout=Layout(
        delimiter="\t",
        encoding="utf-16",
        total_by=lambda s: f"{s.closed:%Y-%m}",
        total=_greek_month,
    ),
    others=(("laces", "Κορδόνια κερωμένα 120 εκ."), ("service", "Κόλλημα σόλας")),
    columns={
        "Αρ. Παραστατικού": lambda s: f"ΑΠΥ-{s.number:05}",
        "Ημερομηνία": lambda s: f"{s.closed.day}/{s.closed.month}/{s.closed.year}",
        "Περιγραφή είδους": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {word}, {box}"),
        "Νούμερο": lambda s: if_shoe(s, short(s.eu, ",")),
        "Καθαρή αξία": lambda s: euro(cents(s.price / Decimal("1.24"))),
        "ΦΠΑ 24%": lambda s: euro(s.price - cents(s.price / Decimal("1.24"))),
        "Συνολική αξία": lambda s: euro(s.price),
        "Τρόπος πληρωμής": lambda s: s.one_of("Μετρητά", "Κάρτα"),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(KAL, KAL_COLUMNS),
    ideal=map_of("kalafatis", KAL, KAL_COLUMNS),
)

GAR = {"venue": "Garam Shoe Market", "files": "garam_*.csv", "encoding": "cp949", "currency": "KRW",
       "price_basis": "all-in", "size_system": "mm"}  # fmt: skip
GAR_COLUMNS = {"sale_ref": "주문번호", "title": "상품명", "size_label": "사이즈", "grade": "상태등급",
               "price_native": "판매금액", "sold_on": "구매확정일", "offered_on": "등록일",
               "status": "거래상태"}  # fmt: skip
GARAM = Export(
    file="garam_jeongsan.csv",
    half="fourth",
    dealer="tresmar",
    language="ko",
    count=40,
    scale=Decimal(1400),
    step=1000,
    layout=Layout(encoding="cp949"),
    statuses={
        "거래완료": ("sold", 8),
        "주문취소": ("withdrawn", 1),
        "환불완료": ("withdrawn", 1),
        "판매중": ("open", 1),
    },
    others=(("laces", "왁스 신발끈 3개 세트"), ("box only", "빈 박스만")),
    columns={
        "번호": lambda s: str(s.number),
        "주문번호": lambda s: s.code("G", 9),
        "등록일": lambda s: f"{s.offered:%Y-%m-%d}",
        "상품명": lambda s: s.put("{maker} {silhouette} {colourway} {era} {box} {extra}"),
        "사이즈": lambda s: if_shoe(s, f"{int(s.cm * 10)}"),
        "상태등급": lambda s: if_shoe(s, s.grade_word),
        "판매금액": lambda s: if_sold(s, f"{amount(s.price, '.', ',', 0)}원"),
        "배송비": lambda s: if_sold(s, "3,000원"),
        "판매수수료": lambda s: if_sold(s, f"-{amount(s.share('0.08'), '.', ',', 0)}원"),
        "정산금액": lambda s: if_sold(s, f"{amount(s.share('0.92'), '.', ',', 0)}원"),
        "구매확정일": lambda s: if_sold(s, f"{s.closed:%Y-%m-%d}"),
        "정산일": lambda s: if_sold(s, f"{s.paid:%Y-%m-%d}"),
        "거래상태": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="KRW",
    size=lambda s: f"{int(s.cm * 10)}",
    truth=columns_of(GAR, GAR_COLUMNS, "any"),
    ideal=map_of(
        "garam", GAR, GAR_COLUMNS, sold="거래완료", cancelled="주문취소", refunded="환불완료", open="판매중"
    ),
)

TSU = {"venue": "Tsuen Fung Auctions", "files": "tsuenfung_*.csv", "currency": "HKD",
       "price_basis": "hammer", "size_system": "JP"}  # fmt: skip
TSU_COLUMNS = {"lot_ref": "拍品編號", "title": "拍品名稱", "size_label": "尺碼(cm)", "grade": "品相",
               "ask_native": "估價下限", "price_native": "落槌價", "closed_on": "結標時間",
               "status": "結果"}  # fmt: skip
TSUENFUNG = Export(
    file="tsuenfung_paimai.csv",
    half="fourth",
    dealer="tresmar",
    language="zh",
    count=42,
    scale=Decimal("8.5"),
    step=50,
    layout=Layout(encoding="utf-8-sig"),
    statuses={"成交": ("sold", 7), "流標": ("unsold", 3), "撤拍": ("withdrawn", 1), "棄標": ("withdrawn", 1)},
    others=(("bundle", "舊鞋五雙合售"), ("laces", "鞋帶兩條")),
    columns={
        "拍品編號": lambda s: f"TF{s.closed:%y}-{s.number:03}",
        "拍品名稱": lambda s: s.put("{maker} {silhouette} {colourway} {era} {box} {extra}"),
        "尺碼(cm)": lambda s: if_shoe(s, short(s.cm)),
        "品相": lambda s: if_shoe(s, s.grade_word),
        "估價下限": lambda s: f"HK${amount(s.share('0.8'), '.', ',', 0)}",
        "估價上限": lambda s: f"HK${amount(s.share('1.3'), '.', ',', 0)}",
        "出價次數": lambda s: str(s.one_of(0, 3, 8, 15)) if not s.sold else str(s.one_of(2, 7, 12)),
        "落槌價": lambda s: if_sold(s, f"HK${amount(s.price, '.', ',', 0)}"),
        "買家佣金": lambda s: if_sold(s, f"HK${amount(s.share('0.2'), '.', ',')}"),
        "應付總額": lambda s: if_sold(s, f"HK${amount(s.share('1.2'), '.', ',')}"),
        "結標時間": lambda s: f"{s.closed.year}/{s.closed.month}/{s.closed.day} {s.clock[:5]}",
        "付款日期": lambda s: if_sold(s, f"{s.paid.year}/{s.paid.month}/{s.paid.day}"),
        "結果": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="HKD",
    size=lambda s: short(s.cm),
    truth=columns_of(TSU, TSU_COLUMNS),
    ideal=map_of(
        "tsuenfung", TSU, TSU_COLUMNS, sold="成交", unsold="流標", withdrawn="撤拍", cancelled="棄標"
    ),
)

VAL = {"venue": "Consignația Valea Lungă", "files": "valea_lunga_*.csv", "date_order": "dmy",
       "decimal_mark": ",", "currency": "RON", "price_basis": "all-in", "size_system": "EU"}  # fmt: skip
VAL_COLUMNS = {"offered_on": "Data primirii", "title": "Denumire produs", "size_label": "Mărime",
               "grade": "Stare", "ask_native": "Preț afișat", "price_native": "Preț de vânzare",
               "sold_on": "Data vânzării", "status": "Situație"}  # fmt: skip
VALEA = Export(
    file="valea_lunga_decont.csv",
    half="fourth",
    dealer="tresmar",
    language="ro",
    count=38,
    scale=Decimal(5),
    step=10,
    layout=Layout(delimiter=";", encoding="utf-8-sig"),
    statuses={"Vândut": ("sold", 7), "La raft": ("open", 2), "Restituit deponentului": ("withdrawn", 1)},
    others=(("laces", "Șireturi cerate"), ("service", "Curățare și lustruire")),
    columns={
        "Nr. crt.": lambda s: str(s.number),
        "Data primirii": lambda s: f"{s.offered:%d.%m.%Y}",
        "Deponent": lambda s: s.code("D", 3),
        "Denumire produs": lambda s: s.put("{maker} {silhouette} {colourway} {era} {box} {extra}"),
        "Mărime": lambda s: if_shoe(s, short(s.eu, ",")),
        "Stare": lambda s: if_shoe(s, s.grade_word),
        "Preț afișat": lambda s: f"{euro(s.share('1.1'))} lei",
        "Preț de vânzare": lambda s: if_sold(s, f"{euro(s.price)} lei"),
        "Comision 30%": lambda s: if_sold(s, f"{euro(s.share('0.3'))} lei"),
        "De plată deponent": lambda s: if_sold(s, f"{euro(s.share('0.7'))} lei"),
        "Data vânzării": lambda s: if_sold(s, f"{s.closed:%d.%m.%Y}"),
        "Data plății": lambda s: if_sold(s, f"{s.paid:%d.%m.%Y}"),
        "Situație": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="RON",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(VAL, VAL_COLUMNS),
    ideal=map_of(
        "valea", VAL, VAL_COLUMNS, sold="Vândut", open="La raft", withdrawn="Restituit deponentului"
    ),
)

LOJ = {"venue": "Lojapar Vila Serena", "files": "lojapar_*.csv", "currency": "BRL",
       "price_basis": "all-in"}  # fmt: skip
LOJ_COLUMNS = {"sale_ref": "id_transacao", "title": "descricao", "price_native": "valor_bruto_centavos",
               "sold_on": "data_venda", "status": "situacao"}  # fmt: skip
LOJAPAR = Export(
    file="lojapar_repasses.csv",
    half="fourth",
    dealer="tresmar",
    language="pt",
    count=40,
    scale=Decimal(6),
    step=10,
    statuses={"aprovado": ("sold", 8), "estornado": ("withdrawn", 1), "recusado": ("withdrawn", 1)},
    others=(("laces", "Cadarço encerado 120 cm"), ("refund", "")),
    columns={
        "id_transacao": lambda s: s.code("tx_", 10),
        "tipo": lambda s: "estorno" if s.kind == "refund" else "venda",
        "descricao": lambda s: s.put("{maker} {silhouette} {colourway} {era} tam. EU {eu} {word} {box}"),
        "valor_bruto_centavos": lambda s: _minor(s.price),
        "tarifa_centavos": lambda s: _minor(-s.share("0.09")),
        "valor_liquido_centavos": lambda s: _minor(s.share("0.91")),
        "parcelas": lambda s: str(s.one_of(1, 1, 3, 6)),
        "data_venda": lambda s: f"{moment(s)}-03:00",
        "data_repasse": lambda s: s.paid.isoformat(),
        "situacao": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="BRL",
    size=lambda s: short(s.eu),
    truth=columns_of({**LOJ, "size_system": "EU"}, LOJ_COLUMNS),
    ideal="# Wish: amounts in minor units, a hundred to one of the currency.\n"
    + map_of("lojapar", LOJ, LOJ_COLUMNS, sold="aprovado", refunded="estornado", withdrawn="recusado"),
)

LYS = {"venue": "Lysholm Auktioner", "files": "lysholm_*.ods", "header_row": 4, "date_order": "dmy",
       "currency": "DKK", "price_basis": "hammer", "size_system": "EU"}  # fmt: skip
LYS_COLUMNS = {"lot_ref": "Kat.nr.", "title": "Genstand", "size_label": "Str.", "ask_native": "Vurdering fra",
               "price_native": "Hammerslag", "closed_on": "Auktionsdag", "status": "Udfald"}  # fmt: skip
LYSHOLM = Export(
    file="lysholm_afregning.ods",
    half="fourth",
    dealer="tresmar",
    language="da",
    count=36,
    scale=Decimal(7),
    step=50,
    layout=Layout(
        kind="ods", sheet="Afregning", above=(("Lysholm Auktioner",), ("Afregning til indlevererne",), ("",))
    ),
    statuses={"Solgt": ("sold", 7), "Tilbagekøbt": ("unsold", 2), "Udgået": ("withdrawn", 1)},
    others=(("bundle", "Parti: 6 par løbesko, brugte"), ("box only", "Tomme æsker")),
    columns={
        "Kat.nr.": lambda s: s.number,
        "Indl.nr.": lambda s: s.code("I", 4),
        "Genstand": lambda s: s.put("{silhouette} fra {maker}, {colourway}, {era}, {word}, {box}, {extra}"),
        "Str.": lambda s: if_shoe(s, short(s.eu, ",")),
        "Vurdering fra": lambda s: cents(s.share("0.7")),
        "Vurdering til": lambda s: cents(s.share("1.2")),
        "Hammerslag": lambda s: if_sold(s, s.price),
        "Køberens salær": lambda s: if_sold(s, s.share("0.25")),
        "Købers pris i alt": lambda s: if_sold(s, s.share("1.25")),
        "Sælgers salær": lambda s: if_sold(s, -s.share("0.15")),
        "Til udbetaling": lambda s: if_sold(s, s.share("0.85")),
        "Indleveret": lambda s: s.offered,
        "Auktionsdag": lambda s: s.closed,
        "Udfald": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="DKK",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(LYS, LYS_COLUMNS, "any"),
    ideal=map_of(
        "lysholm", LYS, {**LYS_COLUMNS, "offered_on": "Indleveret"},
        sold="Solgt", unsold="Tilbagekøbt", withdrawn="Udgået",
    ),
)  # fmt: skip

POD = {"venue": "Bazar Podhora", "files": "podhora_*.xlsx", "date_order": "dmy", "currency": "CZK",
       "price_basis": "all-in", "tax": "margin", "size_system": "EU"}  # fmt: skip
POD_COLUMNS = {"stock_ref": "Ev. číslo", "title": "Zboží", "size_label": "Vel.", "grade": "Stav",
               "sold_on": "Datum prodeje", "price_native": "Prodejní cena"}  # fmt: skip
PODHORA = Export(
    file="podhora_zvlastni_rezim.xlsx",
    half="fourth",
    dealer="tresmar",
    language="cs",
    count=36,
    scale=Decimal(25),
    step=50,
    layout=Layout(kind="xlsx", sheet="Evidence", below=(("Celkem", "", "", "", "", "", "", "", "", ""),)),
    others=(("laces", "Tkaničky voskované"), ("service", "Čištění")),
    columns={
        "Ev. číslo": lambda s: f"P{s.closed:%y}{s.number:04}",
        "Zboží": lambda s: s.put("{maker} {silhouette} {colourway} {era} {box} {extra}"),
        "Vel.": lambda s: s.eu if s.shoe else "",
        "Stav": lambda s: if_shoe(s, s.grade_word),
        "Datum nákupu": lambda s: s.offered,
        "Nákupní cena": lambda s: s.share("0.55"),
        "Datum prodeje": lambda s: s.closed,
        "Prodejní cena": lambda s: s.price,
        "Přirážka": lambda s: s.price - s.share("0.55"),
        "DPH 21 % z přirážky": lambda s: cents((s.price - s.share("0.55")) * 21 / 121),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="CZK",
    size=lambda s: short(s.eu),
    truth=columns_of(POD, POD_COLUMNS, "any"),
    ideal=map_of("podhora", {k: v for k, v in POD.items() if k != "date_order"}, POD_COLUMNS),
)

KIV = {"venue": "Kivisalon Kenkä", "files": "kivisalo_*.csv", "date_order": "dmy", "decimal_mark": ",",
       "price_basis": "all-in", "size_system": "EU"}  # fmt: skip
KIV_COLUMNS = {"stock_ref": "Nro", "title": "Tuote", "size_label": "Koko", "grade": "Kunto",
               "price_native": "Myyntihinta", "currency": "Valuutta", "offered_on": "Myyntiin",
               "sold_on": "Myyty", "status": "Tilanne"}  # fmt: skip
KIVISALO = Export(
    file="kivisalo_myyntikirja.csv",
    half="fourth",
    dealer="tresmar",
    language="fi",
    count=40,
    layout=Layout(delimiter=";"),
    statuses={"myyty": ("sold", 8), "hyllyssä": ("open", 2), "poistettu myynnistä": ("withdrawn", 1)},
    others=(("laces", "Vahatut nauhat"), ("service", "Pohjan liimaus")),
    columns={
        "Nro": lambda s: f"K{s.number:04}",
        "Tuote": lambda s: s.put("{maker} {silhouette} {colourway} {era} {box} {extra}"),
        "Koko": lambda s: if_shoe(s, short(s.eu, ",")),
        "Kunto": lambda s: if_shoe(s, s.grade_word),
        "Ostohinta": lambda s: spaced(s.share("0.5")),
        "Myyntihinta": lambda s: or_zero(s, spaced),
        "Valuutta": lambda s: ("EUR", "SEK", "NOK")[s.number % 5 % 3],
        "Myyntiin": lambda s: f"{s.offered.day}.{s.offered.month}.{s.offered.year}",
        "Myyty": lambda s: if_sold(s, f"{s.closed.day}.{s.closed.month}.{s.closed.year}"),
        "Maksutapa": lambda s: if_sold(s, s.one_of("käteinen", "kortti")),
        "Tilanne": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency=lambda s: ("EUR", "SEK", "NOK")[s.number % 5 % 3],
    size=lambda s: short(s.eu, ","),
    truth=columns_of(KIV, KIV_COLUMNS),
    ideal=map_of(
        "kivisalo", KIV, KIV_COLUMNS, sold="myyty", open="hyllyssä", withdrawn="poistettu myynnistä"
    ),
)

MIR = {"venue": "Mirkot Shoe House", "files": "mirkot_*.csv", "header_row": 3, "date_order": "dmy",
       "currency": "INR", "price_basis": "all-in", "quantity_price": "line", "tax": "included",
       "size_system": "UK"}  # fmt: skip
MIR_COLUMNS = {"sold_on": "Vch Date", "sale_ref": "Vch No.", "title": "Particulars", "size_label": "UK Size",
               "quantity": "Qty (prs)", "price_native": "Bill Value"}  # fmt: skip
MIRKOT = Export(
    file="mirkot_sales_register_fy24.csv",
    half="fourth",
    dealer="tresmar",
    language="en",
    count=38,
    scale=Decimal(95),
    step=500,
    layout=Layout(above=(("Mirkot Shoe House - Sales Register",), ("1-Apr-2022 to 31-Oct-2026",))),
    others=(("laces", "Waxed laces, three sets"), ("quantity above 1", "")),
    columns={
        "Vch Date": lambda s: f"{s.closed.day}-{s.closed:%b-%y}",
        "Vch No.": lambda s: f"MSH/{s.number:04}",
        "Particulars": lambda s: s.put("{maker} {silhouette} {colourway} {era} {word} {box}"),
        "UK Size": lambda s: if_shoe(s, short(s.uk)),
        "Qty (prs)": lambda s: str(s.quantity),
        "Rate": lambda s: _indian(cents(s.price / Decimal("1.18"))),
        "Taxable Value": lambda s: _indian(cents(s.price * s.quantity / Decimal("1.18"))),
        "CGST @9%": lambda s: _indian(cents(s.price * s.quantity / Decimal("1.18") * Decimal("0.09"))),
        "SGST @9%": lambda s: _indian(cents(s.price * s.quantity / Decimal("1.18") * Decimal("0.09"))),
        "Bill Value": lambda s: _indian(s.price * s.quantity),
        "Mode": lambda s: s.one_of("Cash", "Card", "UPI transfer"),
    },
    price=lambda s: s.price * s.quantity,
    day=lambda s: s.closed,
    currency="INR",
    size=lambda s: short(s.uk),
    truth=columns_of(MIR, MIR_COLUMNS, "any"),
    ideal=map_of("mirkot", MIR, MIR_COLUMNS),
)

RUE = {"venue": "Schuhkontor Rütiwil", "files": "ruetiwil_*.xls", "date_order": "dmy", "currency": "CHF",
       "price_basis": "all-in", "tax": "included", "size_system": "EU"}  # fmt: skip
RUE_COLUMNS = {"sale_ref": "Beleg", "sold_on": "Verkauft am", "title": "Artikelbezeichnung",
               "size_label": "Grösse", "grade": "Zustand", "price_native": "Betrag inkl. MWST"}  # fmt: skip
RUETIWIL = Export(
    file="ruetiwil_verkaufsjournal.xls",
    half="fourth",
    dealer="tresmar",
    language="de",
    count=36,
    scale=Decimal(4),
    layout=Layout(kind="html", encoding="utf-8", below=(("", "", "Total", "", "", "", "", "", ""),)),
    others=(("laces", "Schuhbändel gewachst"), ("service", "Sohle geleimt")),
    columns={
        "Beleg": lambda s: f"{s.closed:%y}/{s.number:04}",
        "Verkauft am": lambda s: f"{s.closed:%d.%m.%Y}",
        "Artikelbezeichnung": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Grösse": lambda s: if_shoe(s, short(s.eu)),
        "Zustand": lambda s: if_shoe(s, _stars(s)),
        "Verkaufspreis": lambda s: f"Fr. {amount(s.share('1.05'), '.', chr(39))}",
        "Rabatt": lambda s: f"Fr. {amount(-s.share('0.05'), '.', chr(39))}",
        "Betrag inkl. MWST": lambda s: f"Fr. {amount(s.price, '.', chr(39))}",
        "davon MWST 8.1%": lambda s: f"Fr. {amount(cents(s.price * Decimal('0.081') / Decimal('1.081')))}",
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="CHF",
    size=lambda s: short(s.eu),
    truth=columns_of(RUE, RUE_COLUMNS),
    ideal=map_of("ruetiwil", RUE, RUE_COLUMNS),
)

RAV = {"venue": "Ravenhythe Direct", "files": "ravenhythe_*.json", "price_basis": "all-in",
       "quantity_price": "unit", "size_system": "US men"}  # fmt: skip
RAV_COLUMNS = {"sale_ref": "ref", "sold_on": "placedAt", "status": "state", "currency": "currencyCode",
               "title": "items.name", "size_label": "items.usSize", "grade": "items.conditionScore",
               "quantity": "items.qty", "price_native": "items.unitPrice"}  # fmt: skip
RAVENHYTHE = Export(
    file="ravenhythe_orders.json",
    half="fourth",
    dealer="tresmar",
    language="en",
    count=38,
    layout=Layout(
        kind="json",
        nest="items",
        order_columns=("ref", "placedAt", "state", "currencyCode", "shippingFee", "orderTotal", "paidAt"),
    ),
    statuses={
        "COMPLETED": ("sold", 8),
        "CANCELLED_BY_BUYER": ("withdrawn", 1),
        "FULLY_REFUNDED": ("withdrawn", 1),
        "AWAITING_PAYMENT": ("open", 1),
    },
    others=(("laces", "Rope laces, two sets"), ("quantity above 1", "")),
    columns={
        "ref": lambda s: s.code("RD", 7),
        "placedAt": lambda s: f"{moment(s)}Z",
        "state": lambda s: s.word,
        "currencyCode": lambda s: "USD",
        "shippingFee": lambda s: POSTAGE,
        "orderTotal": lambda s: s.order_total + POSTAGE,
        "paidAt": lambda s: f"{s.paid.isoformat()}T09:00:00Z",
        "items.name": lambda s: s.put("{maker} {silhouette} {colourway} {era} {box} {extra}"),
        "items.usSize": lambda s: s.us if s.shoe else None,
        "items.conditionScore": lambda s: s.grade if s.shoe else None,
        "items.qty": lambda s: s.quantity,
        "items.listPrice": lambda s: s.share("1.2"),
        "items.unitPrice": lambda s: s.price,
        "items.lineTotal": lambda s: s.price * s.quantity,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="USD",
    size=lambda s: short(s.us),
    graded=True,
    truth=columns_of(RAV, {**RAV_COLUMNS, "ask_native": "items.listPrice"}),
    ideal=map_of(
        "ravenhythe", RAV, {**RAV_COLUMNS, "ask_native": "items.listPrice"},
        sold="COMPLETED", open="AWAITING_PAYMENT",
    ),
)  # fmt: skip

PEL = {"venue": "Pell Street Listings", "files": "pell_street_*.tsv", "date_order": "dmy",
       "currency": "GBP", "price_basis": "all-in", "size_system": "UK"}  # fmt: skip
PEL_COLUMNS = {"lot_ref": "Our ref", "title": "Headline", "size_label": "UK", "grade": "Cond /10",
               "offered_on": "First listed", "ask_native": "Asked", "price_native": "Fetched",
               "closed_on": "Ended", "status": "How it ended"}  # fmt: skip
PELL = Export(
    file="pell_street_relists.tsv",
    half="fourth",
    dealer="tresmar",
    language="en",
    count=44,
    layout=Layout(delimiter="\t"),
    statuses={
        "Sold": ("sold", 8),
        "Not sold - relisted": ("unsold", 3),
        "Taken down": ("withdrawn", 1),
        "Sold, buyer backed out": ("withdrawn", 1),
    },
    others=(("laces", "Cotton laces, bundle of five"), ("single shoe", "Left shoe only, Orrick, moss green")),
    columns={
        "Our ref": lambda s: f"PS{s.number:04}",
        "Headline": lambda s: s.put("{silhouette} {maker} {colourway} {era} {box} {extra}"),
        "UK": lambda s: if_shoe(s, short(s.uk)),
        "Cond /10": lambda s: if_shoe(s, short(s.grade)),
        "First listed": lambda s: f"{s.offered:%d/%m/%y}",
        "Times listed": lambda s: str(s.one_of(1, 1, 2, 3)),
        "Asked": lambda s: amount(s.share("1.15"), ".", ","),
        "Fetched": lambda s: or_zero(s, lambda number: amount(number, ".", ",")),
        "Listing fee": lambda s: "0.35",
        "Final fee": lambda s: or_zero(s, lambda number: amount(number, ".", ","), "0.10"),
        "In hand": lambda s: amount(s.share("0.9") - Decimal("0.35") if s.sold else Decimal("-0.35")),
        "Ended": lambda s: f"{s.closed:%d/%m/%y}",
        "How it ended": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="GBP",
    size=lambda s: short(s.uk),
    graded=True,
    truth=columns_of(PEL, PEL_COLUMNS),
    ideal=map_of(
        "pell", PEL, PEL_COLUMNS,
        sold="Sold", unsold="Not sold - relisted", withdrawn="Taken down", cancelled="Sold, buyer backed out",
    ),
)  # fmt: skip

WEN = {"venue": "Altschuh Wendelau", "files": "wendelau_*.csv", "date_order": "dmy", "decimal_mark": ",",
       "currency": "EUR", "price_basis": "all-in"}  # fmt: skip
WEN_COLUMNS = {"sold_on": "Belegdatum", "sale_ref": "Belegnr.", "title": "Buchungstext",
               "price_native": "Haben"}  # fmt: skip
WENDELAU = Export(
    file="wendelau_erloeskonto.csv",
    half="fourth",
    dealer="tresmar",
    language="de",
    count=40,
    layout=Layout(
        delimiter=";",
        encoding="utf-8-sig",
        above=(("Kontoblatt 8400 Erlöse Schuhe",), ("",)),
        group=lambda s: f"Monat {s.closed:%m/%Y}",
        group_column=3,
    ),
    others=(("laces", "Senkel gewachst"), ("service", "Sohle geklebt"), ("refund", "")),
    columns={
        "Belegdatum": lambda s: f"{s.closed:%d.%m.%Y}",
        "Belegnr.": lambda s: f"RE{s.number:05}",
        "Gegenkonto": lambda s: s.one_of("1000", "1200", "1360"),
        "Buchungstext": lambda s: s.put("{maker} {silhouette} {colourway} {era} Gr. EU {euc} {word} {box}"),
        "Soll": lambda s: euro(-s.price) if s.price < 0 else "",
        "Haben": lambda s: euro(s.price) if s.price > 0 else "",
        "S": lambda s: "3",
        "USt": lambda s: euro(cents(s.price * Decimal("0.19") / Decimal("1.19"))),
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth=columns_of({**WEN, "size_system": "", "tax": "included"}, WEN_COLUMNS),
    ideal='# Wish: the amount in "Soll" takes back an earlier sale.\n'
    + map_of("wendelau", {**WEN, "tax": "included"}, WEN_COLUMNS),
)

GUL = {"venue": "Gülpınar Müzayede", "files": "gulpinar_*.html", "date_order": "dmy", "language": "tr",
       "decimal_mark": ",", "currency": "TRY", "price_basis": "hammer", "size_system": "EU"}  # fmt: skip
GUL_COLUMNS = {"lot_ref": "Lot", "title": "Ürün", "size_label": "Numara", "grade": "Kondisyon",
               "ask_native": "Tahmini değer", "price_native": "Çekiç fiyatı",
               "closed_on": "Müzayede tarihi", "status": "Sonuç"}  # fmt: skip
GULPINAR = Export(
    file="gulpinar_muzayede_sonuclari.html",
    half="fourth",
    dealer="tresmar",
    language="tr",
    count=38,
    scale=Decimal(38),
    step=50,
    layout=Layout(kind="html", encoding="cp1254"),
    statuses={"Satıldı": ("sold", 7), "Satılmadı": ("unsold", 2), "Geri çekildi": ("withdrawn", 1)},
    others=(("bundle", "Karışık 5 çift ayakkabı"), ("laces", "Bağcık seti")),
    columns={
        "Lot": lambda s: str(s.number),
        "Ürün": lambda s: s.put("{maker} {silhouette} {colourway}, {era}, {box}, {extra}"),
        "Numara": lambda s: if_shoe(s, short(s.eu, ",")),
        "Kondisyon": lambda s: if_shoe(s, s.grade_word),
        "Açılış fiyatı": lambda s: f"{euro(s.share('0.5'))} TL",
        "Tahmini değer": lambda s: f"{euro(s.share('0.8'))} - {euro(s.share('1.2'))} TL",
        "Çekiç fiyatı": lambda s: if_sold(s, f"{euro(s.price)} TL"),
        "Alıcı komisyonu (%15)": lambda s: if_sold(s, f"{euro(s.share('0.15'))} TL"),
        "Alıcının ödediği": lambda s: if_sold(s, f"{euro(s.share('1.15'))} TL"),
        "Müzayede tarihi": lambda s: format_date(s.closed, "d MMMM y", "tr"),
        "Sonuç": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="TRY",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(GUL, GUL_COLUMNS, "any"),
    ideal=map_of(
        "gulpinar", {k: v for k, v in GUL.items() if k != "date_order"}, GUL_COLUMNS,
        sold="Satıldı", unsold="Satılmadı", withdrawn="Geri çekildi",
    ),
)  # fmt: skip

CIP = {"venue": "Cipőpad", "files": "cipopad_*.jsonl", "currency": "HUF", "price_basis": "all-in",
       "size_system": "EU"}  # fmt: skip
CIP_COLUMNS = {"lot_ref": "hirdetes_azonosito", "title": "cim", "size_label": "eu_meret",
               "grade": "allapot", "offered_on": "feladva", "ask_native": "iranyar",
               "price_native": "eladasi_ar", "closed_on": "lezarva", "status": "statusz"}  # fmt: skip
CIPOPAD = Export(
    file="cipopad_hirdetesek.jsonl",
    half="fourth",
    dealer="tresmar",
    language="hu",
    count=42,
    scale=Decimal(380),
    step=500,
    layout=Layout(kind="jsonl"),
    statuses={
        "eladva": ("sold", 7),
        "lejárt": ("unsold", 2),
        "törölve": ("withdrawn", 1),
        "aktív": ("open", 1),
    },
    others=(("laces", "Cipőfűző csomag"), ("single shoe", "Csak bal cipő, Orrick")),
    columns={
        "hirdetes_azonosito": lambda s: s.code("CP", 8),
        "cim": lambda s: s.put("{silhouette} {maker} {colourway} {era} {box} {extra}"),
        "eu_meret": lambda s: s.eu if s.shoe else None,
        "allapot": lambda s: s.grade_word if s.shoe else None,
        "feladva": lambda s: s.offered.isoformat(),
        "lezarva": lambda s: s.closed.isoformat(),
        "iranyar": lambda s: int(s.share("1.1")),
        "eladasi_ar": lambda s: int(s.price) if s.sold else None,
        "szallitasi_dij": lambda s: 1990 if s.sold else None,
        "jutalek": lambda s: int(s.share("0.07")) if s.sold else None,
        "statusz": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="HUF",
    size=lambda s: short(s.eu),
    truth=columns_of(CIP, CIP_COLUMNS),
    ideal=map_of(
        "cipopad", CIP, CIP_COLUMNS, sold="eladva", unsold="lejárt", withdrawn="törölve", open="aktív"
    ),
)

LOK = {"venue": "Lok Man Consignment", "files": "lokman_*.csv", "encoding": "big5", "date_order": "ymd",
       "currency": "HKD", "price_basis": "all-in", "size_system": "mm"}  # fmt: skip
LOK_COLUMNS = {"stock_ref": "寄售單號", "title": "商品", "size_label": "鞋長(mm)", "grade": "成色",
               "offered_on": "上架日", "ask_native": "標價", "price_native": "售價", "sold_on": "售出日",
               "status": "狀態"}  # fmt: skip
LOKMAN = Export(
    file="lokman_jishou.csv",
    half="fourth",
    dealer="tresmar",
    language="zh",
    count=38,
    scale=Decimal("8.5"),
    step=50,
    layout=Layout(encoding="big5"),
    statuses={"已售出": ("sold", 7), "寄售中": ("open", 2), "已取回": ("withdrawn", 1)},
    others=(("laces", "鞋帶三條"), ("service", "清潔服務")),
    columns={
        "寄售單號": lambda s: f"LM{s.number:05}",
        "商品": lambda s: s.put("{maker} {silhouette} {colourway} {era} {box}"),
        "鞋長(mm)": lambda s: if_shoe(s, str(int(s.cm * 10))),
        "成色": lambda s: if_shoe(s, s.grade_word),
        "上架日": lambda s: f"{s.offered:%Y.%m.%d}",
        "標價": lambda s: amount(s.share("1.2"), ".", ",", 0),
        "售價": lambda s: if_sold(s, amount(s.price, ".", ",", 0)),
        "抽成35%": lambda s: if_sold(s, amount(s.share("0.35"), ".", ",")),
        "寄售人應得": lambda s: if_sold(s, amount(s.share("0.65"), ".", ",")),
        "售出日": lambda s: if_sold(s, f"{s.closed:%Y.%m.%d}"),
        "狀態": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="HKD",
    size=lambda s: str(int(s.cm * 10)),
    truth=columns_of(LOK, LOK_COLUMNS),
    ideal=map_of("lokman", LOK, LOK_COLUMNS, sold="已售出", open="寄售中", withdrawn="已取回"),
)

AKR = {"venue": "Δημοπρασίες Ακροτείχι", "files": "akroteichi_*.csv", "date_order": "dmy",
       "decimal_mark": ",", "price_basis": "hammer", "size_system": "EU"}  # fmt: skip
AKR_COLUMNS = {"lot_ref": "Λαχνός", "title": "Περιγραφή", "size_label": "Μέγεθος", "grade": "Κατάσταση",
               "ask_native": "Εκτίμηση", "price_native": "Τιμή κατακύρωσης", "currency": "Νόμισμα",
               "closed_on": "Ημ/νία δημοπρασίας", "status": "Αποτέλεσμα"}  # fmt: skip
AKROTEICHI = Export(
    file="akroteichi_apotelesmata.csv",
    half="fourth",
    dealer="tresmar",
    language="el",
    count=40,
    layout=Layout(delimiter=";", encoding="cp1253"),
    statuses={"Πωλήθηκε": ("sold", 7), "Δεν πωλήθηκε": ("unsold", 2), "Αποσύρθηκε": ("withdrawn", 1)},
    others=(("bundle", "Σύνολο 4 ζευγών, διάφορα νούμερα"), ("laces", "Κορδόνια")),
    columns={
        "Λαχνός": lambda s: str(s.number),
        "Περιγραφή": lambda s: s.put("{silhouette} {maker}, {colourway}, {era}, {box}, {extra}"),
        "Μέγεθος": lambda s: if_shoe(s, short(s.eu, ",")),
        "Κατάσταση": lambda s: if_shoe(s, s.grade_word),
        "Τιμή εκκίνησης": lambda s: euro(s.share("0.4")),
        "Εκτίμηση": lambda s: f"{amount(s.share('0.7'), ',', '.', 0)}-{amount(s.share('1.1'), ',', '.', 0)}",
        "Τιμή κατακύρωσης": lambda s: if_sold(s, euro(s.price)),
        "Προμήθεια αγοραστή 22%": lambda s: if_sold(s, euro(s.share("0.22"))),
        "Πληρωτέο ποσό": lambda s: if_sold(s, euro(s.share("1.22"))),
        "Νόμισμα": lambda s: "EUR",
        "Ημ/νία δημοπρασίας": lambda s: f"{s.closed:%d/%m/%Y}",
        "Αποτέλεσμα": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="EUR",
    size=lambda s: short(s.eu, ","),
    truth=columns_of(AKR, AKR_COLUMNS),
    ideal=map_of(
        "akroteichi", {**AKR, "encoding": "cp1253"}, AKR_COLUMNS,
        sold="Πωλήθηκε", unsold="Δεν πωλήθηκε", withdrawn="Αποσύρθηκε",
    ),
)  # fmt: skip

RIO = {"venue": "Leilões Rio Manso", "files": "rio_manso_*.csv", "encoding": "cp1252",
       "date_order": "dmy", "decimal_mark": ",", "currency": "BRL", "price_basis": "hammer"}  # fmt: skip
RIO_COLUMNS = {"lot_ref": "Lote", "title": "Descrição do lote", "price_native": "Lance vencedor",
               "closed_on": "Data do pregão", "status": "Situação do lote"}  # fmt: skip
RIOMANSO = Export(
    file="rio_manso_lotes.csv",
    half="fourth",
    dealer="tresmar",
    language="pt",
    count=40,
    scale=Decimal(6),
    step=10,
    layout=Layout(
        delimiter=";",
        encoding="cp1252",
        group=lambda s: f"Leilão {s.closed.year}/{(s.closed.month - 1) // 3 + 1}",
    ),
    statuses={"Arrematado": ("sold", 7), "Não arrematado": ("unsold", 2), "Retirado": ("withdrawn", 1)},
    others=(("bundle", "Lote com 3 pares variados"), ("laces", "Cadarços")),
    columns={
        "Lote": lambda s: str(s.number),
        "Descrição do lote": lambda s: s.put(
            "{maker} {silhouette}, {colourway}, {era}, EU {euc}, {word}, {box}"
        ),
        "Lance inicial": lambda s: f"R$ {euro(s.share('0.4'))}",
        "Nº de lances": lambda s: str(s.one_of(0, 1)) if not s.sold else str(s.one_of(3, 8, 14)),
        "Lance vencedor": lambda s: or_zero(s, lambda number: f"R$ {euro(number)}"),
        "Comissão do leiloeiro (5%)": lambda s: or_zero(s, lambda number: f"R$ {euro(number)}", "0.05"),
        "Total do arrematante": lambda s: or_zero(s, lambda number: f"R$ {euro(number)}", "1.05"),
        "Data do pregão": lambda s: f"{s.closed:%d/%m/%Y} 20:00",
        "Situação do lote": lambda s: s.word,
    },
    price=lambda s: s.price,
    day=lambda s: s.closed,
    currency="BRL",
    size=lambda s: short(s.eu, ","),
    truth=columns_of({**RIO, "size_system": "EU"}, RIO_COLUMNS),
    ideal=map_of(
        "riomanso", RIO, RIO_COLUMNS,
        sold="Arrematado", unsold="Não arrematado", withdrawn="Retirado",
    ),
)  # fmt: skip

FOURTH = (HARSLIGET, TASLIKULE, KALAFATIS, GARAM, TSUENFUNG, VALEA, LOJAPAR, LYSHOLM, PODHORA, KIVISALO, MIRKOT,
          RUETIWIL, RAVENHYTHE, PELL, WENDELAU, GULPINAR, CIPOPAD, LOKMAN, AKROTEICHI, RIOMANSO)  # fmt: skip
