"""What was understood of a file: every field, the money, odd values, sample rows, and what the fit leaves out."""

import json
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner

from pipeline.answers.understood.answer import Understood
from pipeline.answers.understood.run import understood_file
from pipeline.answers.understood.tables import account_sheet, read_of, share_text, understood_sheet
from pipeline.cli import app
from pipeline.config import Market
from pipeline.errors import UnknownName
from pipeline.ledger import Ledger, open_ledger
from tests.exports import ingest, write_holm, write_lantern

HOLM = (
    "1;Gannet Hi, first run, original box;04.03.2021;600,00;zugeschlagen;43;",
    "2;Gannet Hi, first run;05.03.2021;500,00;zugeschlagen;43;",
    "3;Plover Lo;05.03.2021;;zurück;42;",
    "4;Oyster Mid, first run;06.03.2021;90,00;zugeschlagen;42;",
    "5;Plover Lo;31.02.2021;80,00;zugeschlagen;42;",
)


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as opened:
        yield opened


def _understood(ledger: Ledger, market: Market, folder: Path, *rows: str) -> Understood:
    ingest(ledger, market, [write_holm(folder, *rows)])
    return understood_file(ledger, market, Path("holm_2021.csv"))


def _priced(number: int, price: str, day: str = "04.03.2021", size: str = "43") -> str:
    return f"{number};Gannet Hi, first run;{day};{price};zugeschlagen;{size};"


def _odd(found: Understood, kind: str) -> list[tuple[int, str]]:
    return [(odd.row_number, odd.value) for odd in found.oddities if odd.kind == kind]


def test_a_field_counts_where_its_values_come_from(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    found = _understood(ledger, market, tmp_path, *HOLM)
    assert (found.field("era").origins, found.field("era").unknown) == ({"title": 3}, 1)


def test_a_field_that_only_a_column_can_say_counts_as_stated(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    found = _understood(ledger, market, tmp_path, *HOLM)
    assert (found.field("price_native").origins, found.field("price_native").unknown) == ({"stated": 3}, 1)


def test_the_most_frequent_value_of_a_field_comes_first(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    found = _understood(ledger, market, tmp_path, *HOLM)
    assert found.field("silhouette").values == (("Gannet Hi", 2), ("Plover Lo", 1))


def test_a_field_of_days_has_its_first_and_last_day(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    closed = _understood(ledger, market, tmp_path, *HOLM).field("closed_on")
    assert (closed.least, closed.greatest) == (date(2021, 3, 4), date(2021, 3, 6))


def test_money_is_summed_by_currency_and_status(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    money = _understood(ledger, market, tmp_path, *HOLM).money
    assert [(line.currency, line.status, line.rows, line.stated_sum) for line in money] == [
        ("EUR", "sold", 3, 1190.0),
        ("EUR", "unsold", 1, None),
    ]


def test_what_the_fit_leaves_out_is_counted_by_reason(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    found = _understood(ledger, market, tmp_path, *HOLM)
    assert found.uses == {"in the fit": 2, "no silhouette": 1, "quarantined": 1, "unsold": 1}


def test_a_second_row_of_a_sale_is_told_apart_from_the_first(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    found = _understood(ledger, market, tmp_path, HOLM[0], HOLM[0])
    assert found.uses == {"another row of the same sale": 1, "in the fit": 1}


def test_a_sale_whose_label_and_era_disagree_is_counted_as_excluded(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    ingest(ledger, market, [write_holm(tmp_path, *HOLM[:2])])
    ledger.connection.execute("UPDATE staged_rows SET held_out = TRUE WHERE row_number = 2").fetchall()
    assert understood_file(ledger, market, None).left_out == {"excluded pending review": 1}


def test_the_uses_of_rows_are_those_of_the_sales_that_are_fitted(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    found = _understood(ledger, market, tmp_path, *HOLM, HOLM[0])
    fitted = ledger.read("marts/priced_sales", silhouette=None, most=None)
    assert found.uses["in the fit"] == fitted.height


def test_every_row_read_is_in_the_fit_or_left_out_for_one_reason(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    found = _understood(ledger, market, tmp_path, *HOLM, HOLM[0])
    assert sum(found.uses.values()) == found.rows


def test_a_price_ten_times_the_usual_is_odd(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    usual = [_priced(number, "100,00") for number in range(1, 7)]
    found = _understood(ledger, market, tmp_path, *usual, _priced(7, "1100,00"))
    assert [row for row, _ in _odd(found, "price")] == [8]


def test_a_file_of_which_every_price_is_in_cents_is_odd_beside_the_others(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    others = [f"L{n},,Gannet Hi first run,2021-01-01,2021-02-0{n},,100,sold,UK 9,8," for n in range(1, 7)]
    ingest(ledger, market, [write_lantern(tmp_path, *others)])
    cents = [_priced(number, "10000") for number in range(1, 10)]
    assert len(_odd(_understood(ledger, market, tmp_path, *cents), "price")) == 9


def test_a_price_a_tenth_of_the_usual_is_odd(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    usual = [_priced(number, "100,00") for number in range(1, 7)]
    found = _understood(ledger, market, tmp_path, *usual, _priced(7, "9,00"))
    assert [row for row, _ in _odd(found, "price")] == [8]


def test_a_price_twice_the_usual_is_not_odd(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    usual = [_priced(number, "100,00") for number in range(1, 7)]
    assert _odd(_understood(ledger, market, tmp_path, *usual, _priced(7, "200,00")), "price") == []


def test_a_day_years_from_all_others_is_odd(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    usual = [_priced(number, "100,00", f"{number:02d}.03.2021") for number in range(1, 15)]
    found = _understood(ledger, market, tmp_path, *usual, _priced(15, "100,00", "04.03.2017"))
    assert _odd(found, "day") == [(16, "2017-03-04")]


def test_a_size_that_no_other_sale_has_is_odd(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    usual = [_priced(number, "100,00") for number in range(1, 4)]
    found = _understood(ledger, market, tmp_path, *usual, _priced(4, "100,00", size="47"))
    assert [row for row, _ in _odd(found, "size")] == [5]


def test_a_size_that_another_file_has_too_is_not_odd(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    ingest(ledger, market, [write_holm(tmp_path, _priced(9, "100,00", size="47"), name="holm_2020.csv")])
    found = _understood(ledger, market, tmp_path, _priced(1, "100,00", size="47"))
    assert _odd(found, "size") == []


def test_an_era_that_one_sale_alone_has_is_odd(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    found = _understood(
        ledger, market, tmp_path, *HOLM[:2], "9;Gannet Hi, retro;04.03.2021;50;zugeschlagen;43;"
    )
    assert (4, "reissue") in _odd(found, "level")


def test_an_unread_cell_is_odd(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    header_row = "1,,Gannet Hi,2021-01-01,2021-02-01,100,100,sold,UK 9,superb,original"
    ingest(ledger, market, [write_lantern(tmp_path, header_row)])
    assert _odd(understood_file(ledger, market, None), "unread") == [(2, "superb")]


def test_the_sample_shows_rows_that_were_read_differently(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    alike = [_priced(number, "100,00") for number in range(1, 30)]
    found = _understood(ledger, market, tmp_path, *alike, "99;Plover Lo;05.03.2021;;zurück;42;")
    assert 31 in [row.row_number for row in found.sample]


def test_a_row_of_the_sample_stands_beside_the_cells_that_the_export_wrote(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    [row] = _understood(ledger, market, tmp_path, HOLM[0]).sample
    assert (row.cells or {})["Zuschlag"] == "600,00"


def test_a_row_of_the_sample_says_where_its_values_come_from(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    [row] = _understood(ledger, market, tmp_path, HOLM[0]).sample
    assert ("era", "first (from title)") in read_of(row, "EUR")


def test_a_row_that_the_owner_removed_is_counted_as_removed(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    ingest(ledger, market, [write_holm(tmp_path, *HOLM[:2])])
    ledger.connection.execute("INSERT INTO removed_rows SELECT min(row_id) FROM staged_rows").fetchall()
    assert understood_file(ledger, market, None).left_out == {"removed": 1}


def test_the_sample_has_ten_rows_at_most(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    found = _understood(ledger, market, tmp_path, *[_priced(number, "100,00") for number in range(1, 30)])
    assert len(found.sample) == 10


def test_a_file_without_a_good_row_is_shown_as_well(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    found = _understood(ledger, market, tmp_path, HOLM[4])
    assert (found.recorded, found.uses) == (0, {"quarantined": 1})


def test_an_empty_ledger_has_nothing_to_show(ledger: Ledger, market: Market) -> None:
    assert understood_sheet(understood_file(ledger, market, None)).figures[0] == ("Rows read", "0")


def test_a_file_that_was_not_read_is_refused_with_those_that_were(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    ingest(ledger, market, [write_holm(tmp_path, *HOLM)])
    with pytest.raises(
        UnknownName, match=r"no file that was read is called 'holm_2022.csv'\n.*holm_2021.csv"
    ):
        understood_file(ledger, market, Path("holm_2022.csv"))


@pytest.mark.parametrize(
    ("rows", "of", "text"),
    [
        (0, 9, "0\u00a0%"),
        (1, 1000, "under\u00a01\u00a0%"),
        (999, 1000, "over\u00a099\u00a0%"),
        (9, 9, "100\u00a0%"),
    ],
)
def test_none_and_all_are_said_only_where_they_are_exact(rows: int, of: int, text: str) -> None:
    assert share_text(rows, of) == text


def test_the_account_says_what_will_not_be_in_the_fit(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    said = account_sheet(_understood(ledger, market, tmp_path, *HOLM)).sentences
    assert (
        "For the fit: 2 sales. Not in it: 1 without a silhouette, 1 quarantined (`pairband quarantine`), 1 not sold."
        in said
    )


def test_the_account_says_the_money_of_each_currency(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    said = account_sheet(_understood(ledger, market, tmp_path, *HOLM)).sentences
    assert "EUR: 3 sold for €1,190 together (€90 to €600); 1 not sold." in said


def test_the_account_offers_the_silhouette_that_titles_without_one_look_like(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    said = account_sheet(
        _understood(ledger, market, tmp_path, "1;Gannet, first run;04.03.2021;90;zugeschlagen;42;")
    ).sentences
    assert "1 title says 'gannet', which looks like Gannet Hi: add it to its `phrases`." in said


def test_ingest_shows_the_account_of_each_file_that_it_reads(tmp_path: Path, market: Market) -> None:
    said = _run(tmp_path, "ingest", str(write_holm(tmp_path, *HOLM)))
    assert "`pairband understood holm_2021.csv` shows all." in " ".join(said.split())


def test_ingest_in_json_holds_the_account_in_full(tmp_path: Path, market: Market) -> None:
    said = json.loads(_run(tmp_path, "ingest", str(write_holm(tmp_path, *HOLM)), "--json"))
    assert said["understood"][0]["uses"] == {
        "in the fit": 2,
        "no silhouette": 1,
        "quarantined": 1,
        "unsold": 1,
    }


def test_a_file_that_did_not_change_is_not_accounted_for_again(tmp_path: Path, market: Market) -> None:
    file = str(write_holm(tmp_path, *HOLM))
    _run(tmp_path, "ingest", file)
    assert json.loads(_run(tmp_path, "ingest", file, "--json"))["understood"] == []


def test_understood_shows_a_file_at_any_time(tmp_path: Path, market: Market) -> None:
    _run(tmp_path, "ingest", str(write_holm(tmp_path, *HOLM)))
    assert "What was read of holm_2021.csv" in _run(tmp_path, "understood", "holm_2021.csv")


def test_understood_writes_what_the_rows_say_as_csv(tmp_path: Path, market: Market) -> None:
    _run(tmp_path, "ingest", str(write_holm(tmp_path, *HOLM)))
    _run(tmp_path, "understood", "--csv", str(tmp_path / "fields.csv"))
    assert '"silhouette",4' in (tmp_path / "fields.csv").read_text(encoding="utf-8-sig")


def _run(folder: Path, *words: str) -> str:
    places = ("--market", str(Path(__file__).parents[1] / "market.toml"))
    ran = CliRunner().invoke(
        app, [*words, *places, "--ledger", str(folder / "p.duckdb")], catch_exceptions=False
    )
    assert ran.exit_code == 0
    return ran.output
