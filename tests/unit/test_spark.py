"""Spark gives the fit that the frame and DuckDB give, however the sales are spread, and when a task is done again.

Its memory does not grow with the sales.
"""

import importlib.util
import os
import shutil
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest
from polars.testing import assert_frame_equal

from pipeline.hedonic.coding import Coding, find_coding
from pipeline.hedonic.source import ONE_STAGE, Batch, Source, Sums, Tally
from pipeline.hedonic.spark import BRANCHES, CODED, SparkCoded, SparkSource
from pipeline.hedonic.specification import Specification, Term
from pipeline.hedonic.tallies import CountPairs
from pipeline.market.bands import value_pairs
from pipeline.market.fit import fit_market
from pipeline.market.fitted_market import FittedMarket
from pipeline.market.sales_in_files import PRICED, SalesInFiles, sales_in_files
from pipeline.schema import FACTORS
from tests import drawn

pytestmark = [
    pytest.mark.spark,
    pytest.mark.filterwarnings("ignore:PySpark does not yet fully support pandas:FutureWarning"),
    pytest.mark.skipif(
        os.environ.get("CI") != "true"
        and (importlib.util.find_spec("pyspark") is None or shutil.which("java") is None),
        reason="Spark (pairband[spark]) or Java is not installed",
    ),
]

SAME = 1e-9
"""Sums over the same sales in another order differ by rounding alone."""

SALES = 2500


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder of drawn sales in two files, in no order."""
    folder = tmp_path_factory.mktemp("sales")
    sales = drawn.sales(SALES, 3).sample(fraction=1, shuffle=True, seed=5)
    for number, part in enumerate(sales.iter_slices(1250)):
        part.write_parquet(folder / f"{number}.parquet")
    return folder


@pytest.fixture(scope="module")
def in_spark(files: Path) -> Iterator[SalesInFiles]:
    """Return those sales in Spark, whose one session serves all of these tests."""
    with sales_in_files(str(files), spark="local[2]") as found:
        yield found


@pytest.fixture(scope="module")
def fits(files: Path, in_spark: SalesInFiles) -> dict[str, FittedMarket]:
    """Return the market fitted to the same sales from a frame, by DuckDB, and by Spark."""
    with sales_in_files(str(files)) as in_duckdb:
        return {
            "frame": drawn.fitted_to(drawn.sales(SALES, 3)),
            "DuckDB": _fitted(in_duckdb.source),
            "Spark": _fitted(in_spark.source),
        }


def _fitted(source: Source) -> FittedMarket:
    return fit_market(
        source, drawn.scenario_market(), records_digest="drawn", version="test", fitted_on=date(2026, 10, 1)
    )


@pytest.mark.parametrize("part", ["fit", "scatter"])
@pytest.mark.parametrize("engine", ["DuckDB", "Spark"])
def test_effects_and_their_errors_do_not_depend_on_who_reads_the_sales(
    fits: dict[str, FittedMarket], engine: str, part: str
) -> None:
    one, other = getattr(fits["frame"], part), getattr(fits[engine], part)

    np.testing.assert_allclose(other.coefficients, one.coefficients, atol=SAME)
    np.testing.assert_allclose(other.covariance.diagonal(), one.covariance.diagonal(), atol=SAME)


@pytest.mark.parametrize("part", ["fit", "scatter"])
@pytest.mark.parametrize("engine", ["DuckDB", "Spark"])
def test_lambdas_do_not_depend_on_who_reads_the_sales(
    fits: dict[str, FittedMarket], engine: str, part: str
) -> None:
    one, other = (getattr(fits[name], part).lambdas for name in ("frame", engine))

    assert other == pytest.approx(one, rel=SAME)


@pytest.mark.parametrize("engine", ["DuckDB", "Spark"])
def test_limits_of_bands_do_not_depend_on_who_reads_the_sales(
    fits: dict[str, FittedMarket], engine: str
) -> None:
    sales = drawn.sales(SALES, 3)
    one, other = (
        value_pairs(fits[name], sales.select(list(FACTORS)).head(50), (0.5, 0.8, 0.95)).bands
        for name in ("frame", engine)
    )

    assert_frame_equal(other, one, check_exact=False, abs_tol=SAME, rel_tol=SAME)


def test_the_digest_does_not_depend_on_who_reads_the_sales(files: Path, in_spark: SalesInFiles) -> None:
    with sales_in_files(str(files)) as in_duckdb:
        assert in_spark.records_digest == in_duckdb.records_digest


def test_partitions_and_their_order_change_no_sum(in_spark: SalesInFiles) -> None:
    whole, spread = (_added_up(in_spark, partitions) for partitions in (1, BRANCHES + 1))

    np.testing.assert_allclose(spread["moment", 0], whole["moment", 0], rtol=SAME, atol=SAME)
    assert spread["rows", 0] == whole["rows", 0] == SALES


def test_a_task_that_fails_is_done_again_and_the_sums_are_the_same(
    in_spark: SalesInFiles, tmp_path: Path
) -> None:
    failed = _added_up(in_spark, 3, tmp_path / "failed")

    assert (tmp_path / "failed").exists()
    np.testing.assert_array_equal(failed["moment", 0], _added_up(in_spark, 3)["moment", 0])


def test_coded_records_take_no_memory_of_java(in_spark: SalesInFiles) -> None:
    coded, coding = _coded(in_spark, 2)
    coded.add_up(CountPairs(coding, 5.0))

    assert _bytes_kept(coded)["in memory"] == 0


def test_coded_records_are_kept_on_disk_from_one_pass_to_the_next(in_spark: SalesInFiles) -> None:
    coded, _ = _coded(in_spark, 2)

    assert _bytes_kept(coded)["on disk"] > 0


def test_a_batch_for_python_does_not_grow_with_the_partition(in_spark: SalesInFiles) -> None:
    coded, _ = _coded(in_spark, 1)
    many = coded.blocks.selectExpr(f"explode(array_repeat({CODED}, 400)) AS {CODED}").coalesce(1)
    sizes = [row["bytes"] for row in many.mapInArrow(_sizes, "bytes long").collect()]

    assert max(sizes) < 9_000_000 < sum(sizes)


def _sizes(batches: Iterable[pa.RecordBatch]) -> Iterator[pa.RecordBatch]:
    for batch in batches:
        yield pa.RecordBatch.from_pydict({"bytes": [batch.nbytes]})


def _bytes_kept(coded: SparkCoded) -> dict[str, int]:
    """Return how much of the coded records Spark keeps in the memory of its Java, and on disk."""
    plan = coded.blocks._jdf.queryExecution().withCachedData()
    kept = plan.cacheBuilder().cachedColumnBuffers().id()
    found = coded.blocks.sparkSession.sparkContext._jsc.sc().getRDDStorageInfo()
    own = next(one for one in found if one.id() == kept)
    return {"in memory": own.memSize(), "on disk": own.diskSize()}


def _added_up(found: SalesInFiles, partitions: int, failing: Path | None = None) -> Sums:
    """Return the cross-products of the sales in so many partitions; one task fails first where that is asked for."""
    coded, coding = _coded(found, partitions)
    tally = CountPairs(coding, 5.0)
    return coded.add_up(tally if failing is None else FailsOnce(tally, failing))


def _coded(found: SalesInFiles, partitions: int) -> tuple[SparkCoded, Coding]:
    """Return the sales coded in so many partitions, and how."""
    assert isinstance(found.source, SparkSource)
    source = SparkSource(found.source.records.repartition(partitions, "record_id"), PRICED, FACTORS)
    terms = (Term("era", "level", ("era",)), Term("grade", "curve", ("grade",)))
    coding = find_coding(source, terms, ONE_STAGE)
    return source.code(coding, Specification("log_price", terms), ONE_STAGE), coding


@dataclass(frozen=True)
class FailsOnce:
    """A tally whose first try, on whichever partition comes first, fails as a worker does that is lost."""

    tally: Tally
    mark: Path

    def __call__(self, batches: Iterable[Batch]) -> Sums:
        """Return the sums."""
        try:
            self.mark.touch(exist_ok=False)
        except FileExistsError:
            return self.tally(batches)
        raise RuntimeError("the worker is lost")
