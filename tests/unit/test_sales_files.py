"""Sales leave the ledger as Parquet files, whole or not at all, and files say what they lack."""

import os
from pathlib import Path

import polars as pl
import pytest
from click.testing import CliRunner, Result

from pipeline.cli import app
from pipeline.errors import FitError, ReportError
from pipeline.ledger import open_ledger
from pipeline.outfile import refuse_folder
from pipeline.sales_files import NEEDED, check_files, find_files
from tests.shops import make_shop


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_shop(tmp_path_factory.mktemp("files"))


def _ran(folder: Path, *arguments: str) -> Result:
    places = ["--ledger", str(folder / "pairband.duckdb"), "--market", str(folder / "market.toml")]
    return CliRunner().invoke(app, [*arguments, *places])


def test_the_files_hold_each_sale_of_the_fit_once(shop: Path, tmp_path: Path) -> None:
    ran = _ran(shop, "records", "--parquet", str(tmp_path / "sales"))

    assert ran.exit_code == 0, ran.output
    with open_ledger(shop / "pairband.duckdb", read_only=True) as ledger:
        priced = ledger.read("marts/priced_sales", silhouette=None, most=None)
    written = pl.concat(
        [pl.read_parquet(file, hive_partitioning=False) for file in find_files(str(tmp_path / "sales"))]
    )
    assert sorted(written["record_id"]) == sorted(priced["record_id"])


def test_there_is_a_part_a_year(shop: Path, tmp_path: Path) -> None:
    _ran(shop, "records", "--parquet", str(tmp_path / "sales"))

    assert [part.name for part in sorted((tmp_path / "sales").iterdir())] == [
        "year=2017",
        "year=2018",
        "year=2019",
    ]


def test_writing_again_takes_the_place_of_what_was_written(shop: Path, tmp_path: Path) -> None:
    place = tmp_path / "sales"
    _ran(shop, "records", "--parquet", str(place))
    before = {file: Path(file).read_bytes() for file in find_files(str(place))}

    ran = _ran(shop, "records", "--parquet", str(place))

    assert ran.exit_code == 0, ran.output
    assert {file: Path(file).read_bytes() for file in find_files(str(place))} == before
    assert [one.name for one in tmp_path.iterdir()] == ["sales"]


def test_a_folder_with_a_file_of_the_owners_is_left_as_it_is(shop: Path, tmp_path: Path) -> None:
    (tmp_path / "sales").mkdir()
    (tmp_path / "sales" / "letter.txt").write_text("mine")

    ran = _ran(shop, "records", "--parquet", str(tmp_path / "sales"), "--force")

    assert ran.exit_code == 1
    assert "letter.txt, which pairband did not write" in str(ran.exception)
    assert [one.name for one in tmp_path.rglob("*")] == ["sales", "letter.txt"]


def test_all_sales_are_written_or_none_is_asked_for(shop: Path, tmp_path: Path) -> None:
    ran = _ran(shop, "records", "--parquet", str(tmp_path / "sales"), "--since", "2019-01-01")

    assert ran.exit_code == 2
    assert "--parquet writes all sales" in ran.output


def test_no_file_is_said_with_the_pattern(tmp_path: Path) -> None:
    with pytest.raises(FitError, match=r"no Parquet file is at .*nothing/\*\.parquet"):
        find_files(str(tmp_path / "nothing" / "*.parquet"))


def test_a_missing_column_is_named_with_its_file(tmp_path: Path) -> None:
    _write(tmp_path / "sales.parquet", leave_out="era")

    with pytest.raises(FitError, match=r"sales\.parquet has no column 'era'; its columns are record_id"):
        check_files([str(tmp_path / "sales.parquet")])


def test_a_column_of_another_type_is_named_with_what_it_must_be(tmp_path: Path) -> None:
    _write(tmp_path / "sales.parquet", sold_on=pl.Series(["2024-05-03"]))

    with pytest.raises(FitError, match=r"the column 'sold_on' is String, and must be a day \(DATE\)"):
        check_files([str(tmp_path / "sales.parquet")])


def test_a_column_that_only_some_files_have_is_named(tmp_path: Path) -> None:
    _write(tmp_path / "one.parquet")
    _write(tmp_path / "other.parquet", held_out=pl.Series([False]))

    with pytest.raises(FitError, match=r"only one of .*one\.parquet and .*other\.parquet has held_out"):
        check_files(find_files(str(tmp_path)))


def test_a_file_that_is_no_parquet_is_named(tmp_path: Path) -> None:
    (tmp_path / "sales.parquet").write_text("venue,price\n")

    with pytest.raises(FitError, match=r"sales\.parquet cannot be read as Parquet"):
        check_files(find_files(str(tmp_path)))


def _write(file: Path, leave_out: str = "", **columns: pl.Series) -> None:
    """Write a file of one sale of which nothing is known."""
    sale = pl.DataFrame({name: [None] for name in NEEDED}, schema=NEEDED).drop(leave_out or [])
    sale.with_columns(own.alias(name) for name, own in columns.items()).write_parquet(file)


def test_a_folder_that_holds_a_pipe_is_refused_and_the_pipe_not_opened(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(ReportError, match=r"holds pipe, which pairband did not write"):
        refuse_folder(tmp_path)
