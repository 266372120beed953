"""Views of a market for the tests of its page. Everything in them is invented."""

import math
from datetime import date

from pipeline.answers.market_view.activity import Activity
from pipeline.answers.market_view.answer import MarketView
from pipeline.answers.market_view.attribute_values import AttributeValue, Estimate, Halves
from pipeline.answers.market_view.groups import Group, Split
from pipeline.answers.market_view.index import Change, IndexPoint, first_of
from pipeline.answers.market_view.resales import Agreement, Resales
from tests.appraisals import AS_OF, HOSTILE, LONG, SOURCE

FIRST = 12 * 2020
MONTHS = 54
NO_RESALES = Resales(
    (), None, 0, 0.0, False, 0, 0, 0, False, None, (), "3 resales of one and the same pair are too few."
)
NO_HALVES = Halves(0, 0, None, None, "41 sales are too few to be halved.")


def points(
    months: int, every: int = 1, *, drift: float = 0.004, spread: float = 0.02
) -> tuple[IndexPoint, ...]:
    """Return an index over so many months from January 2020, a point every so many, 100 at the first."""
    found = []
    for month in range(0, months, every):
        level = 100 * math.exp(drift * month + 0.08 * math.sin(month / 6))
        width = math.exp(spread * min(month, 6))
        found.append(IndexPoint(first_of(FIRST + month), level, level / width, level * width, 20 + month % 7))
    return tuple(found)


def change(months: int, factor: float, width: float = 1.04) -> Change:
    """Return a change up to June 2024."""
    last = FIRST + MONTHS - 1
    return Change(months, first_of(last - months), first_of(last), factor, factor / width, factor * width)


def group(name: str, further: float, *, differs: bool) -> Group:
    """Return a group that went so much further than the market."""
    own = points(MONTHS, 3, drift=0.004 + math.log(further) / MONTHS)
    path = tuple(further ** (number / (len(own) - 1)) for number in range(len(own)))
    return Group(
        name, 420, own, path, change(12, 1.05), change(51, 1.3 * further), change(51, further), differs
    )


def activity() -> tuple[Activity, ...]:
    """Return ten quarters of an auction house, a shop, and a venue that lists its sales only."""
    quarters = [date(2022 + number // 4, 3 * (number % 4) + 1, 1) for number in range(10)]
    return tuple(
        row
        for number, quarter in enumerate(quarters)
        for row in (
            Activity(
                quarter, "Holm Sound Auctions", 40 + number, 12, 1, (40 + number) / (52 + number), None, 9e3
            ),
            Activity(quarter, "Tidewrack Counter", 20, 2, 0, 20 / 22, 30.0 + number, 8e3),
            Activity(quarter, "Umikaze Lots", 9, 0, 0, None, None, 2e3),
        )
    )


def worth(
    attribute: str, value: str, against: str, share: float, *, later: float | None = None, moved: bool = False
) -> AttributeValue:
    """Return what a value is worth, and if `later` is given what it was in the halves."""
    halves = (None, None) if later is None else (Estimate(share, 0.03, 80), Estimate(later, 0.03, 90))
    chance = None if later is None else 0.01 if moved else 0.8
    return AttributeValue(attribute, value, against, Estimate(share, 0.02, 170), *halves, chance, moved)


def usual_market() -> MarketView:
    """Return a market whose records carry all: resales, groups that moved differently, values that moved."""
    again = points(MONTHS, 6, drift=0.005, spread=0.03)
    return MarketView(
        as_of=AS_OF,
        currency="EUR",
        base=first_of(FIRST),
        index=points(MONTHS),
        changes=(change(3, 0.99), change(12, 1.08), change(36, 1.22), change(53, 1.31)),
        resales=Resales(
            again,
            again[0].period,
            6,
            0.14,
            False,
            410,
            55,
            2,
            False,
            Agreement(None, 1.01, 0.99, 1.03, 465),
            tuple(Agreement(2020 + year, 1 + 0.01 * year, 0.97, 1.06, 90) for year in range(5)),
            "",
        ),
        splits=(
            Split(
                "era",
                (group("first", 1.2, differs=True), group("second", 0.95, differs=False)),
                "Against the market as a whole, these eras moved differently: first (×1.20).",
            ),
            Split("family", (), "There is no index by family: the market file names no families."),
        ),
        activity=activity(),
        attribute_values=(
            worth("era", "first", "second", 0.36, later=0.52, moved=True),
            worth("era", "late reissue", "second", -0.42, later=-0.41),
            worth("size", "265 mm", "270 mm", -0.01, later=-0.01),
            worth("size", "275 mm", "270 mm", -0.005, later=0.0),
            worth("size", "280 mm", "270 mm", -0.02),
            worth("size", "unknown", "270 mm", -0.04),
            worth("box", "original", "none", 0.16, later=0.15),
            worth("part", "booklet", "", 0.03),
            worth("defect", "yellowing", "", -0.07, later=-0.08),
        ),
        halves=Halves(2600, 2721, date(2021, 11, 30), date(2021, 12, 1), ""),
        cautions=("No sale is recorded after 2024-05-30.",),
        source=SOURCE,
    )


def young_market() -> MarketView:
    """Return a market whose records carry next to nothing."""
    return MarketView(
        as_of=AS_OF,
        currency="EUR",
        base=None,
        index=(),
        changes=(),
        resales=NO_RESALES,
        splits=(Split("era", (), "There is no index by era: the records cover too few quarters."),),
        activity=(),
        attribute_values=(),
        halves=NO_HALVES,
        cautions=("There is no index of the market: the 41 sales are too few to compare months.",),
        source=SOURCE,
    )


def hostile_market() -> MarketView:
    """Return a market whose every word comes from somebody who means harm."""
    usual = usual_market()
    return MarketView(
        as_of=AS_OF,
        currency="JPY",
        base=usual.base,
        index=usual.index[:2],
        changes=usual.changes[:1],
        resales=usual.resales,
        splits=(
            Split(
                "era",
                (group(HOSTILE, 1.2, differs=True), group(LONG, 0.9, differs=True)),
                HOSTILE + LONG,
            ),
        ),
        activity=(Activity(date(2024, 1, 1), HOSTILE, 1, 1, 0, 0.5, 9.0, 12.0),),
        attribute_values=(
            worth("era", HOSTILE, LONG, 0.2, later=0.4, moved=True),
            worth("defect", "=cmd|' /C calc'!A0", "", -0.9),
        ),
        halves=usual.halves,
        cautions=(HOSTILE, LONG),
        source=SOURCE,
    )
