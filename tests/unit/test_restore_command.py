"""`pairband restore` and `pairband appraise --era-odds`, from a small export to their answers."""

import csv
import json
from datetime import date
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

import pytest
from click.testing import CliRunner, Result

from pipeline.answers.era_odds.run import appraise_in_doubt
from pipeline.cli import app
from pipeline.errors import PairError
from pipeline.market.subject import Description
from pipeline.workspace import Workspace

HERE = Path(__file__).parents[1]
STOCK_MAP = """
[maps.stock]
venue = "Lantern Dock"
files = "stock*.csv"
holds = "stock"
price_basis = "all-in"

[maps.stock.columns]
stock_ref = "stock"
silhouette = "silhouette"
era = "era"
size_label = "size"
grade = "grade"
defects = "defects"
treatments = "treatments"
"""
STOCK = """stock,silhouette,era,size,grade,defects,treatments
S1,Gannet Hi,first,UK 8,5,sole separation,none
S2,Gannet Hi,first,UK 9,,none,none
=S3,Plover Lo,first,UK 9,6,yellowing,none
"""


@cache
def shop() -> Path:
    """Return a folder with a market file, a stock list, and a ledger of forty sales with a fit."""
    folder = Path(mkdtemp(prefix="pairband-restore-"))
    market = (HERE / "market.toml").read_text(encoding="utf-8") + STOCK_MAP
    (folder / "market.toml").write_text(market, encoding="utf-8")
    (folder / "stock.csv").write_text(STOCK, encoding="utf-8")
    lines = ["item,sku,title,listed,ended,sold_for,asked,state,size,grade,box"]
    for number in range(40):
        name = "Gannet Hi Buoy Red" if number % 3 else "Plover Lo Kelp"
        work = " reglued" if number % 4 == 0 else ""
        price = 100 + 7 * (number % 11) + (80 if number % 3 else 0)
        day = f"2024-{1 + number % 9:02d}-{1 + number % 28:02d}"
        lines.append(
            f"L{number},,{name} first run{work},{day},{day},{price}.00,{price + 20}.00,sold,"
            f"UK {7 + number % 4},{5 + number % 4},original"
        )
    (folder / "lantern_2024.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    for arguments in (["ingest", str(folder / "lantern_2024.csv")], ["fit"]):
        assert called(*arguments, folder=folder).exit_code == 0
    return folder


def called(*arguments: str, folder: Path | None = None) -> Result:
    folder = folder or shop()
    places = ["--ledger", str(folder / "pairband.duckdb"), "--market", str(folder / "market.toml")]
    return CliRunner().invoke(app, [*arguments, *places])


def restored(*arguments: str) -> Result:
    return called("restore", str(shop() / "stock.csv"), "--on", "2024-10-01", *arguments)


def test_the_plan_keeps_to_the_hours_given() -> None:
    document = json.loads(restored("--hours", "3.5", "--json").stdout)

    assert document["plan"]["hours"] <= document["plan"]["hours_given"] == 3.5
    assert {work["label"] for work in document["works"]} == {"S1", "=S3"}


def test_a_pair_of_unknown_grade_is_named_with_why() -> None:
    document = json.loads(restored("--json").stdout)

    assert document["not_weighed"] == [
        {"pair": "S2", "why": "its grade is not known: check it and run again"}
    ]


def test_a_treatment_without_a_sale_is_named() -> None:
    document = json.loads(restored("--json").stdout)

    assert any("No sale shows what buyers take off for" in caution for caution in document["cautions"])


@pytest.mark.parametrize(
    "said",
    ["solvents", "ultraviolet", "blades", "dust", "local rules", "worthless pair", "appraiser"],
)
def test_the_terminal_says_what_must_be_said_before_work(said: str) -> None:
    assert said in " ".join(restored().stdout.lower().split())


def test_without_a_stock_list_the_effects_are_told_alone() -> None:
    document = json.loads(called("restore", "--json", "--on", "2024-10-01").stdout)

    assert document["plan"] is None
    assert len(document["effects"]) > 0


def test_the_csv_is_safe_to_open_in_a_spreadsheet(tmp_path: Path) -> None:
    restored("--csv", str(tmp_path / "works.csv"))
    with (tmp_path / "works.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))

    assert {row["pair"] for row in rows} == {"S1", "'=S3"}


def test_the_page_is_written_where_it_is_asked_for(tmp_path: Path) -> None:
    said = restored("--page", str(tmp_path / "restore.html"))

    assert f"wrote {tmp_path / 'restore.html'}" in said.stdout.replace("\n", "")
    assert "What to restore next" in (tmp_path / "restore.html").read_text(encoding="utf-8")


def test_a_csv_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    said = restored("--csv", str(tmp_path / "file" / "works.csv"))

    assert "cannot be written" in str(said.exception)


def odds(*arguments: str) -> Result:
    return called("appraise", "--silhouette", "Gannet Hi", "--grade", "7", "--on", "2024-10-01", *arguments)


def test_an_era_in_doubt_has_a_mixed_band_and_an_answers_worth() -> None:
    document = json.loads(odds("--era-odds", "first=0.7,second=0.3", "--json").stdout)

    assert document["bands"][1]["low"] < document["median"] < document["bands"][1]["high"]
    assert document["finding_out"] == document["most"] >= 0


def test_sales_after_the_day_of_valuation_tell_no_odds() -> None:
    with pytest.raises(PairError, match="no record up to 2023-12-31 states an era"):
        appraise_in_doubt(
            Workspace(shop() / "pairband.duckdb", shop() / "market.toml"),
            Description(silhouette="Gannet Hi", grade="7"),
            "sales",
            as_of=date(2023, 12, 31),
        )


def test_the_odds_may_come_from_the_sales() -> None:
    document = json.loads(odds("--era-odds", "sales", "--json").stdout)

    chances = {era["era"]: era["chance"] for era in document["eras"]}
    assert chances["first"] == max(chances.values())
    assert sum(chances.values()) == pytest.approx(1.0)
    assert document["learned"]["records"] == 40


def test_a_row_of_a_file_may_have_its_era_in_doubt() -> None:
    said = called(
        *("appraise", "--file", str(shop() / "stock.csv"), "--row", "1", "--on", "2024-10-01"),
        *("--era-odds", "first=0.5,second=0.5", "--json"),
    )

    assert json.loads(said.stdout)["pair"]["label"] == "S1"


def test_the_page_of_a_doubt_is_written(tmp_path: Path) -> None:
    odds("--era-odds", "first=0.7,second=0.3", "--page", str(tmp_path / "doubt.html"))

    assert "What finding out is worth" in (tmp_path / "doubt.html").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "arguments",
    [
        ("--era-odds", "first=1", "--era", "first"),
        ("--at-price", "100"),
    ],
)
def test_an_era_is_given_or_doubted_but_not_both(arguments: tuple[str, ...]) -> None:
    assert odds(*arguments).exit_code == 2


@pytest.mark.parametrize(
    "words", [("restore",), ("appraise", "--silhouette", "Gannet Hi", "--era-odds", "sales")]
)
def test_a_day_inside_the_records_is_said_of_every_answer(words: tuple[str, ...]) -> None:
    document = json.loads(called(*words, "--on", "2024-03-01", "--json").stdout)

    assert any("a day inside the records" in caution for caution in document["cautions"])


def test_a_heading_within_the_stock_list_is_said_to_be_set_aside(tmp_path: Path) -> None:
    header, *rows = STOCK.splitlines()
    path = tmp_path / "stock.csv"
    path.write_text("\n".join([header, "— Back room —,,,,,,", *rows]) + "\n", encoding="utf-8")
    document = json.loads(called("restore", str(path), "--on", "2024-10-01", "--json").stdout)

    assert [caution for caution in document["cautions"] if "Back room" in caution] != []


def test_a_fit_says_in_a_dealers_words_what_the_sales_do_not_tell() -> None:
    said = " ".join(called("fit").output.split())

    assert "All sales say the same, or nothing, of" in said


def test_a_fit_without_silhouettes_says_that_they_are_to_be_written(tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    folder.mkdir()
    (folder / "market.toml").write_text((HERE / "market.toml").read_text(encoding="utf-8"), encoding="utf-8")
    lines = ["item,sku,title,listed,ended,sold_for,asked,state,size,grade,box"]
    lines += [
        f"L{lot},,Ostrel Rarity,2024-01-02,2024-01-{lot:02},100.00,,sold,UK 8,8," for lot in range(3, 14)
    ]
    (folder / "lantern_2024.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    called("ingest", str(folder / "lantern_2024.csv"), folder=folder)
    refused = called("fit", folder=folder)

    assert "11 more have no silhouette" in str(refused.exception)
