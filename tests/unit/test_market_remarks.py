"""What `pairband check` says of eras that are hardly ever found, and of venues without fees or recent sales."""

from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner

from pipeline.answers.market_file.remarks import idle_venues, market_remarks, static_remarks
from pipeline.cli import app
from pipeline.config import Market, Pictures, parse_market
from pipeline.ledger import open_ledger
from tests.exports import ingest, write_holm

DAY = date(2026, 6, 30)
ERAS = """
[[eras]]
name = "first"
run = "original"
first_year = 1984
last_year = 1986
phrases = ["first run"]
"""
VENUE = """
[[venues]]
name = "Dockside"
kind = "{kind}"
currency = "EUR"
"""
FEE = '[[venues.fees]]\nparty = "{party}"\nstarts_on = 2015-01-01\ntiers = [{{ rate = 0.1 }}]\n'


def remarks(*, eras: str = ERAS, kind: str = "shop", fees: str = "", more: str = "") -> tuple[str, ...]:
    text = f'base_currency = "EUR"\n{eras}{VENUE.format(kind=kind)}{more}{fees}'
    return static_remarks(parse_market(text, where="market.toml"))


def era(name: str, first: int, last: int | None = None, phrases: str = "[]") -> str:
    end = "" if last is None else f"last_year = {last}\n"
    return f'[[eras]]\nname = "{name}"\nrun = "re-issue"\nfirst_year = {first}\n{end}phrases = {phrases}\n'


def test_an_era_without_a_phrase_and_a_year_of_its_own_is_hardly_ever_found() -> None:
    [remark, _] = remarks(eras=ERAS + era("copies", 1985, 1986))
    assert remark.startswith("the era 'copies' has no phrase, and no year of its own")


@pytest.mark.parametrize(
    "reached",
    [era("copies", 1985, 1987), era("copies", 1985), era("copies", 1985, 1986, '["retro"]')],
    ids=["a year of its own", "lasts on", "a phrase"],
)
def test_an_era_with_a_phrase_or_a_year_of_its_own_is_found(reached: str) -> None:
    assert [one for one in remarks(eras=ERAS + reached) if "era" in one.split()] == []


def test_the_only_era_needs_no_phrase() -> None:
    assert len(remarks(eras=era("first", 1984, 1986))) == 1  # of the venue


def test_a_venue_without_a_sellers_fee_is_not_recommended_on_consignment() -> None:
    [remark] = remarks()
    assert remark.startswith("'Dockside' has no seller's fee: `pairband consign` does not recommend it")


@pytest.mark.parametrize("chosen", ["true", "false"])
def test_a_venue_that_the_owner_has_decided_on_needs_no_sellers_fee(chosen: str) -> None:
    assert remarks(more=f"consignment = {chosen}\n") == ()


def test_an_auction_without_a_buyers_fee_is_named() -> None:
    [remark] = remarks(kind="auction", fees=FEE.format(party="seller"))
    assert remark.startswith("the auction 'Dockside' has no buyer's fee")


def test_a_shop_asks_for_no_buyers_fee() -> None:
    assert remarks(fees=FEE.format(party="seller")) == ()


def one_venue() -> Market:
    return parse_market(f'base_currency = "EUR"\n{ERAS}{VENUE.format(kind="shop")}', where="market.toml")


def test_a_venue_whose_last_sale_is_more_than_a_year_ago_is_named_with_the_day() -> None:
    assert idle_venues(one_venue(), {"Dockside": date(2023, 5, 3)}, as_of=DAY) == (
        "the last sale at 'Dockside' in the ledger was on 3 May 2023, more than a year ago",
    )


def test_a_venue_without_any_sale_is_named() -> None:
    assert idle_venues(one_venue(), {}, as_of=DAY) == ("the ledger holds no sale at 'Dockside'",)


def test_a_venue_with_a_sale_in_the_last_year_is_not_named() -> None:
    assert idle_venues(one_venue(), {"Dockside": date(2026, 1, 1)}, as_of=DAY) == ()


def test_the_sales_of_the_ledger_are_looked_at_where_there_is_one(market: Market, tmp_path: Path) -> None:
    with open_ledger(tmp_path / "p.duckdb", create=True) as ledger:
        ingest(ledger, market, [write_holm(tmp_path, "1;Gannet Hi;04.03.2021;100;zugeschlagen;43;")])
    said = market_remarks(market, tmp_path / "p.duckdb", as_of=DAY)
    assert (
        "the last sale at 'Holm Sound Auctions' in the ledger was on 4 Mar 2021, more than a year ago" in said
    )


def test_without_a_ledger_nothing_is_said_of_sales(market: Market, tmp_path: Path) -> None:
    assert market_remarks(market, tmp_path / "p.duckdb", as_of=DAY) == static_remarks(market)


def test_a_ledger_that_cannot_be_opened_does_not_keep_the_market_file_from_being_checked(
    market: Market, tmp_path: Path
) -> None:
    (tmp_path / "p.duckdb").write_text("no ledger", encoding="utf-8")
    said = market_remarks(market, tmp_path / "p.duckdb", as_of=DAY)
    assert said[-1].startswith("the sales of venues were not looked at: ")


def test_check_prints_what_it_has_to_say_of_venues(tmp_path: Path) -> None:
    (tmp_path / "market.toml").write_text(
        f'base_currency = "EUR"\n{ERAS}{VENUE.format(kind="shop")}', encoding="utf-8"
    )
    places = ("--market", str(tmp_path / "market.toml"), "--ledger", str(tmp_path / "p.duckdb"))
    ran = CliRunner().invoke(app, ["check", *places], catch_exceptions=False)
    assert "! 'Dockside' has no seller's fee" in ran.output


def test_a_folder_of_pictures_that_is_not_there_is_remarked(market: Market, tmp_path: Path) -> None:
    named = market.model_copy(update={"pictures": Pictures(folder=str(tmp_path / "pictures"))})
    said = market_remarks(named, tmp_path / "p.duckdb", as_of=DAY)
    assert f"there is no folder {tmp_path / 'pictures'}" in said[-1]


def test_a_folder_of_pictures_that_is_there_is_not_remarked(market: Market, tmp_path: Path) -> None:
    named = market.model_copy(update={"pictures": Pictures(folder=str(tmp_path))})
    assert market_remarks(named, tmp_path / "p.duckdb", as_of=DAY) == static_remarks(market)
