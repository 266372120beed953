"""The demo's files: made again to the byte, and counted without a row lost."""

import json
from datetime import date
from io import BytesIO
from pathlib import Path
from typing import Any

import fastexcel
import numpy as np
import polars as pl
import pytest

from pipeline.ingest.sizes import read_sizes
from pipeline.shipped import shipped
from sample_data import faults, scenario
from sample_data.exports import (
    LANTERN_FILES,
    SEED,
    UMIKAZE_SHEETS,
    Export,
    draw_export_offers,
    make_exports,
)
from sample_data.labels import size_labels
from sample_data.truth_table import truth_markdown
from sample_data.wordings import ENGLISH, GERMAN, Turns
from sample_data.writer import make_files, write_files

FOLDER = shipped("sample_data")


@pytest.fixture(scope="module")
def files() -> dict[str, bytes]:
    """Return every file of the demo as the generator makes it now."""
    return make_files()


@pytest.fixture(scope="module")
def offers() -> pl.DataFrame:
    """Return every offer behind the exports."""
    return draw_export_offers()


@pytest.fixture(scope="module")
def exports(offers: pl.DataFrame) -> dict[str, Export]:
    """Return the exports by name, with the offer behind each row."""
    return {export.name: export for export in make_exports(offers)}


@pytest.fixture(scope="module")
def expected() -> dict[str, Any]:
    """Return the counts of expected.json."""
    document: dict[str, Any] = json.loads((FOLDER / "expected.json").read_text(encoding="utf-8"))
    return document


def test_the_committed_files_are_what_the_generator_makes_to_the_byte(files: dict[str, bytes]) -> None:
    committed = {name: (FOLDER / name).read_bytes() for name in files}

    assert [name for name in files if files[name] != committed[name]] == []


def test_no_export_lies_in_the_folder_that_the_generator_does_not_make(files: dict[str, bytes]) -> None:
    present = {f"exports/{path.name}" for path in (FOLDER / "exports").iterdir()}

    assert present == {name for name in files if name.startswith("exports/")}


def test_another_seed_gives_other_sales() -> None:
    other = draw_export_offers(seed=SEED + 1)

    assert not other.equals(draw_export_offers())


def test_the_files_are_written_below_the_folder_given(tmp_path: Path, files: dict[str, bytes]) -> None:
    written = write_files(tmp_path)

    assert {path.relative_to(tmp_path).as_posix(): path.read_bytes() for path in written} == files


def test_the_exports_are_small_enough_to_travel_with_the_package(files: dict[str, bytes]) -> None:
    assert sum(map(len, files.values())) < 4_000_000


def test_rows_are_records_and_duplicates_and_what_is_no_record(expected: dict[str, Any]) -> None:
    parts = {"all": expected["all"], **expected["files"]}
    judged = {
        name: counts["records"] + counts["duplicates"] + counts["no_record"] for name, counts in parts.items()
    }

    assert judged == {name: counts["rows"] for name, counts in parts.items()}


def test_the_files_add_up_to_the_whole(expected: dict[str, Any]) -> None:
    sums = {
        key: sum(counts[key] for counts in expected["files"].values())
        for key in ("rows", "records", "duplicates", "no_record")
    }

    assert sums == {key: expected["all"][key] for key in sums}


def test_every_offer_is_one_record_unless_its_row_is_none(
    expected: dict[str, Any], offers: pl.DataFrame
) -> None:
    none = offers["fault"].is_in(list(faults.NO_RECORD)).sum()

    assert expected["all"]["records"] == len(offers) - none


def test_a_csv_has_as_many_lines_as_it_is_said_to_have_rows(
    expected: dict[str, Any], files: dict[str, bytes]
) -> None:
    counted = {
        name: len(files[f"exports/{name}"].splitlines()) - name.endswith(".csv")
        for name in expected["files"]
        if not name.endswith(".xlsx")
    }

    assert counted == {name: expected["files"][name]["rows"] for name in counted}


def test_the_workbook_has_its_title_its_header_in_row_three_and_all_its_rows(
    expected: dict[str, Any], files: dict[str, bytes]
) -> None:
    book = fastexcel.read_excel(files["exports/umikaze_results.xlsx"])
    sheets = [book.load_sheet(name, header_row=2) for name in book.sheet_names]

    assert book.sheet_names == list(UMIKAZE_SHEETS)
    assert all(sheet.available_columns()[0].name == "Sale" for sheet in sheets)
    assert sum(sheet.height for sheet in sheets) == expected["files"]["umikaze_results.xlsx"]["rows"]


def test_a_row_that_is_no_record_stands_where_expected_says(
    expected: dict[str, Any], files: dict[str, bytes]
) -> None:
    wrong_days = [
        (name, row["row_number"])
        for name, counts in expected["files"].items()
        for row in counts["rows_that_are_no_record"]
        if row["reason"] == faults.NO_SUCH_DAY and name.startswith("holm")
    ]
    lines = [files[f"exports/{name}"].decode("cp1252").splitlines()[row - 1] for name, row in wrong_days]

    assert lines
    assert all(";31.02." in line for line in lines)


def test_the_season_export_repeats_lines_of_the_longer_one(files: dict[str, bytes]) -> None:
    season = files["exports/holm_season_2023_24.csv"].splitlines()
    longer = files["exports/holm_2023_2026.csv"].splitlines()

    assert len(season) > 200
    assert set(season) <= set(longer)


def test_a_deal_logged_twice_costs_the_same_to_the_cent_in_both_places(
    exports: dict[str, Export], offers: pl.DataFrame
) -> None:
    log = pl.read_ndjson(exports["counter_log.jsonl"].content).hstack(
        exports["counter_log.jsonl"].rows.select("offer")
    )
    twice = log.join(offers.filter("logged_twice"), on="offer")
    at_the_venue = twice["all_in_native"] / twice["rate"]

    assert len(twice) > 100
    assert ((at_the_venue - twice["paid"]).abs() < 0.005001).all()


def test_no_maker_is_named_but_those_of_the_market_file(files: dict[str, bytes]) -> None:
    listed = pl.concat(pl.read_csv(files[f"exports/{name}"])["brand"] for name in LANTERN_FILES)
    logged = pl.read_ndjson(files["exports/counter_log.jsonl"])["maker"]

    assert {*listed.drop_nulls(), *logged} == {one.maker for one in scenario.market().silhouettes}


def test_every_month_has_a_sale(expected: dict[str, Any]) -> None:
    assert expected["months_with_a_sale"] == scenario.MONTHS


def test_a_hammer_price_with_its_premium_is_near_the_price_drawn(offers: pl.DataFrame) -> None:
    lots = offers.filter(pl.col("venue").is_in(list(scenario.AUCTION_WEEKDAY)), status="sold")
    error = np.log((lots["all_in_native"] / lots["rate"] / lots["price_paid"]).to_numpy())

    assert np.abs(np.median(error)) < 0.002
    assert np.quantile(np.abs(error), 0.99) < 0.04


def test_a_restored_pair_keeps_its_stock_number_and_its_grade_does_not_fall(offers: pl.DataFrame) -> None:
    later = offers.filter(pl.col("bought_as").is_not_null())
    both = later.join(offers, left_on="bought_as", right_on="offer", suffix="_before")

    assert (both["stock_ref"] == both["stock_ref_before"]).all()
    assert (both["grade"] >= both["grade_before"]).all()
    assert (both["closed_on"] > both["closed_on_before"]).all()


def test_an_unsold_pair_comes_back_on_better_terms(offers: pl.DataFrame) -> None:
    again = offers.filter(pl.col("re_offer_of").is_not_null())
    both = again.join(offers, left_on="re_offer_of", right_on="offer", suffix="_before")

    assert set(both["status_before"]) == {"unsold"}
    assert (both["gap"] < both["gap_before"]).all()


@pytest.mark.parametrize("system", ["UK", "EU", "JP"])
def test_every_size_label_reads_back_as_the_foot_length_it_was_written_for(system: str) -> None:
    labels = size_labels(system)
    written = {label: level for level, options in labels.items() for label in options}
    read = read_sizes(pl.Series(list(written)), system=system)
    nearest = (read["foot_mm"] / 5).round() * 5

    assert nearest.to_list() == [written[label] for label in read["size_label"]]


@pytest.mark.parametrize("system", ["UK", "EU", "JP"])
def test_every_foot_length_of_the_scenario_has_a_label(system: str) -> None:
    assert set(scenario.FOOT_MM_SHARES) <= set(size_labels(system))


def test_every_turn_of_phrase_is_in_the_market_file() -> None:
    market = scenario.market()
    phrases = {
        **{
            one.name: one.phrases
            for one in (*market.eras, *market.parts, *market.defects, *market.treatments)
        },
        **{f"box {value}": said for value, said in market.words.box.items()},
        **{f"tags {value}": said for value, said in market.words.tags.items()},
    }
    unknown = [
        said
        for wording in (ENGLISH, GERMAN)
        for kind, turns in _turns(wording.__dict__)
        for value, options in turns.items()
        for said in options
        if not _names(said, value, phrases[f"{kind} {value}" if kind in ("box", "tags") else value])
    ]

    assert unknown == []


def test_the_readme_states_the_truth_as_it_is() -> None:
    assert truth_markdown() in (FOLDER / "README.md").read_text(encoding="utf-8")


def test_forty_lots_close_after_the_last_sale(files: dict[str, bytes]) -> None:
    lots = pl.read_csv(BytesIO(files["exports/upcoming_lots.csv"]), try_parse_dates=True)

    assert len(lots) == 40
    assert (lots["closes"] > date(2026, 10, 1)).all()


def test_the_stock_numbers_of_the_shop_go_on_from_those_of_the_records(
    files: dict[str, bytes], offers: pl.DataFrame
) -> None:
    stock = pl.read_csv(BytesIO(files["exports/stock.csv"]))

    assert len(stock) == 25
    assert stock["stock"].is_unique().all()
    assert not set(stock["stock"]) & set(offers["stock_ref"])


def _turns(fields: dict[str, Any]) -> list[tuple[str, Turns]]:
    return [(kind, turns) for kind, turns in fields.items() if isinstance(turns, dict)]


def _names(said: str, value: str, phrases: tuple[str, ...]) -> bool:
    return any(phrase.casefold() in said.casefold() for phrase in (value, *phrases))
