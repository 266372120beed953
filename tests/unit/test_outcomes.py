"""What became of kept values: judged by what was sold later, and by nothing that their fit knew."""

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from shutil import copy

import polars as pl
import pytest

from pipeline.answers.appraisal.run import appraise_descriptions
from pipeline.answers.consignment.run import consign_descriptions
from pipeline.answers.lots.run import value_lot_file
from pipeline.answers.outcomes.answer import OPEN, SOLD, UNSOLD, Outcomes, lots_within_limit
from pipeline.answers.outcomes.keep import (
    SCHEMA,
    keep_appraisals,
    keep_consignments,
    keep_lots,
    keep_stock,
    keep_works,
)
from pipeline.answers.outcomes.run import judge_ledger
from pipeline.answers.outcomes.tables import NOTHING, outcomes_sheet, values_table
from pipeline.answers.restoration.run import restore_stock
from pipeline.answers.stock.run import value_stock
from pipeline.ledger import open_ledger
from pipeline.market.subject import Description
from pipeline.shipped import shipped
from pipeline.workspace import Workspace
from tests.demo_ledger import demo_ledger
from tests.kept import keep_fit
from tests.restorations import demo_market_fitted

ON = date(2026, 10, 1)
NOW = datetime(2026, 10, 1, 9, tzinfo=UTC)
MARKET = shipped("sample_data") / "market.toml"
PAIR = Description(silhouette="Gannet Hi", era="first", size="UK 9", grade="8", label="TP-9")


@pytest.fixture(scope="module")
def fitted_ledger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the demo's ledger with a fit in it."""
    path = tmp_path_factory.mktemp("outcomes") / "pairband.duckdb"
    copy(demo_ledger()[0], path)
    keep_fit(path, demo_market_fitted())
    return path


@pytest.fixture
def workspace(fitted_ledger: Path, tmp_path: Path) -> Workspace:
    path = tmp_path / "pairband.duckdb"
    copy(fitted_ledger, path)
    return Workspace(path, MARKET)


def one_of(workspace: Workspace, condition: str) -> dict[str, object]:
    """Return the first record of the ledger that is so."""
    with open_ledger(workspace.ledger_path, read_only=True) as ledger:
        found = pl.DataFrame(
            ledger.connection.sql(
                f"SELECT * FROM sales WHERE NOT held_out AND {condition} ORDER BY record_id LIMIT 1"
            )
        )
    return found.row(0, named=True)


def keep(workspace: Workspace, *said: dict[str, object]) -> None:
    """Keep values as they stand here."""
    plain = {
        "fit_id": "demo",
        "currency": "EUR",
        "pair": "a pair",
        "median": 100.0,
        "low": 50.0,
        "high": 200.0,
    }
    frame = pl.DataFrame([{**plain, **one} for one in said], schema=SCHEMA)
    with open_ledger(workspace.ledger_path) as ledger:
        ledger.write("outcomes/keep_values", frame, kept_at=NOW.replace(tzinfo=None))


def judged(workspace: Workspace, as_of: date = ON) -> Outcomes:
    with workspace:
        return judge_ledger(workspace, as_of=as_of)


def by_number(sale: dict[str, object], days_before: int, **more: object) -> dict[str, object]:
    day = sale["sold_on"] - timedelta(days_before)  # type: ignore[operator]
    return {
        "question": "appraisal",
        "said_on": day,
        "known_until": day,
        "stock_ref": sale["stock_ref"],
        **more,
    }


SOLD_BY_NUMBER = "status = 'sold' AND stock_ref IS NOT NULL AND price_basis = 'hammer'"


def test_a_value_is_judged_by_the_sale_of_that_stock_number(workspace: Workspace) -> None:
    sale = one_of(workspace, SOLD_BY_NUMBER)
    keep(workspace, by_number(sale, 10))

    value = judged(workspace).values.row(0, named=True)
    assert (value["outcome"], value["ended_on"], value["days"]) == (SOLD, sale["sold_on"], 10)
    assert value["ratio"] == pytest.approx(float(sale["price_paid"]) / 100)  # type: ignore[arg-type]


@pytest.mark.parametrize("unknown", ["said_on", "known_until"])
def test_a_sale_that_came_before_the_value_or_that_its_fit_knew_judges_nothing(
    unknown: str, workspace: Workspace
) -> None:
    sale = one_of(workspace, SOLD_BY_NUMBER)
    keep(workspace, by_number(sale, 10, **{unknown: sale["sold_on"]}))

    assert judged(workspace).values["outcome"].to_list() == [OPEN]


def test_a_sale_after_the_day_asked_for_judges_nothing(workspace: Workspace) -> None:
    sale = one_of(workspace, SOLD_BY_NUMBER)
    keep(workspace, by_number(sale, 10))

    earlier = sale["sold_on"] - timedelta(1)  # type: ignore[operator]
    assert judged(workspace, earlier).values["outcome"].to_list() == [OPEN]


def test_a_maximum_bid_is_held_against_the_hammer_price_of_that_lot(workspace: Workspace) -> None:
    sale = one_of(
        workspace, "status = 'sold' AND price_basis = 'hammer' AND lot_ref IS NOT NULL AND price_native > 9"
    )
    day = sale["sold_on"] - timedelta(3)  # type: ignore[operator]
    place = {name: sale[name] for name in ("venue", "sale_ref", "lot_ref")}
    hammer = float(sale["price_native"])  # type: ignore[arg-type]
    bids = [
        {
            "question": "lot",
            "said_on": day,
            "known_until": day,
            "price_kind": "maximum bid",
            "price": price,
            "price_currency": sale["currency"],
            **place,
        }
        for price in (hammer, hammer - 1)
    ]
    keep(workspace, *bids)

    found = judged(workspace)
    assert sorted(found.values["share"]) == pytest.approx([1, hammer / (hammer - 1)])
    assert lots_within_limit(found) == (1, 2)


def test_an_asking_price_is_judged_at_its_own_venue_only(workspace: Workspace) -> None:
    sale = one_of(workspace, SOLD_BY_NUMBER)
    asked = {"question": "consignment", "price_kind": "ask", "price": 100.0, "price_currency": "EUR"}
    keep(
        workspace,
        by_number(sale, 10, **asked, venue="nowhere"),
        by_number(sale, 10, **asked, venue=sale["venue"]),
    )

    outcomes = dict(judged(workspace).values.select("venue", "outcome").iter_rows())
    assert outcomes == {"nowhere": OPEN, sale["venue"]: SOLD}


def test_a_pair_that_was_offered_and_not_sold_counts_as_not_sold(workspace: Workspace) -> None:
    offer = one_of(
        workspace,
        "status = 'unsold' AND lot_ref IS NOT NULL AND closed_on IS NOT NULL AND stock_ref IS NULL",
    )
    day = offer["closed_on"] - timedelta(1)  # type: ignore[operator]
    place = {name: offer[name] for name in ("venue", "sale_ref", "lot_ref")}
    keep(workspace, {"question": "lot", "said_on": day, "known_until": day, **place})

    assert judged(workspace).values["outcome"].to_list() == [UNSOLD]


def test_a_band_counts_once_however_many_prices_were_kept_with_it(workspace: Workspace) -> None:
    sale = one_of(workspace, SOLD_BY_NUMBER)
    kinds = [
        {"price_kind": kind, "price": 1.0, "price_currency": "EUR"} for kind in ("low estimate", "reserve")
    ]
    keep(workspace, *(by_number(sale, 10, **kind) for kind in kinds))

    assert judged(workspace).bands.select("kept", "sold").row(0) == (1, 1)


def test_what_is_kept_of_a_pair_is_what_was_said_of_it(workspace: Workspace) -> None:
    [said] = appraise_descriptions(workspace, (PAIR,), as_of=ON)
    assert keep_appraisals(workspace, (said,), kept_at=NOW) == 1

    kept = judged(workspace).values.row(0, named=True)
    assert (kept["median"], kept["low"], kept["high"]) == (said.median, said.bands[1].low, said.bands[1].high)
    assert (kept["stock_ref"], kept["outcome"]) == ("TP-9", OPEN)


def test_the_same_value_of_the_same_day_is_kept_once(workspace: Workspace) -> None:
    said = appraise_descriptions(workspace, (PAIR,), as_of=ON)
    keep_appraisals(workspace, said, kept_at=NOW)

    assert keep_appraisals(workspace, said, kept_at=NOW + timedelta(hours=1)) == 0


def test_every_price_to_set_at_a_venue_that_qualifies_is_kept(workspace: Workspace) -> None:
    said = consign_descriptions(workspace, (PAIR,), as_of=ON)
    keep_consignments(workspace, said, kept_at=NOW)

    prices = {
        (offer.venue, one.name, float(one.amount))
        for offer in said[0].recommended
        for one in offer.suggestions
    }
    assert set(judged(workspace).values.select("venue", "price_kind", "price").iter_rows()) == prices


def test_every_open_lot_is_kept_with_its_maximum_bid(workspace: Workspace) -> None:
    exports = shipped("sample_data") / "exports"
    listed = value_lot_file(workspace, Path(str(exports / "upcoming_lots.csv")), as_of=ON)
    open_lots = listed.lots.filter(pl.col("verdict") != "closed").drop_nulls("walk_away_bid")

    assert keep_lots(workspace, listed, kept_at=NOW) == open_lots.height
    assert sorted(judged(workspace).values["price"]) == sorted(open_lots["walk_away_bid"])


def test_nothing_kept_says_how_to_keep(workspace: Workspace) -> None:
    assert outcomes_sheet(judged(workspace)).sentences == (NOTHING,)


def test_the_sheet_counts_what_the_bands_held(workspace: Workspace) -> None:
    sale = one_of(workspace, SOLD_BY_NUMBER)
    paid = float(sale["price_paid"])  # type: ignore[arg-type]
    keep(
        workspace,
        by_number(sale, 10, low=paid - 1, high=paid + 1, median=paid),
        by_number(sale, 11, low=paid + 1, high=paid + 2, median=paid),
    )

    found = judged(workspace)
    assert (
        outcomes_sheet(found).sentences[0]
        == "2 values kept, 2 sold since: the 80 % band held 1 of 2 (50\u00a0%)."
    )
    assert sorted(values_table(found).texts_of("held")) == ["no", "yes"]


def kept_work(sale: dict[str, object], **more: object) -> dict[str, object]:
    """Return a work on a pair that was decided ten days before its sale."""
    work = {"value_before": 60.0, "work_cost": 10.0, "expected_gain": 30.0, "treatments": ["deep clean"]}
    return by_number(sale, 10, question="restoration", **work, **more)


def test_a_work_has_made_the_price_less_the_value_before_and_its_cost(workspace: Workspace) -> None:
    sale = one_of(workspace, f"{SOLD_BY_NUMBER} AND list_contains(treatments, 'deep clean')")
    keep(workspace, kept_work(sale))

    work = judged(workspace).works.row(0, named=True)
    assert (work["done"], work["made"]) == (True, pytest.approx(float(sale["price_paid"]) - 70))  # type: ignore[arg-type]


def test_a_work_that_the_sale_does_not_name_has_made_nothing(workspace: Workspace) -> None:
    sale = one_of(workspace, f"{SOLD_BY_NUMBER} AND treatments IS NOT NULL AND len(treatments) = 0")
    keep(workspace, kept_work(sale))

    work = judged(workspace).works.row(0, named=True)
    assert (work["outcome"], work["done"], work["made"]) == (SOLD, False, None)


@pytest.mark.parametrize("unknown", ["said_on", "known_until"])
def test_a_sale_that_the_fit_of_a_work_knew_makes_nothing_of_it(unknown: str, workspace: Workspace) -> None:
    sale = one_of(workspace, f"{SOLD_BY_NUMBER} AND list_contains(treatments, 'deep clean')")
    keep(workspace, kept_work(sale) | {unknown: sale["sold_on"]})

    assert judged(workspace).works["made"].to_list() == [None]


def test_the_works_of_the_plan_are_kept_with_the_band_of_one_sale(workspace: Workspace) -> None:
    stock = Path(str(shipped("sample_data") / "exports" / "stock.csv"))
    report = restore_stock(workspace, stock, as_of=ON)
    assert report.plan is not None
    assert keep_works(workspace, report, kept_at=NOW) == len(report.plan.chosen)

    kept = judged(workspace)
    assert sorted(kept.works["expected_gain"]) == pytest.approx(
        sorted(report.works[list(report.plan.chosen)]["gain"])
    )
    assert sorted(kept.values["low"]) == pytest.approx(sorted(low for low, _ in report.plan.at_sale))


def test_a_pair_of_the_stock_counts_once_by_its_last_value_before_the_sale(workspace: Workspace) -> None:
    sale = one_of(workspace, SOLD_BY_NUMBER)
    paid = float(sale["price_paid"])  # type: ignore[arg-type]
    wrong, right = ({"low": paid + far, "high": paid + far + 1, "median": paid} for far in (1, -0.5))
    keep(workspace, *(by_number(sale, days, question="stock", **wrong) for days in (30, 20)))
    keep(workspace, by_number(sale, 10, question="stock", **right))

    found = judged(workspace)
    assert (found.values.height, found.bands.select("kept", "held").row(0)) == (3, (1, 1))


def test_the_value_of_every_pair_of_the_stock_is_kept(workspace: Workspace) -> None:
    listed = Path(str(shipped("sample_data") / "exports" / "stock.csv"))
    stock = value_stock(workspace, listed, as_of=ON, by="era")
    assert keep_stock(workspace, stock, kept_at=NOW) == stock.pairs.height

    assert sorted(judged(workspace).values["median"]) == pytest.approx(sorted(stock.pairs["median"]))


def test_the_rule_is_judged_by_the_next_sale_of_a_pair_in_the_ledger(workspace: Workspace) -> None:
    lot = one_of(
        workspace,
        "status = 'sold' AND price_basis = 'hammer' AND lot_ref IS NOT NULL AND price_native > 9 AND venue = "
        "'Holm Sound Auctions' AND record_id IN (SELECT first_id FROM (SELECT lag(record_id) OVER turn AS first_id, "
        "sold_on, lag(sold_on) OVER turn AS first_on FROM sales WHERE status = 'sold' AND NOT held_out AND pair_key IS "
        "NOT NULL WINDOW turn AS (PARTITION BY pair_key ORDER BY sold_on, record_id)) WHERE first_on < sold_on)",
    )
    day = lot["sold_on"] - timedelta(3)  # type: ignore[operator]
    place = {name: lot[name] for name in ("venue", "sale_ref", "lot_ref")}
    bid = {"price_kind": "maximum bid", "price": 1e6, "price_currency": "EUR", "expected_net": 100.0}
    keep(workspace, {"question": "lot", "said_on": day, "known_until": day, **bid, **place})

    rule = judged(workspace).rule
    assert rule is not None
    [bought] = rule.bought.iter_rows(named=True)
    again = one_of(workspace, f"record_id = '{bought['sale_id']}'")
    assert (bought["kind"], again["pair_key"], again["sold_on"] > lot["sold_on"]) == (  # type: ignore[operator]
        "earned",
        lot["pair_key"],
        True,
    )


def stock_list(folder: Path, *pairs: tuple[object, object]) -> Path:
    """Write a stock list of pairs (number, day of buying), each at a cost of 10 and with work for 3, and return it."""
    exports = shipped("sample_data") / "exports"
    like = pl.read_csv(Path(str(exports / "stock.csv")), infer_schema=False).head(len(pairs))
    numbers, days = zip(*pairs, strict=True)
    changed = like.with_columns(
        stock=pl.Series(list(map(str, numbers))),
        bought=pl.Series(list(map(str, days))),
        cost=pl.lit("10"),
        work=pl.lit("3"),
    )
    changed.write_csv(folder / "stock.csv")
    return folder / "stock.csv"


def test_profits_are_those_of_the_listed_pairs_that_the_ledger_says_were_sold(
    workspace: Workspace, tmp_path: Path
) -> None:
    sale = one_of(workspace, f"{SOLD_BY_NUMBER} AND currency = 'EUR'")
    bought = sale["sold_on"] - timedelta(30)  # type: ignore[operator]
    stock = stock_list(tmp_path, (sale["stock_ref"], bought), ("NEW", bought))
    with workspace:
        profits = judge_ledger(workspace, as_of=ON, stock=stock, by="venue").profits

    assert profits is not None
    [pair] = profits.pairs.iter_rows(named=True)
    assert (pair["record_id"], pair["days_held"]) == (sale["record_id"], 30)
    assert float(pair["profit"]) == pytest.approx(float(sale["net_native"]) - 13)  # type: ignore[arg-type]


def test_a_sale_after_the_day_asked_for_makes_no_profit(workspace: Workspace, tmp_path: Path) -> None:
    sale = one_of(workspace, f"{SOLD_BY_NUMBER} AND currency = 'EUR'")
    bought, before = (sale["sold_on"] - timedelta(days) for days in (30, 1))  # type: ignore[operator]
    stock = stock_list(tmp_path, (sale["stock_ref"], bought))
    with workspace:
        profits = judge_ledger(workspace, as_of=before, stock=stock).profits

    assert profits is not None
    assert profits.pairs.height == 0


def test_at_a_venue_that_takes_nothing_from_buyers_an_ask_is_held_against_what_was_paid(
    workspace: Workspace,
) -> None:
    sale = one_of(workspace, "status = 'sold' AND stock_ref IS NOT NULL AND venue = 'Tidewrack Counter'")
    asked = float(sale["price_native"]) / 2  # type: ignore[arg-type]
    keep(workspace, by_number(sale, 10, price_kind="ask", price=asked, price_currency="EUR"))

    assert judged(workspace).values["share"].to_list() == [pytest.approx(2)]
