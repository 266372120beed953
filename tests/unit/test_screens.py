"""What each command prints fits on one screen of 80 columns: the answer first, and all the rest with --details."""

import re
from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner

from pipeline.cli import COMMANDS, app
from pipeline.schema import SALE_RECORD
from pipeline.shipped import shipped
from pipeline.terminal.console import OUT
from pipeline.terminal.sheet import MORE
from tests.shops import make_shop

WIDTH, SCREEN = 80, 40
ON = ("--on", "2019-12-31")
PAIR = ("--silhouette", "Dunlin", "--era", "second", "--grade", "7")
LEDGER, MARKET = ("--ledger", "pairband.duckdb"), ("--market", "market.toml")
BOTH = (*LEDGER, *MARKET)
EXPORT = str(shipped("sample_data") / "exports" / "holm_2017_2019.csv")

SCREENS: dict[str, tuple[str, ...]] = {
    "appraise": (*PAIR, *ON, *BOTH),
    "appraise --file": ("--file", "stock.csv", *ON, *BOTH),
    "appraise --era-odds": (*PAIR[:2], "--era-odds", "first=0.6,second=0.4", *ON, *BOTH),
    "appraise --era-odds sales": (*PAIR[:2], *PAIR[4:], "--era-odds", "sales", *ON, *BOTH),
    "consign": (*PAIR, *ON, *BOTH),
    "consign --file": ("--file", "stock.csv", *ON, *BOTH),
    "lots": ("upcoming_lots.csv", *ON, *BOTH),
    "lots --backtest": ("--backtest", *ON, *BOTH),
    "restore": ("stock.csv", *ON, *BOTH),
    "restore alone": (*ON, *BOTH),
    "market": (*ON, *BOTH),
    "audit": (*ON, *BOTH),
    "words": BOTH,
    "stock": ("stock.csv", *ON, *BOTH),
    "changed": ("stock.csv", "--since", "2018-06-30", *ON, *BOTH),
    "outcomes": (*ON, *BOTH),
    "doctor": BOTH,
    "understood": BOTH,
    "check": BOTH,
    "columns": (),
    "records": BOTH,
    "review": LEDGER,
    "decisions": BOTH,
    "fit": BOTH,
    "ingest": (EXPORT, *BOTH),
}
"""What is run of each command that prints an answer, by its name and what is peculiar to the call."""

ROWS = {"lots": 40, "restore alone": 20, "records": 40, "review": 40, "columns": len(SALE_RECORD)}
"""The rows of lists, which a screen may have besides."""

ELSEWHERE = {
    *(
        "add",
        "backup",
        "compact",
        "correct",
        "desk",
        "init",
        "recover",
        "remove",
        "rule",
        "undo",
    ),  # a few lines, or a question
    *("map", "phrases", "quarantine"),  # a document
    *("demo", "pricing", "report"),  # files
}
"""The commands that print no answer of several tables."""


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = make_shop(tmp_path_factory.mktemp("screens"))
    places = ("--ledger", str(folder / "pairband.duckdb"), "--market", str(folder / "market.toml"))
    kept = CliRunner().invoke(app, ["appraise", "--file", str(folder / "stock.csv"), *ON, *places, "--keep"])
    assert kept.exit_code == 0, kept.output
    return folder


@pytest.fixture(autouse=True)
def narrow_terminal(monkeypatch: pytest.MonkeyPatch, shop: Path) -> None:
    monkeypatch.setattr(OUT, "_width", WIDTH)
    monkeypatch.chdir(shop)


@cache
def _printed(name: str, *more: str) -> str:
    """Return what a command prints; asked again, the same."""
    ran = CliRunner().invoke(app, [name.split()[0], *SCREENS[name], *more])
    assert ran.exit_code in (0, 3), ran.output
    return ran.stdout


def test_every_command_that_prints_an_answer_is_looked_at() -> None:
    assert {name.split()[0] for name in SCREENS} | ELSEWHERE == set(COMMANDS)


@pytest.mark.parametrize("name", SCREENS)
def test_an_answer_fits_on_one_screen(name: str) -> None:
    assert len(_printed(name).splitlines()) <= SCREEN + ROWS.get(name, 0)


@pytest.mark.parametrize("name", SCREENS)
def test_no_line_is_wider_than_the_window(name: str) -> None:
    assert [line for line in _printed(name).splitlines() if len(line) > WIDTH] == []


@pytest.mark.parametrize("name", SCREENS)
def test_no_column_is_dropped_for_want_of_width(name: str) -> None:
    assert "Too wide for this window" not in _printed(name)


@pytest.mark.parametrize("name", SCREENS)
def test_no_line_ends_in_spaces_or_holds_a_control_code(name: str) -> None:
    assert not re.search(r" $|\x1b", _printed(name), re.MULTILINE)


@pytest.mark.parametrize("name", SCREENS)
def test_no_amount_share_or_day_is_parted_at_a_line_end(name: str) -> None:
    months = "Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sept|Oct|Nov|Dec"
    parted = rf" [+−±]\n[€£\d]|\d\n%|\d (?:{months})\n\d{{4}}\b|\d\n(?:{months}) \d{{4}}\b"

    assert not re.search(parted, _printed(name))


@pytest.mark.parametrize(
    ("name", "detail"),
    [
        ("appraise", "The bands: how often such a pair sells within them"),
        ("appraise", "What makes the price, step by step"),
        ("appraise", "The nearest sales, adjusted to this pair"),
        ("lots", "The maximum bid is the highest at which"),
        ("lots --backtest", "The winner's curse"),
        ("restore", "What each treatment does to a price in total"),
        ("restore", "The work on each pair: the plan's, else what gains most"),
        ("restore", "Blades: cut away from yourself"),
        ("market", "What each attribute is worth"),
        ("audit", "The most influential sales"),
        ("doctor", "polars"),
        ("understood", "Rows as they were read"),
        ("ingest", "holm_2017_2019.csv: quarantined: 1 × price_native"),
    ],
)
def test_what_an_answer_rests_on_is_shown_on_request(name: str, detail: str) -> None:
    assert (detail in _printed(name), detail in _printed(name, "--details")) == (False, True)


@pytest.mark.parametrize("name", SCREENS)
def test_the_last_line_says_how_to_see_more_and_only_where_there_is_more(name: str) -> None:
    brief, whole = _printed(name), _printed(name, "--details")

    assert (brief.splitlines()[-1] == MORE) == (brief != whole)
    assert MORE not in whole


def test_the_file_of_pairs_ends_with_what_they_are_worth_together() -> None:
    values = [
        int(value) for value in re.findall(r"^ *\d+  TP.*?€(\d+) ", _printed("appraise --file"), re.MULTILINE)
    ]
    [together] = re.findall(r"Sum of fair values  €(\d+)", _printed("appraise --file"))

    assert len(values) == 2
    assert abs(sum(values) - int(together)) <= 1


def test_lots_to_bid_on_end_with_what_they_cost_if_all_are_won() -> None:
    assert re.search(r"^Total: \d+ lots?; if you win all of them they cost €", _printed("lots"), re.MULTILINE)


def test_records_say_how_many_of_how_many_are_shown() -> None:
    assert _printed("records").splitlines()[1] == "40 of 330 records"


def test_one_column_of_a_record_is_shown_whole() -> None:
    shown = CliRunner().invoke(app, ["columns", "status"]).stdout

    assert "How the offer ended. [sold, unsold, withdrawn, open]" in shown


def test_a_column_that_there_is_not_is_refused_with_the_nearest() -> None:
    refused = CliRunner().invoke(app, ["columns", "statsu"])

    assert (refused.exit_code, "did you mean 'status'" in refused.stderr) == (2, True)


def test_the_nearest_sales_stand_as_their_attributes_and_not_as_titles() -> None:
    shown = _printed("appraise", "--details")
    [headings] = re.findall(r"^Sold on .*$", shown, re.MULTILINE)

    assert headings.split()[2:7] == ["Model", "Era", "Size", "Grade", "Box"]
    assert "Originalkarton" not in shown


@pytest.fixture(scope="module")
def two_read(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    """Return what is printed as two exports are read for the first time: in brief, and with details."""
    exports = [EXPORT, str(Path(EXPORT).with_name("holm_2020_2022.csv"))]
    printed = []
    for more in ([], ["--details"]):
        ledger = str(tmp_path_factory.mktemp("two") / "pairband.duckdb")
        arguments = [
            "ingest",
            *exports,
            "--ledger",
            ledger,
            "--market",
            str(shipped("sample_data") / "market.toml"),
        ]
        printed.append(CliRunner().invoke(app, [*arguments, *more]).stdout)
    return printed[0], printed[1]


def test_a_flag_of_several_files_is_said_once_with_its_rows(two_read: tuple[str, str]) -> None:
    assert re.findall(r"^!.*era in conflict.*$", two_read[0], re.MULTILINE) == [
        "! 4 rows flagged: era in conflict (2 files)"
    ]


def test_a_flag_of_each_file_is_said_with_details(two_read: tuple[str, str]) -> None:
    assert len(re.findall(r"^! holm_20.*: 2 flagged: era in conflict$", two_read[1], re.MULTILINE)) == 2


def test_the_account_of_each_of_several_files_comes_with_details(two_read: tuple[str, str]) -> None:
    account = "holm_2017_2019.csv: 332 rows"

    assert (account in two_read[0], account in two_read[1]) == (False, True)
    assert "Odd values: holm_2017_2019.csv (" in two_read[0]
