"""Only pairs are sales: what an export sells beside them is put aside with its reason, and counted apart."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline.answers.ingest.tables import row_sentence
from pipeline.config import ExportMap, Market, parse_market
from pipeline.errors import MarketFileError
from pipeline.ingest.quarantine import quarantine_csv
from pipeline.ledger import Ledger, open_ledger
from pipeline.ledger.checks import run_checks
from tests.exports import ingest, write_holm
from tests.kept import sales_of

PHRASES = ("laces only", "box only", "replica", "restoration service", "bundle of", "# pairs")
ROW = "{};{};04.03.2021;{};zugeschlagen;43;{}"
TEXT = (Path(__file__).parents[1] / "market.toml").read_text(encoding="utf-8")


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as opened:
        yield opened


@pytest.fixture
def careful(market: Market) -> Market:
    """Return the market of an owner who says what is no pair."""
    return market.model_copy(update={"words": market.words.model_copy(update={"not_a_pair": PHRASES})})


def _titles(ledger: Ledger, market: Market, folder: Path, *titles: str) -> list[str]:
    """Read lots of these titles; return the titles of those that are sales."""
    rows = [ROW.format(n, title, "80,00", "") for n, title in enumerate(titles, start=1)]
    ingest(ledger, market, [write_holm(folder, *rows)])
    return sorted(sales_of(ledger)["title"])


@pytest.mark.parametrize(
    "title",
    [
        "Laces only for Gannet Hi",
        "Gannet Hi, BOX ONLY",
        "Gannet Hi replica",
        "Restoration service, Plover Lo",
        "Bundle of Gannet Hi and Plover Lo",
        "Lot of 3 pairs Gannet Hi",
        "Two pairs: Gannet Hi, Plover Lo",
    ],
)
def test_what_is_no_single_pair_is_no_sale(
    ledger: Ledger, careful: Market, tmp_path: Path, title: str
) -> None:
    assert _titles(ledger, careful, tmp_path, title, "Gannet Hi UK 9") == ["Gannet Hi UK 9"]


@pytest.mark.parametrize(
    "title",
    [
        "Gannet Hi, no replica",
        "Gannet Hi with spare laces",
        "Gannet Hi with 2 pairs of laces",
        "Gannet Hi, original box",
        "Gannet Hi, not a replica",
    ],
)
def test_a_pair_that_is_sold_with_more_is_a_sale(
    ledger: Ledger, careful: Market, tmp_path: Path, title: str
) -> None:
    assert _titles(ledger, careful, tmp_path, title) == [title]


def test_a_row_put_aside_is_listed_with_the_owners_word_for_it(
    ledger: Ledger, careful: Market, tmp_path: Path
) -> None:
    _titles(ledger, careful, tmp_path, "Laces only for Gannet Hi")
    assert '"Laces only for Gannet Hi","not a pair: laces only"' in quarantine_csv(ledger)


def test_rows_put_aside_are_counted_apart_from_errors(
    ledger: Ledger, careful: Market, tmp_path: Path
) -> None:
    rows = (
        ROW.format(1, "Gannet Hi", "x", ""),
        ROW.format(2, "Plover Lo box only", "x", ""),
        ROW.format(3, "Gannet Hi", "80", ""),
    )
    run = ingest(ledger, careful, [write_holm(tmp_path, *rows)])
    assert row_sentence(run) == (
        "3 rows read = 1 recorded + 0 duplicates + 1 quarantined + 1 put aside as no sale of one pair"
    )
    assert run_checks(ledger) == ()


def test_a_column_of_the_export_may_say_what_is_no_pair(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    by_column = market.maps["holm"].model_dump() | {"skip": {"Bemerkung": ["Zubehör", "Dienst"]}}
    maps = {**market.maps, "holm": ExportMap.model_validate(by_column)}
    rows = [
        ROW.format(n, "Gannet Hi", "80", said) for n, said in enumerate(("zubehor", "", "Dienstag"), start=1)
    ]
    ingest(ledger, market.model_copy(update={"maps": maps}), [write_holm(tmp_path, *rows)])
    assert sorted(sales_of(ledger)["lot_ref"]) == ["2", "3"]


def test_a_column_to_skip_by_without_words_is_refused() -> None:
    with pytest.raises(MarketFileError, match=r"maps\.holm\.skip\.Bemerkung"):
        parse_market(
            TEXT.replace("[maps.holm]", '[maps.holm]\nskip = { "Bemerkung" = [] }'), where="market.toml"
        )


def test_an_owner_who_names_nothing_keeps_every_row(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    assert _titles(ledger, market, tmp_path, "Gannet Hi replica") == ["Gannet Hi replica"]
