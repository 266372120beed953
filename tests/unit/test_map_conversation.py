"""In a terminal a map is made together with the owner, and nothing is written before they say so."""

import tomllib
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from pipeline.answers.market_file import conversation
from pipeline.answers.market_file.conversation import map_in_terminal
from pipeline.config import load_market
from pipeline.errors import ReportError
from pipeline.terminal.console import OUT
from tests.exports import AS_OF

TEXT = (Path(__file__).parents[1] / "market.toml").read_text(encoding="utf-8")
HEADER = "Los;Bezeichnung;Datum;Zuschlag;Aufgeld;Summe;Stand;Größe"
ROWS = "".join(
    f"{lot};Gannet Hi, Nr. {lot};{13 + lot}.03.2021;{price},00;{price // 4},00;{price * 5 // 4},00;{end};{41 + lot},5\n"
    for lot, (price, end) in enumerate(
        [
            (100, "zugeschlagen"),
            (140, "verschollen"),
            (180, "zugeschlagen"),
            (240, "zugeschlagen"),
            (300, "zurück"),
        ]
    )
)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a folder with a market file and an export that no map is for."""
    monkeypatch.setattr(conversation, "today", lambda: AS_OF)
    monkeypatch.setattr(OUT, "_width", 200)
    (tmp_path / "market.toml").write_text(TEXT, encoding="utf-8")
    (tmp_path / "neu_2021.csv").write_text(f"{HEADER}\n{ROWS}", encoding="utf-8")
    return tmp_path


def talk(folder: Path, *answers: str, file: str = "neu_2021.csv") -> str:
    """Return what is shown while the owner gives these answers, one a line; an error goes on."""
    made = click.Command("map", callback=lambda: map_in_terminal(folder / file, folder / "market.toml"))
    done = CliRunner().invoke(
        made,
        input="".join(f"{answer}\n" for answer in answers),
        env={"COLUMNS": "160"},
        catch_exceptions=True,
    )
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    return done.output


SETTLED = ("1", "2", "")
"""Holm Sound Auctions is the venue, the word that no language knows means unsold, and the map is written."""


def test_answers_make_a_map_that_the_market_file_takes(folder: Path) -> None:
    talk(folder, *SETTLED)
    mapped = load_market(folder / "market.toml").maps["neu_2021"]
    assert (mapped.venue, mapped.columns["price_native"], mapped.price_basis) == (
        "Holm Sound Auctions",
        "Zuschlag",
        "hammer",
    )


def test_a_status_word_that_was_asked_for_is_kept(folder: Path) -> None:
    talk(folder, *SETTLED)
    assert load_market(folder / "market.toml").maps["neu_2021"].status_words["verschollen"] == "unsold"


def test_every_line_of_the_market_file_stays_as_it_was(folder: Path) -> None:
    talk(folder, *SETTLED)
    assert (folder / "market.toml").read_text(encoding="utf-8").startswith(TEXT.rstrip())


def test_the_earlier_text_of_the_market_file_is_kept_beside_it(folder: Path) -> None:
    shown = talk(folder, *SETTLED)
    assert (folder / "market.toml.before").read_text(encoding="utf-8") == TEXT
    assert "market.toml.before" in "".join(shown.split())


def test_an_earlier_text_is_never_written_over(folder: Path) -> None:
    (folder / "market.toml.before").write_text("mine", encoding="utf-8")
    talk(folder, *SETTLED)
    assert (folder / "market.toml.before").read_text(encoding="utf-8") == "mine"
    assert (folder / "market.toml.before2").read_text(encoding="utf-8") == TEXT


def test_rows_are_shown_as_the_map_reads_them(folder: Path) -> None:
    assert "130.00 EUR" in talk(folder, *SETTLED)


def test_a_line_of_the_owner_changes_the_map(folder: Path) -> None:
    talk(folder, "1", "2", "price = Summe", "all-in", "")
    mapped = load_market(folder / "market.toml").maps["neu_2021"]
    assert (mapped.columns["price_native"], mapped.price_basis) == ("Summe", "all-in")


def test_another_price_has_its_basis_asked_again(folder: Path) -> None:
    assert "what does 'Summe' count" in talk(folder, "1", "2", "price = Summe", "", "q")


def test_a_line_that_names_no_heading_is_answered_with_the_near_ones(folder: Path) -> None:
    assert "did you mean 'Zuschlag'?" in talk(folder, "1", "2", "price = Zuschlg", "q")


def test_a_map_with_an_open_question_is_not_written(folder: Path) -> None:
    talk(folder, "", "2", "", "", "q")
    assert (folder / "market.toml").read_text(encoding="utf-8") == TEXT


def test_leaving_writes_nothing(folder: Path) -> None:
    talk(folder, "1", "2", "q")
    assert sorted(path.name for path in folder.iterdir()) == ["market.toml", "neu_2021.csv"]


def test_stopping_in_the_middle_writes_nothing(folder: Path) -> None:
    talk(folder, "1")
    assert sorted(path.name for path in folder.iterdir()) == ["market.toml", "neu_2021.csv"]


def test_a_venue_that_is_new_is_added_with_its_kind_and_currency(folder: Path) -> None:
    shown = talk(folder, "Fogbank Sales", "1", "eur", "2", "")
    added = tomllib.loads((folder / "market.toml").read_text(encoding="utf-8"))["venues"][-1]
    assert added == {"name": "Fogbank Sales", "kind": "auction", "currency": "EUR"}
    assert "Its fees are yours to add" in shown


def test_a_map_for_the_same_files_is_replaced_in_its_place(folder: Path) -> None:
    talk(folder, *SETTLED)
    talk(folder, "y", "2", "2", "price = Summe", "all-in", "")
    maps = load_market(folder / "market.toml").maps
    assert sorted(maps) == sorted([*tomllib.loads(TEXT)["maps"], "neu_2021"])
    assert maps["neu_2021"].columns["price_native"] == "Summe"


def test_a_map_for_the_same_files_stays_where_the_owner_says_no(folder: Path) -> None:
    talk(folder, *SETTLED)
    before = (folder / "market.toml").read_bytes()
    assert "Nothing was written." in talk(folder, "n")
    assert (folder / "market.toml").read_bytes() == before


def test_a_market_file_that_changed_meanwhile_is_left_as_it_is(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = conversation.edit_market_file

    def edit_later(path: Path, before: bytes, content: bytes) -> Path:
        path.write_text(TEXT + "# mine\n", encoding="utf-8")
        return real(path, before, content)

    monkeypatch.setattr(conversation, "edit_market_file", edit_later)
    with pytest.raises(ReportError, match="was changed while you answered"):
        talk(folder, *SETTLED)
    assert (folder / "market.toml").read_text(encoding="utf-8") == TEXT + "# mine\n"


def test_a_market_file_with_windows_line_ends_keeps_them(folder: Path) -> None:
    (folder / "market.toml").write_bytes(TEXT.replace("\n", "\r\n").encode())
    talk(folder, *SETTLED)
    content = (folder / "market.toml").read_bytes()
    assert content.count(b"\n") == content.count(b"\r\n")


BOXED = "".join(
    f"{line};{box};{grade}\n"
    for line, box, grade in zip(
        ROWS.replace("verschollen", "zurück").splitlines(),
        ("ja, mit", "original", "leer", "original", "none"),
        ("8", "prima", "9", "7.5", "6"),
        strict=True,
    )
)


@pytest.fixture
def boxed(folder: Path) -> Path:
    """Return the folder with an export that has words for the box and the grade that nobody knows yet."""
    (folder / "neu_2021.csv").write_text(f"{HEADER};Box;Grade\n{BOXED}", encoding="utf-8")
    return folder


def test_a_word_of_the_box_that_is_not_known_is_asked_about(boxed: Path) -> None:
    assert "What does 'leer' say of the box?" in talk(boxed, "1", "1", "3", "8.5", "")


def test_what_words_of_box_and_grade_mean_is_written_into_the_map(boxed: Path) -> None:
    talk(boxed, "1", "1", "3", "8.5", "")
    words = load_market(boxed / "market.toml").maps["neu_2021"].words
    assert words == {"box": {"ja, mit": "original", "leer": "none"}, "grade": {"prima": "8.5"}}


def test_a_grade_that_is_none_is_asked_for_again(boxed: Path) -> None:
    shown = talk(boxed, "1", "1", "3", "splendid", "9", "")
    assert "'splendid' is no grade" in shown
    assert load_market(boxed / "market.toml").maps["neu_2021"].words["grade"] == {"prima": "9"}


def test_a_word_that_was_left_open_is_said_by_a_line_later(boxed: Path) -> None:
    talk(boxed, "1", "1", "", "", "leer = none", "", "", "")
    assert load_market(boxed / "market.toml").maps["neu_2021"].words["box"]["leer"] == "none"


def test_a_column_of_quantities_that_the_owner_names_has_its_price_asked_about(folder: Path) -> None:
    (folder / "neu_2021.csv").write_text(
        f"{HEADER};Dinge\n" + "".join(f"{line};{1 + at % 2}\n" for at, line in enumerate(ROWS.splitlines())),
        encoding="utf-8",
    )
    shown = talk(folder, "1", "2", "quantity = Dinge", "2", "")
    mapped = load_market(folder / "market.toml").maps["neu_2021"]
    assert "is the price that of the line" in " ".join(shown.split())
    assert (mapped.columns["quantity"], mapped.quantity_price) == ("Dinge", "unit")


def test_the_currency_of_a_new_venue_counts_where_no_column_says_one(folder: Path) -> None:
    path = folder / "market.toml"
    path.write_text(
        TEXT.replace('currency = "GBP"', 'currency = "EUR"').replace('currency = "JPY"', 'currency = "EUR"')
    )
    talk(folder, "Torvald Auctions", "1", "HUF", "2", "")
    market = load_market(path)
    mapped = market.maps["neu_2021"]
    assert (mapped.currency, market.venue(mapped.venue).currency) == (None, "HUF")
