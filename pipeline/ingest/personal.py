"""Columns that hold a person's name, address, e-mail or telephone: known by their names, or by what they hold.

To take a column for personal that is not costs little, since only columns without a field are left out.
"""

import re

import polars as pl

from pipeline.alike import fold_all


def _set_of(words: str) -> frozenset[str]:
    return frozenset(words.split())


_PARTIES = _set_of("""
    buyer bidder underbidder purchaser customer client seller vendor consignor consigner consignors owner winner
    recipient sender payer payee contact user username paddle
    kaufer kaeufer bieter kunde kundin einlieferer einlieferin verkaufer verkaeufer empfanger empfaenger besitzer
    acheteur acheteuse acquereur vendeur vendeuse cliente deposant destinataire encherisseur
    comprador compradora vendedor vendedora destinatario pujador propietario
    acquirente venditore venditrice conferente offerente compratore
    koper verkoper inbrenger bieder klant eigenaar inzender
    kopare saljare kund kober kjoper selger saelger saeljare ostaja myyja
    nabywca kupujacy sprzedajacy klient kupujici prodavajici alici satici musteri
    vevo vasarlo beado cumparator cumparatoare vanzator deponent beneficiar
    αγοραστης αγοραστρια πωλητης πελατης καταθετης παραληπτης
    покупатель продавец клиент владелец получатель
""")
"""Those who take part in a sale, without case and accents."""

_TRAITS = _set_of("""
    name names nom nombre nome naam namn navn imie initials company firma first last full middle given family
    home work line id no nr number nummer numero code account nick nickname alias handle cell state county region
    ville ciudad citta stad land pays paese имя neve nev nume adi isim soyadi ονομα
""")
"""What is said of a party, and of other things as well."""

_NAMES = _set_of("""
    name names nom nombre nome naam namn navn imie nick nickname alias handle username имя neve nume isim ονομα
""")
"""What a name is called where nothing says whose it is."""

_TELLING = _set_of("""
    email mail emailaddress emailadresse courriel correo epost mailadresse emailadres mailadres
    phone telephone tel telefon telefono telefoon telefonnummer telefoonnummer handy handynummer mobile mobil
    cellphone fax address addresses addr adresse anschrift direccion indirizzo adres adress adresa strasse street rue
    surname vorname nachname prenom apellido apellidos cognome nazwisko firstname lastname fullname wohnort
    city town country postcode zip plz iban passport messenger chat social birthday birth
    телефон адрес почта фамилия
    lakcim telefonszam iranyitoszam adresa telefonul eposta telefonu τηλεφωνο διευθυνση ονοματεπωνυμο επωνυμο
""")
"""What says a person by itself."""

_COMPOUNDS = frozenset(
    party + rest
    for party in _set_of("""
        buyer bidder seller vendor consignor customer client
        kaufer kaeufer verkaufer verkaeufer bieter kunden einlieferer empfanger
    """)
    for rest in _set_of(
        "s name namen nummer nr no id code adresse address anschrift email mail phone telefon ort land"
    )
)
"""Parties run together with what is said of them, or in the German genitive."""

_FILLING = _set_of("""
    of the to and a an for from by des der die das und von vom zu du de la le les l d et di del della e el y van het en
    post postal billing shipping delivery ship bill deliver sold winning best info details data
    ort electronico electronica elektronische bank vat date 1 2 3 4 5
""")
_PAIRS = re.compile(
    r"\b(post code|zip code|postal code|code postal|codigo postal|bank account|vat id|e mail|e post|"
    r"user name|first name|last name|full name|given name|family name|ship to|sold to|bill to|deliver to|date of birth|"
    r"(shipping|delivery|billing) (name|address|phone|city|country|zip))\b"
)
_WRITTEN = re.compile(
    "氏名|お名前|住所|郵便番号|電話|メール|落札者|購入者|出品者|買い手|売り手|連絡先|宛名|"
    "买家|卖家|買家|賣家|寄售人|姓名|电话|電話|地址|邮箱|郵箱|收件人|구매자|판매자|낙찰자|전화|주소|이메일|성명|연락처"
)
_NOT_THEIRS = re.compile(
    "手数料|評価|価格|金額|負担|수수료|가격|금액|부담|정산|费|費|佣金|總|总|應付|应付|實收|实收|應得|应得|所得"
)
_EMAIL = r"^\s*\S+@[\w-]+(\.[\w-]+)+\s*$"
_TELEPHONE = r"^\s*(\+|00)\d[\d\s()/.-]{6,}\d\s*$"
_SAMPLE_ROWS = 1_000


def looks_personal(name: str) -> bool:
    """Whether a column's name says that it holds a person's name, address, e-mail or telephone.

    Every word of it must be a party to the sale, what is said of one, or a word between: "buyer's premium" and
    "seller fee" are not personal.
    """
    if _WRITTEN.search(name):
        return not _NOT_THEIRS.search(name)
    words = _words(name)
    known = set(words) <= _PARTIES | _COMPOUNDS | _TRAITS | _TELLING | _FILLING
    personal = (
        bool(set(words) & (_PARTIES | _COMPOUNDS | _TELLING)) or _PAIRS.search(" ".join(words)) is not None
    )
    return known and personal


def names_nobody_else(name: str) -> bool:
    """Whether a column is called by a word for a name alone: a person's, or a thing's, which nobody can tell."""
    words = _words(name)
    return len(words) == 1 and words[0] in _NAMES


def holds_personal(values: pl.Series) -> bool:
    """Whether most of a column's first values are e-mail addresses, or telephone numbers with a country's code."""
    known = values.drop_nulls().head(_SAMPLE_ROWS)
    if known.is_empty():
        return False
    return any(2 * int(known.str.contains(shape).sum()) > known.len() for shape in (_EMAIL, _TELEPHONE))


def personal_columns(cells: pl.DataFrame) -> list[str]:
    """Return the names of the columns that hold personal data, by their names or by what they hold."""
    return [name for name in cells.columns if looks_personal(name) or holds_personal(cells[name])]


def _words(name: str) -> list[str]:
    """Return the words of a column's name, without case and accents (buyerName, buyer_name → buyer, name)."""
    [plain] = fold_all([re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name)])
    plain = plain.translate({ord("ø"): "o", ord("ł"): "l", ord("æ"): "ae", ord("ı"): "i"})
    return [word for word in re.split(r"[\W_]+", plain) if word and word != "s"]
