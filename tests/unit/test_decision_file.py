"""Decisions leave a ledger as a table and come back, to the same ledger or to one that is read anew."""

import shutil
from datetime import datetime
from pathlib import Path

import polars as pl
import pytest
from click.testing import CliRunner
from polars.testing import assert_frame_equal

from pipeline.answers.review.run import decisions_csv, take_decisions
from pipeline.config import Market
from pipeline.csv_guard import guarded, kept_apart, unguarded
from pipeline.errors import CorrectionError
from pipeline.ingest.decision_file import BroughtIn
from pipeline.ingest.put_right import add, correct, decisions, remove, remove_file
from pipeline.ingest.review import Decision, rule
from pipeline.ledger import Ledger, open_ledger
from pipeline.ledger.checks import run_checks
from tests.demo_ledger import LATER
from tests.exports import AS_OF, ingest, write_holm, write_lantern
from tests.kept import sales_of

RULED_AT = datetime(2026, 7, 1)
HERE = Path(__file__).parents[1]
LOTS = [f"{lot};Gannet Hi, Los {lot};04.03.2021;{500 + lot},00;zugeschlagen;43;" for lot in range(1, 9)]
KEYLESS = ";Plover Lo;05.03.2021;80;zugeschlagen;42;"


def _read(path: Path, market: Market) -> Ledger:
    """Return a new ledger that holds the exports of a folder."""
    ledger = open_ledger(path / "new.duckdb", create=True)
    ingest(ledger, market, sorted(path.glob("*_*.csv")))
    return ledger


def _decide(ledger: Ledger, market: Market) -> None:
    """Decide at least once in every way."""
    ids = sales_of(ledger)["record_id"].to_list()
    now = {"note": "-1, =2", "ruled_at": RULED_AT, "as_of": AS_OF}
    correct(ledger, market, ids[0], {"grade": "8", "era": ""}, **now)  # type: ignore[arg-type]
    remove(ledger, market, [ids[1]], **now)  # type: ignore[arg-type]
    remove_file(ledger, market, "lantern_2021.csv", **now)  # type: ignore[arg-type]
    said = {"venue": "Lantern Dock", "sold_on": "2024-05-03", "price_native": "240", "notes": "it's =2, -1"}
    added = add(ledger, market, said, **now)  # type: ignore[arg-type]
    correct(ledger, market, added.record_id, {"grade": "9"}, **now)  # type: ignore[arg-type]
    for ruling in (
        Decision("same sale", ids[2], ids[3]),
        Decision("different sales", ids[4], ids[5]),
        Decision("same pair", ids[4], ids[6]),
        Decision("era", ids[5], value="second"),
        Decision("hold", ids[6], note="seen"),
        Decision("accept", ids[7]),
    ):
        rule(ledger, market, ruling, ruled_at=RULED_AT)


@pytest.fixture(scope="module")
def decided_once(market: Market, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with exports, and the decisions that were made on a ledger of them, in decisions.csv."""
    folder = tmp_path_factory.mktemp("decided")
    write_holm(folder, *LOTS, KEYLESS)
    write_lantern(folder, "7,TP-1,Gannet Hi,2021-02-01,2021-03-09,,100,sold,UK 9,8,")
    with _read(folder, market) as ledger:
        _decide(ledger, market)
        sales_of(ledger).write_parquet(folder / "sales.parquet")
    (folder / "decisions.csv").write_bytes(decisions_csv(folder / "new.duckdb"))
    return folder


@pytest.fixture
def decided(decided_once: Path, tmp_path: Path) -> Path:
    """Return a copy of that folder, for a test to change."""
    return shutil.copytree(decided_once, tmp_path, dirs_exist_ok=True)


def _take(folder: Path) -> BroughtIn:
    return take_decisions(
        folder / "new.duckdb", HERE / "market.toml", folder / "decisions.csv", taken_at=LATER
    )


def test_a_ledger_that_is_read_anew_has_the_same_sales_once_the_decisions_are_brought_in(
    decided: Path, market: Market
) -> None:
    (decided / "new.duckdb").unlink()
    _read(decided, market).close()
    found = _take(decided)
    with open_ledger(decided / "new.duckdb", read_only=True) as ledger:
        now = sales_of(ledger)
        assert run_checks(ledger) == ()
    assert found.lost == ()
    before = pl.read_parquet(decided / "sales.parquet")
    assert_frame_equal(now.sort("record_id"), before.sort("record_id"))


def test_decisions_that_are_kept_already_are_not_kept_twice(decided: Path) -> None:
    with open_ledger(decided / "new.duckdb", read_only=True) as ledger:
        before = decisions(ledger)
    found = _take(decided)
    with open_ledger(decided / "new.duckdb", read_only=True) as ledger:
        assert_frame_equal(decisions(ledger), before)
    assert (found.new, found.already) == (0, before.height)


def test_a_row_without_a_number_is_found_again_by_where_it_stands(market: Market, tmp_path: Path) -> None:
    write_holm(tmp_path, KEYLESS)
    with _read(tmp_path, market) as ledger:
        [record] = sales_of(ledger)["record_id"].to_list()
        correct(ledger, market, record, {"grade": "8"}, note="", ruled_at=RULED_AT, as_of=AS_OF)
    (tmp_path / "decisions.csv").write_bytes(decisions_csv(tmp_path / "new.duckdb"))
    (tmp_path / "new.duckdb").unlink()
    write_holm(tmp_path, KEYLESS.replace("Plover Lo", "Plover Lo Kelp"))
    _read(tmp_path, market).close()
    assert _take(tmp_path).lost == ()
    with open_ledger(tmp_path / "new.duckdb", read_only=True) as ledger:
        assert sales_of(ledger)["grade"].to_list() == [8.0]


def test_a_decision_whose_row_is_gone_is_listed(decided: Path, market: Market) -> None:
    for name in ("new.duckdb", "holm_2021.csv"):
        (decided / name).unlink()
    _read(decided, market).close()
    assert {one.why for one in _take(decided).lost} == {"its row is gone"}


def test_a_correction_that_cannot_be_read_is_listed_and_changes_nothing(
    decided: Path, market: Market
) -> None:
    (decided / "new.duckdb").unlink()
    _read(decided, market).close()
    table = pl.read_csv(decided / "decisions.csv", infer_schema=False)
    grade = (pl.col("kind") == "correct") & (pl.col("field") == "grade") & (pl.col("value") == "8")
    table = table.with_columns(value=pl.when(grade).then(pl.lit("99")).otherwise("value"))
    table.filter(pl.col("kind").is_in(["correct", "add"])).write_csv(decided / "decisions.csv")

    brought = _take(decided)

    assert [lost.why for lost in brought.lost] == ["grade '99': off the scale from 1 to 10"]
    with open_ledger(decided / "new.duckdb", read_only=True) as ledger:
        assert "99" not in decisions(ledger)["value"].to_list()


def test_a_decision_that_contradicts_one_that_is_kept_is_listed(decided: Path, market: Market) -> None:
    (decided / "new.duckdb").unlink()
    with _read(decided, market) as ledger:
        held = sales_of(ledger)["record_id"][6]
        rule(ledger, market, Decision("accept", held), ruled_at=RULED_AT)
    [lost] = _take(decided).lost
    assert (lost.kind, lost.record) == ("hold", held)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"a,b\n1,2\n", "it has no column 'number'"),
        (b"", "is no list of decisions"),
        (b"\xff\xfe\x00", "is no list of decisions"),
    ],
)
def test_a_file_that_is_no_list_of_decisions_is_refused(decided: Path, content: bytes, words: str) -> None:
    (decided / "decisions.csv").write_bytes(content)
    with pytest.raises(CorrectionError, match=words):
        _take(decided)


def test_a_line_that_is_no_decision_is_named_and_nothing_is_brought_in(decided: Path) -> None:
    whole = (decided / "decisions.csv").read_text()
    (decided / "decisions.csv").write_text(whole.replace('"hold"', '"holding"'))
    with pytest.raises(CorrectionError, match=r"line 12 of decisions.csv is no decision"):
        _take(decided)


@pytest.mark.parametrize(
    "text", ["=1", "'=1", "a,-b", "a,'-b", "it's", "''", "\t=1", '{"a": "-1, +2"}', "", "|=|"]
)
def test_a_text_comes_back_from_a_guarded_table_as_it_was(text: str) -> None:
    there = pl.DataFrame({"text": [text]}).select(guarded(kept_apart(pl.col("text"))).alias("text"))
    assert there.select(unguarded(pl.col("text"))).item() == text


def test_the_first_signs_of_an_id_do_for_a_decision(decided: Path) -> None:
    from pipeline.cli import app

    with open_ledger(decided / "new.duckdb", read_only=True) as ledger:
        record = sales_of(ledger)["record_id"][4]
    places = ["--ledger", str(decided / "new.duckdb"), "--market", str(HERE / "market.toml")]
    ran = CliRunner().invoke(app, ["rule", "hold", record[:7], *places])
    assert ran.stdout == "kept: hold. Run `pairband fit` to value by it.\n"
