"""Whatever the owner decides, taking it all back leaves the ledger as it was, and the order changes nothing."""

from contextlib import suppress
from datetime import datetime
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.config import load_market
from pipeline.errors import PairbandError
from pipeline.ingest.put_right import add, correct, decisions, remove, undo
from pipeline.ledger import Ledger, open_ledger
from pipeline.ledger.checks import run_checks
from tests.exports import AS_OF, ingest, write_holm, write_lantern
from tests.folders import written_once
from tests.kept import sales_of

LEDGER = "ledger.duckdb"
RULED_AT = datetime(2026, 7, 1)
MARKET = load_market(Path(__file__).parents[1] / "market.toml")
FIELDS = {
    "grade": ["8", "deadstock", ""],
    "price_native": ["500", "80.50"],
    "size_label": ["UK 10", ""],
    "era": ["first", ""],
    "stock_ref": ["TP-1", ""],
    "closed_on": ["2021-03-09"],
    "silhouette": ["Plover Lo", "Gannet Hi"],
}
CORRECTIONS = st.sampled_from(sorted(FIELDS)).flatmap(
    lambda field: st.tuples(st.just(field), st.sampled_from(FIELDS[field]))
)
DECISIONS = st.one_of(
    st.tuples(st.just("correct"), st.integers(0, 9), CORRECTIONS),
    st.tuples(st.just("remove"), st.integers(0, 9), st.none()),
    st.tuples(st.just("add"), st.integers(0, 9), st.none()),
)


@written_once
def _write_ledger(folder: Path) -> None:
    """Write a ledger of two exports."""
    rows = [
        "7,TP-1,Gannet Hi first run,2021-02-01,2021-03-04,,100,sold,UK 9,8,",
        "7,,Plover Lo,2021-02-01,2021-03-04,,80,sold,UK 8,,",
        ",,Plover Lo,,2021-03-05,,80,sold,UK 8,,",
    ]
    holm = ["1;Gannet Hi Buoy Red;09.03.2021;600,00;zugeschlagen;43;", "2;Gannet Hi;04.03.2021;;zurück;43;"]
    with open_ledger(folder / LEDGER, create=True) as ledger:
        ingest(ledger, MARKET, [write_lantern(folder, *rows), write_holm(folder, *holm)])


def _copy() -> Path:
    """Return a copy of that ledger."""
    return _write_ledger(Path(mkdtemp(prefix="pairband-put-right-"))) / LEDGER


@cache
def _shared() -> Ledger:
    """Return an open ledger of two exports; every example leaves it as it found it."""
    return open_ledger(_copy())


def _dump(ledger: Ledger) -> dict[str, list[str]]:
    """Return every table of a ledger, row by row."""
    tables = ledger.connection.sql(
        "SELECT table_name FROM duckdb_tables() WHERE NOT internal AND NOT temporary"
    ).fetchall()
    return {name: sorted(map(repr, ledger.connection.sql(f"FROM {name}").fetchall())) for (name,) in tables}


def _decide(ledger: Ledger, kind: str, at: int, said: tuple[str, str] | None) -> None:
    """Decide on one of the sales, unless that is refused."""
    ids = sorted(sales_of(ledger)["record_id"])
    if kind == "add":
        words = {"venue": "Lantern Dock", "sold_on": "2021-03-09", "price_native": str(100 + at % 2)}
        add(ledger, MARKET, words, note="", ruled_at=RULED_AT, as_of=AS_OF)
    elif ids and kind == "remove":
        remove(ledger, MARKET, [ids[at % len(ids)]], note="", ruled_at=RULED_AT, as_of=AS_OF)
    elif ids and said is not None:
        record = ids[at % len(ids)]
        with suppress(PairbandError):
            correct(ledger, MARKET, record, dict([said]), note="", ruled_at=RULED_AT, as_of=AS_OF)


def _take_all_back(ledger: Ledger) -> None:
    while not decisions(ledger).is_empty():
        undo(ledger, MARKET, None, as_of=AS_OF)


@settings(max_examples=3, deadline=None)
@given(st.lists(DECISIONS, min_size=1, max_size=4))
def test_taking_all_decisions_back_leaves_the_ledger_as_it_was(
    decided: list[tuple[str, int, tuple[str, str] | None]],
) -> None:
    ledger = _shared()
    before = _dump(ledger)
    for one in decided:
        _decide(ledger, *one)
    assert run_checks(ledger) == ()
    _take_all_back(ledger)
    assert _dump(ledger) == before


@settings(max_examples=3, deadline=None)
@given(st.permutations(sorted(FIELDS)).map(lambda order: order[:4]))
def test_the_order_of_corrections_of_different_fields_changes_nothing(order: list[str]) -> None:
    corrected = []
    for fields in (order, sorted(order)):
        with open_ledger(_copy()) as ledger:
            record = sales_of(ledger).filter(lot_ref="1")["record_id"].item()
            for field in fields:
                said = {field: FIELDS[field][0]}
                correct(ledger, MARKET, record, said, note="", ruled_at=RULED_AT, as_of=AS_OF)
            corrected.append(_dump(ledger)["corrected_rows"])
    assert corrected[0] == corrected[1]
