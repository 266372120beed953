"""Which rows are one sale, which sales are one pair, and what the owner rules."""

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import polars as pl
import pytest
from polars.testing import assert_frame_equal

from pipeline.config import Market
from pipeline.errors import DecisionError, UnknownName
from pipeline.ingest.flagged_prices import flag_prices
from pipeline.ingest.review import (
    Decision,
    DecisionKind,
    held_sales,
    kept_decisions,
    near_matches,
    rule,
    take_back,
    withdraw,
)
from pipeline.ingest.same import derive_sales, least_nodes
from pipeline.ledger import Ledger, open_ledger
from pipeline.ledger.checks import run_checks
from tests.exports import ingest, write_holm, write_lantern
from tests.kept import sales_of

RULED_AT = datetime(2026, 7, 1)
ON_LANTERN = "7,TP-1,Gannet Hi first run UK 9,2021-02-01,2021-03-04,,100,sold,UK 9,8,original"
LIKE_IT = "1;Ostrel Gannet Hi, Erstauflage og 85, UK 9;05.03.2021;{};zugeschlagen;EU 43;"


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as opened:
        yield opened


def _sales(ledger: Ledger) -> pl.DataFrame:
    return sales_of(ledger)


def test_links_carry_on_to_the_least_node() -> None:
    links = pl.DataFrame({"node": [5, 3, 3, 9, 8], "key": [1, 1, 2, 2, 7]})
    expected = pl.DataFrame({"node": [3, 5, 8, 9], "label": [3, 3, 8, 3]})
    assert_frame_equal(least_nodes(links).sort("node"), expected)


def test_the_same_lot_in_two_exports_is_one_sale_with_both_sources(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    row = "1;Gannet Hi UK 9;04.03.2021;600,00;zugeschlagen;43;"
    year = write_holm(tmp_path, row, name="holm_2021.csv")
    season = write_holm(tmp_path, row, "2;Plover Lo;05.03.2021;80;zugeschlagen;42;", name="holm_season.csv")
    ingest(ledger, market, [year, season])
    sources = ledger.connection.sql(
        "SELECT count(*) FROM record_sources GROUP BY record_id ORDER BY 1"
    ).fetchall()
    assert sources == [(1,), (2,)]


def test_what_one_source_knows_fills_what_the_other_does_not(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    bare = "7,,Gannet Hi,2021-02-01,2021-03-04,,100,sold,,,"
    full = "7,TP-1,Gannet Hi,2021-02-01,2021-03-04,120,100,sold,UK 9,8,original"
    ingest(
        ledger,
        market,
        [write_lantern(tmp_path, bare), write_lantern(tmp_path, full, name="lantern_full.csv")],
    )
    [sale] = _sales(ledger).to_dicts()
    assert (sale["stock_ref"], sale["grade"], sale["box"], sale["foot_mm"]) == ("TP-1", 8.0, "original", 271)
    assert sale["flags"] == []


def test_sources_that_state_different_attributes_are_flagged(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    other = ON_LANTERN.replace(",8,original", ",7,none")
    ingest(
        ledger,
        market,
        [write_lantern(tmp_path, ON_LANTERN), write_lantern(tmp_path, other, name="lantern_b.csv")],
    )
    [sale] = _sales(ledger).to_dicts()
    assert sale["flags"] == ["sources disagree on the pair"]
    assert not sale["held_out"]


def test_sources_that_state_different_prices_are_held_out(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    other = ON_LANTERN.replace(",100,", ",1000,")
    ingest(
        ledger,
        market,
        [write_lantern(tmp_path, ON_LANTERN), write_lantern(tmp_path, other, name="lantern_b.csv")],
    )
    [sale] = _sales(ledger).to_dicts()
    assert (sale["flags"], sale["held_out"]) == (["sources disagree on the sale"], True)


def test_one_stock_number_sold_on_one_day_is_one_sale_at_two_places(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    again = ON_LANTERN.replace("7,TP-1", "99,TP-1").replace("2021-02-01", "2021-01-15")
    ingest(
        ledger,
        market,
        [write_lantern(tmp_path, ON_LANTERN), write_lantern(tmp_path, again, name="lantern_b.csv")],
    )
    assert _sales(ledger).height == 1


def test_a_lot_offered_again_after_it_failed_is_one_history(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    rows = [
        "4;Gannet Hi;04.03.2021;;zurück;43;",
        "9;Gannet Hi;04.06.2021;;zurück;43;",
        "2;Gannet Hi;04.09.2021;80,00;zugeschlagen;43;",
    ]
    ingest(ledger, market, [write_holm(tmp_path, *rows)])
    assert _sales(ledger)["pair_key"].n_unique() == 1
    assert _sales(ledger)["pair_key"].null_count() == 0


def test_a_pair_like_one_that_was_sold_is_another_pair(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    rows = ["4;Gannet Hi;04.03.2021;90;zugeschlagen;43;", "9;Gannet Hi;04.06.2021;80;zugeschlagen;43;"]
    ingest(ledger, market, [write_holm(tmp_path, *rows)])
    assert _sales(ledger)["pair_key"].to_list() == [None, None]


def test_a_lot_that_comes_back_years_later_is_not_taken_for_the_same(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    rows = ["4;Gannet Hi;04.03.2019;;zurück;43;", "9;Gannet Hi;04.06.2021;80;zugeschlagen;43;"]
    ingest(ledger, market, [write_holm(tmp_path, *rows)])
    assert _sales(ledger)["pair_key"].to_list() == [None, None]


def test_a_stock_number_makes_two_sales_over_years_a_repeat_sale(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    later = "8,TP-1,Gannet Hi first run UK 9 resoled,2023-02-01,2023-03-04,,150,sold,UK 9,9,original"
    earlier = ON_LANTERN.replace("UK 9,2021", "UK 9 never restored,2021")
    ingest(ledger, market, [write_lantern(tmp_path, earlier, later)])
    [repeat] = ledger.read("marts/repeat_sales").to_dicts()
    assert (repeat["treatments_between"], repeat["grade_gain"]) == (["sole swap"], 1.0)


def test_what_was_done_between_two_sales_is_not_known_where_the_first_does_not_say(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    later = "8,TP-1,Gannet Hi first run UK 9 resoled,2023-02-01,2023-03-04,,150,sold,UK 9,9,original"
    ingest(ledger, market, [write_lantern(tmp_path, ON_LANTERN, later)])
    [repeat] = ledger.read("marts/repeat_sales").to_dicts()
    assert repeat["treatments_between"] is None


def test_two_sales_alike_in_all_but_the_place_are_listed_not_merged(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    _ingest_alike(ledger, market, tmp_path)
    assert _sales(ledger).height == 2
    assert near_matches(ledger)["why"].to_list() == [
        "sold within three days for nearly the same price, of the same silhouette and size"
    ]


@pytest.mark.parametrize(
    ("here", "why"),
    [
        ("EU 43,7.5", "their grades are half a step apart"),
        ("one size,8", "one size cannot be read"),
    ],
)
def test_sales_in_two_files_that_differ_in_one_reading_alone_are_listed_not_merged(
    ledger: Ledger, market: Market, tmp_path: Path, here: str, why: str
) -> None:
    first = write_lantern(tmp_path, ON_LANTERN.replace("UK 9,8", here).replace(" UK 9", ""))
    second = write_lantern(
        tmp_path,
        ON_LANTERN.replace("7,TP-1", "8,").replace("UK 9,8", "EU 43,8").replace(" UK 9", ""),
        name="lantern_b.csv",
    )
    dock = market.maps["lantern"].model_copy(update={"venue": "Umikaze Lots", "currency": "GBP"})
    ingest(ledger, market, [first])
    elsewhere = market.model_copy(update={"maps": {**market.maps, "lantern": dock}})
    ingest(ledger, elsewhere, [second])
    assert [found.split("; ")[1] for found in near_matches(ledger)["why"]] == [why]


def test_sales_of_one_file_half_a_grade_apart_are_two(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    here = ON_LANTERN.replace("7,TP-1", ",").replace("UK 9,8", "EU 43,{}").replace(" UK 9", "")
    ingest(ledger, market, [write_lantern(tmp_path, here.format("8"), here.format("7.5"))])
    assert near_matches(ledger).height == 0


def _ingest_alike(ledger: Ledger, market: Market, folder: Path) -> tuple[str, str]:
    """Ingest two sales that may be one; return their record ids."""
    lantern = write_lantern(folder, ON_LANTERN.replace("UK 9,8", "EU 43,8"))
    ingest(ledger, market, [lantern])
    paid = float(_sales(ledger)["price_paid"][0])
    holm = write_holm(folder, LIKE_IT.format(f"{paid / 1.3:.2f}".replace(".", ",")))
    ingest(ledger, market, [lantern, holm])
    [match] = near_matches(ledger).to_dicts()
    return match["left_id"], match["right_id"]


def test_a_ruling_that_two_are_one_merges_them_and_survives_another_ingest(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    left, right = _ingest_alike(ledger, market, tmp_path)
    rule(ledger, market, Decision("same sale", left, right), ruled_at=RULED_AT)
    ingest(
        ledger,
        market,
        [write_holm(tmp_path, "5;Plover Lo;05.05.2021;80;zugeschlagen;42;", name="holm_more.csv")],
    )
    assert _sales(ledger).height == 2
    assert near_matches(ledger).height == 0
    assert run_checks(ledger) == ()


def test_a_ruling_that_two_are_two_ends_their_listing(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    left, right = _ingest_alike(ledger, market, tmp_path)
    rule(ledger, market, Decision("different sales", left, right), ruled_at=RULED_AT)
    assert _sales(ledger).height == 2
    assert near_matches(ledger).height == 0


def test_a_ruling_that_two_sales_are_of_one_pair_gives_them_one_key(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    rows = ["4;Gannet Hi;04.03.2021;90;zugeschlagen;43;", "9;Plover Lo;04.06.2021;80;zugeschlagen;43;"]
    ingest(ledger, market, [write_holm(tmp_path, *rows)])
    left, right = _sales(ledger)["record_id"].to_list()
    rule(ledger, market, Decision("same pair", left, right), ruled_at=RULED_AT)
    assert _sales(ledger)["pair_key"].null_count() == 0
    assert _sales(ledger)["pair_key"].n_unique() == 1


def test_the_offers_of_a_pair_are_those_with_its_key(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    numbered = ON_LANTERN.replace("2021-03-04,,100,sold", "2021-03-04,120,,unsold")
    again = numbered.replace("7,TP-1", "8,").replace("2021-02-01,2021-03-04", "2021-04-01,2021-05-04")
    another = "9,TP-1,Plover Lo,2023-02-01,2023-03-04,,150,sold,UK 9,9,"
    stamped = [
        f"{lot};Gannet Hi Buoy Red, stamped 03/85-06/85 KX2;04.03.{year};90;zugeschlagen;43;{notes}"
        for lot, year, notes in (("1", 2021, "Seen"), ("2", 2023, "seen"), ("3", 2024, "else"))
    ]
    failed = ["4;Plover Lo;04.03.2021;;zurück;42;", "5;Plover Lo;04.06.2021;80;zugeschlagen;42;"]
    apart = ["16;Gannet Hi;04.03.2022;70;zugeschlagen;41;", "17;Plover Lo;04.05.2022;60;zugeschlagen;40;"]
    lantern = write_lantern(tmp_path, numbered, again, another)
    ingest(ledger, market, [lantern, write_holm(tmp_path, *stamped, *failed, *apart)])
    ruled = _sales(ledger).filter(pl.col("lot_ref").is_in(["16", "17"]))["record_id"].to_list()
    rule(ledger, market, Decision("same pair", *ruled), ruled_at=RULED_AT)
    sizes = []
    for record_id, pair_key in _sales(ledger).select("record_id", "pair_key").rows():
        offers = ledger.read("marts/offers_of_pair", record_id=record_id, pair_key=pair_key)
        expected = _sales(ledger).filter(pair_key=pl.lit(pair_key, pl.String))["record_id"]
        assert sorted(offers["record_id"]) == sorted(expected)
        sizes.append(offers.height)
    assert sorted(sizes) == [1, 2, 2, 2, 2, 2, 2, 3, 3, 3]


def test_a_ruling_taken_back_leaves_the_ledger_as_it_was(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    left, right = _ingest_alike(ledger, market, tmp_path)
    before = _sales(ledger)
    rule(ledger, market, Decision("same sale", left, right), ruled_at=RULED_AT)
    take_back(ledger, kept_decisions(ledger)["ruling_id"].item())
    assert_frame_equal(_sales(ledger), before)


def _ingest_conflict(ledger: Ledger, market: Market, folder: Path) -> str:
    row = "1;Gannet Hi first run, 03/95-06/95 KX2;04.03.2021;90;zugeschlagen;43;"
    ingest(ledger, market, [write_holm(folder, row)])
    [held] = held_sales(ledger).to_dicts()
    return str(held["record_id"])


def test_an_era_in_conflict_is_held_out_until_the_owner_rules(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    record_id = _ingest_conflict(ledger, market, tmp_path)
    rule(ledger, market, Decision("era", record_id, value="reissue"), ruled_at=RULED_AT)
    [sale] = _sales(ledger).to_dicts()
    assert (sale["era"], sale["era_origin"], sale["flags"], sale["held_out"]) == (
        "reissue",
        "stated",
        [],
        False,
    )


def test_a_sale_that_is_accepted_keeps_its_flag(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    rule(ledger, market, Decision("accept", _ingest_conflict(ledger, market, tmp_path)), ruled_at=RULED_AT)
    [sale] = _sales(ledger).to_dicts()
    assert (sale["flags"], sale["held_out"]) == (["era in conflict"], False)


def _rule(ledger: Ledger, market: Market, *rulings_: Decision) -> list[str]:
    return [rule(ledger, market, ruling, ruled_at=RULED_AT) for ruling in rulings_]


def test_a_ruling_that_is_repeated_is_said_to_be_so_already(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    record = _ingest_conflict(ledger, market, tmp_path)
    assert _rule(ledger, market, Decision("hold", record), Decision("hold", record)) == ["new", "already"]
    assert kept_decisions(ledger).height == 1


def test_a_ruling_on_two_is_the_same_in_either_order(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    left, right = _ingest_alike(ledger, market, tmp_path)
    one, other = Decision("different sales", left, right), Decision("different sales", right, left)
    assert _rule(ledger, market, one, other) == ["new", "already"]


def test_a_new_note_on_a_ruling_is_kept_beside_the_notes_before(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    record = _ingest_conflict(ledger, market, tmp_path)
    said = _rule(
        ledger, market, *(Decision("hold", record, note=note) for note in ("", "asked him", "no label"))
    )
    assert said == ["new", "already, noted", "already, noted"]
    assert kept_decisions(ledger)["note"].to_list() == ["asked him; no label"]


def test_a_note_that_is_there_is_not_added_again(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    record = _ingest_conflict(ledger, market, tmp_path)
    said = _rule(
        ledger, market, *(Decision("hold", record, note=note) for note in ("asked", "seen", "asked"))
    )
    assert said == ["new", "already, noted", "already"]
    assert kept_decisions(ledger)["note"].to_list() == ["asked; seen"]


def test_an_era_is_ruled_in_any_case_and_kept_by_its_name(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    record = _ingest_conflict(ledger, market, tmp_path)
    assert _rule(ledger, market, Decision("era", record, value="Réissue")) == ["new"]
    assert kept_decisions(ledger)["value"].to_list() == ["reissue"]


@pytest.mark.parametrize(
    ("first", "second", "era", "other"),
    [("hold", "accept", None, None), ("accept", "hold", None, None), ("era", "era", "first", "reissue")],
)
def test_a_ruling_that_contradicts_an_earlier_one_on_a_sale_is_refused_with_the_way_to_change_it(
    ledger: Ledger,
    market: Market,
    tmp_path: Path,
    first: DecisionKind,
    second: DecisionKind,
    era: str | None,
    other: str | None,
) -> None:
    record = _ingest_conflict(ledger, market, tmp_path)
    _rule(ledger, market, Decision(first, record, value=era, note="seen"))
    said = f"{first} {era}" if era else first
    back = f"{first} {record} --era {era}" if era else f"{first} {record}"
    told = (
        f"^'{second}' contradicts your decision '{said}' of 2026-07-01, with the note 'seen'; nothing was changed\n"
        f"take that one back first: `pairband rule {back} --withdraw`.$"
    )
    with pytest.raises(DecisionError, match=told):
        _rule(ledger, market, Decision(second, record, value=other))
    assert kept_decisions(ledger).height == 1


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("same sale", "different sales"),
        ("different sales", "same sale"),
        ("same sale", "same pair"),
        ("same pair", "same sale"),
    ],
)
def test_two_sales_are_not_ruled_to_be_one_and_two(
    ledger: Ledger, market: Market, tmp_path: Path, first: DecisionKind, second: DecisionKind
) -> None:
    left, right = _ingest_alike(ledger, market, tmp_path)
    _rule(ledger, market, Decision(first, left, right))
    told = f"'{second}' contradicts your decision '{first}' .*\n.*`pairband rule \"{first}\" {left} {right} --withdraw`"
    with pytest.raises(DecisionError, match=told):
        _rule(ledger, market, Decision(second, right, left))


def test_two_sales_that_are_different_may_be_of_one_pair(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    left, right = _ingest_alike(ledger, market, tmp_path)
    both = (Decision("different sales", left, right), Decision("same pair", left, right))
    assert _rule(ledger, market, *both) == ["new", "new"]


def test_a_third_sale_is_not_ruled_to_be_one_of_which_the_owner_said_that_it_is_another(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    rows = [f"{n};Gannet Hi;0{n}.03.2021;9{n};zugeschlagen;43;" for n in range(1, 4)]
    ingest(ledger, market, [write_holm(tmp_path, *rows)])
    one, two, three = _sales(ledger)["record_id"].to_list()
    _rule(ledger, market, Decision("different sales", one, two), Decision("same sale", two, three))
    with pytest.raises(DecisionError, match="'same sale' contradicts your decision 'different sales'"):
        _rule(ledger, market, Decision("same sale", one, three))


def test_a_ruling_that_was_taken_back_makes_room_for_its_opposite(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    record = _ingest_conflict(ledger, market, tmp_path)
    _rule(ledger, market, Decision("era", record, value="first"))
    withdraw(ledger, Decision("era", record, value="FIRST"))
    assert _rule(ledger, market, Decision("era", record, value="reissue")) == ["new"]


def test_what_was_not_ruled_cannot_be_taken_back(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    record = _ingest_conflict(ledger, market, tmp_path)
    with pytest.raises(DecisionError, match=f"there is no decision 'hold' on {record}"):
        withdraw(ledger, Decision("hold", record))


def test_a_record_is_not_ruled_to_be_one_with_itself(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    record = _ingest_conflict(ledger, market, tmp_path)
    with pytest.raises(DecisionError, match=f"'same sale' is on two records, and both are {record}"):
        _rule(ledger, market, Decision("same sale", record, record))


def test_a_ruling_on_an_era_that_is_not_known_is_refused(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    record_id = _ingest_conflict(ledger, market, tmp_path)
    with pytest.raises(UnknownName, match="no era is called 'third'"):
        rule(ledger, market, Decision("era", record_id, value="third"), ruled_at=RULED_AT)


def test_a_ruling_on_a_record_that_is_not_there_is_refused(ledger: Ledger, market: Market) -> None:
    with pytest.raises(UnknownName, match="no record is called '0000000000000000'"):
        rule(ledger, market, Decision("accept", "0000000000000000"), ruled_at=RULED_AT)


def test_a_price_flag_is_shown_and_does_not_hold_out(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    ingest(ledger, market, [write_lantern(tmp_path, ON_LANTERN)])
    flag = "price looks ten times too high"
    flag_prices(ledger, pl.DataFrame({"record_id": _sales(ledger)["record_id"], "flag": [flag]}))
    [sale] = _sales(ledger).to_dicts()
    assert (sale["flags"], sale["held_out"]) == ([flag], False)


@pytest.fixture
def flagged_twice(ledger: Ledger, market: Market, tmp_path: Path) -> Ledger:
    """Return a ledger of two exports that share a sale, whose fits flagged three of four sales, one of them twice."""
    shared = "1;Gannet Hi UK 9;04.03.2021;600,00;zugeschlagen;43;"
    others = [f"{lot};Plover Lo;0{lot}.04.2021;8{lot};zugeschlagen;42;" for lot in (2, 3, 4)]
    year = write_holm(tmp_path, shared, others[0], name="holm_2021.csv")
    ingest(ledger, market, [year, write_holm(tmp_path, shared, *others[1:], name="holm_season.csv")])
    ids = dict(_sales(ledger).select("lot_ref", "record_id").iter_rows())
    high, low = "price looks ten times too high", "price looks ten times too low"
    for flags in ({"1": high, "2": high}, {"1": low, "3": high}):
        flag_prices(
            ledger,
            pl.DataFrame({"record_id": [ids[lot] for lot in flags], "flag": list(flags.values())}),
        )
    return ledger


def test_the_price_flags_of_the_latest_fit_alone_count(flagged_twice: Ledger) -> None:
    flags = {
        lot: found for lot, found in _sales(flagged_twice).select("lot_ref", "flags").iter_rows() if found
    }
    assert flags == {"1": ["price looks ten times too low"], "3": ["price looks ten times too high"]}


def test_sales_that_fits_flagged_are_as_if_all_were_derived_again(flagged_twice: Ledger) -> None:
    before = _sales(flagged_twice).sort("record_id")
    with flagged_twice.transaction():
        derive_sales(flagged_twice)
    assert_frame_equal(_sales(flagged_twice).sort("record_id"), before)


def test_a_price_flag_that_is_not_known_is_refused(ledger: Ledger) -> None:
    with pytest.raises(UnknownName, match="no flag is called 'costly'"):
        flag_prices(ledger, pl.DataFrame({"record_id": ["0"], "flag": ["costly"]}))
