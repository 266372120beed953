"""The value and the consignment of a described pair on the desk: the figures of the commands, words at the field."""

import json
import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from shutil import copy
from typing import Any
from urllib.parse import urlencode

import pytest
from click.testing import CliRunner

from pipeline import formats
from pipeline.answers.lots.offer import PRIVATELY
from pipeline.cli import app
from pipeline.desk.described import in_words_of_the_desk
from pipeline.desk.kept_workspace import KeptWorkspaces
from pipeline.shipped import shipped
from pipeline.workspace import Workspace, workspace_at
from sample_data import scenario
from tests.demo_ledger import demo_ledger
from tests.desk_client import OpenDesk, open_desk
from tests.kept import keep_fit
from tests.restorations import demo_market_fitted

ON = "2026-10-01"
COMMON = {"silhouette": "Gannet Hi", "era": "first", "size": "UK 9", "grade": "8", "as_of": ON}
FULL = COMMON | {"colourway": "Buoy Red", "box": "original", "tags": "none", "defects": "heel wear, sun fade"}
UNHEARD = {"silhouette": "Zorplet", "grade": "7", "as_of": ON}
AT_A_VENUE = {"silhouette": "Dunlin", "venue": "Umikaze Lots", "as_of": ON}
HOSTILE = '"><script>alert(1)</script><img src=x onerror=alert(2)>'


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpenDesk]:
    """Return an open desk on the demo's ledger with a fit and its stock list, and a client that has entered."""
    folder = tmp_path_factory.mktemp("value")
    copy(demo_ledger()[0], folder / "pairband.duckdb")
    copy(shipped("sample_data") / "market.toml", folder / "market.toml")
    (folder / "lists").mkdir()
    for name in ("stock.csv", "upcoming_lots.csv"):
        copy(shipped("sample_data") / "exports" / name, folder / "lists" / name)
    keep_fit(folder / "pairband.duckdb", demo_market_fitted())
    with open_desk(folder) as opened:
        yield opened


def shown(desk: OpenDesk, path: str, said: dict[str, str], status: int = 200) -> str:
    """Return a page of the desk as a reader sees it: its entities as the signs that they are."""
    answer = desk.client.get(f"{path}?{urlencode(said)}")
    assert answer.status_code == status, answer.text
    return unescape(answer.text).replace("\u00a0", " ")


def commanded(name: str, said: dict[str, str], *more: str) -> Any:
    """Return what a command of the command line prints as JSON."""
    names = {"as_of": "on"}
    options = [f"--{names.get(key, key).replace('_', '-')}={value}" for key, value in said.items()]
    done = CliRunner().invoke(app, [name, *options, *more, "--json"])
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


def fault_at(html: str, name: str) -> str:
    """Return what is said to be wrong with one field."""
    found = re.search(
        rf'name="{name}" [^>]*aria-invalid="true".*?<p class="fault">(.*?)</p>', html, re.DOTALL
    )
    return found[1] if found else ""


@pytest.mark.parametrize(
    "said", [COMMON, FULL, UNHEARD, AT_A_VENUE], ids=["common", "full", "unheard of", "at a venue"]
)
def test_median_and_bands_are_those_of_the_command(desk: OpenDesk, said: dict[str, str]) -> None:
    page = shown(desk, "/value", said)
    value = commanded("appraise", said)

    amounts = [
        value["median"],
        *(end for band in value["bands"] for end in (band["low"], band["high"])),
        *(one["adjusted_price"] for one in value["comparables"]),
        *(step["price_after"] for step in value["steps"]),
    ]
    missing = [one for one in amounts if formats.estimate(one, "EUR") not in page]
    assert missing == []


def test_the_value_at_a_glance_is_that_of_the_page(desk: OpenDesk) -> None:
    value = commanded("appraise", COMMON)

    seen = shown(desk, "/value/glance", COMMON)

    assert formats.estimate(value["median"], "EUR") in seen
    assert all(
        formats.estimate(one[end], "EUR") in seen
        for one in value["bands"]
        if one["level"] == 0.8
        for end in ("low", "high")
    )


@pytest.mark.parametrize("said", [COMMON, FULL], ids=["common", "full"])
def test_what_venues_bring_is_that_of_the_command(desk: OpenDesk, said: dict[str, str]) -> None:
    page = shown(desk, "/consign", said)
    priced = commanded("consign", said)

    nets = [formats.estimate(float(offer["at_median"]["to_consignor"]), "EUR") for offer in priced["offers"]]
    prices = [
        formats.amount(float(one["amount"]), one["currency"])
        for offer in priced["offers"]
        for one in offer["suggestions"]
    ]
    assert [one for one in (*nets, *prices) if one not in page] == []


def test_a_value_is_the_same_when_the_fit_is_kept_from_the_answer_before(desk: OpenDesk) -> None:
    first = shown(desk, "/value/glance", COMMON)
    shown(desk, "/value/glance", FULL)

    assert shown(desk, "/value/glance", COMMON) == first


def test_a_workspace_is_kept_until_the_folder_changes() -> None:
    kept = KeptWorkspaces(lambda: Workspace(Path("pairband.duckdb"), Path("market.toml")))
    lent = []
    for moment in (1, 1, 2):
        with kept.lent(moment):
            lent.append(workspace_at(Path("pairband.duckdb"), Path("market.toml")))

    assert lent[0] is lent[1]
    assert lent[1] is not lent[2]


def test_a_workspace_that_is_in_use_is_not_lent_again() -> None:
    files = Path("pairband.duckdb"), Path("market.toml")
    kept = KeptWorkspaces(lambda: Workspace(*files))
    with kept.lent(1):
        first = workspace_at(*files)
        with kept.lent(1):
            assert workspace_at(*files) is not first


def test_a_workspace_is_lent_only_for_its_own_files() -> None:
    files = Path("pairband.duckdb"), Path("market.toml")
    kept = KeptWorkspaces(lambda: Workspace(*files))
    with kept.lent(1):
        assert workspace_at(Path("other.duckdb"), files[1]).ledger_path == Path("other.duckdb")


def test_an_era_in_doubt_is_valued_by_the_odds_that_are_said(desk: OpenDesk) -> None:
    said = {"silhouette": "Gannet Hi", "era_odds": "first=0.7,second=0.3", "as_of": ON}

    page = shown(desk, "/value", said)

    value = commanded("appraise", said)
    assert formats.estimate(value["median"], "EUR") in page
    assert "What it is worth in each era" in page


def test_what_is_seen_of_a_pair_moves_the_odds_that_records_give(desk: OpenDesk) -> None:
    said = {"silhouette": "Gannet Hi", "era_odds": "sales", "stamp": "03/86-06/86 KX2", "as_of": ON}

    page = shown(desk, "/value", said)

    assert formats.estimate(commanded("appraise", said)["median"], "EUR") in page


def test_an_asking_price_is_judged_as_a_lot_of_a_list_is(desk: OpenDesk) -> None:
    file = desk.desk.folder / "upcoming_lots_one.csv"
    file.write_text(
        "venue,currency,present_bid,closes,silhouette,era,size,grade,sale,lot,title,low_estimate,colourway,box,tags,"
        "defects,treatments,stamp\nHolm Sound Auctions,EUR,300,,Gannet Hi,first,UK 9,8,,,,,,,,,,\n",
        encoding="utf-8",
    )
    done = CliRunner().invoke(app, ["lots", str(file), f"--on={ON}", "--era-odds=none", "--json"])
    [lot] = json.loads(done.stdout)["lots"]

    page = shown(desk, "/value", COMMON | {"offered_at": scenario.HOLM, "asked": "300"})

    assert f"Bid at €300: maximum bid {formats.amount(lot['walk_away_bid'], 'EUR')}." in page
    told = [formats.amount(lot[name], "EUR") for name in ("present_all_in", "landed_cost")]
    told.append(formats.estimate(lot["resale_net"], "EUR"))
    assert [one for one in told if f"<dd>{one}</dd>" not in page] == []


def test_without_a_price_the_most_to_pay_is_said(desk: OpenDesk) -> None:
    page = shown(desk, "/value", COMMON | {"offered_at": PRIVATELY})

    assert re.search(r'<p class="sentence">Most to pay €\d+\.</p>', page)


@pytest.mark.parametrize("price", ["-3", "much", "1e9", "0", "nan", "1,200"])
def test_a_price_that_is_no_amount_is_said_at_its_field(desk: OpenDesk, price: str) -> None:
    page = shown(desk, "/value", COMMON | {"asked": price})

    assert fault_at(page, "asked") == "This is no amount above zero: write 120 or 120.50."


@pytest.mark.parametrize(
    ("name", "word", "said"),
    [
        ("silhouette", "Ganet Hi", "No silhouette is called 'Ganet Hi'; did you mean"),
        ("silhouette", "x" * 600, "600 characters are too many"),
        ("era", "frist", "Did you mean 'first'?"),
        ("size", "UK 99", "1033 mm is no foot length"),
        ("grade", "11", "off the scale from 1 to 10"),
        ("box", "maybe", "Box 'maybe' is not one of those known"),
        ("defects", "holes", "Defect 'holes' is not one of those known"),
        ("treatments", "magic", "Treatment 'magic' is not one of those known"),
        ("venue", "Nowhere", "Venue 'Nowhere' is not one of those known"),
        ("era_odds", "first=2", "give a share from 0 to 1"),
        ("as_of", "2026-99-01", "There is no day 2026-99-01"),
        ("stamp", "03/86", "add “Odds of the era” sales"),
        ("row", "2", "“Row of the list” needs “From a list”"),
    ],
)
def test_a_word_that_means_nothing_is_said_at_its_field(
    desk: OpenDesk, name: str, word: str, said: str
) -> None:
    odds = name in ("era_odds", "stamp")
    pair = {key: value for key, value in COMMON.items() if not (odds and key == "era")}
    page = shown(desk, "/value", pair | {name: word}, status=400)

    assert said.casefold() in fault_at(page, name).casefold()


def test_a_name_that_looks_like_a_typing_error_can_be_taken_as_it_is(desk: OpenDesk) -> None:
    said = COMMON | {"silhouette": "Ganet Hi"}
    assert "Take the silhouette's name as it is" in fault_at(
        shown(desk, "/value", said, status=400), "silhouette"
    )

    assert "the best guess is about" in shown(desk, "/value", said | {"as_written": "yes"})


def test_a_form_without_a_word_asks_for_one(desk: OpenDesk) -> None:
    assert "its silhouette is enough to begin with" in shown(desk, "/value", {})


def test_a_pair_without_a_silhouette_is_said_at_that_field(desk: OpenDesk) -> None:
    page = shown(desk, "/value", {"grade": "7"}, status=400)

    assert fault_at(page, "silhouette") == "A pair needs a silhouette."


@pytest.mark.parametrize("path", ["/value", "/consign", "/value/glance", "/value/page", "/consign/sheet"])
@pytest.mark.parametrize("name", ["silhouette", "label", "era", "asked", "offered_at", "file"])
def test_hostile_words_never_become_part_of_a_page(desk: OpenDesk, path: str, name: str) -> None:
    answer = desk.client.get(f"{path}?{urlencode(COMMON | {name: HOSTILE})}")

    assert "<script>alert(1)" not in answer.text
    assert "<img src=x" not in answer.text


def test_the_page_to_print_is_the_page_that_the_command_writes(desk: OpenDesk, tmp_path: Path) -> None:
    file = tmp_path / "pair.html"
    options = [f"--{'on' if key == 'as_of' else key}={value}" for key, value in COMMON.items()]
    CliRunner().invoke(app, ["appraise", *options, f"--page={file}"])

    answer = desk.client.get(f"/value/page?{urlencode(COMMON)}")

    assert answer.text == file.read_text(encoding="utf-8")


@pytest.mark.parametrize("language", ["", "de", "ja"])
def test_the_sheet_to_hand_out_is_the_sheet_that_the_command_writes(
    desk: OpenDesk, tmp_path: Path, language: str
) -> None:
    said = FULL | {"venue": scenario.UMIKAZE} | ({"language": language} if language else {})
    file = tmp_path / "sheet.html"
    options = [f"--{'on' if key == 'as_of' else key}={value}" for key, value in said.items()]
    CliRunner().invoke(app, ["consign", *options, f"--page={file}"])

    answer = desk.client.get(f"/consign/sheet?{urlencode(said)}")

    assert answer.text == file.read_text(encoding="utf-8")


def test_a_page_of_its_own_keeps_its_policy_and_reaches_nothing_of_the_desk(desk: OpenDesk) -> None:
    policy = desk.client.get(f"/consign/sheet?{urlencode(COMMON)}").headers["content-security-policy"]

    assert policy.startswith("default-src 'none'; ")
    assert "form-action 'none'" in policy
    assert "allow-same-origin" not in policy


def test_the_ticket_of_a_pair_has_its_price(desk: OpenDesk) -> None:
    page = shown(desk, "/consign/tickets", COMMON | {"label": "TP-77"})

    assert "TP-77" in page
    assert re.search(r"€\d", page)


def test_a_figure_can_be_taken_elsewhere(desk: OpenDesk) -> None:
    answer = desk.client.get(f"/value/figure/band/svg?{urlencode(COMMON)}")

    assert answer.headers["content-disposition"] == 'attachment; filename="band.svg"'
    assert answer.text.startswith("<svg")


def test_the_pairs_of_a_list_lead_to_the_value_of_each(desk: OpenDesk) -> None:
    page = shown(desk, "/value", {"file": "lists/stock.csv", "as_of": ON})
    href = re.findall(r'<a href="(/value\?file=[^"]*row=3[^"]*)"', page)[0]

    one = unescape(desk.client.get(href).text)

    value = commanded("appraise", {"file": "lists/stock.csv", "row": "3", "as_of": ON})
    assert formats.estimate(value["median"], "EUR") in one


@pytest.mark.parametrize("file", ["../market.toml", "/etc/hostname", "market.toml", "pairband.duckdb"])
def test_a_file_that_the_desk_does_not_list_is_never_read(desk: OpenDesk, file: str) -> None:
    assert "its silhouette is enough to begin with" in shown(desk, "/value", {"file": file})


def test_a_kept_value_is_judged_later_once(desk: OpenDesk) -> None:
    said = urlencode(COMMON | {"label": "TP-1500"})
    with Workspace.open() as workspace:
        before = workspace.ledger.read("outcomes/count_kept").item()

    for _ in range(2):
        answer = desk.client.post(f"/value/keep?{said}", follow_redirects=False)

    with Workspace.open() as workspace:
        assert workspace.ledger.read("outcomes/count_kept").item() == before + 1
    assert (answer.status_code, answer.headers["location"]) == (303, f"/value?{said}")
    assert "Kept 0 values." in shown(desk, "/value", COMMON)


def test_looking_at_a_value_keeps_nothing(desk: OpenDesk) -> None:
    assert desk.client.get(f"/value/keep?{urlencode(COMMON)}").status_code == 405


def test_the_prices_of_a_consignment_can_be_kept(desk: OpenDesk) -> None:
    said = urlencode(COMMON | {"label": "TP-1501", "venue": scenario.COUNTER})

    answer = desk.client.post(f"/consign/keep?{said}")

    assert re.search(r"Kept [1-9]\d* values?\.", answer.text)


def test_the_pair_described_last_is_offered_again(desk: OpenDesk) -> None:
    desk.client.post("/draft", json={"form": "value", "said": COMMON})

    page = shown(desk, "/value", {})

    assert f'<a href="/value?{urlencode(COMMON)}">Go on with the pair that you described last</a>' in page


def test_the_colourways_offered_are_those_of_the_silhouette(desk: OpenDesk) -> None:
    page = shown(desk, "/value", COMMON)

    listed = re.search(r'<datalist id="field-colourway-offered">(.*?)</datalist>', page)
    assert listed is not None
    own = next(one for one in scenario.market().silhouettes if one.name == "Gannet Hi")
    assert re.findall(r'value="([^"]*)"', listed[1]) == [one.name for one in own.colourways]


def test_an_error_names_fields_and_not_options() -> None:
    words = in_words_of_the_desk("Invalid value for --stamp: it tells the era: add --era-odds sales")

    assert words == "It tells the era: add “Odds of the era” sales."
