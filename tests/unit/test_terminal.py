"""What a command shows in the terminal is what it answers in JSON; the pages and figures asked for are written."""

import json
import re
import shutil
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from pipeline import formats
from pipeline.answers.sheet import known
from pipeline.cli import app
from pipeline.config import load_market
from pipeline.terminal.console import OUT
from pipeline.terminal.questions import QUESTIONS, ask_for_the_rest
from tests.shops import make_shop

ON = ("--on", "2019-12-31")


@pytest.fixture(autouse=True)
def wide_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave no column out for want of width, whatever the terminal of the tests is."""
    monkeypatch.setattr(OUT, "_width", 200)


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with the demo's market file, two pairs of its stock, and a fit to one early export."""
    return make_shop(tmp_path_factory.mktemp("shop"))


@cache
def _ran(shop: Path, command: str, *arguments: str, market: bool = True) -> Result:
    """Return what came of a command; asked again, the same."""
    places = ["--ledger", str(shop / "pairband.duckdb")]
    places += ["--market", str(shop / "market.toml")] if market else []
    return CliRunner().invoke(app, [command, *arguments, *places])


def _shown(shop: Path, command: str, *arguments: str, market: bool = True) -> str:
    """Return what a command shows, in one line of single spaces, so that no table's width matters."""
    ran = _ran(shop, command, *arguments, market=market)
    assert ran.exception is None or isinstance(ran.exception, SystemExit), ran.output
    return " ".join(ran.stdout.split())


def _answered(shop: Path, command: str, *arguments: str, market: bool = True) -> Any:
    return json.loads(_ran(shop, command, *arguments, "--json", market=market).stdout)


def test_the_audit_shows_its_verdict_every_band_and_how_the_values_compare(
    shop: Path, tmp_path: Path
) -> None:
    answered = _ran(shop, "audit", *ON, "--json")
    found = json.loads(answered.stdout)
    page, figure = tmp_path / "audit.html", tmp_path / "bands.svg"
    shown = _shown(
        shop, "audit", *ON, "--details", "--page", str(page), "--figure", "bands", "--to", str(figure)
    )

    assert answered.exit_code == (0 if "held up" in found["verdict"]["words"] else 3)
    assert found["verdict"]["words"] in shown
    for row in found["coverages"]:
        of = "all sales" if row["kind"] == "all" else f"{row['kind']} {known(row['group'])}"
        held = row["coverage"]
        assert f"{of} {held['sales']} {100 * held['covered']:.1f} %" in shown
    assert all(pricer["words"] in shown for pricer in found["pricers"])
    assert f"{found['priced']} of {found['sales']} sales priced from earlier months alone" in shown
    assert shown.endswith(f"wrote {page} wrote {figure}")
    assert figure.read_text(encoding="utf-8").startswith("<svg")


def test_the_market_shows_how_busy_each_venue_was_and_what_each_attribute_is_worth(shop: Path) -> None:
    view = _answered(shop, "market", *ON)
    shown = _shown(shop, "market", *ON, "--details")

    assert view["attribute_values"]
    for one in view["attribute_values"]:
        told = (one["attribute"], known(one["value"]), one["against"])
        assert f"{' '.join(filter(None, told))} " in shown
    assert "Holm Sound Auctions 2019 Q4 35 9 80 %" in shown  # of 44 offered 35 sold, counted in the export


def test_a_market_of_few_sales_says_what_it_cannot_show(shop: Path) -> None:
    shown = _shown(shop, "market", *ON, "--details")

    assert "too few for an index of their own (10 are needed)" in shown
    assert "no index by era" in shown


@pytest.mark.parametrize(
    ("figure", "command", "arguments"),
    [
        ("worth-grade", "market", ()),
        ("effects", "restore", ()),
        ("waterfall", "appraise", ("--silhouette", "Dunlin", "--grade", "7")),
        ("eras", "appraise", ("--silhouette", "Dunlin", "--era-odds", "first=0.6,second=0.4")),
    ],
)
def test_the_page_and_the_figure_that_are_asked_for_are_written_and_named(
    shop: Path, tmp_path: Path, figure: str, command: str, arguments: tuple[str, ...]
) -> None:
    page, file = tmp_path / "page.html", tmp_path / "figure.csv"
    wanted = ("--page", str(page), "--figure", figure, "--to", str(file))
    ran = _ran(shop, command, *arguments, *ON, *wanted)

    assert ran.stdout.rstrip().endswith(f"wrote {page}\nwrote {file}")
    assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert len(file.read_text(encoding="utf-8").splitlines()) > 1


def test_a_page_without_figures_says_that_it_has_none(shop: Path) -> None:
    ran = _ran(shop, "consign", "--silhouette", "Dunlin", "--grade", "7", *ON, "--figure", "offers")

    assert "no figure of this page is called 'offers'\nit has none." in str(ran.exception)


def test_the_pages_of_a_file_are_numbered(shop: Path, tmp_path: Path) -> None:
    page = tmp_path / "pair.html"
    ran = _ran(shop, "appraise", "--file", str(shop / "stock.csv"), *ON, "--page", str(page))

    assert ran.stdout.rstrip().endswith(f"wrote {page}\nwrote {tmp_path / 'pair-2.html'}")
    assert "TP-1451" in page.read_text(encoding="utf-8")
    assert "TP-1452" in (tmp_path / "pair-2.html").read_text(encoding="utf-8")


def test_the_pairs_of_a_file_are_one_line_each_with_their_number(shop: Path) -> None:
    file = ("--file", str(shop / "stock.csv"), *ON)
    valued = _answered(shop, "appraise", *file)
    shown = _shown(shop, "appraise", *file)

    assert shown.startswith("2 pairs, valued on 31 Dec 2019")
    for appraisal in valued:
        low, high = (formats.estimate(appraisal["bands"][1][end], "EUR") for end in ("low", "high"))
        assert f"{formats.estimate(appraisal['median'], 'EUR')} {low} – {high}" in shown
    assert "± 1 standard error" not in shown


def test_one_row_of_a_file_is_shown_in_detail(shop: Path) -> None:
    shown = _shown(shop, "appraise", "--file", str(shop / "stock.csv"), "--row", "2", *ON, "--details")

    assert "TP-1452" in shown
    assert "± 1 standard error" in shown


def test_the_answer_comes_before_any_table(shop: Path) -> None:
    shown = _shown(shop, "appraise", "--silhouette", "Dunlin", "--grade", "7", *ON, "--details")

    assert (
        shown.index("Fair value, all-in about €") < shown.index("A pair like this") < shown.index("19 in 20")
    )


def test_a_figure_of_several_pairs_is_refused_before_anything_is_printed(shop: Path) -> None:
    ran = _ran(shop, "appraise", "--file", str(shop / "stock.csv"), *ON, "--figure", "band")

    assert ran.exit_code == 2
    assert "name its --row" in ran.stderr
    assert ran.stdout == ""


@pytest.mark.parametrize("command", ["market", "audit", "restore", "consign", "appraise"])
def test_a_format_without_a_figure_is_refused_before_the_work(shop: Path, command: str) -> None:
    ran = _ran(shop, command, "--format", "svg")

    assert ran.exit_code == 2
    assert "name it" in ran.stderr
    assert ran.stdout == ""


def test_a_consignment_shows_every_venue_with_its_asks_and_estimates(shop: Path) -> None:
    pair = ("--silhouette", "Dunlin", "--grade", "7", *ON)
    priced = _answered(shop, "consign", *pair)
    shown = _shown(shop, "consign", *pair, "--details")

    best = priced["offers"][0]
    nets = [float(offer["at_median"]["to_consignor"]) for offer in priced["offers"]]
    assert best["qualifies"]
    assert nets[0] == max(
        net for offer, net in zip(priced["offers"], nets, strict=True) if offer["qualifies"]
    )
    assert (
        f"Best for the consignor: {best['venue']}. A typical sale there leaves €{nets[0]:.0f} after" in shown
    )
    for offer, net in zip(priced["offers"], nets, strict=True):
        band = f"€{offer['low']:.0f} – €{offer['high']:.0f}"
        assert f"{band} €{net:.0f}" in shown
    assert "Umikaze Lots Reserve JP¥" in shown
    assert "never above the low estimate" in shown


def test_the_work_on_the_stock_is_shown_with_its_cautions(shop: Path) -> None:
    shown = _shown(shop, "restore", str(shop / "stock.csv"), *ON, "--details")

    assert "TP-1452 deep clean" in shown
    assert "It pays if it adds more to the fair value than it costs" in shown
    assert "Blades: cut away from yourself" in shown
    assert "Practise on a worthless pair first" in shown


def test_an_era_in_doubt_shows_each_era_and_what_an_answer_is_worth(shop: Path) -> None:
    shown = _shown(shop, "appraise", "--silhouette", "Dunlin", "--era-odds", "sales", "--at-price", "90", *ON)

    assert "If you can buy it for €90, finding out is worth" in shown
    assert "It does not authenticate a pair" in shown


def test_what_awaits_a_decision_is_listed(shop: Path) -> None:
    listed = _answered(shop, "review", market=False)
    shown = _shown(shop, "review", market=False)

    assert "Sales excluded pending review 2" in shown
    assert len(listed["excluded_sales"]) == 2
    assert all(sale["record_id"][:6] in shown for sale in listed["excluded_sales"])


def test_the_bids_on_past_lots_are_shown_by_year(shop: Path) -> None:
    shown = _shown(shop, "lots", "--backtest", "--details")

    [won] = re.findall(r"Of 210 past lots .*?, the rule wins (\d+),", shown)
    by_year = re.search(r"In hindsight Lost money (.*?) In total", shown)
    assert by_year is not None
    assert sum(int(year.split()[1]) for year in re.findall(r"20\d\d \d+", by_year[1])) == int(won)
    assert "The winner's curse" in shown


def test_a_described_attribute_goes_before_the_file_in_every_value(shop: Path) -> None:
    file = ("--file", str(shop / "stock.csv"))
    valued = _answered(shop, "appraise", *file, *ON, "--grade", "3")

    assert [answer["pair"]["grade"] for answer in valued] == [3.0, 3.0]


def test_a_described_attribute_is_said_to_go_before_the_file(shop: Path) -> None:
    file = ("--file", str(shop / "stock.csv"), "--row", "1")

    assert "size: EU 45 from --size, not UK 10 from the file." in _shown(
        shop, "appraise", *file, *ON, "--size", "EU 45"
    )


def test_a_consignment_of_a_file_takes_what_is_described(shop: Path) -> None:
    file = ("--file", str(shop / "stock.csv"), "--row", "1")

    assert "box: replacement from --box, not none from the file." in _shown(
        shop, "consign", *file, *ON, "--box", "Replacement"
    )


def test_the_consignors_sheet_does_not_speak_of_options(shop: Path, tmp_path: Path) -> None:
    file = ("--file", str(shop / "stock.csv"), "--row", "1")
    _ran(shop, "consign", *file, *ON, "--box", "replacement", "--page", str(tmp_path / "sheet.html"))

    assert "--box" not in (tmp_path / "sheet.html").read_text(encoding="utf-8")


def test_an_era_in_doubt_of_a_file_takes_what_is_described(shop: Path) -> None:
    file = ("--file", str(shop / "stock.csv"), "--row", "1")
    doubt = _answered(shop, "appraise", *file, *ON, "--era-odds", "1st run=0.5,second=0.5", "--grade", "3")

    assert doubt["pair"]["grade"] == 3.0
    assert doubt["cautions"][0] == "grade: 3 from --grade, not 5.5 from the file."


@pytest.mark.parametrize("command", ["appraise", "consign"])
@pytest.mark.parametrize("option", [("--as-written",), ("--label", "mine")])
def test_an_option_that_a_file_has_no_use_for_is_refused(
    shop: Path, command: str, option: tuple[str, ...]
) -> None:
    refused = _ran(shop, command, "--file", str(shop / "stock.csv"), *option)

    assert (refused.exit_code, option[0] in refused.output) == (2, True)


def test_a_back_test_at_a_day_knows_no_later_lot(shop: Path) -> None:
    tested = _answered(shop, "lots", "--backtest", "--on", "2019-06-30")

    assert "2019-01-01" < tested["last"] <= "2019-06-30"


def test_the_doctor_misses_a_copy_and_is_content_once_there_is_one(shop: Path, tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    shutil.copytree(shop, folder)
    before = _ran(folder, "doctor")
    made = _shown(folder, "backup", str(tmp_path / "stick.duckdb"))
    _ran.cache_clear()
    after = _shown(folder, "doctor")

    assert before.exit_code == 3
    assert "! no copy of the ledger is known" in before.stdout
    assert f"Copied to {tmp_path / 'stick.duckdb'}: 330 records" in made
    assert "stick.duckdb" in after
    assert "no copy of the ledger is known" not in after


def test_a_copy_that_is_brought_back_says_where_the_ledger_before_it_lies(shop: Path, tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    shutil.copytree(shop, folder)
    copy = tmp_path / "stick.duckdb"
    _shown(folder, "backup", str(copy))
    shown = _shown(folder, "recover", str(copy))
    [replaced] = folder.glob("pairband.replaced-*.duckdb")

    assert f"is again what {copy} holds: 330 records" in shown
    assert f"What was there before is in {replaced}" in shown


def test_the_demo_takes_no_folder_that_holds_something_else(tmp_path: Path) -> None:
    (tmp_path / "letters.txt").write_text("mine", encoding="utf-8")
    refused = CliRunner().invoke(app, ["demo", str(tmp_path)])
    instead = CliRunner().invoke(app, ["demo", str(tmp_path / "letters.txt")])

    assert "is not empty, and is no demo's; nothing was written" in str(refused.exception)
    assert "is a file, not a folder" in str(instead.exception)
    assert [path.name for path in tmp_path.iterdir()] == ["letters.txt"]


def test_what_was_left_out_is_asked_for_and_enter_means_not_known(shop: Path) -> None:
    words = dict.fromkeys(QUESTIONS) | {"grade": "8"}
    with CliRunner().isolation(input="Gannet Hi\n\nfirst\n" + "\n" * 5) as (asked, *_):
        answers = ask_for_the_rest(words, load_market(shop / "market.toml"))
        said = asked.getvalue().decode()

    assert answers == dict.fromkeys(QUESTIONS) | {"silhouette": "Gannet Hi", "era": "first", "grade": "8"}
    assert "Era (first, second, early reissue, late reissue): " in said
    assert "Grade" not in said
