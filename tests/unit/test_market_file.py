"""The market file: what it takes, and how it says what is wrong."""

from decimal import Decimal
from pathlib import Path

import pytest

from pipeline.config import Market, load_market, parse_market
from pipeline.errors import MarketFileError, UnknownName

SMALLEST = """
base_currency = "EUR"
[[eras]]
name = "first"
run = "original"
first_year = 1984
last_year = 1986
[[venues]]
name = "Holm Sound Auctions"
kind = "auction"
currency = "EUR"
"""


def test_the_smallest_market_file_is_good() -> None:
    market = parse_market(SMALLEST, where="market.toml")

    assert market.base_currency == "EUR"
    assert market.maps == {}


def test_rates_of_fees_are_read_exactly(market: Market) -> None:
    schedule = market.venue("Holm Sound Auctions").fees[0]

    assert schedule.tiers[0].rate == Decimal("0.25")


def test_a_missing_market_file_is_told_with_the_way_out(tmp_path: Path) -> None:
    with pytest.raises(MarketFileError, match=r"no market file .*\n.*pairband init"):
        load_market(tmp_path / "market.toml")


def test_a_market_file_that_is_not_text_is_told(tmp_path: Path) -> None:
    path = tmp_path / "market.toml"
    path.write_bytes(b"\xff\xfe\x00\x01")

    with pytest.raises(MarketFileError, match="cannot be read"):
        load_market(path)


@pytest.mark.parametrize(
    ("added", "told"),
    [
        ("base_curency = 1", "base_curency"),
        ("[rates]\noldest_days = -1", "rates.oldest_days"),
        ("[workshop]\nhours = inf", "workshop.hours.*finite"),
        ("[workshop]\nmoney = nan", "workshop.money.*finite"),
        ("[words]\ngrades = { deadstock = 11 }", "allowed: 1 to 10 by half"),
        ('[[eras]]\nname = "FIRST"\nrun = "original"\nfirst_year = 1990', "holds the name 'first' twice"),
        ('[[eras]]\nname = "x"\nrun = "copy"\nfirst_year = 1990', r"eras.2.run.*'original' or 're-issue'"),
        ('[[eras]]\nname = "x"\nrun = "original"\nfirst_year = 1990\nlast_year = 1980', "lies before"),
        ("not toml at all", "not TOML"),
    ],
)
def test_a_fault_is_told_with_file_and_key(added: str, told: str) -> None:
    text = added + "\n" + SMALLEST if "=" in added and "[" not in added else SMALLEST + added

    with pytest.raises(MarketFileError, match=f"(?s)market.toml.*{told}"):
        parse_market(text, where="market.toml")


@pytest.mark.parametrize(
    ("tiers", "told"),
    [
        ("[{ up_to = 500, rate = 0.25 }]", "the last must not have it"),
        ("[{ rate = 0.25 }, { rate = 0.2 }]", "each tier but the last needs"),
        ("[{ up_to = 500, rate = 0.2 }, { up_to = 300, rate = 0.1 }, { rate = 0.1 }]", "must rise"),
        ("[{ rate = 25 }]", "less than 1"),
        ("[]", "at least 1"),
    ],
)
def test_a_fee_schedule_that_cannot_be_is_told(tiers: str, told: str) -> None:
    fees = f'[[venues.fees]]\nparty = "buyer"\nstarts_on = 2020-01-01\ntiers = {tiers}'

    with pytest.raises(MarketFileError, match=told):
        parse_market(SMALLEST + fees, where="market.toml")


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ('venue = "Holm Sound"\ncolumns = {}', "did you mean 'Holm Sound Auctions'"),
        ('venue = "Holm Sound Auctions"\ncolumns = { price = "Hammer" }', "no field is called 'price'"),
        ('venue = "Holm Sound Auctions"\ncolumns = { price_native = "Hammer" }', "`price_basis` is missing"),
        (
            'venue = "Holm Sound Auctions"\ncolumns = {}\nwords = { box = { yes = "boxed" } }',
            "allowed: original, replacement, none, unknown",
        ),
    ],
)
def test_an_export_map_that_cannot_work_is_told(lines: str, told: str) -> None:
    with pytest.raises(MarketFileError, match=told):
        parse_market(f'{SMALLEST}[maps.holm]\nfiles = "*.csv"\n{lines}', where="market.toml")


def test_an_unknown_venue_is_told_with_the_nearest(market: Market) -> None:
    with pytest.raises(UnknownName, match=r"no venue is called 'Lantern Dok'\ndid you mean 'Lantern Dock'"):
        market.venue("Lantern Dok")


def test_a_schedule_holds_from_its_day_until_the_next(market: Market) -> None:
    from datetime import date

    venue = market.venue("Holm Sound Auctions")

    assert venue.schedule("buyer", date(2014, 12, 31)) is None
    assert venue.schedule("buyer", date(2015, 1, 1)) == venue.fees[0]


def test_the_starter_is_a_good_market_file() -> None:
    import pipeline

    market = load_market(Path(pipeline.__file__).parent / "starter.toml")

    assert set(market.maps) == {"salerooms"}
