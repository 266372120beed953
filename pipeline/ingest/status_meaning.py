"""What a word of a status column says of how an offer ended, in the languages that dealers meet.

A phrase that `STATUS_WORDS` lists is what it says there. Of any other the stems of its words decide ("Zahlung
ausstehend", "cancelled by the buyer", "zakończona bez sprzedaży"); where they contradict each other nothing does.
"""

import re
from functools import cache

from pipeline.ingest.header_words import STATUS_WORDS
from pipeline.ingest.header_words_more import STEMS
from pipeline.ingest.heading_meaning import written

_LONGEST = 60
_WHOLE_WORD = 4
"""A stem of so few letters must be a whole word."""

_ASIAN = re.compile(r"[\u3040-\u30ff\u3400-\u9fff\uac00-\ud7a3\u1100-\u11ff]")

YES_OR_NO = frozenset(
    map(
        written,
        ("yes", "no", "ja", "nein", "oui", "non", "sì", "sí", "si", "sim", "não", "nee", "tak", "nie"),
    )
) | frozenset(map(written, ("nej", "nei", "joo", "kyllä", "ei", "ano", "ne", "y", "n")))
"""Words that answer any question, not only whether a pair was sold."""

_NOT = "not"
_PAID = "paid"
_DONE = "done"
"""What follows a sale: sent, delivered, settled. "Not sent yet" says nothing of the sale."""

_STEMS: dict[str, tuple[str, ...]] = {
    _NOT: (
        "not", "no", "never", "without", "nicht", "kein", "keine", "ohne", "non", "pas", "sans", "aucune",
        "aucun", "senza", "nessuna", "sin", "não", "sem", "niet", "geen", "zonder", "nie", "bez", "ej",
        "inte", "inga", "ingen", "utan", "ikke", "ingen", "uden", "uten", "ei", "ilman", "ne", "did not",
        "didn t", "wasn t", "n a pas", "żadnych", "nebyl", "nebyla", "nebylo",
    ),
    _PAID: (
        "paid", "pays", "pay", "payé", "payée", "bezahlt", "gezahlt", "zahlte", "réglé", "réglée", "soldé",
        "pagat", "saldat", "pagad", "pago", "paga", "pagou", "pagó", "abonad", "betaald", "opłac",
        "zapłac", "opłat", "betald", "betalt", "betalte", "betala", "maksett", "maksoi", "maksanut",
        "zaplac", "zaplati", "uhraz", "支払済", "入金済", "支払い済", "決済済",
    ),
    "deposit": (
        "deposit", "down payment", "anzahlung", "angezahlt", "acompte", "acconto", "caparra", "aanbetaling",
        "aanbetaald", "zaliczk", "zadat", "handpenning", "depositum", "käsirah", "záloh", "手付", "内金", "頭金",
    ),
    _DONE: (
        "shipped", "despatch", "dispatch", "deliver", "invoiced", "remitted", "versandt", "versendet",
        "verschickt", "gelief", "ausgelief", "zugestell", "abgeholt", "übergeben", "verbucht", "fakturiert",
        "expédi", "livré", "livrée", "emport", "spedit", "consegnat", "enviad", "entregad", "entregue",
        "expedid", "verzonden", "verstuurd", "geleverd", "bezorgd", "afgeleverd", "wysłan", "dostarczon",
        "doręczon", "odebran", "wydan", "skicka", "leverera", "uthämta", "lever", "sendt", "afsend",
        "afhent", "toimitett", "toimitus", "lähetett", "noudett", "luovutett", "doruč", "odesl", "předán",
        "předan", "vyzvedn", "expedov", "発送済", "発送完了", "納品", "引渡", "受取済",
        "fulfil", "complet",
        "settle", "closed", "erledig", "abgeschloss", "abgerechn", "ausgezahl", "termin", "finali",
        "finalis", "finalizz", "finaliz", "voltooid", "afgerond", "afgehandeld", "verrekend", "afgerekend",
        "uitbetaald", "zrealizow", "rozlicz", "wypłac", "sfinaliz", "slutför", "utbetal", "avräkna",
        "slutbetal", "afslutte", "avslutte", "udbetal", "gennemfør", "gjennomfør", "fullfør", "opgjort",
        "oppgjort", "oppgjør", "valmis", "tilitett", "dokonč", "vyříz", "vyplac", "uzavř", "完了", "精算済",
        "handed over", "picked up by buyer", "collected by buyer", "awaiting ship", "awaiting dispatch",
        "awaiting despatch", "awaiting delivery", "awaiting collection", "awaiting pickup", "ready to ship",
        "versandbereit", "wartet auf versand", "warten auf versand", "en attente d'expédition",
        "en attente de livraison", "in attesa di spedizione", "pendiente de envío", "pendente de envio",
        "wacht op verzending", "oczekuje na wysył", "do wysyłki", "väntar på leverans",
        "afventer forsendelse", "klar til forsendelse", "avventer forsendelse", "odottaa toimitusta",
        "čeká na odeslání", "発送待ち", "発送準備",
    ),
    "sold": (
        "sold", "hammer",
        "won", "purchas", "bought", "knocked down", "awarded",
        "sale agreed", "successful",
        "verkauf", "gekauft",
        "zugeschlag", "zuschlag",
        "vermittelt", "nachverkauf", "erfolgreich",
        "vendu", "vente", "adjug", "revers", "conclu",
        "clôtur", "encaiss", "achet", "aboutie", "abouti",
        "vendut", "aggiudic", "concluso", "conclusa", "evaso", "evasa", "liquidat",
        "incassat", "chiuso", "chiusa", "acquistat", "assegnat",
        "vendid", "venta", "adjudic", "liquidad", "rematad", "cobrad",
        "concluid", "cerrad", "comprad", "exitos",
        "conclui", "arrematad", "licitad", "venda", "fechado", "fechada",
        "verkocht", "verkoop",
        "toegewezen", "toegeslagen", "gegund",
        "gekocht", "geslaagd", "afgehamerd",
        "sprzeda", "wylicyt",
        "kupion", "przybit", "nabyt",
        "såld", "sålt", "sålda", "klubba", "köpt", "tillslag",
        "affär klar", "försäld", "försålt",
        "solgt", "handlet", "tilslag",
        "tilslått", "tilslået", "hammerslag", "købt", "kjøpt",
        "myyty", "myydy", "myyntiin", "huudett",
        "ostett", "kaupattu", "kaupat", "vasaroi",
        "prodan", "prodán", "prodej", "vydraž", "přiklep",
        "koupen",
        "落札", "売却", "売約", "販売済", "成約", "売切",
    ),
    "unsold": (
        "unsold", "passed", "bought in", "buy in", "expir", "lapse", "relist", "re list", "no sale",
        "no bid", "no buyer", "no winner", "no offer", "reserve", "not met", "not reached", "below limit",
        "below reserve", "returned unsold", "unsuccessful", "ended without", "offered again", "reoffer",
        "unverkauf", "rückgang", "zurückgegang", "abgelauf", "ausgelauf", "wieder eingestell",
        "wiedereingestell", "neu eingestell", "erneut", "unter limit", "limit", "untergebot", "erfolglos",
        "kein gebot", "keine gebot", "ohne gebot", "kein käufer", "liegengeblieb",
        "invendu", "raval", "remis en vente", "remise en vente", "relanc", "republi", "réserve non",
        "échu", "échue", "infructueu", "sans enchère", "sans offre", "sans preneur", "non adjug",
        "invendut", "scadut", "desert", "ripubblic", "riserva non", "ripropost", "rimess in", "senza offert",
        "non aggiudic", "sotto riserva", "senza rilanci",
        "desiert", "caduc", "expirad", "vencid", "republic", "reserva no", "sin puja", "sin venta",
        "sin comprador", "no adjudic", "relistad", "vuelto a public",
        "expirou", "reserva não", "sem lance", "sem lanço", "sem licita", "sem comprador", "sem venda",
        "não adjudic", "relistad", "não arremat",
        "onverkocht", "verlopen", "opgehoud", "herplaatst", "opnieuw", "limiet niet", "geen bod",
        "geen biedingen", "niet gegund", "niet toegewezen", "geen koper", "onder limiet", "teruggekocht",
        "niesprzeda", "wygasł", "spad", "ponownie", "nieosiągn", "bez ofert", "brak ofert", "bez licyt",
        "niewylicyt", "brak kupca", "bez nabywcy", "bez sprzeda", "poniżej limitu",
        "osåld", "osålt", "osålda", "återrop", "utgång", "omlist", "ompublic", "återutlagd", "inga bud",
        "utan bud", "under bevakning", "ej uppnått", "utan köpare", "ny annons", "ej klubb",
        "usolgt", "udløb", "utløp", "tilbagekøb", "tilbakekjøp", "genopsl", "genopsat", "relagt", "på nytt",
        "ingen bud", "uden bud", "uten bud", "ikke nådd", "ikke nået", "ikke tilslag", "forfalt",
        "under limitum", "gjenopp",
        "myymät", "vanhent", "uudelleen", "eräänty", "ei huut", "ei tarjou", "ilman tarjou", "hintavaraus",
        "alle rajahinnan", "umpeutu", "ei ostaja", "huutamat",
        "neprod", "nevydraž", "vyprš", "propad", "expirov", "znovu", "bez příhoz", "bez zájem", "bez kupce",
        "nepřiklep", "nedosažen", "pod limit",
        "流札", "流れ", "不成立", "不落札", "未落札", "期限切れ", "再出品", "売れ残", "入札なし", "入札無",
        "落札者なし", "落札なし", "未成立", "最低価格未",
    ),
    "withdrawn": (
        "withdr", "pulled", "remov", "declin", "reject", "retract", "collected by consign",
        "collected by owner", "collected by seller", "dispute", "zurückgez", "zurückzieh", "gelösch",
        "entfernt", "retiré", "retirée", "retrait", "supprim", "litige", "rejet", "repris", "ritirat",
        "rifiut", "rimoss", "eliminat", "contestat", "retirad", "eliminad", "rechaz", "disput", "removid",
        "recusad", "teruggetrok", "ingetrok", "verwijder", "teruggav", "wycof", "usunię", "odrzuc",
        "cofnię", "tillbakadr", "återkall", "struken", "struket", "stryk", "utgår", "återköp", "borttag",
        "återtag", "trukket", "tilbagetruk", "tilbaketruk", "fjernet", "slettet", "strøget", "strøket",
        "afvist", "avvist", "vedett", "vetäy", "poistet", "hylätt", "keskeytett", "stažen", "staženo",
        "odstran", "zamítn", "取下", "取り下げ", "中止", "削除", "棄権", "撤回", "listing cancel", "lot cancel",
        "auction cancel", "出品取消", "出品キャンセル",
    ),
    "returned": (
        "return", "sent back", "taken back", "retour", "rückgab", "zurückges", "zurückgenomm", "reklam",
        "reso", "resa", "restitu", "devuel", "devoluc", "devolv", "geretour", "teruggest", "teruggezon",
        "teruggenom", "zwrot", "zwróc", "reklamac", "zwrac", "återlämna", "retur", "reklamer",
        "tilbagelever", "tilbakelever", "palaut", "reklamaa", "vrácen", "vráti", "vrácená", "renvoy",
        "reclam", "返品",
    ),
    "refunded": (
        "refund", "chargeback", "money back", "erstatt", "rückerstatt", "rembours", "rimbors", "reembols",
        "estorn", "terugbet", "återbetal", "refunder", "tilbagebetal", "tilbakebetal", "hyvit", "refundov",
        "返金",
    ),
    "cancelled": (
        "cancel", "void", "rescind", "abort", "unwound", "stornier", "storno", "abgebroch", "widerruf",
        "annullier", "abgesagt", "geplatzt", "rückabgewick", "rücktritt", "annul", "rétract", "résili",
        "désist", "annull", "stornat", "cancellat", "recess", "cancelad", "anulad", "desisti", "anulou",
        "cancelou", "geannul", "ontbonden", "herroep", "anulow", "odstąp", "zrezygn", "rezygnac", "avbrut",
        "makuler", "annuller", "ångra", "hävd", "avbok", "fortrud", "angre", "kanseller", "hævet", "hevet",
        "avlys", "aflys", "afbrudt", "avbrutt", "perut", "peruu", "purett", "zrušen", "storn", "odstoup",
        "取消", "取り消し", "キャンセル", "解約",
    ),
    "unpaid": (
        "unpaid", "non pay", "nonpay", "defaulted", "bounced", "unbezahl", "nichtzahl", "impay", "insolut",
        "impag", "onbetaald", "wanbet", "nieopłac", "niezapłac", "obetald", "obetalt", "ubetalt",
        "maksamat", "nezaplac", "neuhraz", "nezaplat", "未払", "未入金", "支払なし", "支払無",
    ),
    "open": (
        "open", "live", "active", "on the shelf", "upcoming", "reserved", "hold", "pending", "listed",
        "in stock", "draft", "await", "processing", "for sale", "scheduled", "on display", "in progress",
        "payment due", "payment outstanding", "running", "available", "on offer", "layaway", "laid away",
        "laufend", "läuft", "aktiv", "reservier", "offen", "bearbeitung", "angeboten", "ausstehend",
        "ausgestellt", "im laden", "wartet", "wartend", "in vorbereit", "verfügbar", "geplant", "entwurf",
        "zurückgelegt", "zum verkauf", "im verkauf", "zu verkauf",
        "en cours", "en ligne", "réserv", "attente", "disponib", "actif", "active", "brouillon",
        "en vitrine", "en dépôt", "préparation", "à venir", "à payer", "en vente", "à vendre", "en rayon",
        "attivo", "attiva", "in corso", "riservat", "prenotat", "attesa", "bozza", "esposto", "esposta",
        "in vendita", "in deposito", "lavorazione", "da pagare",
        "en curso", "activo", "activa", "reservad", "pendient", "borrador", "en venta", "a la venta",
        "en espera", "a la espera", "en preparac", "en proceso", "por pagar", "esperando",
        "em curso", "ativo", "ativa", "pendente", "disponív", "aguarda", "rascunho", "à venda", "em espera",
        "a processar", "por pagar", "em aberto", "em exposi",
        "lopend", "loopt", "actief", "gereserv", "behandeling", "openstaand", "wacht", "in afwacht",
        "beschikba", "te koop", "concept", "in de winkel", "nog te betal",
        "w toku", "aktywn", "zarezerw", "rezerwac", "oczek", "trakcie", "trwa", "dostępn", "szkic",
        "w witryn", "w sprzedaży", "wystawion", "do opłac",
        "pågå", "reserver", "väntar", "inväntar", "aktiv", "tillgänglig", "utkast", "till salu", "kommande",
        "i butik", "ute till", "ligger ute", "öppen",
        "i gang", "igang", "afvent", "avvent", "venter", "til salg", "tilgængelig", "tilgjengelig",
        "kladde", "behandles", "åben", "åpen", "under behandl",
        "avoin", "avoinna", "varattu", "varaus", "käynni", "odott", "myynnissä", "myytävänä", "aktiiv",
        "luonnos", "tulossa", "kesken", "esillä",
        "probíh", "aktivn", "rezerv", "čeká", "čekaj", "k dispozici", "koncept", "v prodeji", "v nabídce",
        "otevřen", "zpracov", "vystaven",
        "出品中", "公開中", "予約", "取置", "取り置き", "保留", "交渉中", "待ち", "開催中", "入札中", "下書き", "在庫",
        "準備中", "展示", "販売中", "受付中",
    ),
}  # fmt: skip
"""Status → stems of words for it, beside words that deny and stems of paying; a longer one goes before."""


_DENIED = {"sold": "unsold", "unsold": "unsold", _PAID: "unpaid"}
"""What a status means that is denied; "not sent", "not returned" say nothing of the sale."""

_SOLD = ("sold", _PAID, _DONE)

_NO_SALE = ("refunded", "returned", "unpaid", "cancelled", "withdrawn", "unsold")
"""What a text says that says several of them: the first of these."""


def status_of(text: str) -> str | None:
    """Return the status that a cell's word means in any of the languages (NO_BIDS, No bids), None where none."""
    said = written(text[:_LONGEST])
    return _phrases().get(said) or _by_stems(said)


@cache
def _phrases() -> dict[str, str]:
    return {written(word): status for status, words in STATUS_WORDS.items() for word in words}


@cache
def _stems() -> tuple[dict[str, str], re.Pattern[str]]:
    """Return stem → what it says, and the pattern that finds the longest stem at each place."""
    listed = (*STEMS.items(), *_STEMS.items())
    meaning = {written(stem): says for says, stems in listed for stem in stems}
    longest_first = sorted(meaning, key=lambda stem: (-len(stem), stem))
    asian = [stem for stem in longest_first if _ASIAN.search(stem)]
    whole = [stem for stem in longest_first if stem not in asian and len(stem) <= _WHOLE_WORD]
    others = [stem for stem in longest_first if stem not in asian and len(stem) > _WHOLE_WORD]
    found = rf"({'|'.join(asian)})|\b(?:({'|'.join(others)})\w*|({'|'.join(whole)})\b)"
    return meaning, re.compile(found)


def _by_stems(said: str) -> str | None:
    """Return the status that the stems in a text agree on."""
    meaning, pattern = _stems()
    found: list[str] = []
    for match in pattern.finditer(said):
        says = meaning[next(stem for stem in match.groups() if stem is not None)]
        if found and found[-1] == _NOT and says != _NOT:
            found[-1] = _DENIED.get(says, _NOT)
        else:
            found.append(says)
    if len(found) > 1 and found[-1] == _NOT:
        found[-2:] = [_DENIED.get(found[-2], _NOT)]
    if not found or _NOT in found:
        return None
    undone = [says for says in found if says in _NO_SALE]
    if undone:
        resold = undone[0] == "unsold" and found[-1] in _SOLD
        return None if resold else min(undone, key=_NO_SALE.index)
    if "deposit" in found and found[0] != "open":
        return "deposit"
    if found[0] == "open":
        return None if "sold" in found else "open"
    return "sold"
