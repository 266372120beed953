"""What every test may use: a fixed zone, one thread a worker, and the small invented market."""

import gc
import os
import tempfile
import time
from collections.abc import Iterator
from typing import TYPE_CHECKING

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # read when numpy is loaded; workers beside each other are enough
os.environ["POLARS_MAX_THREADS"] = "1"
os.environ["XDG_STATE_HOME"] = tempfile.mkdtemp(
    prefix="pairband-tests-"
)  # what pairband remembers for itself
from pathlib import Path

import pytest

from pipeline.config import Market, load_market
from tests.drawn_once import share_drawings

if TYPE_CHECKING:
    from tests.desk_client import OpenDesk

os.environ["TZ"] = "UTC"
time.tzset()

share_drawings()

HERE = Path(__file__).parent
LONGEST = (
    "test_corpus.py",
    "test_desk_whole_job.py",
    "test_determinism.py",
    "test_examples.py",
    "test_extreme_options.py",
    "test_one_figure.py",
    "test_spark.py",
    "test_terminal.py",
)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the longest files, so that no worker is left alone with one at the end."""
    items.sort(key=lambda item: item.path.name not in LONGEST)


def pytest_collection_finish() -> None:
    """Leave the half a million objects that were collected out of every later round of the garbage collector."""
    gc.freeze()


@pytest.fixture(scope="session")
def market() -> Market:
    """Return the small invented market of tests/market.toml."""
    return load_market(HERE / "market.toml")


@pytest.fixture
def empty_desk(tmp_path: Path) -> Iterator["OpenDesk"]:
    """Return the open desk of an empty folder, and a client that has entered it."""
    from tests.desk_client import open_desk

    with open_desk(tmp_path) as opened:
        yield opened


@pytest.fixture
def shop_desk(tmp_path: Path) -> Iterator["OpenDesk"]:
    """Return the open desk of a small dealer, who has a market file and two exports that are not read yet."""
    from tests.desk_client import open_desk, write_shop

    write_shop(tmp_path)
    with open_desk(tmp_path) as opened:
        yield opened


@pytest.fixture
def read_desk(tmp_path: Path) -> Iterator["OpenDesk"]:
    """Return the open desk of that dealer once the exports were read."""
    from tests.desk_client import open_desk, write_read_shop

    write_read_shop(tmp_path)
    with open_desk(tmp_path) as opened:
        yield opened
