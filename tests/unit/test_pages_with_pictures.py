"""Photographs on pages, sheets and tickets: in the page itself, with words, and with nothing of the camera's."""

import base64
import re
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import polars as pl
import pytest
from click.testing import CliRunner
from PIL import Image

from pipeline.cli import app
from pipeline.config import Tickets, load_market, parse_market
from pipeline.errors import MarketFileError
from pipeline.ingest.lots import read_lots
from pipeline.market.subject import pairs_of_records
from pipeline.pictures.photograph import make_photograph
from reports.appraisal.page import appraisal_page
from reports.consignment.tickets import tickets_page
from tests.appraisals import AS_OF, HOSTILE, common_pair
from tests.shops import make_shop
from tests.unit.test_photograph import PLANTED, picture_file, with_all_metadata
from tests.unit.test_tickets import ticket

MARKET = Path(__file__).parents[1] / "market.toml"
BUSINESS = "Tidewrack Pairs"
PICTURE = make_photograph(picture_file((60, 40)), 240)
LISTED = """
[maps.own]
venue = "Lantern Dock"
files = "own*.csv"
holds = "stock"

[maps.own.columns]
stock_ref = "stock"
title = "title"
picture = "photos"
"""


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[str, str]]:
    """Return each page of the first pair of a shop's stock with pictures, and what its command said."""
    folder = make_shop(tmp_path_factory.mktemp("shop"))
    market = folder / "market.toml"
    market.write_text(market.read_text(encoding="utf-8") + '\n[pictures]\nfolder = "pictures"\n', "utf-8")
    (folder / "pictures").mkdir()
    (folder / "pictures" / "tp-1451.jpg").write_bytes(with_all_metadata("JPEG"))
    (folder / "pictures" / "TP-1451-2.jpg").write_text("no picture")
    stock = str(folder / "stock.csv")
    commands = {
        "appraisal": ["appraise", "--file", stock, "--row", "1", "--page"],
        "sheet": ["consign", "--file", stock, "--row", "1", "--page"],
        "tickets": ["consign", "--file", stock, "--tickets"],
        "stock": ["stock", stock, "--page"],
    }
    places = ["--on", "2020-01-15", "--market", str(market), "--ledger", str(folder / "pairband.duckdb")]
    made = {}
    for name, command in commands.items():
        page = folder / f"{name}.html"
        ran = CliRunner().invoke(app, [*command, str(page), *places], catch_exceptions=False)
        made[name] = (page.read_text(encoding="utf-8"), ran.output)
    return made


def embedded(html: str) -> list[bytes]:
    """Return the bytes of every picture in a page."""
    return [base64.b64decode(data) for data in re.findall(r'src="data:image/webp;base64,([^"]+)"', html)]


PAGES = ("appraisal", "sheet", "tickets", "stock")


@pytest.mark.parametrize("name", PAGES)
def test_every_page_of_a_pair_shows_its_photograph(name: str, pages: dict[str, tuple[str, str]]) -> None:
    assert len(embedded(pages[name][0])) == 1


@pytest.mark.parametrize("name", PAGES)
def test_a_photograph_says_what_it_shows_to_who_cannot_see_it(
    name: str, pages: dict[str, tuple[str, str]]
) -> None:
    assert 'alt="Dunlin, Moss Rope, stock number TP-1451"' in pages[name][0]


@pytest.mark.parametrize("name", PAGES)
def test_nothing_that_the_camera_wrote_is_in_a_page(name: str, pages: dict[str, tuple[str, str]]) -> None:
    html = pages[name][0]
    assert all(PLANTED not in content for content in (html.encode(), *embedded(html)))


@pytest.mark.parametrize("name", PAGES)
def test_a_photograph_taken_out_of_a_page_has_no_exif(name: str, pages: dict[str, tuple[str, str]]) -> None:
    for content in embedded(pages[name][0]):
        with Image.open(BytesIO(content)) as again:
            assert dict(again.getexif()) == {}


def test_a_picture_that_cannot_be_shown_is_said_and_the_page_is_made(
    pages: dict[str, tuple[str, str]],
) -> None:
    said = " ".join(pages["appraisal"][1].split())
    assert "The picture 'TP-1451-2.jpg' is not shown: it is no JPEG, PNG or WebP picture" in said


def test_pictures_on_a_ticket_and_in_a_list_are_smaller_than_on_a_sheet() -> None:
    large = picture_file((1200, 900))
    assert len(make_photograph(large, 240).content) < len(make_photograph(large, 640).content)


def test_a_second_photograph_says_that_it_is_the_second() -> None:
    html = appraisal_page(common_pair(), business=BUSINESS, pictures=[PICTURE, PICTURE])
    assert 'alt="Gannet Hi, Buoy Red, stock number Stock 0417, picture 2"' in html


def test_a_label_cannot_leave_the_words_of_its_picture() -> None:
    appraisal = common_pair()
    hostile = replace(appraisal, pair=replace(appraisal.pair, label=f'" onload="alert(1)" {HOSTILE}'))
    html = appraisal_page(hostile, business=BUSINESS, pictures=[PICTURE])
    assert "stock number &#34; onload=&#34;alert(1)&#34; &lt;/script&gt;" in html


def test_the_same_picture_makes_the_same_page() -> None:
    once, again = (
        appraisal_page(common_pair(), business=BUSINESS, pictures=[make_photograph(picture_file(), 640)])
        for _ in range(2)
    )
    assert once == again


def test_a_page_without_pictures_leaves_no_room_for_them() -> None:
    assert '<div class="photographs">' not in appraisal_page(common_pair(), business=BUSINESS)


def test_a_ticket_without_a_picture_stands_beside_one_with() -> None:
    html = tickets_page([ticket(), ticket()], Tickets(), business=BUSINESS, pictures=[None, PICTURE])
    assert (html.count('role="listitem"'), html.count("<img ")) == (2, 1)


def test_a_stock_list_names_several_pictures_of_a_pair(tmp_path: Path) -> None:
    (tmp_path / "own.csv").write_text(
        "stock,title,photos\nA1,Gannet Hi,one.jpg; two.jpg | three.jpg;\nA2,Gannet Hi,\n", encoding="utf-8"
    )
    market = parse_market(MARKET.read_text(encoding="utf-8") + LISTED, where="market.toml")
    records, refused, _ = read_lots(tmp_path / "own.csv", market, as_of=AS_OF)
    named = [pair.pictures for pair in pairs_of_records(records)]
    assert (named, refused.height) == ([("one.jpg", "two.jpg", "three.jpg"), ()], 0)


def test_a_list_of_lots_has_no_pictures_of_the_owners() -> None:
    text = MARKET.read_text(encoding="utf-8") + LISTED.replace('"stock"\n\n', '"lots"\n\n')
    with pytest.raises(
        MarketFileError, match=r'`picture` is of a stock list: it needs a map with `holds = "stock"`'
    ):
        parse_market(text, where="market.toml")


def test_a_folder_of_pictures_lies_beside_the_market_file(tmp_path: Path) -> None:
    text = MARKET.read_text(encoding="utf-8") + '\n[pictures]\nfolder = "pictures"\n'
    (tmp_path / "market.toml").write_text(text, encoding="utf-8")
    assert load_market(tmp_path / "market.toml").pictures.folder == str(tmp_path / "pictures")


def test_a_list_without_a_column_of_pictures_names_none(tmp_path: Path) -> None:
    (tmp_path / "own.csv").write_text("stock,title\nA1,Gannet Hi\n", encoding="utf-8")
    text = MARKET.read_text(encoding="utf-8") + LISTED.replace('picture = "photos"\n', "")
    records = read_lots(tmp_path / "own.csv", parse_market(text, where="market.toml"), as_of=AS_OF)[0]
    assert records["pictures"].dtype == pl.List(pl.String)
    assert pairs_of_records(records)[0].pictures == ()
