"""A file that comes again: what takes the place of an earlier reading, what adds to it, and what is asked."""

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import polars as pl
import pytest
from click.testing import CliRunner

from pipeline.cli import app
from pipeline.config import Market
from pipeline.errors import ExportError, UnknownName
from pipeline.ingest.replacement import Answer, Doubt, Wish
from pipeline.ingest.review import Decision, rule
from pipeline.ingest.run import FileOutcome, ingest_files
from pipeline.ledger import Ledger, open_ledger
from pipeline.ledger.checks import run_checks
from pipeline.terminal.questions import ask_what_comes_again
from tests.exports import AS_OF, LOADED_AT, ingest, write_holm, write_lantern
from tests.kept import sales_of

RULED_AT = datetime(2026, 7, 1)
GANNET = ";Gannet Hi UK 9;04.03.2021;600,00;zugeschlagen;43;"
PLOVER = ";Plover Lo UK 8;05.03.2021;80,00;zugeschlagen;42;"
KELP = ";Plover Lo Kelp UK 10;06.03.2021;95,00;zugeschlagen;44;boxed"
NEXT_YEAR = tuple(row.replace(".2021", ".2022").replace("Lo", "Lo Foam White") for row in (PLOVER, KELP))
NUMBERED = tuple(f"{n}{row}" for n, row in enumerate((GANNET, PLOVER, KELP), start=1))


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as opened:
        yield opened


def _read(ledger: Ledger, market: Market, folder: Path, *rows: str, wish: Wish | None = None) -> FileOutcome:
    """Read an auction's export of one and the same name."""
    export = write_holm(folder, *rows)
    [file] = ingest_files(ledger, market, [export], wish=wish, as_of=AS_OF, loaded_at=LOADED_AT).files
    return file


def _prices(ledger: Ledger) -> list[float]:
    return sorted(float(price) for price in sales_of(ledger)["price_native"])


def test_a_column_fixed_in_an_export_without_lot_numbers_leaves_each_sale_once(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    rows = (GANNET, PLOVER, KELP)
    _read(ledger, market, tmp_path, *(row.replace("Hi", "Hgh") for row in rows))
    _read(ledger, market, tmp_path, *(row.replace(";4", ";EU 4") for row in rows))
    assert sales_of(ledger).height == 3
    assert run_checks(ledger) == ()


def test_a_price_that_was_mistyped_is_the_corrected_one_alone(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    _read(ledger, market, tmp_path, GANNET, PLOVER.replace("80", "800"), KELP)
    _read(ledger, market, tmp_path, GANNET, PLOVER, KELP)
    assert _prices(ledger) == [80, 95, 600]


def test_a_row_that_was_deleted_from_an_export_leaves_no_sale(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    _read(ledger, market, tmp_path, GANNET, PLOVER, KELP)
    _read(ledger, market, tmp_path, GANNET, KELP)
    assert _prices(ledger) == [95, 600]


def test_a_replacement_says_what_is_new_changed_and_gone(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    more = ";Gannet Hi Slate Tide;05.03.2021;300,00;zugeschlagen;41;no box"
    _read(ledger, market, tmp_path, GANNET, PLOVER.replace("80", "800"), KELP, more)
    file = _read(ledger, market, tmp_path, GANNET, PLOVER, KELP, ";a pair;08.03.2021;5,00;zugeschlagen;40;x")
    [said] = file.replaced
    assert (said.unchanged, said.changed, said.fresh, said.gone) == (2, 1, 1, 1)


def test_a_replacement_shows_a_changed_cell_before_and_after(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    _read(ledger, market, tmp_path, GANNET, PLOVER.replace("80", "800"), KELP)
    [said] = _read(ledger, market, tmp_path, GANNET, PLOVER, KELP).replaced
    [change] = said.examples
    assert (change.column, change.before, change.after) == ("Zuschlag", "800,00", "80,00")


def test_a_row_that_could_not_be_read_comes_in_once_its_export_is_corrected(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    _read(ledger, market, tmp_path, GANNET, PLOVER.replace("05.03", "31.02"), KELP)
    file = _read(ledger, market, tmp_path, GANNET, PLOVER, KELP)
    assert (file.read, file.recorded, file.quarantined) == (3, 3, 0)
    assert _prices(ledger) == [80, 95, 600]


def test_an_export_of_all_sales_so_far_takes_the_place_of_its_earlier_reading(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    _read(ledger, market, tmp_path, GANNET, PLOVER)
    [said] = _read(ledger, market, tmp_path, GANNET, PLOVER, KELP).replaced
    assert (said.unchanged, said.fresh, said.gone) == (2, 1, 0)
    assert sales_of(ledger).height == 3


def test_an_export_of_the_next_year_adds_to_one_of_its_name(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    _read(ledger, market, tmp_path, GANNET, PLOVER)
    file = _read(ledger, market, tmp_path, *NEXT_YEAR)
    assert file.replaced == ()
    assert sales_of(ledger).height == 4


def test_an_export_of_the_last_weeks_keeps_the_rows_that_its_window_has_left(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    _read(ledger, market, tmp_path, GANNET, PLOVER, KELP)
    file = _read(ledger, market, tmp_path, PLOVER, KELP, *NEXT_YEAR)
    assert sales_of(ledger).height == 5
    assert any("it has 1 row that is not in this one" in note for note in file.notes)


def test_a_file_that_may_be_either_is_refused_with_both_ways_to_go_on(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    _read(ledger, market, tmp_path, GANNET, PLOVER)
    before = ledger.path.read_bytes()
    with pytest.raises(ExportError, match=r"(?s)may be a new version.*--replace holm_2021\.csv.*--add"):
        _read(ledger, market, tmp_path, ";Dunlin;05.03.2021;1,00;zugeschlagen;39;", KELP)
    assert ledger.path.read_bytes() == before


@pytest.mark.parametrize(("answer", "left"), [("replace", [1, 95]), ("add", [1, 80, 95, 600])])
def test_the_owner_who_is_asked_decides_what_comes_of_a_file(
    ledger: Ledger, market: Market, tmp_path: Path, answer: Answer, left: list[float]
) -> None:
    asked: list[Doubt] = []

    def settle(doubt: Doubt) -> Answer:
        asked.append(doubt)
        return answer

    _read(ledger, market, tmp_path, GANNET, PLOVER)
    rows = (";Dunlin;05.03.2021;1,00;zugeschlagen;39;", KELP)
    _read(ledger, market, tmp_path, *rows, wish=Wish(settle=settle))
    assert [doubt.earlier for doubt in asked] == ["holm_2021.csv"]
    assert _prices(ledger) == left


def test_a_file_of_another_name_takes_the_place_that_the_owner_names(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    _read(ledger, market, tmp_path, GANNET, PLOVER)
    fixed = write_holm(tmp_path, GANNET, PLOVER.replace("80", "90"), name="holm_fixed.csv")
    wish = Wish(replace="Holm_2021.csv")
    ingest_files(ledger, market, [fixed], wish=wish, as_of=AS_OF, loaded_at=LOADED_AT)
    assert _prices(ledger) == [90, 600]


def test_a_place_of_a_file_that_was_never_read_is_refused(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    _read(ledger, market, tmp_path, GANNET)
    with pytest.raises(UnknownName, match=r"did you mean .holm_2021\.csv."):
        _read(ledger, market, tmp_path, PLOVER, wish=Wish(replace="holm_2020.csv"))


def test_what_the_owner_says_is_to_be_added_replaces_nothing(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    _read(ledger, market, tmp_path, GANNET, PLOVER)
    _read(ledger, market, tmp_path, GANNET, PLOVER.replace("80", "90"), wish=Wish(add=True))
    assert _prices(ledger) == [80, 90, 600]


def test_two_versions_of_a_file_in_one_run_are_refused(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    folders = [tmp_path / name for name in ("old", "new")]
    for folder in folders:
        folder.mkdir()
    exports = [
        write_holm(folders[0], GANNET, PLOVER, KELP),
        write_holm(folders[1], GANNET, PLOVER.replace("80", "90"), KELP),
    ]
    with pytest.raises(ExportError, match="may be two versions of one file"):
        ingest(ledger, market, exports)


def test_the_ledger_keeps_that_a_reading_was_replaced(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    first = _read(ledger, market, tmp_path, GANNET, PLOVER)
    second = _read(ledger, market, tmp_path, GANNET, KELP.replace("06", "05"), wish=Wish("holm_2021.csv"))
    kept = ledger.connection.sql(
        "SELECT file_sha256, replaced_by, rows_read, unchanged FROM replaced_files"
    ).fetchall()
    assert kept == [(first.file_sha256, second.file_sha256, 2, 1)]


@pytest.mark.parametrize("fixed", [PLOVER.replace("80", "90"), PLOVER.replace("UK 8", "UK 8 boxed")])
def test_a_decision_follows_its_row_through_a_change(
    ledger: Ledger, market: Market, tmp_path: Path, fixed: str
) -> None:
    _read(ledger, market, tmp_path, GANNET, PLOVER, KELP)
    plover = sales_of(ledger).filter(pl.col("price_native") == 80)["record_id"].item()
    rule(ledger, market, Decision("hold", plover), ruled_at=RULED_AT)
    _read(ledger, market, tmp_path, KELP, GANNET, fixed)
    assert sales_of(ledger).filter("held_out")["title"].str.starts_with("Plover Lo UK 8").to_list() == [True]


def test_a_decision_whose_row_is_gone_is_said(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    _read(ledger, market, tmp_path, GANNET, PLOVER, KELP)
    plover = sales_of(ledger).filter(pl.col("price_native") == 80)["record_id"].item()
    rule(ledger, market, Decision("hold", plover), ruled_at=RULED_AT)
    file = _read(ledger, market, tmp_path, GANNET, KELP)
    assert f"your decision 'hold' on {plover} stands for no sale now: its row is gone" in file.notes


def test_a_decision_follows_its_row_where_a_better_map_reads_the_file_again(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    export = write_lantern(tmp_path, ",,a pair,,2021-03-04,,100,sold,9,8,", ",,b,,2021-03-05,,90,sold,9,,")
    ingest(ledger, market, [export])
    held = sales_of(ledger).filter(pl.col("title") == "a pair")["record_id"].item()
    rule(ledger, market, Decision("hold", held), ruled_at=RULED_AT)
    better = market.maps["lantern"].model_copy(update={"size_system": "UK"})
    ingest(ledger, market.model_copy(update={"maps": {**market.maps, "lantern": better}}), [export])
    assert sales_of(ledger).filter("held_out")["title"].to_list() == ["a pair"]


def test_lots_of_one_number_in_another_auction_are_other_lots(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    _read(ledger, market, tmp_path, *NUMBERED[1:])
    _read(ledger, market, tmp_path, *(f"{n}{row}" for n, row in enumerate(NEXT_YEAR, start=2)))
    assert sales_of(ledger).height == 4


def test_a_changed_file_is_said_to_have_changed_in_the_terminal(market: Market, tmp_path: Path) -> None:
    where = [
        "--market",
        str(Path(__file__).parents[1] / "market.toml"),
        "--ledger",
        str(tmp_path / "l.duckdb"),
    ]
    runner = CliRunner()
    for rows in ((GANNET, PLOVER.replace("80", "800"), KELP), (GANNET, PLOVER, KELP)):
        done = runner.invoke(app, ["ingest", str(write_holm(tmp_path, *rows)), *where])
    assert "holm_2021.csv takes the place of its earlier reading: 2 rows as before, 1 changed" in " ".join(
        done.output.split()
    )


@pytest.mark.parametrize(("typed", "answer"), [("1", "replace"), ("2", "add"), ("add", "add"), ("", None)])
def test_the_owner_answers_by_number_or_word_or_leaves_it_open(
    monkeypatch: pytest.MonkeyPatch, typed: str, answer: Answer | None
) -> None:
    monkeypatch.setattr("click.prompt", lambda *_, **__: typed)
    doubt = Doubt("holm_2021.csv", "holm_2021.csv", again=12, rows=40, gone=3)
    assert ask_what_comes_again(doubt) == answer
