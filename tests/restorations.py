"""What restoring does, from the demo's exports; and small invented cases for the tests of single steps."""

from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path

import numpy as np
import polars as pl

from pipeline.answers.restoration.answer import RestorationReport, report_restoration
from pipeline.answers.restoration.resales import resold_pairs
from pipeline.hedonic.threads import one_blas_thread
from pipeline.ingest.lots import read_lots
from pipeline.ledger import open_ledger
from pipeline.market.fitted_market import FittedMarket
from pipeline.market.model import FACTORS
from pipeline.market.subject import pairs_of_records
from pipeline.shipped import shipped
from sample_data import scenario
from tests.demo_ledger import demo_ledger, demo_sales
from tests.drawn import fitted_plainly

VALUED_ON = date(2026, 10, 1)


@cache
def demo_market_fitted() -> FittedMarket:
    """Return the demo's market, fitted but not calibrated: restoring reads no calibration."""
    return fitted_plainly(demo_sales(), "demo")


@cache
def demo_resales() -> pl.DataFrame:
    """Return the demo's resales (see `resold_pairs`)."""
    with open_ledger(demo_ledger()[0], read_only=True) as ledger:
        return resold_pairs(ledger.read("marts/repeat_sales"), ledger.read("marts/resold_sales"))


@cache
def demo_report(hours: float = 20.0, money: float = 150.0) -> RestorationReport:
    """Return the report on the demo's stock list."""
    market = scenario.market()
    stock, *_ = read_lots(Path(shipped("sample_data")) / "exports" / "stock.csv", market, as_of=VALUED_ON)
    pairs = [replace(pair, venue=scenario.COUNTER) for pair in pairs_of_records(stock)]
    with one_blas_thread():
        return report_restoration(
            demo_market_fitted(),
            market,
            demo_resales(),
            pairs,
            demo_sales(),
            as_of=VALUED_ON,
            hours=hours,
            money=money,
        )


def sale(record_id: str, **known: object) -> dict[str, object]:
    """Return one priced sale: of a pair of grade 6 of which all is known and nothing is wrong, but for `known`."""
    usual: dict[str, object] = {
        "record_id": record_id,
        "log_price": 5.0,
        "silhouette": "Gannet Hi",
        "colourway": "Buoy Red",
        "era": "first",
        "size_mm": 270,
        "grade": 6.0,
        "box": "none",
        "tags": "none",
        "overlay": "leather",
        "parts": [],
        "defects": [],
        "treatments": [],
        "venue": "Holm Sound Auctions",
        "month": 24300,
    }
    return usual | known


def resold(*pairs: tuple[dict[str, object], dict[str, object]]) -> pl.DataFrame:
    """Return the resales of pairs of sales, each (first, second)."""
    schema = {"record_id": pl.String(), "log_price": pl.Float64(), **FACTORS}
    sales = pl.DataFrame([one for pair in pairs for one in pair], schema=schema)
    repeats = pl.DataFrame(
        {
            "pair_key": [f"pair {number:04}" for number in range(len(pairs))],
            "first_id": [first["record_id"] for first, _ in pairs],
            "second_id": [second["record_id"] for _, second in pairs],
        },
        schema={"pair_key": pl.String, "first_id": pl.String, "second_id": pl.String},
    )
    return resold_pairs(repeats, sales)


def graded_twice(*changes: tuple[tuple[str, ...], float]) -> pl.DataFrame:
    """Return resales of pairs of grade 6, each with what was done between and the change of grade."""
    return resold(
        *(
            (
                sale(f"{number} before"),
                sale(f"{number} after", treatments=list(done), grade=6.0 + change),
            )
            for number, (done, change) in enumerate(changes)
        )
    )


def normal(count: int, seed: int) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return standard normal draws."""
    return np.random.Generator(np.random.PCG64(seed)).standard_normal(count)
