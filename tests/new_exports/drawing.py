"""Invented offers of pairs, drawn by a seed: what an export then writes in its own columns and words."""

import tomllib
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path
from random import Random
from typing import Any

HERE = Path(__file__).parent
LANGUAGES = {
    "seekante": ("de", "nl", "cs"),
    "valdombre": ("fr", "it"),
    "calvera": ("es", "pt"),
    "marrowgate": ("en",),
    "nordvik": ("sv", "da", "pl", "ja"),
    "fjordlia": ("no", "fi", "en"),
    "tarnholm": (
        "en",
        "de",
        "fr",
        "es",
        "it",
        "nl",
        "pl",
        "ja",
        "uk",
        "hr",
        "bg",
        "sk",
        "id",
        "lt",
        "he",
        "th",
        "ca",
        "vi",
        "is",
    ),
    "osterquay": ("en", "de", "fr", "it", "es", "nl", "ja", "ru", "af", "gl", "mk", "pt", "sv", "zh", "pl"),
    "sandhythe": ("en", "de", "fr", "ja", "sl", "et", "lv", "sr", "ms", "ar", "ko", "es"),
    "tresmar": ("hu", "tr", "el", "ko", "zh", "ro", "pt", "da", "cs", "fi", "en", "de"),
}
"""By dealer, the order in which the market file lists the phrases of a name."""

EU = dict(
    zip(
        (step / 2 for step in range(10, 23)),
        (38, 38.5, 39, 40, 40.5, 41, 42, 42.5, 43, 44, 44.5, 45, 46),
        strict=True,
    )
)
"""EU size by UK size."""


def short(number: float, mark: str = ".") -> str:
    """Return a number without needless zeros, with the decimal mark of a language."""
    return f"{number:g}".replace(".", mark)


def amount(number: Decimal | int, mark: str = ".", group: str = "", places: int = 2) -> str:
    """Return an amount with a decimal mark and a mark between thousands."""
    text = f"{number:,.{places}f}"
    return text.replace(",", "\0").replace(".", mark).replace("\0", group)


def cents(number: Decimal) -> Decimal:
    """Return an amount rounded to two decimals, half away from zero."""
    return number.quantize(Decimal("0.01"), ROUND_HALF_UP)


@dataclass
class Offer:
    """One line of an export before it is written: a pair that was offered, or something that is no pair."""

    number: int
    random: Random
    maker: str
    silhouette: str
    colourway: str
    era: str
    era_name: str
    uk: float
    grade: float
    grade_word: str
    box: str
    extra: str
    price: Decimal
    offered: date
    closed: date
    paid: date
    clock: str
    outcome: str = "sold"
    word: str = ""
    kind: str = "pair"
    quantity: int = 1
    other: str = ""
    person: str = ""
    order_total: Decimal = Decimal(0)

    @property
    def eu(self) -> float:
        """Return the EU size."""
        return EU[self.uk]

    @property
    def us(self) -> float:
        """Return the US men's size."""
        return self.uk + 1

    @property
    def cm(self) -> float:
        """Return the Japanese size in centimetres."""
        return self.uk + 19

    @property
    def sold(self) -> bool:
        """Say whether the offer ended in a sale."""
        return self.outcome == "sold"

    @property
    def shoe(self) -> bool:
        """Say whether the line is about shoes at all, as laces and services are not."""
        return self.kind in SHOES

    def share(self, rate: str) -> Decimal:
        """Return a share of the price in the currency's cents."""
        return cents(self.price * Decimal(rate))

    def put(self, pattern: str) -> str:
        """Return a text with the words of the offer put in; a line that is no pair has a text of its own."""
        if self.other:
            return self.other
        words = {
            name: getattr(self, name) for name in ("maker", "silhouette", "colourway", "era", "box", "extra")
        }
        sizes = {"uk": short(self.uk), "eu": short(self.eu), "us": short(self.us), "cm": short(self.cm)}
        comma = {f"{name}c": text.replace(".", ",") for name, text in sizes.items()}
        numbers = {"grade": short(self.grade), "gradec": short(self.grade, ","), "word": self.grade_word}
        return " ".join(pattern.format(**words, **sizes, **comma, **numbers).split()).strip(" ,;–-/")

    def code(self, prefix: str, digits: int = 6) -> str:
        """Return an internal code that means nothing for a valuation."""
        return f"{prefix}{self.random.randrange(10 ** (digits - 1), 10**digits)}"

    def one_of(self, *choices: Any) -> Any:
        """Return one of the choices."""
        return self.random.choice(choices)


SHOES = frozenset({"pair", "single shoe", "quantity above 1", "refund"})
"""The kinds of line that are about shoes of one size."""


@dataclass(frozen=True)
class Layout:
    """How an export is written to its file."""

    kind: str = "csv"
    delimiter: str = ","
    encoding: str = "utf-8"
    above: tuple[tuple[str, ...], ...] = ()
    below: tuple[tuple[str, ...], ...] = ()
    group: Callable[[Offer], str] | None = None
    group_column: int = 0
    total_by: Callable[[Offer], str] | None = None
    total: Callable[[list[Offer]], list[Any]] = field(default=lambda _: [])
    order_columns: tuple[str, ...] = ()
    nest: str = ""
    sheet: str = "Sheet1"
    notes: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True)
class Export:
    """An invented export: its columns, what is right about it, and how it is drawn."""

    file: str
    half: str
    dealer: str
    language: str
    columns: dict[str, Callable[[Offer], Any]]
    price: Callable[[Offer], Decimal | int]
    day: Callable[[Offer], date]
    currency: str | Callable[[Offer], str]
    truth: str
    ideal: str
    size: Callable[[Offer], str] | None = None
    graded: bool = False
    count: int = 36
    seed: int = 1
    scale: Decimal = Decimal(1)
    step: int = 5
    first_day: date = date(2022, 2, 1)
    days_apart: int = 6
    statuses: dict[str, tuple[str, int]] = field(default_factory=lambda: {"": ("sold", 1)})
    others: tuple[tuple[str, str], ...] = ()
    layout: Layout = field(default_factory=Layout)


def draw_offers(export: Export) -> list[Offer]:
    """Draw the lines of an export in its order: pairs, with its other lines strewn among them."""
    random = Random(f"{export.file} {export.seed}")
    market = tomllib.loads((HERE / f"{export.dealer}.market.toml").read_text("utf-8"))
    place = LANGUAGES[export.dealer].index(export.language)
    grades = dict(list(market["words"]["grades"].items())[7 * place : 7 * place + 7])
    states = [(word, outcome) for word, (outcome, weight) in export.statuses.items() for _ in range(weight)]
    offers: list[Offer] = []
    day = export.first_day
    for number in range(1, export.count + 1):
        silhouette = random.choice(market["silhouettes"])
        colourway = random.choice(silhouette["colourways"])
        era = random.choices(market["eras"], [2, 4, 3])[0]
        grade = random.choice([10.0, 9.5, 9.0, 8.5, 8.0, 8.0, 7.5, 7.0, 6.5, 6.0, 5.0, 4.0])
        word = min(grades, key=lambda each: abs(grades[each] - grade))
        base = {"first": 420, "second": 260, "reissue": 95}[era["name"]] * (0.4 + grade / 12)
        spread = base * random.lognormvariate(0, 0.35) * float(export.scale)
        price = Decimal(max(1, round(spread / export.step)) * export.step)
        day = min(day + timedelta(days=random.randrange(0, 2 * export.days_apart)), date(2026, 10, 30))
        faults = [*market["defects"], *market["treatments"]]
        phrase = random.choice(faults)["phrases"][place] if random.random() < 0.4 else ""
        state, outcome = random.choice(states)
        boxes = [each[place] for each in market["words"]["box"].values() if len(each) > place]
        offers.append(
            Offer(
                number=number,
                random=random,
                maker=silhouette["maker"],
                silhouette=silhouette["name"],
                colourway=_phrase(colourway, place),
                era=era["phrases"][place],
                era_name=era["name"],
                uk=random.choice(list(EU)),
                grade=grade,
                grade_word=word,
                box=random.choice(boxes),
                extra=phrase,
                price=price,
                offered=day - timedelta(days=random.randrange(5, 40)),
                closed=day,
                paid=day + timedelta(days=random.randrange(0, 9)),
                clock=f"{random.randrange(8, 22):02}:{random.randrange(60):02}:{random.randrange(60):02}",
                outcome=outcome,
                word=state,
                person=random.choice(PERSONS),
            )
        )
    for kind, text in export.others:
        at = random.randrange(3, len(offers))
        like = offers[at]
        sold_word = next(word for word, (outcome, _) in export.statuses.items() if outcome == "sold")
        odd = replace(like, number=len(offers) + 1, kind=kind, outcome="sold", word=sold_word, other=text)
        if kind == "refund":
            odd.price, odd.other = -like.price, text or like.other
        elif kind == "quantity above 1":
            odd.quantity = 2
        elif kind != "bundle":
            odd.price = Decimal(
                max(1, round(float(export.scale) * random.randrange(6, 30) / export.step)) * export.step
            )
        offers.insert(at, odd)
    for number, offer in enumerate(offers, start=1):
        offer.number = number
    return offers


def _phrase(colourway: dict[str, Any], place: int) -> str:
    phrases = colourway.get("phrases", [])
    return str(phrases[place]) if place < len(phrases) else str(colourway["name"])


def moment(offer: Offer, mark: str = "T") -> str:
    """Return the day and time of the sale in ISO 8601."""
    return datetime.fromisoformat(f"{offer.closed}T{offer.clock}").isoformat(sep=mark)


PERSONS = ("Tove Marrable", "Ansgar Pell", "Odile Verrant", "Ilario Dossi", "Nuria Calvet", "Joost Hagedoorn",
           "Bogna Sielska", "Runa Asklöv", "Duarte Penalva", "Mio Kasahara")  # fmt: skip
"""Invented buyers and consignors."""
