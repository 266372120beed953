"""What changed since an earlier day: each cause moves its own part alone, and the parts add up to the change."""

import math
import shutil
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime
from itertools import product
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from pipeline.answers.appraisal.run import appraise_file, read_pairs
from pipeline.answers.changed.answer import (
    MARKET,
    MARKET_FILE,
    NEW_SALES,
    PAIR,
    PARTS,
    PUT_RIGHT,
    Changed,
    together,
)
from pipeline.answers.changed.run import OnProgress, explain_changes
from pipeline.answers.changed.tables import (
    changed_figures,
    changed_sheet,
    market_words,
    parts_table,
    state_changed,
    whole_units,
)
from pipeline.answers.corrections.run import add_sale, correct_record, remove_records, undo_decision
from pipeline.answers.fit.run import fit_ledger
from pipeline.answers.ingest.run import ingest_exports
from pipeline.answers.outcomes.keep import keep_appraisals
from pipeline.errors import FitError
from pipeline.hedonic.frame import FrameSource
from pipeline.hedonic.predict import log_prices
from pipeline.ledger import open_ledger
from pipeline.market.fit import fit_prices
from pipeline.market.model import pair_factors
from pipeline.market.subject import Description, pairs_of_records, understand
from pipeline.shipped import shipped
from pipeline.workspace import Workspace

THEN, NOW = datetime(2019, 6, 30, tzinfo=UTC), datetime(2019, 12, 31, tzinfo=UTC)
SAME_MONTH = THEN.date()
HEAD = (
    "Auktion;Los;Ihre Nr.;Einlieferer;Bezeichnung;Datum;Schätzpreis ab;Schätzpreis bis;Zuschlag;Ergebnis;Größe;"
    "Zustand;Stempel;Bemerkung\n"
)
MODELS = (("Gannet Hi", 300), ("Dunlin", 150), ("Plover Lo", 200))
FIRST, LATER = range(18), range(18, 24)
"""The months of the sales from January 2018 on: those that the earlier fit knew, and those that came in after."""

STOCK = """stock,bought,cost,title,silhouette,colourway,era,size,grade,box
A1,2019-01-05,75.18,Dunlin,Dunlin,Moss Rope,second,UK 10,5.5,none
A2,2019-02-22,172.70,Gannet Hi,Gannet Hi,Buoy Red,first,UK 9,7,original
A3,2019-03-27,151.85,Plover Lo,Plover Lo,Kelp,second,UK 8.5,8,none
"""
GRADED = STOCK.replace("UK 10,5.5,none", "UK 10,7.5,none")
COLUMNS = """[maps.stock.columns]
stock_ref = "stock"
offered_on = "bought"
price_native = "cost"
title = "title"
silhouette = "silhouette"
colourway = "colourway"
era = "era"
size_label = "size"
grade = "grade"
box = "box"
"""


def _lots(months: range, level: Callable[[int], float], each: int = 2) -> str:
    """Return an auction house's export: so many pairs sold each month, at prices that follow the market's level."""
    lots = []
    for month, number in product(months, range(each)):
        place = each * month + number
        (model, base), grade = MODELS[place % 3], 5 + place * 5 % 4
        price = base * (0.6 + grade / 20) * level(month) * (1 + 0.02 * (place * 7 % 5 - 2))
        year, of_year = divmod(month, 12)
        lots.append(
            f"H{month:02};{number + 1};{'S1' if place == 5 else ''};;{model};{5 + number:02}.{of_year + 1:02}."
            f"{2018 + year};;;{price:.0f};zugeschlagen;43;{grade}/10;;\n"
        )
    return HEAD + "".join(lots)


def _wave(month: int) -> float:
    return math.exp(0.3 * math.sin(month / 3))


@pytest.fixture(scope="module")
def then(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with the sales of an auction house up to June 2019, a fit to them, and a stock list."""
    folder = tmp_path_factory.mktemp("then")
    scene = shipped("sample_data")
    before, rest = (scene / "market.toml").read_text(encoding="utf-8").split("[maps.stock.columns]\n")
    after = rest.split("\n\n", 1)[1] if "\n\n" in rest else ""
    (folder / "market.toml").write_text(f"{before}{COLUMNS}\n{after}", encoding="utf-8")
    (folder / "holm_early.csv").write_text(_lots(FIRST, _wave), encoding="cp1252")
    (folder / "holm_late.csv").write_text(_lots(LATER, _wave), encoding="cp1252")
    (folder / "stock.csv").write_text(STOCK, encoding="utf-8")
    _read(folder, "holm_early.csv", at=THEN)
    _fit(folder, at=THEN)
    return folder


@pytest.fixture
def folder(then: Path, tmp_path: Path) -> Path:
    """Return a copy of that folder, to be changed."""
    return Path(shutil.copytree(then, tmp_path / "shop"))


@pytest.fixture(scope="module")
def later(then: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder once the sales of the second half of 2019 came in, one of before was corrected, and a fit."""
    folder = Path(shutil.copytree(then, tmp_path_factory.mktemp("later") / "shop"))
    _correct(folder, _sold(folder), "price=40")
    _read(folder, "holm_late.csv")
    _fit(folder)
    return folder


def _read(folder: Path, *names: str, at: datetime = NOW) -> None:
    files = [folder / name for name in names]
    ingest_exports(folder / "pairband.duckdb", folder / "market.toml", files, map_name=None, loaded_at=at)


def _fit(folder: Path, *, at: datetime = NOW) -> None:
    fit_ledger(folder / "pairband.duckdb", folder / "market.toml", fitted_at=at)


def _correct(folder: Path, record: str, *words: str) -> None:
    correct_record(
        folder / "pairband.duckdb", folder / "market.toml", record, words, reason="typo", decided_at=NOW
    )


def _sold(folder: Path, place: int = 0) -> str:
    """Return the id of a sale of a Gannet Hi that the fit takes."""
    with Workspace.open(folder) as workspace:
        return str(workspace.sales_of("Gannet Hi").sort("record_id")["record_id"][place])


def keep_list(folder: Path, text: str, day: date) -> None:
    """Read a stock list into the ledger as that of a day."""
    (folder / "stock.csv").write_text(text, encoding="utf-8")
    ingest_exports(
        folder / "pairband.duckdb",
        folder / "market.toml",
        [folder / "stock.csv"],
        map_name=None,
        loaded_at=NOW,
        listed_on=day,
    )


def _explain(
    folder: Path,
    since: date | None = SAME_MONTH,
    as_of: date = date(2019, 6, 30),
    earlier: str | None = None,
    on_progress: OnProgress | None = None,
) -> Changed:
    earlier_list = None
    if earlier is not None:
        earlier_list = folder / "stock_then.csv"
        earlier_list.write_text(earlier, encoding="utf-8")
    with Workspace.open(folder) as workspace:
        return explain_changes(
            workspace,
            folder / "stock.csv",
            since=since,
            earlier_list=earlier_list,
            as_of=as_of,
            on_progress=on_progress,
        )


def _moved(changed: Changed) -> set[str]:
    """Return the parts that moved any value by a cent."""
    return {part for part in PARTS if changed.pairs[part].abs().max() > 0}  # type: ignore[operator]


def test_on_the_same_day_by_the_same_fit_every_part_is_exactly_zero(folder: Path) -> None:
    changed = _explain(folder)

    assert (_moved(changed), changed.pairs["change"].to_list()) == (set(), [0.0, 0.0, 0.0])
    assert state_changed(changed) == (
        "Nothing changed the values of these 3 pairs by as much as one unit of money.",
    )


def test_a_later_day_alone_is_all_market(folder: Path) -> None:
    changed = _explain(folder, since=date(2018, 6, 15))

    assert _moved(changed) == {MARKET}
    assert changed.pairs[MARKET].to_list() == changed.pairs["change"].to_list()


def test_a_grade_that_changed_alone_is_all_of_the_pair(folder: Path) -> None:
    (folder / "stock.csv").write_text(GRADED, encoding="utf-8")
    changed = _explain(folder, earlier=STOCK)

    assert _moved(changed) == {PAIR}
    assert changed.pairs["differs"].to_list() == ["grade 5.5 → 7.5", None, None]
    assert changed.pairs[PAIR].to_list()[1:] == [0.0, 0.0]


def test_sales_of_the_same_month_alone_are_all_new_sales(folder: Path) -> None:
    _add(folder)
    _fit(folder)
    changed = _explain(folder)

    assert (_moved(changed), changed.records) == ({NEW_SALES}, {NEW_SALES: 1})


def _add(folder: Path, silhouette: str = "Gannet Hi") -> None:
    said = {
        "venue": "Holm Sound Auctions",
        "sold_on": "2019-06-15",
        "price_native": "400",
        "silhouette": silhouette,
        "grade": "7",
        "size_label": "EU 43",
    }
    add_sale(folder / "pairband.duckdb", folder / "market.toml", said, reason="", decided_at=NOW)


def test_a_corrected_record_alone_is_all_records_put_right(folder: Path) -> None:
    _correct(folder, _sold(folder), "price=40")
    _fit(folder)
    changed = _explain(folder)

    assert (_moved(changed), changed.records) == ({PUT_RIGHT}, {PUT_RIGHT: 1})


def test_a_removed_record_alone_is_all_records_put_right(folder: Path) -> None:
    record = _sold(folder)
    remove_records(folder / "pairband.duckdb", folder / "market.toml", [record], reason="", decided_at=NOW)
    _fit(folder)
    changed = _explain(folder)

    assert (_moved(changed), changed.records) == ({PUT_RIGHT}, {PUT_RIGHT: 1})


def test_a_correction_that_was_taken_back_changes_nothing(folder: Path) -> None:
    _correct(folder, _sold(folder), "price=40")
    _fit(folder)
    undo_decision(folder / "pairband.duckdb", folder / "market.toml", None, undone_at=NOW)
    _fit(folder)
    changed = _explain(folder)

    assert (_moved(changed), changed.records) == (set(), {})


def test_taking_back_what_the_earlier_fit_knew_is_records_put_right(folder: Path) -> None:
    _correct(folder, _sold(folder), "price=40")
    _fit(folder, at=THEN)
    undo_decision(folder / "pairband.duckdb", folder / "market.toml", None, undone_at=NOW)
    _fit(folder)

    assert _moved(_explain(folder)) == {PUT_RIGHT}


def test_sales_that_are_read_in_another_way_are_the_market_file(folder: Path) -> None:
    market = folder / "market.toml"
    stated = market.read_text(encoding="utf-8")
    before = 'price_basis = "hammer"\nsize_system = "EU"\n\n[maps.holm.columns]'
    assert before in stated
    market.write_text(stated.replace(before, before.replace("hammer", "all-in")), encoding="utf-8")
    _read(folder, "holm_early.csv")
    _fit(folder)
    changed = _explain(folder)

    assert (_moved(changed), list(changed.records)) == ({MARKET_FILE}, [MARKET_FILE])


def test_another_model_is_the_market_file_and_is_named(folder: Path) -> None:
    with (folder / "market.toml").open("a", encoding="utf-8") as file:
        file.write("\n[model]\ndegrees_of_freedom = 30\n")
    _fit(folder)
    changed = _explain(folder)

    assert _moved(changed) == {MARKET_FILE}
    assert parts_table(changed).texts_of("behind")[1] == "the model"


def test_what_of_the_market_file_moves_no_value_is_no_part(folder: Path) -> None:
    market = folder / "market.toml"
    stated = market.read_text(encoding="utf-8")
    market.write_text(stated + '\n[[treatments]]\nname = "wax"\nphrases = ["waxed"]\n', encoding="utf-8")
    _fit(folder)
    changed = _explain(folder)

    assert (_moved(changed), changed.causes) == (set(), (MARKET,))


def test_a_market_that_fell_since_is_the_market_and_not_the_new_sales(folder: Path) -> None:
    (folder / "holm_late.csv").write_text(
        _lots(LATER, lambda month: 0.7 * _wave(FIRST[-1]), each=4), encoding="cp1252"
    )
    _read(folder, "holm_late.csv")
    _fit(folder)
    sums = together(_explain(folder, as_of=date(2019, 12, 31)).pairs).row(0, named=True)

    assert sums[MARKET] < 0
    assert abs(sums[MARKET]) > 2 * abs(sums[NEW_SALES])


def test_in_a_market_that_rises_steadily_the_trend_counts_and_most_of_a_change_is_the_market(
    then: Path, tmp_path: Path
) -> None:
    """Prices rise by 2 % a month over five years: of half a year's rise new sales put right what is left."""
    for name in ("market.toml", "stock.csv"):
        shutil.copy(then / name, tmp_path)
    for name, months, day in (("early", range(54), 2022), ("late", range(54, 60), 2023)):
        rising = _lots(months, lambda month: math.exp(0.02 * month), each=6)
        (tmp_path / f"holm_{name}.csv").write_text(rising, encoding="cp1252")
        _read(tmp_path, f"holm_{name}.csv", at=datetime(day, 6, 30, tzinfo=UTC))
        _fit(tmp_path, at=datetime(day, 6, 30, tzinfo=UTC))
    with Workspace.open(tmp_path) as workspace:
        stage = workspace.fitted.trend
    sums = together(_explain(tmp_path, date(2022, 6, 30), as_of=date(2022, 12, 31)).pairs).row(0, named=True)

    assert stage.used
    assert sums["change"] == pytest.approx(sum(sums[part] for part in PARTS), abs=0.01)
    assert sums[MARKET] > 3 * abs(sums[NEW_SALES])


def test_parts_of_every_pair_and_of_all_add_up_to_the_cent(later: Path) -> None:
    changed = _explain(later, as_of=date(2019, 12, 31), earlier=GRADED)
    cents = changed.pairs.with_columns(
        pl.col("then", "now", "change", *PARTS).mul(100).round().cast(pl.Int64)
    )

    assert _moved(changed) == {MARKET, NEW_SALES, PUT_RIGHT, PAIR}
    assert cents["change"].to_list() == (cents["now"] - cents["then"]).to_list()
    assert cents["change"].to_list() == cents.select(pl.sum_horizontal(PARTS)).to_series().to_list()


def test_what_is_shown_in_whole_units_adds_up_too(later: Path) -> None:
    changed = _explain(later, as_of=date(2019, 12, 31), earlier=GRADED)
    sheet = changed_sheet(changed)
    pairs, [whole] = sheet.table("pairs").rows, whole_units(changed).to_dicts()

    assert pairs["change"].to_list() == pairs.select(pl.sum_horizontal(PARTS)).to_series().to_list()
    assert sheet.table("parts").rows["money"].sum() == whole["change"] == whole["now"] - whole["then"]


def test_the_sum_of_all_pairs_is_not_that_of_rounded_ones(later: Path) -> None:
    changed = _explain(later, as_of=date(2019, 12, 31))
    many = replace(changed, pairs=pl.concat([changed.pairs.with_columns(then=100.4, now=100.4)] * 10))

    assert changed_figures(many)[0][1] == "€3,012"


def test_the_value_now_is_that_of_an_appraisal_now(later: Path) -> None:
    changed = _explain(later, as_of=date(2019, 12, 31))
    with Workspace.open(later) as workspace:
        said = appraise_file(workspace, later / "stock.csv", row=None, as_of=date(2019, 12, 31))

    assert changed.pairs["now"].to_list() == pytest.approx([one.median for one in said], abs=0.005)


def test_the_value_then_is_that_of_an_appraisal_then(later: Path, then: Path) -> None:
    changed = _explain(later, as_of=date(2019, 12, 31))
    with Workspace.open(then) as workspace:
        said = appraise_file(workspace, then / "stock.csv", row=None, as_of=SAME_MONTH)

    assert changed.pairs["then"].to_list() == pytest.approx([one.median for one in said], abs=0.005)


def test_new_sales_and_corrections_are_those_of_refits_by_hand(later: Path, then: Path) -> None:
    """With two causes each is the mean of what it adds alone, and of what it adds after the other."""
    changed = _explain(later, as_of=date(2019, 12, 31))
    with Workspace.open(later) as workspace, Workspace.open(then) as earlier:
        described = Description(
            silhouette="Gannet Hi", colourway="Buoy Red", era="first", size="UK 9", grade="7", box="original"
        )
        factors = pair_factors([understand(described, workspace.market)], as_of=SAME_MONTH)
        now, before = workspace.sales, earlier.sales
        corrected = now.join(before, on="record_id", how="semi")
        added = now.join(before, on="record_id", how="anti")
        market = workspace.market
        none, right, new, both = (
            float(log_prices(fit_prices(FrameSource(sales), market), factors)[0])
            for sales in (before, corrected, pl.concat([before, added]), now)
        )
    row = changed.pairs.row(1, named=True)
    last = np.log(row["now"])
    mean = (row["now"] - row["then"]) / (last - none)

    assert row[NEW_SALES] == pytest.approx(mean * ((new - none) + (both - right)) / 2, abs=0.02)
    assert row[PUT_RIGHT] == pytest.approx(mean * ((right - none) + (both - new)) / 2, abs=0.02)


def test_fits_that_are_kept_are_not_made_again(later: Path) -> None:
    steps: list[tuple[int, int]] = []
    _explain(later, as_of=date(2019, 12, 31), on_progress=lambda _, done, total: steps.append((done, total)))

    assert steps == [(0, 2), (1, 2)]


def test_the_new_sales_that_moved_a_pair_most_are_new_and_three_at_most(later: Path, then: Path) -> None:
    changed = _explain(later, as_of=date(2019, 12, 31))
    with Workspace.open(then) as earlier:
        known = set(earlier.sales["record_id"])

    assert changed.moved_by.group_by("row_number").len()["len"].to_list() == [3, 3, 3]
    assert known.isdisjoint(changed.moved_by["record_id"])


def test_what_a_sale_moved_is_what_a_refit_without_it_lacks(later: Path) -> None:
    """Nearly: a refit chooses its variances again, and they are held where the sale is left out by the formula."""
    changed = _explain(later, as_of=date(2019, 12, 31))
    moved = changed.moved_by.sort(pl.col("share").abs()).row(-1, named=True)
    place = changed.pairs["row_number"].to_list().index(moved["row_number"])
    with Workspace.open(later) as workspace:
        without = workspace.sales.filter(pl.col("record_id") != moved["record_id"])
        pairs = pairs_of_records(read_pairs(later / "stock.csv", workspace.market, as_of=NOW.date())[0])
        factors = pair_factors(pairs, as_of=NOW.date())
        left = math.exp(log_prices(fit_prices(FrameSource(without), workspace.market), factors)[place])

    assert changed.pairs["now"][place] / left - 1 == pytest.approx(moved["share"], rel=0.3)


def test_without_a_day_the_fit_before_the_latest_is_compared_with(later: Path) -> None:
    assert _explain(later, since=None, as_of=date(2019, 12, 31)).since == THEN.date()


def test_without_a_day_the_last_value_that_was_kept_is_compared_with(folder: Path) -> None:
    from pipeline.answers.appraisal.run import appraise_file

    with Workspace.open(folder) as workspace:
        said = appraise_file(workspace, folder / "stock.csv", row=None, as_of=date(2019, 7, 9))
        keep_appraisals(workspace, said, kept_at=NOW)
    _read(folder, "holm_late.csv")
    _fit(folder)

    assert _explain(folder, since=None, as_of=date(2019, 12, 31)).since == date(2019, 7, 9)


def test_a_single_fit_has_nothing_before_it(then: Path) -> None:
    with pytest.raises(FitError, match="there is no earlier fit to compare with"):
        _explain(then, since=None)


def test_a_day_before_the_first_fit_takes_that_and_says_so(then: Path) -> None:
    changed = _explain(then, since=date(2018, 1, 15))

    assert changed.cautions[0].startswith(
        "No fit of 15 Jan 2018 or before is kept: the first, of 30 Jun 2019"
    )


def test_a_fit_made_again_without_a_change_stays_that_of_its_first_day(folder: Path) -> None:
    _fit(folder, at=NOW)
    changed = _explain(folder, since=date(2019, 7, 15), as_of=date(2019, 12, 31))

    assert not any(caution.startswith("No fit of") for caution in changed.cautions)


def test_a_ledger_whose_fits_keep_no_sales_says_from_when_on_they_do(folder: Path) -> None:
    with open_ledger(folder / "pairband.duckdb") as ledger:
        ledger.connection.execute("TRUNCATE fits_made").fetchall()
    with pytest.raises(FitError, match="holds no fit whose sales are kept"):
        _explain(folder)


def test_values_by_an_earlier_version_of_pairband_differ_by_the_market_file_and_program(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _add(folder)
    monkeypatch.setattr("pipeline.answers.fit.run.__version__", "0.0.1")
    _fit(folder)
    with Workspace.open(folder) as workspace:
        assert workspace.fitted.version == "0.0.1"
    with pytest.raises(FitError, match=r"the latest fit was made by pairband 0\.0\.1"):
        _explain(folder)


def test_a_pair_that_the_earlier_list_does_not_have_is_said_to_be_taken_as_now(folder: Path) -> None:
    changed = _explain(folder, earlier=STOCK.rsplit("A3", 1)[0])

    assert "1 pair not in stock_then.csv: it is taken to have been as now." in changed.cautions


def test_the_ledger_s_lists_say_how_the_stock_is_and_how_it_was(folder: Path) -> None:
    keep_list(folder, STOCK, date(2019, 6, 1))
    keep_list(folder, GRADED, date(2019, 7, 1))
    with Workspace.open(folder) as workspace:
        changed = explain_changes(
            workspace, None, since=SAME_MONTH, earlier_list=None, as_of=date(2019, 7, 1)
        )

    assert changed.pairs["differs"].to_list() == ["grade 5.5 → 7.5", None, None]


def test_a_number_used_again_for_another_pair_is_not_compared_with_the_one_before(folder: Path) -> None:
    changed = _explain(folder, earlier=GRADED.replace("A1,2019-01-05", "A1,2018-01-05"))

    assert changed.pairs["differs"].to_list() == [None, None, None]


def test_a_pair_that_was_sold_since_it_came_in_is_left_out(folder: Path) -> None:
    with Workspace.open(folder) as workspace:
        sold = workspace.ledger.read("marts/stock_sales", as_of=date(2019, 6, 30))
    assert sold["stock_ref"].to_list() == ["S1"]
    (folder / "stock.csv").write_text(STOCK.replace("A1,2019-01-05", "S1,2000-01-05"), encoding="utf-8")

    assert _explain(folder).pairs["stock_ref"].to_list() == ["A2", "A3"]


def test_a_pair_of_which_no_sale_was_known_then_is_said_to_be_a_guess(folder: Path) -> None:
    _add(folder, silhouette="Razorbill")
    _fit(folder)
    (folder / "stock.csv").write_text(
        STOCK.replace(
            "A3,2019-03-27,151.85,Plover Lo,Plover Lo,Kelp,second",
            "A3,2019-03-27,151.85,Razorbill,Razorbill,Kelp,second",
        ),
        encoding="utf-8",
    )
    guess = "1 pair is of a silhouette or era of which no sale was in the fit then: the value then is a first guess."

    assert guess in _explain(folder).cautions


def test_a_list_of_sold_pairs_alone_says_that_none_is_left(folder: Path) -> None:
    (folder / "stock.csv").write_text(STOCK.splitlines(keepends=True)[0], encoding="utf-8")

    assert changed_sheet(_explain(folder)).sentences[0] == "No pair of this list is still there."


def test_a_part_of_the_market_within_its_error_is_said_to_be_chance(later: Path) -> None:
    changed = _explain(later, as_of=date(2019, 12, 31))
    wide = replace(changed, pairs=changed.pairs.with_columns(market_error=pl.lit(500.0)))

    assert market_words(wide).endswith("with a standard error of €1,500: that may be chance.")
