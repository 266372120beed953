"""The market file is saved whole, never over another program's change, and every earlier text can come back."""

from pathlib import Path

import pytest

from pipeline.desk.market_file.edit import Change, edited
from pipeline.desk.market_file.saving import bring_back, earlier_texts, read_market_text, save
from pipeline.errors import MarketFileError

CONTENT = (Path(__file__).parents[1] / "market.toml").read_bytes()


@pytest.fixture
def market(tmp_path: Path) -> Path:
    path = tmp_path / "market.toml"
    path.write_bytes(CONTENT)
    return path


def save_years(path: Path, year: int) -> None:
    now = read_market_text(path)
    save(path, now.digest, now.changed(edited(now.text, Change("put", ("eras", 0, "last_year"), year))))


def test_a_saved_change_is_in_the_file_and_the_text_before_it_beside_it(market: Path) -> None:
    save_years(market, 1985)
    assert market.read_bytes() == CONTENT.replace(b"last_year = 1986", b"last_year = 1985")
    assert [one.file.read_bytes() for one in earlier_texts(market)] == [CONTENT]


def test_the_last_save_is_undone_byte_for_byte(market: Path) -> None:
    save_years(market, 1985)
    bring_back(market, read_market_text(market).digest, earlier_texts(market)[0].number)
    assert market.read_bytes() == CONTENT


def test_several_saves_are_undone_at_once(market: Path) -> None:
    for year in (1985, 1984, 1986):
        save_years(market, year)
    assert [one.number for one in earlier_texts(market)] == [3, 2, 1]
    bring_back(market, read_market_text(market).digest, 2)
    assert b"last_year = 1985" in market.read_bytes()


def test_an_undone_save_can_come_back(market: Path) -> None:
    save_years(market, 1985)
    saved = market.read_bytes()
    bring_back(market, read_market_text(market).digest, 1)
    bring_back(market, read_market_text(market).digest, earlier_texts(market)[0].number)
    assert market.read_bytes() == saved


def test_a_file_that_another_program_changed_is_left_as_it_is(market: Path) -> None:
    form = read_market_text(market)
    market.write_bytes(CONTENT + b"# by hand\n")
    with pytest.raises(MarketFileError, match="was changed by another program"):
        save(market, form.digest, form.changed(form.text.replace("1986", "1985")))
    assert market.read_bytes() == CONTENT + b"# by hand\n"
    assert earlier_texts(market) == ()


def test_a_text_that_is_no_market_file_is_not_saved(market: Path) -> None:
    form = read_market_text(market)
    with pytest.raises(MarketFileError, match="base_currency"):
        save(market, form.digest, form.changed(form.text.replace('"EUR"', '"euro"', 1)))
    assert market.read_bytes() == CONTENT


def test_saving_without_a_change_writes_nothing(market: Path) -> None:
    form = read_market_text(market)
    with pytest.raises(MarketFileError, match="already says this"):
        save(market, form.digest, form)


def test_a_byte_order_mark_and_windows_line_ends_stay(market: Path) -> None:
    content = b"\xef\xbb\xbf" + CONTENT.replace(b"\n", b"\r\n")
    market.write_bytes(content)
    save_years(market, 1985)
    assert market.read_bytes() == content.replace(b"last_year = 1986", b"last_year = 1985")


def test_an_earlier_text_that_is_not_there_cannot_come_back(market: Path) -> None:
    with pytest.raises(MarketFileError, match="there is no earlier text 4"):
        bring_back(market, read_market_text(market).digest, 4)


def test_a_link_beside_the_market_file_is_no_earlier_text(market: Path, tmp_path: Path) -> None:
    (tmp_path / "market.toml.before").symlink_to(market)
    (tmp_path / "market.toml.before2x").write_text("notes")
    assert earlier_texts(market) == ()


def test_what_is_not_utf_8_is_said(market: Path) -> None:
    market.write_bytes(b"base_currency = \xff")
    with pytest.raises(MarketFileError, match="is not UTF-8 text"):
        read_market_text(market)
