"""The command line: exit code 0 done, 1 an error that is told, 2 wrong usage; never a traceback."""

import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from pipeline.cli import main

HERE = Path(__file__).parents[1]


@dataclass(frozen=True)
class Said:
    """What a command said, and its exit code."""

    code: int
    out: str
    err: str


Run = Callable[..., Said]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Return a function that runs `pairband` with arguments in an empty folder holding a market file."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "market.toml").write_text(
        (HERE / "market.toml").read_text(encoding="utf-8"), encoding="utf-8"
    )

    def run_it(*arguments: str) -> Said:
        monkeypatch.setattr("sys.argv", ["pairband", *arguments])
        with pytest.raises(SystemExit) as left:
            main()
        said = capsys.readouterr()
        code = left.value.code
        return Said(code if isinstance(code, int) else 0, said.out, said.err)

    return run_it


@pytest.fixture
def sales(tmp_path: Path) -> Path:
    """Return an export of forty sales for the map "lantern" of the market file."""
    lines = ["item,sku,title,listed,ended,sold_for,asked,state,size,grade,box"]
    for number in range(40):
        silhouette, colourway = ("Gannet Hi", "Buoy Red") if number % 3 else ("Plover Lo", "Kelp")
        month, day = 1 + number % 9, 1 + number % 28
        price = 100 + 7 * (number % 11) + (80 if number % 3 else 0)
        lines.append(
            f"L{number},,{silhouette} {colourway} first run,2024-{month:02d}-01,2024-{month:02d}-{day:02d},"
            f"{price}.00,{price + 20}.00,sold,UK {7 + number % 4},{6 + number % 4},original"
        )
    path = tmp_path / "lantern_2024.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_init_writes_a_starter_once(run: Run, tmp_path: Path) -> None:
    (tmp_path / "market.toml").unlink()

    assert run("init").code == 0
    assert run("check").code == 0


def test_init_never_writes_over_a_market_file(run: Run, tmp_path: Path) -> None:
    before = (tmp_path / "market.toml").read_bytes()

    said = run("init")

    assert said.code == 1
    assert "market.toml is there already; nothing was written" in said.err
    assert (tmp_path / "market.toml").read_bytes() == before


def test_check_names_the_years_that_two_eras_share(run: Run, tmp_path: Path) -> None:
    text = (tmp_path / "market.toml").read_text(encoding="utf-8")
    (tmp_path / "market.toml").write_text(
        text.replace("first_year = 1987", "first_year = 1986"), encoding="utf-8"
    )

    said = run("check")

    assert said.code == 0
    assert "the eras 'first' and 'second' share years (1986)" in said.out


def test_check_has_no_note_where_nothing_is_shared(run: Run) -> None:
    assert "note:" not in run("check").out


def test_the_columns_can_be_had_as_json(run: Run) -> None:
    columns = json.loads(run("columns", "--json").out)

    assert columns[0] == {
        "column": "record_id",
        "type": "VARCHAR",
        "unit": "",
        "allowed": "",
        "meaning": "Key of the sale: a hash of what makes it one sale.",
    }


def test_from_an_export_to_a_band(run: Run, sales: Path) -> None:
    assert run("ingest", str(sales)).code == 0
    assert run("fit").code == 0

    said = run(
        "appraise",
        "--silhouette",
        "Gannet Hi",
        "--size",
        "UK 8",
        "--grade",
        "7",
        "--on",
        "2024-10-01",
        "--json",
    )

    value = json.loads(said.out)
    assert value["bands"][1]["low"] < value["median"] < value["bands"][1]["high"]
    assert 150 < value["median"] < 350
    assert value["source"]["records"] == 40


def test_an_appraisal_prints_the_answer_and_its_limits(run: Run, sales: Path) -> None:
    run("ingest", str(sales))
    run("fit")

    said = run("appraise", "--silhouette", "Gannet Hi", "--on", "2024-10-01")

    assert "Fair value, all-in" in said.out
    assert "It does not authenticate a pair." in said.out
    assert said.code == 0


def test_ingesting_again_changes_nothing(run: Run, sales: Path) -> None:
    run("ingest", str(sales))

    again = json.loads(run("ingest", str(sales), "--json").out)

    assert again["files"][0]["unchanged"] is True


def test_a_fit_older_than_the_records_is_said_to_be(run: Run, sales: Path) -> None:
    run("ingest", str(sales))
    run("fit")
    later = sales.with_name("lantern_2025.csv")
    later.write_text(sales.read_text().replace("2024-", "2025-").replace("\nL", "\nM"), encoding="utf-8")
    run("ingest", str(later))

    said = run("appraise", "--silhouette", "Gannet Hi", "--json", "--on", "2025-10-01")

    assert (
        json.loads(said.out)["cautions"][0]
        == "The records have changed since the fit: run `pairband fit` again."
    )


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["ingest", "nowhere.csv"], "nowhere.csv"),
        (["fit"], "there is no ledger pairband.duckdb"),
        (["appraise", "--silhouette", "Gannet Hi"], "there is no ledger pairband.duckdb"),
        (["quarantine"], "there is no ledger pairband.duckdb"),
        (["check", "--market", "other.toml"], "there is no market file other.toml"),
        (["appraise", "--silhouette", "Ganet Hi"], "did you mean 'Gannet Hi'"),
        (["appraise", "--silhouette", "Gannet Hi", "--size", "UK 99"], "size 'UK 99'"),
    ],
)
def test_an_error_is_told_in_words_and_leaves_no_ledger(
    run: Run, tmp_path: Path, arguments: list[str], told: str
) -> None:
    said = run(*arguments)

    assert said.code == 1
    assert said.err.startswith("pairband: ")
    assert told in said.err
    assert "Traceback" not in said.err
    assert not (tmp_path / "pairband.duckdb").exists() or arguments[0] == "ingest"


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("lantern_empty.csv", b""),
        ("lantern_book.xlsx", b"this is no workbook"),
        ("lantern_other.csv", b"a,b\n1,2\n"),
        ("unmapped.csv", b"a,b\n1,2\n"),
        ("lantern_zeros.csv", b"\x00\x00\x00\x00"),
    ],
)
def test_a_file_that_cannot_be_read_is_told_and_leaves_the_ledger_as_it_was(
    run: Run, tmp_path: Path, sales: Path, name: str, content: bytes
) -> None:
    run("ingest", str(sales))
    before = (tmp_path / "pairband.duckdb").read_bytes()
    (tmp_path / name).write_bytes(content)

    said = run("ingest", name)

    assert said.code == 1
    assert name in said.err
    assert (tmp_path / "pairband.duckdb").read_bytes() == before


@pytest.mark.parametrize(
    "arguments",
    [
        ["appraise"],
        ["appraise", "--row", "1", "--silhouette", "Gannet Hi"],
        ["appraise", "--silhouette", "Gannet Hi", "--file", "stock.csv"],
        ["appraise", "--silhouette", "Gannet Hi", "--on", "yesterday"],
        ["nonsense"],
        ["ingest"],
        ["fit", "--quickly"],
    ],
)
def test_wrong_usage_exits_with_2(run: Run, arguments: list[str]) -> None:
    said = run(*arguments)

    assert said.code == 2
    assert "Traceback" not in said.err


def test_debug_shows_the_traceback(run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    from pipeline.errors import LedgerError

    monkeypatch.setattr("sys.argv", ["pairband", "--debug", "fit"])
    with pytest.raises(LedgerError, match="there is no ledger"):
        main()


@pytest.fixture
def in_conflict(run: Run, tmp_path: Path) -> str:
    """Return the id of a sale whose stamp contradicts the era that its title claims."""
    rows = (
        "item,sku,title,listed,ended,sold_for,asked,state,size,grade,box\n"
        "L1,,Gannet Hi Buoy Red first run 06/96-09/96 TF1,2024-01-01,2024-01-09,150.00,160.00,sold,UK 8,7,no\n"
    )
    (tmp_path / "lantern_odd.csv").write_text(rows, encoding="utf-8")
    run("ingest", "lantern_odd.csv")
    [held] = json.loads(run("review", "--json").out)["excluded_sales"]
    return str(held["record_id"])


def test_an_era_in_conflict_waits_for_the_owner(run: Run, in_conflict: str) -> None:
    said = run("review")

    assert re.search(r"Sales excluded pending review +1\n", said.out)
    assert in_conflict[:6] in said.out


def test_a_decision_lets_a_sale_in_and_survives_reading_the_export_again(run: Run, in_conflict: str) -> None:
    assert run("rule", "era", in_conflict, "--era", "reissue").code == 0

    run("ingest", "lantern_odd.csv")

    review = json.loads(run("review", "--json").out)
    assert review["excluded_sales"] == []
    assert review["decisions"][0]["value"] == "reissue"


def test_a_decision_can_be_taken_back(run: Run, in_conflict: str) -> None:
    run("rule", "era", in_conflict, "--era", "reissue")

    assert run("rule", "era", in_conflict, "--era", "reissue", "--withdraw").code == 0
    assert len(json.loads(run("review", "--json").out)["excluded_sales"]) == 1


def test_a_decision_that_is_repeated_says_that_it_is_so_already(run: Run, in_conflict: str) -> None:
    run("rule", "hold", in_conflict)

    assert run("rule", "hold", in_conflict).out == "already so: hold. Nothing was changed.\n"


def test_a_note_on_a_repeated_decision_is_said_to_be_kept(run: Run, in_conflict: str) -> None:
    run("rule", "hold", in_conflict)

    said = run("rule", "hold", in_conflict, "--note", "asked the seller")

    assert said.out == "already so: hold. Your note was added to it.\n"
    assert json.loads(run("review", "--json").out)["decisions"][0]["note"] == "asked the seller"


def test_a_decision_that_contradicts_an_earlier_one_is_refused(run: Run, in_conflict: str) -> None:
    run("rule", "hold", in_conflict)

    said = run("rule", "accept", in_conflict)

    assert said.code == 1
    assert f"take that one back first: `pairband rule hold {in_conflict} --withdraw`." in said.err


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["agree", "x"], "no kind of decision is called 'agree'"),
        (["same sale", "x"], "is on two records"),
        (["accept", "x", "y"], "is on one record"),
        (["era", "x"], "takes an era"),
        (["accept", "x", "--era", "first"], "takes no era"),
        (["accept", "nowhere"], "no record is called 'nowhere'"),
    ],
)
def test_a_decision_that_cannot_be_is_told(
    run: Run, in_conflict: str, arguments: list[str], told: str
) -> None:
    said = run("rule", *arguments)

    assert said.code == 1
    assert told in said.err


@pytest.mark.parametrize(
    ("command", "option"),
    [
        ("lots watch.csv", "--margin"),
        ("lots watch.csv", "--confidence"),
        ("restore", "--hours"),
        ("restore", "--money"),
        ("appraise --silhouette Dunlin --era-odds first=1", "--at-price"),
    ],
)
@pytest.mark.parametrize("number", ["nan", "inf"])
def test_what_is_no_number_to_reckon_with_is_wrong_usage(
    run: Run, command: str, option: str, number: str
) -> None:
    said = run(*command.split(), option, number)

    assert said.code == 2
    assert option in said.err
    assert said.out == ""
