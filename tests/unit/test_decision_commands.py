"""`pairband lots` and `pairband consign`, from a small export to their answers; and what the market file may say."""

import json
import re
from functools import cache
from pathlib import Path
from shutil import copytree
from tempfile import mkdtemp

import pytest
from click.testing import CliRunner, Result

from pipeline.cli import app
from pipeline.config import parse_market
from pipeline.errors import MarketFileError
from pipeline.terminal.console import OUT
from tests.unit.test_restore_command import shop

HERE = Path(__file__).parents[1]
LOTS_MAP = """
[buying]
sells_at = "Lantern Dock"

[[imports]]
country = "Skerrowland"
freight = 7.5

[maps.watch]
venue = "Holm Sound Auctions"
files = "watch*.csv"
holds = "lots"
currency = "EUR"
price_basis = "hammer"

[maps.watch.columns]
lot_ref = "lot"
title = "title"
silhouette = "silhouette"
era = "era"
closed_on = "closes"
price_native = "bid"
grade = "grade"
"""
WATCH = """lot,title,silhouette,era,closes,bid,grade
1,=SUM(A1),Gannet Hi,first,2024-11-02,20,7
2,Plover Lo Kelp,Plover Lo,first,2024-11-02,900,7
3,A lot without a day that can be,Plover Lo,first,2024-13-40,10,7
"""


@cache
def buyer() -> Path:
    """Return a folder with a market file that buys, a watch list, and a ledger of forty sales with a fit."""
    folder = Path(mkdtemp(prefix="pairband-lots-")) / "shop"
    copytree(shop(), folder)
    market = folder / "market.toml"
    market.write_text(market.read_text(encoding="utf-8") + LOTS_MAP, encoding="utf-8")
    (folder / "watch.csv").write_text(WATCH, encoding="utf-8")
    return folder


def called(*arguments: str, folder: Path) -> Result:
    named = ["--market", str(folder / "market.toml"), "--ledger", str(folder / "pairband.duckdb")]
    return CliRunner().invoke(app, [*arguments, *named])


def lots_of(*more: str) -> Result:
    return called("lots", str(buyer() / "watch.csv"), "--on", "2024-10-15", *more, folder=buyer())


PAIR = ("--silhouette", "Gannet Hi", "--era", "first", "--size", "UK 9", "--grade", "7", "--on", "2024-10-15")


def test_the_lots_come_ranked_as_one_document() -> None:
    document = json.loads(lots_of("--json").stdout)

    assert [lot["rank"] for lot in document["lots"]] == [1, 2]
    assert document["lots"][0]["verdict"] == "bid"
    assert document["lots"][1]["verdict"] == "pass"


def test_a_row_that_cannot_be_read_is_named_and_the_others_are_valued() -> None:
    document = json.loads(lots_of("--json").stdout)

    assert "2024-13-40" in document["refused"][0]


def test_the_freight_of_the_houses_country_is_in_the_landed_cost() -> None:
    first = json.loads(lots_of("--json").stdout)["lots"][0]

    assert first["landed_cost"] == 20 + 5 + 1 + 7.5


def test_a_wider_margin_can_be_asked_for_on_the_day() -> None:
    usual, wide = (
        json.loads(lots_of("--json", "--margin", margin).stdout)["lots"][0]["walk_away_bid"]
        for margin in ("0.1", "0.5")
    )

    assert wide < usual


def test_the_terminal_shows_verdict_and_limits(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(OUT, "_width", 200)
    shown = lots_of().stdout

    assert "worth a bid today" in shown
    assert re.search(r" 1 +2 Nov .*Holm Sound Auctions", shown)  # by this number it is bid on
    assert "not an appraisal" in shown


def test_page_csv_and_workbook_are_written(tmp_path: Path) -> None:
    files = [tmp_path / name for name in ("lots.html", "lots.csv", "lots.xlsx")]
    options = ("--page", str(files[0]), "--csv", str(files[1]), "--excel", str(files[2]))

    assert lots_of(*options).exit_code == 0
    assert all(file.stat().st_size > 0 for file in files)


def test_lots_without_a_file_is_wrong_usage() -> None:
    assert called("lots", folder=buyer()).exit_code == 2


def test_an_unknown_resale_venue_is_named() -> None:
    failed = lots_of("--sells-at", "Lantern Duck")

    assert failed.exit_code == 1
    assert "did you mean 'Lantern Dock'?" in str(failed.exception)


def test_a_back_test_without_past_lots_says_so() -> None:
    tested = called("lots", "--backtest", folder=buyer())

    assert tested.exit_code == 0
    assert "no past lots" in tested.stdout


def test_a_consignment_weighs_every_venue() -> None:
    document = json.loads(called("consign", *PAIR, "--json", folder=buyer()).stdout)

    assert {offer["venue"] for offer in document["offers"]} == {
        "Holm Sound Auctions",
        "Lantern Dock",
        "Umikaze Lots",
    }


def test_a_consignment_of_few_offers_says_that_they_are_too_few() -> None:
    shown = called("consign", *PAIR, folder=buyer()).stdout

    assert "are needed to say what an ask does" in shown.replace("\n", " ")


def test_the_sheets_of_a_file_are_numbered(tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.html"

    done = called("consign", "--file", str(buyer() / "stock.csv"), "--page", str(sheet), folder=buyer())
    assert done.exit_code == 0
    assert sorted(file.name for file in tmp_path.iterdir()) == ["sheet-2.html", "sheet-3.html", "sheet.html"]


def test_a_bid_sheet_is_written_beside_the_answer(tmp_path: Path) -> None:
    sheet = tmp_path / "bids.html"

    done = called("lots", str(buyer() / "watch.csv"), "--bid-sheet", str(sheet), folder=buyer())
    assert done.exit_code == 0
    assert "<h1>Bid sheet</h1>" in sheet.read_text(encoding="utf-8")


def test_a_back_test_has_no_bid_sheet(tmp_path: Path) -> None:
    done = called("lots", "--backtest", "--bid-sheet", str(tmp_path / "bids.html"), folder=buyer())

    assert done.exit_code == 2
    assert "a sheet is of lots to come" in done.stderr.replace("\n", " ")


def test_a_file_of_pairs_has_a_ticket_for_each(tmp_path: Path) -> None:
    tickets = tmp_path / "tickets.html"

    done = called("consign", "--file", str(buyer() / "stock.csv"), "--tickets", str(tickets), folder=buyer())
    assert done.exit_code == 0
    assert tickets.read_text(encoding="utf-8").count('role="listitem"') == 3


def test_a_venue_of_no_sheet_and_no_tickets_is_wrong_usage() -> None:
    done = called("consign", *PAIR, "--venue", "Lantern Dock", folder=buyer())

    assert done.exit_code == 2
    assert "name a --page or --tickets" in done.stderr.replace("\n", " ")


def test_the_sheet_of_a_venue_that_there_is_not_is_refused(tmp_path: Path) -> None:
    sheet = str(tmp_path / "sheet.html")
    done = called("consign", *PAIR, "--venue", "Nowhere", "--page", sheet, folder=buyer())

    assert done.exit_code == 1
    assert "no venue of this consignment is called 'Nowhere'" in str(done.exception)


def test_a_consignment_without_a_silhouette_is_wrong_usage() -> None:
    assert called("consign", "--grade", "7", folder=buyer()).exit_code == 2


BASE = (HERE / "market.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ('[buying]\nsells_at = "Lantern Duck"', "did you mean 'Lantern Dock'"),
        ("[buying]\nmargin = 1.0", "buying.margin"),
        ("[tickets]\ncolumns = 4", "4 tickets of 70 mm are wider than A4"),
        ('[tickets]\npaper = "Letter"', "8 tickets of 36 mm are higher than Letter"),
        ("[tickets]\nround_to = 0", "tickets.round_to"),
        ("[buying]\nconfidence = 0.4", "buying.confidence"),
        ("[[imports]]\nfreight = 3", "give `venue` or `country`"),
        ('[[imports]]\nvenue = "Quay"', "no venue"),
        ('[[imports]]\ncountry = "X"\n[[imports]]\ncountry = "X"', "twice"),
        ("[consigning]\npatience_days = 0", "patience_days"),
        (
            '[[consigning.commission]]\nparty = "buyer"\nstarts_on = 2015-01-01\ntiers = [{ rate = 0.1 }]',
            'must be "seller"',
        ),
    ],
)
def test_a_market_file_that_buys_wrongly_is_refused(table: str, message: str) -> None:
    with pytest.raises(MarketFileError, match=message):
        parse_market(f"{BASE}\n{table}\n", where="market.toml")


@pytest.mark.parametrize(
    ("increments", "message"),
    [
        ("[{ up_to = 100, step = 5 }]", "the last must not have it"),
        ("[{ step = 5 }, { step = 10 }]", "each increment but the last needs"),
        ("[{ up_to = 100, step = 5 }, { up_to = 50, step = 10 }, { step = 20 }]", "must rise"),
        ("[{ step = 0 }]", "step"),
    ],
)
def test_steps_of_bids_that_cannot_be_are_refused(increments: str, message: str) -> None:
    venue = f'[[venues]]\nname = "Quay"\nkind = "auction"\ncurrency = "EUR"\nincrements = {increments}'

    with pytest.raises(MarketFileError, match=message):
        parse_market(f"{BASE}\n{venue}\n", where="market.toml")
