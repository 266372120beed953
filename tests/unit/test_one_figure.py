"""A figure that several pages, commands and files show is the same on all of them, to the sign.

Each line of SHOWN says where a figure stands and how it is read there: another page that shows it is another line.
"""

import csv
import json
import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from html import unescape
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from click.testing import CliRunner

from pipeline import formats
from pipeline.answers.lots.tables import chance_words
from pipeline.answers.market_view.tables import band_words
from pipeline.cli import app
from pipeline.shipped import shipped
from pipeline.terminal.console import OUT

EXPORTS = ("holm_2017_2019.csv", "holm_2020_2022.csv")
STOCK, LOTS = ("--file", "stock.csv"), ("upcoming_lots.csv",)
MONEY = r"(?:€|£|JP¥)[\d,.]+"
RANGE = rf"{MONEY} – {MONEY}"
SOLD = rf"{MONEY}(?: ?\|)? {MONEY}(?: ?\|)? {MONEY}(?: ?\|)? (?:{MONEY}|–)"
"""The price paid for a sold pair, its net, its cost and the work on it."""
PERCENT = r"[+−]?[\d.]+ %"
DAY = r"\d{1,2} [A-Z][a-z]+ \d{4}"
CHANGES = rf"{PERCENT} to {PERCENT}"


@dataclass(frozen=True)
class Shop:
    """A folder with a fit to two early exports, and what every command says and writes of it."""

    folder: Path
    made: dict[str, Any]

    def ran(self, command: str, *arguments: str) -> str:
        """Return what a command prints."""
        places = ["--ledger", str(self.folder / "pairband.duckdb")]
        places += [] if command == "quarantine" else ["--market", str(self.folder / "market.toml")]
        files = [str(self.folder / one) if one.endswith((".csv", ".html")) else one for one in arguments]
        done = CliRunner().invoke(app, [command, *files, *places])
        assert done.exception is None or isinstance(done.exception, SystemExit), done.output
        return done.stdout

    @cached_property
    def said(self) -> dict[str, str]:
        """Return what each command says in the terminal with all details, in one line of single spaces."""
        return {name: " ".join(self.ran(*line, "--details").split()) for name, line in COMMANDS.items()}

    @cached_property
    def answered(self) -> dict[str, Any]:
        """Return what the same commands answer in JSON."""
        return self.made | {name: json.loads(self.ran(*COMMANDS[name], "--json")) for name in IN_JSON}

    @cached_property
    def pages(self) -> dict[str, str]:
        """Return the text of every page of the report, in one line, a sign | between cells and paragraphs."""
        self.ran("report", str(self.folder / "pages"), "--stock", "stock.csv", "--lots", *LOTS, *ON)
        root = self.folder / "pages"
        return {path.relative_to(root).as_posix(): text_of(path) for path in root.rglob("*.html")}

    @cached_property
    def lots_csv(self) -> list[dict[str, str]]:
        """Return the rows of the CSV of lots, as a spreadsheet gets them."""
        self.ran("lots", *LOTS, "--csv", "lots.csv", *ON)
        with (self.folder / "lots.csv").open(encoding="utf-8-sig", newline="") as file:
            return list(csv.DictReader(file))


ON = ("--on", "2022-12-31")
COMMANDS: dict[str, tuple[str, ...]] = {
    "appraise a list": ("appraise", *STOCK, *ON),
    "appraise a pair": ("appraise", *STOCK, "--row", "2", *ON),
    "consign a list": ("consign", *STOCK, *ON),
    "consign a pair": ("consign", *STOCK, "--row", "2", *ON),
    "lots": ("lots", *LOTS, *ON),
    "restore": ("restore", "stock.csv", *ON),
    "stock": ("stock", "stock.csv", *ON),
    "outcomes": ("outcomes", "--stock", "stock.csv", *ON),
    "market": ("market", *ON),
    "audit": ("audit", *ON),
    "doctor": ("doctor",),
}
IN_JSON = (
    "appraise a pair",
    "consign a pair",
    "lots",
    "restore",
    "stock",
    "outcomes",
    "market",
    "audit",
    "doctor",
)


def text_of(page: Path) -> str:
    """Return what a reader sees of a page."""
    html = re.sub(r"<(script|style|svg)\b.*?</\1>", " ", page.read_text(encoding="utf-8"), flags=re.DOTALL)
    html = re.sub(r"</(?:td|th|p|h1|h2|h3|dt|dd|li|div|tr)>", "|", html)
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", html)).split())


@dataclass(frozen=True)
class Place:
    """A place where a figure stands, and how it is read there."""

    figure: str
    where: str
    read: Callable[[Shop], str]


def page(figure: str, name: str, pattern: str) -> Place:
    """Return the place of a figure on a page of the report: what the first group of a pattern matches."""
    return Place(figure, f"{name}: {pattern}", lambda shop: _found(pattern, shop.pages[name]))


def terminal(figure: str, command: str, pattern: str) -> Place:
    """Return the place of a figure in the terminal: what the first group of a pattern matches."""
    return Place(
        figure, f"{command} in the terminal: {pattern}", lambda shop: _found(pattern, shop.said[command])
    )


def answer(figure: str, command: str, read: Callable[[Any], str]) -> Place:
    """Return the place of a figure in the JSON of a command."""
    return Place(figure, f"{command} in JSON", lambda shop: read(shop.answered[command]))


def _found(pattern: str, text: str) -> str:
    found = re.search(pattern, text.replace("\u00a0", " "))
    assert found is not None, f"{pattern} is not in: {text[:3000]}"
    return found[1]


def euros(value: float) -> str:
    return formats.estimate(value, "EUR")


def ends(band: dict[str, float]) -> str:
    return f"{euros(band['low'])} – {euros(band['high'])}"


def _gain(value: float) -> str:
    return formats.change(value, "EUR", price=formats.SMALL)


def _twelve_months(view: Any) -> str:
    return next(band_words(change) for change in view["changes"] if change["months"] == 12)


VALUE, BAND = "the fair value of a pair", "its 80 % band"
NET = "its net at the median at the best venue"
MOST, THERE, LOSS = "the maximum bid on a lot", "the fair value of a lot at its venue", "its chance of a loss"
GAIN, YEAR, HELD = (
    "the net gain of the plan",
    "the band of a year's change",
    "the share that the bands held",
)
COST, EXPECTED = "the cost of a lot if it is won now", "the expected gain on a lot"
TOGETHER, JOINT, LOWEST = "the stock's fair value together", "its joint band", "its low figure"
PROFIT = "the profit of a pair that was sold"
LAST = "the day of the last sale"
SALES, RECORDED = "the sales of the fit", "the rows recorded"
QUARANTINED, ASIDE = "the rows quarantined", "the rows put aside"

SHOWN: tuple[Place, ...] = (
    page(VALUE, "index.html", rf"TP-1452.*?\| {MONEY} ?\| ({MONEY}) ?\| {RANGE}"),
    page(VALUE, "stock/2.html", rf"({MONEY}) fair value, all-in"),
    page(VALUE, "stock/2.html", rf"should sell for about ({MONEY}), all-in"),
    page(VALUE, "stock/2.html", rf"This pair ?\| – ?\| – ?\| ({MONEY})"),
    terminal(VALUE, "appraise a list", rf"TP-1452 .*?({MONEY}) {RANGE}"),
    terminal(VALUE, "appraise a pair", rf"Fair value, all-in ({MONEY})"),
    terminal(VALUE, "appraise a pair", rf"should sell for about ({MONEY}), all-in"),
    terminal(VALUE, "appraise a pair", rf"This pair – – ({MONEY})"),
    answer(VALUE, "appraise a pair", lambda pair: euros(pair["median"])),
    page(BAND, "index.html", rf"TP-1452.*?({RANGE})"),
    page(BAND, "stock/2.html", rf"80 % ?\| 8 in 10 ?\| ({MONEY} ?\| {MONEY})"),
    page(BAND, "stock/2.html", rf"8 in 10 sell for between ({MONEY} and {MONEY})\."),
    terminal(BAND, "appraise a list", rf"TP-1452 .*?({RANGE})"),
    terminal(BAND, "appraise a pair", rf"80 % band ({RANGE})"),
    terminal(BAND, "appraise a pair", rf"80 % 8 in 10 ({MONEY} {MONEY})"),
    answer(BAND, "appraise a pair", lambda pair: ends(pair["bands"][1])),
    page(VALUE, "stock.html", rf"TP-1452.*?({MONEY}) ?\| {RANGE}"),
    terminal(VALUE, "stock", rf"TP-1452 .*?({MONEY}) {RANGE}"),
    page(BAND, "stock.html", rf"TP-1452.*?({RANGE})"),
    terminal(BAND, "stock", rf"TP-1452 .*?({RANGE})"),
    page(TOGETHER, "index.html", rf"pairs together ?\| {MONEY} ?\| ({MONEY})"),
    page(TOGETHER, "index.html", rf"pairs should sell for about ({MONEY}) together"),
    page(TOGETHER, "stock.html", rf"({MONEY}) for all pairs together"),
    page(TOGETHER, "stock.html", rf"all pairs ?\| 2 ?\| {MONEY} ?\| ({MONEY})"),
    terminal(TOGETHER, "stock", rf"Fair value together, all-in (?:about )?({MONEY})"),
    terminal(TOGETHER, "stock", rf"all pairs 2 {MONEY} ({MONEY})"),
    answer(TOGETHER, "stock", lambda stock: euros(stock["whole"]["median"])),
    page(JOINT, "index.html", rf"pairs together ?\| {MONEY} ?\| {MONEY} ?\| ({RANGE})"),
    page(JOINT, "stock.html", rf"8 in 10 outcomes lie between ({MONEY} and {MONEY})\. 19"),
    terminal(JOINT, "stock", rf"80 % band ({RANGE})"),
    answer(JOINT, "stock", lambda stock: ends(stock["whole"])),
    page(LOWEST, "index.html", rf"19 in 20 bring more than ({MONEY})"),
    page(LOWEST, "stock.html", rf"19 in 20 bring more\) ?\| ({MONEY})"),
    terminal(LOWEST, "stock", rf"19 in 20 bring more\) ({MONEY})"),
    answer(LOWEST, "stock", lambda stock: euros(stock["whole"]["safe"])),
    page(PROFIT, "stock.html", rf"Auctions ?\| {DAY} ?\| {SOLD} ?\| ([+−]{MONEY})"),
    terminal(PROFIT, "stock", rf"Auctions {DAY} {SOLD} ([+−]{MONEY})"),
    answer(PROFIT, "stock", lambda stock: formats.gain(stock["sold"][0]["profit"], "EUR")),
    terminal(PROFIT, "outcomes", rf"all pairs 1 {MONEY} {MONEY} (?:{MONEY}|–) ([+−]{MONEY})"),
    answer(PROFIT, "outcomes", lambda found: formats.gain(found["profits"]["pairs"][0]["profit"], "EUR")),
    page(LAST, "stock/2.html", rf"Sold between ?\| {DAY} and ({DAY})"),
    page(LAST, "market.html", rf"Sold between ?\| {DAY} and ({DAY})"),
    terminal(LAST, "appraise a pair", rf"From [\d,]+ sales, {DAY} to ({DAY})"),
    terminal(LAST, "stock", rf"From [\d,]+ sales, {DAY} to ({DAY})"),
    answer(LAST, "stock", lambda stock: formats.day(date.fromisoformat(stock["source"]["last_sale"]))),
    page(NET, "index.html", rf"TP-1452.*?{RANGE} ?\| ({MONEY})"),
    page(NET, "sheets/2.html", rf"({MONEY}) to you from a typical sale"),
    page(NET, "sheets/2.html", rf"A typical sale there leaves ({MONEY})"),
    page(NET, "sheets/2.html", rf"Net at the median.*?{RANGE} ?\| ({MONEY})"),
    terminal(NET, "consign a list", rf"TP-1452 .*?{MONEY} ({MONEY})"),
    terminal(NET, "consign a pair", rf"Net at the median ({MONEY})"),
    terminal(NET, "consign a pair", rf"Lots sold .*?{RANGE} ({MONEY})"),
    answer(NET, "consign a pair", lambda pair: euros(pair["offers"][0]["at_median"]["to_consignor"])),
    page(MOST, "index.html", rf"First: .*?, up to ({MONEY})\."),
    page(MOST, "lots.html", rf"First: .*?, up to ({MONEY})\."),
    page(MOST, "lots.html", rf"\| bid[^|]*\| {MONEY} ?\| {MONEY} ?\| ({MONEY})"),
    terminal(MOST, "lots", rf"First: .*?, up to ({MONEY})\."),
    terminal(MOST, "lots", rf"Chance of a loss 1 .*?{MONEY} ({MONEY})"),
    answer(MOST, "lots", lambda listed: formats.amount(listed["lots"][0]["walk_away_bid"], "EUR")),
    Place(MOST, "lots.csv", lambda shop: formats.amount(float(shop.lots_csv[0]["walk_away_bid"]), "EUR")),
    page(THERE, "lots.html", rf"\| bid[^|]*\| {MONEY} ?\| {MONEY} ?\| {MONEY} ?\| ({MONEY})"),
    terminal(THERE, "lots", rf"Chance of a loss 1 .*?{MONEY} {MONEY} ({MONEY})"),
    answer(THERE, "lots", lambda listed: euros(listed["lots"][0]["median"])),
    Place(THERE, "lots.csv", lambda shop: euros(float(shop.lots_csv[0]["median_eur"]))),
    page(COST, "lots.html", rf"\| bid[^|]*\| {MONEY} ?\| ({MONEY})"),
    answer(COST, "lots", lambda listed: formats.amount(listed["lots"][0]["landed_cost"], "EUR")),
    Place(COST, "lots.csv", lambda shop: formats.amount(float(shop.lots_csv[0]["landed_cost_eur"]), "EUR")),
    page(EXPECTED, "lots.html", rf"\| bid[^|]*\|.*?(\+{MONEY}) ?\| (?:under )?\d+ %"),
    terminal(EXPECTED, "lots", rf"Chance of a loss 1 .*?(\+{MONEY})"),
    answer(EXPECTED, "lots", lambda listed: _gain(listed["lots"][0]["expected_gain"])),
    Place(EXPECTED, "lots.csv", lambda shop: _gain(float(shop.lots_csv[0]["expected_gain_eur"]))),
    page(LOSS, "lots.html", rf"\| bid[^|]*\|.*?\+{MONEY} ?\| ((?:under )?\d+ %)"),
    terminal(LOSS, "lots", rf"Chance of a loss 1 .*?\+{MONEY} ((?:under )?\d+ %)"),
    answer(LOSS, "lots", lambda listed: chance_words(listed["lots"][0]["chance_of_loss"])),
    page(GAIN, "index.html", rf"should add about ({MONEY}) ±"),
    page(GAIN, "restoration.html", rf"({MONEY}) net gain of the best plan"),
    page(GAIN, "restoration.html", rf"should add about ({MONEY}) ±"),
    terminal(GAIN, "restore", rf"net gain of the plan ({MONEY}) ±"),
    terminal(GAIN, "restore", rf"should add about ({MONEY}) ±"),
    terminal(GAIN, "restore", rf"Total: .*?net gain ({MONEY}) ±"),
    answer(GAIN, "restore", lambda report: euros(report["plan"]["gain"])),
    page(YEAR, "index.html", rf"a year earlier.*?80 % band \(?({CHANGES})"),
    page(YEAR, "market.html", rf"a year earlier.*?80 % band \(?({CHANGES})"),
    page(YEAR, "market.html", rf"in 12 months, to [A-Z]\w+ \d+ ?\| {PERCENT} ?\| ({CHANGES})"),
    terminal(YEAR, "market", rf"a year earlier.*?80 % band \(?({CHANGES})"),
    terminal(YEAR, "market", rf"in 12 months, to [A-Z]\w+ \d+ {PERCENT} ({CHANGES})"),
    answer(YEAR, "market", _twelve_months),
    page(HELD, "index.html", r"80 %: ([\d.]+ %)"),
    page(HELD, "audit.html", r"80 %: ([\d.]+ %)"),
    terminal(HELD, "audit", r"80 %: ([\d.]+ %)"),
    terminal(HELD, "audit", r"80 % all sales \d+ ([\d.]+ %)"),
    answer(HELD, "audit", lambda found: f"{100 * _coverage(found):.1f} %"),
    page(SALES, "stock/2.html", r"Sale records ?\| ([\d,]+)"),
    page(SALES, "index.html", r"Sale records ?\| ([\d,]+)"),
    page(SALES, "audit.html", r"Sale records ?\| ([\d,]+)"),
    terminal(SALES, "appraise a pair", r"From ([\d,]+) sales"),
    terminal(SALES, "audit", r"of ([\d,]+) sales priced"),
    answer(SALES, "fit", lambda summary: formats.count(summary["sales"])),
    answer(SALES, "appraise a pair", lambda pair: formats.count(pair["source"]["records"])),
    terminal(RECORDED, "doctor", r"([\d,]+) recorded"),
    answer(RECORDED, "doctor", lambda health: formats.count(health["sales"])),
    answer(RECORDED, "ingest", lambda run: _rows(run, "recorded")),
    terminal(QUARANTINED, "doctor", r"([\d,]+) quarantined"),
    answer(QUARANTINED, "ingest", lambda run: _rows(run, "quarantined")),
    terminal(ASIDE, "doctor", r"([\d,]+) put aside"),
    answer(ASIDE, "ingest", lambda run: _rows(run, "put_aside")),
)
"""Every place of a figure that stands in more than one."""

FIGURES = tuple(dict.fromkeys(place.figure for place in SHOWN))


def _rows(run: Any, kind: str) -> str:
    return formats.count(sum(file[kind] for file in run["files"]))


def _coverage(found: Any) -> float:
    [whole] = [
        row["coverage"]["covered"]
        for row in found["coverages"]
        if row["kind"] == "all" and round(row["coverage"]["level"], 2) == 0.8
    ]
    return float(whole)


def _number_sold(folder: Path) -> str:
    """Return the stock number of a pair that the first export says was sold."""
    rows = pl.read_csv(folder / EXPORTS[0], separator=";", encoding="cp1252", infer_schema=False)
    return str(rows.filter(pl.col("Ergebnis") == "zugeschlagen")["Ihre Nr."].drop_nulls().unique().sort()[0])


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    """Return a shop of two early exports, two pairs of stock and four upcoming lots."""
    folder = tmp_path_factory.mktemp("shop")
    scene = shipped("sample_data")
    shutil.copy(scene / "market.toml", folder)
    for name in EXPORTS:
        shutil.copy(scene / "exports" / name, folder)
    listed = pl.read_csv(scene / "exports" / "stock.csv").head(2)
    gone = listed.tail(1).with_columns(stock=pl.lit(_number_sold(folder)), bought=pl.lit("2017-01-01"))
    pl.concat([listed, gone]).write_csv(folder / "stock.csv")
    lots = pl.read_csv(scene / "exports" / "upcoming_lots.csv").head(4).with_columns(present_bid=20)
    lots.write_csv(folder / "upcoming_lots.csv")
    made = Shop(folder, {})
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(OUT, "_width", 250)
        for command in (("ingest", *EXPORTS), ("fit",)):
            made.made[command[0]] = json.loads(made.ran(*command, "--json"))
        yield made


@pytest.mark.parametrize("place", SHOWN, ids=lambda place: f"{place.figure} in {place.where}")
def test_a_figure_is_shown_as_at_its_first_place(shop: Shop, place: Place) -> None:
    first = next(one for one in SHOWN if one.figure == place.figure)
    assert _signs(place.read(shop)) == _signs(first.read(shop))


@pytest.mark.parametrize("figure", FIGURES)
def test_a_figure_of_the_list_stands_in_more_than_one_place(figure: str) -> None:
    assert sum(place.figure == figure for place in SHOWN) > 1


def _signs(figure: str) -> str:
    """Return a figure without what stands between the ends of a range: a dash, a word, or two columns."""
    return re.sub(r" ?(?:–|and|\|) ?", " ", figure.replace("\u00a0", " "))
