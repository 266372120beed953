"""What a fit and a reading rest on: what they read makes them stale, and nothing else does."""

import shutil
from datetime import UTC, datetime
from pathlib import Path

import polars as pl
import pytest

from pipeline import config
from pipeline.answers.care.doctor import examine
from pipeline.answers.fit.run import fit_ledger
from pipeline.config import Market, load_market, parse_market
from pipeline.ingest.money import market_rates
from pipeline.ledger import Ledger, open_ledger
from pipeline.market.fitted_market import why_stale
from pipeline.rests_on import FIT, MAP_APART, RECORDS, market_digest, reading_digest
from pipeline.workspace import Workspace
from tests.exports import ingest, write_lantern
from tests.kept import sales_of

MARKET_FILE = Path(__file__).parents[1] / "market.toml"
NOW = datetime(2026, 11, 3, 18, tzinfo=UTC)
TEXT = MARKET_FILE.read_text(encoding="utf-8")
ROWS = tuple(
    f"L{n},,Gannet Hi first run,2024-01-01,2024-0{1 + n % 9}-03,,{100 + n},sold,UK 9,{5 + n % 4},original"
    for n in range(12)
)
ANSWERS_ONLY = {
    "the workshop's hours": TEXT + "\n[workshop]\nhours = 12\n",
    "a margin": TEXT + "\n[buying]\nmargin = 0.3\n",
    "patience": TEXT + "\n[consigning]\npatience_days = 90\n",
    "an import": TEXT + '\n[[imports]]\nvenue = "Lantern Dock"\nfreight = 12\n',
    "the owner's name": TEXT.replace("Tidewrack Pairs", "Tidewrack & Daughter"),
    "a bid increment": TEXT.replace(
        'country = "Skerrowland"', 'country = "Skerrowland"\nincrements = [{ step = 5 }]'
    ),
    "a venue's country": TEXT.replace('country = "Skerrowland"', 'country = "Holmland"'),
    "the layout of tickets": TEXT + "\n[tickets]\nrows = 4\n",
    "a folder of pictures": TEXT + '\n[pictures]\nfolder = "pictures"\n',
    "a prior of the eras": TEXT + "\n[era_odds.prior]\nfirst = 0.2\nsecond = 0.3\nreissue = 0.5\n",
    "a treatment's hours": TEXT.replace("hours = 1.5", "hours = 2.5"),
    "a silhouette's family": TEXT.replace('family = "court"', 'family = "hall"'),
    "a map's file pattern": TEXT.replace('files = "holm_*.csv"', 'files = "holm*.csv"'),
}
OF_ONE_MAP = {
    "a map's tax": TEXT.replace("[maps.holm]", '[maps.holm]\ntax = "margin"'),
    "a map's list mark": TEXT.replace("[maps.holm]", '[maps.holm]\nlist_mark = "/"'),
    "a map's status word": TEXT.replace('"zurück" = "unsold"', '"zurück" = "withdrawn"'),
}
OF_ALL_RECORDS = {
    "a phrase of an era": TEXT.replace('"og 85"', '"og 86"'),
    "a buyer's premium": TEXT.replace("{ rate = 0.12 }", "{ rate = 0.13 }"),
    "a grade word": TEXT.replace('"beat" = 3', '"beat" = 3.5'),
    "the base currency": TEXT.replace('base_currency = "EUR"', 'base_currency = "GBP"'),
}
OF_THE_MODEL = {
    "the degrees of freedom": TEXT + "\n[model]\ntails = 8\n",
    "a pair of factors not looked for": TEXT + '\n[model.interactions]\nnever = [["venue", "box"]]\n',
}
RATES = pl.DataFrame(
    {"currency": ["GBP"], "day": [NOW.date()], "per_euro": [0.85]},
    schema={"currency": pl.String, "day": pl.Date, "per_euro": pl.Float64},
)


def _parsed(text: str) -> Market:
    assert text != TEXT
    return parse_market(text, where="market.toml")


def _reading(market: Market, rates: pl.DataFrame = RATES) -> str:
    return reading_digest(market.export_map("holm"), market, rates)


@pytest.mark.parametrize("change", ANSWERS_ONLY | OF_ONE_MAP)
def test_what_no_fit_reads_makes_no_fit_stale(market: Market, change: str) -> None:
    assert market_digest(_parsed((ANSWERS_ONLY | OF_ONE_MAP)[change])) == market_digest(market)


@pytest.mark.parametrize("change", OF_ALL_RECORDS | OF_THE_MODEL)
def test_what_a_fit_rests_on_makes_it_stale(market: Market, change: str) -> None:
    assert market_digest(_parsed((OF_ALL_RECORDS | OF_THE_MODEL)[change])) != market_digest(market)


@pytest.mark.parametrize("change", ANSWERS_ONLY | OF_THE_MODEL)
def test_what_no_reading_depends_on_leaves_files_as_they_were_read(market: Market, change: str) -> None:
    assert _reading(_parsed((ANSWERS_ONLY | OF_THE_MODEL)[change])) == _reading(market)


@pytest.mark.parametrize("change", OF_ALL_RECORDS | OF_ONE_MAP)
def test_what_a_reading_depends_on_has_files_read_again(market: Market, change: str) -> None:
    assert _reading(_parsed((OF_ALL_RECORDS | OF_ONE_MAP)[change])) != _reading(market)


def test_another_exchange_rate_has_files_read_again(market: Market) -> None:
    other = RATES.with_columns(per_euro=pl.lit(0.86))

    assert _reading(market, other) != _reading(market)


def test_the_place_of_a_rate_file_does_not_have_files_read_again(market: Market) -> None:
    moved = market.model_copy(update={"rates": market.rates.model_copy(update={"file": "/elsewhere.csv"})})

    assert _reading(moved) == _reading(market)


@pytest.mark.parametrize(
    ("part", "read", "apart"),
    [
        (
            "Market",
            {*FIT},
            {
                "business",
                "maps",
                "workshop",
                "imports",
                "buying",
                "consigning",
                "era_odds",
                "outcomes",
                "selling",
                "sizes",
                "tickets",
                "pictures",
                "phrases",
            },
        ),
        ("Silhouette", RECORDS["silhouettes"]["__all__"], {"family"}),
        (
            "Treatment",
            RECORDS["treatments"]["__all__"],
            {"hours", "materials", "grade_gain", "cures", "caution"},
        ),
        ("Venue", RECORDS["venues"]["__all__"], {"kind", "country", "increments", "consignment", "freight"}),
        ("Rates", RECORDS["rates"], {"file"}),
    ],
)
def test_every_setting_is_reported_to_be_rested_on_or_not(part: str, read: set[str], apart: set[str]) -> None:
    assert read | apart == set(getattr(config, part).model_fields)


def test_what_is_apart_of_a_map_is_a_part_of_it() -> None:
    assert set(config.ExportMap.model_fields) >= MAP_APART


@pytest.fixture(scope="module")
def fitted_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with an export, a ledger that holds it, and a fit."""
    folder = tmp_path_factory.mktemp("fitted")
    with open_ledger(folder / "pairband.duckdb", create=True) as opened:
        ingest(opened, load_market(MARKET_FILE), [write_lantern(folder, *ROWS)])
    fit_ledger(folder / "pairband.duckdb", MARKET_FILE, fitted_at=NOW)
    return folder


@pytest.fixture
def ledger_path(fitted_once: Path, tmp_path: Path) -> Path:
    """Return a copy of that ledger, for a test to change."""
    return shutil.copytree(fitted_once, tmp_path, dirs_exist_ok=True) / "pairband.duckdb"


def _changed(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "changed.toml"
    path.write_text(text, encoding="utf-8")
    return path


def _told(ledger_path: Path, market_file: Path) -> list[str]:
    return [problem.what for problem in examine(ledger_path, market_file, now=NOW).problems]


def test_more_hours_in_the_workshop_ask_for_no_new_fit(ledger_path: Path, tmp_path: Path) -> None:
    hours = _changed(tmp_path, ANSWERS_ONLY["the workshop's hours"])

    with Workspace(ledger_path, hours) as workspace:
        assert workspace.stale == ""


def test_another_premium_asks_for_ingest_and_fit(ledger_path: Path, tmp_path: Path) -> None:
    premium = _changed(tmp_path, OF_ALL_RECORDS["a buyer's premium"])

    with Workspace(ledger_path, premium) as workspace:
        assert workspace.stale == (
            "The market file has changed since the fit: run `pairband ingest` on your exports, then `pairband fit`."
        )


def test_the_doctor_names_a_file_that_would_be_read_in_another_way_now(
    ledger_path: Path, tmp_path: Path
) -> None:
    lantern = TEXT.replace("[maps.lantern]", '[maps.lantern]\nlist_mark = "/"')

    [told] = [what for what in _told(ledger_path, _changed(tmp_path, lantern)) if "files were read" in what]

    assert told.startswith("1 of 1 files were read before")


def test_the_doctor_names_no_file_where_another_map_changed(ledger_path: Path, tmp_path: Path) -> None:
    told = _told(ledger_path, _changed(tmp_path, OF_ONE_MAP["a map's list mark"]))

    assert [what for what in told if "files were read" in what] == []


def _digest(ledger: Ledger) -> str:
    return str(ledger.read("marts/records_digest").item())


def test_a_fit_kept_under_an_earlier_digest_asks_for_a_new_one_in_words(market: Market) -> None:
    [stale] = why_stale(market_digest(market), "9f0c2c2a51e4dd36a4c36bb0dbd9a1d5", market, "2:abc")

    assert stale == ("the fit was made by another version of pairband", "run `pairband fit` again.")


def test_a_digest_of_records_is_that_of_a_kept_standard(market: Market, tmp_path: Path) -> None:
    import hashlib

    row = "L1,,Gannet Hi first run,2024-01-01,2024-01-03,,100,sold,UK 9,8,original"
    unit, null = "\x1f", "\x1d"
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as ledger:
        ingest(ledger, market, [write_lantern(tmp_path, row)])
        [sale] = sales_of(ledger).to_dicts()
        told = [
            *(sale["record_id"], "in the fit", f"{sale['price_paid']:.4f}", "2024-01-03"),
            *("Gannet Hi", null, "first", "271", "8.00", "original", "unknown", "unknown", null, null, null),
            "Lantern Dock",
        ]
        one = hashlib.md5(unit.join(told).encode()).hexdigest()
        assert _digest(ledger) == f"3:{hashlib.md5(one.encode()).hexdigest()}"


def test_a_digest_of_records_does_not_depend_on_the_order_of_the_files(
    market: Market, tmp_path: Path
) -> None:
    files = [write_lantern(tmp_path, row, name=f"lantern_{n}.csv") for n, row in enumerate(ROWS)]
    digests = set()
    for name, ordered in (("one", files), ("other", files[::-1])):
        with open_ledger(tmp_path / f"{name}.duckdb", create=True) as ledger:
            ingest(ledger, market, ordered)
            digests.add(_digest(ledger))
    assert len(digests) == 1


def test_a_digest_of_records_changes_with_one_price(market: Market, tmp_path: Path) -> None:
    digests = set()
    for name, price in (("one", "100"), ("other", "101")):
        with open_ledger(tmp_path / f"{name}.duckdb", create=True) as ledger:
            ingest(ledger, market, [write_lantern(tmp_path, ROWS[0].replace(",100,", f",{price},"))])
            digests.add(_digest(ledger))
    assert len(digests) == 2


def test_a_ledger_without_sales_has_a_digest(tmp_path: Path) -> None:
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as ledger:
        assert _digest(ledger) == "3:d41d8cd98f00b204e9800998ecf8427e"


def test_the_rates_that_hold_are_in_order_so_that_their_digest_is_one(market: Market) -> None:
    rates = market_rates(market)

    assert rates.equals(rates.sort("currency", "day"))
