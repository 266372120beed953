"""A pair that is offered is judged as the same pair is as a lot of a list."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from shutil import copy

import pytest

from pipeline.answers.lots.answer import LotList
from pipeline.answers.lots.offer import offer_sheet, value_offer
from pipeline.answers.lots.run import value_lot_file
from pipeline.errors import UnknownName
from pipeline.market.subject import Description
from pipeline.shipped import shipped
from pipeline.workspace import Workspace
from sample_data import scenario
from tests.demo_ledger import demo_ledger
from tests.kept import keep_fit
from tests.restorations import demo_market_fitted

ON = date(2026, 10, 1)
COLUMNS = ("silhouette", "colourway", "era", "size", "grade", "box", "tags", "defects", "treatments")
GANNET = Description(
    silhouette="Gannet Hi",
    colourway="Buoy Red",
    era="first",
    size="UK 9",
    grade="8",
    box="original",
    tags="none",
    defects="none",
    treatments="deep clean",
)
DUNLIN = Description(silhouette="Dunlin", size="EU 43 1/3", defects="heel wear")
UNHEARD = Description(silhouette="Zorplet", grade="7")
MONEY = (
    *("verdict", "present_bid", "present_all_in", "landed_cost", "median", "low_80", "high_80", "resale_net"),
    *("walk_away_bid", "walk_away_landed", "expected_gain", "chance_of_loss", "flags", "why"),
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with the demo's ledger and a fit in it."""
    path = tmp_path_factory.mktemp("offer")
    copy(demo_ledger()[0], path / "pairband.duckdb")
    copy(shipped("sample_data") / "market.toml", path / "market.toml")
    keep_fit(path / "pairband.duckdb", demo_market_fitted())
    return path


def as_lot(folder: Path, described: Description, venue: str, price: str, *, by_odds: bool = False) -> LotList:
    """Return what `pairband lots` says of the pair as the one row of a file."""
    currency = scenario.market().venue(venue).currency
    cells = [getattr(described, name) or "" for name in COLUMNS]
    unheard = described.silhouette not in {one.name for one in scenario.market().silhouettes}
    title = cells[0] if unheard else ""  # a list's silhouette that nobody knows is one of its title
    cells[0] = "" if unheard else cells[0]
    file = folder / "upcoming_lots_one.csv"
    file.write_text(
        f"venue,currency,present_bid,closes,{','.join(COLUMNS)},sale,lot,title,low_estimate,stamp\n"
        f"{venue},{currency},{price},,{','.join(cells)},,,{title},,\n",
        encoding="utf-8",
    )
    with Workspace.open(folder) as workspace:
        return value_lot_file(workspace, file, as_of=ON, by_odds=by_odds)


def offered(
    folder: Path, described: Description, venue: str | None, price: str, *, era_odds: str | None = None
) -> LotList:
    with Workspace.open(folder) as workspace:
        asked = Decimal(price) if price else None
        return value_offer(
            workspace, described, as_of=ON, offered_at=venue, price=asked, era_odds=era_odds, as_written=True
        )


def money(listed: LotList) -> list[dict[str, object]]:
    return listed.lots.select(MONEY).to_dicts()


@pytest.mark.parametrize("described", [GANNET, DUNLIN, UNHEARD], ids=["common", "without era", "unheard of"])
@pytest.mark.parametrize(
    ("venue", "price"),
    [
        (scenario.HOLM, "300"),
        (scenario.HOLM, ""),
        (scenario.UMIKAZE, "60000"),
        (scenario.LANTERN, "180.50"),
        (scenario.COUNTER, "5"),
    ],
)
def test_an_offer_is_judged_as_the_lot_of_a_list_with_the_same_words(
    folder: Path, described: Description, venue: str, price: str
) -> None:
    assert money(offered(folder, described, venue, price)) == money(as_lot(folder, described, venue, price))


def test_an_offer_whose_era_is_in_doubt_is_judged_by_the_odds_that_a_list_learns(folder: Path) -> None:
    undated = replace(GANNET, era=None)

    listed = as_lot(folder, undated, scenario.LANTERN, "300", by_odds=True)

    assert money(offered(folder, undated, scenario.LANTERN, "300", era_odds="sales")) == money(listed)


def test_a_row_of_a_list_is_judged_at_the_price_that_is_said(folder: Path) -> None:
    listed = as_lot(folder, GANNET, scenario.HOLM, "300")

    with Workspace.open(folder) as workspace:
        judged = value_offer(
            workspace,
            Description(),
            as_of=ON,
            offered_at=scenario.HOLM,
            price=Decimal(300),
            file=folder / "upcoming_lots_one.csv",
            row=1,
        )

    assert money(judged) == money(listed)


def test_odds_that_are_sure_of_an_era_are_near_to_that_era_stated(folder: Path) -> None:
    sure = offered(folder, replace(GANNET, era=None), scenario.HOLM, "300", era_odds="first=1")

    stated = offered(folder, GANNET, scenario.HOLM, "300")

    assert sure.lots["median"][0] == pytest.approx(stated.lots["median"][0], rel=1e-3)


def test_a_private_seller_adds_nothing_to_the_price(folder: Path) -> None:
    lot = offered(folder, GANNET, None, "300").lots.row(0, named=True)

    assert (lot["present_all_in"], lot["landed_cost"], lot["native_currency"]) == (300.0, 300.0, "EUR")


def test_the_most_to_pay_a_private_seller_is_what_it_may_cost_at_the_counter(folder: Path) -> None:
    privately, at_the_counter = (
        offered(folder, GANNET, venue, "").lots["walk_away_bid"][0] for venue in (None, scenario.COUNTER)
    )

    assert privately == at_the_counter


def test_an_offer_without_a_price_is_told_only_the_most_to_pay(folder: Path) -> None:
    sheet = offer_sheet(offered(folder, GANNET, None, ""), scenario.market())

    assert [name for name, _ in sheet.figures] == [
        "Most to pay",
        "Cost at the most to pay",
        "Net of the resale",
    ]


def test_a_limit_is_a_bid_at_an_auction_and_a_price_in_a_shop(folder: Path) -> None:
    named = [
        dict(offer_sheet(offered(folder, GANNET, venue, "300"), scenario.market()).figures)
        for venue in (scenario.HOLM, scenario.LANTERN)
    ]

    assert [("Maximum bid" in figures, "Most to pay" in figures) for figures in named] == [
        (True, False),
        (False, True),
    ]


def test_an_offer_above_the_most_to_pay_is_passed(folder: Path) -> None:
    sheet = offer_sheet(offered(folder, GANNET, scenario.HOLM, "3000"), scenario.market())

    assert sheet.sentences[0].startswith("Pass at €3,000: maximum bid €")


def test_an_offer_at_a_venue_that_nobody_knows_is_refused(folder: Path) -> None:
    with pytest.raises(UnknownName, match="no venue is called 'Nowhere'"):
        offered(folder, GANNET, "Nowhere", "300")
