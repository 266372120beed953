"""A fit of sales in Parquet files is that of the ledger they came from, says so, and does not depend on the ledger."""

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from click.testing import CliRunner, Result

from pipeline.answers.care.doctor import examine
from pipeline.answers.care.tables import health_sheet
from pipeline.answers.fit.run import fit_files
from pipeline.answers.records.run import write_records
from pipeline.answers.sheet import source_words
from pipeline.cli import app
from pipeline.errors import FitError
from pipeline.ledger import open_ledger
from pipeline.market.fitted_market import FittedMarket, why_stale
from pipeline.market.sales_in_files import sales_in_files
from pipeline.workspace import Workspace
from tests.shops import NOW, make_shop

SAME = 1e-9
"""Sums over the same sales in another order differ by rounding alone."""

OF_FEW = 1e-7
"""At an origin with few sales hardly anything decides the variances, which enlarges the rounding of sums."""


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a shop with a fit of its ledger, and its sales in files."""
    folder = make_shop(tmp_path_factory.mktemp("shop"))
    with open_ledger(folder / "pairband.duckdb", read_only=True) as ledger:
        write_records(ledger, folder / "sales")
    return folder


@pytest.fixture(scope="module")
def of_files(shop: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder whose ledger holds a fit of those files and nothing else."""
    folder = tmp_path_factory.mktemp("files")
    (folder / "market.toml").write_bytes((shop / "market.toml").read_bytes())
    _fit(folder, shop / "sales")
    return folder


def _fit(folder: Path, files: Path) -> None:
    places = folder / "pairband.duckdb", folder / "market.toml"
    fit_files(*places, str(files), spark=None, fitted_at=NOW)


def _fitted(folder: Path) -> FittedMarket:
    with Workspace.open(folder) as workspace:
        return workspace.fitted


def _ran(folder: Path, *arguments: str) -> Result:
    places = ["--ledger", str(folder / "pairband.duckdb"), "--market", str(folder / "market.toml")]
    return CliRunner().invoke(app, [*arguments, *places])


@pytest.mark.parametrize("part", ["fit", "scatter"])
@pytest.mark.parametrize(
    "numbers",
    [
        lambda fit: fit.coefficients,
        lambda fit: np.sqrt(fit.covariance.diagonal()),
        lambda fit: np.array(list(fit.lambdas.values())),
    ],
)
def test_the_files_of_a_ledger_give_its_own_fit(
    shop: Path, of_files: Path, part: str, numbers: Callable[[object], object]
) -> None:
    own, outside = (numbers(getattr(_fitted(folder), part)) for folder in (shop, of_files))

    np.testing.assert_allclose(outside, own, rtol=SAME, atol=SAME)


def test_the_files_of_a_ledger_give_its_own_bands(shop: Path, of_files: Path) -> None:
    said = [_ran(folder, "appraise", "--silhouette", "Gannet Hi", "--json") for folder in (shop, of_files)]
    own, outside = ([list(band.values()) for band in json.loads(ran.stdout)["bands"]] for ran in said)

    np.testing.assert_allclose(outside, own, rtol=OF_FEW)


def test_the_order_of_the_rows_and_the_files_changes_neither_digest_nor_fit(
    shop: Path, tmp_path: Path
) -> None:
    sales = pl.concat([pl.read_parquet(file) for file in sorted((shop / "sales").rglob("*.parquet"))])
    sales.sample(fraction=1, shuffle=True, seed=3).drop("year", strict=False).write_parquet(
        tmp_path / "all.parquet"
    )

    with sales_in_files(str(shop / "sales")) as parted, sales_in_files(str(tmp_path)) as whole:
        assert parted.records_digest == whole.records_digest


def test_a_price_that_differs_changes_the_digest(shop: Path, tmp_path: Path) -> None:
    sales = pl.concat([pl.read_parquet(file) for file in sorted((shop / "sales").rglob("*.parquet"))])
    dearer = pl.col("price_paid").cast(pl.Float64) + (pl.int_range(pl.len()) == 7)
    sales.with_columns(dearer).write_parquet(tmp_path / "all.parquet")

    with sales_in_files(str(shop / "sales")) as before, sales_in_files(str(tmp_path)) as after:
        assert before.records_digest != after.records_digest


def test_rows_that_cannot_be_priced_are_left_out_and_counted(shop: Path, tmp_path: Path) -> None:
    sales = pl.concat([pl.read_parquet(file) for file in sorted((shop / "sales").rglob("*.parquet"))])
    place = pl.int_range(pl.len())
    sales.with_columns(
        pl.when(place == 0).then(None).otherwise(pl.col("price_paid")).alias("price_paid"),
        pl.when(place == 1).then(None).otherwise(pl.col("silhouette")).alias("silhouette"),
        held_out=place == 2,
        status=pl.when(place == 3).then(pl.lit("unsold")).otherwise(pl.lit("sold")),
    ).write_parquet(tmp_path / "all.parquet")

    with sales_in_files(str(tmp_path)) as found:
        assert (found.sales, found.left_out) == (sales.height - 4, 4)


def test_a_sale_that_stands_in_two_files_is_refused(shop: Path, tmp_path: Path) -> None:
    sales = pl.concat([pl.read_parquet(file) for file in sorted((shop / "sales").rglob("*.parquet"))])
    sales.write_parquet(tmp_path / "one.parquet")
    sales.head(3).write_parquet(tmp_path / "other.parquet")

    with (
        pytest.raises(FitError, match=r"3 of .* have a record_id that another row has"),
        sales_in_files(str(tmp_path)),
    ):
        pass


def test_too_few_sales_in_files_are_said_with_how_many_there_are(shop: Path, tmp_path: Path) -> None:
    sales = pl.concat([pl.read_parquet(file) for file in sorted((shop / "sales").rglob("*.parquet"))])
    sales.head(5).write_parquet(tmp_path / "few.parquet")
    (tmp_path / "market.toml").write_bytes((shop / "market.toml").read_bytes())

    with pytest.raises(FitError, match=r"5 of 5 rows at .* can be priced, and a fit needs 8"):
        _fit(tmp_path, tmp_path / "few.parquet")


def test_an_answer_says_that_it_rests_on_files(of_files: Path) -> None:
    assert "sales in files outside the ledger" in source_words(_fitted(of_files).source)


def test_the_doctor_says_that_the_fit_is_of_files(of_files: Path) -> None:
    health = examine(of_files / "pairband.duckdb", of_files / "market.toml", now=NOW)

    assert any("to sales in files outside the ledger" in line for line in health_sheet(health).sentences)


def test_a_fit_of_files_does_not_depend_on_the_records_of_the_ledger(shop: Path, of_files: Path) -> None:
    with Workspace.open(of_files) as workspace:
        assert workspace.stale == ""


def test_a_fit_of_files_is_out_of_date_when_the_market_file_changed(of_files: Path) -> None:
    with Workspace.open(of_files) as workspace:
        fitted, market = workspace.fitted, workspace.market
    [stale] = why_stale("another", fitted.records_digest, market, "3:any")

    assert stale.remedy == "run `pairband fit --sales` again on files written since."


def test_what_changed_needs_the_sales_of_a_fit(of_files: Path) -> None:
    ran = _ran(of_files, "changed")

    assert isinstance(ran.exception, FitError)
    assert "of sales in files outside the ledger, and of those no sale is kept" in str(ran.exception)


def test_the_next_fit_of_the_ledger_takes_the_place_of_a_fit_of_files(shop: Path, tmp_path: Path) -> None:
    for name in ("market.toml", "pairband.duckdb"):
        (tmp_path / name).write_bytes((shop / name).read_bytes())
    before = _fitted(tmp_path).fit_id
    _fit(tmp_path, shop / "sales")

    assert _ran(tmp_path, "fit").exit_code == 0
    assert _fitted(tmp_path).fit_id == before


def test_spark_reads_files_only() -> None:
    ran = CliRunner().invoke(app, ["fit", "--spark", "local[2]"])

    assert ran.exit_code == 2
    assert "--spark reads files: say which with --sales" in ran.output
