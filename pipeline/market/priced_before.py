"""What past sales were priced at before they happened: what an audit judges values and bands by."""

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.hedonic.rolling import Rolled

COLUMNS = pl.Schema(
    {
        "record_id": pl.String(),
        "origin": pl.Int64(),
        "period": pl.Int64(),
        "error": pl.Float64(),
        "variance": pl.Float64(),
        "scale": pl.Float64(),
    }
)


def priced_before(rolled: Rolled, correction: NDArray[np.float64]) -> pl.DataFrame:
    """Return a row (COLUMNS) for each sale that rolling origins priced, in the order of the calibration's scores.

    It has the month at which the market was fitted (origin) and that of the sale (period), the error (log price: actual
    less value, with the second stage's `correction`), the variance of the value and the scale of single prices about
    it.
    """
    priced = rolled.sales
    return priced.select(
        rolled.singles["record_id"].gather(priced["row"]),
        "origin",
        "period",
        pl.col("error") - pl.Series(correction),
        "variance",
        "scale",
    ).cast(COLUMNS)
