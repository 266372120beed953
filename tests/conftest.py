"""What every test may use: a fixed zone, one thread a worker, and the small invented market."""

import os
import tempfile
import time

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # read when numpy is loaded; workers beside each other are enough
os.environ["POLARS_MAX_THREADS"] = "1"
os.environ["XDG_STATE_HOME"] = tempfile.mkdtemp(
    prefix="pairband-tests-"
)  # what pairband remembers for itself
from pathlib import Path

import pytest

from pipeline.config import Market, load_market

os.environ["TZ"] = "UTC"
time.tzset()

HERE = Path(__file__).parent
LONGEST = ("test_wheel.py", "test_examples.py", "test_determinism.py", "test_terminal.py")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the longest files, so that no worker is left alone with one at the end."""
    items.sort(key=lambda item: item.path.name not in LONGEST)


@pytest.fixture(scope="session")
def market() -> Market:
    """Return the small invented market of tests/market.toml."""
    return load_market(HERE / "market.toml")
